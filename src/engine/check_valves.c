/* Camshaft, valves, springs, clearance to the piston. */
#include "base/language.h"
#include "engine/check_parts.h"
#include "engine/breathing.h"
#include "engine/rocker.h"
#include "engine/valve_area.h"
#include <math.h>

#define CAM EW_TEXT("Camshaft")

EW_MESSAGE(
    lift_card, "engine.lobe-lift-card", EW_CAUTION,
    "{side}: the measured lobe lifts {measured}, its card says {card}: wear, another cam, or a "
    "dial set askew; the measured lift is used");
EW_MESSAGE(
    duration_card, "engine.lobe-duration-card", EW_CAUTION,
    "{side}: the measured lobe lasts {measured} at {lift}, its card says {card}; the measured "
    "duration is used");
EW_MESSAGE(
    reading_off, "engine.lobe-reading-off", EW_CAUTION,
    "{side}: reading {reading} of the measured lobe is {off} off the smooth curve (the others "
    "{others}): a slip of the pen or the dial; read it again");
EW_MESSAGE(
    flanks_differ, "engine.lobe-flanks-differ", EW_NOTE,
    "{side}: the flanks of the measured lobe differ by {difference} of crank at the check lift: "
    "the middle of its events is not where it lifts most");
EW_MESSAGE(no_lobe, "engine.no-lobe", EW_CAUTION, "{side}: {why}");
EW_MESSAGE(
    ramp_assumed, "engine.ramp-assumed", EW_NOTE,
    "{side}: the lobe's ramp is not given; {height} over {length} of crank is assumed (common "
    "practice, no source). Accelerations depend on it: measure the lobe when they matter");
EW_MESSAGE(
    lifter_edge, "engine.lifter-edge", EW_DANGER,
    "{side}: the lobe touches the lifter up to {reach} from its axis, beyond the edge of a {face} "
    "face: the edge would dig into the lobe");
EW_MESSAGE(
    meets_without_lash, "engine.valve-meets-piston-without-lash", EW_DANGER,
    "{side}: with no lash, as a valve is first set, it meets the piston at {at} after top dead "
    "centre. Do not turn this engine over before the lash is set");
EW_MESSAGE(
    meets, "engine.valve-meets-piston", EW_DANGER,
    "{side}: valve and piston meet at {at} after top dead centre ({lacking} too little). Do not "
    "turn this engine over");
EW_MESSAGE(
    close_to_piston, "engine.valve-close-to-piston", EW_CAUTION,
    "{side}: only {gap} between valve and piston at {at} after top dead centre; {least} is the "
    "usual least with steel rods (trade press), more with aluminium. Measure on the engine");
EW_MESSAGE(
    coils_touch, "engine.coils-touch", EW_DANGER,
    "{side}: {left} left before the spring's coils touch; 1.5 mm is usual (common practice, no "
    "source); the spring maker's figure comes first");
EW_MESSAGE(
    coils_near, "engine.coils-near", EW_CAUTION,
    "{side}: {left} left before the spring's coils touch; 1.5 mm is usual (common practice, no "
    "source); the spring maker's figure comes first");
EW_MESSAGE(
    retainer_touches, "engine.retainer-touches-seal", EW_DANGER,
    "{side}: {left} between retainer and seal at full lift; 1.3 mm is usual (common practice, no "
    "source)");
EW_MESSAGE(
    retainer_near, "engine.retainer-near-seal", EW_CAUTION,
    "{side}: {left} between retainer and seal at full lift; 1.3 mm is usual (common practice, no "
    "source)");
EW_MESSAGE(
    contact_lost, "engine.contact-lost", EW_DANGER,
    "{side}: a rigid valve train would lose contact at {contact}, below the top speed of {top}. "
    "Stiffer springs, less mass or a gentler lobe; a real train lets go earlier");
EW_MESSAGE(
    contact_near, "engine.contact-near", EW_CAUTION,
    "{side}: contact is lost at {contact} (rigid train); the top speed of {top} leaves less than "
    "3 %, and flexing parts take 5 to 15 % (common practice, no source)");
EW_MESSAGE(
    ways_differ, "engine.degree-in-ways-differ", EW_NOTE,
    "the two ways of degreeing in differ by {difference}: uneven flanks, a slipped reading, or a "
    "stop that moved");
