/* Has the book changed since an answer was computed from it? Two marks, a cheap one and an exact one. */
#pragma once
#include "book/book.h"

/* Of the whole book: two values of one connection differ after any change by anybody. O(1). */
struct ew_change {
  gboolean known; /* FALSE: the store could not say */
  gint64 by_others, by_this;
};
struct ew_change ew_book_change(struct ew_book *book);
/* What is not known is the same as nothing: an answer is made again. */
gboolean ew_change_is_same(struct ew_change a, struct ew_change b);
/* Another text whenever anything changed but the blocks of a recording under way, which come twenty times a second; without a recording
 * under way, whenever anything changed. NULL when the book can't be read. To be freed. O(pulls). */
char *ew_book_change_but_blocks(struct ew_book *book);
/* The last line of the change log, the last recording and the last pull: others once any fact was kept that an added pull is carried
 * forward or reduced by, and the same while blocks of a recording under way come. O(1). */
struct ew_last_kept {
  gint64 change, recording, pull;
};
gboolean ew_book_last_kept(struct ew_book *book, struct ew_last_kept *last, GError **error);
/* SHA-256 over everything of every pull that history is learned from: order, day, run, mounting, purpose, set-up,
 * discarded or not, engine and curve; over every trip, the pulls that it may lie in, and what was found. To be freed; NULL
 * when the book can't be read. O(pulls, trips and findings). */
char *ew_pulls_digest(struct ew_book *book);
