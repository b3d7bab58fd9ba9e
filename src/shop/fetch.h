/* What a shop holds of a cell, as a book: every command and the page read it as any other, and nothing is changed in it. A copy
 * that was fetched before gets what came since. */
#pragma once
#include "shop/store.h"

struct ew_fetched {
  gint64 facts; /* that came now */
  gint64 last;
};
/* Which cell: by name, or by the name of its writer where a book went on in two places; NULL: the only one. The copy is made at
 * `path`, new or fetched before from the same address. Refused: no such cell, several, a book of somebody's own at `path`. */
gboolean ew_shop_fetch(struct ew_shop_store *store, const char *address, const char *cell,
                       const char *path, struct ew_fetched *fetched, GError **error);
/* The same for a copy that others have open: what came since is added, and it is never made again under their hands. Refused where the
 * shop went on apart from it. *seen, owned by the caller, is where the shop stood when this was last called (NULL: never): while it stands
 * there nothing is written, so that no reader of the copy hears of a change. */
gboolean ew_shop_fetch_more(struct ew_shop_store *store, const char *address, const char *cell,
                            const char *path, char **seen, struct ew_fetched *fetched,
                            GError **error);
/* "postgresql://host/db#Cell 1" -> both; *cell NULL: none was named. */
void ew_shop_split(const char *given, char **address, char **cell);
