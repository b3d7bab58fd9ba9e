/* The question is read back from the kept answer: which pulls, which setting, margin and next limit. */
#include "desk/again.h"
#include "base/error.h"
#include "base/number.h"
#include <math.h>
#include <string.h>

static gboolean is_same_question(const struct ew_verdict_row *a, const struct ew_verdict_row *b) {
  return strcmp(a->question, b->question) == 0 && strcmp(a->pulls, b->pulls) == 0;
}

/* The last of its question, and still of an earlier reading. */
static gboolean is_to_ask(const GArray *rows, guint i) {
  g_assert(i < rows->len);
  const struct ew_verdict_row *row = &g_array_index(rows, struct ew_verdict_row, i);
  if (!row->earlier)
    return FALSE;
  for (guint k = i + 1; k < rows->len; k++)
    if (is_same_question(row, &g_array_index(rows, struct ew_verdict_row, k)))
      return FALSE;
  return TRUE;
}

GArray *ew_answers_to_ask(struct ew_book *book, gint64 engine_id, GError **error) {
  GError *problem = NULL;
  GArray *rows = ew_verdict_list(book, engine_id, &problem);
  if (problem) {
    g_array_unref(rows);
    g_propagate_error(error, problem);
    return NULL;
  }
  g_autofree gboolean *wanted = g_new(gboolean, rows->len + 1);
  for (guint i = 0; i < rows->len; i++)
    wanted[i] = is_to_ask(rows, i);
  for (guint i = rows->len; i-- > 0;)
    if (!wanted[i])
      g_array_remove_index(rows, i);
  return rows;
}

/* NaN: it is not there. */
static double figure_in(const struct ew_node *map, const char *key) {
  const struct ew_node *node = map ? ew_node_member(map, key) : NULL;
  double value = NAN;
  return node && node->text && ew_number_parse(node->text, &value) ? value : (double)NAN;
}

static guint despite_in(const struct ew_node *asked) {
  const struct ew_node *list = asked ? ew_node_member(asked, "despite") : NULL;
  guint despite = 0;
  for (guint i = 0; list && list->kind == EW_NODE_LIST && i < list->children->len; i++) {
    const char *key = ((const struct ew_node *)list->children->pdata[i])->text;
    for (int fact = 0; fact < EW_ALIKE_FACTS_COUNT; fact++)
      despite |= g_strcmp0(key, ew_alike_keys[fact]) == 0 ? 1u << fact : 0;
  }
  return despite;
}

/* The question as it was asked. An earlier program kept no more than what its answer says: the margin of a comparison, the next limit. */
struct asked {
  double margin, reserve, band_low_rpm, band_high_rpm, next_rpm;
  int level;
  guint despite;
};

static int level_in(const struct ew_node *asked) {
  const struct ew_node *node = asked ? ew_node_member(asked, "level") : NULL;
  for (int level = 0; node && node->text && level < EW_LEVELS_COUNT; level++)
    if (strcmp(node->text, ew_level_names[level]) == 0)
      return level;
  return -1;
}

static struct asked asked_of(const struct ew_verdict_row *row) {
  g_autoptr(ew_node) root = ew_node_parse("answer", row->json, strlen(row->json), NULL);
  const struct ew_node *asked = root ? ew_node_member(root, "asked") : NULL;
  return (struct asked){.margin = figure_in(asked ? asked : root, "margin"),
                        .reserve = figure_in(asked, "reserve"),
                        .band_low_rpm = figure_in(asked, "band_low_rpm"),
                        .band_high_rpm = figure_in(asked, "band_high_rpm"),
                        .next_rpm = figure_in(root, "next_rpm"),
                        .level = level_in(asked),
                        .despite = despite_in(asked)};
}

static gboolean load_side(const struct ew_desk *desk, const GArray *ids, GPtrArray *into,
                          GError **error) {
  for (guint i = 0; i < ids->len; i++) {
    struct ew_loaded *l = ew_desk_load_id(desk, g_array_index(ids, gint64, i), error);
    if (!l)
      return FALSE;
    g_ptr_array_add(into, l);
  }
  return TRUE;
}

