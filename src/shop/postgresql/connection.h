/* One connection to PostgreSQL by libpq, which waits for nothing longer than it says. For the files of this folder, the only
 * one that speaks libpq.
 *
 *   closed --ew_pg_open--> idle --ew_pg_ask--> waits --answer--> idle
 *                            ^                   | WAIT_S, *stop, connection lost
 *                            +---- (never) ------+-> broken: only ew_pg_close goes on from there */
#pragma once
#include <glib.h>
#include <libpq-fe.h>

struct ew_pg;
/* For whom it is: what a failure means for what he wrote is said in his words. */
enum ew_pg_for { EW_PG_SHOP, EW_PG_SEARCH };
struct ew_pg *ew_pg_open(const char *address, enum ew_pg_for what, const gint *stop,
                         GError **error);
void ew_pg_close(struct ew_pg *pg); /* may be NULL */

/* `types`: t text (NULL is NULL), i gint64, d double (NaN is NULL), b bytes (const void*, gsize). NULL with *error. Values come as text, or
 * with `binary` in PostgreSQL's binary form. */
PGresult *ew_pg_ask(struct ew_pg *pg, gboolean binary, GError **error, const char *sql,
                    const char *types, ...);
/* The same where nothing comes back. */
gboolean ew_pg_do(struct ew_pg *pg, GError **error, const char *sql, const char *types, ...);
/* Several statements at once, no values. */
gboolean ew_pg_run(struct ew_pg *pg, GError **error, const char *sql);
/* A first cell as a number; 0 for NULL. */
gboolean ew_pg_number(struct ew_pg *pg, gint64 *number, GError **error, const char *sql,
                      const char *types, ...);
/* A queue: statements that are sent without waiting for the answer of the one before, so that a batch takes one way to the server
 * and back, not one a statement. Nothing else is asked between the first ew_pg_queue and ew_pg_settle.
 *
 *   idle --ew_pg_queue--> queueing --ew_pg_next--> taking --ew_pg_settle--> idle
 *                            +---------------------ew_pg_settle-------------^
 *
 * After one that fails those behind it are not run. */
gboolean ew_pg_queue(struct ew_pg *pg, gboolean binary, GError **error, const char *sql,
                     const char *types, ...);
/* The answer of the first whose answer was not taken. NULL with *error: it failed. */
PGresult *ew_pg_next(struct ew_pg *pg, GError **error);
/* Waits for what was not taken; the first failure is reported. TRUE where nothing was queued. */
gboolean ew_pg_settle(struct ew_pg *pg, GError **error);
gboolean ew_pg_is_open(const struct ew_pg *pg); /* a transaction is under way */
