/* Reading a question of search_question.h. A change's figure is read as `engine vary` reads it, so both speak the same words;
 * a range's ends must change in the same way (both set, both by, or both scale). */
#include "desk/search_question_parts.h"
#include "base/as_pointer.h"
#include "base/error.h"
#include "base/number.h"
#include "base/suggest.h"
#include "cycle/options.h"
#include "desk/vary.h"
#include <math.h>
#include <string.h>

#define PLACES_MOST 1000

const struct ew_search_figure_about ew_search_figures[EW_SEARCH_FIGURES_COUNT] = {
#define X(id, key, kind, more, early, help) {key, help, kind, more, early},
    EW_SEARCH_FIGURES(X)
#undef X
};

/* ---- nodes ---- */

gboolean ew_question_at(GError **error, const char *where, const struct ew_node *node) {
  g_prefix_error(error, "%s, line %u: ", where, node->line);
  return FALSE;
}

gboolean ew_question_knows(const struct ew_node *map, const char *const *keys, const char *where,
                           GError **error) {
  if (map->kind != EW_NODE_MAP)
    return ew_refuse(error, "%s, line %u: write KEY: VALUE here", where, map->line);
  for (guint i = 0; i < map->children->len; i++) {
    const struct ew_node *one = g_ptr_array_index(map->children, i);
    if (!g_strv_contains(keys, one->key)) {
      g_autofree char *all = g_strjoinv(", ", ew_as_pointer(keys));
      return ew_refuse(error, "%s, line %u: '%s' is not one of %s", where, one->line, one->key,
                       all);
    }
  }
  return TRUE;
}

const char *ew_question_text(const struct ew_node *map, const char *key) {
  const struct ew_node *one = ew_node_member(map, key);
  return one && one->kind == EW_NODE_SCALAR ? one->text : NULL;
}

/* A list's members, or none where the key is not there. */
static gboolean list_of(const struct ew_node *map, const char *key, const char *where,
                        const struct ew_node **list, GError **error) {
  *list = ew_node_member(map, key);
  return !*list || (*list)->kind == EW_NODE_LIST ||
         ew_refuse(error, "%s, line %u: %s: write a list, a line beginning with '-' for each",
                   where, (*list)->line, key);
}

gboolean ew_question_quantity(const struct ew_node *map, const char *key, enum ew_kind kind,
                              double otherwise, const char *where, double *value, GError **error) {
  const struct ew_node *one = ew_node_member(map, key);
  *value = otherwise;
  if (!one)
    return TRUE;
  if (one->kind != EW_NODE_SCALAR)
    return ew_refuse(error, "%s, line %u: %s: write one figure", where, one->line, key);
  return ew_quantity_parse(key, one->text, kind, value, error) || ew_question_at(error, where, one);
}

/* ---- what may be turned ---- */

static void axis_free(gpointer data) {
  struct ew_search_axis *a = data;
  g_free(a->name);
  g_free(a->from.text);
  g_free(a->to.text);
  g_clear_pointer(&a->values, g_array_unref);
  g_clear_pointer(&a->parts, g_ptr_array_unref);
  g_free(a);
}

gboolean ew_question_change(const char *field, const char *text, struct ew_variation *change,
                            GError **error) {
  g_autoptr(GArray) all = ew_variations_new();
  g_autofree char *whole = g_strdup_printf("%s=%s", field, text);
  if (!ew_variation_parse(whole, all, error))
    return FALSE;
  if (all->len != 1)
    return ew_refuse(error, "%s: '%s': one figure each", field, text);
  *change = g_array_index(all, struct ew_variation, 0);
  change->text = g_strdup(change->text);
  return TRUE;
}

static gboolean read_step(struct ew_search_axis *a, const char *text, GError **error) {
  struct ew_variation step;
  g_autofree char *by = g_strconcat(*text == '+' ? "" : "+", text, NULL);
  double span = a->to.change.figure - a->from.change.figure;
  if (!ew_question_change(a->name, by, &step, error))
    return FALSE;
  g_free(step.text);
  double each = step.change.how == EW_ADJUST_SCALE ? step.change.figure - 1 : step.change.figure;
  if (!(each > 0) || each > span || span / each > PLACES_MOST)
    return ew_refuse(error, "%s: step '%s' does not divide '%s' to '%s' into 1 to %d steps",
                     a->name, text, a->from.text, a->to.text, PLACES_MOST);
  a->places = (int)floor(span / each + 1e-6) + 1;
  g_assert(a->places >= 2 && a->places <= PLACES_MOST + 1);
  a->to.change.figure = a->from.change.figure + each * (a->places - 1);
  return TRUE;
}

