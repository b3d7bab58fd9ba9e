/* Cells in a table by their number; designs of a cell in a chain. See seen.h. */
#include "search/seen.h"
#include "search/space.h"
#include <math.h>

#define SIDES_MOST 3 /* axes without places that tell a cell: each has neighbours */

struct ew_seen {
  const struct ew_axis *axis;
  int axes, sides, side[SIDES_MOST];
  GHashTable *cells; /* guint64 -> number of its last design, from 1 */
  GArray *point;     /* double, axes each */
  GArray *before;    /* guint: the one before it in its cell, from 1; 0: none */
};

static double near_of(const struct ew_axis *axis) {
  return axis->places > 1 ? fmin(1e-3, 0.5 / (axis->places - 1)) : 1e-3;
}

gboolean ew_seen_alike(const struct ew_axis *axis, int axes, const double *a, const double *b) {
  gboolean alike = TRUE;
  for (int j = 0; j < axes; j++)
    alike &= fabs(a[j] - b[j]) < near_of(&axis[j]);
  return alike;
}

struct ew_seen *ew_seen_new(const struct ew_axis *axis, int axes) {
  struct ew_seen *s = g_new0(struct ew_seen, 1);
  g_assert(axes >= 1 && axes <= EW_AXES_MOST);
  *s = (struct ew_seen){.axis = axis,
                        .axes = axes,
                        .cells = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, NULL),
                        .point = g_array_new(FALSE, FALSE, sizeof(double)),
                        .before = g_array_new(FALSE, FALSE, sizeof(guint))};
  for (int j = 0; j < axes && s->sides < SIDES_MOST; j++)
    if (axis[j].places == 0)
      s->side[s->sides++] = j;
  return s;
}

void ew_seen_free(struct ew_seen *s) {
  if (!s)
    return;
  g_hash_table_unref(s->cells);
  g_array_unref(s->point);
  g_array_unref(s->before);
  g_free(s);
}

/* A cell's number; beside: how many cells away in each side. Cells that share one are told apart by comparing. */
static guint64 cell_of(const struct ew_seen *s, const double *point, const int *beside) {
  guint64 cell = 0;
  for (int j = 0; j < s->axes; j++)
    if (s->axis[j].places > 0)
      cell = ew_random_seed(cell, (guint64)ew_axis_place(&s->axis[j], point[j]));
  for (int i = 0; i < s->sides; i++) {
    int j = s->side[i];
    cell =
        ew_random_seed(cell, (guint64)((gint64)floor(point[j] / near_of(&s->axis[j])) + beside[i]));
  }
  return cell;
}

void ew_seen_add(struct ew_seen *s, const double *point) {
  static const int none[SIDES_MOST] = {0};
  guint64 cell = cell_of(s, point, none);
  guint before = GPOINTER_TO_UINT(g_hash_table_lookup(s->cells, &cell));
  g_array_append_vals(s->point, point, (guint)s->axes);
  g_array_append_val(s->before, before);
  g_hash_table_replace(s->cells, g_memdup2(&cell, sizeof cell), GUINT_TO_POINTER(s->before->len));
  g_assert(s->point->len == s->before->len * (guint)s->axes);
}

static gboolean in_cell(const struct ew_seen *s, guint64 cell, const double *point) {
  guint at = GPOINTER_TO_UINT(g_hash_table_lookup(s->cells, &cell));
  for (; at > 0; at = g_array_index(s->before, guint, at - 1))
    if (ew_seen_alike(s->axis, s->axes, &g_array_index(s->point, double, (at - 1) * (guint)s->axes),
                      point))
      return TRUE;
  return FALSE;
}

gboolean ew_seen_has(const struct ew_seen *s, const double *point) {
  int cells = 1;
  for (int i = 0; i < s->sides; i++)
    cells *= 3;
  for (int c = 0; c < cells; c++) {
    int beside[SIDES_MOST] = {c % 3 - 1, c / 3 % 3 - 1, c / 9 % 3 - 1};
    if (in_cell(s, cell_of(s, point, beside), point))
      return TRUE;
  }
  return FALSE;
}
