/* What the files of the reduction share. Internal to src/pull/reduce*.c. */
#pragma once
#include "pull/reduce.h"

/* Mean of x[first .. last-1] without its holes; NaN when x is NULL or holes only. */
double ew_reduce_mean(const double *x, gsize first, gsize last);
/* Is the value of row i evidence of this pull? A sample of its own: known, not filled and not on the line between
 * two of a slower channel (such a line would carry samples from after the load into the curve), and recorded before
 * row `end`, where load is dropped, also when its sensor's lag was taken out. */
gboolean ew_reduce_uses(const struct ew_series_channel *channel, gsize i, gsize end);
/* Does a channel become a column of the curve? */
gboolean ew_reduce_in_curve(const struct ew_series_channel *channel);
/* Zeroed arrays of torque and power for curve->points points; speeds are the caller's. */
void ew_reduce_allocate(struct ew_curve *curve);
/* A column of NaNs. The pointer holds until the next column is added. */
struct ew_curve_column *ew_reduce_column(struct ew_curve *curve, enum ew_channel channel, int index,
                                         const char *key, enum ew_kind kind);
/* 6: the band of use within the curve, and the mean over it. */
void ew_reduce_band(struct ew_curve *curve);

/* 2, 4 to 6 of a sweep; a curve of fewer than three points when the samples do not do for more. */
void ew_reduce_sweep(struct ew_curve *curve, const struct ew_series *series,
                     const struct ew_segment *segment, const struct ew_reduce_facts *facts);
/* The same of steady points. */
void ew_reduce_steady(struct ew_curve *curve, const struct ew_series *series,
                      const struct ew_segment *segment);
