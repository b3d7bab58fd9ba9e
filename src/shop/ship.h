/* The shipper: sends what a book has and its shop has not.
 *
 *   for each line of the outbox, oldest first:
 *     ask what the shop has of its writer --same marks--> send on from there, batch by batch, each a transaction there
 *                                         --another mark--> the book and another went on apart under one name: a new
 *                                                           writer after the last change that both have, from the start
 *
 *   once a day, of what both have: has had it for EW_SHIP_KEEP_DAYS, says the shop's clock --> it leaves the outbox
 *
 * A shop that was restored from a backup younger than that gets everything again. From an older one it lacks what no outbox holds
 * any more: that is refused, and all can be sent again by a new writer (ew_keep_send_anew).
 *
 * What was sent is never remembered here but asked each time: a shop that was restored from a backup gets again what it lost,
 * and who is killed at any instant goes on where the shop stands. Two shippers of one book wait for each other in the shop. */
#pragma once
#include "shop/store.h"

#define EW_SHIP_KEEP_DAYS 90

struct ew_ship_news {
  gint64 sent;    /* facts that went now */
  gint64 reached; /* the last number that the shop has of this book */
  gint64 lacking; /* facts that the shop has and this book lacks: a backup was put back */
  int forks;      /* new writers that were begun */
  gint64 fork_after;
  struct ew_shop_clock clock;
};
/* Until the shop has all that the book has now. With *error, *news says how far it came. O(what is sent). */
gboolean ew_ship_all(struct ew_book *book, struct ew_shop_store *store, struct ew_ship_news *news,
                     GError **error);
/* Takes out of the outbox what the shop has had for EW_SHIP_KEEP_DAYS; after ew_ship_all, which says that both have the same. O(log n)
 * questions, and what leaves. */
gboolean ew_ship_trim(struct ew_book *book, struct ew_shop_store *store, GError **error);
/* The same, when the last was a day ago. *due_us, 0 at first, is the caller's to keep. */
gboolean ew_ship_trim_daily(struct ew_book *book, struct ew_shop_store *store, gint64 *due_us,
                            GError **error);
