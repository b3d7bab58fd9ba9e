/* Trips in words, and one with the samples around it from the stored stream (at most four million figures; more is
 * refused). Samples are raw: with a table of sensors they are marked as not calibrated. */
#include "desk/trip.h"
#include "base/as_pointer.h"
#include "base/error.h"
#include <math.h>
#include <string.h>

#define FIGURES_MOST 4000000u

EW_MESSAGE(shut_down, "desk.trip-shut-down", EW_DANGER, "shut down");
EW_MESSAGE(back_off, "desk.trip-back-off", EW_DANGER, "back off");
EW_MESSAGE(notice, "desk.trip-notice", EW_NOTE, "notice");
EW_MESSAGE(in_pull, "desk.trip-in-pull", EW_NOTE, "in pull {pull}");
EW_MESSAGE(between, "desk.trip-between", EW_NOTE, "between pull {after} and pull {before}");
EW_MESSAGE(after, "desk.trip-after", EW_NOTE, "after pull {pull}");
EW_MESSAGE(before, "desk.trip-before", EW_NOTE, "before pull {pull}");
EW_MESSAGE(outside, "desk.trip-outside", EW_NOTE, "outside any pull");
EW_MESSAGE(trip_plain, "desk.trip", EW_NOTE, "{action}, {alarm}, {place} (trip {trip})");
EW_MESSAGE(trip_found, "desk.trip-found", EW_CAUTION,
           "{action}, {alarm}, {place} (trip {trip}): found '{found}' ({who}, {day})");
EW_MESSAGE(trip_open, "desk.trip-open", EW_DANGER,
           "{action}, {alarm}, {place} (trip {trip}): nobody has written down what was found");
EW_MESSAGE(trips, "desk.trips", EW_DANGER, "{trips}");

static ew_message *place_of(const struct ew_trip_row *t) {
  if (t->pull_id)
    return ew_message(&in_pull, ew_say_count("pull", t->pull_id));
  if (t->after_pull && t->before_pull)
    return ew_message(&between, ew_say_count("after", t->after_pull),
                      ew_say_count("before", t->before_pull));
  if (t->after_pull)
    return ew_message(&after, ew_say_count("pull", t->after_pull));
  if (t->before_pull)
    return ew_message(&before, ew_say_count("pull", t->before_pull));
  return ew_message_plain(&outside);
}

/* The action's key as a word; a key of a later program as it is. */
static struct ew_argument say_action(const char *key) {
  static const struct ew_message_kind *const words[] = {&shut_down, &back_off, &notice};
  for (gsize i = 0; i < G_N_ELEMENTS(words); i++)
    if (g_strcmp0(key, words[i]->text) == 0)
      return ew_say_word("action", words[i]);
  return ew_say_text("action", key);
}

ew_message *ew_trip_message(const struct ew_trip_row *t) {
  g_autoptr(ew_message) place = place_of(t);
  g_autofree char *day = g_strndup(t->found_at ? t->found_at : "", 10);
  struct ew_argument action = say_action(t->action), alarm = ew_say_term("alarm", t->name),
                     where = ew_say_message("place", place), id = ew_say_count("trip", t->id);
  if (t->found)
    return ew_message(&trip_found, action, alarm, where, id, ew_say_text("found", t->found),
                      ew_say_text("who", t->found_by), ew_say_text("day", day));
  return ew_message(t->asks ? &trip_open : &trip_plain, action, alarm, where, id);
}

char *ew_trip_text(const struct ew_trip_row *t) {
  g_autoptr(ew_message) message = ew_trip_message(t);
  return ew_message_text(message, EW_UNITS_SI);
}

ew_message *ew_trips_of_pull(struct ew_book *book, gint64 pull_id) {
  g_autoptr(GArray) rows = ew_trip_of_pull(book, pull_id, NULL);
  g_autoptr(GPtrArray) all = ew_messages_new();
  for (guint i = 0; i < rows->len; i++)
    if (g_array_index(rows, struct ew_trip_row, i).asks)
      ew_messages_add(all, ew_trip_message(&g_array_index(rows, struct ew_trip_row, i)));
  return all->len ? ew_message(&trips, ew_say_messages("trips", all)) : NULL;
}

GPtrArray *ew_trips_open(struct ew_book *book, gint64 engine_id) {
  g_autoptr(GArray) rows = ew_trip_open(book, engine_id, NULL);
  GPtrArray *all = ew_messages_new();
  for (guint i = 0; i < rows->len; i++)
    ew_messages_add(all, ew_trip_message(&g_array_index(rows, struct ew_trip_row, i)));
  return all;
}

static void own_texts(struct ew_trip_row *row, char *copy(const char *)) {
  const char **texts[] = {&row->name,  &row->action,   &row->says,    &row->at,
                          &row->found, &row->found_by, &row->found_at};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    *texts[i] = copy(*texts[i]);
}

static char *give_up(const char *text) {
  g_free(ew_as_pointer(text));
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
  g_assert(trip->values && rows * columns <= G_MAXUINT);
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
  g_assert(!good || trip->values->len == trip->rows * trip->columns);
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
