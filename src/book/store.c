/* Settings, engines, pulls, curves and channel maps as rows (recording.c, calibration.c and verdict.c hold the others). Strings of
 * a row are owned by it and freed by its _clear; a list frees its rows. */
#include "book/store.h"
#include "pull/process.h"
#include "base/error.h"
#include "book/found.h"
#include "book/origin.h"
#include "book/sql.h"
#include "book/trip.h"
#include "book/write.h"
#include <string.h>

#define DB ew_book_port(book)

gboolean ew_book_is_empty(struct ew_book *book, gboolean *empty, GError **error) {
  return ew_sql_is(DB, empty, error,
                   "SELECT NOT (EXISTS (SELECT 1 FROM engine) OR EXISTS (SELECT 1 FROM recording) "
                   "OR EXISTS (SELECT 1 FROM build) OR EXISTS (SELECT 1 FROM calibration) OR "
                   "EXISTS (SELECT 1 FROM attachment) OR EXISTS (SELECT 1 FROM note))",
                   "");
}

char *ew_book_identity(struct ew_book *book, GError **error) {
  char *identity;
  if (ew_setting_get(book, "identity", &identity, error) && !identity)
    ew_sql_damaged(error, "its identity is missing");
  return identity;
}

/* The first cell of the first row; *text NULL without a row. */
static gboolean text_of(struct ew_book *book, char **text, GError **error, const char *sql,
                        const char *key) {
  GError *problem = NULL;
  struct ew_port_rows *s = ew_sql_query(DB, &problem, sql, "t", key);
  *text = ew_sql_next(s, &problem) ? ew_sql_text(s, 0) : NULL;
  ew_sql_done(s);
  return ew_sql_tell(problem, error);
}

gboolean ew_setting_get(struct ew_book *book, const char *key, char **value, GError **error) {
  return text_of(book, value, error, "SELECT value FROM setting WHERE key = ?", key);
}

gboolean ew_setting_set(struct ew_book *book, const char *key, const char *value, GError **error) {
  g_assert(ew_book_is_writing(book));
  return (strcmp(key, "zone") != 0 || ew_origin_move(book, value, error)) &&
         ew_sql_run(DB, error,
                    "INSERT INTO setting (key, value) VALUES (?, ?) ON CONFLICT(key) DO UPDATE SET "
                    "value = excluded.value",
                    "tt", key, value) &&
         ew_book_log(book, "setting", key, error);
}

gint64 ew_engine_add(struct ew_book *book, const char *name, const char *yaml, GError **error) {
  g_assert(ew_book_is_writing(book));
  g_autofree char *now = ew_time_now();
  gboolean there;
  if (!ew_sql_is(DB, &there, error, "SELECT count(*) FROM engine WHERE name = ?", "t", name) ||
      (!there && !ew_sql_run(DB, error, "DELETE FROM setting WHERE key = 'engine_in_cell'", "")))
    return 0; /* a new engine is the one in the cell, until another is put there */
  struct ew_origin o;
  if (!ew_origin_new(book, now, &o, error))
    return 0;
  gint64 id = ew_sql_insert(DB, error,
                            "INSERT INTO engine (name, yaml, added_at, " EW_ORIGIN_COLUMNS
                            ") VALUES (?, ?, ?, ?, ?, ?, ?) "
                            "ON CONFLICT(name) DO UPDATE SET yaml = excluded.yaml RETURNING id",
                            "ttto", name, yaml, now, &o);
  return id && ew_book_log(book, "engine", name, error) ? id : 0;
}

gboolean ew_engine_find(struct ew_book *book, const char *name, struct ew_engine_row *row,
                        GError **error) {
  GError *problem = NULL;
  struct ew_port_rows *s =
      name
          ? ew_sql_query(DB, &problem,
                         "SELECT id, name, yaml FROM engine WHERE name = ? OR CAST(id AS TEXT) = ? "
                         "ORDER BY name = ? DESC LIMIT 1",
                         "ttt", name, name, name)
          : ew_sql_query(
                DB, &problem,
                "SELECT id, name, yaml FROM engine ORDER BY name IS NOT DISTINCT FROM "
                "(SELECT value FROM setting WHERE key = 'engine_in_cell') DESC, id DESC LIMIT 1",
                "");
  *row = (struct ew_engine_row){0};
  if (ew_sql_next(s, &problem))
    *row = (struct ew_engine_row){ew_sql_int(s, 0), ew_sql_text(s, 1), ew_sql_text(s, 2)};
  ew_sql_done(s);
  return ew_sql_tell(problem, error);
}

