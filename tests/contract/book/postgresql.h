/* A book's tables in PostgreSQL, behind book/port.h: what shows that the verbs of the book speak the SQL that both have, and where
 * they do not. It is no store of the program: a shop keeps facts (docs/shop-schema.md), and reads them as SQLite again.
 *
 * Each store has a schema of its own in the database, made from the catalogue of an SQLite book and filled with its rows; it goes
 * when the store is closed. Not put there: `copy` (pg_dump is PostgreSQL's own), and fill_outbox, row_read and row_put, which
 * live from SQLite's update hook and its types of single values. */
#pragma once
#include "book/port.h"
#include <sqlite3.h>

/* The database that the environment names (EW_POSTGRESQL); NULL: none, nothing can be run there. */
const char *postgresql_address(void);
/* The tables and rows of `from`. The test fails when it cannot be made. */
struct ew_port *postgresql_of(sqlite3 *from);
/* Another connection to the same; closed before it. */
struct ew_port *postgresql_beside(struct ew_port *port);
