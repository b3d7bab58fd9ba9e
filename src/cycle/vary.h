/* What a change would do: differences of two models with their uncertainty.
 *
 * Both models are predicted at the same speeds, and again with each factor of fit.h turned by one
 * standard deviation; what a factor does to both cancels in the difference. The spread is the
 * root of the sum over factors (correlations of a fit included), plus what is left of convergence.
 * It holds what the factors can express, not what the model leaves out. */
#pragma once
#include "cycle/fit.h"

struct ew_cycle_answer {
  double speed_rpm;
  double from_n_m, to_n_m;
  double change_n_m, uncertainty_n_m; /* 1 standard deviation */
  double spark_change_deg;            /* of the predicted best or knock-limited angle */
  double octane_from, octane_to;      /* needed; a ranking */
  gboolean knock_limited_from, knock_limited_to;
};

/* Knock margins rank; each is worth no more than this many degrees either way (common practice). */
#define EW_CYCLE_SPARK_DOUBT_DEG 4.0

/* covariance: of ln(factor), from a fit; NULL: the priors. answers[n]. */
gboolean ew_cycle_vary(const struct ew_cycle_model *from, const struct ew_cycle_model *to,
                       const double *speed_rpm, int n, const double (*covariance)[EW_KNOBS],
                       const struct ew_cycle_options *options, struct ew_cycle_answer *answers,
                       GError **error);
