/* What the files of plausibility share. Internal to src/pull/plausible*.c. */
#pragma once
#include "pull/plausible.h"

/* Median of a channel under load, of at most 2,000 samples; NaN without the channel or a known sample. */
double ew_plausible_median(const struct ew_plausible *p, enum ew_channel channel);
double ew_plausible_quantile(const struct ew_plausible *p, enum ew_channel channel, double share);
/* Is the engine charged, by its method or by a manifold pressure well above the barometer's? */
gboolean ew_plausible_charged(const struct ew_plausible *p);
/* Does the fuel burn without spark? By name, or by the standard chosen. */
gboolean ew_plausible_diesel(const struct ew_plausible *p);
/* Did somebody say once, of these very inertias together, that they are right? */
gboolean ew_inertia_is_right(const struct ew_plausible *p, const struct ew_bench *bench);
void ew_doubt_channels(const struct ew_plausible *p, GPtrArray *doubts); /* what a reading can be */
void ew_doubt_air(const struct ew_plausible *p, GPtrArray *doubts); /* weather, and the factor */
void ew_doubt_balance(const struct ew_plausible *p,
                      GPtrArray *doubts); /* readings against each other */
void ew_doubt_engine(const struct ew_plausible *p,
                     GPtrArray *doubts); /* against the engine and the cell */
void ew_doubt_before(const struct ew_plausible *p, GPtrArray *doubts); /* against the pull before */
