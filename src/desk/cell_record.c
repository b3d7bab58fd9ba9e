/* What was said is a setting of the book, JSON with the sum of both inertias: another sum is another question, so nothing has to be
 * taken back when the record changes. */
#include "desk/cell_record.h"
#include "base/error.h"
#include "base/json_writer.h"
#include "base/node.h"
#include "base/number.h"
#include "book/hold.h"
#include "book/keep.h"
#include "desk/sets.h"
#include "pull/plausible.h"
#include "pull/plausible_kinds.h"
#include <math.h>
#include <string.h>

#define RIGHT_KEY "cell inertia right"
#define HOW_BYTES 400u

static void change_clear(void *data) {
  g_ptr_array_unref(((struct ew_cell_change *)data)->changes);
}

/* What these figures change in the record that a pull was computed with; messages, empty: nothing. NULL with *error. */
static GPtrArray *changes_of(struct ew_book *book, gint64 id, const char *const *sets,
                             GError **error) {
  struct ew_curve_row row;
  struct ew_bench before = {0}, after = {0};
  if (!ew_curve_get(book, id, &row, error))
    return NULL;
  GPtrArray *changes = ew_messages_new();
  gboolean good = ew_record_from_yaml(&ew_bench_fields, "cell", row.cell, &before, error);
  if (good)
    ew_fields_copy(&ew_bench_fields, &before, &after);
  good = good && ew_apply_record_sets(&ew_bench_fields, &after, sets, error);
  for (gsize i = 0; good && i < ew_bench_fields.count; i++)
    if (!ew_field_same(&ew_bench_fields.fields[i], &before, &after))
      ew_messages_add(changes, ew_field_change(&ew_bench_fields.fields[i], &before, &after));
  ew_fields_clear(&ew_bench_fields, &before);
  ew_fields_clear(&ew_bench_fields, &after);
  ew_curve_row_clear(&row);
  if (!good)
    g_clear_pointer(&changes, g_ptr_array_unref);
  return changes;
}

GArray *ew_cell_concerned(struct ew_book *book, const GArray *asked, const char *const *sets,
                          GError **error) {
  g_autoptr(GArray) found = g_array_new(FALSE, FALSE, sizeof(struct ew_cell_change));
  g_array_set_clear_func(found, change_clear);
  for (guint i = 0; i < asked->len; i++) {
    struct ew_cell_change one = {g_array_index(asked, gint64, i), NULL};
    if (!(one.changes = changes_of(book, one.pull_id, sets, error)))
      return NULL;
    if (one.changes->len)
      g_array_append_val(found, one);
    else
      g_ptr_array_unref(one.changes);
  }
  return g_steal_pointer(&found);
}

gboolean ew_cell_keep(const struct ew_desk *desk, const char *const *sets, GError **error) {
  struct ew_bench bench = {0};
  ew_fields_copy(&ew_bench_fields, &desk->bench, &bench);
  gboolean good = ew_apply_record_sets(&ew_bench_fields, &bench, sets, error);
  g_autofree char *yaml = good ? ew_fields_write_yaml(&ew_bench_fields, &bench) : NULL;
  ew_fields_clear(&ew_bench_fields, &bench);
  return good && ew_keep_setting(desk->book, "cell", yaml, error);
}

/* ---- right as it is ---- */

static ew_node *said(struct ew_book *book) {
  g_autofree char *text = NULL;
  if (!book || !ew_setting_get(book, RIGHT_KEY, &text, NULL) || !text || !*text)
    return NULL;
  return ew_node_parse("right", text, strlen(text), NULL);
}

static double inertia_in(const ew_node *root) {
  const ew_node *node = root ? ew_node_member(root, "inertia_kg_m2") : NULL;
  double value;
  return node && node->text && ew_number_parse(node->text, &value) ? value : (double)NAN;
}

double ew_cell_right_inertia(struct ew_book *book) {
  g_autoptr(ew_node) root = said(book);
  return inertia_in(root);
}

/* Of the two inertias, where one is not stated the other. */
static double sum_of(const struct ew_bench *bench) {
  double rotor = bench->rotor_inertia_kg_m2, coupling = bench->coupling_inertia_kg_m2;
  return isnan(rotor) ? coupling : isnan(coupling) ? rotor : rotor + coupling;
}

static gboolean is_of_inertia(const struct ew_hold_row *hold) {
  g_autoptr(ew_message) finding = ew_message_read(hold->finding, strlen(hold->finding), NULL);
  return finding && (ew_message_is(finding, &ew_doubt_inertia_share) ||
                     ew_message_is(finding, &ew_doubt_inertia_large) ||
                     ew_message_is(finding, &ew_doubt_cell_changed));
}

