/* Bores and pistons out of the lines of a build, and their pairs. */
#include "desk/pairing.h"
#include "base/error.h"
#include "build/position.h"
#include <math.h>

/* Least bore and gauge-point size of each cylinder; FALSE when one is missing. */
static gboolean sizes_of(const struct ew_bench_build *b, double *bores, double *pistons,
                         const struct ew_build_item **clearance, GError **error) {
  int n = b->engine.cylinders;
  g_autoptr(GArray) lines = ew_build_lines(b->build, &b->engine);
  *clearance = ew_build_item_known(b->build, "piston clearance");
  const char *larger = *clearance ? (*clearance)->larger : "cylinder bore",
             *smaller = *clearance ? (*clearance)->smaller : "piston";
  for (int i = 0; i < n; i++) {
    bores[i] = INFINITY;
    pistons[i] = NAN;
  }
  for (guint i = 0; i < lines->len; i++) {
    const struct ew_build_line *l = &g_array_index(lines, struct ew_build_line, i);
    int k = ew_build_position_number(l->position) - 1;
    if (k < 0 || k >= n || l->value.count == 0)
      continue;
    if (g_strcmp0(l->name, larger) == 0)
      bores[k] = fmin(bores[k], l->value.mean);
    if (g_strcmp0(l->name, smaller) == 0)
      pistons[k] = l->value.mean;
  }
  for (int i = 0; i < n; i++)
    if (isinf(bores[i]) || isnan(pistons[i]))
      return ew_refuse(error, "'%s' and '%s' of cylinder %d are needed for pairing", larger,
                       smaller, i + 1);
  return TRUE;
}

gboolean ew_bench_pairing(const struct ew_bench_build *bench, double clearance_m,
                          struct ew_pairing *pairing, GError **error) {
  double bores[24], pistons[24];
  const struct ew_build_item *item;
  g_assert(bench->engine.cylinders <= 24);
  if (!sizes_of(bench, bores, pistons, &item, error))
    return FALSE;
  pairing->wanted_m = !isnan(clearance_m) ? clearance_m
                      : item              ? (item->low + item->high) / 2
                                          : (double)NAN;
  if (isnan(pairing->wanted_m))
    return ew_refuse(error, "clearance: the template has no target for it; say which is wanted");
  pairing->count = (gsize)bench->engine.cylinders;
  pairing->worst_m = ew_selective_fit(bores, pistons, pairing->count, pairing->wanted_m,
                                      pairing->pairs, &pairing->as_numbered_m);
  return TRUE;
}
