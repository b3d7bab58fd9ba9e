/* Lift of a valve by crank angle: a lobe, a rocker, a lash and a place on the shaft.
 *
 *   lift = max(0, rocker ratio x lobe(angle - centre) - lash)
 *
 * Angles count from top dead centre of the gas exchange; the inlet's centre lies after it, the
 * exhaust's before (negative). Rocker ratio is taken as constant over the lift. */
#pragma once
#include "base/message.h"
#include "engine/lobe.h"
#include "engine/lobe_fit.h"
#include "engine/engine.h"

struct ew_valve_motion {
  struct ew_lobe lobe;
  double rocker_ratio, lash_m, centre_deg;
  gboolean measured;      /* the lobe is fitted to readings */
  gboolean ramp_assumed;  /* the ramp was not given */
  struct ew_lobe_fit fit; /* when measured */
};

enum ew_side { EW_INLET, EW_EXHAUST };
const char *ew_side_name(enum ew_side side);                   /* a key: "inlet" */
const struct ew_message_kind *ew_side_word(enum ew_side side); /* for people */
const struct ew_engine_valves *ew_side_of(const struct ew_engine *engine, enum ew_side side);
/* A caution where a side's card is too short to be in degrees of the crank; NULL where there is none to give. */
ew_message *ew_cam_card_doubt(const struct ew_engine *engine, enum ew_side side);

/* Ramp height that is taken when none is given: for solid lifters 1.2 times the lash at the lobe
 * and at least 0.1 mm, over 30 crank degrees; common practice, no source. */
double ew_assumed_ramp_m(const struct ew_engine_valves *side);
#define EW_ASSUMED_RAMP_DEG 30.0

/* FALSE with *error when figures do not fit; FALSE without when the engine gives too little: timing
 * of the cam, and either readings or lift and durations at two lifts. */
gboolean ew_valve_motion_of(const struct ew_engine *engine, enum ew_side side,
                            struct ew_valve_motion *motion, GError **error);
/* With running lash, at an angle after top dead centre of the gas exchange. */
double ew_valve_lift_m(const struct ew_valve_motion *motion, double angle_deg);
/* With another lash, such as none. */
double ew_valve_lift_with_m(const struct ew_valve_motion *motion, double angle_deg, double lash_m);
/* Net lift: rocker ratio times lobe lift less running lash. */
double ew_net_lift_m(const struct ew_engine_valves *side);
/* Integral over crank angle of the smaller of both sides' curtain areas (pi D L, all valves of a
 * cylinder), while both are open: m2 deg. A rule of thumb's measure of overlap flow. */
double ew_overlap_area_m2_deg(const struct ew_engine *engine, const struct ew_valve_motion *inlet,
                              const struct ew_valve_motion *exhaust);
