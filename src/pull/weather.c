/* Only what came from the set-up has an age: a channel was read while the engine ran. */
#include "pull/weather.h"
#include <math.h>
#include <string.h>

static double moved(const char *from, double rate, double age_s) {
  return from && strcmp(from, "set-up") == 0 ? rate * age_s : 0;
}

double ew_weather_drift(const struct ew_curve *curve) {
  const struct ew_conditions *c = &curve->conditions;
  if (!(c->weather_age_s > 0) || ew_curve_corrected(curve) != EW_CORRECTED)
    return 0;
  struct ew_air air = {c->pressure_pa, c->temperature_k, c->vapour_pa, NAN};
  double u = ew_factor_uncertainty(
      (enum ew_standard)curve->method.standard, (enum ew_charging)curve->method.charging, air,
      moved(c->pressure_from, EW_WEATHER_PRESSURE_PA_S, c->weather_age_s),
      moved(c->temperature_from, EW_WEATHER_TEMPERATURE_K_S, c->weather_age_s),
      moved(c->humidity_from, EW_WEATHER_HUMIDITY_S, c->weather_age_s));
  g_assert(u >= 0 || isnan(u));
  return isnan(u) ? 0 : u / curve->factor.factor;
}
