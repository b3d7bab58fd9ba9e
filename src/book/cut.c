/* Places are found from the end of the stream backwards, as a pull has only just ended when it is cut; they are read forwards
 * from their first block. A book may come from anybody: a place that leads nowhere is refused, and memory is taken as rows
 * are found and not as they are promised. What a cut is and what is kept of it: cut.h. */
#include "book/cut.h"
#include "base/error.h"
#include "base/node.h"
#include "book/sql.h"
#include "book/stream.h"
#include "book/write.h"
#include <string.h>

#define DB ew_book_port(book)
#define HELD_MOST                                                                                  \
  (1u << 20) /* figures held in memory, 8 MB; those of a longer cut are read where they stand */

static gboolean damaged(gint64 stream_id, const struct ew_cut_place *place, GError **error) {
  return ew_refuse(error,
                   "live recording %" G_GINT64_FORMAT " does not have the %" G_GINT64_FORMAT
                   " rows of a pull from row %" G_GINT64_FORMAT " of its block %" G_GINT64_FORMAT
                   " on: the book is damaged; take it from a backup",
                   stream_id, place->rows, place->skip, place->block);
}

gboolean ew_cut_find(struct ew_book *book, gint64 stream_id, const struct ew_cut_anchor *anchor,
                     gint64 from_row, gint64 rows, struct ew_cut_place *place, GError **error) {
  GError *problem = NULL;
  gint64 before = anchor->rows; /* rows that come before the block at hand */
  *place = (struct ew_cut_place){0};
  if (rows <= 0 || from_row < 0 || rows > anchor->rows - from_row)
    return ew_refuse(error,
                     "rows %" G_GINT64_FORMAT " to %" G_GINT64_FORMAT
                     " are not all stored: the live recording has %" G_GINT64_FORMAT,
                     from_row, from_row + rows, anchor->rows);
  struct ew_port_rows *s =
      ew_sql_query(DB, &problem,
                   "SELECT sequence, rows FROM stream_block WHERE recording_id = "
                   "? AND sequence < ? ORDER BY sequence DESC",
                   "ii", stream_id, anchor->block);
  while (before > from_row && ew_sql_next(s, &problem) && ew_sql_int(s, 1) > 0) {
    before -= ew_sql_int(s, 1);
    place->block = ew_sql_int(s, 0);
  }
  ew_sql_done(s);
  if (!problem && (before > from_row || before < 0))
    return damaged(stream_id, &(struct ew_cut_place){0, from_row, rows, NULL}, error);
  place->skip = from_row - before;
  place->rows = rows;
  g_assert(problem || (place->skip >= 0 && before <= from_row));
  return ew_sql_tell(problem, error);
}

/* What reads the rows of a place, block by block. */
struct reader {
  struct ew_book *book;
  gint64 stream_id;
  struct ew_cut_place place;
  char *yaml; /* its sensors */
  struct ew_source_channels channels, known;
  struct ew_sensors *sensors;
  struct ew_sensor_plan plan;
};

static void reader_free(gpointer self) {
  struct reader *r = self;
  ew_source_channels_clear(&r->known);
  ew_sensor_plan_clear(&r->plan);
  ew_sensors_free(r->sensors);
  ew_source_channels_clear(&r->channels);
  g_free(r->yaml);
  g_free(r);
}

static gboolean read_sensors(const char *yaml, struct ew_sensors **sensors, GError **error) {
  *sensors = NULL;
  if (!yaml)
    return TRUE;
  g_autoptr(ew_node) root = ew_node_parse("sensors", yaml, strlen(yaml), error);
  *sensors = root ? ew_sensors_read(root, "sensors", error) : NULL;
  return *sensors != NULL;
}

