/* The visits of a round from the books of its cells, and a comparison across two of them. */
#include "base/error.h"
#include "base/words.h"
#include "desk/round_parts.h"
#include <math.h>
#include <string.h>

/* ---- a visit ---- */

static gboolean judge_pull(const struct ew_desk *desk, const struct ew_round *r,
                           struct ew_loaded *l, GError **error) {
  if (!ew_pull_counts(&l->row))
    return ew_refuse(error,
                     "%s is held, was discarded, tripped or was run for heat: a visit of a "
                     "round has pulls that count",
                     l->name);
  if (g_strcmp0(l->engine.name, r->engine) != 0)
    return ew_refuse(error, "%s is of the engine '%s'; the round '%s' is run with '%s'", l->name,
                     l->engine.name ? l->engine.name : "-", r->name, r->engine);
  return g_strcmp0(l->bench.name, desk->bench.name) == 0 ||
         ew_refuse(error, "%s was run in the cell '%s'; this book's is '%s'", l->name,
                   l->bench.name ? l->bench.name : "-", desk->bench.name ? desk->bench.name : "-");
}

static gboolean is_once(const struct ew_desk *desk, const GPtrArray *pulls, struct ew_loaded *l,
                        GError **error) {
  for (guint i = 0; i < pulls->len; i++) {
    struct ew_loaded *before = pulls->pdata[i];
    if (before->id == l->id ||
        strcmp(ew_desk_evidence(desk, before), ew_desk_evidence(desk, l)) == 0)
      return ew_refuse(error, "%s and %s are the same recording: it is not two pulls", before->name,
                       l->name);
  }
  return TRUE;
}

gboolean ew_round_mounted_between(const struct ew_loaded *a, const struct ew_loaded *b) {
  const struct ew_pull_facts *one = &a->facts, *other = &b->facts;
  return ew_level_between(&one, 1, &other, 1) == EW_LEVEL_REMOUNT;
}

static gboolean is_one_mounting(const GPtrArray *pulls, GError **error) {
  const struct ew_loaded *first = pulls->pdata[0];
  for (guint i = 1; i < pulls->len; i++) {
    const struct ew_loaded *l = pulls->pdata[i];
    if (ew_round_mounted_between(first, l))
      return ew_refuse(error, "%s and %s lie on either side of a mounting: a visit is one mounting",
                       first->name, l->name);
  }
  return TRUE;
}

GPtrArray *ew_round_load_visit(const struct ew_desk *desk, const struct ew_round *r,
                               const struct ew_round_visit *v, GError **error) {
  g_autoptr(GPtrArray) pulls = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  for (guint i = 0; i < v->pulls->len; i++) {
    struct ew_loaded *l = ew_desk_load_id(desk, g_array_index(v->pulls, gint64, i), error);
    gboolean good = l && judge_pull(desk, r, l, error) && is_once(desk, pulls, l, error);
    if (l)
      g_ptr_array_add(pulls, l);
    if (!good)
      return NULL;
  }
  if (!ew_desk_all_alike(pulls, EW_ALIKE_REPEAT, 0, NULL, NULL, NULL, error) ||
      !is_one_mounting(pulls, error))
    return NULL;
  return g_steal_pointer(&pulls);
}

/* ---- all of them ---- */

/* Pulls of the visits: of each cell, and (the last) of the way back. */
struct visits {
  GPtrArray *of[EW_BETWEEN_CELLS_MOST + 1];
  guint cells;
};

static void visits_clear(struct visits *v) {
  for (guint i = 0; i <= v->cells; i++)
    g_clear_pointer(&v->of[i], g_ptr_array_unref);
}

static gboolean add_book(const struct ew_desk *desk, const char *name, struct ew_round_seen *seen,
                         struct visits *v, GError **error) {
  g_autoptr(ew_round) r = ew_round_load(desk->book, name, error);
  int cell = r ? ew_round_cell(r, desk->bench.name) : -1;
  if (!r)
    return FALSE;
  if (seen->plan && !ew_round_same_plan(seen->plan, r))
    return ew_refuse(error,
                     "%s has another plan of the round '%s' than the first book: the engine, "
                     "the cells and the pulls a visit have to be the same in each",
                     ew_book_path(desk->book), name);
  if (cell < 0)
    return ew_refuse(error, "%s: its cell '%s' is not one of the round '%s'",
                     ew_book_path(desk->book), desk->bench.name ? desk->bench.name : "-", name);
  v->cells = r->cells->len;
  for (guint i = 0; i < r->visits->len; i++) {
    GPtrArray **into = &v->of[i == 0 ? (guint)cell : v->cells];
    if (*into || (i > 0 && cell > 0) || i > 1)
      return ew_refuse(error, "the cell '%s' is there twice: name each cell's book once",
                       desk->bench.name);
    if (!(*into = ew_round_load_visit(desk, r, r->visits->pdata[i], error))) {
      g_prefix_error(error, "%s: ", ew_book_path(desk->book));
      return FALSE;
    }
  }
  if (!seen->plan)
    seen->plan = g_steal_pointer(&r);
  return TRUE;
}

