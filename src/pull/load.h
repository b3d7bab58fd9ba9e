/* Under full load or not, sample by sample: what finding pulls stands on.
 *
 * By throttle: within a tenth of the most that it shows for half a second. Where the throttle of a sample is not
 * known (never recorded, a hole, or on the line between two samples of a slower channel of which one is below),
 * by torque: above 35 % of the most it shows for half a second in a recording without throttle, above 55 %
 * within one that has it. Where neither is known, load is not known: such samples neither begin nor end a pull.
 * The shares are common practice, no source. */
#pragma once
#include "pull/series.h"

enum ew_load { EW_LOAD_OFF, EW_LOAD_ON, EW_LOAD_UNKNOWN };

struct ew_loads {
  guint8 *at;               /* enum ew_load of each row */
  double most_torque_n_m;   /* shown for half a second */
  const double *throttle;   /* NULL: load is judged from torque alone */
  gboolean by_torque_alone; /* no throttle channel, or one that never opens */
};

/* O(rows). The series has speed and torque. */
struct ew_loads ew_loads_of(const struct ew_series *series);
void ew_loads_clear(struct ew_loads *loads);

/* Full throttle, of the rows [first, last): the median of the known throttle is 0.9 or more. *seconds_absent
 * (may be NULL) is the time under which throttle is not known at all. FALSE when none is known. */
gboolean ew_loads_full_throttle(const struct ew_loads *loads, const struct ew_series *series,
                                gsize first, gsize last, double *seconds_absent);
