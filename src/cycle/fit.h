/* A model fitted to a measured torque curve: four named factors, with their uncertainty.
 *
 * Levenberg-Marquardt in the logarithms of the factors (GSL, multifit_nlinear). A factor's prior, a
 * normal with the spread of ew_cycle_knobs, keeps apart what a torque curve alone cannot tell apart,
 * such as friction and heat; it counts as one more observation each. Derivatives are differences of
 * whole predictions, which share the vectors.
 *
 * With measured uncertainties (1 standard deviation) the covariance is that of the weighted problem;
 * it is widened by the reduced chi-square where the residuals are larger than they should be. */
#pragma once
#include "cycle/predict.h"

enum ew_cycle_knob { EW_KNOB_FLOW, EW_KNOB_BURN, EW_KNOB_FRICTION, EW_KNOB_HEAT, EW_KNOBS };

struct ew_cycle_knob_info {
  const char *name, *meaning;
  double prior; /* standard deviation of ln(factor) before any fit: common practice */
};
extern const struct ew_cycle_knob_info ew_cycle_knobs[EW_KNOBS];

/* A copy of the model with these factors applied. It shares all that the model points to. */
struct ew_cycle_model ew_cycle_turned(const struct ew_cycle_model *model, const double *factor);

struct ew_cycle_measured {
  double speed_rpm, torque_n_m;
  double uncertainty_n_m; /* 1 standard deviation, > 0 */
  double spark_deg;       /* NaN: the best, or what knock allows */
};

struct ew_cycle_fit {
  double factor[EW_KNOBS];               /* 1 where a knob was not used */
  double covariance[EW_KNOBS][EW_KNOBS]; /* of ln(factor) */
  double rms_before_n_m, rms_after_n_m;  /* of measured less predicted */
  double chi_square;                     /* residuals and priors, after */
  int degrees;                           /* of freedom: points less factors, plus priors */
  int runs, passes;
  double
      sign_changes_z; /* of residuals along the curve; below -2: a shape is left that no factor mends */
  double *predicted_n_m; /* [n], after; owned */
};

/* points[n], n >= 3; use[EW_KNOBS]. FALSE on bad input, a point that does not converge, or when
 * cancelled. Either all points have a spark angle or none. */
gboolean ew_cycle_fit(const struct ew_cycle_model *model, const struct ew_cycle_measured *points,
                      int n, const gboolean *use, const struct ew_cycle_options *options,
                      struct ew_cycle_fit *fit, GError **error);
void ew_cycle_fit_clear(struct ew_cycle_fit *fit);
