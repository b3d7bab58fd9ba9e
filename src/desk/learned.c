/* What the book's earlier pulls teach: how the cell repeats, how an engine drifts, what conditions do. History is the last 200 pulls at
 * most; each is asked against the first of every kind met so far, O(pulls x kinds). A pull's curve is read once, and nothing of the pulls
 * before those 200 but how many there are: what a book of many years is asked costs what one of a month costs. */
#include "base/words.h"
#include "book/figures.h"
#include "desk/alike.h"
#include <math.h>
#include <string.h>

#define HISTORY_MOST 200 /* pulls looked back */

/* Numbers for texts, in order of appearance. */
static int number_of(GHashTable *table, const char *text) {
  gpointer value;
  if (g_hash_table_lookup_extended(table, text, NULL, &value))
    return GPOINTER_TO_INT(value);
  int number = (int)g_hash_table_size(table);
  g_hash_table_insert(table, g_strdup(text), GINT_TO_POINTER(number));
  return number;
}

static gboolean listed(const GPtrArray *pulls, gint64 id) {
  for (guint i = 0; pulls && i < pulls->len; i++)
    if (((const struct ew_loaded *)g_ptr_array_index(pulls, i))->id == id)
      return TRUE;
  return FALSE;
}

/* Is it the first time that this evidence is met? Recordings of an earlier program whose figures nobody read yet
 * are taken as different ones: reading 200 of them takes seconds. */
static gboolean first_time(const struct ew_desk *desk, const struct ew_pull_row *row,
                           GHashTable *met) {
  g_autofree char *figures = NULL;
  ew_figures_stored(desk->book, row->recording_id, &figures, NULL); /* told at the end */
  return !figures || g_hash_table_add(met, g_strdup_printf("%s;%d", figures, row->part));
}

/* Pulls met so far: the first of each kind. */
struct kinds {
  GPtrArray *first; /* struct ew_loaded */
};

/* The kind that this pull repeats, else a new one, which takes the pull. */
static int kind_of(struct kinds *kinds, struct ew_loaded **pull) {
  for (guint k = 0; k < kinds->first->len; k++)
    if (ew_is_alike(&((struct ew_loaded *)kinds->first->pdata[k])->facts, &(*pull)->facts,
                    EW_ALIKE_REPEAT, 0, NULL))
      return (int)k;
  g_ptr_array_add(kinds->first, g_steal_pointer(pull));
  g_assert(*pull == NULL); /* the kind owns it now */
  return (int)kinds->first->len - 1;
}

/* What is gathered of the book's pulls: two lists in step. */
struct gathered {
  struct kinds kinds;
  GHashTable *days, *cells, *families;
  GArray *history; /* struct ew_history_pull */
  GArray *started; /* struct ew_effects_pull */
};

static struct gathered gathered_new(void) {
  GHashTable *tables[3];
  for (int i = 0; i < 3; i++)
    tables[i] = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  return (struct gathered){{g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free)},
                           tables[0],
                           tables[1],
                           tables[2],
                           g_array_new(FALSE, FALSE, sizeof(struct ew_history_pull)),
                           g_array_new(FALSE, FALSE, sizeof(struct ew_effects_pull))};
}

static void gathered_clear(struct gathered *g) {
  g_ptr_array_unref(g->kinds.first);
  g_hash_table_unref(g->days);
  g_hash_table_unref(g->cells);
  g_hash_table_unref(g->families);
  g_array_unref(g->history);
  g_array_unref(g->started);
}

/* Where an engine stands among others: what it is run in, and engines of its make-up. */
static void place(struct gathered *g, const struct ew_loaded *l, struct ew_effects_pull *p) {
  const struct ew_engine *e = &l->engine;
  g_autofree char *family =
      ew_exact("%d cylinders, %d strokes, cooling %d, head %d, %s", e->cylinders, e->strokes,
               e->cooling, e->head, e->fuel ? e->fuel : "");
  p->cell = number_of(g->cells, l->bench.name ? l->bench.name : "");
  p->family = number_of(g->families, family);
  p->engine = (int)l->row.engine_id;
}

/* One pull of the book as history, over the band of use of its kind; FALSE when it does not count. */
static void gather_pull(const struct ew_desk *desk, const struct ew_pull_row *row, guint position,
                        struct gathered *g) {
  struct ew_loaded *loaded = ew_pull_counts(row) ? ew_desk_load_id(desk, row->id, NULL) : NULL;
  if (!loaded)
    return;
  struct ew_effects_pull p = {.position = position};
  ew_effects_conditions(loaded->curve, p.covariate);
  place(g, loaded, &p);
  const struct ew_curve *curve =
      loaded->curve; /* lives as long as the kind, where the kind took it */
  int kind = kind_of(&g->kinds, &loaded);
  const struct ew_loaded *first = g->kinds.first->pdata[kind];
  double top = floor(first->curve->high_rpm / 250 + 0.3) * 250; /* where like pulls end */
  p.log_mean = ew_curve_band_log(curve, 0.66 * top, 0.97 * top);
  ew_loaded_free(loaded);
  p.day = number_of(g->days, row->day);
  struct ew_history_pull history = {.mounting = row->mounting,
                                    .day = p.day,
                                    .run = row->run,
                                    .kind = kind,
                                    .position = position,
                                    .log_mean = p.log_mean};
  g_autofree char *group = ew_exact("group %d %d %d", kind, row->mounting, row->run);
  p.group = number_of(g->days, group); /* numbers of their own beside those of days */
  if (isnan(p.log_mean))
    return;
  g_array_append_val(g->history, history);
  g_array_append_val(g->started, p);
  g_assert(g->history->len == g->started->len);
}

