/* Designs that were seen, so that none is run twice: two are the same to whoever builds them when they differ by less than a thousandth of
 * each range, and never as far as the next place. Inside this room.
 *
 * They lie in cells of that size: all axes with places, and at most three without, tell a design's cell; looking asks it and its neighbours, 27
 * at most, so a look costs the same however many were seen, as long as they do not crowd in the axes that the cells leave out. */
#pragma once
#include "search/rounds.h"

struct ew_seen;
/* axis[axes] is the caller's, and stays. */
struct ew_seen *ew_seen_new(const struct ew_axis *axis, int axes);
void ew_seen_free(struct ew_seen *seen);
/* point[axes], on the axes' places; copied. */
void ew_seen_add(struct ew_seen *seen, const double *point);
gboolean ew_seen_has(const struct ew_seen *seen, const double *point);
/* Whether two points are the same. */
gboolean ew_seen_alike(const struct ew_axis *axis, int axes, const double *a, const double *b);
