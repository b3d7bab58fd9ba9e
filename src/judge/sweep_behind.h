/* What lies behind a sweep's answer, for the files sweep*.c alone: what ends it whatever torque says (sweep_signs.c), and what each
 * pull does to the best, what more pulls cost, and what was lent to the fit because the pulls do not tell it (sweep_behind.c). */
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

/* The reason of the answer is this one; the one before is freed. */
void ew_sweep_settle(struct ew_sweep *s, ew_message *reason);
/* A setting in degrees or lambda, with as many decimals as steps of it have. */
struct ew_argument ew_sweep_say_setting(const char *name, double setting, enum ew_sweep_setting of);
/* Knock or something seen: the sweep has ended, and of spark no more is chosen than the reserve below the lowest sign. */
void ew_sweep_heed_signs(struct ew_sweep *s, const struct ew_sweep_pull *pulls, gsize n,
                         const struct ew_sweep_options *o);
/* A trip that nobody has looked at: nothing is chosen. */
void ew_sweep_heed_trip(struct ew_sweep *s, const struct ew_sweep_options *o);
