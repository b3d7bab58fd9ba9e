/* What the files that find pulls share. Internal to src/pull/segment*.c. */
#pragma once
#include "pull/load.h"
#include "pull/segment.h"

struct ew_finding {
  const struct ew_series *series;
  const struct ew_method *method;
  struct ew_loads loads;
  const double *speed, *torque;
  double speed_step_s; /* between the own samples of speed */
  GPtrArray *found;    /* struct ew_segment* */
  GPtrArray *left_out; /* messages: what looked like a pull and is not one, and why */
};

struct ew_segment *ew_segment_new(enum ew_segment_kind kind, gsize first, gsize last);
/* The arguments {from} and {to} of a message: the times of the rows [first, last). */
#define EW_FROM_TO(f, first, last)                                                                 \
  ew_say_quantity("from", EW_KIND_TIME, (f)->series->time_s[first], 1),                            \
      ew_say_quantity("to", EW_KIND_TIME, (f)->series->time_s[(last)-1], 1)
/* Mean of the known x[first..last); NaN when there is none. */
double ew_segment_mean(const double *x, gsize first, gsize last);

/* Where load came on within a run [first, last) that torque alone took for loaded: the first row of full load, or
 * `first` when torque does not jump. */
gsize ew_segment_load_up(const struct ew_finding *f, gsize first, gsize last);
/* The end of [first, last) without the rows in which load is being dropped already. */
gsize ew_segment_before_drop(const struct ew_finding *f, gsize first, gsize last);
/* Sweeps that torque alone took for loaded and that are runs at part load beside the others: taken out of
 * f->found, with the reason in f->left_out. */
void ew_segment_drop_part_load(struct ew_finding *f);

/* Step tests, into f->found; after the sweeps. */
void ew_segment_find_steps(struct ew_finding *f);
/* Several loads at one speed, as the reason why there is no pull; NULL when the recording is not such a sweep. */
ew_message *ew_segment_load_sweep(const struct ew_finding *f);