EW_MESSAGE(
    cam_late, "engine.cam-late", EW_CAUTION,
    "the cam is at {is} after top dead centre, its card asks for {wanted}: advance it by {by} of "
    "crank");
EW_MESSAGE(
    cam_early, "engine.cam-early", EW_CAUTION,
    "the cam is at {is} after top dead centre, its card asks for {wanted}: retard it by {by} of "
    "crank");

EW_MESSAGE(needs_timing, "engine.needs-timing", EW_NOTE,
           "valve events and lift: need two of cam.lobe_separation, inlet_centreline, "
           "exhaust_centreline and advance; or opens and closes of both sides");
EW_MESSAGE(
    needs_lobe, "engine.needs-lobe", EW_NOTE,
    "{side}: the lift curve and what follows from it need lobe_lift, duration, check_duration (or "
    "lobe_angles and lobe_readings) and timing");
EW_MESSAGE(needs_gap, "engine.needs-piston-gap", EW_NOTE,
           "{side}: the clearance of valve to piston needs piston_gap of that side, stroke and "
           "rod_length");
EW_MESSAGE(needs_spring, "engine.needs-spring", EW_NOTE,
           "{side}: the contact-loss speed needs spring_force, spring_rate, and valve_mass or "
           "effective_mass of that side");

/* What the sentences of this file are made of: a length, an angle and the side. */
static struct ew_argument say_length(const char *name, double length_m, int decimals) {
  return ew_say_quantity(name, EW_KIND_LENGTH, length_m, decimals);
}

static struct ew_argument say_angle(const char *name, double angle_deg, int decimals) {
  return ew_say_quantity(name, EW_KIND_ANGLE, angle_deg, decimals);
}

static struct ew_argument say_side(enum ew_side side) {
  return ew_say_word("side", ew_side_word(side));
}

/* Keys, labels and fields of both sides, so that one function serves them. */
struct words {
  const char *net_lift, *peak_velocity, *nose, *opening, *jerk;
  const char *bind, *seal, *contact, *mass, *surge, *spring_open, *wipe, *pushrod, *area, *mean;
  const char *measured_lift, *measured_sd, *measured_duration, *measured_centre;
  const char *lifter, *section, *f_gap, *f_spring, *f_seal, *f_lobe, *f_durations, *f_mass;
  enum ew_side which;
  double least_clearance_m;
};

#define WORDS(side_, side, heading, least)                                                         \
  {                                                                                                \
    .which = side_, .net_lift = side "_net_lift", .peak_velocity = side "_lobe_velocity_m_rad",    \
    .nose = side "_lobe_nose_deceleration_m_rad2", .opening = side "_lobe_acceleration_m_rad2",    \
    .jerk = side "_lobe_jerk_m_rad3", .bind = side "_coil_bind_gap",                               \
    .seal = side "_retainer_to_seal_gap", .contact = side "_contact_loss_speed",                   \
    .mass = side "_effective_mass", .surge = side "_spring_surge",                                 \
    .spring_open = side "_spring_force_open", .wipe = side "_rocker_wipe",                         \
    .pushrod = side "_pushrod_correction", .area = side "_minimum_area",                           \
    .mean = side "_mean_flow_coefficient", .measured_lift = side "_measured_lobe_lift",            \
    .measured_sd = side "_measured_lobe_sd", .measured_duration = side "_measured_lobe_duration",  \
    .measured_centre = side "_measured_lobe_centre", .lifter = side "_lifter_radius_needed",       \
    .section = heading, .f_gap = side ".piston_gap", .f_spring = side ".spring_bind",              \
    .f_seal = side ".retainer_to_seal", .f_lobe = side ".lobe_readings",                           \
    .f_durations = side ".duration", .f_mass = side ".valve_mass", .least_clearance_m = least      \
  }

static const struct words words_of[] = {
    WORDS(EW_INLET, "inlet", EW_TEXT("Inlet valves"), 2.0e-3),
    WORDS(EW_EXHAUST, "exhaust", EW_TEXT("Exhaust valves"), 2.5e-3)};

static void add_events_at(struct ew_engine_check *check, int which, double inlet, double exhaust,
                          double lift, double exhaust_lift) {
  g_assert(which >= 0 && which < (int)G_N_ELEMENTS(check->events));
  if (isnan(inlet) || isnan(exhaust) || fabs(lift - exhaust_lift) > 1e-6)
    return;
  check->events[which] = ew_valve_events_of(check->timing, inlet, exhaust, lift);
  check->has_events[which] = TRUE;
}

