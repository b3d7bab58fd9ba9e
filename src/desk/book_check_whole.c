/* What is seen only when all of a book is looked at: times, recordings and engines beside each other, calibrations, answers. Pulls come in
 * the order in which they ran. O(pulls) and a curve for each pull of an answer. */
#include "base/node.h"
#include "base/zone.h"
#include "book/figures.h"
#include "desk/again.h"
#include "desk/book_check.h"
#include "desk/calibrated.h"
#include <math.h>
#include <string.h>

#define SWAP_S                                                                                     \
  1800.0 /* nobody changes the engine on a dyno twice within that; common practice, no source */

EW_MESSAGE(same_time, "desk.check-same-time", EW_CAUTION,
           "it ran at the very time of pull {other}, which is of another recording: which time is "
           "right?");
EW_MESSAGE(same_figures, "desk.check-same-figures", EW_CAUTION,
           "the same figures as recording {recording}: it counts once, and only once");
EW_MESSAGE(engine_between, "desk.check-engine-between", EW_CAUTION,
           "engine {engine} stands between pulls {before} and {after} of engine {other}, within "
           "{age}: is it the right one?");
EW_MESSAGE(chart_out, "desk.check-chart-out", EW_CAUTION,
           "the last {kind}, of {day}, is out of its control limits");
EW_MESSAGE(a_zero, "desk.check-zero", EW_NOTE, "zero");
EW_MESSAGE(a_weight, "desk.check-weight", EW_NOTE, "check weight");
EW_MESSAGE(not_alike, "desk.check-not-alike", EW_CAUTION,
           "{answer}: by what is known now these pulls are not alike: {reason}");

static const struct ew_pull_row *pull_at(const GArray *pulls, guint i) {
  return &g_array_index(pulls, struct ew_pull_row, i);
}

static gboolean is_other_engine(const struct ew_pull_row *a, const struct ew_pull_row *b) {
  gint64 one = a->engine_id;
  return one != b->engine_id;
}

static gboolean is_other_recording(const struct ew_pull_row *a, const struct ew_pull_row *b) {
  gint64 one = a->recording_id;
  return one != b->recording_id;
}

static char *amend_of(gint64 id, const char *words) {
  return g_strdup_printf("pull amend %" G_GINT64_FORMAT " %s", id, words);
}

/* Those that count, in their order; borrowed. */
static GPtrArray *that_count(const GArray *pulls) {
  GPtrArray *some = g_ptr_array_new();
  for (guint i = 0; i < pulls->len; i++)
    if (!pull_at(pulls, i)->discarded && !pull_at(pulls, i)->invented)
      g_ptr_array_add(some, (gpointer)pull_at(pulls, i));
  return some;
}

static void check_times(const GPtrArray *pulls, GArray *rows) {
  for (guint i = 1; i < pulls->len; i++) {
    const struct ew_pull_row *a = pulls->pdata[i - 1], *b = pulls->pdata[i];
    if (is_other_recording(a, b) && ew_instant(a->at) == ew_instant(b->at))
      ew_book_check_add(rows, b->id, ew_message(&same_time, ew_say_count("other", a->id)),
                        amend_of(b->id, "--at \"YYYY-MM-DD HH:MM\""));
  }
}

static char *engine_name(const struct ew_desk *desk, gint64 id) {
  struct ew_engine_row row = {0};
  g_autofree char *number = g_strdup_printf("%" G_GINT64_FORMAT, id);
  char *name = id && ew_engine_find(desk->book, number, &row, NULL) ? g_strdup(row.name) : NULL;
  ew_engine_row_clear(&row);
  return name ? name : g_strdup("-");
}

static void check_engines(const struct ew_desk *desk, const GPtrArray *pulls, GArray *rows) {
  for (guint i = 2; i < pulls->len; i++) {
    const struct ew_pull_row *a = pulls->pdata[i - 2], *b = pulls->pdata[i - 1],
                             *c = pulls->pdata[i];
    double span = ew_instant(c->at) - ew_instant(a->at);
    if (!is_other_engine(a, b) || is_other_engine(a, c) || !(span <= SWAP_S))
      continue;
    g_autofree char *name = engine_name(desk, b->engine_id),
                    *other = engine_name(desk, a->engine_id);
    g_autofree char *words = g_strdup_printf("--engine \"%s\"", other);
    ew_book_check_add(rows, b->id,
                      ew_message(&engine_between, ew_say_text("engine", name),
                                 ew_say_count("before", a->id), ew_say_count("after", c->id),
                                 ew_say_text("other", other),
                                 ew_say_quantity("age", EW_KIND_TIME, span, 0)),
                      amend_of(b->id, words));
  }
}

static gboolean check_figures(const struct ew_desk *desk, const GPtrArray *pulls, GArray *rows,
                              GError **error) {
  g_autoptr(GHashTable) met = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  const struct ew_pull_row *last = NULL;
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_pull_row *row = pulls->pdata[i];
    char *figures = NULL;
    if (last && !is_other_recording(last, row))
      continue;
    last = row;
    if (!ew_figures_stored(desk->book, row->recording_id, &figures, error))
      return FALSE;
    const struct ew_pull_row *first = figures ? g_hash_table_lookup(met, figures) : NULL;
    if (first && is_other_recording(first, row)) {
      ew_book_check_add(rows, row->id,
                        ew_message(&same_figures, ew_say_count("recording", first->recording_id)),
                        g_strdup_printf("pull discard %" G_GINT64_FORMAT, row->id));
      g_free(figures);
    } else if (figures)
      g_hash_table_replace(met, figures, (gpointer)row);
  }
  return TRUE;
}

/* ---- calibrations ---- */

