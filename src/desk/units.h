/* Files that name no units, in a shop that works in US units. */
#pragma once
#include "pull/series.h"

/* A channel map (YAML) that gives to each column whose unit nobody named the unit that such a shop writes, where the figures are
 * plausible in it; *taken gets a message for each ("torque in lb-ft"). NULL when there is none such. */
char *ew_us_units_map(const struct ew_series *series, GPtrArray *taken);