/* Conditions less their means over the book; 0 where not known. */
static void about_mean(const struct ew_effects_pull *pulls, gsize n, gsize i,
                       double about[EW_DAY_COVARIATES]) {
  g_assert(i < n);
  for (int k = 0; k < EW_DAY_COVARIATES; k++) {
    double sum = 0, count = 0, own = pulls[i].covariate[k];
    for (gsize j = 0; j < n; j++)
      if (isfinite(pulls[j].covariate[k]))
        sum += pulls[j].covariate[k], count++;
    about[k] = isfinite(own) ? own - sum / count : 0;
  }
}

/* Effects for the engine asked about, and the spread that is left when they are taken out. */
static void learn_conditions(struct gathered *g, const struct ew_loaded *asked,
                             struct ew_learned *learned) {
  g_assert(g->history->len == g->started->len);
  struct ew_effects_pull of = {0};
  gsize n = g->started->len;
  g_autofree struct ew_history_pull *left = g_new(struct ew_history_pull, n + 1);
  const struct ew_effects_pull *started = (const struct ew_effects_pull *)(void *)g->started->data;
  place(g, asked, &of);
  learned->effects = ew_effects_learn(started, n, of.cell, of.family, of.engine,
                                      learned->levels[EW_LEVEL_CONSECUTIVE].sd);
  for (gsize i = 0; i < n; i++) {
    double about[EW_DAY_COVARIATES];
    about_mean(started, n, i, about);
    left[i] = g_array_index(g->history, struct ew_history_pull, i);
    left[i].log_mean -= ew_effects_shift(&learned->effects, about);
  }
  ew_learn_spread(left, n, learned->guarded);
}

/* Pulls of the practice cell and of a real engine teach nothing about each other. A question about invented pulls learns from invented
 * ones; one that names none learns from real ones, where the book has any. */
static gboolean asked_of_invented(const struct ew_desk *desk, gint64 engine_id,
                                  const GPtrArray *without) {
  gboolean all = TRUE, any_real;
  for (guint i = 0; without && i < without->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(without, i);
    if (l->id == 0)
      return FALSE;
    all &= l->row.invented;
  }
  if (without && without->len)
    return all;
  return ew_pull_any_real(desk->book, engine_id, &any_real, NULL) && !any_real;
}

/* A pull that is alike with none teaches nothing. */
static gboolean has_like(const struct ew_history_pull *p, guint n, guint i) {
  for (guint k = 0; k < n; k++)
    if (k != i && p[k].kind == p[i].kind)
      return TRUE;
  return FALSE;
}

/* `first`: position of the first row. */
static char *learned_from_of(const GArray *rows, guint first, const struct ew_history_pull *p,
                             guint n) {
  GString *text = g_string_new(NULL);
  for (guint i = 0; i < n; i++) {
    guint at = (guint)p[i].position - first;
    g_assert(at < rows->len);
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, at);
    if (has_like(p, n, i))
      g_string_append_printf(text, "%s%" G_GINT64_FORMAT ".%" G_GINT64_FORMAT, text->len ? "," : "",
                             row->id, row->reading);
  }
  return g_string_free(text, FALSE);
}

/* The last pulls of the list, and the position of the first of them in it. */
static GArray *last_rows(const struct ew_desk *desk, gint64 engine_id, guint *first) {
  gint64 count = 0;
  GArray *rows = ew_pull_newest(desk->book, engine_id, HISTORY_MOST, NULL);
  g_assert(rows); /* who asks without an error gets what could be read */
  ew_pull_count(desk->book, engine_id, &count, NULL);
  *first = count > rows->len ? (guint)count - rows->len : 0;
  return rows;
}

struct ew_learned ew_desk_history(const struct ew_desk *desk, gint64 engine_id,
                                  const GPtrArray *without) {
  return ew_desk_history_of(desk, engine_id, without, NULL);
}

struct ew_learned ew_desk_history_of(const struct ew_desk *desk, gint64 engine_id,
                                     const GPtrArray *without, char **learned_from) {
  guint first;
  g_autoptr(GArray) rows = last_rows(desk, engine_id, &first);
  g_autoptr(GHashTable) met = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  struct gathered g = gathered_new();
  for (guint i = 0; without && i < without->len; i++)
    g_hash_table_add(met, g_strdup(ew_desk_evidence(desk, g_ptr_array_index(without, i))));
  gboolean invented = asked_of_invented(desk, engine_id, without);
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    if (!listed(without, row->id) && ew_pull_counts(row) && row->invented == invented &&
        first_time(desk, row, met))
      gather_pull(desk, row, first + i, &g);
  }
  struct ew_learned learned = {0};
  const struct ew_history_pull *all = (const struct ew_history_pull *)(void *)g.history->data;
  ew_learn_spread(all, g.history->len, learned.levels);
  ew_learn_drift(all, g.history->len, learned.levels[EW_LEVEL_CONSECUTIVE].sd, &learned.drift_mean,
                 &learned.drift_sd);
  if (without && without->len)
    learn_conditions(&g, g_ptr_array_index(without, 0), &learned);
  if (learned_from)
    *learned_from = learned_from_of(rows, first, all, g.history->len);
  gathered_clear(&g);
  return learned;
}
