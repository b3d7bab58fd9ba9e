/* What lies behind a sweep's answer, for sweep.c alone: what each pull does to the best, what more pulls cost, and what was lent
 * to the fit because the pulls do not tell it. */
#pragma once
#include "base/statistics.h"
#include "judge/sweep.h"

/* The rows that sweep.c lends. */
struct ew_sweep_lent {
  double curvature,
      curvature_share; /* usual relative loss a unit squared, and its spread as a share */
  double lean_share;   /* of the loss at `shift` */
  double drift_sd;     /* relative, a pull */
  double shift;
};

/* The fit is that with u measured from `centre`, its covariance by the variance of one pull. */
void ew_sweep_weigh(struct ew_sweep *s, const struct ew_fit *fit, double centre,
                    const struct ew_sweep_pull *pulls, gsize n);
void ew_sweep_cost(struct ew_sweep *s, const struct ew_sweep_options *o);
void ew_sweep_assume(struct ew_sweep *s, const struct ew_sweep_options *o,
                     const struct ew_sweep_lent *lent);
