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
      if (fabs(p[i].applied_n_m - p[j].applied_n_m) < 1e-6 * fmax(fabs(p[i].applied_n_m), 1))
        most = fmax(most, fabs(p[i].read_n_m - p[j].read_n_m));
  return most;
}

gboolean ew_calibrate(const struct ew_calibration_point *p, gsize n, struct ew_calibration *c,
                      GError **error) {
  if (n < 3)
    return ew_refuse(error,
                     "a calibration needs at least three points, and has %zu: load and unload", n);
  g_autofree double *design = g_new(double, 2 * n), *y = g_new(double, n);
  *c = (struct ew_calibration){.points = n};
  for (gsize i = 0; i < n; i++) {
    design[2 * i] = 1;
    design[2 * i + 1] = p[i].read_n_m;
    y[i] = p[i].applied_n_m;
    c->largest_n_m = fmax(c->largest_n_m, fabs(p[i].applied_n_m));
  }
  struct ew_fit fit;
  if (!ew_fit_linear(design, y, n, 2, &fit, error))
    return FALSE;
  c->offset_n_m = fit.coefficient[0];
  c->gain = fit.coefficient[1];
  c->offset_u = sqrt(fit.covariance[0]);
  c->gain_u = sqrt(fit.covariance[3]);
  c->covariance = fit.covariance[1];
  c->residual_sd_n_m = fit.residual_sd;
  c->hysteresis_n_m = hysteresis_of(p, n);
  if (!(c->gain > 0.5 && c->gain < 2))
    return ew_refuse(error,
                     "the readings and the weights differ by a factor of %.3f: check units and arm",
                     c->gain);
  return TRUE;
}

double ew_calibrated_n_m(const struct ew_calibration *c, double read, double *standard) {
  if (standard)
    *standard = sqrt(c->offset_u * c->offset_u + read * read * c->gain_u * c->gain_u +
                     2 * read * c->covariance);
  return c->offset_n_m + c->gain * read;
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
