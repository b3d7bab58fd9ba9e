/* What a customer's link says while the engine runs: the channels that the shop chose, as they are measured, and no others. */
#pragma once
#include "book/book.h"
#include "serve/shares.h"

/* JSON: "state", a sentence; "rows" of "name" and "value", none while nothing is recorded. NULL with *error. */
GBytes *ew_share_now(struct ew_book *book, const struct ew_share *share, GError **error);
