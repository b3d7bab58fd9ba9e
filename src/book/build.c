/* Rows of build records, written as canonical YAML beside the columns that a search needs, and read back through the
 * field tables. Only added and withdrawn, so that a count of rows tells whether anything changed. */
#include "book/build.h"
#include "base/error.h"
#include "book/origin.h"
#include "book/sql.h"
#include "book/write.h"
#include <string.h>

#define DB ew_book_port(book)

static void build_row_clear(struct ew_build_row *row) {
  g_clear_pointer(&row->engine, g_free);
  g_clear_pointer(&row->name, g_free);
  g_clear_pointer(&row->started_at, g_free);
}

gint64 ew_build_start(struct ew_book *book, gint64 engine_id, const char *name, GError **error) {
  g_assert(ew_book_is_writing(book));
  g_autofree char *now = ew_time_now();
  struct ew_origin o;
  if (!ew_origin_new(book, now, &o, error))
    return 0;
  gint64 id = ew_sql_insert(DB, error,
                            "INSERT INTO build (engine_id, name, started_at, " EW_ORIGIN_COLUMNS
                            ") VALUES (?, ?, ?, ?, ?, ?, ?) RETURNING id",
                            "itto", engine_id, name, now, &o);
  return id && ew_book_log(book, "build", name, error) ? id : 0;
}

gboolean ew_build_current(struct ew_book *book, gint64 engine_id, gint64 *id, GError **error) {
  return ew_sql_number(DB, id, error, "SELECT max(id) FROM build WHERE engine_id = ?", "i",
                       engine_id);
}

/* Records are only added and withdrawn, never removed: each of these counts only rises. */
gboolean ew_build_changes(struct ew_book *book, gint64 *count, GError **error) {
  return ew_sql_number(DB, count, error,
                       "SELECT (SELECT count(*) FROM build) + (SELECT count(*) + count(withdrawn) "
                       "FROM build_record)",
                       "");
}

GArray *ew_build_list(struct ew_book *book, gint64 engine_id, GError **error) {
  GArray *rows = g_array_new(FALSE, TRUE, sizeof(struct ew_build_row));
  g_array_set_clear_func(rows, (GDestroyNotify)build_row_clear);
  struct ew_port_rows *s = ew_sql_query(
      DB, error,
      "SELECT build.id, engine_id, engine.name, build.name, started_at FROM build JOIN engine ON "
      "engine.id = engine_id WHERE ?1 = 0 OR engine_id = ?1 ORDER BY build.id",
      "i", engine_id);
  while (ew_sql_next(s, error)) {
    struct ew_build_row row = {ew_sql_int(s, 0), ew_sql_int(s, 1), ew_sql_text(s, 2),
                               ew_sql_text(s, 3), ew_sql_text(s, 4)};
    g_array_append_val(rows, row);
  }
  ew_sql_done(s);
  return rows;
}

/* What a search looks for: name, place, batch, serial, number. */
struct columns {
  const char *item, *position, *batch, *serial, *number;
};

static struct columns columns_of(enum ew_build_kind kind, const void *record) {
  switch (kind) {
  case EW_BUILD_ITEM: return (struct columns){.item = ((const struct ew_build_item *)record)->item};
  case EW_BUILD_STEP: return (struct columns){.item = ((const struct ew_build_step *)record)->list};
  case EW_BUILD_MEASURE: {
    const struct ew_build_measure *m = record;
    return (struct columns){.item = m->item, .position = m->position};
  }
  case EW_BUILD_LASH:
    return (struct columns){.item = "lash",
                            .position = ((const struct ew_build_lash *)record)->valve};
  case EW_BUILD_PART: {
    const struct ew_build_part *p = record;
    return (struct columns){p->part, p->position, p->batch, p->serial, p->number};
  }
  case EW_BUILD_TORQUE: {
    const struct ew_build_torque *t = record;
    return (struct columns){.item = t->fastener, .position = t->position};
  }
  case EW_BUILD_TICK: return (struct columns){.item = ((const struct ew_build_tick *)record)->list};
  case EW_BUILD_SEEN: {
    const struct ew_build_seen *seen = record;
    return (struct columns){.item = seen->what, .position = seen->position};
  }
  case EW_BUILD_FACTS:
  case EW_BUILD_AGREED:
  case EW_BUILD_AFTER: return (struct columns){0};
  case EW_BUILD_KINDS_COUNT: break;
  }
  g_assert_not_reached();
}

gboolean ew_build_keep(struct ew_book *book, gint64 build_id, enum ew_build_kind kind,
                       const void *record, gboolean *added, GError **error) {
  g_assert(ew_book_is_writing(book));
  g_autofree char *yaml = ew_build_record_yaml(kind, record), *now = ew_time_now();
  const struct ew_build_mark *mark = record;
  struct columns c = columns_of(kind, record);
  const char *key = ew_build_kind_key(kind);
  gboolean there;
  if (!ew_sql_is(DB, &there, error,
                 "SELECT count(*) FROM build_record WHERE build_id = ? AND kind = ? AND yaml = ? "
                 "AND withdrawn IS NULL",
                 "itt", build_id, key, yaml))
    return FALSE;
  if (added)
    *added = !there;
  struct ew_origin o;
  return there ||
         (ew_origin_new(book, mark->at ? mark->at : now, &o, error) &&
          ew_sql_run(DB, error,
                     "INSERT INTO build_record (build_id, kind, item, position, batch, serial, "
                     "number, at, who, yaml, " EW_ORIGIN_COLUMNS
                     ") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                     "itttttt"
                     "ttto",
                     build_id, key, c.item, c.position, c.batch, c.serial, c.number,
                     mark->at ? mark->at : now, mark->who ? mark->who : ew_book_who(), yaml, &o) &&
          ew_book_log(book, key, c.item ? c.item : yaml, error));
}