static gboolean read_range(struct ew_search_axis *a, const struct ew_node *map, GError **error) {
  const char *from = ew_question_text(map, "from"), *to = ew_question_text(map, "to"),
             *step = ew_question_text(map, "step");
  if (!from || !to)
    return ew_refuse(error, "%s: give from and to, or values", a->name);
  if (!ew_question_change(a->name, from, &a->from, error) ||
      !ew_question_change(a->name, to, &a->to, error))
    return FALSE;
  if (a->from.change.how != a->to.change.how)
    return ew_refuse(error,
                     "%s: '%s' and '%s' do not change it the same way: sign both, or neither",
                     a->name, from, to);
  if (!(a->to.change.figure > a->from.change.figure))
    return ew_refuse(error, "%s: from '%s' to '%s' is empty: the second must be greater", a->name,
                     from, to);
  return !step || read_step(a, step, error);
}

static gboolean read_values(struct ew_search_axis *a, const struct ew_node *list, GError **error) {
  a->kind = EW_AXIS_VALUES;
  a->values = ew_variations_new();
  for (guint i = 0; list->kind == EW_NODE_LIST && i < list->children->len; i++) {
    const struct ew_node *one = g_ptr_array_index(list->children, i);
    struct ew_variation v;
    if (one->kind != EW_NODE_SCALAR || !ew_question_change(a->name, one->text, &v, error))
      return error && *error ? FALSE : ew_refuse(error, "%s: values: write figures", a->name);
    g_array_append_val(a->values, v);
  }
  a->places = (int)a->values->len;
  return (a->places >= 2 && a->places <= PLACES_MOST) ||
         ew_refuse(error, "%s: values: a list of 2 to %d figures", a->name, PLACES_MOST);
}

static gboolean read_change(struct ew_search_question *q, const struct ew_node *map,
                            const char *where, GError **error) {
  static const char *const keys[] = {"field", "from", "to", "step", "values", NULL};
  if (!ew_question_knows(map, keys, where, error))
    return FALSE;
  struct ew_search_axis *a = g_new0(struct ew_search_axis, 1);
  g_ptr_array_add(q->axes, a);
  const struct ew_node *values = ew_node_member(map, "values");
  if (!ew_question_text(map, "field"))
    return ew_refuse(error, "%s, line %u: change: say which field", where, map->line);
  a->name = g_strdup(ew_question_text(map, "field"));
  gboolean good = values && (ew_node_member(map, "from") || ew_node_member(map, "to"))
                      ? ew_refuse(error, "%s: give values, or from and to: not both", a->name)
                  : values ? read_values(a, values, error)
                           : read_range(a, map, error);
  return good || ew_question_at(error, where, map);
}

/* A corner says what the weather is, not that it makes a difference: an end may be no change at all (by nothing, or to all of it). */
static gboolean read_stood(struct ew_search_question *q, const struct ew_node *map,
                           const char *where, GError **error) {
  static const char *const keys[] = {"field", "from", "to", NULL};
  if (!ew_question_knows(map, keys, where, error))
    return FALSE;
  struct ew_search_axis *a = g_new0(struct ew_search_axis, 1);
  g_ptr_array_add(q->envelope, a);
  if (!ew_question_text(map, "field"))
    return ew_refuse(error, "%s, line %u: envelope: say which field", where, map->line);
  a->name = g_strdup(ew_question_text(map, "field"));
  if (!read_range(a, map, error))
    return ew_question_at(error, where, map);
  for (guint i = 0; i + 1 < q->envelope->len; i++)
    if (((struct ew_search_axis *)g_ptr_array_index(q->envelope, i))->from.what == a->from.what)
      return ew_refuse(error, "%s, line %u: envelope: %s is given twice", where, map->line,
                       a->name);
  return TRUE;
}

/* ---- what is wanted ---- */

static gboolean find_figure(const struct ew_node *map, const char *where, int *what,
                            GError **error) {
  const char *names[EW_SEARCH_FIGURES_COUNT + 1] = {NULL}, *name = ew_question_text(map, "figure");
  for (int i = 0; i < EW_SEARCH_FIGURES_COUNT; i++) {
    names[i] = ew_search_figures[i].key;
    if (name && strcmp(name, names[i]) == 0) {
      *what = i;
      return TRUE;
    }
  }
  const char *near = name ? ew_suggest(name, names, EW_SEARCH_FIGURES_COUNT) : NULL;
  g_autofree char *all = g_strjoinv(", ", ew_as_pointer(names));
  return near ? ew_refuse(error, "%s, line %u: figure '%s': did you mean %s?", where, map->line,
                          name, near)
              : ew_refuse(error, "%s, line %u: figure '%s' is not one of %s", where, map->line,
                          name ? name : "", all);
}

