/* Lobe, rocker, lash and place joined to lift by crank angle, from whatever the file states: measured lobe, card, or
 * neither (then no motion). */
#include "engine/valve_motion.h"
#include "base/message.h"
#include "engine/cam.h"
#include "engine/lobe_built.h"
#include <math.h>

#define SHORTEST_CARD_DEG 170 /* above 0.5 to 1.3 mm of lift; common practice, no source */

EW_MESSAGE(
    card_short, "engine.cam-card-short", EW_CAUTION,
    "{side}: {duration} above {lift} is shorter than cams of four-stroke engines are ({usual} "
    "and more): are these degrees of the cam? Degrees of the crank are twice as many");

EW_MESSAGE(inlet_word, "engine.inlet", EW_NOTE, "inlet");
EW_MESSAGE(exhaust_word, "engine.exhaust", EW_NOTE, "exhaust");

const struct ew_message_kind *ew_side_word(enum ew_side side) {
  g_assert(side == EW_INLET || side == EW_EXHAUST);
  return side == EW_INLET ? &inlet_word : &exhaust_word;
}

const char *ew_side_name(enum ew_side side) {
  g_assert(side == EW_INLET || side == EW_EXHAUST);
  return side == EW_INLET ? "inlet" : "exhaust";
}

const struct ew_engine_valves *ew_side_of(const struct ew_engine *engine, enum ew_side side) {
  g_assert(engine && (side == EW_INLET || side == EW_EXHAUST));
  return side == EW_INLET ? &engine->inlet : &engine->exhaust;
}

/* Lift of the lobe: stated, else gross lift over rocker ratio; NaN when neither is given. */
static double lobe_lift_of(const struct ew_engine_valves *side) {
  return isnan(side->lobe_lift_m) ? side->gross_lift_m / side->rocker_ratio : side->lobe_lift_m;
}

double ew_assumed_ramp_m(const struct ew_engine_valves *side) {
  return fmax(1e-4, 1.2 * side->lash_m / side->rocker_ratio);
}

double ew_net_lift_m(const struct ew_engine_valves *side) {
  return lobe_lift_of(side) * side->rocker_ratio - side->lash_m;
}

static gboolean from_readings(const struct ew_engine_valves *side, struct ew_valve_motion *motion,
                              GError **error) {
  const double *angles = (const double *)(void *)side->lobe_angles->data;
  const double *readings = (const double *)(void *)side->lobe_readings->data;
  motion->measured = TRUE;
  if (!ew_lobe_fit(angles, readings, side->lobe_angles->len, side->check_lift_m, &motion->fit,
                   error))
    return FALSE;
  motion->lobe = motion->fit.lobe;
  return TRUE;
}

static gboolean from_card(const struct ew_engine_valves *side, struct ew_valve_motion *motion,
                          GError **error) {
  struct ew_lobe_card card = {
      lobe_lift_of(side), side->duration_deg,  side->duration_lift_m, ew_check_duration_deg(side),
      side->check_lift_m, side->ramp_height_m, side->ramp_length_deg};
  if (isnan(card.lift_m) || isnan(card.duration_deg) || isnan(card.check_duration_deg))
    return FALSE;
  motion->ramp_assumed = isnan(card.ramp_height_m) || isnan(card.ramp_length_deg);
  if (isnan(card.ramp_height_m))
    card.ramp_height_m = ew_assumed_ramp_m(side);
  if (isnan(card.ramp_length_deg))
    card.ramp_length_deg = EW_ASSUMED_RAMP_DEG;
  return ew_lobe_build(&card, &motion->lobe, error);
}

gboolean ew_valve_motion_of(const struct ew_engine *engine, enum ew_side side,
                            struct ew_valve_motion *motion, GError **error) {
  const struct ew_engine_valves *valves = ew_side_of(engine, side);
  struct ew_cam_timing timing;
  *motion =
      (struct ew_valve_motion){.rocker_ratio = valves->rocker_ratio, .lash_m = valves->lash_m};
  if (!ew_cam_timing_of(engine, &timing))
    return FALSE;
  motion->centre_deg =
      side == EW_INLET ? timing.inlet_centreline_deg : -timing.exhaust_centreline_deg;
  return valves->lobe_angles ? from_readings(valves, motion, error)
                             : from_card(valves, motion, error);
}

double ew_valve_lift_with_m(const struct ew_valve_motion *motion, double angle_deg, double lash_m) {
  double lobe = ew_lobe_at(&motion->lobe, angle_deg - motion->centre_deg).lift_m;
  return fmax(0, lobe * motion->rocker_ratio - lash_m);
}

double ew_valve_lift_m(const struct ew_valve_motion *motion, double angle_deg) {
  return ew_valve_lift_with_m(motion, angle_deg, motion->lash_m);
}

double ew_overlap_area_m2_deg(const struct ew_engine *engine, const struct ew_valve_motion *inlet,
                              const struct ew_valve_motion *exhaust) {
  const double step = 0.25;
  double sum = 0;
  double in = G_PI * engine->inlet.head_diameter_m * engine->inlet.count;
  double out = G_PI * engine->exhaust.head_diameter_m * engine->exhaust.count;
  for (double angle = -180; angle <= 180; angle += step)
    sum += step * fmin(in * ew_valve_lift_m(inlet, angle), out * ew_valve_lift_m(exhaust, angle));
  return sum;
}

ew_message *ew_cam_card_doubt(const struct ew_engine *engine, enum ew_side side) {
  const struct ew_engine_valves *v = ew_side_of(engine, side);
  double check = ew_check_duration_deg(v);
  double card = isnan(check) ? v->duration_deg : check;
  if (engine->strokes != 0 || !(card < SHORTEST_CARD_DEG))
    return NULL;
  double lift = isnan(check) ? v->duration_lift_m : v->check_lift_m;
  return ew_message(&card_short, ew_say_word("side", ew_side_word(side)),
                    ew_say_quantity("duration", EW_KIND_ANGLE, card, 0),
                    ew_say_quantity("lift", EW_KIND_LENGTH, lift, 2),
                    ew_say_quantity("usual", EW_KIND_ANGLE, SHORTEST_CARD_DEG, 0));
}
