#include "cycle/fit.h"
#include "base/error.h"
#include <gsl/gsl_blas.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_multifit_nlinear.h>
#include <math.h>
#include <string.h>

#define STEP        0.02 /* of ln(factor), for derivatives: well above what is left of convergence */
#define MOST_PASSES 12

const struct ew_cycle_knob_info ew_cycle_knobs[EW_KNOBS] = {
    [EW_KNOB_FLOW] = {"flow", "effective area of all valves", 0.05},
    [EW_KNOB_BURN] = {"burn", "development and duration of the flame", 0.15},
    [EW_KNOB_FRICTION] = {"friction", "friction mean effective pressure", 0.15},
    [EW_KNOB_HEAT] = {"heat", "heat to the cylinder walls", 0.2},
};

struct ew_cycle_model ew_cycle_turned(const struct ew_cycle_model *model, const double *factor) {
  struct ew_cycle_model m = *model;
  m.flow_factor *= factor[EW_KNOB_FLOW];
  m.combustion.development *= factor[EW_KNOB_BURN];
  m.combustion.duration *= factor[EW_KNOB_BURN];
  m.friction.constant_pa *= factor[EW_KNOB_FRICTION];
  m.friction.peak *= factor[EW_KNOB_FRICTION];
  m.friction.speed_pa_s_m *= factor[EW_KNOB_FRICTION];
  m.friction.square_pa_s2_m2 *= factor[EW_KNOB_FRICTION];
  m.woschni_factor *= factor[EW_KNOB_HEAT];
  return m;
}

struct problem {
  const struct ew_cycle_model *model;
  const struct ew_cycle_measured *points;
  struct ew_cycle_options options;
  int n, used, knob[EW_KNOBS];
  int runs;
  GError *error;
};

static void factors(const struct problem *p, const double *x, double *factor) {
  for (int k = 0; k < EW_KNOBS; k++)
    factor[k] = 1;
  for (int k = 0; k < p->used; k++)
    factor[p->knob[k]] = exp(x[k]);
}

/* Torque at all points for several settings at once: torque[settings][n]. */
static gboolean torques(struct problem *p, const double *x, int settings, double *torque) {
  int all = settings * p->n;
  g_autofree struct ew_cycle_model *model = g_new(struct ew_cycle_model, (guint)settings);
  g_autofree struct ew_cycle_job *jobs = g_new(struct ew_cycle_job, (guint)all);
  g_autofree struct ew_cycle_result *r = g_new0(struct ew_cycle_result, (guint)all);
  for (int s = 0; s < settings; s++) {
    double factor[EW_KNOBS];
    factors(p, x + s * p->used, factor);
    model[s] = ew_cycle_turned(p->model, factor);
    for (int i = 0; i < p->n; i++)
      jobs[s * p->n + i] =
          (struct ew_cycle_job){&model[s], p->points[i].speed_rpm, p->points[i].spark_deg};
  }
  if (!ew_cycle_predict_jobs(jobs, all, &p->options, r, NULL, &p->error))
    return FALSE;
  p->runs += all;
  for (int i = 0; i < all; i++) {
    if (!r[i].converged)
      return ew_refuse(&p->error, "the fit stopped: at %g rpm the run did not settle (%s)",
                       r[i].speed_rpm, r[i].reason);
    torque[i] = r[i].torque_n_m;
  }
  return TRUE;
}

/* Residuals: (predicted - measured)/uncertainty, then x/prior. */
static int residuals(const gsl_vector *x, void *data, gsl_vector *f) {
  struct problem *p = data;
  double at[EW_KNOBS];
  g_autofree double *torque = g_new(double, (guint)p->n);
  for (int k = 0; k < p->used; k++)
    at[k] = gsl_vector_get(x, k);
  if (!torques(p, at, 1, torque))
    return GSL_EFAILED;
  for (int i = 0; i < p->n; i++)
    gsl_vector_set(f, i, (torque[i] - p->points[i].torque_n_m) / p->points[i].uncertainty_n_m);
  for (int k = 0; k < p->used; k++)
    gsl_vector_set(f, p->n + k, at[k] / ew_cycle_knobs[p->knob[k]].prior);
  return GSL_SUCCESS;
}

