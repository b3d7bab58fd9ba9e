/* The fit: a few physical knobs turned until the prediction meets a measured curve.
 *
 * Least squares of the relative differences of torque over a hundredth, with a wide prior on the logarithm of each
 * factor (normal, 30 %; 10 % for a cam's duration). The uncertainty of a knob is widened by what is left over, which is shape that no knob can
 * make. A knob that the points do not fix is let go (its factor is what it was before) and the rest is fitted again: the
 * widest first, while it is above half of its prior, or at an end that nothing real reaches. But where the curve was met and
 * then is met worse by MATTERS, the points do fix something, only not each knob by itself: those knobs are kept together, named as
 * not fixed, and the uncertainty of each is that with the others held.
 * Cost: a run of the engine at all points for each knob and step. */
#include "base/error.h"
#include "base/statistics.h"
#include "desk/predict.h"
#include <gsl/gsl_multifit_nlinear.h>
#include <math.h>
#include <string.h>

struct fitting {
  struct ew_prediction_setup setup;
  const double *speed, *torque;
  int n, knobs, evaluations;
  int knob[EW_TUNE_COUNT];
  const struct ew_cycle_options *options;
  double
      start[EW_TUNE_COUNT]; /* logarithms of the knobs' factors over scale_of, where a fit begins */
  double log_u[EW_TUNE_COUNT];  /* standard uncertainties of those, what is left over counted */
  double held_u[EW_TUNE_COUNT]; /* the same with the other knobs held */
  double sigma; /* relative, of one point: shape of the model and of the measurement */
  double shown; /* progress, which never goes back */
  GError *error;
};

#define PRIOR   0.3         /* standard deviation of the log of a factor before the fit */
#define LOOSE   (PRIOR / 2) /* above it the points say little that was not known before */
#define FAR     1.2         /* logarithm of a factor that nothing real reaches */
#define CAM     (1 / 3.0)   /* a duration differs less: all of these for it by this much */
#define STEPS   8
#define MATTERS 0.005 /* of torque, root mean square: half of what a point is worth */

/* What is fitted is the logarithm of a factor over this, so that one prior, one end and one limit serve all. */
static double scale_of(const struct fitting *fit, int k) {
  return strcmp(ew_tune_names[fit->knob[k]], "duration") == 0 ? CAM : 1;
}

static double factor_of(const struct fitting *fit, int k, double at) {
  return exp(scale_of(fit, k) * CLAMP(at, -FAR, FAR));
}

/* A fit takes about one run a knob and step, and is ended after STEPS steps. */
static void show_share(double share, gpointer data) {
  struct fitting *fit = data;
  double all = 1 + STEPS * (fit->knobs + 1);
  fit->shown = fmax(fit->shown, fmin((fit->evaluations - 1 + share) / all, 0.99));
  fit->options->progress(fit->shown, fit->options->data);
}

/* Residuals: relative differences over sigma, then one prior row a knob. */
static int residuals(const gsl_vector *x, void *data, gsl_vector *f) {
  struct fitting *fit = data;
  g_assert(fit->knobs == 0 || x);
  struct ew_prediction_setup setup = fit->setup;
  for (int k = 0; k < fit->knobs; k++)
    *ew_tune_factor(&setup.tune, fit->knob[k]) *= factor_of(fit, k, gsl_vector_get(x, (gsize)k));
  g_autofree struct ew_cycle_result *r = g_new0(struct ew_cycle_result, fit->n);
  fit->evaluations++;
  struct ew_cycle_options options = *fit->options;
  if (options.progress) {
    options.progress = show_share;
    options.data = fit;
  }
  if (!ew_predict_setups(&setup, 1, fit->speed, fit->n, &options, r, NULL, NULL,
                         fit->error ? NULL : &fit->error))
    return GSL_EFAILED;
  for (int i = 0; i < fit->n; i++) {
    double relative = r[i].torque_n_m / fit->torque[i] - 1;
    gsl_vector_set(f, (gsize)i, (isfinite(relative) ? relative : 1) / fit->sigma);
    ew_cycle_result_clear(&r[i]);
  }
  for (int k = 0; k < fit->knobs; k++)
    gsl_vector_set(f, (gsize)(fit->n + k), gsl_vector_get(x, (gsize)k) / PRIOR);
  return GSL_SUCCESS;
}

static double root_mean_square(const gsl_vector *f, int n, double sigma) {
  double squares = 0;
  for (int i = 0; i < n; i++)
    squares += pow(gsl_vector_get(f, (gsize)i) * sigma, 2);
  return sqrt(squares / n);
}

