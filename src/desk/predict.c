#include "desk/predict.h"
#include "base/error.h"
#include "base/statistics.h"
#include <gsl/gsl_multifit_nlinear.h>
#include <math.h>
#include <stddef.h>
#include <string.h>

#define FACTOR(field, text)                                                                        \
  {                                                                                                \
    .name = #field, .type = EW_FIELD_QUANTITY, .kind = EW_KIND_NUMBER,                             \
    .offset = offsetof(struct ew_tune, field), .minimum = 0.2, .maximum = 5, .fallback = "1",      \
    .help = text                                                                                   \
  }
#define SPREAD(field, text)                                                                        \
  {                                                                                                \
    .name = #field, .type = EW_FIELD_QUANTITY, .kind = EW_KIND_NUMBER,                             \
    .offset = offsetof(struct ew_tune, field), .help = text                                        \
  }
static const struct ew_field tune_table[] = {
    FACTOR(flow, "factor on the valves' flow areas"),
    FACTOR(burn, "factor on development and duration of burning"),
    FACTOR(friction, "factor on friction"),
    FACTOR(heat, "factor on heat to the cylinder walls"),
    SPREAD(flow_u, "its standard uncertainty"),
    SPREAD(burn_u, "its standard uncertainty"),
    SPREAD(friction_u, "its standard uncertainty"),
    SPREAD(heat_u, "its standard uncertainty"),
    SPREAD(left, "torque that the fit could not make up for, root mean square, relative"),
};
const struct ew_fields ew_tune_fields = {"a tune", sizeof(struct ew_tune), tune_table,
                                         G_N_ELEMENTS(tune_table)};
const char *const ew_tune_names[] = {"flow", "burn", "friction", "heat", NULL};

double *ew_tune_factor(struct ew_tune *t, int which) {
  double *all[] = {&t->flow, &t->burn, &t->friction, &t->heat};
  return all[which];
}

double *ew_tune_uncertainty(struct ew_tune *t, int which) {
  double *all[] = {&t->flow_u, &t->burn_u, &t->friction_u, &t->heat_u};
  return all[which];
}

gboolean ew_tune_is_fitted(const struct ew_tune *t) {
  return !isnan(t->left);
}

static void tune_model(struct ew_cycle_model *m, const struct ew_tune *t, GPtrArray *memory) {
  for (int i = 0; i < m->valves; i++) {
    struct ew_cycle_valve *valve = (struct ew_cycle_valve *)&m->valve[i];
    struct ew_cycle_flow *flow = g_memdup2(valve->flow, sizeof *flow * (gsize)valve->flows);
    for (int k = 0; k < valve->flows; k++) {
      flow[k].forward *= t->flow;
      flow[k].reverse *= t->flow;
    }
    valve->flow = flow;
    g_ptr_array_add(memory, flow);
  }
  m->combustion.development *= t->burn;
  m->combustion.duration *= t->burn;
  m->friction.constant_pa *= t->friction;
  m->friction.peak *= t->friction;
  m->friction.speed_pa_s_m *= t->friction;
  m->friction.square_pa_s2_m2 *= t->friction;
  m->woschni_factor *= t->heat;
}

static gboolean vary_all(const struct ew_prediction_setup *s, struct ew_varying *at, gboolean model,
                         struct ew_reach *reach, GError **error) {
  for (guint i = 0; s->variations && i < s->variations->len; i++)
    if (!ew_vary(at, &g_array_index(s->variations, struct ew_variation, i), model,
                 reach ? &reach[i] : NULL, error))
      return FALSE;
  return TRUE;
}