/* The band that every pull reaches, from the method's shares of the common top speed, as a comparison has it. */
static gboolean find_band(const struct visits *v, struct ew_round_seen *seen, GError **error) {
  double low = 0, top = INFINITY;
  const struct ew_method *method = NULL;
  for (guint i = 0; i <= v->cells; i++)
    for (guint k = 0; v->of[i] && k < v->of[i]->len; k++) {
      const struct ew_curve *c = ((const struct ew_loaded *)v->of[i]->pdata[k])->curve;
      low = fmax(low, c->speed_rpm[0]);
      top = fmin(top, c->speed_rpm[c->points - 1]);
      method = &c->method;
    }
  if (!method)
    return TRUE;
  seen->band_low_rpm = fmax(method->band_low * top, low);
  seen->band_high_rpm = method->band_high * top;
  return seen->band_high_rpm - seen->band_low_rpm >= 300 ||
         ew_refuse(error, "the visits share %#.0f to %#.0f rpm, too little for a band of use", low,
                   top);
}

/* The first pull of each visit against that of the first: the same engine, method and kind of pull, whatever the cell. */
static gboolean are_alike(const struct visits *v, GError **error) {
  const GPtrArray *first = v->of[0];
  for (guint i = 1; first && i <= v->cells; i++) {
    if (!v->of[i])
      continue;
    struct ew_loaded *a = first->pdata[0], *b = v->of[i]->pdata[0];
    struct ew_pull_facts x = a->facts, y = b->facts;
    g_autoptr(ew_message) why = NULL;
    x.engine_id = y.engine_id = 0; /* two books: the engine is known by its record */
    x.build_id = y.build_id = 0;
    x.bench = y.bench = NULL;
    x.placed = y.placed = FALSE;
    if (!ew_is_alike(&x, &y, EW_ALIKE_QUESTION, 0, &why)) {
      g_autofree char *text = ew_message_text(why, EW_UNITS_SI);
      return ew_refuse(error, "two visits of the round are not alike: %s", text);
    }
  }
  return TRUE;
}

static double *values_of(const GPtrArray *pulls, const struct ew_round_seen *seen) {
  double *value = g_new(double, pulls->len);
  for (guint k = 0; k < pulls->len; k++)
    value[k] = ew_curve_band_log(((const struct ew_loaded *)pulls->pdata[k])->curve,
                                 seen->band_low_rpm, seen->band_high_rpm);
  return value;
}

static void settle(const struct visits *v, struct ew_round_seen *seen) {
  struct ew_between_visit visit[EW_BETWEEN_CELLS_MOST + 1];
  seen->whole = TRUE;
  for (guint i = 0; i <= v->cells; i++) {
    gsize count = v->of[i] ? v->of[i]->len : 0;
    *(i == v->cells ? &seen->back : &seen->count[i]) = count;
    seen->whole &= count > 0;
  }
  if (!seen->whole)
    return;
  for (guint i = 0; i <= v->cells; i++)
    visit[i] = (struct ew_between_visit){values_of(v->of[i], seen), v->of[i]->len};
  seen->between = ew_between(visit, v->cells, visit[v->cells]);
  for (guint i = 0; i <= v->cells; i++)
    g_free((double *)(gpointer)visit[i].value);
}

gboolean ew_round_gather(struct ew_desk *const *desks, gsize count, const char *name,
                         struct ew_round_seen *seen, GError **error) {
  struct visits v = {.cells = 0};
  gboolean good = TRUE;
  g_assert(count > 0);
  *seen = (struct ew_round_seen){.band_low_rpm = NAN, .band_high_rpm = NAN};
  for (gsize i = 0; good && i < count; i++)
    good = add_book(desks[i], name, seen, &v, error);
  good = good && are_alike(&v, error) && find_band(&v, seen, error);
  if (good)
    settle(&v, seen);
  else
    ew_round_seen_clear(seen);
  visits_clear(&v);
  return good;
}

