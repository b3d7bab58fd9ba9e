/* Instants in the tables are UTC as text, so the first 19 letters of two compare as they do. */
#include "book/station.h"
#include "base/error.h"
#include "base/zone.h"
#include "book/sql.h"
#include <math.h>
#include <string.h>

#define DB      ew_book_port(book)
#define SECONDS 19 /* "2026-11-30T16:50:00" */

static char *second_of(double unix_s) {
  char *text = ew_instant_write(floor(unix_s));
  if (strlen(text) > SECONDS)
    text[SECONDS] = 0;
  return text;
}

GArray *ew_station_files(struct ew_book *book, double from_s, double to_s, GError **error) {
  GArray *ids = g_array_new(FALSE, FALSE, sizeof(gint64));
  struct ew_port_rows *s =
      ew_sql_query(DB, error,
                   "SELECT r.id, r.measured_at, r.run_s FROM recording r WHERE r.channel_map LIKE "
                   "'%station%' AND r.measured_at IS NOT NULL AND r.run_s IS NOT NULL AND NOT "
                   "EXISTS (SELECT 1 FROM pull p WHERE p.recording_id = r.id) ORDER BY r.id",
                   "");
  while (ew_sql_next(s, error)) {
    gint64 id = ew_sql_int(s, 0);
    double began_s = ew_instant(ew_sql_peek(s, 1)), run_s = ew_sql_double(s, 2);
    if (began_s <= to_s && began_s + run_s >= from_s)
      g_array_append_val(ids, id);
  }
  ew_sql_done(s);
  return ids;
}

GArray *ew_station_streams(struct ew_book *book, double from_s, double to_s, GError **error) {
  GArray *ids = g_array_new(FALSE, FALSE, sizeof(gint64));
  g_autofree char *from = second_of(from_s), *to = second_of(to_s);
  struct ew_port_rows *s = ew_sql_query(
      DB, error,
      "SELECT s.recording_id FROM stream s WHERE substr(s.began_at, 1, 19) <= ?2 AND (s.ended_at "
      "IS NULL OR substr(s.ended_at, 1, 19) >= ?1) AND NOT EXISTS (SELECT 1 FROM stream_pull c "
      "WHERE c.recording_id = s.recording_id) ORDER BY s.recording_id",
      "tt", from, to);
  while (ew_sql_next(s, error)) {
    gint64 id = ew_sql_int(s, 0);
    g_array_append_val(ids, id);
  }
  ew_sql_done(s);
  return ids;
}

/* FALSE ends the reading: `take` said so, or *problem. */
static gboolean take_block(struct ew_port_rows *s, gint64 id, gsize columns,
                           ew_stream_take_stored take, gpointer user, GError **problem) {
  gsize size;
  const void *bytes = ew_sql_bytes(s, 1, &size);
  gsize rows = (gsize)ew_sql_int(s, 0);
  if (!ew_stream_is_block(ew_sql_int(s, 0), size, columns))
    return ew_refuse(problem,
                     "live recording %" G_GINT64_FORMAT ": a block does not hold the rows that it "
                     "says: the book is damaged; take it from a backup",
                     id);
  g_autofree guint64 *values = g_memdup2(bytes, size);
  for (gsize i = 0; i < rows * columns; i++)
    values[i] = GUINT64_FROM_LE(values[i]);
  return take((const double *)(void *)values, rows, columns, ew_instant(ew_sql_peek(s, 2)), user);
}

gboolean ew_stream_stored(struct ew_book *book, gint64 id, double from_s, double to_s,
                          ew_stream_take_stored take, gpointer user, GError **error) {
  GError *problem = NULL;
  g_auto(GStrv) headings = ew_stream_headings(book, id, error);
  if (!headings)
    return FALSE;
  g_autofree char *from = second_of(from_s), *to = second_of(to_s);
  struct ew_port_rows *s =
      ew_sql_query(DB, &problem,
                   "SELECT rows, bytes, stored_at FROM stream_block WHERE recording_id = ?1 AND "
                   "substr(stored_at, 1, 19) BETWEEN ?2 AND ?3 ORDER BY sequence",
                   "itt", id, from, to);
  while (ew_sql_next(s, &problem) &&
         take_block(s, id, g_strv_length(headings), take, user, &problem))
    ;
  ew_sql_done(s);
  return ew_sql_tell(problem, error);
}
