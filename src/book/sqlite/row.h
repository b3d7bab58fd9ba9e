/* A row of a table that leaves the cell, as text and bytes, and back. For the files of this folder. */
#pragma once
#include "book/row.h"
#include <sqlite3.h>

/* As it is now. A row that is not there is "gone"; a name without number and key asks for what is left of its table. */
gboolean ew_sqlite_row_read(sqlite3 *db, const struct ew_row_name *name, struct ew_row *row,
                            GError **error);
/* Makes the table hold it; what the table has no column for, or lacks, is refused, and so are parts whose digest is another. */
gboolean ew_sqlite_row_put(sqlite3 *db, const struct ew_row_name *name, const struct ew_row *row,
                           GError **error);
