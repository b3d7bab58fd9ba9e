/* Where a row comes from: its name that holds everywhere, the cell, the copy of the book that wrote it, and the shop's
 * day. For the files of this room; every INSERT of a row that can leave the cell has EW_ORIGIN_COLUMNS.
 *
 * A book that was copied (a backup that was put back, a stick carried to another machine) writes on by itself, and two
 * copies must not pass for one: `writer` is recognised by where the file is (this machine, its inode, when that was made), and a
 * copy begins a row of its own in the table `writer` with its first change. A disk that was cloned whole, with the
 * machine's own id, can't be told from its original. */
#pragma once
#include "base/uuid.h"
#include "base/zone.h"
#include "book/book.h"

#define EW_ORIGIN_COLUMNS "uid, cell, writer, day"
struct ew_origin {
  char uid[EW_UUID_SIZE];
  const char *cell, *writer; /* of the book, while it writes */
  char day[EW_DAY_SIZE];
};
/* Inside a transaction: of a row that is made now and belongs to the day of `instant` (NULL: now). */
gboolean ew_origin_new(struct ew_book *book, const char *instant, struct ew_origin *origin,
                       GError **error);
/* Inside a transaction, when the shop's zone becomes another: refuses one that is not known here, and moves every row to
 * its day there. O(rows). */
gboolean ew_origin_move(struct ew_book *book, const char *zone, GError **error);
/* Has every row a name, and a cell and writer that the book knows? One call a row that has not. O(rows). */
typedef void (*ew_origin_fault)(const char *table, gint64 id, gpointer user);
gboolean ew_origin_check(struct ew_book *book, ew_origin_fault fault, gpointer user,
                         GError **error);
/* When a transaction begins: whose is it? Writes the row of a copy that is new. */
gboolean ew_origin_begin(struct ew_book *book, GError **error);