static struct reader *reader_new(struct ew_book *book, gint64 stream_id,
                                 const struct ew_cut_place *place, GError **error) {
  struct ew_source_channels channels;
  struct ew_sensors *sensors;
  if (!ew_stream_channels(book, stream_id, &channels, error))
    return NULL;
  if (!read_sensors(place->sensors, &sensors, error)) {
    ew_source_channels_clear(&channels);
    return NULL;
  }
  struct reader *r = g_new0(struct reader, 1);
  *r = (struct reader){.book = book,
                       .stream_id = stream_id,
                       .place = *place,
                       .yaml = g_strdup(place->sensors),
                       .channels = channels,
                       .sensors = sensors};
  r->place.sensors = r->yaml;
  ew_sensor_plan_make(sensors, &r->channels, &r->plan);
  ew_sensor_plan_channels(&r->plan, &r->channels, &r->known);
  g_assert(r->plan.count == channels.count && r->known.count == channels.count);
  return r;
}

/* Raw through the calibration: a thermocouple's junction is another column of the same row. */
static void calibrate(const struct reader *r, const guint64 *little, double *values, gsize rows) {
  gsize columns = r->plan.count + 1;
  g_autofree double *raw = g_new(double, columns);
  for (gsize row = 0; row < rows; row++) {
    for (gsize c = 0; c < columns; c++) {
      guint64 bits;
      memcpy(&bits, little + row * columns + c, sizeof bits);
      bits = GUINT64_FROM_LE(bits);
      memcpy(&raw[c], &bits, sizeof bits);
    }
    values[row * columns] = raw[0];
    ew_sensor_plan_apply(&r->plan, raw + 1, values + row * columns + 1);
  }
}

/* *left: rows that are not there. */
static gboolean each_block(const struct reader *r, ew_frames_take take, gpointer user, gint64 *left,
                           GError **error) {
  gsize columns = r->channels.count + 1, skip = (gsize)r->place.skip;
  g_autoptr(GArray) values = g_array_new(FALSE, FALSE, sizeof(double));
  struct ew_port_rows *s =
      ew_sql_query(ew_book_port(r->book), error,
                   "SELECT rows, bytes, sequence FROM stream_block WHERE recording_id = ? AND "
                   "sequence >= ? ORDER BY sequence",
                   "ii", r->stream_id, r->place.block);
  gboolean more = TRUE;
  *left = r->place.rows;
  for (gint64 next = r->place.block; more && *left > 0 && ew_sql_next(s, error); next++) {
    gsize size;
    const guint64 *bytes = ew_sql_bytes(s, 1, &size);
    gsize rows = (gsize)ew_sql_int(s, 0);
    if (ew_sql_int(s, 2) != next || !ew_stream_is_block(ew_sql_int(s, 0), size, columns) ||
        skip >= rows)
      break;
    rows = MIN(rows - skip, (gsize)*left);
    g_array_set_size(values, (guint)(rows * columns));
    calibrate(r, bytes + skip * columns, (double *)(void *)values->data, rows);
    more = take((const double *)(const void *)values->data, rows, user, error);
    *left -= (gint64)rows;
    skip = 0;
  }
  ew_sql_done(s);
  return more;
}

static gboolean reader_each(gpointer self, ew_frames_take take, gpointer user, GError **error) {
  const struct reader *r = self;
  GError *problem = NULL;
  gint64 left = 0;
  gboolean more = each_block(r, take, user, &left, &problem);
  if (problem)
    return ew_sql_tell(problem, error);
  return more && (left == 0 || damaged(r->stream_id, &r->place, error));
}

static const struct ew_frames_source reader_source = {reader_each, reader_free};

static gboolean keep_rows(const double *values, gsize rows, gpointer user, GError **error) {
  (void)error;
  struct ew_frames *frames = user;
  memcpy(frames->values + frames->rows * frames->columns, values,
         rows * frames->columns * sizeof *values);
  frames->rows += rows;
  return TRUE;
}

static gboolean look_only(const double *values, gsize rows, gpointer user, GError **error) {
  (void)values, (void)rows, (void)user, (void)error;
  return TRUE;
}

/* Into memory, if there are few; else looked through once, so that a place that leads nowhere is refused here. */
static gboolean settle(struct ew_frames *frames, GError **error) {
  gsize rows = frames->rows;
  if (rows > HELD_MOST / frames->columns)
    return ew_frames_each(frames, look_only, NULL, error);
  frames->values = g_new(double, rows * frames->columns);
  frames->rows = 0;
  gboolean good = reader_each(frames->self, keep_rows, frames, error);
  g_assert(!good || frames->rows == rows);
  reader_free(frames->self);
  frames->source = NULL;
  return good;
}