gboolean ew_engine_get(struct ew_book *book, const char *name, struct ew_engine_row *row,
                       GError **error) {
  if (!ew_engine_find(book, name, row, error))
    return FALSE;
  if (row->id)
    return TRUE;
  return name ? ew_refuse_with(error, EW_REMEDY_ADD_ENGINE,
                               "engine '%.80s': no such engine in this book", name)
              : ew_refuse_with(error, EW_REMEDY_ADD_ENGINE, "there is no engine in this book");
}

GPtrArray *ew_engine_names(struct ew_book *book, GError **error) {
  g_autoptr(GPtrArray) names = g_ptr_array_new_with_free_func(g_free);
  GError *problem = NULL;
  struct ew_port_rows *s = ew_sql_query(DB, &problem, "SELECT name FROM engine ORDER BY id", "");
  while (ew_sql_next(s, &problem))
    g_ptr_array_add(names, ew_sql_text(s, 0));
  ew_sql_done(s);
  return ew_sql_tell(problem, error) ? g_steal_pointer(&names) : NULL;
}

void ew_engine_row_clear(struct ew_engine_row *row) {
  g_clear_pointer(&row->name, g_free);
  g_clear_pointer(&row->yaml, g_free);
}

gint64 ew_pull_add(struct ew_book *book, const struct ew_pull_row *r, GError **error) {
  g_assert(r->recording_id > 0 && r->part >= 0 && r->kind && r->at);
  g_assert(ew_book_is_writing(book));
  g_autofree char *engine =
      r->engine_id ? g_strdup_printf("%" G_GINT64_FORMAT, r->engine_id) : NULL;
  struct ew_origin o;
  if (!ew_origin_new(book, r->at, &o, error))
    return 0;
  gint64 id = ew_sql_insert(
      DB, error,
      "INSERT INTO pull (recording_id, engine_id, part, kind, at, run, mounting, purpose, setup, "
      "changed, discarded, top_rpm, band_mean_n_m, told, " EW_ORIGIN_COLUMNS
      ") VALUES (?, CAST(? AS INTEGER), ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING "
      "id",
      "itittiitt"
      "ttddto",
      r->recording_id, engine, (gint64)r->part, r->kind, r->at, (gint64)r->run, (gint64)r->mounting,
      r->purpose, r->setup, r->changed, r->discarded, r->top_rpm, r->band_mean_n_m,
      r->told ? r->told : "[]", &o);
  g_autofree char *detail =
      g_strdup_printf("pull %" G_GINT64_FORMAT ": recording %" G_GINT64_FORMAT ", part %d", id,
                      r->recording_id, r->part + 1);
  return id && ew_book_log(book, "pull", detail, error) ? id : 0;
}

gboolean ew_pulls_unmoved(struct ew_book *book, const struct ew_pull_place *places, gsize count,
                          gboolean *still, GError **error) {
  *still = TRUE;
  for (gsize i = 0; *still && i < count; i++) {
    gint64 same;
    if (!ew_sql_number(DB, &same, error,
                       "SELECT count(*) FROM pull WHERE id = ? AND run = ? AND mounting = ?", "iii",
                       places[i].id, (gint64)places[i].was_run, (gint64)places[i].was_mounting))
      return FALSE;
    *still = same == 1;
  }
  return TRUE;
}

gboolean ew_pull_move(struct ew_book *book, const struct ew_pull_place *place, GError **error) {
  g_assert(ew_book_is_writing(book));
  g_autofree char *detail = g_strdup_printf("pull %" G_GINT64_FORMAT ": run %d, mounting %d",
                                            place->id, place->run, place->mounting);
  return ew_sql_run(DB, error, "UPDATE pull SET run = ?, mounting = ? WHERE id = ?", "iii",
                    (gint64)place->run, (gint64)place->mounting, place->id) &&
         ew_book_log(book, "pull placed", detail, error);
}

/* Cut out of a stream of the practice cell. */
#define PULL_INVENTED                                                                              \
  "EXISTS (SELECT 1 FROM stream_pull c JOIN stream s ON s.recording_id = c.recording_id WHERE "    \
  "c.cut_id = pull.recording_id AND s.source LIKE 'practice:%')"
