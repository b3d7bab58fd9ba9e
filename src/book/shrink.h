/* Room inside the book's file that holds nothing any more, given back to the disk. */
#pragma once
#include "book/book.h"

/* Bytes in the file that hold nothing: what is written next goes there. */
gboolean ew_book_spare(struct ew_book *book, gint64 *bytes, GError **error);
/* Bytes of the whole, the spare among them; -1 with *error. */
gint64 ew_book_size(struct ew_book *book, GError **error);
/* Writes the file again without them. Refused while something is recorded into it, of a copy, of a book that can only be read, and
 * where the disk lacks room for the book twice over. Nobody else can write meanwhile. O(book). */
gboolean ew_book_shrink(struct ew_book *book, GError **error);
