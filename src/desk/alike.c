/* Facts of a pull for the gate, and the pulls of the book that it finds alike: history, runs of like pulls, the pull before.
 * History is the last 200 pulls at most; each is asked against the first of every kind met so far, O(pulls x kinds). A pull's
 * curve is read once. */
#include "desk/alike.h"
#include "base/error.h"
#include "base/statistics.h"
#include "book/build.h"
#include "book/figures.h"
#include <math.h>
#include <string.h>

#define HISTORY_MOST 200 /* pulls looked back */

/* The build that the engine was in: the last begun before the pull. 0: none, or not known. */
static gint64 build_of(const struct ew_desk *desk, const struct ew_loaded *l) {
  gint64 id = 0;
  if (!l->row.engine_id || !l->row.at)
    return 0;
  g_autoptr(GArray) builds = ew_build_list(desk->book, l->row.engine_id, NULL);
  for (guint i = 0; builds && i < builds->len; i++) {
    const struct ew_build_row *row = &g_array_index(builds, struct ew_build_row, i);
    if (ew_time_parse(row->started_at) <= ew_time_parse(l->row.at))
      id = row->id;
  }
  return id;
}

void ew_loaded_facts(const struct ew_desk *desk, struct ew_loaded *l) {
  l->facts = ew_pull_facts_of(l->curve, &l->setup);
  l->facts.engine = &l->engine;
  l->facts.bench = &l->bench;
  l->facts.calibration = l->calibration;
  l->facts.recorder = l->recorder;
  l->facts.held = l->held;
  if (l->id == 0)
    return;
  l->facts.torque_lag_s = l->torque_lag_s;
  l->facts.speed_lag_s = l->speed_lag_s;
  l->facts.engine_id = l->row.engine_id;
  l->facts.build_id = build_of(desk, l);
  l->facts.placed = l->row.day != NULL;
  l->facts.mounting = l->row.mounting;
  l->facts.run = l->row.run;
  l->facts.day = l->row.day;
  l->facts.at_s = ew_time_parse(l->row.at);
  l->facts.invented = l->row.invented;
}

GPtrArray *ew_desk_facts_of(const GPtrArray *pulls) {
  GPtrArray *facts = g_ptr_array_sized_new(pulls->len + 1);
  for (guint i = 0; i < pulls->len; i++)
    g_ptr_array_add(facts, &((struct ew_loaded *)g_ptr_array_index(pulls, i))->facts);
  return facts;
}

/* Those that are not in the list yet; NULL: nobody asks. */
static void add_new(GPtrArray *list, const GPtrArray *messages) {
  for (guint i = 0; list && i < messages->len; i++) {
    gboolean there = FALSE;
    for (guint k = 0; k < list->len && !there; k++)
      there = ew_message_equal(list->pdata[k], messages->pdata[i]);
    if (!there)
      ew_messages_add(list, ew_message_copy(messages->pdata[i]));
  }
}

static gboolean none_is_held(const GPtrArray *pulls, GError **error) {
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    if (!l->held)
      continue;
    g_autofree char *question = ew_message_text(l->held, EW_UNITS_SI);
    return ew_refuse(error, "%s is held until its question is answered: %s", l->name, question);
  }
  return TRUE;
}

gboolean ew_desk_all_alike(const GPtrArray *pulls, enum ew_alike_use use, guint allowed,
                           GPtrArray *despite, double *variance, GPtrArray *widenings,
                           GError **error) {
  if (!none_is_held(pulls, error))
    return FALSE;
  for (guint i = 1; i < pulls->len; i++) {
    const struct ew_loaded *first = g_ptr_array_index(pulls, 0), *l = g_ptr_array_index(pulls, i);
    const struct ew_pull_facts *one = &first->facts, *other = &l->facts;
    g_autoptr(ew_alike) alike = ew_comparable(&one, 1, &other, 1, use, allowed);
    if (alike->reasons->len) {
      g_autofree char *why = ew_message_text(alike->reasons->pdata[0], EW_UNITS_SI);
      return ew_refuse(error, "%s and %s are not alike: %s", first->name, l->name, why);
    }
    add_new(despite, alike->despite);
    add_new(widenings, alike->widenings);
    if (variance)
      *variance = fmax(*variance, alike->added_variance);
  }
  return TRUE;
}

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
  return (int)kinds->first->len - 1;
}