static void take_residuals(struct fitting *fit, const gsl_vector *f, struct ew_tuned *tuned) {
  g_assert(tuned->points == fit->n);
  tuned->error_after = root_mean_square(f, fit->n, fit->sigma);
  tuned->worst_after = 0;
  for (int i = 0; i < fit->n; i++) {
    tuned->residual[i] = gsl_vector_get(f, (gsize)i) * fit->sigma;
    tuned->worst_after = fmax(tuned->worst_after, fabs(tuned->residual[i]));
  }
  tuned->tune.left = tuned->error_after;
  tuned->tune.physics = EW_CYCLE_PHYSICS;
  tuned->pattern = ew_autocorrelation(tuned->residual, (gsize)fit->n, EW_NONE_ABSENT);
}

static double column_norm(const gsl_matrix *jacobian, gsize k) {
  double squares = 0;
  for (gsize i = 0; i < jacobian->size1; i++)
    squares += pow(gsl_matrix_get(jacobian, i, k), 2);
  return sqrt(squares); /* with the prior's row: never 0 */
}

static void take_answer(struct fitting *fit, gsl_multifit_nlinear_workspace *w,
                        struct ew_tuned *tuned) {
  take_residuals(fit, gsl_multifit_nlinear_residual(w), tuned);
  gsl_matrix *covariance = gsl_matrix_alloc((gsize)fit->knobs, (gsize)fit->knobs);
  gsl_multifit_nlinear_covar(gsl_multifit_nlinear_jac(w), 0, covariance);
  /* what is left over is shape that the knobs cannot make: it widens their uncertainty */
  double excess = fmax(
      tuned->error_after / fit->sigma * sqrt((double)fit->n / fmax(fit->n - fit->knobs, 1)), 1);
  for (int k = 0; k < fit->knobs; k++) {
    fit->start[k] = gsl_vector_get(gsl_multifit_nlinear_position(w), (gsize)k);
    fit->log_u[k] = excess * sqrt(gsl_matrix_get(covariance, (gsize)k, (gsize)k));
    fit->held_u[k] = excess / column_norm(gsl_multifit_nlinear_jac(w), (gsize)k);
  }
  gsl_matrix_free(covariance);
}

/* One fit of the knobs that are left, from fit->start. */
static gboolean fit_knobs(struct fitting *fit, struct ew_tuned *tuned) {
  g_assert(fit->knobs > 0 && fit->n > fit->knobs);
  gsize knobs = (gsize)fit->knobs, rows = (gsize)fit->n + knobs;
  gsl_multifit_nlinear_parameters parameters = gsl_multifit_nlinear_default_parameters();
  parameters.h_df = 0.02; /* steps large against the tolerance of convergence */
  parameters.fdtype = GSL_MULTIFIT_NLINEAR_FWDIFF;
  gsl_multifit_nlinear_workspace *w =
      gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &parameters, rows, knobs);
  gsl_multifit_nlinear_fdf fdf = {.f = residuals, .n = rows, .p = knobs, .params = fit};
  gsl_vector *start = gsl_vector_calloc(knobs);
  for (gsize k = 0; k < knobs; k++) /* the difference step is relative: not zero */
    gsl_vector_set(start, k, fabs(fit->start[k]) < 0.01 ? 0.01 : fit->start[k]);
  gboolean good = gsl_multifit_nlinear_init(start, &fdf, w) == GSL_SUCCESS;
  if (good) {
    int info;
    if (isnan(tuned->error_before))
      tuned->error_before = root_mean_square(gsl_multifit_nlinear_residual(w), fit->n, fit->sigma);
    gsl_multifit_nlinear_driver(STEPS, 1e-3, 1e-3, 1e-4, NULL, NULL, &info, w);
    take_answer(fit, w, tuned);
  }
  gsl_multifit_nlinear_free(w);
  gsl_vector_free(start);
  return good && !fit->error;
}

static gboolean is_far(const struct fitting *fit, int k) {
  return !(fabs(fit->start[k]) <= FAR - 0.05);
}

static gboolean is_loose(const struct fitting *fit, int k) {
  return is_far(fit, k) || !(fit->log_u[k] <= LOOSE);
}

/* The knob that the points fix least, or -1 when they fix all. */
static int loosest(const struct fitting *fit) {
  int found = -1;
  double most = 0;
  for (int k = 0; k < fit->knobs; k++) {
    double loose = is_far(fit, k) ? INFINITY : fit->log_u[k];
    if (is_loose(fit, k) && !(loose <= most)) {
      most = loose;
      found = k;
    }
  }
  return found;
}

