/* Two closed formulas of the arc that rocker.h describes. */
#include "base/elementary.h"
#include "engine/rocker.h"
#include <math.h>

double ew_rocker_wipe_m(double arm_m, double tip_height_m, double lift_m) {
  double low = tip_height_m - lift_m;
  double closed = sqrt(arm_m * arm_m - tip_height_m * tip_height_m);
  double open = sqrt(arm_m * arm_m - low * low);
  gboolean passes_middle = tip_height_m > 0 && low < 0;
  double furthest = passes_middle ? arm_m : fmax(closed, open);
  return furthest - fmin(closed, open);
}

double ew_pushrod_correction_m(double arm_m, double tip_height_m, double lift_m,
                               double rocker_ratio) {
  double turn = ew_asin(tip_height_m / arm_m) - ew_asin(lift_m / 2 / arm_m);
  return turn * arm_m / rocker_ratio;
}