gboolean ew_build_record_id(struct ew_book *book, gint64 build_id, enum ew_build_kind kind,
                            const void *record, gint64 *id, GError **error) {
  g_autofree char *yaml = ew_build_record_yaml(kind, record);
  return ew_sql_number(DB, id, error,
                       "SELECT coalesce(max(id), 0) FROM build_record WHERE build_id = ? AND kind "
                       "= ? AND yaml = ? AND withdrawn IS NULL",
                       "itt", build_id, ew_build_kind_key(kind), yaml);
}

static int kind_of(const char *key) {
  for (int k = 0; k < EW_BUILD_KINDS_COUNT; k++)
    if (strcmp(ew_build_kind_key(k), key) == 0)
      return k;
  return -1;
}

static gboolean load_row(struct ew_build *build, struct ew_port_rows *s, GError **error) {
  int kind = kind_of(ew_sql_peek(s, 1));
  const char *yaml = ew_sql_peek(s, 2);
  g_autofree char *where = g_strdup_printf("build record %" G_GINT64_FORMAT, ew_sql_int(s, 0));
  g_autoptr(ew_node) node =
      ew_node_parse(where, *yaml ? yaml : "{}", *yaml ? strlen(yaml) : 2, error);
  void *record = node && kind >= 0 ? ew_build_record_parse(kind, node, where, build, error) : NULL;
  if (!record)
    return kind >= 0 ? FALSE : ew_fail(error, "%s is not of a known kind", where);
  struct ew_build_mark *mark = record;
  mark->id = ew_sql_int(s, 0);
  if (!mark->at)
    mark->at = ew_sql_text(s, 3);
  if (!mark->who)
    mark->who = ew_sql_text(s, 4);
  g_ptr_array_add(build->records[kind], record);
  return TRUE;
}

struct ew_build *ew_build_load(struct ew_book *book, gint64 build_id, GError **error) {
  gint64 engine_id;
  if (!ew_sql_number(DB, &engine_id, error, "SELECT engine_id FROM build WHERE id = ?", "i",
                     build_id))
    return NULL;
  struct ew_build *build = ew_build_new();
  build->id = build_id;
  build->engine_id = engine_id;
  g_autoptr(GError) problem = NULL;
  struct ew_port_rows *s =
      ew_sql_query(DB, &problem,
                   "SELECT id, kind, yaml, at, who FROM build_record WHERE build_id = "
                   "? AND withdrawn IS NULL ORDER BY id",
                   "i", build_id);
  while (!problem && ew_sql_next(s, &problem))
    load_row(build, s, &problem);
  ew_sql_done(s);
  if (!problem)
    return build;
  g_propagate_error(error, g_steal_pointer(&problem));
  ew_build_free(build);
  return NULL;
}

gboolean ew_build_withdraw(struct ew_book *book, gint64 record_id, const char *why,
                           GError **error) {
  g_assert(ew_book_is_writing(book));
  gboolean stands;
  if (!ew_sql_is(DB, &stands, error,
                 "SELECT count(*) FROM build_record WHERE id = ? AND withdrawn IS NULL", "i",
                 record_id))
    return FALSE;
  if (!stands)
    return ew_refuse(error, "there is no active build record %" G_GINT64_FORMAT "", record_id);
  g_autofree char *detail =
      g_strdup_printf("build record %" G_GINT64_FORMAT ": %s", record_id, why);
  return ew_sql_run(DB, error, "UPDATE build_record SET withdrawn = ? WHERE id = ?", "ti", why,
                    record_id) &&
         ew_book_log(book, "withdraw", detail, error);
}

static void part_row_clear(void *data) {
  struct ew_part_row *r = data;
  char *texts[] = {r->engine, r->build, r->what, r->batch, r->serial, r->number, r->position};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    g_free(texts[i]);
}

GArray *ew_part_find(struct ew_book *book, const char *text, GError **error) {
  GArray *rows = g_array_new(FALSE, TRUE, sizeof(struct ew_part_row));
  g_array_set_clear_func(rows, part_row_clear);
  struct ew_port_rows *s = ew_sql_query(
      DB, error,
      "SELECT build.id, r.id, engine.name, build.name, r.item, r.batch, r.serial, r.number, "
      "r.position FROM build_record r JOIN build ON build.id = r.build_id JOIN engine ON engine.id "
      "= build.engine_id WHERE r.kind = 'parts' AND r.withdrawn IS NULL AND (lower(r.batch) = "
      "lower(?1) OR lower(r.serial) = lower(?1) OR lower(r.number) = lower(?1)) ORDER BY r.id",
      "t", text);
  while (ew_sql_next(s, error)) {
    struct ew_part_row row = {ew_sql_int(s, 0),  ew_sql_int(s, 1),  ew_sql_text(s, 2),
                              ew_sql_text(s, 3), ew_sql_text(s, 4), ew_sql_text(s, 5),
                              ew_sql_text(s, 6), ew_sql_text(s, 7), ew_sql_text(s, 8)};
    g_array_append_val(rows, row);
  }
  ew_sql_done(s);
  return rows;
}
