/* Statements kept between uses: what a request asks is asked again by the next, and understanding the text costs more than the
 * answer. Of one connection, used by the thread that has the connection.
 *
 *   taken --- used --- given back (reset, values forgotten) --- taken again
 *                            |
 *                            +-- the one that was left longest is ended when KEPT others wait
 *
 * At most KEPT wait; one whose text is waiting already is ended. A statement that waits holds no lock, no row and none of the values
 * that were bound to it. SQLite prepares it again by itself when tables have changed. */
#pragma once
#include <sqlite3.h>

#define EW_STATEMENTS_KEPT 64

struct ew_statements {
  sqlite3_stmt *waiting[EW_STATEMENTS_KEPT]; /* the last given back first */
  unsigned count;
};
/* One that waits with this very text, else a new one; NULL with the connection's error. O(KEPT). */
sqlite3_stmt *ew_statement_take(struct ew_statements *s, sqlite3 *db, const char *sql);
void ew_statement_give(struct ew_statements *s, sqlite3_stmt *statement);
/* Before the connection is closed. */
void ew_statements_clear(struct ew_statements *s);
