/* Steps are cut at both ends of the range; each part has the mean of ew_curve_band_log. */
#include "judge/speed_use.h"
#include <math.h>

/* The part of a step within low to high; its share of the time. */
static double part_of(const struct ew_speed_use *use, int step, double low, double high,
                      double *from, double *to) {
  *from = fmax(step * EW_SPEED_USE_RPM, low);
  *to = fmin((step + 1) * EW_SPEED_USE_RPM, high);
  return *to > *from && use->share[step] > 0 ? use->share[step] * (*to - *from) / EW_SPEED_USE_RPM
                                             : 0;
}

double ew_speed_use_between(const struct ew_speed_use *use, double low, double high) {
  double sum = 0, from, to;
  for (int k = 0; k < EW_SPEED_USE_STEPS; k++)
    sum += part_of(use, k, low, high, &from, &to);
  return sum;
}

gboolean ew_speed_use_range(const struct ew_speed_use *use, double *low, double *high) {
  double first = NAN, last = NAN, from, to;
  for (int k = 0; k < EW_SPEED_USE_STEPS; k++)
    if (part_of(use, k, *low, *high, &from, &to) > 0) {
      first = isnan(first) ? from : first;
      last = to;
    }
  if (isnan(first))
    return FALSE;
  *low = first;
  *high = last;
  return TRUE;
}

double ew_speed_use_log(const struct ew_speed_use *use, const struct ew_curve *curve, double low,
                        double high) {
  double sum = 0, all = 0, from, to;
  for (int k = 0; k < EW_SPEED_USE_STEPS; k++) {
    double share = part_of(use, k, low, high, &from, &to);
    if (!(share > 0))
      continue;
    sum += share * ew_curve_band_log(curve, from, to); /* NaN where it does not reach */
    all += share;
  }
  return all > 0 ? sum / all : (double)NAN;
}
