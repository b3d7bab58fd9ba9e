#include "book/sql.h"
#include "base/words.h"
#include "book/book.h"
#include "base/error.h"
#include <glib/gstdio.h>
#include <math.h>

static GPrivate damage = G_PRIVATE_INIT(g_free); /* the first sentence, of this thread */

char *ew_book_take_damage(void) {
  char *sentence = g_private_get(&damage);
  g_private_set(&damage, NULL);
  return sentence;
}

static gboolean is_damaged(GError **error, const char *format, ...) G_GNUC_PRINTF(2, 3);
static gboolean is_damaged(GError **error, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *what = ew_words_v(format, arguments);
  va_end(arguments);
  g_autofree char *sentence = g_strdup_printf(
      "the book is damaged: %s; 'book verify' lists what is wrong, a backup has it whole", what);
  if (!g_private_get(&damage))
    g_private_set(&damage, g_strdup(sentence));
  return ew_refuse(error, "%s", sentence);
}

gboolean ew_sql_error(sqlite3 *db, GError **error) {
  int code = sqlite3_errcode(db);
  if ((code & 0xff) == SQLITE_CORRUPT || code == SQLITE_NOTADB)
    return is_damaged(error, "%s", sqlite3_errmsg(db));
  const char *advice = "";
  if (code == SQLITE_FULL)
    advice = ": the disk is full; nothing was stored";
  else if (code == SQLITE_READONLY)
    advice = ": the book can only be read: its disk is full, or the file or its folder may not be "
             "written";
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
    } else if (types[i] == 't') {
      const char *text = va_arg(arguments, const char *);
      if (text) /* a file's name can be any bytes */
        sqlite3_bind_text(s, i + 1, g_utf8_make_valid(text, -1), -1, g_free);
    } else {
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

/* May this column be NULL? What is computed, or of no table, may. */
static gboolean may_be_null(sqlite3_stmt *s, int column) {
  int not_null = 0, key = 0;
  const char *table = sqlite3_column_table_name(s, column),
             *name = sqlite3_column_origin_name(s, column);
  if (!table || !name ||
      sqlite3_table_column_metadata(sqlite3_db_handle(s), "main", table, name, NULL, NULL,
                                    &not_null, &key, NULL) != SQLITE_OK)
    return TRUE;
  return !not_null && !key;
}

/* A tampered or damaged file can hold NULL where its tables forbid it, and readers rely on that. */
static gboolean check_row(sqlite3_stmt *s, GError **error) {
  for (int i = 0; i < sqlite3_data_count(s); i++)
    if (sqlite3_column_type(s, i) == SQLITE_NULL && !may_be_null(s, i))
      return is_damaged(error, "%s of a row of %s is missing", sqlite3_column_name(s, i),
                        sqlite3_column_table_name(s, i));
  return TRUE;
}

gboolean ew_sql_next(sqlite3_stmt *statement, GError **error) {
  if (!statement)
    return FALSE;
  int code = sqlite3_step(statement);
  if (code == SQLITE_ROW)
    return check_row(statement, error);
  if (code != SQLITE_DONE)
    ew_sql_error(sqlite3_db_handle(statement), error);
  return FALSE;
}

double ew_sql_double(sqlite3_stmt *s, int column) {
  return sqlite3_column_type(s, column) == SQLITE_NULL ? (double)NAN
                                                       : sqlite3_column_double(s, column);
}

char *ew_sql_text(sqlite3_stmt *s, int column) {
  const char *text = (const char *)sqlite3_column_text(s, column);
  return text ? g_utf8_make_valid(text, -1) : NULL;
}

gint64 ew_sql_number(sqlite3 *db, const char *sql, const char *types, ...) {
  va_list arguments;
  va_start(arguments, types);
  sqlite3_stmt *statement = prepare(db, NULL, sql, types, arguments);
  va_end(arguments);
  gint64 value = 0;
  int code = statement ? sqlite3_step(statement) : SQLITE_DONE;
  if (code == SQLITE_ROW)
    value = sqlite3_column_int64(statement, 0);
  else if (code != SQLITE_DONE)
    ew_sql_error(db, NULL);
  sqlite3_finalize(statement);
  return value;
}