#define PULL_COLUMNS                                                                               \
  "id, recording_id, engine_id, part, run, mounting, kind, at, day, purpose, setup, changed, "     \
  "discarded, top_rpm, band_mean_n_m, "                                                            \
  "(SELECT t.action || ': ' || t.name FROM stream_pull c JOIN trip_time x ON x.recording_id = "    \
  "c.recording_id AND x.time_s BETWEEN c.from_s AND c.to_s + " EW_TRIP_AFTER_S                     \
  " JOIN alarm_trip t ON t.id = x.trip_id AND t.action IN (" EW_TRIP_ASKS                          \
  ") WHERE c.cut_id = pull.recording_id ORDER BY t.action DESC, t.id LIMIT 1), " PULL_INVENTED     \
  ", "                                                                                             \
  "(SELECT nullif(h.finding, '') FROM hold h WHERE h.pull_id = pull.id AND h.answered_at IS NULL " \
  "ORDER BY "                                                                                      \
  "h.id LIMIT 1), told, reading"

static struct ew_pull_row pull_row(struct ew_port_rows *s) {
  return (struct ew_pull_row){.id = ew_sql_int(s, 0),
                              .recording_id = ew_sql_int(s, 1),
                              .engine_id = ew_sql_int(s, 2),
                              .part = (int)ew_sql_int(s, 3),
                              .run = (int)ew_sql_int(s, 4),
                              .mounting = (int)ew_sql_int(s, 5),
                              .kind = ew_sql_text(s, 6),
                              .at = ew_sql_text(s, 7),
                              .day = ew_sql_text(s, 8),
                              .purpose = ew_sql_text(s, 9),
                              .setup = ew_sql_text(s, 10),
                              .changed = ew_sql_text(s, 11),
                              .discarded = ew_sql_text(s, 12),
                              .top_rpm = ew_sql_double(s, 13),
                              .band_mean_n_m = ew_sql_double(s, 14),
                              .tripped = ew_sql_text(s, 15),
                              .invented = ew_sql_int(s, 16) != 0,
                              .held = ew_sql_text(s, 17),
                              .told = ew_sql_text(s, 18),
                              .reading = ew_sql_int(s, 19)};
}

void ew_pull_row_clear(struct ew_pull_row *r) {
  char **texts[] = {&r->kind,    &r->at,        &r->day,     &r->purpose, &r->setup,
                    &r->changed, &r->discarded, &r->tripped, &r->held,    &r->told};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    g_clear_pointer(texts[i], g_free);
}

gboolean ew_pull_counts(const struct ew_pull_row *row) {
  return !row->discarded && !row->tripped && !row->held && strcmp(row->purpose, "pull") == 0;
}

gboolean ew_pull_get(struct ew_book *book, gint64 id, struct ew_pull_row *row, GError **error) {
  *row = (struct ew_pull_row){0};
  struct ew_port_rows *s =
      ew_sql_query(DB, error, "SELECT " PULL_COLUMNS " FROM pull WHERE id = ?", "i", id);
  gboolean found = ew_sql_next(s, error);
  if (found)
    *row = pull_row(s);
  else if (error && !*error)
    ew_refuse_with(error, EW_REMEDY_LIST_PULLS, "there is no pull %lld in this book",
                   (long long)id);
  ew_sql_done(s);
  return found;
}

gboolean ew_pull_last(struct ew_book *book, gint64 engine_id, struct ew_pull_row *row,
                      GError **error) {
  *row = (struct ew_pull_row){0};
  struct ew_port_rows *s =
      engine_id ? ew_sql_query(DB, error,
                               "SELECT " PULL_COLUMNS
                               " FROM pull WHERE engine_id = ? ORDER BY id DESC LIMIT 1",
                               "i", engine_id)
                : ew_sql_query(DB, error,
                               "SELECT " PULL_COLUMNS " FROM pull ORDER BY id DESC LIMIT 1", "");
  gboolean any = ew_sql_next(s, error);
  if (any)
    *row = pull_row(s);
  ew_sql_done(s);
  return any;
}