static void add_timing(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  const struct ew_engine_valves *in = &e->inlet, *out = &e->exhaust;
  check->has_timing = ew_cam_timing_of(e, &check->timing);
  if (!ew_check_need(check, check->has_timing ? 0 : NAN, &needs_timing))
    return;
  ew_check_add(check,
               EW_FIGURE("lobe_separation", CAM, "lobe separation, cam degrees", ANGLE, EXACT,
                         EW_TEXT("valve events")),
               check->timing.separation_deg);
  ew_check_add(check,
               EW_FIGURE("inlet_centreline", CAM, "inlet centreline ATDC", ANGLE, EXACT,
                         EW_TEXT("valve events")),
               check->timing.inlet_centreline_deg);
  ew_check_add(check,
               EW_FIGURE("exhaust_centreline", CAM, "exhaust centreline BTDC", ANGLE, EXACT,
                         EW_TEXT("valve events")),
               check->timing.exhaust_centreline_deg);
  ew_check_add(check,
               EW_FIGURE("cam_advance", CAM, "advance", ANGLE, EXACT, EW_TEXT("valve events")),
               check->timing.advance_deg);
  add_events_at(check, 0, in->duration_deg, out->duration_deg, in->duration_lift_m,
                out->duration_lift_m);
  add_events_at(check, 1, ew_check_duration_deg(in), ew_check_duration_deg(out), in->check_lift_m,
                out->check_lift_m);
}

/* What the readings say against what the card says. */
static void warn_card(struct ew_engine_check *check, const struct words *w,
                      const struct ew_engine_valves *v, const struct ew_lobe *lobe) {
  double card = ew_check_duration_deg(v);
  double measured = ew_lobe_duration_deg(lobe, v->check_lift_m, NULL, NULL);
  if (fabs(lobe->peak_m - v->lobe_lift_m) > 0.15e-3)
    ew_check_warn(check, w->f_lobe,
                  ew_message(&lift_card, say_side(w->which),
                             say_length("measured", lobe->peak_m, 2),
                             say_length("card", v->lobe_lift_m, 2)));
  if (fabs(measured - card) > 3)
    ew_check_warn(check, w->f_lobe,
                  ew_message(&duration_card, say_side(w->which), say_angle("measured", measured, 1),
                             say_length("lift", v->check_lift_m, 2), say_angle("card", card, 1)));
}

static void warn_readings(struct ew_engine_check *check, const struct words *w,
                          const struct ew_lobe_fit *fit, double resolution_m) {
  if (fabs(fit->worst_m) > fmax(4.5 * fit->residual_sd_m, 2 * resolution_m))
    ew_check_warn(check, w->f_lobe,
                  ew_message(&reading_off, say_side(w->which),
                             ew_say_count("reading", (gint64)fit->worst + 1),
                             say_length("off", fit->worst_m, 3),
                             say_length("others", fit->residual_sd_m, 3)));
  if (fabs(fit->asymmetry_deg) > 3)
    ew_check_warn(check, w->f_lobe,
                  ew_message(&flanks_differ, say_side(w->which),
                             say_angle("difference", fabs(fit->asymmetry_deg), 1)));
}

static void add_measured(struct ew_engine_check *check, const struct words *w,
                         const struct ew_engine_valves *v, const struct ew_valve_motion *motion) {
  const struct ew_lobe_fit *fit = &motion->fit;
  ew_check_add(check,
               EW_FIGURE(w->measured_lift, w->section, "measured lobe: lift", LENGTH, ESTIMATE,
                         EW_TEXT("lobe")),
               fit->lobe.peak_m);
  ew_check_add(check,
               EW_FIGURE(w->measured_sd, w->section, "  its standard uncertainty", LENGTH, ESTIMATE,
                         EW_TEXT("lobe")),
               fit->lift_sd_m);
  ew_check_add(check,
               EW_FIGURE(w->measured_duration, w->section, "  duration at the check lift", ANGLE,
                         ESTIMATE, EW_TEXT("lobe")),
               ew_lobe_duration_deg(&fit->lobe, v->check_lift_m, NULL, NULL));
  ew_check_add(check,
               EW_FIGURE(w->measured_centre, w->section, "  centre, on the wheel as read", ANGLE,
                         ESTIMATE, EW_TEXT("lobe")),
               fit->lobe.centre_deg);
  warn_readings(check, w, fit, v->reading_resolution_m);
  warn_card(check, w, v, &fit->lobe);
}

