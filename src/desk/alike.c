/* Facts of a pull for the gate, and the pulls of the book that it finds alike: runs of like pulls, the pull before. */
#include "desk/alike.h"
#include "base/error.h"
#include "base/statistics.h"
#include "book/build.h"
#include "book/figures.h"
#include <math.h>
#include <string.h>

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
  g_assert(l->curve && (l->id == 0 || desk->book));
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

/* A practice session beside an engine that ran proves nothing of it: its pulls count where there are no others. */
static gboolean all_invented(const GArray *rows) {
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    if (ew_pull_counts(row) && !row->invented)
      return FALSE;
  }
  return TRUE;
}

GPtrArray *ew_desk_last_like(const struct ew_desk *desk, gint64 engine_id, GError **error) {
  g_autoptr(GPtrArray) run = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  g_autoptr(GArray) rows = ew_pull_list(desk->book, engine_id, error);
  if (!rows)
    return NULL;
  gboolean invented = all_invented(rows);
  for (guint i = rows->len; i-- > 0;) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    if (!ew_pull_counts(row) || (row->invented && !invented))
      continue;
    struct ew_loaded *loaded = ew_desk_load_id(desk, row->id, error);
    if (!loaded)
      return NULL;
    const struct ew_loaded *last = run->len ? run->pdata[run->len - 1] : loaded;
    if (!ew_is_alike(&last->facts, &loaded->facts, EW_ALIKE_REPEAT, 0, NULL)) {
      ew_loaded_free(loaded);
      break;
    }
    g_assert(loaded->id > 0);
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
    g_assert(other->id < pull->id);
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