void ew_round_seen_clear(struct ew_round_seen *seen) {
  g_clear_pointer(&seen->plan, ew_round_free);
}

char *ew_round_next(const struct ew_round_seen *seen) {
  const GPtrArray *cells = seen->plan->cells;
  for (guint i = 0; i < cells->len; i++)
    if (!seen->count[i])
      return g_strdup(cells->pdata[i]);
  return seen->back ? NULL : ew_words("%s again", (const char *)cells->pdata[0]);
}

/* ---- across ---- */

static gboolean take_side(const GPtrArray *pulls, const struct ew_round_seen *seen, int side,
                          GArray *all, int *cell, GError **error) {
  for (guint i = 0; i < pulls->len; i++) {
    struct ew_loaded *l = pulls->pdata[i];
    *cell = l->id ? ew_round_cell(seen->plan, l->bench.name) : -1;
    if (*cell < 0)
      return ew_refuse(error,
                       "%s: its cell '%s' is not one of the round '%s'; a round of the "
                       "reference engine through this cell and the other comes first ('round "
                       "new')",
                       l->name, l->bench.name ? l->bench.name : "-", seen->plan->name);
    l->facts.engine_id = l->facts.build_id = 0;
    l->facts.placed = FALSE;
    l->facts.between = &seen->between;
    l->facts.between_cell = (gsize)*cell;
    struct ew_compared_pull one = {l->curve, &l->setup, side, all->len, &l->facts, l->id};
    g_array_append_val(all, one);
  }
  return TRUE;
}

/* Of the two cells' scatter the larger. */
static struct ew_spread wider(struct ew_spread a, struct ew_spread b) {
  return !(a.freedom > 0) ? b : !(b.freedom > 0) ? a : a.sd > b.sd ? a : b;
}

static gboolean is_whole(const struct ew_round_seen *seen, GError **error) {
  g_autofree char *next = seen->whole ? NULL : ew_round_next(seen);
  return seen->whole ||
         ew_refuse(error,
                   "the round '%s' is not run to its end, so how far the cells differ is not known "
                   "yet: run '%s', %d pulls, in %s, then 'round visit'",
                   seen->plan->name, seen->plan->engine, seen->plan->pulls, next);
}

struct ew_comparison *ew_round_compare(const struct ew_desk *desk_a, const GPtrArray *a,
                                       const struct ew_desk *desk_b, const GPtrArray *b,
                                       const struct ew_round_seen *seen, double margin,
                                       GError **error) {
  g_autoptr(GArray) all = g_array_new(FALSE, TRUE, sizeof(struct ew_compared_pull));
  int cell_a = -1, cell_b = -1;
  g_assert(a->len > 0 && b->len > 0);
  if (!is_whole(seen, error) || !take_side(a, seen, 0, all, &cell_a, error) ||
      !take_side(b, seen, 1, all, &cell_b, error))
    return NULL;
  if (cell_a == cell_b) {
    ew_refuse(error, "both sides ran in the cell '%s': 'compare' judges them, and sees more there",
              (const char *)seen->plan->cells->pdata[cell_a]);
    return NULL;
  }
  struct ew_learned learned_a = ew_desk_history(desk_a, 0, a),
                    learned_b = ew_desk_history(desk_b, 0, b);
  const struct ew_spread history = wider(learned_a.levels[EW_LEVEL_REMOUNT],
                                         learned_b.levels[EW_LEVEL_REMOUNT]),
                         consecutive = wider(learned_a.levels[EW_LEVEL_CONSECUTIVE],
                                             learned_b.levels[EW_LEVEL_CONSECUTIVE]);
  const struct ew_compare_options options = {.margin = margin,
                                             .level = EW_LEVEL_REMOUNT,
                                             .history = &history,
                                             .consecutive = &consecutive,
                                             .band_low_rpm = NAN,
                                             .band_high_rpm = NAN,
                                             .drift_mean = NAN,
                                             .drift_sd = NAN,
                                             .minutes_a_pull = NAN,
                                             .litres_a_pull = NAN};
  return ew_compare((const struct ew_compared_pull *)(void *)all->data, all->len, &options, error);
}
