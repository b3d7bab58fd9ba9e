/* Within the amending of pulls: one recording at a time. */
#pragma once
#include "book/keep.h"
#include "desk/amend.h"

/* One pull with what it becomes. */
struct ew_amending {
  gint64 id;
  struct ew_pull_row row; /* new; its id and the reading it was computed from */
  struct ew_curve_row curve;
  GPtrArray *changes;
  gint64 undoes;
  double before_n_m;
  gboolean discard, gone;
};
void ew_amending_clear(struct ew_amending *one);

/* What this ask makes of this pull. `taken`: parts of the recording that others have by now; its own is added. `recording` takes what is said of all of it; *same: it says so already (nothing was
 * computed). FALSE with *error. */
gboolean ew_amending_of(const struct ew_desk *desk, const struct ew_amend_ask *ask, gint64 pull_id,
                        GHashTable *taken, struct ew_amending *one,
                        struct ew_recording_row *recording, struct ew_processed **processed,
                        gboolean *same, GError **error);
