/* Elementary functions from additions, multiplications, divisions and square roots alone: see the header for why.
 *
 * exp    x = k ln 2 + r, |r| <= ln 2 / 2; Taylor series of exp(r) to r^13 (the rest is under 5e-18), times 2^k.
 * log    x = 2^k m, m in [sqrt 1/2, sqrt 2); s = (m - 1)/(m + 1), log m = 2 atanh s, an odd polynomial in s.
 * pow    log as above in double-double (the head of s exact to twice the digits), times y, then exp.
 * sin    x = n pi/2 + r with pi/2 in three parts; polynomials on [-pi/4, pi/4].
 * atan   one of four reference angles taken off, then an odd polynomial.
 *
 * Reductions and the polynomials of log, sin, cos and atan: K. C. Ng et al., FDLIBM 5.3 (Sun Microsystems 1993, "permission to use,
 * copy, modify, and distribute this software is freely granted"); double-double arithmetic: T. J. Dekker, A floating-point technique
 * for extending the available precision, Numerische Mathematik 18 (1971) 224-242.
 *
 * Compiled as OpenCL C too (EW_ON_DEVICE: cycle/backend/opencl.c), which knows no recursion. */
#include "base/elementary.h"
#include <glib.h>
#include <math.h>
#include <stdint.h>

#define LN2_HI       6.93147180369123816490e-01 /* 32 bits: a multiple by a small whole number is exact */
#define LN2_LO       1.90821492927058770002e-10
#define PER_LN2      1.44269504088896338700e+00
#define FURTHEST_RAD 1e5

struct two { /* a number to twice the digits: hi + lo, |lo| <= ulp(hi)/2 */
  double hi, lo;
};

union word {
  double figure;
  uint64_t bits;
};

static uint64_t bits_of(double x) {
  return (union word){.figure = x}.bits;
}

static double from_bits(uint64_t bits) {
  return (union word){.bits = bits}.figure;
}

static struct two two_sum(double a, double b) {
  double sum = a + b, part = sum - a;
  return (struct two){sum, (a - (sum - part)) + (b - part)};
}

static struct two split(double a) {
  double c = 134217729 * a, hi = c - (c - a); /* 2^27 + 1 */
  return (struct two){hi, a - hi};
}

static struct two two_product(double a, double b) {
  double product = a * b;
  struct two x = split(a), y = split(b);
  return (struct two){product, ((x.hi * y.hi - product) + x.hi * y.lo + x.lo * y.hi) + x.lo * y.lo};
}

/* 2^k x for any k: in two steps at the ends of the range, so that only the last one rounds. */
static double times_two_to(double x, int k) {
  if (k > 1000)
    return x * 0x1p1000 * from_bits((uint64_t)(MIN(k, 2023) - 1000 + 1023) << 52);
  if (k < -1000)
    return x * 0x1p-1000 * from_bits((uint64_t)(MAX(k, -2022) + 1000 + 1023) << 52);
  return x * from_bits((uint64_t)(k + 1023) << 52);
}

/* exp(x + tail), |tail| small beside x */
static double exp_of(double x, double tail) {
  if (isnan(x))
    return x;
  if (x > 710)
    return (double)INFINITY;
  if (x < -746)
    return 0;
  double k = floor(x * PER_LN2 + 0.5);
  double hi = x - k * LN2_HI, lo = k * LN2_LO - tail, r = hi - lo;
  double p = 1.0 / 6227020800;
  static const double factorial[] = {479001600, 39916800, 3628800, 362880, 40320, 5040,
                                     720,       120,      24,      6,      2};
  for (guint i = 0; i < G_N_ELEMENTS(factorial); i++)
    p = 1 / factorial[i] + r * p;
  return times_two_to(1 + ((hi - lo) + (r * r * p + ((hi - r) - lo))), (int)k);
}

double ew_exp(double x) {
  return exp_of(x, 0);
}

/* x > 0 and finite = 2^k m, m in [sqrt 1/2, sqrt 2) */
static double mantissa(double x, int *k) {
  *k = 0;
  if (x < 0x1p-1022) {
    x *= 0x1p54;
    *k = -54;
  }
  uint64_t bits = bits_of(x);
  *k += (int)(bits >> 52) - 1023;
  double m = from_bits((bits & 0xfffffffffffffUL) | 0x3ff0000000000000UL);
  if (m > G_SQRT2) {
    m *= 0.5;
    *k += 1;
  }
  return m;
}

/* 2 atanh(s) - 2 s - ..., the part of log((1 + s)/(1 - s)) = 2 s + s R(s^2) beyond the first term */
static double beyond_first(double z) {
  return z *
         (6.666666666666735130e-01 +
          z * (3.999999999940941908e-01 +
               z * (2.857142874366239149e-01 +
                    z * (2.222219843214978396e-01 +
                         z * (1.818357216161805012e-01 +
                              z * (1.531383769920937332e-01 + z * 1.479819860510658591e-01))))));
}

