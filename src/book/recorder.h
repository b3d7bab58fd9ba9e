/* Profiles of recorders: how the files and lines of one are read. A profile is never changed: it gets a further version, and what was
 * read by an earlier one says which. What a profile says is its reader's (pull/recorder.h); here it is text. */
#pragma once
#include "book/book.h"

#define EW_RECORDER_NAME_BYTES 80u

struct ew_recorder_row {
  gint64 id, version; /* from 1 */
  char *name, *yaml, *at, *who;
  char *withdrawn; /* reason; NULL: it is used */
};
/* Inside a transaction: the first or a further version of this name; 0 with *error. A further version of one that was withdrawn
 * brings it back. Refuses an empty name, one with a dot or a line end, and one over the length above. */
gint64 ew_recorder_add(struct ew_book *book, const char *name, const char *yaml, const char *who,
                       GError **error);
/* All versions of it; refuses what is not there, and an empty reason. Inside a transaction. */
gboolean ew_recorder_withdraw(struct ew_book *book, const char *name, const char *why,
                              GError **error);
/* Recordings whose column names have this digest are this recorder's from now on; name NULL: nobody's. Inside a transaction. */
gboolean ew_recorder_mark(struct ew_book *book, const char *fingerprint, const char *name,
                          GError **error);
/* The last version (0) or that one; withdrawn or not. *found FALSE: none. */
gboolean ew_recorder_get(struct ew_book *book, const char *name, gint64 version,
                         struct ew_recorder_row *row, gboolean *found, GError **error);
/* The same of the active one whose recordings look so. */
gboolean ew_recorder_of(struct ew_book *book, const char *fingerprint, struct ew_recorder_row *row,
                        gboolean *found, GError **error);
/* Of one name (NULL: of all), by name and version; the array clears its rows. */
GArray *ew_recorder_list(struct ew_book *book, const char *name, GError **error);
/* char*, the fingerprints of one name. */
GPtrArray *ew_recorder_marks(struct ew_book *book, const char *name, GError **error);
void ew_recorder_row_clear(struct ew_recorder_row *row);
