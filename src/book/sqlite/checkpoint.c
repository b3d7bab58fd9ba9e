/* See checkpoint.h. A passive checkpoint moves what it can at each turn; only where the log has grown long is a new beginning asked for, with
 * readers waited for. What went wrong is SQLite's own answer: the caller tells it. */
#include "book/sqlite/checkpoint.h"

static gint64 frame_bytes(sqlite3 *db) {
  gint64 size = 0;
  sqlite3_stmt *s = NULL;
  if (sqlite3_prepare_v2(db, "PRAGMA page_size", -1, &s, NULL) == SQLITE_OK &&
      sqlite3_step(s) == SQLITE_ROW)
    size = sqlite3_column_int64(s, 0);
  sqlite3_finalize(s);
  return size +
         24; /* a frame's head: https://www.sqlite.org/fileformat2.html#the_write_ahead_log */
}

static int begin_again(sqlite3 *db, int usual_ms) {
  sqlite3_busy_timeout(db, EW_LOG_WAIT_MS);
  int how = sqlite3_wal_checkpoint_v2(db, NULL, SQLITE_CHECKPOINT_RESTART, NULL, NULL);
  sqlite3_busy_timeout(db, usual_ms);
  return how;
}

int ew_sqlite_checkpoint(sqlite3 *db, struct ew_checkpoints *kept, gboolean all) {
  if (all)
    return sqlite3_wal_checkpoint_v2(db, NULL, SQLITE_CHECKPOINT_TRUNCATE, NULL, NULL);
  int frames = 0;
  int how = sqlite3_wal_checkpoint_v2(db, NULL, SQLITE_CHECKPOINT_PASSIVE, &frames, NULL);
  gint64 bytes = how == SQLITE_OK && frames > 0 ? frames * frame_bytes(db) : 0;
  if (bytes <= EW_LOG_MOST)
    kept->again_at = 0;
  if (bytes <= MAX(kept->again_at, EW_LOG_MOST))
    return how;
  how = begin_again(db, kept->wait_ms);
  kept->again_at = how == SQLITE_OK ? 0 : bytes + EW_LOG_MOST / 8;
  return how;
}
