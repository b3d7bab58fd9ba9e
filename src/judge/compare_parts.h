/* Parts of the comparison among themselves. */
#pragma once
#include "judge/compare.h"

/* 5. Fills the band about the curve; d: as told in the headline. `shift` is of each pull, taken out of its log torque. */
void ew_compare_band(const struct ew_compared_pull *pulls, gsize n, const double *shift,
                     struct ew_comparison *comparison, const struct ew_difference *d);

/* The answers to "better?" and "worth it?". */
ew_message *ew_compare_better(const struct ew_comparison *comparison,
                              const struct ew_decision *decision);
const struct ew_message_kind *ew_compare_worth(const struct ew_comparison *comparison);
/* Adds to the notes what conditions did to the difference. */
void ew_compare_tell_conditions(struct ew_comparison *comparison);
