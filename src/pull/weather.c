/* Only what came from the set-up has an age: a channel was read while the engine ran. */
#include "pull/weather.h"
#include <math.h>
#include <string.h>

double ew_weather_moved(const char *from, double rate, double age_s) {
  return from && strcmp(from, "set-up") == 0 ? rate * age_s : 0;
}

double ew_curve_column_mean(const struct ew_curve *curve, const char *key) {
  const struct ew_curve_column *column = curve->columns ? ew_curve_column(curve, key, 0) : NULL;
  double sum = 0;
  gsize count = 0;
  for (gsize j = 0; column && j < curve->points; j++)
    if (!isnan(column->values[j])) {
      sum += column->values[j];
      count++;
    }
  return count ? sum / (double)count : (double)NAN;
}

/* qc / r: mg of fuel a litre and cycle over the pressure ratio. The volume a cycle comes from torque over BMEP, which is that volume
 * over 2 pi by its definition. */
static double fuel_of(const struct ew_curve *curve) {
  double flow = ew_curve_column_mean(curve, "fuel_flow"), ratio = 1;
  double bmep = ew_curve_column_mean(curve, "bmep"), torque = 0, speed = 0;
  for (gsize j = 0; j < curve->points; j++) {
    torque += curve->torque_n_m[j] / (double)curve->points;
    speed += curve->speed_rpm[j] / (double)curve->points;
  }
  double per_turn_m3 = 2 * G_PI * torque / bmep; /* displacement times cycles a turn */
  if (curve->method.charging != EW_NATURAL && curve->method.charging != EW_COMPENSATED)
    ratio = ew_curve_column_mean(curve, "manifold_pressure") / curve->conditions.pressure_pa;
  return flow * 1e6 / (per_turn_m3 * 1000 * speed / 60) / ratio;
}

struct ew_air ew_weather_air(const struct ew_curve *curve) {
  const struct ew_conditions *c = &curve->conditions;
  gboolean fuel = curve->method.standard == EW_STANDARD_ISO1585_CI;
  return (struct ew_air){c->pressure_pa, c->temperature_k, c->vapour_pa,
                         fuel ? fuel_of(curve) : (double)NAN};
}

double ew_weather_drift(const struct ew_curve *curve) {
  const struct ew_conditions *c = &curve->conditions;
  if (!(c->weather_age_s > 0) || ew_curve_corrected(curve) != EW_CORRECTED)
    return 0;
  struct ew_air air = ew_weather_air(curve);
  double u = ew_factor_uncertainty(
      (enum ew_standard)curve->method.standard, (enum ew_charging)curve->method.charging, air,
      ew_weather_moved(c->pressure_from, EW_WEATHER_PRESSURE_PA_S, c->weather_age_s),
      ew_weather_moved(c->temperature_from, EW_WEATHER_TEMPERATURE_K_S, c->weather_age_s),
      ew_weather_moved(c->humidity_from, EW_WEATHER_HUMIDITY_S, c->weather_age_s));
  g_assert(u >= 0 || isnan(u));
  return isnan(u) ? 0 : u / curve->factor.factor;
}
