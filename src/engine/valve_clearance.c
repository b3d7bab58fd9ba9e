/* Walks 120 crank degrees on either side of top dead centre in tenths of a degree and keeps the least clearance. */
#include "base/elementary.h"
#include "engine/valve_clearance.h"
#include "engine/slider_crank.h"
#include <math.h>

double ew_valve_clearance_at_m(const struct ew_engine *engine, enum ew_side side,
                               const struct ew_valve_motion *motion, double angle_deg,
                               double lash_m) {
  const struct ew_engine_valves *valves = ew_side_of(engine, side);
  double piston = ew_piston_at(ew_slider_crank_of(engine), angle_deg, 0).travel_m;
  return valves->piston_gap_m + piston * ew_cos(valves->valve_angle_deg * G_PI / 180) -
         ew_valve_lift_with_m(motion, angle_deg, lash_m);
}

struct ew_valve_clearance ew_valve_clearance_of(const struct ew_engine *engine, enum ew_side side,
                                                const struct ew_valve_motion *motion,
                                                double lash_m) {
  struct ew_valve_clearance least = {NAN, NAN};
  for (int i = -1200; i <= 1200; i++) {
    double angle = i / 10.0;
    double clear = ew_valve_clearance_at_m(engine, side, motion, angle, lash_m);
    if (isnan(least.minimum_m) || clear < least.minimum_m)
      least = (struct ew_valve_clearance){clear, angle};
  }
  return least;
}
