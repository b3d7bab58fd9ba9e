/* The end of a link: what `share new` and `share publish` read alike. */
#pragma once
#include "book/book.h"

/* The end of the day `text` (2026-12-31) where the shop is, as an instant. Refused: not a day from today on, within 400 days. */
gboolean ew_share_until(struct ew_book *book, const char *text, char **until, GError **error);
