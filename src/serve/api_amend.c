/* Facts corrected from the page: amend, undo, right as it is, what was corrected, and answers asked again. */
#include "base/error.h"
#include "base/number.h"
#include "book/keep.h"
#include "desk/again.h"
#include "desk/amend.h"
#include "serve/service.h"
#include <string.h>

#define PULLS_MOST 200u

/* {"pressure": "985 hPa"} as "pressure=985 hPa". To be freed; empty without. NULL with *error. */
static char **pairs_of(const ew_node *body, const char *key, GError **error) {
  const struct ew_node *map = ew_node_member(body, key);
  g_autoptr(GPtrArray) pairs = g_ptr_array_new_with_free_func(g_free);
  if (map && map->kind != EW_NODE_MAP) {
    ew_refuse(error, "%s: write {\"name\": \"value\"}", key);
    return NULL;
  }
  for (guint i = 0; map && i < map->children->len; i++) {
    const struct ew_node *one = map->children->pdata[i];
    if (!one->text) {
      ew_refuse(error, "%s: '%.40s' needs a text, for example \"985 hPa\"", key, one->key);
      return NULL;
    }
    g_ptr_array_add(pairs, g_strdup_printf("%s=%s", one->key, one->text));
  }
  g_ptr_array_add(pairs, NULL);
  return (char **)g_ptr_array_free(g_steal_pointer(&pairs), FALSE);
}

static gboolean number_of(const struct ew_node *node, const char *name, gint64 *number,
                          GError **error) {
  *number = 0;
  return !node ||
         (node->text && g_ascii_string_to_signed(node->text, 10, 1, G_MAXINT64, number, NULL)) ||
         ew_refuse(error, "%s: a whole number above 0 is needed", name);
}

/* The pull of the path, and those that are named beside it. */
static GArray *pulls_of(const struct ew_request *r, const ew_node *body, GError **error) {
  const struct ew_node *list = ew_node_member(body, "pulls");
  g_autoptr(GArray) ids = g_array_new(FALSE, FALSE, sizeof(gint64));
  g_array_append_val(ids, r->id);
  if (list && (list->kind != EW_NODE_LIST || list->children->len > PULLS_MOST)) {
    ew_refuse(error, "pulls: a list of at most %u numbers is needed", PULLS_MOST);
    return NULL;
  }
  for (guint i = 0; list && i < list->children->len; i++) {
    gint64 id;
    if (!number_of(list->children->pdata[i], "pulls", &id, error))
      return NULL;
    g_array_append_val(ids, id);
  }
  return g_steal_pointer(&ids);
}

static gboolean check_text(const ew_node *body, const char *key, GError **error) {
  const char *text = ew_node_text(body, key);
  return !text || strlen(text) <= 400 || ew_refuse(error, "%s: longer than 400 bytes", key);
}

static gboolean amend(struct ew_service *s, const ew_node *body, struct ew_amend_ask *ask,
                      struct ew_reply *reply, GError **error) {
  struct ew_desk desk = {0};
  struct ew_amended amended;
  ask->changed = ew_node_text(body, "changed");
  ask->purpose = ew_node_text(body, "purpose");
  ask->at = ew_node_text(body, "at");
  ask->engine = ew_node_text(body, "engine");
  ask->map = ew_node_text(body, "map");
  ask->who = ew_node_text(body, "who");
  ask->reason = ew_node_text(body, "reason");
  ask->station = g_strcmp0(ew_node_text(body, "weather"), "station") == 0;
  ask->calibration = ew_node_text(body, "calibration");
  ask->undo = g_strcmp0(ew_node_text(body, "undo"), "yes") == 0;
  gboolean good = (ask->station || !ew_node_text(body, "weather") ||
                   ew_refuse(error, "weather: only \"station\" is known")) &&
                  check_text(body, "changed", error) && check_text(body, "reason", error) &&
                  ew_desk_open(&desk, s->book, error) && ew_amend(&desk, ask, &amended, error);
  ew_desk_clear(&desk);
  if (!good)
    return FALSE;
  ew_amended_json(s->book, &amended, &reply->json);
  reply->changed = amended.rows->len > 0;
  ew_amended_clear(&amended);
  return TRUE;
}

gboolean ew_api_amend(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                      GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  g_autoptr(GArray) pulls = body ? pulls_of(r, body, error) : NULL;
  g_auto(GStrv) sets = pulls ? pairs_of(body, "set", error) : NULL;
  g_auto(GStrv) units = sets ? pairs_of(body, "units", error) : NULL;
  g_auto(GStrv) cell = units ? pairs_of(body, "cell", error) : NULL;
  struct ew_amend_ask ask = {.sets = (const char *const *)sets,
                             .units = (const char *const *)units,
                             .cell_sets = (const char *const *)cell};
  if (!cell || !number_of(ew_node_member(body, "reading"), "reading", &ask.seen, error))
    return FALSE;
  ask.pulls = (const gint64 *)(const void *)pulls->data;
  ask.pulls_count = pulls->len;
  return amend(s, body, &ask, reply, error);
}

gboolean ew_api_right(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                      GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body || !check_text(body, "reason", error) ||
      !ew_keep_right(s->book, &r->id, 1, ew_node_text(body, "who"), ew_node_text(body, "reason"),
                     error))
    return FALSE;
  ew_json_open_array(&reply->json, "pulls");
  ew_json_integer(&reply->json, NULL, r->id);
  ew_json_close_array(&reply->json);
  reply->changed = TRUE;
  return TRUE;
}

gboolean ew_api_history(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                        GError **error) {
  return ew_pull_history_json(s->book, r->id, ew_service_units(s, r), &reply->json, error);
}

gboolean ew_api_again(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                      GError **error) {
  struct ew_desk desk = {0};
  (void)r;
  g_autoptr(GArray) rows = ew_answers_to_ask(s->book, 0, error);
  if (!rows || !ew_desk_open(&desk, s->book, error)) {
    ew_desk_clear(&desk);
    return FALSE;
  }
  ew_json_open_array(&reply->json, "answers");
  for (guint i = 0; i < rows->len; i++)
    ew_ask_again_json(&desk, &g_array_index(rows, struct ew_verdict_row, i), &reply->json);
  ew_json_close_array(&reply->json);
  ew_desk_clear(&desk);
  reply->changed = rows->len > 0;
  return TRUE;
}
