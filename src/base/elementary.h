/* Elementary functions whose result has the same bits on every machine.
 *
 * The C library chooses its exp, log, pow, sin and the like by the processor at run time, and the choices differ in the last bit.
 * Curves and predictions are compared by digest, so whatever ends up in one calls these: additions, multiplications, divisions and
 * square roots in a fixed order, which IEEE 754 rounds alike everywhere (the build turns contraction off).
 * sqrt, floor, fmod, ldexp and round of the C library are exact and need no stand-in.
 *
 * Errors in units in the last place (ulp), seen against the C library's extended precision over the stated range and held by
 * tests/reference/base/test_elementary.c:
 *
 *   ew_exp           0.9; overflow gives infinity, underflow 0 by way of subnormals
 *   ew_log           0.9    x > 0; 0 gives -infinity, x < 0 NaN
 *   ew_log10         2
 *   ew_log1p         1.0    x > -1
 *   ew_pow           1.0    x >= 0, or a whole y; else NaN
 *   ew_cbrt          0.7
 *   ew_sin, ew_cos   0.9    |x| <= 1e5; refused beyond by an assertion: no crank turns so far
 *   ew_tan           2      |x| <= 1e5
 *   ew_atan          0.9
 *   ew_atan2, ew_asin, ew_acos   2.5
 *   ew_hypot         1      while no square leaves the range
 *
 * NaN in gives NaN out, and nothing touches errno. */
#pragma once

double ew_exp(double x);
double ew_log(double x);
double ew_log10(double x);
double ew_log1p(double x);
double ew_pow(double x, double y);
double ew_cbrt(double x);
double ew_sin(double rad);
double ew_cos(double rad);
double ew_tan(double rad);
double ew_atan(double x);
double ew_atan2(double y, double x);
double ew_asin(double x);
double ew_acos(double x);
double ew_hypot(double x, double y);
