/* Plan and visits, as they are kept: see round.h. */
#include "desk/round_parts.h"
#include "base/error.h"
#include "base/json_writer.h"
#include "base/language.h"
#include "base/node.h"
#include "book/keep.h"
#include <math.h>
#include <string.h>

#define NAME_MOST 60 /* letters */

static void visit_free(gpointer data) {
  struct ew_round_visit *v = data;
  g_array_unref(v->pulls);
  g_free(v->at);
  g_free(v->who);
  g_free(v);
}

static struct ew_round *round_new(const char *name) {
  struct ew_round *r = g_new0(struct ew_round, 1);
  r->name = g_strdup(name);
  r->cells = g_ptr_array_new_with_free_func(g_free);
  r->visits = g_ptr_array_new_with_free_func(visit_free);
  return r;
}

void ew_round_free(struct ew_round *r) {
  if (!r)
    return;
  g_free(r->name);
  g_free(r->engine);
  g_free(r->at);
  g_free(r->who);
  g_ptr_array_unref(r->cells);
  g_ptr_array_unref(r->visits);
  g_free(r);
}

static char *key_of(const char *name) {
  g_autofree char *small = g_utf8_casefold(name, -1);
  return g_strdup_printf("round %s", small);
}

/* ---- as it is kept ---- */

static void write_visit(const struct ew_round_visit *v, struct ew_json *json) {
  ew_json_open(json, NULL);
  ew_json_open_array(json, "pulls");
  for (guint i = 0; i < v->pulls->len; i++)
    ew_json_integer(json, NULL, g_array_index(v->pulls, gint64, i));
  ew_json_close_array(json);
  ew_json_text(json, "at", v->at);
  ew_json_text(json, "who", v->who);
  ew_json_close(json);
}

static char *write_round(const struct ew_round *r) {
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  ew_json_text(&json, "name", r->name);
  ew_json_text(&json, "engine", r->engine);
  ew_json_texts(&json, "cells", r->cells);
  ew_json_integer(&json, "pulls", r->pulls);
  ew_json_text(&json, "at", r->at);
  ew_json_text(&json, "who", r->who);
  ew_json_open_array(&json, "visits");
  for (guint i = 0; i < r->visits->len; i++)
    write_visit(r->visits->pdata[i], &json);
  ew_json_close_array(&json);
  ew_json_close(&json);
  return g_string_free(json.text, FALSE);
}

static char *text_of(const struct ew_node *map, const char *key) {
  const struct ew_node *one = map->kind == EW_NODE_MAP ? ew_node_member(map, key) : NULL;
  return one && one->kind == EW_NODE_SCALAR ? g_strdup(one->text) : NULL;
}

static const GPtrArray *list_of(const struct ew_node *map, const char *key) {
  static GPtrArray *none;
  const struct ew_node *one = map->kind == EW_NODE_MAP ? ew_node_member(map, key) : NULL;
  if (g_once_init_enter(&none))
    g_once_init_leave(&none, g_ptr_array_new());
  return one && one->kind == EW_NODE_LIST ? one->children : none;
}

/* 0: not a whole number above 0. */
static gint64 whole(const char *text) {
  char *end = NULL;
  gint64 value = text ? g_ascii_strtoll(text, &end, 10) : 0;
  return end && end != text && *end == 0 && value > 0 ? value : 0;
}

static gboolean read_visit(const struct ew_node *map, struct ew_round *r) {
  const GPtrArray *pulls = list_of(map, "pulls");
  struct ew_round_visit *v = g_new0(struct ew_round_visit, 1);
  v->pulls = g_array_new(FALSE, FALSE, sizeof(gint64));
  v->at = text_of(map, "at");
  v->who = text_of(map, "who");
  g_ptr_array_add(r->visits, v);
  for (guint i = 0; i < pulls->len; i++) {
    gint64 id = whole(((const struct ew_node *)pulls->pdata[i])->text);
    if (!id)
      return FALSE;
    g_array_append_val(v->pulls, id);
  }
  return v->pulls->len > 0;
}

/* What came from a disk may be anything. */
static gboolean read_round(const struct ew_node *root, struct ew_round *r) {
  const GPtrArray *cells = list_of(root, "cells"), *visits = list_of(root, "visits");
  g_autofree char *pulls = text_of(root, "pulls"), *name = text_of(root, "name");
  r->engine = text_of(root, "engine");
  r->at = text_of(root, "at");
  r->who = text_of(root, "who");
  gint64 count = whole(pulls);
  r->pulls = count <= EW_ROUND_PULLS_MOST ? (int)count : 0;
  for (guint i = 0; i < cells->len; i++)
    g_ptr_array_add(r->cells, g_strdup(((const struct ew_node *)cells->pdata[i])->text));
  gboolean good = name && r->engine && r->pulls >= EW_BETWEEN_VISIT_LEAST && r->cells->len >= 2 &&
                  r->cells->len <= EW_BETWEEN_CELLS_MOST;
  for (guint i = 0; good && i < r->cells->len; i++)
    good = r->cells->pdata[i] != NULL;
  for (guint i = 0; good && i < visits->len; i++)
    good = read_visit(visits->pdata[i], r);
  if (name) {
    g_free(r->name);
    r->name = g_steal_pointer(&name);
  }
  return good;
}

