/* For postgresql.c: what makes the tables of an SQLite book in PostgreSQL, and fills them. */
#pragma once
#include "book/port.h"
#include <sqlite3.h>

/* char*, in the order in which they were made. */
GPtrArray *postgresql_tables(sqlite3 *db);
/* CREATE TABLE with its keys, to *sql; ids are numbered by a function next_id(). */
void postgresql_table(GString *sql, sqlite3 *db, const char *table);
/* What its rows point to, once all tables are there and full. */
void postgresql_references(GString *sql, sqlite3 *db, const char *table);
/* The test fails when a row is not taken. */
void postgresql_copy(struct ew_port *port, sqlite3 *db, const char *table);
