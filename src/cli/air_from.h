/* Where a figure of a pull's weather comes from, in words. Internal to src/cli. */
#pragma once
#include "pull/curve.h"
#include "pull/told.h"

/* `from` as the curve says it ("channel", "set-up", "not known"); of what was not recorded, the pull's list of facts (`told`; NULL:
 * none) knows more: carried from which pull, read by the cell's own station, and how long before. To be freed. */
char *ew_call_air_from(const char *from, const char *told, enum ew_told_fact fact);
/* One line of `pull explain`: the air that the factor was made of, and where each of it comes from. */
void ew_call_say_air(const struct ew_conditions *air, const char *told, enum ew_unit_system units);
