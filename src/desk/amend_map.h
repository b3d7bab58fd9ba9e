/* The channel map of a recording with other units for some channels, as an amendment gives them. */
#pragma once
#include "book/recompute.h"

/* Every column that the file names no unit for, as a recorder of US units writes it. */
#define EW_ALL_US "all=us"

/* The recording's channel map (one is made when it has none) with "torque=lb-ft" for each of `units`: the column that is
 * taken for this channel now has this unit. "lambda=AFR" takes the column for an air-fuel ratio. Each change is said. NULL with
 * *error: the channel is not known, the recording has none such, or the unit is not one of it. */
char *ew_map_with_units(const struct ew_recomputed *a, const char *const *units, GPtrArray *changes,
                        GError **error);
