/* Within the amending of pulls: one recording at a time. */
#pragma once
#include "book/keep.h"
#include "desk/amend.h"
#include "desk/amend_place.h"

/* A request while it is worked off. */
struct ew_amend_round {
  const struct ew_desk *desk;
  const struct ew_amend_ask *ask;
  struct ew_amend_rows rows;
  char *at; /* of the request, as an instant; NULL: none */
  gint64
      lead; /* of the recording at work: the pull whose last amendment, of all of it, is taken back; 0: none */
};

/* One pull with what it becomes. */
struct ew_amending {
  gint64 id;
  struct ew_pull_row row; /* new; its id and the reading it was computed from */
  struct ew_curve_row curve;
  GPtrArray *changes;
  GPtrArray *findings; /* that hold its new reading; NULL: none */
  GArray *
      others; /* struct ew_pull_place: pulls that move with its recording; NULL: it stays where it is */
  gint64 undoes;
  double before_n_m;
  gboolean discard, gone;
};
void ew_amending_clear(struct ew_amending *one);

/* What this request makes of this pull. `taken`: parts of the recording that others have by now; its own is added. `recording`
 * takes what is said of all of it, `again` the rest of how it was computed; *same: it says so already (nothing was computed, `again`
 * is empty). FALSE with *error. */
gboolean ew_amending_of(const struct ew_amend_round *round, gint64 pull_id, GHashTable *taken,
                        struct ew_amending *one, struct ew_recording_row *recording,
                        struct ew_recomputed *again, gboolean *same, GError **error);

/* Of this pull, the amendment before which its recording was as `former` has it, the newest such (amend_back.c): *reading is the one
 * that it made, *id its own; both 0 where there is none. O(amendments of the pull). FALSE with *error. */
gboolean ew_amend_step_of(struct ew_book *book, const struct ew_pull_row *pull,
                          const struct ew_former_row *former, gint64 *reading, gint64 *id,
                          GError **error);

struct ew_amend_company { /* pulls of one recording that are amended together */
  gint64 recording_id;
  GArray *pulls; /* gint64 */
  gint64 lead,
      narrow; /* of an undo: pulls asked for, the last amendment of the one being of the whole recording, of the other of
                          itself; 0: none */
};
/* All of them or none; what came of it is added to `amended`, and the round's rows are brought up to date. */
gboolean ew_amend_one_recording(struct ew_amend_round *round,
                                const struct ew_amend_company *company, struct ew_amended *amended,
                                GError **error);