static void add_lobe(struct ew_engine_check *check, enum ew_side side) {
  g_assert(side < 2);
  const struct words *w = &words_of[side];
  const struct ew_engine_valves *v = ew_side_of(check->engine, side);
  struct ew_valve_motion *motion = &check->motion[side];
  ew_message *doubt = ew_cam_card_doubt(check->engine, side);
  g_autoptr(GError) error = NULL;
  if (doubt)
    ew_check_warn(check, w->f_durations, doubt);
  check->has_motion[side] = ew_valve_motion_of(check->engine, side, motion, &error);
  if (error)
    ew_check_warn(check, w->f_durations,
                  ew_message(&no_lobe, say_side(side), ew_say_text("why", error->message)));
  else
    ew_check_need_of(check, check->has_motion[side] ? 0 : NAN, &needs_lobe, side);
  ew_check_add(
      check,
      EW_FIGURE(w->net_lift, w->section, "net lift, running lash", LENGTH, EXACT, EW_TEXT("lobe")),
      ew_net_lift_m(v));
  if (!check->has_motion[side])
    return;
  if (motion->measured)
    add_measured(check, w, v, motion);
  else if (motion->ramp_assumed)
    ew_check_warn(check, w->f_durations,
                  ew_message(&ramp_assumed, say_side(side),
                             say_length("height", ew_assumed_ramp_m(v), 2),
                             say_angle("length", EW_ASSUMED_RAMP_DEG, 0)));
  struct ew_lobe_extremes most = ew_lobe_extremes_of(&motion->lobe);
  ew_check_add(check,
               EW_FIGURE(w->peak_velocity, w->section, "lobe: greatest velocity", NUMBER, ESTIMATE,
                         EW_TEXT("lobe"), .si = "m/rad", .read = "mm/rad", .factor = 1e3),
               most.velocity_m_rad);
  ew_check_add(check,
               EW_FIGURE(w->opening, w->section, "lobe: flank acceleration", NUMBER, ESTIMATE,
                         EW_TEXT("lobe"), .si = "m/rad2", .read = "mm/rad2", .factor = 1e3),
               most.acceleration_m_rad2);
  ew_check_add(check,
               EW_FIGURE(w->nose, w->section, "lobe: nose deceleration", NUMBER, ESTIMATE,
                         EW_TEXT("lobe"), .si = "m/rad2", .read = "mm/rad2", .factor = 1e3),
               most.nose_deceleration_m_rad2);
  ew_check_add(check,
               EW_FIGURE(w->jerk, w->section, "lobe: greatest jerk", NUMBER, ESTIMATE,
                         EW_TEXT("lobe"), .si = "m/rad3", .read = "mm/rad3", .factor = 1e3),
               most.jerk_m_rad3);
}

static void add_lifter(struct ew_engine_check *check, enum ew_side side) {
  g_assert(side < 2);
  const struct words *w = &words_of[side];
  const struct ew_engine_cam *cam = &check->engine->cam;
  gboolean flat = cam->lifter == EW_LIFTER_FLAT_SOLID || cam->lifter == EW_LIFTER_FLAT_HYDRAULIC ||
                  cam->lifter == EW_LIFTER_BUCKET;
  if (!check->has_motion[side] || !flat)
    return;
  double needed = ew_lifter_radius_needed_m(&check->motion[side].lobe);
  ew_check_add(check,
               EW_FIGURE(w->lifter, w->section, "flat lifter: contact wanders", LENGTH, ESTIMATE,
                         EW_TEXT("lobe")),
               needed);
  if (needed > cam->lifter_diameter_m / 2)
    ew_check_warn(check, "cam.lifter_diameter",
                  ew_message(&lifter_edge, say_side(side), say_length("reach", needed, 1),
                             say_length("face", cam->lifter_diameter_m, 1)));
}

static void warn_clearance(struct ew_engine_check *check, const struct words *w,
                           const struct ew_valve_clearance *c,
                           const struct ew_valve_clearance *zero) {
  if (zero->minimum_m <= 0 && c->minimum_m > 0)
    ew_check_warn(
        check, w->f_gap,
        ew_message(&meets_without_lash, say_side(w->which), say_angle("at", zero->at_deg, 0)));
  if (c->minimum_m <= 0)
    ew_check_warn(check, w->f_gap,
                  ew_message(&meets, say_side(w->which), say_angle("at", c->at_deg, 0),
                             say_length("lacking", -c->minimum_m, 2)));
  else if (c->minimum_m < w->least_clearance_m)
    ew_check_warn(check, w->f_gap,
                  ew_message(&close_to_piston, say_side(w->which),
                             say_length("gap", c->minimum_m, 2), say_angle("at", c->at_deg, 0),
                             say_length("least", w->least_clearance_m, 1)));
}

