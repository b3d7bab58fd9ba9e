/* Sorts both sides and pairs them in order: O(n log n), and optimal by the inequality that fit.h names. */
#include "build/fit.h"
#include <math.h>
#include <stdlib.h>

struct sized {
  int number;
  double size;
};

static int by_size(const void *a, const void *b) {
  const struct sized *x = a, *y = b;
  return x->size < y->size ? -1 : x->size > y->size ? 1 : x->number - y->number;
}

static struct sized *sorted(const double *sizes, gsize count) {
  struct sized *list = g_new(struct sized, count);
  for (gsize i = 0; i < count; i++)
    list[i] = (struct sized){(int)i + 1, sizes[i]};
  for (gsize i = 0; i < count; i++)
    g_assert(isfinite(
        sizes[i])); /* an order of NaNs is none: who asks leaves out what was not measured */
  qsort(list, count, sizeof *list, by_size);
  return list;
}

double ew_selective_fit(const double *bores, const double *pistons, gsize count, double wanted,
                        struct ew_fit_pair *pairs, double *as_numbered) {
  g_autofree struct sized *b = sorted(bores, count), *p = sorted(pistons, count);
  double worst = 0, worst_numbered = 0;
  for (gsize i = 0; i < count; i++) {
    struct ew_fit_pair *pair = &pairs[b[i].number - 1];
    *pair = (struct ew_fit_pair){b[i].number, p[i].number, b[i].size - p[i].size,
                                 b[i].size - pistons[b[i].number - 1]};
    worst = fmax(worst, fabs(pair->clearance_m - wanted));
    worst_numbered = fmax(worst_numbered, fabs(pair->as_numbered_m - wanted));
  }
  g_assert(worst <= worst_numbered * (1 + 1e-12) + 1e-15); /* what the inequality promises */
  if (as_numbered)
    *as_numbered = worst_numbered;
  return worst;
}
