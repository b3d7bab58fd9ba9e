/* The one way into a transaction, for the files of this room only; script/lib/check-layers holds that.
 *
 *                    begin             body: TRUE          commit
 *     closed ------------------> open ------------> done ----------> kept
 *       ^                          |                  |
 *       |  "run it again", TRIES   |  body: FALSE     |  refused, disk full
 *       +--------------------------+<-----------------+---------> rolled back, *error
 *
 * A body that is called while one is open joins it: a verb may be made of verbs. When one of them fails, all of it is
 * rolled back, whatever the outer body answers, as every store does it. */
#pragma once
#include "book/book.h"

/* All reads that a write depends on are inside `body`. It may run several times and must give the same from the
 * beginning each time: what it hands out through `user` it sets again. */
typedef gboolean (*ew_write_body)(struct ew_book *book, gpointer user, GError **error);
gboolean ew_book_write(struct ew_book *book, ew_write_body body, gpointer user, GError **error);
gboolean ew_book_is_writing(const struct ew_book *book);

/* The steps of it, for tests that stop between them. Not nested, nothing is run again. */
gboolean ew_book_begin(struct ew_book *book, GError **error);
gboolean ew_book_commit(struct ew_book *book, GError **error);
void ew_book_rollback(struct ew_book *book); /* without a transaction it does nothing */
