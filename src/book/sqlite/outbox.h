/* The outbox: which rows were written, noted in the transaction that wrote them. For the files of this folder.
 *
 *   a row is inserted, changed or deleted --SQLite's update hook--> collected --before COMMIT--> rows of `outbox`
 *
 * The one place where that happens: no verb can forget it, and none knows of it. A row of the outbox says which row, not what it
 * held; what is shipped is what it holds when it is shipped. A book that belongs to no shop notes nothing: it pays
 * one look a transaction. Costs: a look-up in a list of 26 names and a hash a changed row, one INSERT a distinct row. */
#pragma once
#include <glib.h>
#include <sqlite3.h>

struct ew_outbox;
struct ew_outbox *ew_outbox_new(sqlite3 *db);
void ew_outbox_free(struct ew_outbox *outbox);
/* After BEGIN: does this book ship? FALSE: SQLite says why. */
gboolean ew_outbox_begin(struct ew_outbox *outbox);
/* Before COMMIT: what was collected is written. FALSE: SQLite says why. */
gboolean ew_outbox_write(struct ew_outbox *outbox);
void ew_outbox_forget(struct ew_outbox *outbox); /* rolled back */
/* Every row that is there, for a book that joins a shop. */
gboolean ew_outbox_fill(sqlite3 *db);
