/* Two statements over indexes. A block that does not hold what it says is refused as everywhere (book/stream.h). */
#include "book/stream_now.h"
#include "base/error.h"
#include "book/sql.h"
#include <string.h>

#define DB ew_book_port(book)

static void now_clear(gpointer data) {
  g_free(((struct ew_stream_now *)data)->source);
}

GArray *ew_stream_under_way(struct ew_book *book, gint64 engine_id, GError **error) {
  GError *problem = NULL;
  GArray *rows = g_array_new(FALSE, FALSE, sizeof(struct ew_stream_now));
  g_array_set_clear_func(rows, now_clear);
  struct ew_port_rows *s = ew_sql_query(
      DB, &problem,
      "SELECT s.recording_id, s.source FROM stream s JOIN recording r ON r.id = s.recording_id "
      "WHERE s.ended_at IS NULL AND (?1 = 0 OR r.engine_id = ?1) ORDER BY s.recording_id DESC",
      "i", engine_id);
  while (ew_sql_next(s, &problem)) {
    struct ew_stream_now row = {ew_sql_int(s, 0), ew_sql_text(s, 1)};
    g_array_append_val(rows, row);
  }
  ew_sql_done(s);
  if (ew_sql_tell(problem, error))
    return rows;
  g_array_unref(rows);
  return NULL;
}

static gboolean hand_out(gint64 id, gint64 rows, const void *bytes, gsize size, gsize columns,
                         ew_stream_take take, gpointer user, GError **error) {
  if (!ew_stream_is_block(rows, size, columns))
    return ew_refuse(error,
                     "live recording %" G_GINT64_FORMAT
                     ": a block does not hold the rows that it says: "
                     "the book is damaged; take it from a backup",
                     id);
  g_autofree guint64 *values = g_memdup2(bytes, size);
  for (gsize i = 0; i < (gsize)rows * columns; i++)
    values[i] = GUINT64_FROM_LE(values[i]);
  take((const double *)(void *)values, (gsize)rows, columns, user);
  return TRUE;
}

gboolean ew_stream_last_block(struct ew_book *book, gint64 id, char **stored_at,
                              ew_stream_take take, gpointer user, GError **error) {
  GError *problem = NULL;
  *stored_at = NULL;
  g_auto(GStrv) headings = ew_stream_headings(book, id, error);
  if (!headings)
    return FALSE;
  struct ew_port_rows *s =
      ew_sql_query(DB, &problem,
                   "SELECT rows, bytes, stored_at FROM stream_block WHERE recording_id = ? ORDER "
                   "BY sequence DESC LIMIT 1",
                   "i", id);
  if (ew_sql_next(s, &problem)) {
    gsize size;
    const void *bytes = ew_sql_bytes(s, 1, &size);
    *stored_at = ew_sql_text(s, 2);
    hand_out(id, ew_sql_int(s, 0), bytes, size, g_strv_length(headings), take, user, &problem);
  }
  ew_sql_done(s);
  if (ew_sql_tell(problem, error))
    return TRUE;
  g_clear_pointer(stored_at, g_free);
  return FALSE;
}