static void add_clearance(struct ew_engine_check *check, enum ew_side side) {
  const struct ew_engine *e = check->engine;
  const struct ew_engine_valves *v = ew_side_of(e, side);
  double known = e->geometry.rod_length_m + e->stroke_m + v->piston_gap_m;
  if (!check->has_motion[side] || !ew_check_need_of(check, known, &needs_gap, side))
    return;
  const struct ew_valve_motion *motion = &check->motion[side];
  check->has_clearance[side] = TRUE;
  check->clearance_zero[side] = ew_valve_clearance_of(e, side, motion, 0);
  check->clearance_running[side] = ew_valve_clearance_of(e, side, motion, v->lash_m);
  warn_clearance(check, &words_of[side], &check->clearance_running[side],
                 &check->clearance_zero[side]);
}

static void warn_spring(struct ew_engine_check *check, enum ew_side side) {
  const struct words *w = &words_of[side];
  const struct ew_engine_valves *v = ew_side_of(check->engine, side);
  double bind = ew_coil_bind_gap_m(v), seal = ew_retainer_gap_m(v);
  if (bind < 1.5e-3)
    ew_check_warn(check, w->f_spring,
                  ew_message(bind <= 0 ? &coils_touch : &coils_near, say_side(side),
                             say_length("left", bind, 2)));
  if (seal < 1.27e-3)
    ew_check_warn(check, w->f_seal,
                  ew_message(seal <= 0 ? &retainer_touches : &retainer_near, say_side(side),
                             say_length("left", seal, 2)));
}

static void warn_contact(struct ew_engine_check *check, const struct words *w, double contact) {
  double top = check->top_speed_rpm;
  if (top > 0.97 * contact)
    ew_check_warn(check, w->f_mass,
                  ew_message(top > contact ? &contact_lost : &contact_near, say_side(w->which),
                             ew_say_rpm("contact", contact), ew_say_rpm("top", top)));
}

static void add_spring(struct ew_engine_check *check, enum ew_side side) {
  g_assert(side < 2);
  const struct words *w = &words_of[side];
  const struct ew_engine_valves *v = ew_side_of(check->engine, side);
  double net = ew_net_lift_m(v), mass = ew_effective_mass_kg(v);
  ew_check_add(check,
               EW_FIGURE(w->spring_open, w->section, "spring force at full lift", FORCE, EXACT,
                         EW_TEXT("valve spring")),
               ew_spring_force_n(v, net));
  ew_check_add(check,
               EW_FIGURE(w->bind, w->section, "left before coils touch", LENGTH, EXACT,
                         EW_TEXT("valve spring")),
               ew_coil_bind_gap_m(v));
  ew_check_add(check,
               EW_FIGURE(w->seal, w->section, "retainer to seal at full lift", LENGTH, EXACT,
                         EW_TEXT("valve spring")),
               ew_retainer_gap_m(v));
  warn_spring(check, side);
  ew_check_add(check,
               EW_FIGURE(w->mass, w->section, "moving mass at the valve", MASS, ESTIMATE,
                         EW_TEXT("contact loss")),
               mass);
  ew_check_add(check,
               EW_FIGURE(w->surge, w->section, "spring's own frequency", FREQUENCY, ESTIMATE,
                         EW_TEXT("valve spring")),
               ew_spring_surge_hz(v));
  if (!check->has_motion[side])
    return;
  double contact = ew_contact_loss_of(v, &check->motion[side]).speed_rpm;
  if (!ew_check_need_of(check, contact, &needs_spring, side))
    return;
  check->contact_loss_rpm[side] = contact;
  ew_check_add(check,
               EW_FIGURE(w->contact, w->section, "contact lost, rigid train", ROTATIONAL_SPEED,
                         ESTIMATE, EW_TEXT("contact loss")),
               contact);
  warn_contact(check, w, contact);
}

