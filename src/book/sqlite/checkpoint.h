/* The write-ahead log moved into the book, and kept short while others read without a pause.
 *
 * SQLite begins its log again only when nobody reads from it. Short readings that overlap for an hour never leave such a moment, and the log
 * grows by all that is recorded: past EW_LOG_MOST it is asked for, readings that begin then find all in the book itself, and those that read
 * from the log are waited for, EW_LOG_WAIT_MS at most, in which others' writing waits too. One that reads on longer is let be until the log
 * has grown by an eighth. (https://www.sqlite.org/wal.html, "Avoiding Excessively Large WAL Files".) */
#ifndef EW_BOOK_SQLITE_CHECKPOINT_H
#define EW_BOOK_SQLITE_CHECKPOINT_H

#include <glib.h>
#include <sqlite3.h>

#define EW_LOG_MOST    (16 << 20) /* bytes */
#define EW_LOG_WAIT_MS 100

struct ew_checkpoints {
  int wait_ms;     /* how long the connection waits for others, otherwise */
  gint64 again_at; /* bytes of log at which a new beginning is asked for; 0: EW_LOG_MOST */
};

/* all: everything, waiting as long as the connection waits, and the log is emptied. Else what can be had at once. SQLITE_OK, SQLITE_BUSY when
 * somebody was in the way, or what went wrong. */
int ew_sqlite_checkpoint(sqlite3 *db, struct ew_checkpoints *kept, gboolean all);

#endif
