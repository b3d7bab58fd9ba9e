/* Pulls of the book that stand for a side of a question beside those that were named: all of them count, not those alone that
 * somebody chose. */
#pragma once
#include "desk/loaded.h"

/* Adds to `a` and `b` what repeats them, and to `own`, which frees it; messages of what was added and of what was left out go to `notes`. Nothing is added to a
 * question whose pulls are not all of one engine of the book, computed as kept.
 *
 * Looked at: pulls of the engine on the days of those that were named; where no stop lay between the sides, of their runs alone. Added: what
 * the gate finds a repeat of the side's first. Left out, and said: what is held, tripped or discarded; what began
 * outside the windows of a start (a warm-up); the first of a run whose oil and coolant nobody knows; air too old to be corrected by.
 * O(pulls of the engine) rows, a curve for each of those days. */
gboolean ew_desk_fellows(const struct ew_desk *desk, GPtrArray *a, GPtrArray *b, GPtrArray *own,
                         GPtrArray *notes, GError **error);
/* For `own`, which owns what the sides borrow; and a list that borrows, to begin with these. */
GPtrArray *ew_fellows_new(void);
GPtrArray *ew_fellows_beside(const GPtrArray *named);

/* Positions (of struct ew_compared_pull in `all`) by what ran between, where all pulls of the sides are of one day and engine; else they
 * stay. */
void ew_desk_place_in_day(const struct ew_desk *desk, const GPtrArray *a, const GPtrArray *b,
                          GArray *all);