/* The rows of a query, newest first where `turned`. */
static GArray *pull_rows(struct ew_port_rows *s, gboolean turned, GError **error) {
  GArray *rows = g_array_new(FALSE, FALSE, sizeof(struct ew_pull_row));
  g_array_set_clear_func(rows, (GDestroyNotify)ew_pull_row_clear);
  while (ew_sql_next(s, error)) {
    struct ew_pull_row row = pull_row(s);
    g_array_append_val(rows, row);
  }
  ew_sql_done(s);
  if (error && *error) { /* half a list would say that nobody ran the rest */
    g_array_unref(rows);
    return NULL;
  }
  for (guint i = 0; turned && i < rows->len / 2; i++) {
    struct ew_pull_row *a = &g_array_index(rows, struct ew_pull_row, i);
    struct ew_pull_row *b = &g_array_index(rows, struct ew_pull_row, rows->len - 1 - i);
    struct ew_pull_row between = *a;
    *a = *b;
    *b = between;
  }
  return rows;
}

/* By time, then by number; what has no time comes first, as a store orders it. */
static gint as_run(gconstpointer a, gconstpointer b) {
  const struct ew_pull_row *one = a, *other = b;
  int by_time = g_strcmp0(one->at, other->at);
  return by_time ? by_time : (one->id > other->id) - (one->id < other->id);
}

/* Put in order here: a store that sorts such wide rows writes them to a file first. Most lists are in order as they come. */
static GArray *in_order(GArray *rows) {
  gboolean sorted = TRUE;
  for (guint i = 1; rows && sorted && i < rows->len; i++)
    sorted = as_run(&g_array_index(rows, struct ew_pull_row, i - 1),
                    &g_array_index(rows, struct ew_pull_row, i)) < 0;
  if (!sorted)
    g_array_sort(rows, as_run);
  return rows;
}

/* Two statements each, and none that leaves it open: a store takes an index for a condition that always holds, so an engine's pulls cost
 * as many rows as it has, and not all of the book. */
GArray *ew_pull_list(struct ew_book *book, gint64 engine_id, GError **error) {
  struct ew_port_rows *s =
      engine_id ? ew_sql_query(DB, error, "SELECT " PULL_COLUMNS " FROM pull WHERE engine_id = ?",
                               "i", engine_id)
                : ew_sql_query(DB, error, "SELECT " PULL_COLUMNS " FROM pull", "");
  return in_order(pull_rows(s, FALSE, error));
}

GArray *ew_pull_newest(struct ew_book *book, gint64 engine_id, guint most, GError **error) {
  struct ew_port_rows *s =
      engine_id ? ew_sql_query(DB, error,
                               "SELECT " PULL_COLUMNS
                               " FROM pull WHERE id IN (SELECT id FROM pull WHERE engine_id = ?1 "
                               "ORDER BY at DESC, id DESC LIMIT ?2) ORDER BY at DESC, id DESC",
                               "ii", engine_id, (gint64)most)
                : ew_sql_query(DB, error,
                               "SELECT " PULL_COLUMNS
                               " FROM pull WHERE id IN (SELECT id FROM pull ORDER BY at DESC, id "
                               "DESC LIMIT ?) ORDER BY at DESC, id DESC",
                               "i", (gint64)most);
  return pull_rows(s, TRUE, error);
}

gboolean ew_pull_count(struct ew_book *book, gint64 engine_id, gint64 *count, GError **error) {
  struct ew_port_rows *s =
      engine_id
          ? ew_sql_query(DB, error, "SELECT count(*) FROM pull WHERE engine_id = ?", "i", engine_id)
          : ew_sql_query(DB, error, "SELECT count(*) FROM pull", "");
  gboolean found = ew_sql_next(s, error);
  *count = found ? ew_sql_int(s, 0) : 0;
  ew_sql_done(s);
  return found;
}

gboolean ew_pull_any_real(struct ew_book *book, gint64 engine_id, gboolean *any, GError **error) {
  struct ew_port_rows *s =
      engine_id
          ? ew_sql_query(
                DB, error,
                "SELECT EXISTS (SELECT 1 FROM pull WHERE engine_id = ? AND NOT " PULL_INVENTED ")",
                "i", engine_id)
          : ew_sql_query(DB, error,
                         "SELECT EXISTS (SELECT 1 FROM pull WHERE NOT " PULL_INVENTED ")", "");
  gboolean found = ew_sql_next(s, error);
  *any = found && ew_sql_int(s, 0);
  ew_sql_done(s);
  return found;
}

