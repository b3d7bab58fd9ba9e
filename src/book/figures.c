/* Digests of figures of stored recordings, made when they are first asked for and kept. Found by digest, and by the
 * counts of rows and channels that go with it. */
#include "book/figures.h"
#include "book/sql.h"
#include "book/store.h"
#include "book/stream.h"
#include "book/write.h"
#include "pull/figures.h"

#define DB ew_book_port(book)

gboolean ew_figures_stored(struct ew_book *book, gint64 recording_id, char **digest,
                           GError **error) {
  GError *problem = NULL;
  struct ew_port_rows *s = ew_sql_query(
      DB, &problem, "SELECT digest FROM figures WHERE recording_id = ?", "i", recording_id);
  *digest = ew_sql_next(s, &problem) ? ew_sql_text(s, 0) : NULL;
  ew_sql_done(s);
  return ew_sql_tell(problem, error);
}

/* NULL of a live recording: it has no file. */
static gboolean read_digest(struct ew_book *book, gint64 recording_id, char **digest,
                            GError **error) {
  struct ew_recording_row row = {0};
  gboolean live;
  *digest = NULL;
  if (!ew_stream_is(book, recording_id, &live, error) ||
      (!live && !ew_recording_get(book, recording_id, &row, error)))
    return FALSE;
  gsize size = 0;
  const void *bytes = row.bytes ? g_bytes_get_data(row.bytes, &size) : NULL;
  GError *problem = NULL;
  if (row.frames)
    *digest = ew_figures_digest_frames(row.frames, &problem);
  else if (bytes)
    *digest = ew_figures_digest(bytes, size, row.name);
  ew_recording_row_clear(&row);
  return ew_sql_tell(problem, error);
}

gboolean ew_figures_of(struct ew_book *book, gint64 recording_id, char **digest, GError **error) {
  return ew_figures_stored(book, recording_id, digest, error) &&
         (*digest || read_digest(book, recording_id, digest, error));
}

gboolean ew_figures_put(struct ew_book *book, gint64 recording_id, const char *digest,
                        GError **error) {
  g_assert(ew_book_is_writing(book));
  return ew_sql_run(
      DB, error,
      "INSERT INTO figures (recording_id, digest) VALUES (?, ?) ON CONFLICT(recording_id) "
      "DO UPDATE SET digest = excluded.digest",
      "it", recording_id, digest);
}

/* Recordings of as many rows and channels whose figures nobody has read yet. NULL with *error. */
static GArray *unknown_like(struct ew_book *book, gint64 rows, gint64 channels, GError **error) {
  GError *problem = NULL;
  GArray *unknown = g_array_new(FALSE, FALSE, sizeof(gint64));
  struct ew_port_rows *s =
      ew_sql_query(DB, &problem,
                   "SELECT id FROM recording WHERE rows = ? AND channels = ? AND id NOT IN (SELECT "
                   "recording_id FROM figures) ORDER BY id",
                   "ii", rows, channels);
  while (ew_sql_next(s, &problem)) {
    gint64 id = ew_sql_int(s, 0);
    g_array_append_val(unknown, id);
  }
  ew_sql_done(s);
  if (!problem)
    return unknown;
  g_array_unref(unknown);
  ew_sql_tell(problem, error);
  return NULL;
}

gboolean ew_figures_find(struct ew_book *book, const char *digest, gint64 rows, gint64 channels,
                         gint64 *id, GError **error) {
  g_autoptr(GArray) unknown = unknown_like(book, rows, channels, error);
  gboolean good = unknown != NULL;
  for (guint i = 0; good && i < unknown->len; i++) {
    gint64 one = g_array_index(unknown, gint64, i);
    g_autofree char *read = NULL;
    good =
        read_digest(book, one, &read, error) && (!read || ew_figures_put(book, one, read, error));
  }
  return good && ew_sql_number(DB, id, error,
                               "SELECT min(f.recording_id) FROM figures f WHERE f.digest = ? AND "
                               "EXISTS (SELECT 1 FROM pull WHERE recording_id = f.recording_id)",
                               "t", digest);
}
