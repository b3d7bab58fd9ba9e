/* Engines past and present, families with what was learnt of them, and the safe-keeping of the book. */
#include "base/error.h"
#include "book/keep.h"
#include "book/engines.h"
#include "desk/build.h"
#include "serve/live.h"
#include "serve/service.h"
#include <math.h>
#include <string.h>

/* ---- engines ---- */

static char *family_of(struct ew_service *s, gint64 engine_id) {
  gint64 id;
  g_autoptr(ew_build) build = ew_build_current(s->book, engine_id, &id, NULL) && id
                                  ? ew_build_load(s->book, id, NULL)
                                  : NULL;
  return build ? g_strdup(ew_build_facts_of(build)->family) : NULL;
}

static void write_line(struct ew_service *s, const struct ew_engine_line *line, gint64 in_cell,
                       struct ew_json *json) {
  g_autoptr(ew_node) root = ew_node_parse(line->name, line->yaml, strlen(line->yaml), NULL);
  g_autofree char *family = family_of(s, line->id);
  ew_json_open(json, NULL);
  ew_json_integer(json, "id", line->id);
  ew_json_text(json, "name", line->name);
  ew_json_text(json, "serial", root ? ew_node_text(root, "serial") : NULL);
  ew_json_text(json, "owner", root ? ew_node_text(root, "owner") : NULL);
  ew_json_text(json, "family", family);
  ew_json_text(json, "part", line->part);
  ew_json_integer(json, "pulls", line->pulls);
  ew_json_text(json, "added_at", line->added_at);
  ew_json_text(json, "last_pull_at", line->last_pull_at);
  ew_json_boolean(json, "in_cell", line->id == in_cell);
  ew_json_close(json);
}

gboolean ew_api_engines(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                        GError **error) {
  const char *find = ew_request_query(r, "find");
  if (find && strlen(find) > 200)
    return ew_refuse(error, "find: longer than 200 bytes");
  GError *problem = NULL;
  g_autoptr(GArray) lines = ew_engine_lines(s->book, find, &problem);
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  struct ew_engine_row now;
  if (!ew_engine_find(s->book, NULL, &now, error))
    return FALSE;
  ew_json_open_array(&reply->json, "engines");
  for (guint i = 0; i < lines->len; i++)
    write_line(s, &g_array_index(lines, struct ew_engine_line, i), now.id, &reply->json);
  ew_json_close_array(&reply->json);
  ew_engine_row_clear(&now);
  return TRUE;
}

gboolean ew_api_engine_in_cell(struct ew_service *s, const struct ew_request *r,
                               struct ew_reply *reply, GError **error) {
  g_autofree char *id = g_strdup_printf("%" G_GINT64_FORMAT, r->id);
  struct ew_engine_row row;
  gint64 before;
  if (ew_live_running(
          s->live)) /* its limits and what lies under its curve are the one's that it began with */
    return ew_refuse(error,
                     "a recording is under way, of the engine that is in the cell: stop it first");
  if (!ew_keep_engine_in_cell(s->book, r->id, &before, error) ||
      !ew_engine_get(s->book, id, &row, error))
    return FALSE;
  ew_json_text(&reply->json, "name", row.name);
  ew_json_integer(&reply->json, "before", before);
  ew_engine_row_clear(&row);
  reply->changed = TRUE;
  return TRUE;
}

/* ---- what was learnt of a family ---- */

static void write_growth(struct ew_service *s, const struct ew_build_facts *facts,
                         struct ew_json *json) {
  static const char *const sides[] = {"inlet", "exhaust"};
  ew_json_open_array(json, "lash_growth");
  for (int side = 0; side < 2; side++) {
    struct ew_growth g = ew_build_growth(s->book, facts, 0, side, NULL);
    ew_json_open(json, NULL);
    ew_json_text(json, "side", sides[side]);
    ew_json_integer(json, "builds", g.builds);
    ew_json_integer(json, "valves", g.valves);
    ew_json_number(json, "mean_m", g.valves ? g.mean_m : (double)NAN);
    ew_json_number(json, "low_m", g.low_m);
    ew_json_number(json, "high_m", g.high_m);
    ew_json_boolean(json, "few", g.few);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static void write_member(const void *row, struct ew_json *json) {
  const struct ew_family_row *m = row;
  ew_json_text(json, "engine", m->engine);
  ew_json_text(json, "build", m->build);
  ew_json_integer(json, "pulls", m->pulls);
  ew_json_number(json, "torque_per_volume_n_m_m3", m->torque_per_volume_n_m_m3);
  ew_json_number(json, "power_w", m->power_w);
  ew_json_number(json, "oil_pressure_pa", m->oil_pressure_pa);
  ew_json_number(json, "turning_torque_n_m", m->turning_torque_n_m);
}

static gboolean write_family(struct ew_service *s, struct ew_desk *desk,
                             const struct ew_build_facts *facts, struct ew_json *json,
                             GError **error) {
  g_autoptr(GArray) members = ew_build_family(desk, facts->family, error);
  if (!members)
    return FALSE;
  ew_json_open(json, NULL);
  ew_json_text(json, "family", facts->family);
  write_growth(s, facts, json);
  ew_json_rows(json, "engines", members, write_member);
  ew_json_close(json);
  return TRUE;
}

gboolean ew_api_families(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                         GError **error) {
  (void)r;
  struct ew_desk desk = {0};
  if (!ew_desk_open(&desk, s->book, error))
    return FALSE;
  GError *problem = NULL;
  g_autoptr(GArray) rows = ew_build_list(s->book, 0, &problem);
  g_autoptr(GHashTable) told = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  gboolean good = !problem;
  if (problem)
    g_propagate_error(error, problem);
  ew_json_open_array(&reply->json, "families");
  for (guint i = 0; good && i < rows->len; i++) {
    const struct ew_build_row *row = &g_array_index(rows, struct ew_build_row, i);
    g_autoptr(ew_build) build = ew_build_load(s->book, row->id, error);
    good = build != NULL;
    const struct ew_build_facts *facts = build ? ew_build_facts_of(build) : NULL;
    if (!facts || !facts->family || !*facts->family ||
        !g_hash_table_add(told, g_ascii_strdown(facts->family, -1)))
      continue;
    good = write_family(s, &desk, facts, &reply->json, error);
  }
  ew_json_close_array(&reply->json);
  ew_desk_clear(&desk);
  return good;
}
