/* Clearance between valve and piston through the whole overlap.
 *
 *   clearance(t) = gap at TDC + x(t) cos(valve angle) - lift(t)
 *
 * along the stem, x from the slider-crank. The gap (closed valve to piston at top dead centre) is
 * measured on the engine, with clay or a dial; the figure here can't know the radial clearance of
 * the pocket, the stretch of rods or the float of a valve. Exact geometry on an estimated lobe:
 * measure on the engine before it turns by its own power.
 * Tests: tests/reference/engine/test_valve_clearance.c. */
#pragma once
#include "engine/valve_motion.h"

struct ew_valve_clearance {
  double minimum_m, at_deg; /* after top dead centre of the gas exchange; negative before it */
};

double ew_valve_clearance_at_m(const struct ew_engine *engine, enum ew_side side,
                               const struct ew_valve_motion *motion, double angle_deg,
                               double lash_m);
/* The least from 120 degrees before to 120 after top dead centre. */
struct ew_valve_clearance ew_valve_clearance_of(const struct ew_engine *engine, enum ew_side side,
                                                const struct ew_valve_motion *motion,
                                                double lash_m);
