/* The integral of fuel_check.h in half-degree steps from inlet closing on, and the grade of its value. Fixed steps,
 * no iteration: O(1). */
#include "base/elementary.h"
#include "base/language.h"
#include "engine/fuel_check.h"
#include "engine/slider_crank.h"
#include <math.h>

#define EXPONENT   1.32
#define CLOSING_K  318.0
#define AIR_COOLED 10.0
#define BURN_DEG   60.0
#define WIEBE_A    5.0
#define HALF_AT    8.0
#define ATM        101325.0

double ew_ignition_delay_of_octane_s(double octane, double pressure_pa, double temperature_k) {
  return 17.68e-3 * ew_pow(octane / 100, 3.402) * ew_pow(pressure_pa / ATM, -1.7) *
         ew_exp(3800 / temperature_k);
}

static double burned(double angle_deg) {
  double half = BURN_DEG * ew_pow(ew_log(2) / WIEBE_A, 1.0 / 3),
         x = (angle_deg - HALF_AT + half) / BURN_DEG;
  double share = x <= 0 ? 0 : 1 - ew_exp(-WIEBE_A * x * x * x);
  g_assert(share >= 0 && share <= 1);
  return share;
}

/* Volume in units of the swept volume. */
static double volume_at(const struct ew_fuel_case *c, double angle_deg) {
  struct ew_slider_crank crank = {c->throw_m, c->rod_m, 0};
  return 1 / (c->compression_ratio - 1) +
         ew_piston_at(crank, angle_deg, 0).travel_m / (2 * c->throw_m);
}

/* Single zone from inlet closing: d(pV^g) = (g-1) V^(g-1) dQ, in half-degree steps. Everything is
 * per swept volume. */
double ew_knock_integral(const struct ew_fuel_case *c, double octane) {
  double step = 0.5, clear = 1 / (c->compression_ratio - 1);
  double closing = clear * c->effective_ratio;
  double t0 = CLOSING_K + (c->air_cooled ? AIR_COOLED : 0);
  double p0 = c->air_pressure_pa * c->volumetric_efficiency * t0 / c->air_temperature_k / closing;
  double heat = c->heat_j_m3 * c->volumetric_efficiency;
  double adiabat = p0 * ew_pow(closing, EXPONENT), integral = 0;
  for (double angle = -120; burned(angle) < 0.9 && angle < 90; angle += step) {
    double volume = volume_at(c, angle);
    if (volume >= closing)
      continue;
    double released = heat * (burned(angle + step / 2) - burned(angle - step / 2));
    adiabat += (EXPONENT - 1) * ew_pow(volume, EXPONENT - 1) * released;
    double pressure = adiabat / ew_pow(volume, EXPONENT);
    double temperature = t0 * ew_pow(pressure / p0, (EXPONENT - 1) / EXPONENT);
    integral +=
        step / (6 * c->speed_rpm) / ew_ignition_delay_of_octane_s(octane, pressure, temperature);
  }
  return integral;
}

struct ew_fuel_verdict ew_fuel_check(const struct ew_fuel_case *c) {
  double integral = ew_knock_integral(c, c->octane);
  /* the integral goes with octane to the power of -3.402 and nothing else */
  double needed = c->octane * ew_pow(integral / 0.85, 1 / 3.402);
  enum ew_fuel_grade grade = integral < 0.7    ? EW_FUEL_FITS
                             : integral < 0.85 ? EW_FUEL_WATCH
                             : integral < 1.0  ? EW_FUEL_NEAR
                                               : EW_FUEL_TOO_MUCH;
  return (struct ew_fuel_verdict){integral, needed, grade};
}

const char *ew_fuel_grade_name(enum ew_fuel_grade grade) {
  static const char *const names[] = {EW_TEXT("fits"), EW_TEXT("watch"), EW_TEXT("near the edge"),
                                      EW_TEXT("too much")};
  g_assert((gsize)grade < G_N_ELEMENTS(names));
  return names[grade];
}
