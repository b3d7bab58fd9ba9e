/* Is the book whole? Recomputes every digest and every curve from raw. */
#pragma once
#include "base/progress.h"
#include "book/book.h"
#include "base/json_writer.h"

struct ew_verification {
  gboolean whole;
  int recordings, curves;
  guint thinned; /* runs that stand for idle samples */
  int earlier;   /* curves by an earlier reduction: sound, and not computed again to the bit */
  double earlier_most; /* the greatest relative difference of their band means to this one's */
  int gone; /* of them, pulls that this program finds no longer: their curves stay as they are */
  GPtrArray *problems; /* char* */
  GArray *rows;        /* struct ew_verified_recording */
};
struct ew_verified_recording {
  gint64 id, rows;
};
struct ew_verify_watch {
  const gint *cancel;   /* set from another thread: ends with an error */
  ew_progress progress; /* may be NULL */
  gpointer data;
};
/* `watch` may be NULL. */
gboolean ew_book_verify(struct ew_book *book, const struct ew_verify_watch *watch,
                        struct ew_verification *verification, GError **error);
void ew_verification_clear(struct ew_verification *verification);
/* Every curve of an earlier reduction computed again by this program's, with the method, cell and engine it
 * was stored with, in one transaction that logs both digests. `gone` counts pulls that this program finds no longer in
 * their recordings: their curves stay as the earlier program made them. `watch` may be NULL. O(curves). */
gboolean ew_book_renew(struct ew_book *book, const struct ew_verify_watch *watch, int *renewed,
                       int *gone, GError **error);
