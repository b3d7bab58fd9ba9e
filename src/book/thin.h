/* Which idle samples of a live recording would go, and what would be left of them (thinned.h). The verb that does it is
 * ew_keep_thinned (keep.h). */
#pragma once
#include "book/thinned.h"

/* name, key, why in words */
#define EW_THIN_STATES(X)                                                                          \
  X(THINNED, "thinned", EW_TEXT("thinned"))                                                        \
  X(UNDER_WAY, "under-way", EW_TEXT("whole: it is under way"))                                     \
  X(YOUNG, "young", EW_TEXT("whole: it ended too short a time ago"))                               \
  X(NOT_SENT, "not-sent", EW_TEXT("whole: the shop does not have all of it yet"))                  \
  X(SLOW, "slow", EW_TEXT("whole: it was not recorded faster than the rule's rate"))               \
  X(SMALL, "small", EW_TEXT("whole: thinning it would not give back half of its bytes"))           \
  X(STATION, "station", EW_TEXT("whole: it may be a weather station's"))                           \
  X(NOTHING, "nothing", EW_TEXT("nothing idle in it is left to thin"))
enum ew_thin_state {
#define X(name, key, says) EW_THIN_##name,
  EW_THIN_STATES(X)
#undef X
      EW_THIN_STATES_COUNT
};
const char *ew_thin_state_key(enum ew_thin_state state);
const char *ew_thin_state_says(enum ew_thin_state state); /* for people */

struct ew_thin_done {
  gint64 recording_id;
  enum ew_thin_state state;
  gint64 rows;                     /* as they were measured, that it has now (before) */
  gint64 runs, source_rows, after; /* of them: runs, rows that go, and rows that stand for them */
  gint64 source_bytes, bytes;      /* of samples that go, and that come in their place */
};
/* As it would be done at that time (Unix seconds), with nothing written. O(bytes of what would go). */
gboolean ew_thin_look(struct ew_book *book, gint64 recording_id, const struct ew_thin_rule *rule,
                      double now_s, struct ew_thin_done *done, GError **error);
