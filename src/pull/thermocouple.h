/* Thermocouples by the ITS-90 reference functions: millivolts against a junction at 0 °C.
 *
 * E(t) = sum c_i t^i, and for type K above 0 °C also a0 exp(a1 (t - a2)^2). Source: NIST Monograph 175
 * (1993), as in NIST standard reference database 60; the coefficients were written from memory and
 * are held to the published tables (every 100 °C and the ends) in tests/reference/cell. */
#pragma once
#include <glib.h>

enum ew_thermocouple {
  EW_THERMOCOUPLE_B,
  EW_THERMOCOUPLE_E,
  EW_THERMOCOUPLE_J,
  EW_THERMOCOUPLE_K,
  EW_THERMOCOUPLE_N,
  EW_THERMOCOUPLE_R,
  EW_THERMOCOUPLE_S,
  EW_THERMOCOUPLE_T,
  EW_THERMOCOUPLES_COUNT
};
extern const char *const ew_thermocouple_names[]; /* "B" ...; NULL-terminated */

/* NaN outside the type's range. */
double ew_thermocouple_mv(enum ew_thermocouple type, double celsius);
/* The inverse, by bisection and Newton steps to 1e-9 °C; NaN outside the range, and for type B below
 * 50 °C, where it has two answers. */
double ew_thermocouple_celsius(enum ew_thermocouple type, double mv);
/* What a meter reads with its own junction at `junction_celsius`. */
double ew_thermocouple_compensated(enum ew_thermocouple type, double mv, double junction_celsius);
void ew_thermocouple_range(enum ew_thermocouple type, double *low_celsius, double *high_celsius);
