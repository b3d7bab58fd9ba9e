/* Is the book whole? Recomputes every digest and every curve from raw. */
#pragma once
#include "book/book.h"
#include "base/json_writer.h"

struct ew_verification {
  gboolean whole;
  int recordings, curves;
  GPtrArray *problems; /* char* */
  GArray *rows;        /* struct ew_verified_recording */
};
struct ew_verified_recording {
  gint64 id, rows;
};
gboolean ew_book_verify(struct ew_book *book, struct ew_verification *verification, GError **error);
void ew_verification_clear(struct ew_verification *verification);
/* A whole copy while the book is open and being written to: complete, synced, then renamed into place.
 * Refuses to overwrite. */
gboolean ew_book_backup(struct ew_book *book, const char *path, GError **error);
