/* Two layers: linear in temperature to 11 km, constant to 20 km, and the inverses. */
#include "base/elementary.h"
#include "gas/standard_atmosphere.h"
#include <math.h>

#define LAPSE_K_M    0.0065
#define GRAVITY      9.80665
#define GAS_CONSTANT 287.05287
#define EXPONENT     (GRAVITY / (GAS_CONSTANT * LAPSE_K_M))

double ew_standard_temperature_k(double height_m) {
  return height_m < 11000 ? 288.15 - LAPSE_K_M * height_m : 216.65;
}

double ew_standard_pressure_pa(double height_m) {
  double troposphere =
      101325 * ew_pow(ew_standard_temperature_k(fmin(height_m, 11000)) / 288.15, EXPONENT);
  if (height_m < 11000)
    return troposphere;
  return troposphere * ew_exp(-GRAVITY * (height_m - 11000) / (GAS_CONSTANT * 216.65));
}

double ew_standard_height_m(double pressure_pa) {
  return 288.15 / LAPSE_K_M * (1 - ew_pow(pressure_pa / 101325, 1 / EXPONENT));
}

double ew_geopotential_height_m(double geometric_height_m) {
  return 6356766 * geometric_height_m / (6356766 + geometric_height_m);
}

double ew_density_altitude_m(double density_kg_m3) {
  double sea_level = 101325 / (GAS_CONSTANT * 288.15);
  return 288.15 / LAPSE_K_M * (1 - ew_pow(density_kg_m3 / sea_level, 1 / (EXPONENT - 1)));
}
