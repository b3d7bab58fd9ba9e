/* Valve springs and the speed at which the valve train loses contact.
 *
 * Everything is reduced to the valve: mass by its share of kinetic energy,
 *
 *   m = valve + retainer + spring/3 + J/arm^2 + (pushrod + lifter)/ratio^2
 *
 * Without a rocker (ratio 1, no rocker inertia) the last term is the bucket. On the nose the cam
 * lets the valve go; contact is lost where the spring can't follow,
 *
 *   n = 30/pi sqrt( min F(lift) / (m |a|) )    over angles with a < 0, a in m/rad^2 of the crank
 *
 * A rigid train: real ones bend and springs surge, so that contact goes earlier (common practice:
 * 5 to 15 % for pushrods). A third of the spring's mass: Rayleigh's energy method.
 * Tests: tests/reference/engine/test_valve_spring.c, against an integration of the motion. */
#pragma once
#include "engine/valve_motion.h"

/* Stated, else from the parts that are given; NaN without a valve's mass. */
double ew_effective_mass_kg(const struct ew_engine_valves *side);
double ew_spring_force_n(const struct ew_engine_valves *side, double lift_m);
/* Height at full lift without lash, the worst case, less the height of coil bind. */
double ew_coil_bind_gap_m(const struct ew_engine_valves *side);
double ew_retainer_gap_m(const struct ew_engine_valves *side); /* to the seal, as above */

struct ew_contact_loss {
  double speed_rpm, from_centre_deg; /* NaN when masses or springs are not given */
};
struct ew_contact_loss ew_contact_loss_of(const struct ew_engine_valves *side,
                                          const struct ew_valve_motion *motion);
/* Natural frequency of the spring between fixed ends, n/2 sqrt(k/m): surge; NaN without a mass. */
double ew_spring_surge_hz(const struct ew_engine_valves *side);
/* Radius that a flat lifter's face needs: the contact point wanders by the lobe's slope per radian
 * of the cam. */
double ew_lifter_radius_needed_m(const struct ew_lobe *lobe);