gboolean ew_pull_discard(struct ew_book *book, gint64 id, const char *reason, GError **error) {
  g_autofree char *detail = g_strdup_printf("pull %" G_GINT64_FORMAT ": %s", id, reason);
  return ew_sql_run(DB, error, "UPDATE pull SET discarded = ? WHERE id = ?", "ti",
                    *reason ? reason : NULL, id) &&
         ew_book_log(book, *reason ? "discard" : "take back a discard", detail, error);
}

gboolean ew_pull_mean_put(struct ew_book *book, gint64 id, double band_mean_n_m, GError **error) {
  g_assert(ew_book_is_writing(book));
  return ew_sql_run(DB, error, "UPDATE pull SET band_mean_n_m = ? WHERE id = ?", "di",
                    band_mean_n_m, id);
}

gboolean ew_curve_is_earlier(const struct ew_curve_row *row) {
  return row->reduction != EW_REDUCTION;
}

gboolean ew_curve_put(struct ew_book *book, gint64 pull_id, const struct ew_curve_row *row,
                      GError **error) {
  g_assert(ew_book_is_writing(book));
  gsize size;
  const void *bytes = g_bytes_get_data(row->bytes, &size);
  g_autofree char *detail = g_strdup_printf("pull %" G_GINT64_FORMAT ": %s", pull_id, row->digest);
  return ew_sql_run(DB, error,
                    "INSERT INTO curve (pull_id, method, cell, engine, digest, bytes, program, "
                    "calibration, reduction) "
                    "VALUES (?, ?, ?, "
                    "?, ?, ?, ?, ?, ?) "
                    "ON CONFLICT(pull_id) DO UPDATE SET method = excluded.method, cell = "
                    "excluded.cell, engine = "
                    "excluded.engine, digest = excluded.digest, bytes = excluded.bytes, program = "
                    "excluded.program, calibration = excluded.calibration, reduction = "
                    "excluded.reduction",
                    "itttt"
                    "btti",
                    pull_id, row->method, row->cell, row->engine, row->digest, bytes, size,
                    "enginewright " EW_VERSION, row->calibration, (gint64)EW_REDUCTION) &&
         ew_book_log(book, "curve", detail, error);
}

gboolean ew_curve_get(struct ew_book *book, gint64 pull_id, struct ew_curve_row *row,
                      GError **error) {
  *row = (struct ew_curve_row){0};
  struct ew_port_rows *s = ew_sql_query(DB, error,
                                        "SELECT method, cell, engine, digest, bytes, program, "
                                        "calibration, reduction FROM curve WHERE pull_id = ?",
                                        "i", pull_id);
  gboolean found = ew_sql_next(s, error);
  if (found)
    *row = (struct ew_curve_row){ew_sql_text(s, 0), ew_sql_text(s, 1), ew_sql_text(s, 2),
                                 ew_sql_text(s, 3), ew_sql_blob(s, 4), ew_sql_text(s, 5),
                                 ew_sql_text(s, 6), ew_sql_int(s, 7)};
  else if (error && !*error)
    ew_refuse(error, "pull %" G_GINT64_FORMAT " has no curve in this book", pull_id);
  ew_sql_done(s);
  return found;
}

void ew_curve_row_clear(struct ew_curve_row *row) {
  g_clear_pointer(&row->method, g_free);
  g_clear_pointer(&row->cell, g_free);
  g_clear_pointer(&row->engine, g_free);
  g_clear_pointer(&row->digest, g_free);
  g_clear_pointer(&row->bytes, g_bytes_unref);
  g_clear_pointer(&row->program, g_free);
  g_clear_pointer(&row->calibration, g_free);
}

gboolean ew_channel_map_get(struct ew_book *book, const char *source, char **yaml, GError **error) {
  return text_of(book, yaml, error, "SELECT yaml FROM channel_map WHERE source = ?", source);
}

gboolean ew_channel_map_put(struct ew_book *book, const char *source, const char *yaml,
                            GError **error) {
  g_assert(ew_book_is_writing(book));
  g_autofree char *now = ew_time_now();
  if (!yaml)
    return ew_sql_run(DB, error, "DELETE FROM channel_map WHERE source = ?", "t", source) &&
           ew_book_log(book, "channel map forgotten", source, error);
  return ew_sql_run(DB, error,
                    "INSERT INTO channel_map (source, yaml, at) VALUES (?, ?, ?) ON "
                    "CONFLICT(source) DO UPDATE SET yaml = "
                    "excluded.yaml, at = excluded.at",
                    "ttt", source, yaml, now) &&
         ew_book_log(book, "channel map", source, error);
}
