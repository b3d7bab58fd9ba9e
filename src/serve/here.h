/* The person at this machine: a browser proves by a secret of this account that it runs here for who started the server.
 *
 *   link with a key (of this start) --POST open--> cookie with a token (of this machine and account, for a year)
 *
 * That a request comes from 127.0.0.1 proves nothing: every account of the machine and every proxy on it comes from there.
 * The token comes of a key in a file of the machine (base/machine.h) and of the machine's identity: a copy of the
 * file on another machine opens nothing. Where the file cannot be kept the token holds for this start only. Thread-safe after new. */
#pragma once
#include <glib.h>

#define EW_HERE_COOKIE "ew_here"

struct ew_here; /* opaque */

struct ew_here *ew_here_new(void);
void ew_here_free(struct ew_here *here);
/* Why the key could not be kept, so that each start wants its link opened again; NULL: it is kept. */
const char *ew_here_unkept(const struct ew_here *here);
/* What the link carries: 32 hex digits of this start. */
const char *ew_here_key(const struct ew_here *here);
/* The token for that key, NULL for any other text. Owned by `here`. */
const char *ew_here_open(const struct ew_here *here, const char *key);
/* Whether this is the token; in constant time. */
gboolean ew_here_holds(const struct ew_here *here, const char *token);
