/* Cleaning that hides nothing: what is touched is flagged, counted and shown. */
#pragma once
#include "pull/method.h"
#include "pull/series.h"

struct ew_clean_counts {
  gsize spikes, dropouts, flat, saturated, lost;
};

/* Adds flags to every known channel and replaces spikes and short gaps; then shifts each channel by
 * its lag. Returns the counts over all channels of curves (speed, torque and the rest). */
struct ew_clean_counts ew_clean(struct ew_series *series, const struct ew_method *method);
struct ew_clean_counts ew_clean_count(const struct ew_series_channel *channel, gsize first,
                                      gsize last);

/* The Hampel filter: `spike[i]` is set where x[i] is further than `limit` scaled median absolute
 * deviations (1.4826 MAD) from the median of the 7 samples around it, and further than `least`.
 * Source: Hampel 1974; Pearson 2002. */
void ew_hampel(const double *x, gsize n, double limit, double least, guint8 *spike);