/* NULL without *error: there is none. *was: as the book has it. */
static struct ew_round *load(struct ew_book *book, const char *name, char **was, GError **error) {
  g_autofree char *key = key_of(name), *text = NULL;
  if (!ew_setting_get(book, key, &text, error) || !text || !*text)
    return NULL;
  g_autoptr(ew_node) root = ew_node_parse(key, text, strlen(text), error);
  struct ew_round *r = root ? round_new(name) : NULL;
  if (r && !read_round(root, r)) {
    ew_refuse(error, "the round '%s' in this book is damaged: begin another under another name",
              name);
    g_clear_pointer(&r, ew_round_free);
  }
  *was = g_steal_pointer(&text);
  return r;
}

struct ew_round *ew_round_load(struct ew_book *book, const char *name, GError **error) {
  g_autofree char *was = NULL;
  GError *problem = NULL;
  struct ew_round *r = load(book, name, &was, &problem);
  if (problem)
    g_propagate_error(error, problem);
  else if (!r)
    ew_refuse(error, "there is no round '%s' in %s: 'round new' plans one", name,
              ew_book_path(book));
  return r;
}

static gboolean keep(struct ew_book *book, const struct ew_round *r, const char *was,
                     GError **error) {
  g_autofree char *key = key_of(r->name), *text = write_round(r);
  const struct ew_setting one = {
      .key = key, .value = text, .when = EW_SETTING_IF_STILL, .was = was};
  return ew_keep_settings(book, &one, 1, error);
}

/* ---- the plan ---- */

gboolean ew_round_same_plan(const struct ew_round *a, const struct ew_round *b) {
  gboolean same =
      g_str_equal(a->engine, b->engine) && a->pulls == b->pulls && a->cells->len == b->cells->len;
  for (guint i = 0; same && i < a->cells->len; i++)
    same = strcmp(a->cells->pdata[i], b->cells->pdata[i]) == 0;
  return same;
}

int ew_round_cell(const struct ew_round *r, const char *cell) {
  for (guint i = 0; cell && i < r->cells->len; i++)
    if (strcmp(r->cells->pdata[i], cell) == 0)
      return (int)i;
  return -1;
}

static gboolean judge_cells(const struct ew_desk *desk, const struct ew_round *r, GError **error) {
  if (r->cells->len < 2 || r->cells->len > EW_BETWEEN_CELLS_MOST)
    return ew_refuse(error, "--cells: %u cells; a round has 2 to %d, with commas between",
                     r->cells->len, EW_BETWEEN_CELLS_MOST);
  for (guint i = 0; i < r->cells->len; i++) {
    const char *cell = r->cells->pdata[i];
    if (!*cell || g_utf8_strlen(cell, -1) > NAME_MOST)
      return ew_refuse(error, "--cells: a name has 1 to %d letters", NAME_MOST);
    if (ew_round_cell(r, cell) != (int)i)
      return ew_refuse(error,
                       "--cells: '%s' is named twice; the way back to the first is planned "
                       "by itself",
                       cell);
  }
  return ew_round_cell(r, desk->bench.name) >= 0 ||
         ew_refuse(error,
                   "--cells: this book's cell is called '%s' and is not among them; write it as "
                   "the cell's file has it",
                   desk->bench.name ? desk->bench.name : "-");
}

static gboolean judge_plan(const struct ew_desk *desk, const struct ew_round *r, GError **error) {
  struct ew_engine_row engine;
  glong letters = g_utf8_strlen(r->name, -1);
  if (letters < 1 || letters > NAME_MOST)
    return ew_refuse(error, "the name of a round has 1 to %d letters", NAME_MOST);
  if (r->pulls < EW_BETWEEN_VISIT_LEAST || r->pulls > EW_ROUND_PULLS_MOST)
    return ew_refuse(error, "--pulls: %d; a visit has %d to %d", r->pulls, EW_BETWEEN_VISIT_LEAST,
                     EW_ROUND_PULLS_MOST);
  if (!judge_cells(desk, r, error) || !ew_engine_find(desk->book, r->engine, &engine, error))
    return FALSE;
  gboolean known = engine.id != 0 && strcmp(engine.name, r->engine) == 0;
  ew_engine_row_clear(&engine);
  return known || ew_refuse(error,
                            "--engine '%s' is not in this book: add its file first, the same in "
                            "each cell ('engine add')",
                            r->engine);
}

