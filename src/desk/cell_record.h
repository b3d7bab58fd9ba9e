/* The cell's record as a whole: which pulls were computed with another figure, the record for pulls to come, and that its inertia is right
 * although it looks odd.
 *
 *   inertia looks odd -> each pull is held --"cell right", with how it was measured--> no pull with that inertia is asked about
 *                             ^                                                               |
 *                             +------------ the inertia is another one, or taken back --------+
 */
#pragma once
#include "desk/loaded.h"

struct ew_cell_change {
  gint64 pull_id;
  GPtrArray *changes; /* messages: "rotor inertia 0.85 kg·m² → 0.085 kg·m²" */
};
/* Of `asked` (gint64), those whose record these figures ("arm=0.5 m", NULL-terminated) would change; struct ew_cell_change, cleared by the
 * array. NULL with *error. O(pulls). */
GArray *ew_cell_concerned(struct ew_book *book, const GArray *asked, const char *const *sets,
                          GError **error);
/* The book's own record with these figures, for pulls to come. */
gboolean ew_cell_keep(const struct ew_desk *desk, const char *const *sets, GError **error);

/* Rotor and coupling together, where somebody said that they are right; NaN: nobody did. */
double ew_cell_right_inertia(struct ew_book *book);
/* They are right, measured so (`how`, one line). Held pulls of these inertias that wait for nothing else are right by it: their numbers
 * (gint64) are added to `released`. Refuses a record without inertias and an empty `how`. */
gboolean ew_cell_say_right(const struct ew_desk *desk, const char *how, const char *who,
                           GArray *released, GError **error);
/* Taken back: pulls to come are asked about again. Refuses what was never said. */
gboolean ew_cell_unsay_right(struct ew_book *book, GError **error);
/* Members `inertia_kg_m2`, `how`, `who`, `at` and `holds` (is it what the record says now?) of an object `right`; null: nobody said it. */
void ew_cell_right_json(const struct ew_desk *desk, struct ew_json *json);
