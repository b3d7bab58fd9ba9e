/* From the samples of one pull to its curve. The steps are numbered as in docs/methods.md. */
#pragma once
#include "engine/engine.h"
#include "pull/calibrated.h"
#include "pull/curve.h"

struct ew_reduce_facts {
  const struct ew_method *method;
  const struct ew_bench *bench;            /* inertias */
  const struct ew_engine *engine;          /* may be NULL: no BMEP, no VE */
  const struct ew_setup *setup;            /* weather where no channel gives it; may be NULL */
  const struct ew_calibrated *calibration; /* applied to raw; NULL: none */
};

/* Never NULL for a segment that ew_find_segments gave, except when no point of the grid has samples
 * enough: then *why_not says so (to be freed). */
struct ew_curve *ew_reduce(const struct ew_series *series, const struct ew_segment *segment,
                           const struct ew_reduce_facts *facts, ew_message **why_not);

/* Corrected torque of every sample of the part that counts, and its parts, for walking one figure
 * back: arrays of count_last - count_first values, freed by the caller. */
struct ew_sample_torque {
  gsize count;
  double *measured, *inertia, *engine_inertia, *acceleration;
};
struct ew_sample_torque ew_sample_torque(const struct ew_series *series,
                                         const struct ew_segment *segment,
                                         const struct ew_reduce_facts *facts);
void ew_sample_torque_clear(struct ew_sample_torque *torque);