struct ew_frames *ew_cut_frames(struct ew_book *book, gint64 stream_id,
                                const struct ew_cut_place *place, GError **error) {
  struct reader *r = reader_new(book, stream_id, place, error);
  if (!r)
    return NULL;
  gsize columns = r->channels.count + 1;
  if (place->rows <= 0 || place->skip < 0 || place->rows > G_MAXINT64 / (gint64)columns) {
    damaged(stream_id, place, error);
    reader_free(r);
    return NULL;
  }
  g_autoptr(ew_frames) frames = g_new0(struct ew_frames, 1);
  frames->headings = ew_stream_headings_of(r->known.names, r->known.units, r->known.count);
  frames->rows = (gsize)place->rows;
  frames->columns = columns;
  frames->source = &reader_source;
  frames->self = r;
  return settle(frames, error) ? g_steal_pointer(&frames) : NULL;
}

gboolean ew_cut_read(struct ew_book *book, gint64 recording_id, struct ew_frames **frames,
                     GError **error) {
  GError *problem = NULL;
  *frames = NULL;
  struct ew_port_rows *s = ew_sql_query(
      DB, &problem,
      "SELECT recording_id, block, skip, rows, sensors FROM stream_pull WHERE cut_id = "
      "? AND block IS NOT NULL",
      "i", recording_id);
  gboolean is = ew_sql_next(s, &problem);
  gint64 stream_id = is ? ew_sql_int(s, 0) : 0;
  g_autofree char *sensors = is ? ew_sql_text(s, 4) : NULL;
  struct ew_cut_place place = {0};
  if (is)
    place = (struct ew_cut_place){ew_sql_int(s, 1), ew_sql_int(s, 2), ew_sql_int(s, 3), sensors};
  ew_sql_done(s);
  if (!ew_sql_tell(problem, error))
    return FALSE;
  *frames = is ? ew_cut_frames(book, stream_id, &place, error) : NULL;
  return !is || *frames != NULL;
}

GBytes *ew_cut_line(void) {
  static const char line[] = "its rows are in its live recording: stream_pull says where\n";
  return g_bytes_new_static(line, sizeof line - 1);
}

gboolean ew_stream_pull_add(struct ew_book *book, gint64 stream_id, gint64 cut_id, double from_s,
                            double to_s, const char *near_json, const struct ew_cut_place *place,
                            GError **error) {
  g_assert(stream_id > 0 && cut_id > 0 && stream_id != cut_id);
  g_assert(ew_book_is_writing(book));
  if (!place)
    return ew_sql_run(DB, error,
                      "INSERT INTO stream_pull (recording_id, cut_id, from_s, to_s, near) VALUES "
                      "(?, ?, ?, ?, ?) ON CONFLICT DO NOTHING",
                      "iiddt", stream_id, cut_id, from_s, to_s, near_json);
  return ew_sql_run(
      DB, error,
      "INSERT INTO stream_pull (recording_id, cut_id, from_s, to_s, near, block, skip, "
      "rows, sensors) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
      "iiddtiiit", stream_id, cut_id, from_s, to_s, near_json, place->block, place->skip,
      place->rows, place->sensors);
}

static void pull_clear(struct ew_stream_pull_row *row) {
  g_free(row->near_json);
}

GArray *ew_stream_pull_list(struct ew_book *book, gint64 stream_id, GError **error) {
  GArray *rows = g_array_new(FALSE, FALSE, sizeof(struct ew_stream_pull_row));
  g_array_set_clear_func(rows, (GDestroyNotify)pull_clear);
  struct ew_port_rows *s = ew_sql_query(DB, error,
                                        "SELECT cut_id, from_s, to_s, near FROM stream_pull WHERE "
                                        "recording_id = ? ORDER BY cut_id",
                                        "i", stream_id);
  while (ew_sql_next(s, error)) {
    struct ew_stream_pull_row row = {stream_id, ew_sql_int(s, 0), ew_sql_double(s, 1),
                                     ew_sql_double(s, 2), ew_sql_text(s, 3)};
    g_array_append_val(rows, row);
  }
  ew_sql_done(s);
  return rows;
}