/* One pull of the book as history, over the band of use of its kind; FALSE when it does not count. */
static gboolean history_pull(const struct ew_desk *desk, const struct ew_pull_row *row,
                             struct kinds *kinds, GHashTable *days, guint position,
                             struct ew_history_pull *pull) {
  struct ew_loaded *loaded = ew_pull_counts(row) ? ew_desk_load_id(desk, row->id, NULL) : NULL;
  if (!loaded)
    return FALSE;
  const struct ew_curve *curve = loaded->curve;
  int kind = kind_of(kinds, &loaded);
  const struct ew_loaded *first = kinds->first->pdata[kind];
  double top = floor(first->curve->high_rpm / 250 + 0.3) * 250; /* where like pulls end */
  double mean = ew_curve_band_log(curve, 0.66 * top, 0.97 * top);
  *pull = (struct ew_history_pull){.mounting = row->mounting,
                                   .day = number_of(days, row->day),
                                   .run = row->run,
                                   .kind = kind,
                                   .position = position,
                                   .log_mean = mean};
  ew_loaded_free(loaded);
  return !isnan(mean);
}

/* Slope a pull within each run of three like pulls or more; mean and spread over the runs. */
static void learn_drift(const struct ew_history_pull *p, guint n, struct ew_learned *learned) {
  g_autofree double *slopes = g_new(double, n + 1);
  gsize count = 0;
  learned->drift_mean = learned->drift_sd = NAN;
  for (guint i = 0; i < n; i++) {
    double members = 0, x = 0, y = 0, xx = 0, xy = 0;
    gboolean first = TRUE;
    for (guint j = 0; j < n; j++)
      if (p[j].kind == p[i].kind && p[j].run == p[i].run && p[j].mounting == p[i].mounting) {
        first &= j >= i;
        members++, x += p[j].position, y += p[j].log_mean;
        xx += p[j].position * p[j].position, xy += p[j].position * p[j].log_mean;
      }
    if (first && members >= 3)
      slopes[count++] = (xy - x * y / members) / (xx - x * x / members);
  }
  if (count >= 4) {
    learned->drift_mean = ew_mean(slopes, count, EW_NONE_ABSENT);
    learned->drift_sd = ew_standard_deviation(slopes, count, EW_NONE_ABSENT);
  }
}

/* Pulls of the practice cell and of a real engine teach nothing about each other. A question about invented pulls learns from invented
 * ones; one that names none learns from real ones, where the book has any. */
static gboolean asked_of_invented(const GArray *rows, const GPtrArray *without) {
  gboolean all = TRUE, named = FALSE;
  for (guint i = 0; without && i < without->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(without, i);
    if (l->id == 0)
      return FALSE;
    named = TRUE;
    all &= l->row.invented;
  }
  for (guint i = 0; !named && all && i < rows->len; i++)
    all = g_array_index(rows, struct ew_pull_row, i).invented;
  return all && rows->len > 0;
}

/* A pull that is alike with none teaches nothing. */
static gboolean has_like(const struct ew_history_pull *p, guint n, guint i) {
  for (guint k = 0; k < n; k++)
    if (k != i && p[k].kind == p[i].kind)
      return TRUE;
  return FALSE;
}

static char *learned_from_of(const GArray *rows, const struct ew_history_pull *p, guint n) {
  GString *text = g_string_new(NULL);
  for (guint i = 0; i < n; i++) {
    guint at = (guint)p[i].position;
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, at);
    if (has_like(p, n, i))
      g_string_append_printf(text, "%s%" G_GINT64_FORMAT ".%" G_GINT64_FORMAT, text->len ? "," : "",
                             row->id, row->reading);
  }
  return g_string_free(text, FALSE);
}

struct ew_learned ew_desk_history(const struct ew_desk *desk, gint64 engine_id,
                                  const GPtrArray *without) {
  return ew_desk_history_of(desk, engine_id, without, NULL);
}