static gboolean log_at_the_edge(double x, double *edge) {
  if (x > 0 && !isinf(x))
    return FALSE;
  *edge = x == 0 ? -(double)INFINITY : x > 0 || isnan(x) ? x : (double)NAN;
  return TRUE;
}

/* log(1 + f) + k ln 2, f in [sqrt 1/2 - 1, sqrt 2 - 1]; c: what f lost by rounding, relative to 1 + f */
static double log_from(double f, int k, double c) {
  double s = f / (2 + f), half = 0.5 * f * f, r = beyond_first(s * s);
  return k * LN2_HI - ((half - (s * (half + r) + (k * LN2_LO + c))) - f);
}

double ew_log(double x) {
  double edge;
  if (log_at_the_edge(x, &edge))
    return edge;
  int k;
  double m = mantissa(x, &k);
  return log_from(m - 1, k, 0);
}

double ew_log10(double x) {
  double edge;
  if (log_at_the_edge(x, &edge))
    return edge;
  int k;
  double m = mantissa(x, &k);
  /* log10(2) in two parts, the first exact times k */
  return k * 3.01029995663611771306e-01 +
         (k * 3.69423907715893078616e-13 + 4.34294481903251816668e-01 * log_from(m - 1, 0, 0));
}

double ew_log1p(double x) {
  if (isnan(x) || x <= -1)
    return x == -1 ? -(double)INFINITY : (double)NAN;
  if (isinf(x) || fabs(x) < 0x1p-54)
    return x;
  double u = 1 + x;
  int k;
  double m = mantissa(u, &k);
  if (k == 0)
    return log_from(x, 0, 0);
  double lost = u > 2 ? 1 - (u - x) : x - (u - 1); /* 1 + x = u + lost */
  return log_from(m - 1, k, lost / u);
}

/* log x to some 62 bits */
static struct two log_twice(double x) {
  int k;
  double m = mantissa(x, &k), f = m - 1;
  struct two below = two_sum(m, 1); /* m + 1 */
  double s = f / below.hi;
  struct two back = two_product(s, below.hi);
  double s_lo = ((f - back.hi) - back.lo - s * below.lo) / below.hi;
  double z = s * s;
  struct two first = two_sum(k * LN2_HI, 2 * s);
  double rest = first.lo + (k * LN2_LO + (2 * s_lo + s * beyond_first(z)));
  struct two sum = two_sum(first.hi, rest);
  return sum;
}

/* x >= 0 */
static double power_of(double x, double y) {
  if (y == 0 || x == 1)
    return 1;
  if (isnan(x) || isnan(y))
    return (double)NAN;
  if (x == 0)
    return y > 0 ? 0 : (double)INFINITY;
  if (isinf(x) || isinf(y))
    return (x > 1) == (y > 0) ? (double)INFINITY : 0;
  struct two log_x = log_twice(x);
  if (fabs(y * log_x.hi) > 800)
    return y * log_x.hi > 0 ? (double)INFINITY : 0;
  struct two product = two_product(y, log_x.hi);
  return exp_of(product.hi, product.lo + y * log_x.lo);
}

double ew_pow(double x, double y) {
  if (!(x < 0) || y == 0 || isnan(y))
    return power_of(x, y);
  if (y != floor(y))
    return (double)NAN;
  double size = power_of(-x, y);
  return fmod(y, 2) == 0 ? size : -size;
}

double ew_cbrt(double x) {
  if (x == 0 || isnan(x) || isinf(x))
    return x;
  gboolean tiny = fabs(x) < 1e-280; /* so that no part of the square below is lost */
  double size = fabs(x) * (tiny ? 0x1p216 : 1), root = ew_exp(ew_log(size) / 3);
  /* one step of Newton's method, its residual to twice the digits */
  struct two square = two_product(root, root), cube = two_product(square.hi, root);
  double off = (cube.hi - size) + (cube.lo + square.lo * root);
  root -= off / (3 * square.hi);
  root *= tiny ? 0x1p-72 : 1;
  return x < 0 ? -root : root;
}

static double sin_kernel(double x, double tail) {
  double z = x * x, v = z * x;
  double r = 8.33333333332248946124e-03 +
             z * (-1.98412698298579493134e-04 +
                  z * (2.75573137070700676789e-06 +
                       z * (-2.50507602534068634195e-08 + z * 1.58969099521155010221e-10)));
  return x - ((z * (0.5 * tail - v * r) - tail) + v * 1.66666666666666324348e-01);
}

