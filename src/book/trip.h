/* Alarms that tripped, each with the pull it happened in, or the two between which it happened, and what was
 * found when somebody looked.
 *
 * A trip is stored once, with its time on the clock of every recording of its session (`trip_time`), since
 * the pull may be cut out of another source than the one that brought the alarmed channel. Which pull it
 * belongs to is not stored but follows from those times and from what was cut (`stream_pull`), so it holds for
 * books of earlier programs too, and for pulls that are cut later. A clock that a sender set back within one
 * recording can lead to the wrong pull: no case is known.
 *
 * A *shut down* or a *back off* stands open until what was found is written down (ew_found_add, "trip"). */
#pragma once
#include "book/book.h"

/* An alarm decides after its hold time: what it saw may be the last instant of a pull. */
#define EW_TRIP_AFTER_S "0.5"

struct ew_trip_row {
  gint64 id, recording_id;                   /* id: set by the book */
  double time_s, from_s, to_s, value, bound; /* from, to: the samples to look at */
  const char *name, *action, *says, *at;     /* at: set by the book */
  /* below: only when read */
  gint64 engine_id;               /* 0: none */
  gint64 pull_id;                 /* it happened in this pull, the first of its cut; 0: in none */
  gint64 after_pull, before_pull; /* in none: between these; 0: there is none */
  gboolean asks;                  /* a shut down or a back off of an engine that runs */
  const char *found, *found_by, *found_at; /* the last active one; NULL: nobody wrote anything */
};
/* When it happened on the clock of another recording of the session. */
struct ew_trip_time {
  gint64 recording_id;
  double time_s;
};
/* Inside a transaction. `others` may hold the trip's own recording too. */
gboolean ew_trip_add(struct ew_book *book, const struct ew_trip_row *row,
                     const struct ew_trip_time *others, gsize count, GError **error);
/* Oldest first: struct ew_trip_row whose texts the array owns. O(trips x log pulls), and for a trip between
 * pulls of two recordings O(pulls of its engine). */
GArray *ew_trip_list(struct ew_book *book, GError **error);
/* Those in this pull, whatever they asked for. */
GArray *ew_trip_of_pull(struct ew_book *book, gint64 pull_id, GError **error);
/* Those that stand open: they ask, and nothing was found yet. Of an engine; 0: of all. */
GArray *ew_trip_open(struct ew_book *book, gint64 engine_id, GError **error);
