/* Which compression ratio: what cam and fuel say (engine/compression_advice.h), and what the simulation says of the difference: torque over
 * speed, its uncertainty, the octane number it asks for, and how much of it the spark brings back. */
#pragma once
#include "desk/predict.h"
#include "engine/compression_advice.h"

struct ew_ratio_answer {
  struct ew_compression_advice advice; /* NaN where the file says too little */
  double ratio, effective, closes_abdc_deg;
  double
      other; /* the ratio compared with: what is wanted, or one more where that is nearly today's or not known */
  int speeds;
  double *now_n_m, *other_n_m; /* each at its own best spark, or what knock leaves of it */
  double *held_n_m; /* today's ratio at the other's spark: what it loses until its spark follows */
  double lower, lower_u, upper, upper_u,
      middle_rpm; /* mean torque, other less now, as struct ew_variant */
  double octane_now, octane_other;
  double
      by_spark; /* share of what the lower ratio loses at the other's spark that its own spark brings back; NaN: none lost */
};

/* Four curves. The set-up's variations hold in all of them. Refuses a set-up with a given spark: it is sought here. */
gboolean ew_predict_ratio(const struct ew_prediction_setup *setup, const double *speed_rpm,
                          int speeds, const struct ew_cycle_options *options,
                          struct ew_ratio_answer *answer, GError **error);
void ew_ratio_answer_clear(struct ew_ratio_answer *answer);
struct ew_json;
/* Members of an open object. */
void ew_ratio_answer_write_json(const struct ew_ratio_answer *answer, struct ew_json *json);
