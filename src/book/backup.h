/* A whole copy of a book while it is open and being written to. */
#pragma once
#include "base/progress.h"
#include "book/book.h"

struct ew_backup_options {
  gboolean shared;    /* whoever the umask lets may read the copy; else its owner alone */
  const gint *cancel; /* set from a signal or another thread: nothing is left behind; may be NULL */
  ew_progress progress; /* by the bytes that are written; may be NULL */
  gpointer data;
};
/* Complete, synced, then renamed into place; refuses to overwrite. What an earlier one that was killed left in the same
 * folder is removed first. `options` may be NULL. O(bytes of the book). */
gboolean ew_book_backup(struct ew_book *book, const char *path,
                        const struct ew_backup_options *options, GError **error);