struct ew_learned ew_desk_history_of(const struct ew_desk *desk, gint64 engine_id,
                                     const GPtrArray *without, char **learned_from) {
  g_autoptr(GArray) rows = ew_pull_list(desk->book, engine_id, NULL);
  g_autoptr(GArray) pulls = g_array_new(FALSE, FALSE, sizeof(struct ew_history_pull));
  g_autoptr(GHashTable) days = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  g_autoptr(GHashTable) met = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  struct kinds kinds = {g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free)};
  for (guint i = 0; without && i < without->len; i++)
    g_hash_table_add(met, g_strdup(ew_desk_evidence(desk, g_ptr_array_index(without, i))));
  gboolean invented = asked_of_invented(rows, without);
  for (guint i = rows->len > HISTORY_MOST ? rows->len - HISTORY_MOST : 0; i < rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    struct ew_history_pull pull;
    if (!listed(without, row->id) && ew_pull_counts(row) && row->invented == invented &&
        first_time(desk, row, met) && history_pull(desk, row, &kinds, days, i, &pull))
      g_array_append_val(pulls, pull);
  }
  g_ptr_array_unref(kinds.first);
  struct ew_learned learned;
  const struct ew_history_pull *all = (const struct ew_history_pull *)(void *)pulls->data;
  ew_learn_spread(all, pulls->len, learned.levels);
  learn_drift(all, pulls->len, &learned);
  if (learned_from)
    *learned_from = learned_from_of(rows, all, pulls->len);
  return learned;
}

GPtrArray *ew_desk_last_like(const struct ew_desk *desk, gint64 engine_id, GError **error) {
  g_autoptr(GPtrArray) run = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  g_autoptr(GArray) rows = ew_pull_list(desk->book, engine_id, error);
  if (!rows)
    return NULL;
  for (guint i = rows->len; i-- > 0;) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    if (!ew_pull_counts(row))
      continue;
    struct ew_loaded *loaded = ew_desk_load_id(desk, row->id, error);
    if (!loaded)
      return NULL;
    const struct ew_loaded *last = run->len ? run->pdata[run->len - 1] : loaded;
    if (!ew_is_alike(&last->facts, &loaded->facts, EW_ALIKE_REPEAT, 0, NULL)) {
      ew_loaded_free(loaded);
      break;
    }
    g_ptr_array_insert(run, 0, loaded);
  }
  return g_steal_pointer(&run);
}

/* The last pull before `pull` that counts and has no reason against it in this use (a step: to a lower limit); or NULL. */
static struct ew_loaded *last_before(const struct ew_desk *desk, const struct ew_loaded *pull,
                                     enum ew_alike_use use, GError **error) {
  g_autoptr(GArray) rows = ew_pull_list(desk->book, pull->row.engine_id, error);
  for (guint i = rows ? rows->len : 0; i-- > 0;) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    if (row->id >= pull->id || !ew_pull_counts(row) ||
        (use == EW_ALIKE_STEP && !ew_is_lower_limit(row->top_rpm, pull->curve->high_rpm)))
      continue;
    struct ew_loaded *other = ew_desk_load_id(desk, row->id, error);
    if (!other)
      return NULL;
    const struct ew_pull_facts *one = &other->facts, *now = &pull->facts;
    g_autoptr(ew_alike) alike = ew_comparable(&one, 1, &now, 1, use, 0);
    if (alike->reasons->len == 0)
      return other;
    ew_loaded_free(other);
  }
  return NULL;
}

gboolean ew_desk_judged_against(const struct ew_desk *desk, const struct ew_loaded *pull,
                                gint64 *against, GError **error) {
  GError *problem = NULL;
  struct ew_loaded *before = last_before(desk, pull, EW_ALIKE_QUESTION, &problem);
  *against = before ? before->id : 0;
  ew_loaded_free(before);
  if (problem)
    g_propagate_error(error, problem);
  return problem == NULL;
}

struct ew_loaded *ew_desk_step_below(const struct ew_desk *desk, const struct ew_loaded *pull) {
  return last_before(desk, pull, EW_ALIKE_STEP, NULL);
}
