/* Customers' links: who may see one engine's proof, until when.
 *
 *   nobody --share new--> shared --the time of `until`--> nobody
 *                           +-----share revoke----------> nobody
 *
 * A link holds a token of 256 random bits; its SHA-256 is kept, in a file of the machine (base/machine.h) for the identity of a book, never
 * in the book: a copy of the book shares nothing, an old copy revives no link. A change is on the disk before it counts, and a
 * server that runs sees it at its next request. Not thread-safe: one a thread. */
#pragma once
#include "base/json_writer.h"
#include <glib.h>

#define EW_SHARE_PHOTOS 20
struct ew_share {
  gint64 id, engine;            /* the book's number of it */
  char *name;                   /* of the engine, when the link was made */
  char *hash, *made_at, *until; /* UTC, as the book writes times */
  gboolean live;
  char *channels; /* "speed,power": shown while the engine runs, where it is live; "": none */
  char *photos;   /* "3,4": attachments that the shop ticked; "": none */
};
void ew_share_clear(void *share);

struct ew_shares;
struct ew_shares *ew_shares_new(const char *book_identity);
void ew_shares_free(struct ew_shares *shares);
/* Number, token's hash and `made_at` are set here. The token; NULL with *error. The caller frees it. */
char *ew_shares_add(struct ew_shares *shares, const struct ew_share *asked, GError **error);
gboolean ew_shares_revoke(struct ew_shares *shares, gint64 id, GError **error);
/* Those that are kept, expired ones too: struct ew_share, of the shares' own. NULL with *error: the file is damaged, and nobody
 * sees anything. */
const GArray *ew_shares_list(struct ew_shares *shares, GError **error);
/* Whose token it is, and it holds at that time (Unix seconds); else NULL. Of the shares' own, until the next call. */
const struct ew_share *ew_shares_find(struct ew_shares *shares, const char *token, double now_s);
