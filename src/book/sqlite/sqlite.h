/* The book in one SQLite file: a class of book/port.h. sqlite3 is spoken in this folder and nowhere else. */
#pragma once
#include "book/port.h"
#include <sqlite3.h>

/* Opens the file of a book and brings an older one up to date. Nothing that the file holds may run, and none of its
 * sizes is believed. With `create` an empty file becomes a book. When the disk takes nothing, it is opened to be read
 * and *read_only is set. NULL with *error. */
struct ew_port *ew_sqlite_open(const char *path, gboolean create, gboolean *read_only,
                               GError **error);
/* For tests that damage a book. */
sqlite3 *ew_sqlite_handle(struct ew_port *port);

/* Below: for the files of this folder. */
struct ew_port *ew_sqlite_over(sqlite3 *db); /* takes the connection */
/* What SQLite says of its last failure, with what to do. FALSE. */
gboolean ew_sqlite_error(sqlite3 *db, GError **error);
/* The first cell of a statement of this folder's own; *good FALSE when there is none. */
gint64 ew_sqlite_number(sqlite3 *db, const char *sql);
