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

#define DB           ew_book_port(book)
#define FIGURES_MOST (64 << 20) /* twice what a pull under way may hold (desk/record_feed.c) */

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

/* Raw through the calibration, in place: a thermocouple's junction is another column of the same row. */
static void calibrate(const struct ew_sensor_plan *plan, double *values, gsize rows) {
  g_assert(rows == 0 || values);
  gsize columns = plan->count + 1;
  g_autofree double *figures = g_new(double, columns);
  for (gsize r = 0; r < rows; r++) {
    double *row = values + r * columns;
    ew_sensor_plan_apply(plan, row + 1, figures);
    memcpy(row + 1, figures, plan->count * sizeof *figures);
  }
}

static gboolean read_sensors(const char *yaml, struct ew_sensors **sensors, GError **error) {
  *sensors = NULL;
  if (!yaml)
    return TRUE;
  g_autoptr(ew_node) root = ew_node_parse("sensors", yaml, strlen(yaml), error);
  *sensors = root ? ew_sensors_read(root, "sensors", error) : NULL;
  return *sensors != NULL;
}

/* Rows of the blocks from the first one on, as many as are wanted or there are. */
static GArray *read_rows(struct ew_book *book, gint64 stream_id, const struct ew_cut_place *place,
                         gsize columns, GError **error) {
  g_assert(columns > 0 && place->rows > 0 && place->skip >= 0);
  GArray *values = g_array_new(FALSE, FALSE, sizeof(double));
  gsize wanted = (gsize)place->rows * columns, skip = (gsize)place->skip;
  struct ew_port_rows *s =
      ew_sql_query(DB, error,
                   "SELECT rows, bytes, sequence FROM stream_block WHERE recording_id = ? AND "
                   "sequence >= ? ORDER BY sequence",
                   "ii", stream_id, place->block);
  for (gint64 next = place->block; values->len < wanted && ew_sql_next(s, error); next++) {
    gsize size;
    const guint64 *bytes = ew_sql_bytes(s, 1, &size);
    gsize rows = (gsize)ew_sql_int(s, 0);
    if (ew_sql_int(s, 2) != next || !ew_stream_is_block(ew_sql_int(s, 0), size, columns) ||
        skip >= rows)
      break;
    gsize from = skip * columns, count = MIN(rows * columns - from, wanted - values->len);
    for (gsize i = 0; i < count; i++) {
      guint64 little;
      double value;
      memcpy(&little, bytes + from + i, sizeof little);
      little = GUINT64_FROM_LE(little);
      memcpy(&value, &little, sizeof value);
      g_array_append_val(values, value);
    }
    skip = 0;
  }
  ew_sql_done(s);
  return values;
}

static struct ew_frames *frames_of(struct ew_book *book, gint64 stream_id,
                                   const struct ew_cut_place *place,
                                   const struct ew_source_channels *channels,
                                   const struct ew_sensors *sensors, GError **error) {
  GError *problem = NULL;
  gsize columns = channels->count + 1;
  if (place->rows <= 0 || place->skip < 0 || place->rows > FIGURES_MOST / (gint64)columns) {
    damaged(stream_id, place, error);
    return NULL;
  }
  GArray *values = read_rows(book, stream_id, place, columns, &problem);
  if (problem || values->len != (gsize)place->rows * columns) {
    g_array_unref(values);
    if (problem)
      ew_sql_tell(problem, error);
    else
      damaged(stream_id, place, error);
    return NULL;
  }
  struct ew_sensor_plan plan;
  struct ew_source_channels known;
  ew_sensor_plan_make(sensors, channels, &plan);
  ew_sensor_plan_channels(&plan, channels, &known);
  g_assert(plan.count + 1 == columns && known.count == channels->count);
  struct ew_frames *frames = g_new0(struct ew_frames, 1);
  *frames = (struct ew_frames){ew_stream_headings_of(known.names, known.units, known.count),
                               (gsize)place->rows, columns,
                               (double *)(void *)g_array_free(values, FALSE)};
  calibrate(&plan, frames->values, frames->rows);
  ew_source_channels_clear(&known);
  ew_sensor_plan_clear(&plan);
  return frames;
}

struct ew_frames *ew_cut_frames(struct ew_book *book, gint64 stream_id,
                                const struct ew_cut_place *place, GError **error) {
  struct ew_source_channels channels;
  struct ew_sensors *sensors;
  if (!ew_stream_channels(book, stream_id, &channels, error))
    return NULL;
  struct ew_frames *frames = read_sensors(place->sensors, &sensors, error)
                                 ? frames_of(book, stream_id, place, &channels, sensors, error)
                                 : NULL;
  ew_sensors_free(sensors);
  ew_source_channels_clear(&channels);
  return frames;
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
