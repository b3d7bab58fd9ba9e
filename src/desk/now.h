/* What an engine reads while it is recorded, taken from the book as any reader does: whoever looks holds nothing up at the cell.
 *
 *   none --a recording of the engine begins--> live <--rows come-- silent
 *     ^---------------it ended----------------'  \--none for EW_NOW_FRESH_S--^
 *
 * Of each channel the last figure of the last block counts, calibrated as that recording says; two sources of one channel: the one that
 * was begun last. What is silent has no figure, never an old one. A recording of the practice cell is none: no engine runs for it. */
#pragma once
#include "base/json_writer.h"
#include "base/units.h"
#include "book/book.h"
#include "pull/channel.h"

#define EW_NOW_FRESH_S                                                                             \
  5.0 /* of a cell's own book: the longest wait that a live figure outlasts (serve/live_values.h) */
#define EW_NOW_FRESH_COPY_S 20.0 /* of a copy, which gets what comes every few seconds */

enum ew_now_state { EW_NOW_NONE, EW_NOW_SILENT, EW_NOW_LIVE };
extern const char *const ew_now_keys[]; /* "none", "silent", "live"; NULL-terminated */

struct ew_now {
  enum ew_now_state state;
  char *at; /* when the newest rows were stored, UTC; NULL: there are none */
  double inside[EW_CHANNELS_COUNT]; /* as measured, not corrected; NaN: no figure */
};
/* `engine_id` 0: of any. `unix_s`: this machine's clock now. Power follows from torque and speed where nobody measures it. */
gboolean ew_now_read(struct ew_book *book, gint64 engine_id, double unix_s, struct ew_now *now,
                     GError **error);
void ew_now_clear(struct ew_now *now);

/* "speed,torque": channels of the table in pull/channel.h, each once, time not among them; a set of bits. Refuses others with `option`. */
gboolean ew_now_channels(const char *option, const char *list, guint64 *set, GError **error);
/* "state", "at", and "channels" of the set in the table's order: each its "key", "name" in the language of this thread, "value" in the shown
 * unit or null, and "unit". */
void ew_now_write_json(const struct ew_now *now, guint64 set, enum ew_unit_system units,
                       struct ew_json *json);
