/* Trips: one statement lists them, so that "in which pull" and "what was found" mean the same everywhere. */
#include "book/trip.h"
#include "base/as_pointer.h"
#include "book/found.h"
#include "book/origin.h"
#include "book/sql.h"
#include "book/write.h"
#include <math.h>

#define DB ew_book_port(book)

gboolean ew_trip_add(struct ew_book *book, const struct ew_trip_row *r,
                     const struct ew_trip_time *others, gsize count, GError **error) {
  g_assert(ew_book_is_writing(book));
  g_autofree char *now = ew_time_now();
  struct ew_origin o;
  if (!ew_origin_new(book, now, &o, error))
    return FALSE;
  gint64 id = ew_sql_insert(
      DB, error,
      "INSERT INTO alarm_trip (recording_id, at, time_s, from_s, to_s, name, action, says, value, "
      "bound, " EW_ORIGIN_COLUMNS
      ") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
      "itdddtttddo", r->recording_id, now, r->time_s, r->from_s, r->to_s, r->name, r->action,
      r->says, r->value, r->bound, &o);
  if (!id)
    return FALSE;
  struct ew_trip_time own = {r->recording_id, r->time_s};
  for (gsize i = 0; i <= count; i++) {
    const struct ew_trip_time *one = i < count ? &others[i] : &own;
    if (one->recording_id && isfinite(one->time_s) &&
        !ew_sql_run(DB, error,
                    "INSERT INTO trip_time (trip_id, recording_id, time_s) VALUES (?, ?, ?) ON "
                    "CONFLICT(trip_id, recording_id) DO UPDATE SET time_s = excluded.time_s",
                    "iid", id, one->recording_id, one->time_s))
      return FALSE;
  }
  g_autofree char *detail =
      g_strdup_printf("trip %" G_GINT64_FORMAT ": %s: %s", id, r->action, r->name);
  return ew_book_log(book, "alarm tripped", detail, error);
}

static void trip_clear(struct ew_trip_row *r) {
  const char *texts[] = {r->name, r->action, r->says, r->at, r->found, r->found_by, r->found_at};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    g_free(ew_as_pointer(texts[i]));
}

/* A joined row may be absent, which a bare column that cannot be NULL would pass for damage (sql.h): hence nullif.
 * A recording played again is not an engine that runs: what trips in it asks for nothing. */
static const char listed[] =
    "SELECT t.id, t.recording_id, t.time_s, t.from_s, t.to_s, t.value, t.bound, t.name, t.action, "
    "t.says, t.at, r.engine_id, "
    "(SELECT min(p.id) FROM trip_time x JOIN stream_pull c ON c.recording_id = x.recording_id AND "
    "x.time_s BETWEEN c.from_s AND c.to_s + " EW_TRIP_AFTER_S
    " JOIN pull p ON p.recording_id = c.cut_id WHERE x.trip_id = t.id) AS inside, "
    "coalesce((SELECT max(p.id) FROM trip_time x JOIN stream_pull c ON c.recording_id = "
    "x.recording_id AND c.to_s < x.time_s JOIN pull p ON p.recording_id = c.cut_id WHERE x.trip_id "
    "= t.id), (SELECT max(p.id) FROM pull p WHERE p.engine_id IS NOT DISTINCT FROM r.engine_id AND "
    "p.at < "
    "s.began_at)), "
    "coalesce((SELECT min(p.id) FROM trip_time x JOIN stream_pull c ON c.recording_id = "
    "x.recording_id AND c.from_s > x.time_s JOIN pull p ON p.recording_id = c.cut_id WHERE "
    "x.trip_id = t.id), (SELECT min(p.id) FROM pull p WHERE p.engine_id IS NOT DISTINCT FROM "
    "r.engine_id AND p.at > "
    "t.at AND NOT EXISTS (SELECT 1 FROM trip_time x JOIN stream_pull c ON c.recording_id = "
    "x.recording_id WHERE x.trip_id = t.id AND c.cut_id = p.recording_id))), "
    "(t.action IN (" EW_TRIP_ASKS
    ") AND s.source NOT LIKE 'replay:%') AS asks, nullif(f.text, ''), nullif(f.who, ''), "
    "nullif(f.at, '') "
    "FROM alarm_trip t JOIN recording r ON r.id = t.recording_id JOIN stream s ON s.recording_id = "
    "t.recording_id LEFT JOIN found f ON f.id = (SELECT max(id) FROM found WHERE belongs = 'trip' "
    "AND owner_id = t.id AND withdrawn IS NULL) ";

static GArray *list(struct ew_book *book, const char *where, gint64 id, GError **error) {
  GArray *rows = g_array_new(FALSE, FALSE, sizeof(struct ew_trip_row));
  g_array_set_clear_func(rows, (GDestroyNotify)trip_clear);
  g_autofree char *sql = g_strconcat(listed, where, " ORDER BY t.id", NULL);
  struct ew_port_rows *s = ew_sql_query(DB, error, sql, "i", id);
  while (ew_sql_next(s, error)) {
    struct ew_trip_row row = {.id = ew_sql_int(s, 0),
                              .recording_id = ew_sql_int(s, 1),
                              .time_s = ew_sql_double(s, 2),
                              .from_s = ew_sql_double(s, 3),
                              .to_s = ew_sql_double(s, 4),
                              .value = ew_sql_double(s, 5),
                              .bound = ew_sql_double(s, 6),
                              .name = ew_sql_text(s, 7),
                              .action = ew_sql_text(s, 8),
                              .says = ew_sql_text(s, 9),
                              .at = ew_sql_text(s, 10),
                              .engine_id = ew_sql_int(s, 11),
                              .pull_id = ew_sql_int(s, 12),
                              .asks = (int)ew_sql_int(s, 15),
                              .found = ew_sql_text(s, 16),
                              .found_by = ew_sql_text(s, 17),
                              .found_at = ew_sql_text(s, 18)};
    if (!row.pull_id) {
      row.after_pull = ew_sql_int(s, 13);
      row.before_pull = ew_sql_int(s, 14);
    }
    g_array_append_val(rows, row);
  }
  ew_sql_done(s);
  return rows;
}

GArray *ew_trip_list(struct ew_book *book, GError **error) {
  return list(book, "WHERE ?1 = 0", 0, error);
}

GArray *ew_trip_of_pull(struct ew_book *book, gint64 pull_id, GError **error) {
  return list(book,
              "WHERE EXISTS (SELECT 1 FROM trip_time x JOIN stream_pull c ON c.recording_id = "
              "x.recording_id AND x.time_s BETWEEN c.from_s AND c.to_s + " EW_TRIP_AFTER_S
              " JOIN pull p ON p.recording_id = c.cut_id WHERE x.trip_id = t.id AND p.id = ?1)",
              pull_id, error);
}

GArray *ew_trip_open(struct ew_book *book, gint64 engine_id, GError **error) {
  return list(book, "WHERE asks AND f.text IS NULL AND (?1 = 0 OR r.engine_id = ?1)", engine_id,
              error);
}
