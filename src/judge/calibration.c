/* A straight line through weights and readings with its covariance (GUM H.3), hysteresis, and a Shewhart chart of
 * single values. Formulas and sources: calibration.h, docs/methods.md. */
#include "judge/calibration.h"
#include "base/error.h"
#include "base/statistics.h"
#include <math.h>

static double hysteresis_of(const struct ew_calibration_point *p, gsize n) {
  double most = 0;
  for (gsize i = 0; i < n; i++)
    for (gsize j = i + 1; j < n; j++)
      if (fabs(p[i].applied - p[j].applied) < 1e-6 * fmax(fabs(p[i].applied), 1))
        most = fmax(most, fabs(p[i].read - p[j].read));
  return most;
}

/* What no line can be laid through, in the words of who hung the weights. */
static gboolean are_points_of_a_line(const struct ew_calibration_point *p, gsize n,
                                     GError **error) {
  double least = INFINITY, most = -INFINITY, rises = 0;
  for (gsize i = 0; i < n; i++) {
    if (!isfinite(p[i].applied) || !isfinite(p[i].read))
      return ew_refuse(error, "point %zu of the calibration is not a number", i + 1);
    least = fmin(least, p[i].applied);
    most = fmax(most, p[i].applied);
    for (gsize k = 0; k < i; k++)
      rises += (p[i].applied - p[k].applied) * (p[i].read - p[k].read);
  }
  if (!(most - least > 1e-6 * fmax(fabs(most), fabs(least))))
    return ew_refuse(error, "all points of the calibration are at one load: give at least two "
                            "different ones, such as no weight and the largest");
  return rises > 0 ||
         ew_refuse(error, "the readings do not rise with the load: check the sign of the sensor, "
                          "and that each reading is given with its own load");
}

gboolean ew_calibrate(const struct ew_calibration_point *p, gsize n, struct ew_calibration *c,
                      GError **error) {
  if (n < 3)
    return ew_refuse(error,
                     "a calibration needs at least three points, and has %zu: load and unload", n);
  if (!are_points_of_a_line(p, n, error))
    return FALSE;
  g_autofree double *design = g_new(double, 2 * n), *y = g_new(double, n);
  *c = (struct ew_calibration){.points = n};
  for (gsize i = 0; i < n; i++) {
    design[2 * i] = 1;
    design[2 * i + 1] = p[i].read;
    y[i] = p[i].applied;
    c->largest = fmax(c->largest, fabs(p[i].applied));
  }
  struct ew_fit fit;
  if (!ew_fit_linear(design, y, n, 2, &fit, error))
    return FALSE;
  c->offset = fit.coefficient[0];
  c->gain = fit.coefficient[1];
  c->offset_u = sqrt(fit.covariance[0]);
  c->gain_u = sqrt(fit.covariance[3]);
  c->covariance = fit.covariance[1];
  c->residual_sd = fit.residual_sd;
  c->hysteresis = hysteresis_of(p, n);
  g_assert(c->points >= 3 && !(c->hysteresis < 0));
  if (!(c->gain > 0.5 && c->gain < 2))
    return ew_refuse(error,
                     "the readings and the weights differ by a factor of %.3f: check units and arm",
                     c->gain);
  return TRUE;
}

struct ew_control ew_control_chart(const double *values, gsize n) {
  struct ew_control chart = {NAN, NAN, NAN, TRUE};
  if (n < 4)
    return chart;
  double range = 0;
  for (gsize i = 1; i + 1 < n; i++)
    range += fabs(values[i] - values[i - 1]);
  range /= (double)(n - 2);
  chart.centre = ew_mean(values, n - 1, EW_NONE_ABSENT);
  chart.lower = chart.centre - 3 * range / 1.128;
  chart.upper = chart.centre + 3 * range / 1.128;
  chart.in_control = values[n - 1] >= chart.lower && values[n - 1] <= chart.upper;
  return chart;
}
