/* statements.h: a short list in the order of last use. A pragma may act while it is prepared, so it is never kept. */
#include "book/sqlite/statements.h"
#include <glib.h>
#include <string.h>

static gboolean may_wait(const char *sql) {
  return g_ascii_strncasecmp(sql, "PRAGMA", 6) != 0 && g_ascii_strncasecmp(sql, "VACUUM", 6) != 0;
}

static int index_of(const struct ew_statements *s, const char *sql) {
  for (unsigned i = 0; i < s->count; i++)
    if (strcmp(sqlite3_sql(s->waiting[i]), sql) == 0)
      return (int)i;
  return -1;
}

static sqlite3_stmt *take_out(struct ew_statements *s, unsigned i) {
  g_assert(i < s->count && s->count <= EW_STATEMENTS_KEPT);
  sqlite3_stmt *statement = s->waiting[i];
  memmove(&s->waiting[i], &s->waiting[i + 1], sizeof s->waiting[0] * (s->count - i - 1));
  s->count--;
  return statement;
}

sqlite3_stmt *ew_statement_take(struct ew_statements *s, sqlite3 *db, const char *sql) {
  int at = index_of(s, sql);
  if (at >= 0) {
    sqlite3_stmt *known = take_out(s, (unsigned)at);
    g_assert(!sqlite3_stmt_busy(known) && sqlite3_db_handle(known) == db);
    return known;
  }
  sqlite3_stmt *made = NULL;
  unsigned how = may_wait(sql) ? SQLITE_PREPARE_PERSISTENT : 0;
  return sqlite3_prepare_v3(db, sql, -1, how, &made, NULL) == SQLITE_OK ? made : NULL;
}

void ew_statement_give(struct ew_statements *s, sqlite3_stmt *statement) {
  const char *sql = statement ? sqlite3_sql(statement) : NULL;
  if (!sql || !may_wait(sql) || index_of(s, sql) >= 0) {
    sqlite3_finalize(statement);
    return;
  }
  sqlite3_reset(statement); /* what it answers was the answer of its last step */
  sqlite3_clear_bindings(statement);
  if (s->count == EW_STATEMENTS_KEPT)
    sqlite3_finalize(take_out(s, s->count - 1));
  memmove(&s->waiting[1], &s->waiting[0], sizeof s->waiting[0] * s->count);
  s->waiting[0] = statement;
  s->count++;
}

void ew_statements_clear(struct ew_statements *s) {
  while (s->count > 0)
    sqlite3_finalize(s->waiting[--s->count]);
}
