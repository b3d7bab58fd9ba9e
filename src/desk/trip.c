/* Trips in words, and one with the samples around it from the stored stream (at most four million figures; more is
 * refused). Samples are raw: with a table of sensors they are marked as not calibrated. */
#include "desk/trip.h"
#include "base/error.h"
#include <math.h>
#include <string.h>

#define FIGURES_MOST 4000000u

static void append_place(GString *text, const struct ew_trip_row *t) {
  if (t->pull_id)
    g_string_append_printf(text, "in pull %" G_GINT64_FORMAT, t->pull_id);
  else if (t->after_pull && t->before_pull)
    g_string_append_printf(text, "between pull %" G_GINT64_FORMAT " and pull %" G_GINT64_FORMAT,
                           t->after_pull, t->before_pull);
  else if (t->after_pull)
    g_string_append_printf(text, "after pull %" G_GINT64_FORMAT, t->after_pull);
  else if (t->before_pull)
    g_string_append_printf(text, "before pull %" G_GINT64_FORMAT, t->before_pull);
  else
    g_string_append(text, "outside any pull");
}

char *ew_trip_says(const struct ew_trip_row *t) {
  GString *text = g_string_new(NULL);
  g_string_append_printf(text, "%s, %s, ", t->action, t->name);
  append_place(text, t);
  g_string_append_printf(text, " (trip %" G_GINT64_FORMAT ")", t->id);
  return g_string_free(text, FALSE);
}

char *ew_trip_found_says(const struct ew_trip_row *t) {
  return t->found ? g_strdup_printf(": found '%s' (%s, %.10s)", t->found, t->found_by, t->found_at)
                  : g_strdup(t->asks ? ": nobody has written down what was found" : "");
}

char *ew_trips_of_pull_say(struct ew_book *book, gint64 pull_id) {
  g_autoptr(GArray) rows = ew_trip_of_pull(book, pull_id, NULL);
  GString *text = g_string_new(NULL);
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_trip_row *t = &g_array_index(rows, struct ew_trip_row, i);
    g_autofree char *what = ew_trip_says(t), *found = ew_trip_found_says(t);
    if (t->asks)
      g_string_append_printf(text, "%s%s%s", text->len ? "; " : "", what, found);
  }
  return g_string_free(text, text->len == 0);
}

GPtrArray *ew_trips_open_say(struct ew_book *book, gint64 engine_id) {
  g_autoptr(GArray) rows = ew_trip_open(book, engine_id, NULL);
  GPtrArray *says = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_trip_row *t = &g_array_index(rows, struct ew_trip_row, i);
    g_autofree char *what = ew_trip_says(t), *found = ew_trip_found_says(t);
    g_ptr_array_add(says, g_strconcat(what, found, NULL));
  }
  return says;
}

static void own_texts(struct ew_trip_row *row, char *copy(const char *)) {
  const char **texts[] = {&row->name,  &row->action,   &row->says,    &row->at,
                          &row->found, &row->found_by, &row->found_at};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    *texts[i] = copy(*texts[i]);
}

static char *give_up(const char *text) {
  g_free((char *)text);
  return NULL;
}

static char *keep(const char *text) {
  return g_strdup(text);
}

void ew_trip_clear(struct ew_trip *trip) {
  own_texts(&trip->row, give_up);
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
    own_texts(row, keep);
    return TRUE;
  }
  if (error && *error)
    return FALSE;
  return ew_refuse_with(error, EW_REMEDY_LIST_TRIPS, "trip %lld is not one of the %u in this book",
                        (long long)id, all->len);
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
  ew_json_integer(json, "engine_id", r->engine_id);
  ew_json_integer(json, "pull", r->pull_id);
  ew_json_integer(json, "after_pull", r->after_pull);
  ew_json_integer(json, "before_pull", r->before_pull);
  ew_json_boolean(json, "open", r->asks && !r->found);
  ew_json_text(json, "found", r->found);
  ew_json_text(json, "found_by", r->found_by);
  ew_json_text(json, "found_at", r->found_at);
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