/* The model of a set-up, with all that is changed. reach, one a variation, may be NULL. */
static struct ew_cycle_build *build_model(const struct ew_prediction_setup *s, double *spark_deg,
                                          struct ew_reach *reach, GError **error) {
  struct ew_engine engine;
  struct ew_cam_timing timing = {NAN, NAN, NAN, NAN};
  ew_engine_copy(s->engine, &engine);
  struct ew_varying at = {.engine = &engine, .spark_deg = s->spark_deg};
  struct ew_cycle_build *build =
      vary_all(s, &at, FALSE, reach, error) ? ew_cycle_from_engine(&engine, error) : NULL;
  ew_cam_timing_of(&engine, &timing);
  ew_engine_clear(&engine);
  if (!build)
    return NULL;
  struct ew_cycle_model *m = &build->model;
  if (!isnan(s->lambda))
    m->equivalence = 1 / s->lambda;
  if (!isnan(s->pressure_pa))
    m->ambient_pa = s->pressure_pa;
  if (!isnan(s->temperature_k))
    m->ambient_k = s->temperature_k;
  if (!isnan(s->vapour_pa))
    m->vapour_pa = s->vapour_pa;
  at = (struct ew_varying){.model = m,
                           .inlet_centreline_deg = timing.inlet_centreline_deg,
                           .exhaust_centreline_deg = timing.exhaust_centreline_deg,
                           .spark_deg = s->spark_deg};
  if (vary_all(s, &at, TRUE, reach, error)) {
    *spark_deg = at.spark_deg;
    tune_model(m, &s->tune, build->memory);
    if (ew_cycle_model_check(m, error))
      return build;
  }
  ew_cycle_build_free(build);
  return NULL;
}

gboolean ew_predict_reach(const struct ew_prediction_setup *s, struct ew_reach *reach,
                          GError **error) {
  double spark;
  struct ew_cycle_build *build = build_model(s, &spark, reach, error);
  if (!build)
    return FALSE;
  ew_cycle_build_free(build);
  return TRUE;
}

double ew_predict_octane(const struct ew_prediction_setup *s) {
  double spark;
  struct ew_cycle_build *build = build_model(s, &spark, NULL, NULL);
  if (!build)
    return NAN;
  const struct ew_cycle_model *m = &build->model;
  double octane = isnan(m->combustion.octane)
                      ? (m->fuel->research_octane + m->fuel->motor_octane) / 2
                      : m->combustion.octane;
  ew_cycle_build_free(build);
  return octane;
}

void ew_cycle_results_free(struct ew_cycle_result *r, int n) {
  for (int i = 0; i < n; i++)
    ew_cycle_result_clear(&r[i]);
  g_free(r);
}

static void free_builds(struct ew_cycle_build **builds, int count) {
  for (int i = 0; i < count; i++)
    if (builds[i])
      ew_cycle_build_free(builds[i]);
}

gboolean ew_predict_setups(const struct ew_prediction_setup *setups, int count,
                           const double *speed_rpm, int speeds,
                           const struct ew_cycle_options *given, struct ew_cycle_result *results,
                           struct ew_cycle_effort *effort, GPtrArray *notes, GError **error) {
  g_autofree struct ew_cycle_build **builds = g_new0(struct ew_cycle_build *, count);
  g_autofree struct ew_cycle_job *jobs = g_new0(struct ew_cycle_job, (gsize)count * (gsize)speeds);
  struct ew_cycle_options options = *given;
  gboolean good = TRUE;
  for (int i = 0; good && i < count; i++) {
    double spark;
    builds[i] = build_model(&setups[i], &spark, NULL, error);
    good = builds[i] != NULL;
    if (good && isnan(setups[i].spark_deg) && !isnan(spark))
      good = ew_refuse(error,
                       "--change spark: give --spark too, so that there is an advance to change");
    if (good && !isnan(spark))
      options.spark = EW_SPARK_GIVEN;
    for (int k = 0; good && k < speeds; k++)
      jobs[i * speeds + k] = (struct ew_cycle_job){&builds[i]->model, speed_rpm[k], spark};
  }
  for (guint i = 0; good && notes && i < builds[0]->notes->len; i++)
    g_ptr_array_add(notes, g_strdup(g_ptr_array_index(builds[0]->notes, i)));
  good = good && ew_cycle_predict_jobs(jobs, count * speeds, &options, results, effort, error);
  free_builds(builds, count);
  return good;
}

/* The fit */

struct fitting {
  struct ew_prediction_setup setup;
  const double *speed, *torque;
  int n, knobs, evaluations;
  int knob[EW_TUNE_COUNT];
  const struct ew_cycle_options *options;
  double sigma; /* relative, of one point: shape of the model and of the measurement */
  GError *error;
};

#define PRIOR 0.3 /* standard deviation of the log of a factor before the fit */

