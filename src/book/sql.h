/* Prepared statements with bound values: the only way SQL is spoken here. */
#pragma once
#include <glib.h>
#include <sqlite3.h>

/* `types` has one letter a value: i gint64, d double (NaN is NULL), t text (NULL is NULL), b a blob as
 * two arguments (const void*, gsize). Runs the statement to its end. */
gboolean ew_sql_run(sqlite3 *db, GError **error, const char *sql, const char *types, ...);
/* The same, to be stepped by ew_sql_next and finalised with sqlite3_finalize. */
sqlite3_stmt *ew_sql_query(sqlite3 *db, GError **error, const char *sql, const char *types, ...);
/* TRUE while there is a row. An error ends the rows and is set. NULL where the table says NOT NULL is
 * such an error: readers may rely on it. */
gboolean ew_sql_next(sqlite3_stmt *statement, GError **error);
double ew_sql_double(sqlite3_stmt *statement, int column); /* NULL is NaN */
char *ew_sql_text(sqlite3_stmt *statement, int column);    /* a copy in valid UTF-8; NULL is NULL */
gint64 ew_sql_number(sqlite3 *db, const char *sql, const char *types,
                     ...); /* first cell; 0 without a row */
gboolean ew_sql_error(sqlite3 *db, GError **error);
/* Removes a database that could not be made whole, with the files SQLite keeps beside it. */
void ew_sql_unlink(const char *path);
