/* The newest rows of the live recordings that are under way: what a reader needs who looks once a second, without walking what was
 * recorded before. */
#pragma once
#include "book/stream.h"

struct ew_stream_now {
  gint64 id;
  char *source;
};
/* Those that nobody ended, of an engine (0: of any), the newest first: struct ew_stream_now, cleared by the array. NULL with *error.
 * O(live recordings). */
GArray *ew_stream_under_way(struct ew_book *book, gint64 engine_id, GError **error);
/* Its last block: one call of `take`, none when it has no block yet (*stored_at NULL). O(log blocks). */
gboolean ew_stream_last_block(struct ew_book *book, gint64 id, char **stored_at,
                              ew_stream_take take, gpointer user, GError **error);
