/* Saturation pressure, its inverse by halving between 200 K and 640 K, and vapour pressure from relative humidity,
 * dew point or wet bulb. Below freezing it stays that over supercooled water; above the critical point it is NaN. */
#include "base/elementary.h"
#include "gas/moist_air.h"
#include <math.h>

#define CRITICAL_TEMPERATURE_K 647.096
#define CRITICAL_PRESSURE_PA   22.064e6

double ew_saturation_pressure_pa(double temperature_k) {
  static const double a[] = {-7.85951783, 1.84408259,  -11.7866497,
                             22.6807411,  -15.9618719, 1.80122502};
  double th = 1 - temperature_k / CRITICAL_TEMPERATURE_K, root = sqrt(th);
  double sum = a[0] * th + a[1] * th * root + a[2] * ew_pow(th, 3) + a[3] * ew_pow(th, 3) * root +
               a[4] * ew_pow(th, 4) + a[5] * ew_pow(th, 7) * root;
  return CRITICAL_PRESSURE_PA * ew_exp(CRITICAL_TEMPERATURE_K / temperature_k * sum);
}

double ew_dew_point_k(double vapour_pressure_pa) {
  if (!(vapour_pressure_pa > 0))
    return NAN;
  double low = 200, high = 640;
  for (int i = 0; i < 80; i++) {
    double middle = (low + high) / 2;
    if (ew_saturation_pressure_pa(middle) < vapour_pressure_pa)
      low = middle;
    else
      high = middle;
  }
  return (low + high) / 2;
}

double ew_vapour_from_relative_humidity_pa(double relative_humidity, double temperature_k) {
  return relative_humidity * ew_saturation_pressure_pa(temperature_k);
}

double ew_vapour_from_dew_point_pa(double dew_point_k) {
  return ew_saturation_pressure_pa(dew_point_k);
}

double ew_vapour_from_wet_bulb_pa(double pressure_pa, double temperature_k, double wet_bulb_k) {
  double saturated = ew_saturation_pressure_pa(wet_bulb_k);
  double ratio_saturated = 0.621945 * saturated / (pressure_pa - saturated);
  double t = temperature_k - 273.15, wet = wet_bulb_k - 273.15;
  double ratio = ((2501 - 2.326 * wet) * ratio_saturated - 1.006 * (t - wet)) /
                 (2501 + 1.86 * t - 4.186 * wet);
  return pressure_pa * ratio / (0.621945 + ratio);
}

double ew_moist_air_density_kg_m3(double pressure_pa, double temperature_k,
                                  double vapour_pressure_pa) {
  return ((pressure_pa - vapour_pressure_pa) / EW_GAS_CONSTANT_DRY_AIR +
          vapour_pressure_pa / EW_GAS_CONSTANT_VAPOUR) /
         temperature_k;
}

double ew_humidity_ratio(double pressure_pa, double vapour_pressure_pa) {
  return 0.621945 * vapour_pressure_pa / (pressure_pa - vapour_pressure_pa);
}
