/* Grouping and thinning of a front: the header says how. */
#include "search/alike.h"
#include <math.h>

static gboolean is_known(const double *figures, int each) {
  for (int k = 0; k < each; k++)
    if (!isfinite(figures[k]))
      return FALSE;
  return TRUE;
}

static gboolean alike(const double *a, const double *b, int each, const double *band) {
  for (int k = 0; k < each; k++)
    if (!(fabs(a[k] - b[k]) <= (isfinite(band[k]) ? band[k] : 0)))
      return FALSE;
  return TRUE;
}

int ew_front_alike(const double *figures, int n, int each, const double *band, int *of) {
  int kept = 0;
  for (int i = 0; i < n; i++) {
    of[i] = i;
    for (int j = 0; j < i && of[i] == i && is_known(figures + i * each, each); j++)
      if (of[j] == j && alike(figures + i * each, figures + j * each, each, band))
        of[i] = j;
    kept += of[i] == i;
  }
  return kept;
}

struct span {
  double low, high;
};

static struct span span_of(const double *figures, int n, int each, int k, int *least,
                           int *greatest) {
  struct span s = {INFINITY, -INFINITY};
  *least = *greatest = -1;
  for (int i = 0; i < n; i++) {
    double y = figures[i * each + k];
    if (y < s.low) {
      s.low = y;
      *least = i;
    }
    if (y > s.high) {
      s.high = y;
      *greatest = i;
    }
  }
  return s;
}

static void take(int i, int most, int *count, gboolean *taken) {
  if (i < 0 || taken[i] || *count >= most)
    return;
  taken[i] = TRUE;
  ++*count;
}

/* Squared, of the figures that both have, each by its span. */
static double distance(const double *a, const double *b, int each, const struct span *span) {
  double sum = 0;
  for (int k = 0; k < each; k++) {
    double across = span[k].high - span[k].low, d = (a[k] - b[k]) / across;
    if (across > 0 && isfinite(d))
      sum += d * d;
  }
  return sum;
}

static int furthest(const double *figures, int n, int each, const struct span *span,
                    const gboolean *taken) {
  int best = -1;
  double far = -1;
  for (int i = 0; i < n; i++) {
    double near = INFINITY;
    for (int j = 0; j < n && !taken[i]; j++)
      if (taken[j])
        near = fmin(near, distance(figures + i * each, figures + j * each, each, span));
    if (!taken[i] && near > far) {
      far = near;
      best = i;
    }
  }
  return best;
}

void ew_front_spread(const double *figures, int n, int each, int most, gboolean *taken) {
  g_autofree struct span *span = g_new(struct span, MAX(each, 1));
  int count = 0;
  for (int i = 0; i < n; i++)
    taken[i] = FALSE;
  take(n > 0 ? 0 : -1, most, &count, taken);
  for (int k = 0; k < each; k++) {
    int least, greatest;
    span[k] = span_of(figures, n, each, k, &least, &greatest);
    take(least, most, &count, taken);
    take(greatest, most, &count, taken);
  }
  while (count < MIN(most, n)) {
    int next = furthest(figures, n, each, span, taken);
    g_assert(next >= 0); /* fewer than n are taken */
    take(next, most, &count, taken);
  }
}
