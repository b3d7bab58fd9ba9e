/* What was found, written down or taken back for several trips or pulls at once, in one transaction. */
#pragma once
#include "book/found.h"

struct ew_found_ask {
  const char *belongs;    /* EW_FOUND_TRIP or EW_FOUND_PULL */
  const GArray *owners;   /* gint64 */
  const char *text, *who; /* who: NULL for the one who is known to the system */
  const char *take_back;  /* a reason: what was written is taken back instead; or NULL */
};
gboolean ew_write_found(struct ew_book *book, const struct ew_found_ask *ask, GError **error);
/* An array of `at`, `who`, `text`, `taken_back` (why, or null) under `key`. */
void ew_found_json(struct ew_book *book, const char *belongs, gint64 owner_id, const char *key,
                   struct ew_json *json);
