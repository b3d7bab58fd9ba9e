/* Sobol indices: see the header. Two samples A and B of the cube are the two halves of one even sequence of twice the dimensions;
 * A_j is A with column j of B. */
#include "search/influence.h"
#include "search/space.h"
#include <string.h>

gboolean ew_influence_of(double (*figure)(const double *point, gpointer data), gpointer data, int n,
                         int count, guint64 seed, struct ew_influence *influence) {
  g_assert(n >= 1 && 2 * n <= EW_SPACE_DIMENSIONS && count > 1);
  double both[EW_SPACE_DIMENSIONS], mixed[EW_SPACE_DIMENSIONS];
  double sum = 0, square = 0;
  for (int j = 0; j < n; j++)
    influence[j] = (struct ew_influence){0};
  for (int i = 0; i < count; i++) {
    ew_space_point(seed, (guint64)i, 2 * n, both);
    double a = figure(both, data), b = figure(both + n, data);
    sum += a + b;
    square += a * a + b * b;
    for (int j = 0; j < n; j++) {
      memcpy(mixed, both, sizeof(double) * (gsize)n);
      mixed[j] = both[n + j];
      double m = figure(mixed, data);
      influence[j].alone += b * (m - a);
      influence[j].all += (a - m) * (a - m) / 2;
    }
  }
  double mean = sum / (2 * count), variance = square / (2 * count) - mean * mean;
  gboolean varies = variance > 1e-24 * mean * mean && variance > 0;
  for (int j = 0; j < n; j++) {
    influence[j].alone = varies ? CLAMP(influence[j].alone / count / variance, 0, 1) : 0;
    influence[j].all = varies ? CLAMP(influence[j].all / count / variance, 0, 1) : 0;
  }
  return varies;
}
