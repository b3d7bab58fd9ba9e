/* Points that fill a unit cube evenly, and numbers drawn at random.
 *
 * Design n of a search is a function of its seed and n alone, so any worker can make it and no list of them is kept:
 * Halton's sequence with the digits of each place permuted at random (A. B. Owen, "A randomized Halton algorithm in R",
 * arXiv:1706.02808, 2017). The first b^k points of a dimension of base b fall one each into its b^k equal parts. */
#pragma once
#include <glib.h>

#define EW_SPACE_DIMENSIONS 40

/* point[dimensions], each 0 or more and below 1. O of the digits: some tens of microseconds for ten dimensions. */
void ew_space_point(guint64 seed, guint64 number, int dimensions, double *point);

double ew_random_share(guint64 *state);             /* 0 or more, below 1 */
int ew_random_below(guint64 *state, int count);     /* 0 to count - 1 */
guint64 ew_random_seed(guint64 seed, guint64 part); /* of a part's own sequence */
