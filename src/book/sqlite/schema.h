/* The schema of the book, one step a version, and whether a file has it.
 *
 * A book may come from anybody. What its file says of its own structure is held against what this program makes,
 * object by object and word by word: triggers, views, looser tables and foreign indices run code of whoever made them. */
#pragma once
#include <glib.h>
#include <sqlite3.h>

#define EW_SCHEMA_APPLICATION_ID 0x45574d31 /* "EWM1" */
int ew_schema_newest(void);
/* The tables of `version`, 0 to the newest, in an empty database. */
gboolean ew_schema_build(sqlite3 *db, int version);
/* Before anything is written: refuses what isn't a book, a database of somebody else, a book of a later version of the
 * program, and one whose structure this program didn't make. One read transaction. O(objects of the schema). */
gboolean ew_schema_check(sqlite3 *db, GError **error);
/* SHA-256 of what the steps of the newest version make: as it was written down (opening compares with that, and builds nothing),
 * and as it comes of the steps; to be freed. NULL: they could not be built. */
extern const char ew_schema_digest_kept[];
char *ew_schema_digest_made(void);
/* Brings an older book to today's schema in one transaction. */
gboolean ew_schema_migrate(sqlite3 *db, GError **error);