static gboolean compare(const struct ew_desk *desk, const struct ew_verdict_row *row,
                        const GPtrArray *a, const GPtrArray *b, GError **error) {
  const struct asked q = asked_of(row);
  struct ew_question_options o = {.named_only = TRUE, /* the answer's own list is whole */
                                  .margin = q.margin,
                                  .level = q.level,
                                  .band_low_rpm = q.band_low_rpm,
                                  .band_high_rpm = q.band_high_rpm,
                                  .despite = q.despite,
                                  .keep = TRUE};
  if (b->len == 0)
    return ew_refuse(error, "the answer does not say which pulls it compared");
  struct ew_comparison *c = ew_ask_compare(desk, a, b, NULL, NULL, &o, error);
  if (c)
    ew_comparison_free(c);
  return c != NULL;
}

static gboolean sweep(const struct ew_desk *desk, const struct ew_verdict_row *row,
                      const GPtrArray *pulls, GError **error) {
  gboolean spark = strcmp(row->question, "spark sweep") == 0;
  const struct asked q = asked_of(row);
  double reserve = !isnan(q.reserve) ? q.reserve : spark ? 2 : 0.01;
  struct ew_sweep *s = ew_ask_sweep(desk, pulls, spark ? EW_SWEEP_SPARK : EW_SWEEP_MIXTURE,
                                    q.margin, reserve, NULL, NULL, q.despite, TRUE, error);
  if (s)
    ew_sweep_free(s);
  return s != NULL;
}

static gboolean step_up(const struct ew_desk *desk, const struct ew_verdict_row *row,
                        const GPtrArray *pulls, GError **error) {
  g_assert(pulls->len > 0);
  struct ew_step_up *s =
      ew_ask_step_up(desk, g_ptr_array_index(pulls, 0), NULL, asked_of(row).next_rpm, TRUE, error);
  if (s)
    ew_step_up_free(s);
  return s != NULL;
}

/* The last answer of the book: the one that was just kept. */
static ew_message *last_answer(struct ew_book *book) {
  g_autoptr(GArray) rows = ew_verdict_list(book, 0, NULL);
  return rows->len ? ew_answer_message(&g_array_index(rows, struct ew_verdict_row, rows->len - 1))
                   : NULL;
}

gboolean ew_ask_again(const struct ew_desk *desk, const struct ew_verdict_row *row,
                      ew_message **says, GError **error) {
  g_autoptr(GArray) ids_a = g_array_new(FALSE, FALSE, sizeof(gint64));
  g_autoptr(GArray) ids_b = g_array_new(FALSE, FALSE, sizeof(gint64));
  g_autoptr(GPtrArray) a = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  g_autoptr(GPtrArray) b = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  ew_asked_read(row->pulls, ids_a, ids_b);
  *says = NULL;
  if (ids_a->len == 0)
    return ew_refuse(error, "the answer does not say which pulls it was about");
  if (!load_side(desk, ids_a, a, error) || !load_side(desk, ids_b, b, error))
    return FALSE;
  gboolean good = strcmp(row->question, "compare") == 0   ? compare(desk, row, a, b, error)
                  : strcmp(row->question, "step-up") == 0 ? step_up(desk, row, a, error)
                                                          : sweep(desk, row, a, error);
  if (good)
    *says = last_answer(desk->book);
  return good;
}

gboolean ew_ask_again_json(const struct ew_desk *desk, const struct ew_verdict_row *row,
                           struct ew_json *json) {
  g_autoptr(ew_message) before = ew_answer_message(row), now = NULL;
  g_autoptr(GError) problem = NULL;
  gboolean good = ew_ask_again(desk, row, &now, &problem);
  ew_json_open(json, NULL);
  ew_json_integer(json, "id", row->id);
  ew_message_write_member(before, "before", EW_UNITS_SI, json);
  ew_message_write_member(now, "now", EW_UNITS_SI, json);
  ew_json_text(json, "refused", problem ? problem->message : NULL);
  ew_json_close(json);
  return good;
}
