/* All that looks wrong in a book by the rules of today, the pulls that were stored before there were such rules too; each with the
 * command that mends it. Nothing is changed, and what somebody said is right is not asked again.
 *
 *   held pulls · doubts about each pull (pull/plausible.h) · weather that is not known, or was carried longer than it holds ·
 *   another day than the file says · one time for two recordings · one recording twice · another engine between two pulls ·
 *   calibration missing, expired, or out of its limits · answers on an earlier reading, or of pulls that are not alike
 *
 * Cost: with `raw` each pull is computed again from its bytes, as `book verify` does; without, a curve is read for each. */
#pragma once
#include "base/progress.h"
#include "desk/loaded.h"

struct ew_check_row {
  gint64 pull; /* 0: of the book as a whole */
  ew_message *finding;
  char *mend; /* command without the program's name */
};
struct ew_check_ask {
  gboolean raw;
  ew_progress progress; /* by pulls; may be NULL */
  gpointer progress_data;
  const gint *cancel; /* set from another thread: ends with an error; may be NULL */
};
/* struct ew_check_row, cleared by the array: by pull, then those of the book. NULL with *error. */
GArray *ew_book_check(const struct ew_desk *desk, const struct ew_check_ask *ask, GError **error);
/* `pull` (null: of the book), `finding`, `mend` and `asks` (desk/mend.h) of each, as an array of this name. */
void ew_book_check_json(const GArray *rows, const char *key, enum ew_unit_system units,
                        struct ew_json *json);

/* Within: of the book as a whole (book_check_whole.c). */
void ew_book_check_add(GArray *rows, gint64 pull, ew_message *finding, char *mend);
gboolean ew_book_check_whole(const struct ew_desk *desk, const GArray *pulls, GArray *rows,
                             GError **error);