static double cos_kernel(double x, double tail) {
  double z = x * x;
  double r =
      z * (4.16666666666666019037e-02 +
           z * (-1.38888888888741095749e-03 +
                z * (2.48015872894767294178e-05 +
                     z * (-2.75573143513906633035e-07 +
                          z * (2.08757232129817482790e-09 + z * -1.13596475577881948265e-11)))));
  double half = 0.5 * z, w = 1 - half;
  return w + (((1 - w) - half) + (z * r - x * tail));
}

/* x less a whole number of quarter turns, which is returned modulo 4: r.hi + r.lo in [-pi/4, pi/4] */
static unsigned quarter_turns(double x, struct two *r) {
  g_assert(!(fabs(x) > FURTHEST_RAD));
  double n = floor(x * 6.36619772367581382433e-01 + 0.5);
  /* pi/2 in parts of 33 bits: n of up to 17 bits times a part is exact */
  double a = x - n * 1.57079632673412561417e+00;
  struct two b = two_sum(a, -(n * 6.07710050630396597660e-11));
  *r = two_sum(b.hi, b.lo - n * 2.02226624879595063154e-21);
  return (unsigned)(long)n & 3;
}

double ew_sin(double x) {
  if (isnan(x) || isinf(x))
    return (double)NAN;
  struct two r;
  unsigned quarter = quarter_turns(x, &r);
  double size = quarter & 1 ? cos_kernel(r.hi, r.lo) : sin_kernel(r.hi, r.lo);
  return quarter & 2 ? -size : size;
}

double ew_cos(double x) {
  if (isnan(x) || isinf(x))
    return (double)NAN;
  struct two r;
  unsigned quarter = quarter_turns(x, &r);
  double size = quarter & 1 ? sin_kernel(r.hi, r.lo) : cos_kernel(r.hi, r.lo);
  return quarter == 1 || quarter == 2 ? -size : size;
}

#ifndef EW_ON_DEVICE
double ew_tan(double x) {
  return ew_sin(x) / ew_cos(x);
}

double ew_atan(double x) {
  static const double angle_hi[] = {4.63647609000806093515e-01, 7.85398163397448278999e-01,
                                    9.82793723247329054082e-01, 1.57079632679489655800e+00};
  static const double angle_lo[] = {2.26987774529616870924e-17, 3.06161699786838301793e-17,
                                    1.39033110312309984516e-17, 6.12323399573676603587e-17};
  if (isnan(x))
    return x;
  double size = fabs(x), t;
  int near = size < 0.4375 ? -1 : size < 0.6875 ? 0 : size < 1.1875 ? 1 : size < 2.4375 ? 2 : 3;
  switch (near) {
  case -1: t = size; break;
  case 0: t = (2 * size - 1) / (2 + size); break;
  case 1: t = (size - 1) / (size + 1); break;
  case 2: t = (size - 1.5) / (1 + 1.5 * size); break;
  default: t = -1 / size; break; /* an int, not an enumeration */
  }
  double z = t * t, w = z * z;
  double odd =
      z * (3.33333333333329318027e-01 +
           w * (1.42857142725034663711e-01 +
                w * (9.09088713343650656196e-02 +
                     w * (6.66107313738753120669e-02 +
                          w * (4.97687799461593236017e-02 + w * 1.62858201153657823623e-02)))));
  double even =
      w * (-1.99999999998764832476e-01 +
           w * (-1.11111104054623557880e-01 +
                w * (-7.69187620504482999495e-02 +
                     w * (-5.83357013379057348645e-02 + w * -3.65315727442169155270e-02))));
  double angle =
      near < 0 ? t - t * (odd + even) : angle_hi[near] - ((t * (odd + even) - angle_lo[near]) - t);
  return x < 0 ? -angle : angle;
}

double ew_atan2(double y, double x) {
  if (isnan(x) || isnan(y))
    return (double)NAN;
  if (y == 0)
    return x > 0 || (x == 0 && !signbit(x)) ? y : copysign(G_PI, y);
  if (x == 0)
    return copysign(G_PI_2, y);
  if (isinf(x) && isinf(y))
    return copysign(x > 0 ? G_PI_4 : 3 * G_PI_4, y);
  double angle = ew_atan(fabs(y / x));
  if (x < 0)
    angle = G_PI - (angle - 1.2246467991473531772e-16); /* what pi lost by rounding */
  return copysign(angle, y);
}

/* (1 - x)(1 + x) loses nothing near the ends, 1 - x^2 would. */
double ew_asin(double x) {
  return fabs(x) <= 1 ? ew_atan2(x, sqrt((1 - x) * (1 + x))) : (double)NAN;
}
double ew_acos(double x) {
  return fabs(x) <= 1 ? ew_atan2(sqrt((1 - x) * (1 + x)), x) : (double)NAN;
}

double ew_hypot(double x, double y) {
  return sqrt(x * x + y * y);
}
#endif
