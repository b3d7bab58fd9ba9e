/* Whether compression, cam and fuel fit: a graded warning, for ranking only.
 *
 * One cylinder at full load and low speed, where an engine knocks first. From inlet closing the
 * charge is squeezed along p V^1.32; it burns by Wiebe's law (a 5, m 2) over 60 crank degrees with
 * half of its heat out at 8 degrees after top dead centre; the end gas follows the pressure
 * isentropically (exponent 1.32). Its ignition delay
 *
 *   tau[ms] = 17.68 (ON/100)^3.402 p[atm]^-1.7 exp(3800/T)
 *
 * is integrated (dt/tau) until nine tenths have burned. Near and above 1 the end gas may light
 * itself.
 * Sources: A. M. Douaud and P. Eyzat, SAE 780080; J. C. Livengood and P. C. Wu, 5th Symp. on
 * Combustion (1955) (both from memory). The delay was fitted to primary reference fuels of about 80
 * to 100 octane; alcohols lie outside it and their cooling of the charge is not in it, so that they
 * are judged too strictly. Heat to walls, residual gas and chamber shape are left out; the constants
 * of charge temperature (318 K at closing, 10 K more with air cooling) and burn are common practice,
 * no source, set so that the production engines of tests/reference/data come out below 1 on the fuel
 * of their day. It compares combinations; the cycle simulation says more, and only the engine decides.
 * Tests: tests/reference/engine/test_fuel_check.c. */
#pragma once
#include <glib.h>

struct ew_fuel_case {
  double compression_ratio, effective_ratio; /* of the worst cylinder */
  double throw_m, rod_m;
  double octane; /* research */
  double air_pressure_pa, air_temperature_k, volumetric_efficiency;
  double speed_rpm;
  double heat_j_m3; /* of the charge: fuel heat in 1 m3 of charge at the inlet state */
  gboolean air_cooled;
};

enum ew_fuel_grade { EW_FUEL_FITS, EW_FUEL_WATCH, EW_FUEL_NEAR, EW_FUEL_TOO_MUCH };

struct ew_fuel_verdict {
  double integral;      /* of dt/tau; 1: the end gas lights */
  double octane_needed; /* at which the integral is 0.85 */
  enum ew_fuel_grade grade;
};

double ew_ignition_delay_of_octane_s(double octane, double pressure_pa, double temperature_k);
double ew_knock_integral(const struct ew_fuel_case *c, double octane);
struct ew_fuel_verdict ew_fuel_check(const struct ew_fuel_case *c);
/* "fits", "watch", "near the edge", "too much" */
const char *ew_fuel_grade_name(enum ew_fuel_grade grade);