static int jacobian(const gsl_vector *x, void *data, gsl_matrix *j) {
  struct problem *p = data;
  double at[2 * EW_KNOBS * EW_KNOBS];
  g_autofree double *torque = g_new(double, 2 * EW_KNOBS * (guint)p->n);
  for (int s = 0; s < 2 * p->used; s++)
    for (int k = 0; k < p->used; k++)
      at[s * p->used + k] = gsl_vector_get(x, k) + (s / 2 == k ? (s % 2 ? STEP : -STEP) : 0);
  if (!torques(p, at, 2 * p->used, torque))
    return GSL_EFAILED;
  gsl_matrix_set_zero(j);
  for (int k = 0; k < p->used; k++) {
    for (int i = 0; i < p->n; i++)
      gsl_matrix_set(j, i, k,
                     (torque[(2 * k + 1) * p->n + i] - torque[2 * k * p->n + i]) / (2 * STEP) /
                         p->points[i].uncertainty_n_m);
    gsl_matrix_set(j, p->n + k, k, 1 / ew_cycle_knobs[p->knob[k]].prior);
  }
  return GSL_SUCCESS;
}

/* Number of runs of equal sign against chance (Wald and Wolfowitz 1940), normal approximation. */
static double sign_changes(const double *residual, int n) {
  double plus = 0, runs = 1;
  for (int i = 0; i < n; i++) {
    plus += residual[i] > 0;
    runs += i > 0 && (residual[i] > 0) != (residual[i - 1] > 0);
  }
  double minus = n - plus, product = 2 * plus * minus, mean = product / n + 1;
  double variance = product * (product - n) / ((double)n * n * (n - 1));
  return variance > 0 ? (runs - mean) / sqrt(variance) : 0;
}

static double rms(const double *residual, int n) {
  double sum = 0;
  for (int i = 0; i < n; i++)
    sum += residual[i] * residual[i];
  return sqrt(sum / n);
}

static void take_answer(struct problem *p, const gsl_multifit_nlinear_workspace *w,
                        struct ew_cycle_fit *fit) {
  const gsl_vector *x = gsl_multifit_nlinear_position(w);
  const gsl_vector *f = gsl_multifit_nlinear_residual(w);
  gsl_matrix *covariance = gsl_matrix_alloc(p->used, p->used);
  gsl_multifit_nlinear_covar(gsl_multifit_nlinear_jac(w), 0, covariance);
  gsl_blas_ddot(f, f, &fit->chi_square);
  fit->degrees = p->n; /* points + priors - factors */
  double widen = fmax(fit->chi_square / fit->degrees, 1), at[EW_KNOBS];
  for (int a = 0; a < p->used; a++) {
    at[a] = gsl_vector_get(x, a);
    for (int b = 0; b < p->used; b++)
      fit->covariance[p->knob[a]][p->knob[b]] = widen * gsl_matrix_get(covariance, a, b);
  }
  factors(p, at, fit->factor);
  g_autofree double *residual = g_new(double, (guint)p->n);
  for (int i = 0; i < p->n; i++) {
    residual[i] = -gsl_vector_get(f, i) * p->points[i].uncertainty_n_m;
    fit->predicted_n_m[i] = p->points[i].torque_n_m - residual[i];
  }
  fit->rms_after_n_m = rms(residual, p->n);
  fit->sign_changes_z = sign_changes(residual, p->n);
  gsl_matrix_free(covariance);
}