static void check_chart(const GArray *all, const char *kind, const struct ew_message_kind *word,
                        GArray *rows) {
  gsize count;
  g_autofree double *values = ew_desk_chart_values(all, kind, &count);
  const char *at = NULL;
  for (guint i = 0; i < all->len; i++) {
    const struct ew_calibration_row *row = &g_array_index(all, struct ew_calibration_row, i);
    if (strcmp(row->kind, kind) == 0)
      at = row->at;
  }
  if (count < 2 || ew_control_chart(values, count).in_control)
    return;
  g_autofree char *day = g_strndup(at, 10);
  ew_book_check_add(rows, 0,
                    ew_message(&chart_out, ew_say_word("kind", word), ew_say_text("day", day)),
                    g_strdup("cell calibrate"));
}

static gboolean check_calibrations(const struct ew_desk *desk, const GPtrArray *pulls, GArray *rows,
                                   GError **error) {
  GError *problem = NULL;
  ew_message *overdue = NULL;
  if (pulls->len == 0)
    return TRUE;
  g_autoptr(GArray) all = ew_calibration_list(desk->book, NULL, &problem);
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  if (!ew_calibration_overdue(desk->book, &overdue, error))
    return FALSE;
  if (overdue)
    ew_book_check_add(rows, 0, overdue, g_strdup("cell calibrate"));
  check_chart(all, "zero", &a_zero, rows);
  check_chart(all, "check weight", &a_weight, rows);
  return TRUE;
}

/* ---- answers ---- */

static gboolean says_comparable(const struct ew_verdict_row *row) {
  g_autoptr(ew_node) root = ew_node_parse("answer", row->json, strlen(row->json), NULL);
  const struct ew_node *verdict = root ? ew_node_member(root, "verdict") : NULL;
  const struct ew_node *asked = root ? ew_node_member(root, "asked") : NULL;
  const struct ew_node *despite = asked ? ew_node_member(asked, "despite") : NULL;
  gboolean on_purpose = despite && despite->children && despite->children->len > 0;
  return verdict && verdict->text && !on_purpose &&
         strcmp(verdict->text, ew_verdict_keys[EW_VERDICT_NOT_COMPARABLE]) != 0;
}

static gboolean load_all(const struct ew_desk *desk, const GArray *ids, GPtrArray *into) {
  for (guint i = 0; i < ids->len; i++) {
    struct ew_loaded *l = ew_desk_load_id(desk, g_array_index(ids, gint64, i), NULL);
    if (!l)
      return FALSE;
    g_ptr_array_add(into, l);
  }
  return TRUE;
}

/* NULL: alike, or it cannot be said. */
static ew_message *unlike(const struct ew_desk *desk, const struct ew_verdict_row *row) {
  g_autoptr(GArray) ids_a = g_array_new(FALSE, FALSE, sizeof(gint64)),
                    ids_b = g_array_new(FALSE, FALSE, sizeof(gint64));
  g_autoptr(GPtrArray) a = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free),
                       b = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  ew_asked_read(row->pulls, ids_a, ids_b);
  if (ids_a->len == 0 || ids_b->len == 0 || !load_all(desk, ids_a, a) || !load_all(desk, ids_b, b))
    return NULL;
  g_autoptr(GPtrArray) one = ew_desk_facts_of(a), other = ew_desk_facts_of(b);
  g_autoptr(ew_alike) alike = ew_comparable(
      (const struct ew_pull_facts *const *)(void *)one->pdata, one->len,
      (const struct ew_pull_facts *const *)(void *)other->pdata, other->len, EW_ALIKE_QUESTION, 0);
  return alike->reasons->len ? ew_message_copy(alike->reasons->pdata[0]) : NULL;
}

static gboolean is_last_of_question(const GArray *rows, guint i) {
  const struct ew_verdict_row *row = &g_array_index(rows, struct ew_verdict_row, i);
  for (guint k = i + 1; k < rows->len; k++) {
    const struct ew_verdict_row *later = &g_array_index(rows, struct ew_verdict_row, k);
    if (strcmp(later->question, row->question) == 0 && strcmp(later->pulls, row->pulls) == 0)
      return FALSE;
  }
  return TRUE;
}

static gboolean check_answers(const struct ew_desk *desk, GArray *rows, GError **error) {
  GError *problem = NULL;
  g_autoptr(GArray) answers = ew_verdict_list(desk->book, 0, &problem);
  for (guint i = 0; !problem && i < answers->len; i++) {
    const struct ew_verdict_row *row = &g_array_index(answers, struct ew_verdict_row, i);
    if (!is_last_of_question(answers, i))
      continue;
    if (row->earlier) {
      ew_book_check_add(rows, 0, ew_answer_message(row), g_strdup("judge again"));
      continue;
    }
    if (strcmp(row->question, "compare") != 0 || !says_comparable(row))
      continue;
    g_autoptr(ew_message) reason = unlike(desk, row), answer = ew_answer_message(row);
    g_autofree char *sides = g_strdelimit(g_strdup(row->pulls), ",", ' ');
    char *colon = strchr(sides, ':');
    if (!reason || !colon)
      continue;
    *colon = 0;
    ew_book_check_add(
        rows, 0,
        ew_message(&not_alike, ew_say_message("answer", answer), ew_say_message("reason", reason)),
        g_strdup_printf("compare --a %s --b %s", sides, colon + 1));
  }
  if (problem)
    g_propagate_error(error, problem);
  return problem == NULL;
}

gboolean ew_book_check_whole(const struct ew_desk *desk, const GArray *pulls, GArray *rows,
                             GError **error) {
  g_autoptr(GPtrArray) some = that_count(pulls);
  check_times(some, rows);
  check_engines(desk, some, rows);
  return check_figures(desk, some, rows, error) && check_calibrations(desk, some, rows, error) &&
         check_answers(desk, rows, error);
}
