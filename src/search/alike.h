/* Points of a front that cannot be told apart are one choice, and of a long list those that are furthest from one another are enough to choose
 * between. */
#pragma once
#include <glib.h>

/* figures[n x each], in the order in which they are to be kept; band[each]: two figures that differ by no more than that cannot be told apart (NaN:
 * nothing is known of it, and only equal ones are alike). of[i]: the first kept point that i cannot be told from in any figure, itself when
 * it is kept. Points with a figure that is not known stand alone. Returns how many are kept. O(n x kept x each). */
int ew_front_alike(const double *figures, int n, int each, const double *band, int *of);

/* Of n points the `most` that are furthest from one another, each figure by its own span: the best of the first figure's order (point 0), the
 * extremes of each figure, then always the one whose nearest taken point is furthest (T. F. Gonzalez, "Clustering to minimize the maximum
 * intercluster distance", Theor. Comput. Sci. 38 (1985), 293-306). taken[n]. O(n x most x each). */
void ew_front_spread(const double *figures, int n, int each, int most, gboolean *taken);
