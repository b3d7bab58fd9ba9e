/* The second opinion on a comparison: all pulls of the engine's days in the book, read for judge/day_opinion.h. */
#pragma once
#include "desk/loaded.h"
#include "judge/day_opinion.h"

/* a, b: the sides (struct ew_loaded*) of the comparison. Pulls up to the last of them take part, at most 200, where they
 * count and the gate finds them comparable with A but for set-up, build and the state at the start. NULL: the sides did
 * not run on one day of the book, or nothing can be compared. O(pulls looked back), each curve read once. */
struct ew_day_opinion *ew_desk_day_opinion(const struct ew_desk *desk, const GPtrArray *a,
                                           const GPtrArray *b, const struct ew_comparison *plain);
