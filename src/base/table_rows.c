/* Chooses the level of the row reader once: the widest vectors this machine has, or the one that ENGINEWRIGHT_SIMD
 * names. */
#include "base/cpu.h"
#include "base/table_rows.h"
#include <stdlib.h>
#include <string.h>

gsize ew_table_rows_base(const struct ew_rows_format *, const char *, const char *, double *, gsize,
                         const char **);
#ifdef EW_SIMD
gsize ew_table_rows_avx2(const struct ew_rows_format *, const char *, const char *, double *, gsize,
                         const char **);
gsize ew_table_rows_avx512(const struct ew_rows_format *, const char *, const char *, double *,
                           gsize, const char **);
#endif

typedef gsize (*rows_level)(const struct ew_rows_format *, const char *, const char *, double *,
                            gsize, const char **);

/* NULL when this machine has not got it. */
static rows_level level_named(const char *name) {
#ifdef EW_SIMD
  if (strcmp(name, "avx512") == 0)
    return ew_cpu_has_avx512() ? ew_table_rows_avx512 : NULL;
  if (strcmp(name, "avx2") == 0)
    return ew_cpu_has_avx2() ? ew_table_rows_avx2 : NULL;
#endif
  return strcmp(name, "base") == 0 ? ew_table_rows_base : NULL;
}

static gpointer choose(gpointer unused) {
  static const char *const best_first[] = {"avx512", "avx2", "base"};
  static rows_level level;
  (void)unused;
  const char *forced = getenv("ENGINEWRIGHT_SIMD");
  level = forced ? level_named(forced) : NULL;
  for (gsize i = 0; i < G_N_ELEMENTS(best_first) && !level; i++)
    level = level_named(best_first[i]);
  return &level;
}

gsize ew_table_rows(const struct ew_rows_format *format, const char *at, const char *end,
                    double *values, gsize most, const char **stop) {
  static GOnce once = G_ONCE_INIT;
  rows_level level = *(rows_level *)g_once(&once, choose, NULL);
  return level(format, at, end, values, most, stop);
}