static void let_go(struct fitting *fit, int which, struct ew_tuned *tuned) {
  g_assert(which >= 0 && which < fit->knobs);
  g_assert(!(tuned->loose & 1u << fit->knob[which])); /* a knob is let go once */
  tuned->loose |= 1u << fit->knob[which];
  fit->knobs--;
  for (int k = which; k < fit->knobs; k++) {
    fit->knob[k] = fit->knob[k + 1];
    fit->start[k] = fit->start[k + 1];
  }
}

/* Names the knobs that are not fixed by themselves, and keeps them. */
static void keep_together(struct fitting *fit, struct ew_tuned *tuned) {
  for (int k = 0; k < fit->knobs; k++)
    if (is_loose(fit, k)) {
      tuned->loose |= 1u << fit->knob[k];
      fit->log_u[k] = fit->held_u[k];
    }
}

/* With no knob left the engine is predicted as it is. */
static gboolean as_it_is(struct fitting *fit, struct ew_tuned *tuned) {
  gsl_vector *f = gsl_vector_calloc((gsize)fit->n);
  gboolean good = residuals(NULL, fit, f) == GSL_SUCCESS;
  if (good)
    take_residuals(fit, f, tuned);
  gsl_vector_free(f);
  return good;
}

/* Residuals as they were, into those of now. */
static void put_back(struct ew_tuned *tuned, const struct ew_tuned *before,
                     const double *residual) {
  g_assert(before->points == tuned->points);
  double *own = tuned->residual;
  *tuned = *before;
  tuned->residual = own;
  memcpy(own, residual, sizeof(double) * (gsize)tuned->points);
}

static gboolean fit_or_as_it_is(struct fitting *fit, struct ew_tuned *tuned) {
  return fit->knobs > 0 ? fit_knobs(fit, tuned) : as_it_is(fit, tuned);
}

static gboolean fit_all(struct fitting *fit, struct ew_tuned *tuned) {
  gboolean good = fit_knobs(fit, tuned);
  while (good && fit->knobs > 0) {
    int loose = loosest(fit);
    if (loose < 0)
      break;
    gboolean far = is_far(fit, loose);
    struct fitting kept = *fit;
    struct ew_tuned before = *tuned;
    g_autofree double *residual = g_memdup2(tuned->residual, sizeof(double) * (gsize)tuned->points);
    let_go(fit, loose, tuned);
    good = fit_or_as_it_is(fit, tuned);
    gboolean met = before.error_after <= EW_TUNED_LEFT_MOST;
    if (!good || far || !met || !(tuned->error_after > before.error_after + MATTERS))
      continue;
    kept.evaluations = fit->evaluations;
    kept.shown = fit->shown;
    *fit = kept;
    put_back(tuned, &before, residual);
    keep_together(fit, tuned);
    break;
  }
  return good;
}

gboolean ew_tune_to(const struct ew_prediction_setup *setup, const double *speed_rpm,
                    const double *torque_n_m, int n, unsigned turn,
                    const struct ew_cycle_options *options, struct ew_tuned *tuned,
                    GError **error) {
  struct fitting fit = {.setup = *setup,
                        .speed = speed_rpm,
                        .torque = torque_n_m,
                        .n = n,
                        .options = options,
                        .sigma = 0.01};
  for (int k = 0; k < EW_TUNE_COUNT; k++)
    if (turn & (1u << k))
      fit.knob[fit.knobs++] = k;
  if (fit.knobs == 0 || n <= fit.knobs)
    return ew_refuse(error, "a fit of %d knobs needs more than %d speeds, and has %d", fit.knobs,
                     fit.knobs, n);
  *tuned = (struct ew_tuned){.tune = setup->tune,
                             .points = n,
                             .error_before = NAN,
                             .residual = g_new0(double, n),
                             .speed_rpm = speed_rpm};
  gboolean good = fit_all(&fit, tuned);
  for (int k = 0; good && k < fit.knobs; k++) {
    g_assert(fit.knob[k] >= 0 && fit.knob[k] < EW_TUNE_COUNT);
    double *factor = ew_tune_factor(&tuned->tune, fit.knob[k]);
    *factor *= factor_of(&fit, k, fit.start[k]);
    *ew_tune_uncertainty(&tuned->tune, fit.knob[k]) = *factor * scale_of(&fit, k) * fit.log_u[k];
  }
  tuned->evaluations = fit.evaluations;
  if (options->progress)
    options->progress(1, options->data);
  if (good)
    return TRUE;
  g_clear_pointer(&tuned->residual, g_free);
  if (fit.error) {
    g_propagate_error(error, fit.error);
    return FALSE;
  }
  return ew_fail(error, "the fit could not be started");
}
