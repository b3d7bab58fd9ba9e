/* The list of trips and one of them with its samples, for people, as JSON, or as a table that any reader takes. */
#include "cli/trips.h"
#include "base/error.h"
#include "base/table_frames.h"
#include "desk/trip.h"
#include <math.h>
#include <stdio.h>

static void write_trip(const void *row, struct ew_json *json) {
  ew_trip_row_json(row, json);
}

static void say_trip(const void *row) {
  const struct ew_trip_row *r = row;
  g_autofree char *what = ew_trip_text(r);
  ew_say("%4lld  %.19s  recording %lld at %8.2f s  %s", (long long)r->id, r->at,
         (long long)r->recording_id, r->time_s, what);
}

static gboolean any_open(const GArray *rows) {
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_trip_row *r = &g_array_index(rows, struct ew_trip_row, i);
    if (r->asks && !r->found)
      return TRUE;
  }
  return FALSE;
}

gboolean ew_say_trips(const struct ew_call *call, struct ew_book *book, GError **error) {
  g_autoptr(GArray) rows = ew_trip_list(book, error);
  ew_answer_rows(call, "trips", rows, write_trip, say_trip);
  if (!call->json && rows->len)
    ew_say(any_open(rows)
               ? EW_TEXT("the samples around one: 'enginewright cell alarms --trip NUMBER'; record "
                         "what was "
                         "found: 'enginewright cell found NUMBER --what TEXT'")
               : EW_TEXT("the samples around one: 'enginewright cell alarms --trip NUMBER'"));
  else if (!call->json && (!error || !*error))
    ew_say("nothing has tripped in this book");
  return !error || !*error;
}

/* A text table with what happened before it, as any reader of tables takes it. */
static void say_table(const struct ew_trip *trip) {
  const struct ew_trip_row *r = &trip->row;
  ew_say("# trip %lld: %s, %s, at %.3f s of recording %lld (%.19s): %s", (long long)r->id,
         ew_tr(r->action), ew_tr(r->name), r->time_s, (long long)r->recording_id, r->at,
         ew_tr(r->says));
  if (!trip->calibrated)
    ew_say("# values as they came, before the sensors' calibration");
  struct ew_frames frames = {.headings = trip->headings,
                             .rows = trip->rows,
                             .columns = trip->columns,
                             .values = (double *)(void *)trip->values->data};
  g_autoptr(GBytes) text = ew_frames_text(&frames, NULL); /* of rows in memory: it is always made */
  gsize size;
  const void *data = g_bytes_get_data(text, &size);
  fwrite(data, 1, size, stdout);
}

gboolean ew_say_trip(const struct ew_call *call, struct ew_book *book, GError **error) {
  const char *text = ew_call_option(call, "trip");
  char *end;
  gint64 id = g_ascii_strtoll(text, &end, 10);
  double before_s, after_s;
  g_auto(ew_trip) trip = {0};
  if (*end || id < 1)
    return ew_refuse(
        error, "--trip '%s' is not a trip number; 'enginewright cell alarms --trips' lists them",
        text);
  if (!ew_call_quantity(call, "before", EW_KIND_TIME, NAN, &before_s, error) ||
      !ew_call_quantity(call, "after", EW_KIND_TIME, NAN, &after_s, error))
    return FALSE;
  if (before_s < 0 || after_s < 0)
    return ew_refuse(error, "--%s: a time before or after the trip cannot be below zero",
                     before_s < 0 ? "before" : "after");
  if (!ew_trip_load(book, id, before_s, after_s, &trip, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_trip_json(&trip, &json);
    ew_answer_end(&json);
  } else
    say_table(&trip);
  return TRUE;
}