gboolean ew_round_begin(const struct ew_desk *desk, const struct ew_round *plan, gboolean *added,
                        GError **error) {
  g_autofree char *was = NULL;
  GError *problem = NULL;
  g_autoptr(ew_round) before = load(desk->book, plan->name, &was, &problem);
  *added = FALSE;
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  if (before)
    return ew_round_same_plan(before, plan) ||
           ew_refuse(error,
                     "round '%s' is planned otherwise in this book already: give this one another "
                     "name",
                     plan->name);
  if (!judge_plan(desk, plan, error))
    return FALSE;
  g_autoptr(ew_round) r = round_new(plan->name);
  r->engine = g_strdup(plan->engine);
  r->pulls = plan->pulls;
  r->at = ew_time_now();
  r->who = g_strdup(ew_book_who());
  for (guint i = 0; i < plan->cells->len; i++)
    g_ptr_array_add(r->cells, g_strdup(plan->cells->pdata[i]));
  *added = TRUE;
  return keep(desk->book, r, NULL, error);
}

/* ---- a visit ---- */

static gboolean was_there(const struct ew_round *r, const GArray *pulls, GError **error) {
  for (guint v = 0; v < r->visits->len; v++) {
    const struct ew_round_visit *visit = r->visits->pdata[v];
    for (guint i = 0; i < visit->pulls->len; i++)
      for (guint k = 0; k < pulls->len; k++)
        if (g_array_index(visit->pulls, gint64, i) == g_array_index(pulls, gint64, k))
          return ew_refuse(error, "pull %" G_GINT64_FORMAT " is of visit %u of this round already",
                           g_array_index(pulls, gint64, k), v + 1);
  }
  return TRUE;
}

static gboolean judge_visit(const struct ew_desk *desk, const struct ew_round *r,
                            const GArray *pulls, GError **error) {
  int cell = ew_round_cell(r, desk->bench.name);
  guint most = cell == 0 ? 2 : 1;
  if (cell < 0)
    return ew_refuse(error, "the round '%s' does not come to this cell, '%s'", r->name,
                     desk->bench.name ? desk->bench.name : "-");
  if (r->visits->len >= most)
    return ew_refuse(error,
                     most == 2 ? EW_TEXT("the round '%s' was here and came back already")
                               : EW_TEXT("the round '%s' was here already"),
                     r->name);
  return (int)pulls->len >= r->pulls ||
         ew_refuse(error, "%u pulls; a visit of the round '%s' has %d: run %d more", pulls->len,
                   r->name, r->pulls, r->pulls - (int)pulls->len);
}

/* An engine that came back was mounted again: else nothing of that was seen. */
static gboolean judge_mounting(const struct ew_desk *desk, const struct ew_round *r,
                               const struct ew_loaded *now, GError **error) {
  if (r->visits->len == 0)
    return TRUE;
  const struct ew_round_visit *first = r->visits->pdata[0];
  struct ew_loaded *before = ew_desk_load_id(desk, g_array_index(first->pulls, gint64, 0), error);
  if (!before)
    return FALSE;
  gboolean left = ew_round_mounted_between(before, now);
  ew_loaded_free(before);
  return left || ew_refuse(error, "by this book the engine never left the cell since the first "
                                  "visit: the first pull after it came back is added with "
                                  "--remounted");
}

gboolean ew_round_visit(const struct ew_desk *desk, const char *name, const GArray *pulls,
                        GError **error) {
  g_autofree char *was = NULL;
  GError *problem = NULL;
  g_autoptr(ew_round) r = load(desk->book, name, &was, &problem);
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  if (!r)
    return ew_refuse(error,
                     "there is no round '%s' in this book: 'round new' plans it, the same "
                     "in each cell",
                     name);
  if (!was_there(r, pulls, error) || !judge_visit(desk, r, pulls, error))
    return FALSE;
  struct ew_round_visit *v = g_new0(struct ew_round_visit, 1);
  v->pulls = g_array_new(FALSE, FALSE, sizeof(gint64));
  g_array_append_vals(v->pulls, pulls->data, pulls->len);
  v->at = ew_time_now();
  v->who = g_strdup(ew_book_who());
  g_autoptr(GPtrArray) loaded = ew_round_load_visit(desk, r, v, error);
  gboolean good = loaded && judge_mounting(desk, r, loaded->pdata[0], error);
  g_ptr_array_add(r->visits, v);
  return good && keep(desk->book, r, was, error);
}

struct ew_spread ew_round_repeats(const struct ew_desk *desk) {
  return ew_desk_history(desk, 0, NULL).levels[EW_LEVEL_CONSECUTIVE];
}
