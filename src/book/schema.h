/* The schema of the book, one step a version. */
#pragma once
#include <glib.h>
#include <sqlite3.h>

#define EW_SCHEMA_APPLICATION_ID 0x45574d31 /* "EWM1" */
int ew_schema_version(void);
gboolean ew_schema_migrate(sqlite3 *db, GError **error);