/* Does this pull wait for nothing but its inertia? */
static gboolean waits_for_that_alone(struct ew_book *book, gint64 id) {
  g_autoptr(GArray) holds = ew_hold_list(book, id, NULL);
  guint waits = 0, of_inertia = 0;
  for (guint i = 0; i < holds->len; i++) {
    const struct ew_hold_row *hold = &g_array_index(holds, struct ew_hold_row, i);
    waits += !hold->answered_at;
    of_inertia += !hold->answered_at && is_of_inertia(hold);
  }
  return waits > 0 && waits == of_inertia;
}

/* Was it computed with these inertias? */
static gboolean has_sum(struct ew_book *book, gint64 id, double sum, gboolean *has,
                        GError **error) {
  struct ew_curve_row row;
  struct ew_bench bench = {0};
  if (!ew_curve_get(book, id, &row, error))
    return FALSE;
  gboolean good = ew_record_from_yaml(&ew_bench_fields, "cell", row.cell, &bench, error);
  *has = good && ew_same_inertia(sum, sum_of(&bench));
  ew_fields_clear(&ew_bench_fields, &bench);
  ew_curve_row_clear(&row);
  return good;
}

static gboolean add_held(struct ew_book *book, double sum, GArray *to, GError **error) {
  g_autoptr(GArray) rows = ew_pull_list(book, 0, error);
  gboolean good = rows != NULL;
  for (guint i = 0; good && i < rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    gboolean has = FALSE;
    good = !row->held || !waits_for_that_alone(book, row->id) ||
           has_sum(book, row->id, sum, &has, error);
    if (good && has)
      g_array_append_val(to, row->id);
  }
  return good;
}

static gboolean check_how(const char *how, GError **error) {
  if (!how || strspn(how, " \t\r\n") == strlen(how))
    return ew_refuse(error, "how: say in a few words how it was measured, for example \"run-down, "
                            "twice, 3 May\"");
  return strlen(how) <= HOW_BYTES ||
         ew_refuse(error, "how: %zu bytes, and at most %u are kept: shorten it", strlen(how),
                   HOW_BYTES);
}

gboolean ew_cell_say_right(const struct ew_desk *desk, const char *how, const char *who,
                           GArray *released, GError **error) {
  double sum = sum_of(&desk->bench);
  if (!check_how(how, error))
    return FALSE;
  if (!(sum > 0))
    return ew_refuse(error, "the cell's record states no inertia: give it first, with 'cell amend "
                            "--set \"rotor_inertia=... kg·m2\"'");
  struct ew_json json = {.text = g_string_new(NULL)};
  g_autofree char *now = ew_time_now();
  ew_json_open(&json, NULL);
  ew_json_number(&json, "inertia_kg_m2", sum);
  ew_json_text(&json, "how", how);
  ew_json_text(&json, "who", who && *who ? who : ew_book_who());
  ew_json_text(&json, "at", now);
  ew_json_close(&json);
  g_autofree char *text = g_string_free(json.text, FALSE);
  return add_held(desk->book, sum, released, error) &&
         ew_keep_setting(desk->book, RIGHT_KEY, text, error) &&
         (released->len == 0 || ew_keep_right(desk->book, (const gint64 *)(void *)released->data,
                                              released->len, who, how, error));
}

gboolean ew_cell_unsay_right(struct ew_book *book, GError **error) {
  g_autoptr(ew_node) root = said(book);
  return root ? ew_keep_setting(book, RIGHT_KEY, "", error)
              : ew_refuse(error, "nobody has said that the cell's inertia is right: there is "
                                 "nothing to take back");
}

void ew_cell_right_json(const struct ew_desk *desk, struct ew_json *json) {
  g_autoptr(ew_node) root = said(desk->book);
  static const char *const texts[] = {"how", "who", "at"};
  if (!root) {
    ew_json_text(json, "right", NULL);
    return;
  }
  ew_json_open(json, "right");
  ew_json_number(json, "inertia_kg_m2", inertia_in(root));
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++) {
    const ew_node *node = ew_node_member(root, texts[i]);
    ew_json_text(json, texts[i], node ? node->text : NULL);
  }
  ew_json_boolean(json, "holds", ew_same_inertia(inertia_in(root), sum_of(&desk->bench)));
  ew_json_close(json);
}