static void add_rocker(struct ew_engine_check *check, enum ew_side side) {
  g_assert(side < 2);
  const struct words *w = &words_of[side];
  const struct ew_engine_valves *v = ew_side_of(check->engine, side);
  double net = ew_net_lift_m(v);
  double wipe = ew_rocker_wipe_m(v->rocker_arm_m, v->tip_height_m, net);
  ew_check_add(check,
               EW_FIGURE(w->wipe, w->section, "rocker's wipe on the valve", LENGTH, EXACT,
                         EW_TEXT("rocker")),
               wipe);
  ew_check_add(check,
               EW_FIGURE(w->pushrod, w->section, "pushrod longer by, for least wipe", LENGTH,
                         ESTIMATE, EW_TEXT("rocker")),
               ew_pushrod_correction_m(v->rocker_arm_m, v->tip_height_m, net, v->rocker_ratio));
}

static void add_areas(struct ew_engine_check *check, enum ew_side side) {
  const struct words *w = &words_of[side];
  const struct ew_engine_valves *v = ew_side_of(check->engine, side);
  ew_check_add(check,
               EW_FIGURE(w->area, w->section, "smallest area at full lift, one valve", AREA, EXACT,
                         EW_TEXT("valve areas")),
               ew_valve_minimum_area_m2(v, ew_net_lift_m(v)));
  if (!check->has_motion[side] || !v->flows)
    return;
  ew_check_add(check,
               EW_FIGURE(w->mean, w->section, "mean flow coefficient on the head's area", NUMBER,
                         ESTIMATE, EW_TEXT("flow coefficients")),
               ew_mean_flow_coefficient(v, &check->motion[side]));
}

static void warn_degree_in(struct ew_engine_check *check, const struct ew_degree_in *d) {
  if (fabs(d->disagreement_deg) > 1)
    ew_check_warn(check, "degree_in",
                  ew_message(&ways_differ, say_angle("difference", fabs(d->disagreement_deg), 1)));
  if (fabs(d->advance_by_deg) > 1)
    ew_check_warn(check, "degree_in",
                  ew_message(d->advance_by_deg > 0 ? &cam_late : &cam_early,
                             say_angle("is", d->wanted_deg + d->advance_by_deg, 1),
                             say_angle("wanted", d->wanted_deg, 1),
                             say_angle("by", fabs(d->advance_by_deg), 1)));
}

static void add_degree_in(struct ew_engine_check *check) {
  struct ew_degree_in *d = &check->degree_in;
  check->has_degree_in = ew_degree_in_of(check->engine, d);
  if (!check->has_degree_in)
    return;
  ew_check_add(check,
               EW_FIGURE("degree_in_tdc_error", CAM, "wheel's error at true TDC", ANGLE, EXACT,
                         EW_TEXT("degree-in")),
               d->tdc_error_deg);
  ew_check_add(check,
               EW_FIGURE("degree_in_by_centre", CAM, "inlet centreline, by equal lifts", ANGLE,
                         EXACT, EW_TEXT("degree-in")),
               d->by_centre_deg);
  ew_check_add(check,
               EW_FIGURE("degree_in_by_events", CAM, "inlet centreline, by events", ANGLE, EXACT,
                         EW_TEXT("degree-in")),
               d->by_events_deg);
  ew_check_add(check,
               EW_FIGURE("degree_in_advance_by", CAM, "advance by (negative: retard)", ANGLE, EXACT,
                         EW_TEXT("degree-in")),
               d->advance_by_deg);
  warn_degree_in(check, d);
}

void ew_check_valves(struct ew_engine_check *check) {
  if (check->engine->strokes == 1 && isnan(check->engine->inlet.lobe_lift_m))
    return; /* a two-stroke without valves */
  add_timing(check);
  for (int side = EW_INLET; side <= EW_EXHAUST; side++) {
    add_lobe(check, side);
    add_lifter(check, side);
    add_clearance(check, side);
    add_spring(check, side);
    add_rocker(check, side);
    add_areas(check, side);
  }
  if (check->has_motion[0] && check->has_motion[1])
    ew_check_add(check,
                 EW_FIGURE("overlap_area_m2_deg", CAM, "overlap area", NUMBER, ESTIMATE,
                           EW_TEXT("valve events"), .si = "m2 deg", .read = "cm2 deg",
                           .factor = 1e4),
                 ew_overlap_area_m2_deg(check->engine, &check->motion[0], &check->motion[1]));
  add_degree_in(check);
}