/* Residuals: relative differences over sigma, then one prior row a knob. */
static int residuals(const gsl_vector *x, void *data, gsl_vector *f) {
  struct fitting *fit = data;
  struct ew_prediction_setup setup = fit->setup;
  for (int k = 0; k < fit->knobs; k++)
    *ew_tune_factor(&setup.tune, fit->knob[k]) *=
        exp(CLAMP(gsl_vector_get(x, (gsize)k), -1.2, 1.2));
  g_autofree struct ew_cycle_result *r = g_new0(struct ew_cycle_result, fit->n);
  fit->evaluations++;
  if (!ew_predict_setups(&setup, 1, fit->speed, fit->n, fit->options, r, NULL, NULL,
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

static void take_answer(struct fitting *fit, gsl_multifit_nlinear_workspace *w,
                        struct ew_tuned *tuned) {
  gsl_vector *f = gsl_multifit_nlinear_residual(w);
  tuned->error_after = root_mean_square(f, fit->n, fit->sigma);
  tuned->residual = g_new(double, fit->n);
  for (int i = 0; i < fit->n; i++) {
    tuned->residual[i] = gsl_vector_get(f, (gsize)i) * fit->sigma;
    tuned->worst_after = fmax(tuned->worst_after, fabs(tuned->residual[i]));
  }
  tuned->tune.left = tuned->error_after;
  tuned->pattern = ew_autocorrelation(tuned->residual, (gsize)fit->n);
  gsl_matrix *covariance = gsl_matrix_alloc((gsize)fit->knobs, (gsize)fit->knobs);
  gsl_multifit_nlinear_covar(gsl_multifit_nlinear_jac(w), 0, covariance);
  /* what is left over is shape that the knobs cannot make: it widens their uncertainty */
  double excess = fmax(
      tuned->error_after / fit->sigma * sqrt((double)fit->n / fmax(fit->n - fit->knobs, 1)), 1);
  for (int k = 0; k < fit->knobs; k++) {
    double factor = exp(gsl_vector_get(gsl_multifit_nlinear_position(w), (gsize)k));
    *ew_tune_factor(&tuned->tune, fit->knob[k]) *= factor;
    *ew_tune_uncertainty(&tuned->tune, fit->knob[k]) =
        *ew_tune_factor(&tuned->tune, fit->knob[k]) * excess *
        sqrt(gsl_matrix_get(covariance, (gsize)k, (gsize)k));
  }
  gsl_matrix_free(covariance);
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
  *tuned = (struct ew_tuned){.tune = setup->tune, .points = n};
  gsl_multifit_nlinear_parameters parameters = gsl_multifit_nlinear_default_parameters();
  parameters.h_df = 0.02; /* steps large against the tolerance of convergence */
  parameters.fdtype = GSL_MULTIFIT_NLINEAR_FWDIFF;
  gsl_multifit_nlinear_workspace *w = gsl_multifit_nlinear_alloc(
      gsl_multifit_nlinear_trust, &parameters, (gsize)(n + fit.knobs), (gsize)fit.knobs);
  gsl_multifit_nlinear_fdf fdf = {
      .f = residuals, .n = (gsize)(n + fit.knobs), .p = (gsize)fit.knobs, .params = &fit};
  gsl_vector *start = gsl_vector_calloc((gsize)fit.knobs);
  for (int k = 0; k < fit.knobs; k++)
    gsl_vector_set(start, (gsize)k, 0.01); /* the difference step is relative: not zero */
  gboolean good = gsl_multifit_nlinear_init(start, &fdf, w) == GSL_SUCCESS;
  if (good) {
    int info;
    tuned->error_before = root_mean_square(gsl_multifit_nlinear_residual(w), n, fit.sigma);
    gsl_multifit_nlinear_driver(8, 1e-3, 1e-3, 1e-4, NULL, NULL, &info, w);
    take_answer(&fit, w, tuned);
  }
  tuned->evaluations = fit.evaluations;
  gsl_multifit_nlinear_free(w);
  gsl_vector_free(start);
  if (fit.error) {
    g_clear_pointer(&tuned->residual, g_free);
    g_propagate_error(error, fit.error);
    return FALSE;
  }
  return good || ew_fail(error, "the fit could not be started");
}
