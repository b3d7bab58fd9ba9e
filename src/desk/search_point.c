/* A point of a search as changes to an engine, a corner of its envelope, and both in words. */
#include "desk/search_question.h"
#include "desk/vary.h"
#include <math.h>

/* ---- points ---- */

static struct ew_variation change_at(const struct ew_search_axis *a, double coordinate) {
  g_assert(a->kind != EW_AXIS_PARTS);
  struct ew_variation v = a->from;
  if (a->kind == EW_AXIS_VALUES) {
    struct ew_axis axis = {a->places, FALSE};
    return g_array_index(a->values, struct ew_variation, ew_axis_place(&axis, coordinate));
  }
  v.change.figure += coordinate * (a->to.change.figure - a->from.change.figure);
  return v;
}

static const struct ew_search_part *part_at(const struct ew_search_axis *a, double coordinate) {
  g_assert(a->kind == EW_AXIS_PARTS && a->places == (int)a->parts->len);
  struct ew_axis axis = {a->places, TRUE};
  return g_ptr_array_index(a->parts, ew_axis_place(&axis, coordinate));
}

double ew_search_point_is(const struct ew_search_question *q, const double *point, GArray *set) {
  double price = 0;
  for (guint j = 0; j < q->axes->len; j++) {
    const struct ew_search_axis *a = g_ptr_array_index(q->axes, j);
    if (a->kind != EW_AXIS_PARTS) {
      struct ew_variation v = change_at(a, point[j]);
      ew_variation_append(set, &v);
      continue;
    }
    const struct ew_search_part *p = part_at(a, point[j]);
    price += isnan(p->price) ? 0 : p->price;
    for (guint k = 0; k < p->set->len; k++)
      ew_variation_append(set, &g_array_index(p->set, struct ew_variation, k));
  }
  return price;
}

char *ew_search_axis_says(const struct ew_search_axis *a, double coordinate) {
  if (a->kind == EW_AXIS_PARTS)
    return g_strdup_printf("%s: %s", a->name, part_at(a, coordinate)->name);
  struct ew_variation v = change_at(a, coordinate);
  return ew_variation_reads(&v);
}

void ew_search_axes(const struct ew_search_question *q, struct ew_axis *axes) {
  for (guint j = 0; j < q->axes->len; j++) {
    const struct ew_search_axis *a = g_ptr_array_index(q->axes, j);
    axes[j] = (struct ew_axis){a->places, a->kind == EW_AXIS_PARTS};
  }
}

/* ---- the envelope ---- */

int ew_search_corners(const struct ew_search_question *q) {
  return q->envelope->len ? 1 << q->envelope->len : 0;
}

static const struct ew_variation *corner_of(const struct ew_search_question *q, int corner,
                                            guint range) {
  const struct ew_search_axis *a = g_ptr_array_index(q->envelope, range);
  g_assert(corner >= 0 && corner < ew_search_corners(q));
  return corner >> range & 1 ? &a->to : &a->from;
}

void ew_search_corner_is(const struct ew_search_question *q, int corner, GArray *set) {
  for (guint i = 0; i < q->envelope->len; i++)
    ew_variation_append(set, corner_of(q, corner, i));
}

char *ew_search_corner_says(const struct ew_search_question *q, int corner) {
  GString *text = g_string_new(NULL);
  for (guint i = 0; i < q->envelope->len; i++) {
    g_autofree char *one = ew_variation_reads(corner_of(q, corner, i));
    g_string_append_printf(text, "%s%s", i ? ", " : "", one);
  }
  return g_string_free(text, FALSE);
}
