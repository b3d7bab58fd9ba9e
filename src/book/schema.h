/* The schema of the book, one step a version. */
#pragma once
#include <glib.h>
#include <sqlite3.h>

#define EW_SCHEMA_APPLICATION_ID 0x45574d31 /* "EWM1" */
/* Before anything is written: refuses what is no book, a database of somebody else, and a book of a later
 * version of the program. */
gboolean ew_schema_check(sqlite3 *db, GError **error);
/* Brings an older book to today's schema in one transaction. */
gboolean ew_schema_migrate(sqlite3 *db, GError **error);
