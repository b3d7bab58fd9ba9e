/* Notes of a test day: what a person saw and wrote, with the time it was seen. A note is never changed;
 * a wrong one is taken back and kept. */
#pragma once
#include "book/book.h"

#define EW_NOTE_BYTES 2000u

struct ew_note_row {
  gint64 id;
  char *day, *at, *who, *text, *withdrawn;
};
/* `at` (ISO 8601 in UTC) and text make a note: the same two again give the first id and add nothing, so
 * that a tablet may send again what it is not sure of. 0 with *error. Inside a transaction. */
gint64 ew_note_add(struct ew_book *book, const char *at, const char *text, gboolean *added,
                   GError **error);
/* Notes of a day (NULL: all), oldest first, also those taken back; the array clears its rows. */
GArray *ew_note_list(struct ew_book *book, const char *day, GError **error);
/* Take back with a reason; with NULL put back. Inside a transaction. */
gboolean ew_note_withdraw(struct ew_book *book, gint64 id, const char *why, GError **error);
