/* Local quadratic regression at one speed with tricube weights, one half-width, wider at an end by part of what is
 * cut off; variances with the samples' autocorrelation along the pull. O(samples of the pull) a point. */
#include "pull/smooth.h"
#include <math.h>
#include <string.h>

#define WIDENED 0.5 /* of what is cut off the window at an end: docs/methods.md, "Curves" */
#define REACH   0.1

static double tricube(double u) {
  double v = 1 - fabs(u) * u * u;
  return v * v * v;
}

/* Where the samples in use lie, seen from x0. */
struct reach {
  double low, high;                   /* of all of them */
  double near, near_left, near_right; /* to the nearest: of all, at or below, at or above */
};

static struct reach reach_of(const double *x, gsize n, double x0, const guint8 *use) {
  struct reach r = {INFINITY, -INFINITY, INFINITY, INFINITY, INFINITY};
  for (gsize i = 0; i < n; i++) {
    if (isnan(x[i]) || (use && !use[i]))
      continue;
    r.low = fmin(r.low, x[i]);
    r.high = fmax(r.high, x[i]);
    if (x[i] <= x0)
      r.near_left = fmin(r.near_left, x0 - x[i]);
    if (x[i] >= x0)
      r.near_right = fmin(r.near_right, x[i] - x0);
  }
  r.near = fmin(r.near_left, r.near_right);
  return r;
}

/* Half-width at x0; 0 where the samples do not reach: further than a tenth of h from the nearest, unless those on both
 * sides are less than h apart. Never NaN: distances to nothing are infinite. */
static double half_width_at(const struct reach *r, double x0, double h) {
  if (r->near > REACH * h && r->near_left + r->near_right > h)
    return 0;
  double cut = h - fmin(x0 - r->low, r->high - x0);
  return cut > 0 ? h + WIDENED * fmin(cut, h) : h;
}

gboolean ew_smooth_weights(const double *x, gsize n, double x0, double h, const guint8 *use,
                           double *l) {
  double s0 = 0, s1 = 0, s2 = 0, s3 = 0, s4 = 0;
  gsize count = 0;
  memset(l, 0, n * sizeof *l);
  struct reach reach = reach_of(x, n, x0, use);
  double half = half_width_at(&reach, x0, h);
  g_assert(h > 0 && (half == 0 || (half >= h && half <= (1 + WIDENED) * h)));
  for (gsize i = 0; half > 0 && i < n; i++) {
    double u = (x[i] - x0) / half;
    if (!(fabs(u) < 1) || (use && !use[i])) /* not known: no weight */
      continue;
    double w = tricube(fabs(u));
    l[i] = w;
    s0 += w, s1 += w * u, s2 += w * u * u, s3 += w * u * u * u, s4 += w * u * u * u * u;
    count++;
  }
  double a = s2 * s4 - s3 * s3, b = s2 * s3 - s1 * s4, c = s1 * s3 - s2 * s2;
  double determinant = s0 * a + s1 * b + s2 * c;
  g_assert(count <= n && (count == 0 || s0 > 0));
  if (count < 4 || !(fabs(determinant) > 1e-12 * s0 * s0 * s0))
    return FALSE;
  for (gsize i = 0; i < n; i++)
    if (l[i] != 0) {
      double u = (x[i] - x0) / half;
      l[i] *= (a + b * u + c * u * u) / determinant;
    }
  return TRUE;
}

double ew_autoregressive_variance(const double *l, gsize n, double rho) {
  double squares = 0, cross = 0, before = 0; /* before: sum of l[k] rho^(i-k), k < i */
  while (n > 0 && l[n - 1] == 0)
    n--;
  while (n > 0 && *l == 0)
    l++, n--;
  for (gsize i = 0; i < n; i++) {
    squares += l[i] * l[i];
    cross += l[i] * before;
    before = rho * (before + l[i]);
  }
  return squares + 2 * cross;
}

double ew_residual_correlation(const double *r, gsize n) {
  double squares = 0, cross = 0;
  for (gsize i = 0; i + 1 < n; i++) {
    if (!isfinite(r[i]) || !isfinite(r[i + 1])) /* no neighbours: no pair */
      continue;
    squares += r[i] * r[i];
    cross += r[i] * r[i + 1];
  }
  return squares > 0 ? CLAMP(cross / squares, 0.0, 0.99) : 0;
}
