/* Pulls of the book set beside each other: what a cell repeats to, the last that are alike, the one to judge against. What alike
 * means is judge/comparable.h; here pulls are found and their facts gathered. */
#pragma once
#include "desk/loaded.h"
#include "judge/effects.h"

/* What the cell repeats to, learned from like pulls of the book: of one engine, or of all (0). Bands are
 * shares of each pull's top speed. Pulls listed in `without` (struct ew_loaded*, may be NULL) are left
 * out, so that a comparison does not lend itself its own scatter; so are the same recordings under other numbers.
 * The same evidence counts once. */
struct ew_learned {
  struct ew_spread levels[EW_LEVELS_COUNT];
  double drift_mean, drift_sd; /* a pull, from runs of three like pulls or more; NaN when too few */
  struct ew_effects
      effects; /* what conditions do to the engine of the first of `without`; zeroed: not asked */
  struct ew_spread guarded[EW_LEVELS_COUNT]; /* `levels`, with that taken out */
};
struct ew_learned ew_desk_history(const struct ew_desk *desk, gint64 engine_id,
                                  const GPtrArray *without);

/* The same, with which readings of pulls it was learned from: "7.1,8.2", those with a like one; to be freed. */
struct ew_learned ew_desk_history_of(const struct ew_desk *desk, gint64 engine_id,
                                     const GPtrArray *without, char **learned_from);

/* The last pull of the engine that counts, and those before it in a row that repeat it, oldest first: struct
 * ew_loaded*. Pulls of the practice cell are among them only where the engine has no others. Empty when none counts; NULL with *error. O(pulls) rows, a curve for each of the run. */
GPtrArray *ew_desk_last_like(const struct ew_desk *desk, gint64 engine_id, GError **error);
/* What a pull is judged against when nobody says: the last before it that counts and is comparable. *against 0: there is none.
 * O(pulls of the engine) rows, a curve for each that is looked at. */
gboolean ew_desk_judged_against(const struct ew_desk *desk, const struct ew_loaded *pull,
                                gint64 *against, GError **error);
/* The same for the trends of a step-up: the last that counts, at a lower limit. NULL: none. */
struct ew_loaded *ew_desk_step_below(const struct ew_desk *desk, const struct ew_loaded *pull);

/* Pointers to the facts (const struct ew_pull_facts*) of pulls (struct ew_loaded*); the array borrows. */
GPtrArray *ew_desk_facts_of(const GPtrArray *pulls);
/* None of them held, and each alike with the first; else refused, with which and why. `allowed`: what may differ on purpose. What did, what
 * widens, and the largest variance it adds to one pull are added to what is handed in (each may be NULL). */
gboolean ew_desk_all_alike(const GPtrArray *pulls, enum ew_alike_use use, guint allowed,
                           GPtrArray *despite, double *variance, GPtrArray *widenings,
                           GError **error);
