/* Elementary functions against the C library's in extended precision (64 bits or more of mantissa on x86-64 and arm64, themselves good
 * to an ulp of that), over the range each is stated for, and at the ends and points where such code goes wrong. The errors allowed
 * are those that base/elementary.h states. That the bits are the same on every machine is held by a digest of 700,000 results. */
#include "../near.h"
#include "base/elementary.h"
#include <float.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#define DRAWS 50000

static uint64_t state;
static double uniform(void) { /* splitmix64: Steele, Lea and Flood, OOPSLA 2014 */
  uint64_t z = (state += 0x9e3779b97f4a7c15ULL);
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
  return (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

static double ulps(double got, long double want) {
  int e;
  frexpl(want, &e);
  long double ulp = ldexpl(1, MAX(e - DBL_MANT_DIG, DBL_MIN_EXP - DBL_MANT_DIG));
  return (double)(fabsl(got - want) / ulp);
}

/* magnitude: draws are 10^(from..to) with either sign, else from..to */
struct range {
  const char *says;
  double (*ours)(double);
  long double (*theirs)(long double);
  double from, to;
  gboolean magnitude, either_sign;
  double allowed_ulp;
};

static const struct range ranges[] = {
    {"exp between its ends", ew_exp, expl, -708, 709.7, FALSE, FALSE, 0.9},
    {"exp of small figures", ew_exp, expl, -20, 0, TRUE, TRUE, 0.9},
    {"exp among the subnormal", ew_exp, expl, -745, -708, FALSE, FALSE, 1.3},
    {"log over all magnitudes", ew_log, logl, -307, 308, TRUE, FALSE, 0.9},
    {"log near 1", ew_log, logl, 0.7, 1.45, FALSE, FALSE, 0.9},
    {"log within a millionth of 1", ew_log, logl, 1 - 1e-6, 1 + 1e-6, FALSE, FALSE, 0.9},
    {"log of the subnormal", ew_log, logl, -323, -308, TRUE, FALSE, 0.9},
    {"log10 over all magnitudes", ew_log10, log10l, -307, 308, TRUE, FALSE, 2},
    {"log10 near 1", ew_log10, log10l, 0.7, 1.45, FALSE, FALSE, 2},
    {"log1p of small figures", ew_log1p, log1pl, -17, -0.01, TRUE, TRUE, 1.0},
    {"log1p of large figures", ew_log1p, log1pl, 0, 300, TRUE, FALSE, 1.0},
    {"cbrt", ew_cbrt, cbrtl, -300, 300, TRUE, TRUE, 0.7},
    {"sin within a turn", ew_sin, sinl, -7, 7, FALSE, FALSE, 0.9},
    {"sin of many turns", ew_sin, sinl, -1e5, 1e5, FALSE, FALSE, 0.9},
    {"sin of small angles", ew_sin, sinl, -17, 0, TRUE, TRUE, 0.9},
    {"cos within a turn", ew_cos, cosl, -7, 7, FALSE, FALSE, 0.9},
    {"cos of many turns", ew_cos, cosl, -1e5, 1e5, FALSE, FALSE, 0.9},
    {"tan", ew_tan, tanl, -7, 7, FALSE, FALSE, 2},
    {"atan", ew_atan, atanl, -10, 10, TRUE, TRUE, 0.9},
    {"atan of moderate figures", ew_atan, atanl, -4, 4, FALSE, FALSE, 0.9},
    {"asin", ew_asin, asinl, -1, 1, FALSE, FALSE, 2},
    {"acos", ew_acos, acosl, -1, 1, FALSE, FALSE, 2},
};

static double draw(const struct range *r) {
  double x = r->from + (r->to - r->from) * uniform();
  x = r->magnitude ? pow(10, x) : x;
  return r->either_sign && uniform() < 0.5 ? -x : x;
}

static void against_extended_precision(void **unused) {
  (void)unused;
  for (guint i = 0; i < G_N_ELEMENTS(ranges); i++) {
    const struct range *r = &ranges[i];
    state = 1 + i;
    double worst = 0, at = 0;
    for (int n = 0; n < DRAWS; n++) {
      double x = draw(r), off = ulps(r->ours(x), r->theirs(x));
      if (!(off <= worst))
        worst = off, at = x;
    }
    printf("%-28s worst %.3f ulp at %.17g\n", r->says, worst, at);
    if (!(worst <= r->allowed_ulp))
      fail_msg("%s: %.3f ulp at %.17g, %.3f allowed", r->says, worst, at, r->allowed_ulp);
  }
}

static void powers(void **unused) {
  (void)unused;
  double moderate = 0, far = 0;
  state = 99;
  for (int n = 0; n < 4 * DRAWS; n++) {
    double x = pow(10, 6 * uniform() - 3), y = 10 * uniform() - 5,
           off = ulps(ew_pow(x, y), powl(x, y));
    if (fabs(y * log(x)) < 40)
      moderate = fmax(moderate, off);
    double big = pow(10, 200 * uniform() - 100), z = 3 * uniform();
    off = ulps(ew_pow(big, z), powl(big, z));
    if (isfinite(ew_pow(big, z)))
      far = fmax(far, off);
  }
  printf("pow: worst %.3f ulp, far out %.3f\n", moderate, far);
  assert_true(moderate <= 1);
  assert_true(far <= 1);
  assert_true(ew_pow(10, 2) == 100 && ew_pow(2, -3) == 0.125 && ew_pow(-2, 3) == -8 &&
              ew_pow(-2, 2) == 4);
}

static void angles_of_points(void **unused) {
  (void)unused;
  double worst = 0;
  state = 7;
  for (int n = 0; n < 2 * DRAWS; n++) {
    double x = 2 * uniform() - 1, y = 2 * uniform() - 1;
    worst = fmax(worst, ulps(ew_atan2(y, x), atan2l(y, x)));
    worst = fmax(worst, 2 * ulps(ew_hypot(x, y), hypotl(x, y)));
  }
  printf("atan2: worst %.3f ulp\n", worst);
  assert_true(worst <= 2.5);
}

/* What IEEE 754 says of the ends (the C standard's annex F), as the C library does it. */
static void at_the_ends(void **unused) {
  (void)unused;
  static const double odd[] = {0.0, -0.0, 1, -1, INFINITY, -INFINITY, NAN, 5e-324, -5e-324, 1e-310};
  static const struct {
    const char *says;
    double (*ours)(double), (*theirs)(double);
  } same[] = {{"exp", ew_exp, exp},       {"log", ew_log, log},    {"log10", ew_log10, log10},
              {"log1p", ew_log1p, log1p}, {"cbrt", ew_cbrt, cbrt}, {"sin", ew_sin, sin},
              {"cos", ew_cos, cos},       {"atan", ew_atan, atan}, {"asin", ew_asin, asin},
              {"acos", ew_acos, acos}};
  for (guint f = 0; f < G_N_ELEMENTS(same); f++)
    for (guint i = 0; i < G_N_ELEMENTS(odd); i++) {
      double got = same[f].ours(odd[i]), want = same[f].theirs(odd[i]);
      if (!(isnan(want)   ? isnan(got)
            : isinf(want) ? got == want
                          : fabs(got - want) <= 4 * DBL_EPSILON * fabs(want)))
        fail_msg("%s(%g) is %.17g, wanted %.17g", same[f].says, odd[i], got, want);
    }
  for (guint i = 0; i < G_N_ELEMENTS(odd); i++)
    for (guint j = 0; j < G_N_ELEMENTS(odd); j++) {
      double got = ew_atan2(odd[i], odd[j]), want = atan2(odd[i], odd[j]);
      if (!(isnan(want) ? isnan(got) : fabs(got - want) <= 4 * DBL_EPSILON))
        fail_msg("atan2(%g, %g) is %.17g, wanted %.17g", odd[i], odd[j], got, want);
    }
  assert_true(ew_exp(1000) == (double)INFINITY && ew_exp(-1000) == 0 && ew_exp(0) == 1);
  assert_true(isnan(ew_pow(-2, 0.5)) && isnan(ew_pow(NAN, 2)) && isnan(ew_pow(2, NAN)));
  assert_true(ew_pow(0, 2) == 0 && ew_pow(5, 0) == 1 && ew_pow(10, 400) == (double)INFINITY &&
              ew_pow(10, -400) == 0);
}

/* The bits themselves, seen once; whatever machine runs this must find them again. */
static void same_bits_everywhere(void **unused) {
  (void)unused;
  uint64_t digest = 0xcbf29ce484222325ULL; /* FNV-1a, 64 bits */
  state = 2026;
  for (int n = 0; n < DRAWS; n++) {
    double x = 40 * uniform() - 20, y = 3 * uniform() + 0.01, z = 2 * uniform() - 1;
    double made[] = {ew_exp(x),      ew_log(y),  ew_log10(y), ew_log1p(z),   ew_pow(y, x),
                     ew_cbrt(x),     ew_sin(x),  ew_cos(x),   ew_tan(x),     ew_atan(x),
                     ew_atan2(z, x), ew_asin(z), ew_acos(z),  ew_hypot(x, y)};
    for (guint i = 0; i < G_N_ELEMENTS(made); i++) {
      uint64_t bits;
      memcpy(&bits, &made[i], sizeof bits);
      for (int b = 0; b < 64; b += 8)
        digest = (digest ^ ((bits >> b) & 0xff)) * 0x100000001b3ULL;
    }
  }
  printf("digest %016" G_GINT64_MODIFIER "x\n", digest);
  assert_true(digest == G_GUINT64_CONSTANT(0x68efcecf105ca052));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(against_extended_precision),
                                     cmocka_unit_test(powers), cmocka_unit_test(angles_of_points),
                                     cmocka_unit_test(at_the_ends),
                                     cmocka_unit_test(same_bits_everywhere)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