static gboolean solve(struct problem *p, struct ew_cycle_fit *fit) {
  gsl_multifit_nlinear_parameters how = gsl_multifit_nlinear_default_parameters();
  gsl_multifit_nlinear_workspace *w =
      gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &how, p->n + p->used, p->used);
  gsl_multifit_nlinear_fdf fdf = {
      .f = residuals, .df = jacobian, .n = p->n + p->used, .p = p->used, .params = p};
  gsl_vector *x = gsl_vector_calloc(p->used);
  gsl_error_handler_t *handler = gsl_set_error_handler_off();
  int status = gsl_multifit_nlinear_init(x, &fdf, w);
  if (status == GSL_SUCCESS) {
    g_autofree double *residual = g_new(double, (guint)p->n);
    for (int i = 0; i < p->n; i++)
      residual[i] =
          gsl_vector_get(gsl_multifit_nlinear_residual(w), i) * p->points[i].uncertainty_n_m;
    fit->rms_before_n_m = rms(residual, p->n);
  }
  for (; status == GSL_SUCCESS && fit->passes < MOST_PASSES; fit->passes++) {
    int info;
    double before;
    gsl_blas_ddot(gsl_multifit_nlinear_residual(w), gsl_multifit_nlinear_residual(w), &before);
    status = gsl_multifit_nlinear_iterate(w);
    double after;
    gsl_blas_ddot(gsl_multifit_nlinear_residual(w), gsl_multifit_nlinear_residual(w), &after);
    if (status == GSL_ENOPROG || before - after < 1e-3 * after + 1e-3) {
      status = p->error ? status : GSL_SUCCESS;
      fit->passes++;
      break;
    }
    if (gsl_multifit_nlinear_test(1e-3, 1e-6, 0, &info, w) == GSL_SUCCESS)
      break;
  }
  if (status == GSL_SUCCESS)
    take_answer(p, w, fit);
  else if (!p->error)
    ew_refuse(&p->error, "the fit found no better factors: %s", gsl_strerror(status));
  gsl_set_error_handler(handler);
  gsl_vector_free(x);
  gsl_multifit_nlinear_free(w);
  return status == GSL_SUCCESS;
}

static gboolean check_points(const struct ew_cycle_measured *points, int n, GError **error) {
  if (n < 3)
    return ew_refuse(error, "%d points are too few for a fit: give at least 3", n);
  for (int i = 0; i < n; i++) {
    if (!(points[i].uncertainty_n_m > 0) || !isfinite(points[i].torque_n_m))
      return ew_refuse(error,
                       "point %d (%g rpm): torque %g, uncertainty %g; both must be numbers, "
                       "the uncertainty positive",
                       i + 1, points[i].speed_rpm, points[i].torque_n_m, points[i].uncertainty_n_m);
    if (isnan(points[i].spark_deg) != isnan(points[0].spark_deg))
      return ew_refuse(error, "point %d: give a spark angle for all points or for none", i + 1);
  }
  return TRUE;
}

gboolean ew_cycle_fit(const struct ew_cycle_model *model, const struct ew_cycle_measured *points,
                      int n, const gboolean *use, const struct ew_cycle_options *options,
                      struct ew_cycle_fit *fit, GError **error) {
  memset(fit, 0, sizeof *fit);
  if (!check_points(points, n, error))
    return FALSE;
  struct problem p = {.model = model, .points = points, .options = *options, .n = n};
  for (int k = 0; k < EW_KNOBS; k++)
    if (use[k])
      p.knob[p.used++] = k;
  if (p.used == 0)
    return ew_refuse(error, "no factor to fit: choose among flow, burn, friction, heat");
  p.options.spark = isnan(points[0].spark_deg) ? options->spark : EW_SPARK_GIVEN;
  p.options.trace = FALSE;
  p.options.progress = NULL;
  fit->predicted_n_m = g_new0(double, (guint)n);
  gboolean ok = solve(&p, fit);
  fit->runs = p.runs;
  if (!ok) {
    g_propagate_error(error, p.error);
    ew_cycle_fit_clear(fit);
  }
  return ok;
}

void ew_cycle_fit_clear(struct ew_cycle_fit *fit) {
  g_clear_pointer(&fit->predicted_n_m, g_free);
}