/* The same figure over the same speeds is one wish, wanted or limited or both. */
static struct ew_search_wish *wish_for(struct ew_search_question *q, struct ew_search_wish w) {
  for (guint i = 0; i < q->wishes->len; i++) {
    struct ew_search_wish *known = &g_array_index(q->wishes, struct ew_search_wish, i);
    if (known->what == w.what &&
        (known->from_rpm == w.from_rpm || (isnan(known->from_rpm) && isnan(w.from_rpm))) &&
        (known->to_rpm == w.to_rpm || (isnan(known->to_rpm) && isnan(w.to_rpm))))
      return known;
  }
  g_array_append_val(q->wishes, w);
  return &g_array_index(q->wishes, struct ew_search_wish, q->wishes->len - 1);
}

static gboolean is_mean(int what) {
  return what == EW_SEARCH_TORQUE || what == EW_SEARCH_FUEL;
}

static gboolean read_wish(struct ew_search_question *q, const struct ew_node *map, gboolean wanted,
                          const char *where, GError **error) {
  static const char *const wish_keys[] = {"figure", "from", "to", "better", NULL};
  static const char *const limit_keys[] = {"figure", "from", "to", "least", "most", NULL};
  int what = 0;
  double from, to, least, most;
  if (!ew_question_knows(map, wanted ? wish_keys : limit_keys, where, error) ||
      !find_figure(map, where, &what, error))
    return FALSE;
  const struct ew_search_figure_about *about = &ew_search_figures[what];
  if (!ew_question_quantity(map, "from", EW_KIND_ROTATIONAL_SPEED, NAN, where, &from, error) ||
      !ew_question_quantity(map, "to", EW_KIND_ROTATIONAL_SPEED, NAN, where, &to, error) ||
      !ew_question_quantity(map, "least", about->kind, -INFINITY, where, &least, error) ||
      !ew_question_quantity(map, "most", about->kind, INFINITY, where, &most, error))
    return FALSE;
  if (!is_mean(what) && !(isnan(from) && isnan(to)))
    return ew_refuse(error, "%s, line %u: %s is not a mean over speeds: leave out from and to",
                     where, map->line, about->key);
  if (from > to)
    return ew_refuse(error, "%s, line %u: %s: from %.0f to %.0f rpm is empty", where, map->line,
                     about->key, from, to);
  struct ew_search_wish *w =
      wish_for(q, (struct ew_search_wish){what, from, to, FALSE, about->more, -INFINITY, INFINITY});
  const char *better = ew_question_text(map, "better");
  if (better && strcmp(better, "more") != 0 && strcmp(better, "less") != 0)
    return ew_refuse(error, "%s, line %u: better: more, or less", where, map->line);
  if (wanted) {
    if (w->wanted)
      return ew_refuse(error, "%s, line %u: %s is wanted twice", where, map->line, about->key);
    w->wanted = TRUE;
    w->more = better ? strcmp(better, "more") == 0 : about->more;
    q->wanted++;
    return TRUE;
  }
  if (least == -INFINITY && most == INFINITY)
    return ew_refuse(error, "%s, line %u: %s: give least, or most, or both", where, map->line,
                     about->key);
  if (least > most)
    return ew_refuse(error, "%s, line %u: %s: at least more than at most: nothing can be both",
                     where, map->line, about->key);
  w->least = least;
  w->most = most;
  return TRUE;
}

/* ---- the whole ---- */

