#include "desk/trip.h"
#include "base/error.h"
#include <math.h>
#include <string.h>

#define FIGURES_MOST 4000000u

void ew_trip_clear(struct ew_trip *trip) {
  g_free((char *)trip->row.name);
  g_free((char *)trip->row.action);
  g_free((char *)trip->row.says);
  g_free((char *)trip->row.at);
  g_strfreev(trip->headings);
  if (trip->values)
    g_array_unref(trip->values);
  *trip = (struct ew_trip){0};
}

static gboolean find(struct ew_book *book, gint64 id, struct ew_trip_row *row, GError **error) {
  g_autoptr(GArray) all = ew_trip_list(book, error);
  for (guint i = 0; i < all->len; i++) {
    const struct ew_trip_row *one = &g_array_index(all, struct ew_trip_row, i);
    if (one->id != id)
      continue;
    *row = *one;
    row->name = g_strdup(one->name);
    row->action = g_strdup(one->action);
    row->says = g_strdup(one->says);
    row->at = g_strdup(one->at);
    return TRUE;
  }
  if (error && *error)
    return FALSE;
  return ew_refuse(error,
                   "trip %" G_GINT64_FORMAT " is none of the %u in this book: 'cell alarms "
                   "--trips' lists them",
                   id, all->len);
}

static gboolean take(const double *values, gsize rows, gsize columns, gpointer user) {
  struct ew_trip *trip = user;
  trip->rows += rows;
  g_array_append_vals(trip->values, values, (guint)(rows * columns));
  return trip->values->len <= FIGURES_MOST;
}

static gboolean has_sensors(struct ew_book *book, gint64 recording_id) {
  g_autoptr(GArray) marks = ew_mark_list(book, recording_id, NULL);
  gboolean any = FALSE;
  for (guint i = 0; i < marks->len; i++)
    any |= ew_mark_is_calibration(&g_array_index(marks, struct ew_mark_row, i));
  return any;
}

gboolean ew_trip_load(struct ew_book *book, gint64 id, double before_s, double after_s,
                      struct ew_trip *trip, GError **error) {
  *trip = (struct ew_trip){0};
  if (!find(book, id, &trip->row, error))
    return FALSE;
  struct ew_trip_row *row = &trip->row;
  row->from_s = isnan(before_s) ? row->from_s : row->time_s - before_s;
  row->to_s = isnan(after_s) ? row->to_s : row->time_s + after_s;
  trip->values = g_array_new(FALSE, FALSE, sizeof(double));
  trip->calibrated = !has_sensors(book, row->recording_id);
  trip->headings = ew_stream_headings(book, row->recording_id, error);
  gboolean good = trip->headings && ew_stream_between(book, row->recording_id, row->from_s,
                                                      row->to_s, take, trip, error);
  if (good && trip->values->len > FIGURES_MOST)
    good = ew_refuse(error,
                     "%.1f s before and %.1f s after the trip hold over %u figures: ask for less",
                     row->time_s - row->from_s, row->to_s - row->time_s, FIGURES_MOST);
  trip->columns = good ? g_strv_length(trip->headings) : 0;
  if (!good)
    ew_trip_clear(trip);
  return good;
}

void ew_trip_row_json(const struct ew_trip_row *r, struct ew_json *json) {
  ew_json_integer(json, "trip", r->id);
  ew_json_text(json, "at", r->at);
  ew_json_integer(json, "recording", r->recording_id);
  ew_json_number(json, "time_s", r->time_s);
  ew_json_number(json, "from_s", r->from_s);
  ew_json_number(json, "to_s", r->to_s);
  ew_json_text(json, "name", r->name);
  ew_json_text(json, "action", r->action);
  ew_json_text(json, "says", r->says);
  ew_json_number(json, "value", r->value);
  ew_json_number(json, "bound", r->bound);
}

void ew_trip_json(const struct ew_trip *trip, struct ew_json *json) {
  ew_trip_row_json(&trip->row, json);
  ew_json_boolean(json, "raw", !trip->calibrated);
  ew_json_open_array(json, "headings");
  for (gsize c = 0; c < trip->columns; c++)
    ew_json_text(json, NULL, trip->headings[c]);
  ew_json_close_array(json);
  ew_json_open_array(json, "samples");
  for (gsize r = 0; r < trip->rows; r++) {
    ew_json_open_array(json, NULL);
    for (gsize c = 0; c < trip->columns; c++)
      ew_json_number(json, NULL, g_array_index(trip->values, double, r * trip->columns + c));
    ew_json_close_array(json);
  }
  ew_json_close_array(json);
}
