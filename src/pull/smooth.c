#include "pull/smooth.h"
#include <math.h>
#include <string.h>

static double tricube(double u) {
  double v = 1 - fabs(u) * u * u;
  return v * v * v;
}

gboolean ew_smooth_weights(const double *x, gsize n, double x0, double h, const guint8 *use,
                           double *l) {
  double s0 = 0, s1 = 0, s2 = 0, s3 = 0, s4 = 0;
  gsize count = 0;
  memset(l, 0, n * sizeof *l);
  for (gsize i = 0; i < n; i++) {
    double u = (x[i] - x0) / h;
    if (!(fabs(u) < 1) || (use && !use[i]))
      continue;
    double w = tricube(fabs(u));
    l[i] = w;
    s0 += w, s1 += w * u, s2 += w * u * u, s3 += w * u * u * u, s4 += w * u * u * u * u;
    count++;
  }
  double a = s2 * s4 - s3 * s3, b = s2 * s3 - s1 * s4, c = s1 * s3 - s2 * s2;
  double determinant = s0 * a + s1 * b + s2 * c;
  if (count < 4 || !(fabs(determinant) > 1e-12 * s0 * s0 * s0))
    return FALSE;
  for (gsize i = 0; i < n; i++)
    if (l[i] != 0) {
      double u = (x[i] - x0) / h;
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
    squares += r[i] * r[i];
    cross += r[i] * r[i + 1];
  }
  return squares > 0 ? CLAMP(cross / squares, 0.0, 0.99) : 0;
}
