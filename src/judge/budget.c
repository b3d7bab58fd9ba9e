/* The rows of the budget and their sum: squares added, degrees of freedom by Welch and Satterthwaite, expanded at 95
 * %. A row of no effect, or of one that isn't known, is left out; a common one drops out of a comparison. */
#include "judge/budget.h"
#include "base/language.h"
#include "gas/moist_air.h"
#include "pull/weather.h"
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

void ew_combine(const double *standard, const double *freedom, gsize n, double *combined,
                double *effective) {
  double squares = 0, fourth = 0;
  for (gsize i = 0; i < n; i++) {
    double square = standard[i] * standard[i];
    g_assert(!(standard[i] < 0));
    squares += square;
    if (isfinite(freedom[i]) && freedom[i] > 0)
      fourth += square * square / freedom[i];
  }
  *combined = sqrt(squares);
  *effective = fourth > 0 ? squares * squares / fourth : INFINITY;
}

double ew_coverage_factor(double p, double freedom) {
  if (!(freedom < 1e6))
    return gsl_cdf_ugaussian_Pinv(0.5 + p / 2);
  return gsl_cdf_tdist_Pinv(0.5 + p / 2, fmax(floor(freedom), 1));
}

static void add(struct ew_budget *b, const char *from, double standard, double freedom,
                gboolean cancels) {
  if (standard > 0 && b->count < EW_BUDGET_ROWS)
    b->rows[b->count++] = (struct ew_budget_row){from, standard, freedom, cancels};
}

static void combine_rows(const struct ew_budget *b, gboolean comparative, double *combined,
                         double *effective) {
  double standard[EW_BUDGET_ROWS], freedom[EW_BUDGET_ROWS];
  gsize n = 0;
  for (gsize i = 0; i < b->count; i++)
    if (!comparative || !b->rows[i].cancels) {
      standard[n] = b->rows[i].standard_n_m;
      freedom[n++] = b->rows[i].freedom;
    }
  ew_combine(standard, freedom, n, combined, effective);
}

/* What a calibration leaves in doubt, at what the load cell read; else what the cell's record says. */
static void add_gain(struct ew_budget *b, const struct ew_bench *bench,
                     const struct ew_calibrated_line *line, const struct ew_curve *curve,
                     double torque, double inertia) {
  double factor = curve->factor.factor > 0 ? curve->factor.factor : 1;
  if (!line || isnan(line->points)) {
    add(b, EW_TEXT("load cell gain, from the cell's record"), bench->gain_uncertainty * torque, 10,
        TRUE);
    return;
  }
  double read = ew_calibrated_read_of(line, torque / factor - inertia);
  add(b, EW_TEXT("calibration of torque, gain and offset"), factor * ew_calibrated_u(line, read),
      fmax(line->points - 2, 1), TRUE);
}

/* What a weather sensor's calibration leaves in doubt at what it read; else, or where it was not recorded, what the cell's record says. */
static double weather_u(const struct ew_calibrated *calibration, enum ew_channel channel,
                        const char *from, double value, double of_record) {
  const struct ew_calibrated_line *line = ew_calibrated_find(calibration, channel);
  if (!line || isnan(line->points) || strcmp(from, "channel") != 0 || isnan(value))
    return of_record;
  return ew_calibrated_u(line, ew_calibrated_read_of(line, value));
}

/* The factor's doubt from the sensors of the weather, at this torque. */
static void add_weather(struct ew_budget *b, const struct ew_bench *bench,
                        const struct ew_calibrated *calibration, const struct ew_curve *curve,
                        double torque) {
  const struct ew_conditions *c = &curve->conditions;
  if (isnan(c->pressure_pa) || isnan(c->temperature_k))
    return;
  struct ew_air air = {c->pressure_pa, c->temperature_k, c->vapour_pa, NAN};
  double humidity = c->vapour_pa / ew_saturation_pressure_pa(c->temperature_k);
  double u = ew_factor_uncertainty(
      (enum ew_standard)curve->method.standard, (enum ew_charging)curve->method.charging, air,
      weather_u(calibration, EW_CHANNEL_BAROMETER, c->pressure_from, c->pressure_pa,
                bench->pressure_uncertainty_pa),
      weather_u(calibration, EW_CHANNEL_INLET_AIR_TEMPERATURE, c->temperature_from,
                c->temperature_k, bench->temperature_uncertainty_k),
      weather_u(calibration, EW_CHANNEL_HUMIDITY, c->humidity_from, humidity,
                bench->humidity_uncertainty));
  add(b, EW_TEXT("weather sensors, through the factor"), u / curve->factor.factor * torque,
      INFINITY, TRUE);
}

struct ew_budget ew_budget(const struct ew_bench *bench, const struct ew_calibrated *calibration,
                           const struct ew_curve *curve, double torque, double inertia,
                           double sample_se, struct ew_spread repeat, double hours) {
  struct ew_budget b = {0};
  const struct ew_calibrated_line *line = ew_calibrated_find(calibration, EW_CHANNEL_TORQUE);
  double hysteresis = line && !isnan(line->hysteresis) ? line->hysteresis : bench->hysteresis_n_m;
  gboolean aged = line && !isnan(line->zero_age_s);
  add_gain(&b, bench, line, curve, torque, inertia);
  if (!isnan(bench->arm_m))
    add(&b, EW_TEXT("length of the arm"), bench->arm_uncertainty_m / bench->arm_m * torque,
        INFINITY, TRUE);
  add(&b, EW_TEXT("hysteresis of the load cell"), hysteresis / sqrt(12), INFINITY, FALSE);
  add(&b,
      aged ? EW_TEXT("drift of the zero since it was read")
           : EW_TEXT("drift of the zero, four hours assumed"),
      bench->zero_drift_n_m_s * (aged ? line->zero_age_s : 3600 * hours) / sqrt(3), INFINITY,
      FALSE);
  add(&b, EW_TEXT("inertias"), fabs(inertia) * bench->inertia_uncertainty, INFINITY, TRUE);
  add_weather(&b, bench, calibration, curve, torque);
  add(&b, EW_TEXT("age of the weather, through the factor"), ew_weather_drift(curve) * torque,
      INFINITY, FALSE);
  add(&b, EW_TEXT("scatter of the samples"), sample_se, 30, FALSE);
  if (repeat.freedom > 0)
    add(&b, EW_TEXT("repeatability of a pull"), repeat.sd * torque, repeat.freedom, FALSE);
  add(&b, EW_TEXT("re-mounting"), bench->remounting * torque, INFINITY, TRUE);
  combine_rows(&b, FALSE, &b.absolute_n_m, &b.absolute_freedom);
  combine_rows(&b, TRUE, &b.comparative_n_m, &b.comparative_freedom);
  /* what cancels in a comparison only takes away */
  g_assert(b.count <= EW_BUDGET_ROWS && !(b.comparative_n_m > b.absolute_n_m));
  b.expanded_n_m = ew_coverage_factor(0.95, b.absolute_freedom) * b.absolute_n_m;
  b.expanded_comparative_n_m = ew_coverage_factor(0.95, b.comparative_freedom) * b.comparative_n_m;
  return b;
}
