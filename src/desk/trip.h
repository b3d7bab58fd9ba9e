/* Trips as they are reported: one in words, those that stand open, and one with the samples around it from the
 * stored stream. */
#pragma once
#include "base/json_writer.h"
#include "base/message.h"
#include "book/stream.h"
#include "book/trip.h"

struct ew_trip {
  struct ew_trip_row row; /* texts owned */
  char **headings;        /* the time first */
  GArray *values;         /* double, rows of as many */
  gsize columns, rows;
  gboolean calibrated; /* FALSE with a table of sensors: values are as they came, before it */
};
typedef struct ew_trip ew_trip;
/* `before_s` and `after_s`: how far around the trip; NaN: as it was stored, 5 s. Refuses an id that is
 * none, and a window that would hold over 4 million figures. */
gboolean ew_trip_load(struct ew_book *book, gint64 id, double before_s, double after_s,
                      struct ew_trip *trip, GError **error);
void ew_trip_clear(struct ew_trip *trip);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(ew_trip, ew_trip_clear)

/* "shut down, oil pressure lost, in pull 12 (trip 3): found 'sump low, filled' (A. Weir, 2026-12-01)", or that nobody has
 * written down what was found. */
ew_message *ew_trip_message(const struct ew_trip_row *row);
char *ew_trip_text(const struct ew_trip_row *row);
/* What tripped in this pull and asked for a look, one after another; NULL: nothing did. */
ew_message *ew_trips_of_pull(struct ew_book *book, gint64 pull_id);
/* A message for each open trip of the engine (0: of any). */
GPtrArray *ew_trips_open(struct ew_book *book, gint64 engine_id);

/* Members of an object: the facts; then, of a loaded one, `headings`, `raw` and `samples`. */
void ew_trip_row_json(const struct ew_trip_row *row, struct ew_json *json);
void ew_trip_json(const struct ew_trip *trip, struct ew_json *json);
