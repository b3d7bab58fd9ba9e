/* Recordings: a file as it came; the rows of a live session (stream.c); or a pull cut out of one, whose rows stay where they are
 * (cut.c). Whoever reads one asks here and need not know which of the three it is. */
#include "base/error.h"
#include "book/cut.h"
#include "book/origin.h"
#include "book/sql.h"
#include "book/store.h"
#include "book/stream.h"
#include "book/write.h"

#define DB ew_book_port(book)

gint64 ew_recording_add(struct ew_book *book, const struct ew_recording_row *row, double run_s,
                        GError **error) {
  g_assert(ew_book_is_writing(book));
  gsize size;
  const void *bytes = g_bytes_get_data(row->bytes, &size);
  g_autofree char *now = ew_time_now();
  g_autofree char *engine =
      row->engine_id ? g_strdup_printf("%" G_GINT64_FORMAT, row->engine_id) : NULL;
  struct ew_origin o;
  if (!ew_origin_new(book, row->measured_at ? row->measured_at : now, &o, error))
    return 0;
  gint64 id = ew_sql_insert(
      DB, error,
      "INSERT INTO recording (engine_id, name, bytes, sha256, rows, channels, "
      "channel_map, run_s, added_at, measured_at, recorder, clock, " EW_ORIGIN_COLUMNS ") "
      "VALUES (CAST(? AS INTEGER), ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING "
      "id",
      "ttbtiitdtttto", engine, row->name, bytes, size, row->sha256, row->rows, row->channels,
      row->channel_map, run_s, now, row->measured_at, row->recorder, row->clock, &o);
  return id && ew_book_log(book, "recording", row->name, error) ? id : 0;
}

static gboolean recording_row(struct ew_book *book, gint64 id, gboolean whole,
                              struct ew_recording_row *row, GError **error) {
  *row = (struct ew_recording_row){0};
  struct ew_port_rows *s = ew_sql_query(
      DB, error,
      "SELECT id, engine_id, rows, channels, name, sha256, channel_map, added_at, "
      "CASE WHEN ?2 = 1 THEN bytes END, measured_at, recorder, clock FROM recording WHERE id = ?1",
      "ii", id, (gint64)whole);
  gboolean found = ew_sql_next(s, error);
  if (found) {
    *row = (struct ew_recording_row){.id = ew_sql_int(s, 0),
                                     .engine_id = ew_sql_int(s, 1),
                                     .rows = ew_sql_int(s, 2),
                                     .channels = ew_sql_int(s, 3),
                                     .name = ew_sql_text(s, 4),
                                     .sha256 = ew_sql_text(s, 5),
                                     .channel_map = ew_sql_text(s, 6),
                                     .added_at = ew_sql_text(s, 7),
                                     .bytes = whole ? ew_sql_blob(s, 8) : NULL,
                                     .measured_at = ew_sql_text(s, 9),
                                     .recorder = ew_sql_text(s, 10),
                                     .clock = ew_sql_text(s, 11)};
  } else if (error && !*error)
    ew_refuse(error, "there is no recording %" G_GINT64_FORMAT " in this book", id);
  ew_sql_done(s);
  return found;
}

gboolean ew_recording_facts(struct ew_book *book, gint64 id, struct ew_recording_row *row,
                            GError **error) {
  return recording_row(book, id, FALSE, row, error);
}

gboolean ew_recording_get(struct ew_book *book, gint64 id, struct ew_recording_row *row,
                          GError **error) {
  gboolean live = FALSE;
  gboolean good = recording_row(book, id, TRUE, row, error) && ew_stream_is(book, id, &live, error);
  if (good && live) {
    g_bytes_unref(row->bytes);
    row->bytes = ew_stream_table(book, id, error);
    good = row->bytes && ew_stream_rows(book, id, &row->rows, error);
  } else if (good)
    good = ew_cut_read(book, id, &row->frames, error);
  if (good && row->frames)
    g_clear_pointer(&row->bytes, g_bytes_unref);
  g_assert(!good || !row->frames != !row->bytes);
  if (!good)
    ew_recording_row_clear(row);
  return good;
}

GBytes *ew_recording_file(const struct ew_recording_row *row, GError **error) {
  return row->frames ? ew_frames_text(row->frames, error) : g_bytes_ref(row->bytes);
}

struct ew_processed *ew_recording_process(const struct ew_recording_row *row,
                                          const struct ew_channel_map *map,
                                          const struct ew_reduce_facts *facts, GError **error) {
  if (row->frames)
    return ew_process_frames(row->frames, row->name, map, facts, error);
  gsize size;
  const void *bytes = g_bytes_get_data(row->bytes, &size);
  return ew_process(bytes, size, row->name, map, facts, error);
}

gboolean ew_recording_told(struct ew_book *book, gint64 id, char **recorder, char **channel_map,
                           GError **error) {
  *recorder = *channel_map = NULL;
  struct ew_port_rows *s =
      ew_sql_query(DB, error, "SELECT recorder, channel_map FROM recording WHERE id = ?", "i", id);
  gboolean found = ew_sql_next(s, error);
  if (found) {
    *recorder = ew_sql_text(s, 0);
    *channel_map = ew_sql_text(s, 1);
  } else if (error && !*error)
    ew_refuse(error, "there is no recording %" G_GINT64_FORMAT " in this book", id);
  ew_sql_done(s);
  return found;
}

gboolean ew_recording_find(struct ew_book *book, const char *sha256, gint64 *id, GError **error) {
  return ew_sql_number(DB, id, error, "SELECT id FROM recording WHERE sha256 = ?", "t", sha256);
}

GArray *ew_recording_ids(struct ew_book *book, GError **error) {
  GArray *ids = g_array_new(FALSE, FALSE, sizeof(gint64));
  struct ew_port_rows *s = ew_sql_query(DB, error, "SELECT id FROM recording ORDER BY id", "");
  while (ew_sql_next(s, error)) {
    gint64 id = ew_sql_int(s, 0);
    g_array_append_val(ids, id);
  }
  ew_sql_done(s);
  return ids;
}

gboolean ew_recording_has_pulls(struct ew_book *book, gint64 id, gboolean *has, GError **error) {
  return ew_sql_is(DB, has, error, "SELECT count(*) FROM pull WHERE recording_id = ?", "i", id);
}

gboolean ew_recording_reread(struct ew_book *book, gint64 id, const struct ew_recording_row *row,
                             GError **error) {
  g_assert(ew_book_is_writing(book));
  g_autofree char *detail = g_strdup_printf("recording %" G_GINT64_FORMAT, id);
  return ew_sql_run(DB, error,
                    "UPDATE recording SET channel_map = ?, rows = ?, channels = ?, recorder = ?, "
                    "clock = ? WHERE id = ?",
                    "tiitti", row->channel_map, row->rows, row->channels, row->recorder, row->clock,
                    id) &&
         ew_sql_run(DB, error, "DELETE FROM life WHERE recording_id = ?", "i", id) &&
         ew_book_log(book, "recording understood anew", detail, error);
}

void ew_recording_row_clear(struct ew_recording_row *row) {
  g_clear_pointer(&row->name, g_free);
  g_clear_pointer(&row->sha256, g_free);
  g_clear_pointer(&row->channel_map, g_free);
  g_clear_pointer(&row->added_at, g_free);
  g_clear_pointer(&row->measured_at, g_free);
  g_clear_pointer(&row->recorder, g_free);
  g_clear_pointer(&row->clock, g_free);
  g_clear_pointer(&row->bytes, g_bytes_unref);
  g_clear_pointer(&row->frames, ew_frames_free);
}
