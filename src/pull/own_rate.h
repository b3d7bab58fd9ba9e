/* Which samples of a channel are its own, when it comes at a lower rate than the rows of its file. */
#pragma once
#include "pull/series.h"

/* Sets interval_s and slow of a channel of a timed series. Two shapes of a slower channel are known:
 *   - a value in every k-th row and nothing between;
 *   - the last value held until the next one comes: at least 8 runs of equal values, of 3 rows or more in the
 *     median, four in five of them within half of that. Of such a run the first sample is its own, the rest
 *     becomes NaN (to be put on the line to the next); a run over twice the median is a channel that stands
 *     still, and stays.
 * A slower channel is noted in the series. O(rows). The limits are common practice, no source. */
void ew_find_own_rate(struct ew_series *series, struct ew_series_channel *channel);
