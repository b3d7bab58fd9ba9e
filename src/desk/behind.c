/* The kept answer is the JSON of compare or sweep with messages as facts. An answer of an earlier program lacks members, and a book
 * from outside may hold anything: what is not there, or is not what it should be, is left out; nothing is believed. O(size of the
 * answer). */
#include "desk/behind.h"
#include "base/message_node.h"
#include "base/number.h"
#include "base/language.h"
#include "base/words.h"
#include "judge/decide.h"
#include "judge/sweep.h"
#include <math.h>
#include <string.h>

static const struct ew_node *map_in(const struct ew_node *map, const char *key) {
  const struct ew_node *node = map ? ew_node_member(map, key) : NULL;
  return node && node->kind == EW_NODE_MAP ? node : NULL;
}

static const struct ew_node *list_in(const struct ew_node *map, const char *key) {
  const struct ew_node *node = map ? ew_node_member(map, key) : NULL;
  return node && node->kind == EW_NODE_LIST ? node : NULL;
}

static double figure_of(const struct ew_node *node) {
  double value;
  return node && node->text && ew_number_parse(node->text, &value) ? value : (double)NAN;
}

static double figure_at(const struct ew_node *list, guint i) {
  return list && i < list->children->len ? figure_of(list->children->pdata[i]) : (double)NAN;
}

static GPtrArray *messages_in(const struct ew_node *map, const char *key) {
  GPtrArray *into = ew_messages_new();
  const struct ew_node *list = list_in(map, key);
  for (guint i = 0; list && i < list->children->len; i++)
    ew_messages_add(into, ew_message_of_node(list->children->pdata[i], NULL));
  return into;
}

static ew_message *message_in(const struct ew_node *map, const char *key) {
  const struct ew_node *node = map_in(map, key);
  return node ? ew_message_of_node(node, NULL) : NULL;
}

/* [{"side": "a", "pull": 5, "weight": -0.34}, ...] */
static void read_comparison(struct ew_behind *b, const struct ew_node *root) {
  const struct ew_node *list = list_in(root, "weights");
  for (guint i = 0; list && i < list->children->len; i++) {
    const struct ew_node *one = list->children->pdata[i];
    if (one->kind != EW_NODE_MAP)
      continue;
    const struct ew_node *side = ew_node_member(one, "side");
    double id = figure_of(ew_node_member(one, "pull"));
    struct ew_behind_pull p = {.id = id >= 1 && id < 1e15 ? (gint64)id : 0,
                               .side = side && g_strcmp0(side->text, "b") == 0,
                               .setting = NAN,
                               .weight = figure_of(ew_node_member(one, "weight"))};
    g_array_append_val(b->pulls, p);
  }
}

/* Of pulls that could not be compared nothing is weighed or taken out: what an earlier program told of it is left out. */
static void read_refusal(struct ew_behind *b, const struct ew_node *root) {
  const struct ew_node *verdict =
      root && root->kind == EW_NODE_MAP ? ew_node_member(root, "verdict") : NULL;
  if (!verdict || g_strcmp0(verdict->text, ew_verdict_keys[EW_VERDICT_NOT_COMPARABLE]) != 0)
    return;
  g_array_set_size(b->pulls, 0);
  for (guint i = b->notes->len; i-- > 0;)
    if (strcmp(ew_message_id(b->notes->pdata[i]), "judge.conditions-differ") == 0)
      g_ptr_array_remove_index(b->notes, i);
}

/* {"setting": [...], "moves_best_by_per_cent": [...]}, in the order of the pulls that were asked about. */
static void read_sweep(struct ew_behind *b, const struct ew_node *root) {
  const struct ew_node *pulls = map_in(root, "pulls"),
                       *moves = list_in(pulls, "moves_best_by_per_cent"),
                       *setting = list_in(pulls, "setting");
  for (guint i = 0; moves && i < b->a->len; i++) {
    struct ew_behind_pull p = {.id = g_array_index(b->a, gint64, i),
                               .side = -1,
                               .setting = figure_at(setting, i),
                               .weight = figure_at(moves, i)};
    g_array_append_val(b->pulls, p);
  }
}

struct ew_behind *ew_behind_read(const struct ew_verdict_row *row) {
  struct ew_behind *b = g_new0(struct ew_behind, 1);
  b->a = g_array_new(FALSE, FALSE, sizeof(gint64));
  b->b = g_array_new(FALSE, FALSE, sizeof(gint64));
  b->pulls = g_array_new(FALSE, FALSE, sizeof(struct ew_behind_pull));
  ew_asked_read(row->pulls, b->a, b->b);
  g_autoptr(ew_node) root =
      row->json ? ew_node_parse("answer", row->json, strlen(row->json), NULL) : NULL;
  gboolean spark = strcmp(row->question, "spark sweep") == 0;
  b->is_sweep = spark || strcmp(row->question, "mixture sweep") == 0;
  b->decimals = !b->is_sweep ? 2 : spark ? 1 : 3;
  if (b->is_sweep)
    read_sweep(b, root);
  else
    read_comparison(b, root);
  const struct ew_node *day = map_in(root, "whole_day"), *next = map_in(root, "next");
  b->notes = messages_in(root, "notes");
  read_refusal(b, root);
  b->day = message_in(day, "says");
  b->day_notes = messages_in(day, "notes");
  b->assumed = messages_in(root, "assumed");
  b->next = b->is_sweep ? message_in(root, "narrowing") : message_in(next, "says");
  b->next_why = messages_in(b->is_sweep ? root : next, b->is_sweep ? "narrowing_costs" : "why");
  g_assert(b->notes && b->day_notes && b->assumed && b->next_why);
  return b;
}

