/* Pulls that wait for an answer. What looked implausible on entry, or later, holds the pull: its raw bytes and its curve are
 * kept, it is listed with its finding, and nothing that was not told to uses it (ew_pull_counts).
 *
 *                   ew_hold_add                     ew_hold_right: right as it is
 *     used by all --------------> held, unanswered ------------------------------> answered "right": used by all
 *                                       |
 *                                       +---- an amendment (book/amend.h) -------> answered "amended": used by all, unless
 *                                                                                   the new reading is held for its own
 *
 * A pull may be held for several findings: it is used again when each of them is answered. Rows are never deleted. */
#pragma once
#include "base/message.h"
#include "book/book.h"

#define EW_HOLD_REASON_BYTES 2000u
#define EW_HOLD_RIGHT        "right"
#define EW_HOLD_AMENDED      "amended"

struct ew_hold_row {
  gint64 id, pull_id, amendment_id;               /* 0: not answered by one */
  char *finding;                                  /* ew_message_write */
  char *at, *answered_at, *who, *answer, *reason; /* NULL: waits */
};
/* Inside a transaction. The gravest first; one that already waits for this pull, or was answered "right" for its present reading, is
 * not asked again. *added (may be NULL): how many. */
gboolean ew_hold_add(struct ew_book *book, gint64 pull_id, const GPtrArray *findings, guint *added,
                     GError **error);
/* Answers all that waits for this pull. Refuses a pull that is not held, and an empty reason. Inside a transaction. */
gboolean ew_hold_right(struct ew_book *book, gint64 pull_id, const char *who, const char *reason,
                       GError **error);
/* All that waits for this pull was answered by this amendment. Inside a transaction. */
gboolean ew_hold_amended(struct ew_book *book, gint64 pull_id, gint64 amendment_id, const char *who,
                         const char *reason, GError **error);
/* Of one pull (0: of all), oldest first, answered ones too; the array clears its rows. O(rows). */
GArray *ew_hold_list(struct ew_book *book, gint64 pull_id, GError **error);
