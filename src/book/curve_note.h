/* Notes pinned on the curve of a pull: what somebody read off it, and at which speed. Rows of `found` that belong to a "curve": the
 * text holds speed and words as one JSON object, {"speed_rpm":4250,"text":"..."}. Never changed and never deleted: a wrong one is
 * taken back with a reason. It judges nothing: what was seen on the engine is EW_FOUND_PULL (found.h). */
#pragma once
#include "book/book.h"

#define EW_CURVE_NOTE       "curve" /* what `found.belongs` says */
#define EW_CURVE_NOTE_BYTES 400u
#define EW_CURVE_NOTES_MOST 40u /* active ones of a pull: a plot has room for no more */

struct ew_curve_note {
  gint64 id, pull_id;
  double speed_rpm;
  char *at, *who, *text, *withdrawn;
};
/* Inside a transaction. The same words at the same speed of the same pull, still active, give the first id and *added FALSE: a press that
 * came twice. `who` NULL or empty: the one who is known to the system. Refuses a pull that is not in the book, a speed that is not a positive
 * number, an empty text, one over the length above, and one more than there is room for. 0 with *error. O(notes of the pull). */
gint64 ew_curve_note_add(struct ew_book *book, gint64 pull_id, double speed_rpm, const char *text,
                         const char *who, gboolean *added, GError **error);
/* Inside a transaction; refuses one that was taken back already. */
gboolean ew_curve_note_withdraw(struct ew_book *book, gint64 id, const char *why, GError **error);
/* Of one pull (0: of all), by speed, also those taken back; the array clears its rows. NULL with *error, as when a book from elsewhere holds
 * one that cannot be read. */
GArray *ew_curve_note_list(struct ew_book *book, gint64 pull_id, GError **error);
