#include "book/sql.h"
#include "base/error.h"
#include <glib/gstdio.h>
#include <math.h>

gboolean ew_sql_error(sqlite3 *db, GError **error) {
  int code = sqlite3_errcode(db);
  const char *advice = "";
  if (code == SQLITE_FULL)
    advice = ": the disk is full; nothing was stored";
  else if (code == SQLITE_READONLY)
    advice = ": the book can only be read; check its folder's permissions";
  else if (code == SQLITE_BUSY)
    advice = ": another program is writing to it; try again";
  else if ((code & 0xff) == SQLITE_IOERR || (code & 0xff) == SQLITE_CANTOPEN)
    advice = ": the disk gave an error, or is full; nothing was stored";
  return ew_fail(error, "book: %s%s", sqlite3_errmsg(db), advice);
}

void ew_sql_unlink(const char *path) {
  static const char *const ends[] = {"", "-wal", "-shm", "-journal"};
  for (gsize i = 0; i < G_N_ELEMENTS(ends); i++) {
    g_autofree char *file = g_strconcat(path, ends[i], NULL);
    g_unlink(file);
  }
}

static void bind(sqlite3_stmt *s, const char *types, va_list arguments) {
  for (int i = 0; types[i]; i++) {
    if (types[i] == 'i')
      sqlite3_bind_int64(s, i + 1, va_arg(arguments, gint64));
    else if (types[i] == 'd') {
      double value = va_arg(arguments, double);
      if (isnan(value))
        sqlite3_bind_null(s, i + 1);
      else
        sqlite3_bind_double(s, i + 1, value);
    } else if (types[i] == 't')
      sqlite3_bind_text(s, i + 1, va_arg(arguments, const char *), -1, SQLITE_TRANSIENT);
    else {
      const void *bytes = va_arg(arguments, const void *);
      sqlite3_bind_blob64(s, i + 1, bytes, va_arg(arguments, gsize), SQLITE_TRANSIENT);
    }
  }
}

static sqlite3_stmt *prepare(sqlite3 *db, GError **error, const char *sql, const char *types,
                             va_list arguments) {
  sqlite3_stmt *statement = NULL;
  if (sqlite3_prepare_v2(db, sql, -1, &statement, NULL) != SQLITE_OK) {
    ew_sql_error(db, error);
    return NULL;
  }
  bind(statement, types, arguments);
  return statement;
}

gboolean ew_sql_run(sqlite3 *db, GError **error, const char *sql, const char *types, ...) {
  va_list arguments;
  va_start(arguments, types);
  sqlite3_stmt *statement = prepare(db, error, sql, types, arguments);
  va_end(arguments);
  if (!statement)
    return FALSE;
  int code;
  while ((code = sqlite3_step(statement)) == SQLITE_ROW)
    ;
  gboolean good = code == SQLITE_DONE || ew_sql_error(db, error);
  sqlite3_finalize(statement);
  return good;
}

sqlite3_stmt *ew_sql_query(sqlite3 *db, GError **error, const char *sql, const char *types, ...) {
  va_list arguments;
  va_start(arguments, types);
  sqlite3_stmt *statement = prepare(db, error, sql, types, arguments);
  va_end(arguments);
  return statement;
}

gboolean ew_sql_next(sqlite3_stmt *statement, GError **error) {
  if (!statement)
    return FALSE;
  int code = sqlite3_step(statement);
  if (code != SQLITE_ROW && code != SQLITE_DONE)
    ew_sql_error(sqlite3_db_handle(statement), error);
  return code == SQLITE_ROW;
}

double ew_sql_double(sqlite3_stmt *s, int column) {
  return sqlite3_column_type(s, column) == SQLITE_NULL ? (double)NAN
                                                       : sqlite3_column_double(s, column);
}

char *ew_sql_text(sqlite3_stmt *s, int column) {
  return g_strdup((const char *)sqlite3_column_text(s, column));
}

gint64 ew_sql_number(sqlite3 *db, const char *sql, const char *types, ...) {
  va_list arguments;
  va_start(arguments, types);
  sqlite3_stmt *statement = prepare(db, NULL, sql, types, arguments);
  va_end(arguments);
  gint64 value = 0;
  if (statement && sqlite3_step(statement) == SQLITE_ROW)
    value = sqlite3_column_int64(statement, 0);
  sqlite3_finalize(statement);
  return value;
}
