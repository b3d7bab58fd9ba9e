/* The rows of the budget and their sum: squares added, degrees of freedom by Welch and Satterthwaite, expanded at 95
 * %. A row of no effect, or of one that isn't known, is left out; a common one drops out of a comparison. */
#include "judge/budget.h"
#include "base/language.h"
#include "gas/moist_air.h"
#include "judge/budget_parts.h"
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
    b->rows[b->count++] = (struct ew_budget_row){from, standard, freedom, cancels, FALSE};
}

/* Through the factor: observed torque has no part of it. */
static void add_of_air(struct ew_budget *b, const char *from, double standard, double freedom,
                       gboolean cancels) {
  gsize before = b->count;
  add(b, from, standard, freedom, cancels);
  if (b->count > before)
    b->rows[before].of_air = TRUE;
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

double ew_channel_u(const struct ew_calibrated *calibration, enum ew_channel channel,
                    double value) {
  const struct ew_calibrated_line *line = ew_calibrated_find(calibration, channel);
  if (!line || isnan(line->points) || isnan(value))
    return NAN;
  return ew_calibrated_u(line, ew_calibrated_read_of(line, value));
}

/* What a weather sensor's calibration leaves in doubt at what it read; else, or where it was not recorded, what the cell's record says. */
static double weather_u(const struct ew_calibrated *calibration, enum ew_channel channel,
                        const char *from, double value, double of_record) {
  double u =
      g_strcmp0(from, "channel") == 0 ? ew_channel_u(calibration, channel, value) : (double)NAN;
  return isnan(u) ? of_record : u;
}

/* Of relative humidity, by whichever sensor of moisture was calibrated, in the order in which reducing takes them. */
static double humidity_u(const struct ew_bench *bench, const struct ew_calibrated *calibration,
                         const struct ew_conditions *c) {
  double saturated = ew_saturation_pressure_pa(c->temperature_k);
  if (g_strcmp0(c->humidity_from, "channel") != 0 || isnan(c->vapour_pa))
    return bench->humidity_uncertainty;
  double vapour = ew_channel_u(calibration, EW_CHANNEL_VAPOUR_PRESSURE, c->vapour_pa);
  if (!isnan(vapour))
    return vapour / saturated;
  double point = ew_dew_point_k(c->vapour_pa);
  double dew = ew_channel_u(calibration, EW_CHANNEL_DEW_POINT, point);
  if (!isnan(dew))
    return (ew_vapour_from_dew_point_pa(point + dew) - c->vapour_pa) / saturated;
  return weather_u(calibration, EW_CHANNEL_HUMIDITY, "channel", c->vapour_pa / saturated,
                   bench->humidity_uncertainty);
}

struct ew_weather_u ew_weather_sensors_u(const struct ew_bench *bench,
                                         const struct ew_calibrated *calibration,
                                         const struct ew_curve *curve) {
  const struct ew_conditions *c = &curve->conditions;
  return (struct ew_weather_u){weather_u(calibration, EW_CHANNEL_BAROMETER, c->pressure_from,
                                         c->pressure_pa, bench->pressure_uncertainty_pa),
                               weather_u(calibration, EW_CHANNEL_INLET_AIR_TEMPERATURE,
                                         c->temperature_from, c->temperature_k,
                                         bench->temperature_uncertainty_k),
                               humidity_u(bench, calibration, c)};
}

/* The factor's doubt from the sensors of the weather, at this torque. */
static void add_weather(struct ew_budget *b, const struct ew_bench *bench,
                        const struct ew_calibrated *calibration, const struct ew_curve *curve,
                        double torque) {
  const struct ew_conditions *c = &curve->conditions;
  if (isnan(c->pressure_pa) || isnan(c->temperature_k))
    return;
  struct ew_air air = ew_weather_air(curve);
  struct ew_weather_u s = ew_weather_sensors_u(bench, calibration, curve);
  double u = ew_factor_uncertainty((enum ew_standard)curve->method.standard,
                                   (enum ew_charging)curve->method.charging, air, s.pressure_pa,
                                   s.temperature_k, s.humidity);
  add_of_air(b, EW_TEXT("weather sensors, through the factor"), u / curve->factor.factor * torque,
             INFINITY, TRUE);
}

/* Compression ignition: the factor's exponent depends on the fuel of a cycle over the pressure ratio (ISO 1585), so on the calibrations of
 * fuel flow and manifold pressure. */
static void add_fuel(struct ew_budget *b, const struct ew_calibrated *calibration,
                     const struct ew_curve *curve, double torque) {
  static const enum ew_channel of[] = {EW_CHANNEL_FUEL_FLOW, EW_CHANNEL_MANIFOLD_PRESSURE};
  struct ew_air air = ew_weather_air(curve), other = air;
  double share = 0, freedom = INFINITY;
  if (isnan(air.fuel_mg_per_l_cycle))
    return;
  for (gsize i = 0; i < G_N_ELEMENTS(of); i++) {
    double value = ew_curve_column_mean(curve, ew_channel_facts[of[i]].key);
    double u = ew_channel_u(calibration, of[i], value) / value;
    if (i == 1 && (curve->method.charging == EW_NATURAL || isnan(u)))
      continue;
    if (isnan(u))
      continue;
    share = hypot(share, u);
    freedom = fmin(freedom, fmax(ew_calibrated_find(calibration, of[i])->points - 2, 1));
  }
  other.fuel_mg_per_l_cycle *= 1 + share;
  enum ew_standard standard = (enum ew_standard)curve->method.standard;
  enum ew_charging charging = (enum ew_charging)curve->method.charging;
  double moved = ew_correction_factor(standard, charging, other).factor -
                 ew_correction_factor(standard, charging, air).factor;
  add_of_air(b, EW_TEXT("calibration of fuel flow and manifold pressure, through the factor"),
             fabs(moved / curve->factor.factor * torque), freedom, TRUE);
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
  add_fuel(&b, calibration, curve, torque);
  add_of_air(&b, EW_TEXT("age of the weather, through the factor"),
             ew_weather_drift(curve) * torque, INFINITY, FALSE);
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
