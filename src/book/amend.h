/* A corrected fact: a new reading of a pull beside the former one, with who, when and why. Raw bytes are never touched.
 *
 *     reading 1 ---- amendment ----> reading 2 ---- amendment that undoes it ----> reading 3, with the facts of reading 1
 *         |                              |
 *      former (pull, 1)              former (pull, 2)
 *
 * What was told of a whole recording (channel map, recorder, engine, time) is one for all of its pulls: an amendment of it amends
 * each of them. A pull that the new reading finds no longer in its recording keeps its curve, is discarded with the
 * reason, and has a part below 0. */
#pragma once
#include "book/store.h"

#define EW_AMEND_REASON_BYTES 2000u

struct ew_amendment_row {
  gint64 id, pull_id, reading, undoes; /* reading: the one it made; undoes: 0 for none */
  char *at, *who, *reason;
  char *changes; /* messages, each ew_message_write, one a line */
};
/* Of one pull (0: of all), oldest first; the array clears its rows. */
GArray *ew_amendment_list(struct ew_book *book, gint64 pull_id, GError **error);
/* The changes of a row as messages. */
GPtrArray *ew_amendment_changes(const struct ew_amendment_row *row);

struct ew_former_row { /* as it was at that reading */
  struct ew_pull_row pull;
  struct ew_curve_row curve;
  char *channel_map, *recorder, *clock, *measured_at;
};
gboolean ew_former_get(struct ew_book *book, gint64 pull_id, gint64 reading,
                       struct ew_former_row *row, GError **error);
void ew_former_row_clear(struct ew_former_row *row);

struct ew_amended_pull {
  const struct ew_pull_row
      *row; /* its id, the reading it was computed from, and what it says now */
  const struct ew_curve_row *curve;
  const GPtrArray *changes;  /* messages; never empty */
  const GPtrArray *findings; /* that hold the new reading; NULL: none */
  gint64 undoes;             /* amendment; 0: none */
  gboolean discard;          /* row->discarded is written; else it stays as it stands */
};
/* Inside a transaction, pulls of one recording: the former readings are kept, the new ones written, what held them is answered.
 * Appends the ids of the amendments (gint64) to `ids`. Refuses an empty reason, a pull that is not there, and one that was
 * amended since row->reading was read. */
gboolean ew_amend_pulls(struct ew_book *book, const struct ew_amended_pull *pulls, gsize count,
                        const char *who, const char *reason, GArray *ids, GError **error);
/* Inside a transaction: what is stated about the whole recording; the session that it was cut out of has the same engine. */
gboolean ew_amend_recording(struct ew_book *book, const struct ew_recording_row *row,
                            GError **error);