void ew_behind_free(struct ew_behind *b) {
  if (!b)
    return;
  g_ptr_array_unref(b->next_why);
  ew_message_free(b->next);
  g_ptr_array_unref(b->assumed);
  g_ptr_array_unref(b->day_notes);
  ew_message_free(b->day);
  g_ptr_array_unref(b->notes);
  g_array_unref(b->pulls);
  g_array_unref(b->b);
  g_array_unref(b->a);
  g_free(b);
}

static char *one_weight(const struct ew_behind *b, const struct ew_behind_pull *p) {
  if (b->is_sweep)
    return ew_words("%" G_GINT64_FORMAT " at %.*f: %+.*f", p->id, b->decimals, p->setting,
                    b->decimals + 1, p->weight);
  g_assert(p->side == 0 || p->side == 1);
  char side = "AB"[p->side];
  return p->id ? ew_words("%c %" G_GINT64_FORMAT " %+.2f", side, p->id, p->weight)
               : ew_words("%c %+.2f", side, p->weight);
}

char *ew_behind_weights(const struct ew_behind *b) {
  g_autoptr(GString) line = g_string_new(NULL);
  for (guint i = 0; i < b->pulls->len; i++) {
    const struct ew_behind_pull *p = &g_array_index(b->pulls, struct ew_behind_pull, i);
    if (!isfinite(p->weight))
      continue;
    g_autofree char *one = one_weight(b, p);
    g_string_append_printf(line, "%s%s", line->len ? "; " : "", one);
  }
  return line->len ? g_strdup(line->str) : NULL;
}

static void write_ids(const GArray *ids, const char *key, struct ew_json *json) {
  ew_json_open_array(json, key);
  for (guint i = 0; i < ids->len; i++)
    ew_json_integer(json, NULL, g_array_index(ids, gint64, i));
  ew_json_close_array(json);
}

static void write_pulls(const struct ew_behind *b, struct ew_json *json) {
  ew_json_open_array(json, "weights");
  for (guint i = 0; i < b->pulls->len; i++) {
    const struct ew_behind_pull *p = &g_array_index(b->pulls, struct ew_behind_pull, i);
    ew_json_open(json, NULL);
    if (p->id)
      ew_json_integer(json, "pull", p->id);
    else
      ew_json_text(json, "pull", NULL);
    ew_json_text(json, "side", p->side < 0 ? NULL : p->side ? "b" : "a");
    ew_json_number(json, "setting", p->setting);
    ew_json_number(json, "weight", p->weight);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

void ew_behind_write_json(const struct ew_behind *b, enum ew_unit_system units,
                          struct ew_json *json) {
  write_ids(b->a, "a", json);
  write_ids(b->b, "b", json);
  write_pulls(b, json);
  ew_messages_write_json(b->notes, "notes", units, json);
  ew_message_write_member(b->day, "whole_day", units, json);
  ew_messages_write_json(b->day_notes, "whole_day_notes", units, json);
  ew_messages_write_json(b->assumed, "assumed", units, json);
  ew_message_write_member(b->next, "next", units, json);
  ew_messages_write_json(b->next_why, "next_costs", units, json);
}

static gboolean ran_on(const GArray *rows, gint64 id, const char *day) {
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    if (row->id == id)
      return strcmp(row->day, day) == 0;
  }
  return FALSE;
}

/* Are all pulls of a question of this day? */
static gboolean asks_about(const char *pulls, const GArray *rows, const char *day) {
  g_autoptr(GArray) ids = g_array_new(FALSE, FALSE, sizeof(gint64));
  ew_asked_read(pulls, ids, ids);
  gboolean all = ids->len > 0;
  for (guint i = 0; i < ids->len; i++)
    all &= ran_on(rows, g_array_index(ids, gint64, i), day);
  return all;
}

gboolean ew_answer_is_of_day(struct ew_book *book, const struct ew_verdict_row *row,
                             const GArray *pulls, const char *day) {
  return ew_book_is_day(book, row->at, day) || asks_about(row->pulls, pulls, day);
}

GPtrArray *ew_behind_texts(const struct ew_behind *b, enum ew_unit_system units) {
  GPtrArray *lines = g_ptr_array_new_with_free_func(g_free);
  const GPtrArray *lists[] = {b->notes, b->day_notes, b->assumed};
  g_autofree char *weights = ew_behind_weights(b);
  if (weights)
    g_ptr_array_add(lines,
                    ew_words(b->is_sweep
                                 ? EW_TEXT("how far the best moves when a pull reads 1 %% more: %s")
                                 : EW_TEXT("what each pull weighs in the difference: %s"),
                             weights));
  for (gsize k = 0; k < G_N_ELEMENTS(lists); k++) {
    if (k == 1 && b->day)
      g_ptr_array_add(lines, ew_message_text(b->day, units));
    for (guint i = 0; i < lists[k]->len; i++)
      g_ptr_array_add(lines, ew_message_text(lists[k]->pdata[i], units));
  }
  return lines;
}
