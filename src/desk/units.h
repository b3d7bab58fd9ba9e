/* Files that name no units, in a shop that works in US units. */
#pragma once
#include "pull/series.h"

/* A channel map (YAML) that gives to each column whose unit nobody named the unit that such a shop writes, where the figures are
 * plausible in it; *taken gets a message for each ("torque in lb-ft"). NULL when there is none such. */
char *ew_us_units_map(const struct ew_series *series, GPtrArray *taken);
/* That unit for one column; NULL where there is none, or somebody named one. */
const char *ew_us_unit_of(const struct ew_series *series, const struct ew_series_channel *one);
/* Is it that a channel's figures look like another unit's, or about a column for which there is such a unit? */
gboolean ew_us_units_cover(const struct ew_series *series, const ew_message *doubt);
/* For a shop that works in SI: the one question whether the recorder writes US units after all, when such doubts speak for it in two channels
 * or more. NULL: they do not. The caller's. */
ew_message *ew_us_units_doubt(const struct ew_series *series, const GPtrArray *doubts);