static int by_rpm(gconstpointer a, gconstpointer b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static gboolean read_speeds(struct ew_search_question *q, const struct ew_node *root,
                            const char *where, GError **error) {
  const struct ew_node *list;
  if (!list_of(root, "speeds", where, &list, error))
    return FALSE;
  if (!list)
    return TRUE;
  q->speeds = g_array_new(FALSE, FALSE, sizeof(double));
  for (guint i = 0; i < list->children->len; i++) {
    const struct ew_node *one = g_ptr_array_index(list->children, i);
    double rpm;
    if (one->kind != EW_NODE_SCALAR ||
        !ew_quantity_parse("speeds", one->text, EW_KIND_ROTATIONAL_SPEED, &rpm, error))
      return error && *error
                 ? ew_question_at(error, where, one)
                 : ew_refuse(error, "%s, line %u: speeds: write figures", where, one->line);
    if (!(rpm >= 300 && rpm <= 25000))
      return ew_refuse(error, "%s, line %u: %.0f rpm is outside 300 to 25,000 rpm", where,
                       one->line, rpm);
    g_array_append_val(q->speeds, rpm);
  }
  g_array_sort(q->speeds, by_rpm);
  return (q->speeds->len >= 1 && q->speeds->len <= 40) ||
         ew_refuse(error, "%s, line %u: speeds: 1 to 40 of them", where, list->line);
}

static gboolean read_spark(struct ew_search_question *q, const struct ew_node *root,
                           const char *where, GError **error) {
  const char *text = ew_question_text(root, "spark");
  q->spark = EW_SPARK_BEST;
  q->spark_deg = NAN;
  if (!text || strcmp(text, "best") == 0)
    return TRUE;
  q->spark = strcmp(text, "mbt") == 0 ? EW_SPARK_MBT : EW_SPARK_GIVEN;
  if (q->spark == EW_SPARK_MBT)
    return TRUE;
  return (ew_quantity_parse("spark", text, EW_KIND_ANGLE, &q->spark_deg, error) &&
          ((q->spark_deg >= -40 && q->spark_deg <= 90) ||
           ew_refuse(error,
                     "spark: %.1f deg is outside -40 to 90 deg before top dead centre; write best, "
                     "mbt, or a figure",
                     q->spark_deg))) ||
         ew_question_at(error, where, ew_node_member(root, "spark"));
}

typedef gboolean read_one(struct ew_search_question *, const struct ew_node *, const char *,
                          GError **);

static gboolean read_wanted(struct ew_search_question *q, const struct ew_node *n,
                            const char *where, GError **error) {
  return read_wish(q, n, TRUE, where, error);
}
static gboolean read_limit(struct ew_search_question *q, const struct ew_node *n, const char *where,
                           GError **error) {
  return read_wish(q, n, FALSE, where, error);
}

static gboolean read_all(struct ew_search_question *q, const struct ew_node *root, const char *key,
                         read_one *read, const char *where, GError **error) {
  const struct ew_node *list;
  if (!list_of(root, key, where, &list, error))
    return FALSE;
  for (guint i = 0; list && i < list->children->len; i++)
    if (!read(q, g_ptr_array_index(list->children, i), where, error))
      return FALSE;
  return TRUE;
}

/* Does the axis set this figure outright? By so much, or by a share, two may change it one after the other. */
static gboolean among(const GArray *set, int what) {
  for (guint i = 0; set && i < set->len; i++) {
    const struct ew_variation *v = &g_array_index(set, struct ew_variation, i);
    if (v->what == what && v->change.how == EW_ADJUST_SET)
      return TRUE;
  }
  return FALSE;
}

static gboolean sets(const struct ew_search_axis *a, int what) {
  gboolean any =
      a->kind == EW_AXIS_RANGE && a->from.what == what && a->from.change.how == EW_ADJUST_SET;
  for (guint p = 0; a->kind == EW_AXIS_PARTS && p < a->parts->len; p++)
    any |= among(((const struct ew_search_part *)g_ptr_array_index(a->parts, p))->set, what);
  return any || (a->kind == EW_AXIS_VALUES && among(a->values, what));
}

/* A figure that this axis sets and another one, too. */
static gboolean meet(const struct ew_search_axis *a, const struct ew_search_axis *b) {
  gboolean any =
      a->kind == EW_AXIS_RANGE && a->from.change.how == EW_ADJUST_SET && sets(b, a->from.what);
  for (guint i = 0; a->kind == EW_AXIS_VALUES && i < a->values->len; i++)
    any |= among(a->values, g_array_index(a->values, struct ew_variation, i).what) &&
           sets(b, g_array_index(a->values, struct ew_variation, i).what);
  for (guint p = 0; a->kind == EW_AXIS_PARTS && p < a->parts->len; p++) {
    const struct ew_search_part *part = g_ptr_array_index(a->parts, p);
    for (guint i = 0; i < part->set->len; i++) {
      int what = g_array_index(part->set, struct ew_variation, i).what;
      any |= among(part->set, what) && sets(b, what);
    }
  }
  return any;
}

static gboolean apart(const struct ew_search_question *q, const char *where, GError **error) {
  for (guint i = 0; i < q->axes->len; i++)
    for (guint j = i + 1; j < q->axes->len; j++) {
      const struct ew_search_axis *a = g_ptr_array_index(q->axes, i);
      const struct ew_search_axis *b = g_ptr_array_index(q->axes, j);
      if (meet(a, b))
        return ew_refuse(error,
                         "%s: '%s' and '%s' set the same figure, so one would undo the other: "
                         "leave one of them out",
                         where, a->name, b->name);
    }
  return TRUE;
}

/* What no single line shows. */
static gboolean check(const struct ew_search_question *q, const char *where, GError **error) {
  if (q->axes->len < 1 || q->axes->len > EW_AXES_MOST)
    return ew_refuse(error, "%s: change and shelf: %u things to turn; give 1 to %d", where,
                     q->axes->len, EW_AXES_MOST);
  if (q->envelope->len > EW_ENVELOPE_MOST)
    return ew_refuse(error, "%s: envelope: %u ranges; at most %d, as each doubles the corners",
                     where, q->envelope->len, EW_ENVELOPE_MOST);
  if (q->wanted < 1 || q->wanted > EW_GOALS_MOST)
    return ew_refuse(error, "%s: want: %d figures; give 1 to %d", where, q->wanted, EW_GOALS_MOST);
  if (q->wishes->len > EW_FIGURES_MOST)
    return ew_refuse(error, "%s: want and limits: %u figures; at most %d", where, q->wishes->len,
                     EW_FIGURES_MOST);
  if (!apart(q, where, error))
    return FALSE;
  gboolean run = FALSE;
  for (guint i = 0; i < q->wishes->len; i++) {
    const struct ew_search_wish *w = &g_array_index(q->wishes, struct ew_search_wish, i);
    run |= w->wanted && !ew_search_figures[w->what].early;
    if (w->what == EW_SEARCH_OCTANE && q->spark == EW_SPARK_BEST)
      return ew_refuse(error,
                       "%s: octane: with spark: best the spark gives way to the fuel, so what is "
                       "asked for is the fuel's own; write spark: mbt",
                       where);
    if (w->what == EW_SEARCH_PRICE)
      for (guint k = 0; k < q->axes->len; k++) {
        const struct ew_search_axis *a = g_ptr_array_index(q->axes, k);
        for (guint p = 0; a->parts && p < a->parts->len; p++)
          if (isnan(((struct ew_search_part *)g_ptr_array_index(a->parts, p))->price))
            return ew_refuse(error, "%s: price: %s '%s' has none", where, a->name,
                             ((struct ew_search_part *)g_ptr_array_index(a->parts, p))->name);
      }
  }
  return run ||
         ew_refuse(error, "%s: want: none of the figures needs a run; give torque or power, say",
                   where);
}

static int wanted_first(gconstpointer a, gconstpointer b) {
  const struct ew_search_wish *x = a, *y = b;
  return y->wanted - x->wanted;
}

gboolean ew_search_question_read(const struct ew_node *root, const char *where,
                                 const GPtrArray *shelf, struct ew_search_question *q,
                                 GError **error) {
  static const char *const keys[] = {"change", "shelf", "want",     "limits", "speeds",
                                     "idle",   "spark", "envelope", NULL};
  *q = (struct ew_search_question){.shelf = shelf,
                                   .axes = g_ptr_array_new_with_free_func(axis_free),
                                   .envelope = g_ptr_array_new_with_free_func(axis_free),
                                   .wishes =
                                       g_array_new(FALSE, FALSE, sizeof(struct ew_search_wish))};
  gboolean good = ew_question_knows(root, keys, where, error) &&
                  read_all(q, root, "change", read_change, where, error) &&
                  read_all(q, root, "shelf", ew_question_place, where, error) &&
                  read_all(q, root, "want", read_wanted, where, error) &&
                  read_all(q, root, "limits", read_limit, where, error) &&
                  read_all(q, root, "envelope", read_stood, where, error) &&
                  read_speeds(q, root, where, error) && read_spark(q, root, where, error) &&
                  ew_question_quantity(root, "idle", EW_KIND_ROTATIONAL_SPEED, NAN, where,
                                       &q->idle_rpm, error) &&
                  check(q, where, error);
  q->shelf = NULL;
  if (good)
    g_array_sort(q->wishes, wanted_first);
  else
    ew_search_question_clear(q);
  return good;
}

void ew_search_question_clear(struct ew_search_question *q) {
  g_clear_pointer(&q->axes, g_ptr_array_unref);
  g_clear_pointer(&q->envelope, g_ptr_array_unref);
  g_clear_pointer(&q->wishes, g_array_unref);
  g_clear_pointer(&q->speeds, g_array_unref);
}
