/* What a person found when he looked: after a trip (that ends the *stop and look*), or on a plug, in a filter, by
 * ear after a pull (that begins one). Never changed and never deleted: a wrong one is taken back with a reason, and
 * then counts no more. */
#pragma once
#include "book/book.h"

#define EW_FOUND_BYTES 2000u
#define EW_WHO_BYTES   80u

#define EW_FOUND_TRIP "trip" /* belongs to an alarm that tripped */
#define EW_FOUND_PULL "pull" /* seen after a pull */

/* The actions that ask for a look, as SQL writes a list. */
#define EW_TRIP_ASKS "'shut down', 'back off'"

struct ew_found_row {
  gint64 id, owner_id;
  char *belongs, *at, *who, *text, *withdrawn;
};
/* Inside a transaction. `who`: NULL or empty for the one who is known to the system. Refuses an owner that is
 * not in the book, an empty text, and one over the length above. 0 with *error. */
gint64 ew_found_add(struct ew_book *book, const char *belongs, gint64 owner_id, const char *text,
                    const char *who, GError **error);
/* Takes back all that is active of this owner, and refuses where nothing does. Inside a transaction. */
gboolean ew_found_withdraw(struct ew_book *book, const char *belongs, gint64 owner_id,
                           const char *why, GError **error);
/* Of one owner (0: of all), oldest first, also those taken back; the array clears its rows. */
GArray *ew_found_list(struct ew_book *book, const char *belongs, gint64 owner_id, GError **error);
