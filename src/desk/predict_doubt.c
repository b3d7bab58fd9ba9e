/* What a prediction can be wrong by, and what a difference of two is worth.
 *
 * Each knob of the model is moved by its standard uncertainty and the curve run again: the fit's own uncertainty where a knob was
 * fitted, else a rule of thumb. Flow areas that no bench measured are known to EW_HEAD_FLOW_U. Before a fit each figure that the file
 * leaves out is moved by its prior as well (predict_spread.c), so that the band is wide where waves depend on a length that nobody gave.
 * What neither can make up for is added: what the fit left over, or MODEL_U; and what cells leave. Squares add up. MODEL_U and ASSUMED were learned from
 * engines that ran (docs/methods-cycle.md, section 8); the rest are rules of thumb, no source. */
#include "base/error.h"
#include "desk/alike.h"
#include "base/message.h"
#include "base/json_writer.h"
#include "cycle/head_kind.h"
#include "desk/predict_spread.h"
#include <math.h>

/* Standard uncertainty of each factor before any fit, in the order of ew_tune_names. A runner's length, the back pressure and the cams are given, or have their priors in the spread. */
static const double unfitted_u[EW_TUNE_COUNT] = {0.05, 0.10, 0.15, 0.15, 0, 0, 0};
#define MODEL_U 0.04
/* What is assumed counts by this much: its spreads are judged one at a time, and the parts of engines that were built suit each other. */
#define ASSUMED 0.6
#define FLOW    0 /* the first knob */

static gboolean no_flow(const struct ew_engine *e) {
  return !e->inlet.flows || !e->exhaust.flows;
}

#define THINS 9 /* a band is a smooth thing: it is not needed at every speed */

/* The curves that stand for the doubt, on longer cells: the engine as it is and one a knob; at fewer speeds one a set-up of the spread. */
struct moved {
  int knobs, speeds, results;
  struct ew_cycle_result *result; /* [results] */
  struct ew_prior spread;
  int thins, thin[THINS]; /* speeds at which the spread is run */
  int thin_results;
  struct ew_cycle_result *thin_result; /* the engine as it is, then one a set-up of the spread */
};

static double flow_u(const struct ew_engine *e) {
  return no_flow(e) ? EW_HEAD_FLOW_U : unfitted_u[FLOW];
}

static int knobs_of(const struct ew_prediction_setup *setup, double *by, int *knob) {
  struct ew_tune tune = setup->tune;
  int n = 0;
  for (int k = 0; k < EW_TUNE_COUNT; k++) {
    double u = *ew_tune_uncertainty(&tune, k),
           usual = k == FLOW ? flow_u(setup->engine) : unfitted_u[k];
    by[n] = u > 0 ? u : usual * *ew_tune_factor(&tune, k);
    if (u > 0 || (!ew_tune_is_fitted(&tune) && usual > 0))
      knob[n++] = k;
  }
  return n;
}

EW_MESSAGE(fitted, "desk.doubt-fitted", EW_NOTE,
           "fitted to measured pulls: what the fit left over, and each knob's own uncertainty");
EW_MESSAGE(
    not_fitted_no_flow, "desk.doubt-not-fitted-flow-not-measured", EW_NOTE,
    "not fitted: valve flow was not measured and is known to 12 %, parts that the file leaves out "
    "to what their kind differs by: of both six tenths, as engines that ran have shown; burning is "
    "known to 10 %, friction and heat to 15 %; 4 % for what no knob can make up for");
EW_MESSAGE(not_fitted, "desk.doubt-not-fitted", EW_NOTE,
           "not fitted: flow is known to 5 %, burning to 10 %, friction and heat to 15 %; 4 % for "
           "what no knob can make up for; more for each part that the file leaves out");

const struct ew_message_kind *ew_doubt_says(const struct ew_prediction_setup *setup) {
  if (ew_tune_is_fitted(&setup->tune))
    return &fitted;
  return no_flow(setup->engine) ? &not_fitted_no_flow : &not_fitted;
}

/* What one curve of the knobs counts: flow that no bench measured is assumed. */
static double counts(const struct ew_prediction_setup *setup, int curve) {
  gboolean assumed = curve == 1 + FLOW && !ew_tune_is_fitted(&setup->tune);
  return assumed && no_flow(setup->engine) ? ASSUMED : 1;
}

static double left_u(const struct ew_prediction_setup *setup) {
  return ew_tune_is_fitted(&setup->tune) ? setup->tune.left : MODEL_U;
}

/* Relative variance of the torque at one of the thinned speeds by one set-up of the spread: of its curve over the engine's own. */
static double variance_at(const struct moved *m, int k, int thin) {
  const struct ew_cycle_result *own = &m->thin_result[thin],
                               *other = &m->thin_result[(1 + k) * m->thins + thin];
  return m->spread.share[k] * pow(ASSUMED * (other->torque_n_m / own->torque_n_m - 1), 2);
}

/* The same at speed i, between the thinned ones. */
static double variance_of(const struct moved *m, int k, int i) {
  g_assert(m->thins > 0 && i >= m->thin[0]);
  int j = 0;
  while (j + 1 < m->thins && m->thin[j + 1] <= i)
    j++;
  if (j + 1 >= m->thins)
    return variance_at(m, k, j);
  double w = (i - m->thin[j]) / (double)(m->thin[j + 1] - m->thin[j]);
  return (1 - w) * variance_at(m, k, j) + w * variance_at(m, k, j + 1);
}

static void sum_up(struct ew_doubt *d, const struct ew_prediction_setup *setup,
                   const struct moved *m) {
  double left = left_u(setup);
  for (int i = 0; i < d->speeds; i++) {
    double cells = ew_tune_is_fitted(&setup->tune) /* the fit was made on such cells */
                       ? 0
                       : ew_cycle_cells_u(d->cell_m, m->result[i].speed_rpm);
    double squares = (left * left + cells * cells) * pow(d->torque_n_m[i], 2);
    for (int k = 1; k < d->curves; k++)
      squares += pow(counts(setup, k) * (d->torque_n_m[k * d->speeds + i] - d->torque_n_m[i]), 2);
    for (int k = 0; k < m->spread.setups; k++)
      squares += variance_of(m, k, i) * pow(d->torque_n_m[i], 2);
    d->torque_u_n_m[i] = sqrt(squares);
  }
}

#define WORTH_SAYING 0.005 /* of the variance: below it nobody measures anything for it */

static void consider(struct ew_doubt *d, const char *field, double share) {
  if (!(share >= WORTH_SAYING))
    return;
  int at = d->narrowings;
  while (at > 0 && d->narrow[at - 1].variance_share < share)
    at--;
  for (int i = MIN(d->narrowings, EW_NARROW_MOST - 1); i > at; i--)
    d->narrow[i] = d->narrow[i - 1];
  if (at < EW_NARROW_MOST) {
    d->narrow[at] = (struct ew_narrowing){field, share};
    d->narrowings = MIN(d->narrowings + 1, EW_NARROW_MOST);
  }
  g_assert(d->narrowings <= EW_NARROW_MOST);
}

/* Both sides of a figure stand next to each other. */
static void consider_spread(struct ew_doubt *d, const struct moved *m, double all) {
  for (int k = 0; k < m->spread.setups;) {
    const char *field = m->spread.field[k];
    double share = 0;
    for (; k < m->spread.setups && m->spread.field[k] == field; k++)
      for (int i = 0; i < d->speeds; i++)
        share += variance_of(m, k, i) / d->speeds;
    consider(d, field, share / all);
  }
}

/* What the band's mean variance would lose if a figure that is assumed were measured instead; the greatest first. */
static void seek_narrowing(struct ew_doubt *d, const struct ew_prediction_setup *setup,
                           const struct moved *m) {
  double all = 0, by_flow = 0;
  if (ew_tune_is_fitted(&setup->tune))
    return;
  for (int i = 0; i < d->speeds; i++) {
    double t = d->torque_n_m[i];
    all += pow(d->torque_u_n_m[i] / t, 2) / d->speeds;
    double moved = d->torque_n_m[(1 + FLOW) * d->speeds + i] / t - 1;
    by_flow += pow(ASSUMED * moved, 2) / d->speeds;
  }
  double gone = 1 - pow(unfitted_u[FLOW] / (ASSUMED * EW_HEAD_FLOW_U), 2);
  if (!(all > 0))
    return;
  if (no_flow(setup->engine))
    consider(d, "inlet.flows", gone * by_flow / all);
  consider_spread(d, m, all);
}

/* Progress of one of two parts. */
struct part {
  const struct ew_cycle_options *options;
  double from, share;
};

static void tell_part(double share, gpointer data) {
  const struct part *p = data;
  p->options->progress(p->from + share * p->share, p->options->data);
}

static struct ew_cycle_options options_of(const struct ew_cycle_options *given, struct part *part,
                                          double from, double share) {
  struct ew_cycle_options options = *given;
  *part = (struct part){given, from, share};
  if (options.progress) {
    options.progress = tell_part;
    options.data = part;
  }
  return options;
}

/* What moving a knob does is nearly the same on longer cells: there it is run, as a ratio. */
#define LONGER     2
#define LONGEST_M  0.08
#define PART_CURVE 0.3
#define PART_KNOBS 0.25

/* Speeds for the spread: all, or THINS evenly from the first to the last. */
static void thin_out(struct moved *m) {
  m->thins = MIN(m->speeds, THINS);
  for (int j = 0; j < m->thins; j++)
    m->thin[j] = m->thins == m->speeds ? j : j * (m->speeds - 1) / (m->thins - 1);
  g_assert(m->thin[0] == 0 && m->thin[m->thins - 1] == m->speeds - 1);
}

static gboolean run_spread(const struct ew_prediction_setup *setup, const double *speed_rpm,
                           const struct ew_cycle_options *options, struct moved *m,
                           GError **error) {
  g_assert(m->spread.setups <= EW_PRIOR_MOST && !m->thin_result);
  struct ew_prediction_setup setups[1 + EW_PRIOR_MOST] = {*setup};
  double speed[THINS];
  thin_out(m);
  for (int j = 0; j < m->thins; j++)
    speed[j] = speed_rpm[m->thin[j]];
  for (int k = 0; k < m->spread.setups; k++)
    setups[1 + k] = m->spread.setup[k];
  m->thin_results = (1 + m->spread.setups) * m->thins;
  m->thin_result = g_new0(struct ew_cycle_result, m->thin_results);
  return ew_predict_setups(setups, 1 + m->spread.setups, speed, m->thins, options, m->thin_result,
                           NULL, NULL, error);
}

static gboolean run_knobs(const struct ew_prediction_setup *setup, const double *speed_rpm,
                          const struct ew_cycle_options *options, const int *knob, const double *by,
                          struct moved *m, GError **error) {
  g_assert(m->knobs <= EW_TUNE_COUNT && !m->result);
  struct ew_prediction_setup setups[EW_TUNE_COUNT + 1];
  for (int k = 0; k <= m->knobs; k++) {
    setups[k] = *setup;
    if (k > 0)
      *ew_tune_factor(&setups[k].tune, knob[k - 1]) += by[k - 1];
  }
  m->results = (1 + m->knobs) * m->speeds;
  m->result = g_new0(struct ew_cycle_result, m->results);
  return ew_predict_setups(setups, 1 + m->knobs, speed_rpm, m->speeds, options, m->result, NULL,
                           NULL, error);
}

/* The engine as it is, with each knob moved, and with each figure that its file leaves out. */
static gboolean run_moved(const struct ew_prediction_setup *setup, const double *speed_rpm,
                          const struct ew_cycle_options *given, const int *knob, const double *by,
                          struct moved *m, GError **error) {
  struct part part;
  if (!ew_prior_make(setup, &m->spread, error))
    return FALSE;
  double knobs = m->spread.setups > 0 ? PART_KNOBS : 1 - PART_CURVE;
  struct ew_cycle_options options = options_of(given, &part, PART_CURVE, knobs);
  options.cell_m = fmin(LONGER * given->cell_m, fmax(LONGEST_M, given->cell_m));
  if (!run_knobs(setup, speed_rpm, &options, knob, by, m, error))
    return FALSE;
  part = (struct part){given, PART_CURVE + knobs, 1 - PART_CURVE - knobs};
  return m->spread.setups == 0 || run_spread(setup, speed_rpm, &options, m, error);
}

static void moved_clear(struct moved *m) {
  ew_cycle_results_free(m->result, m->results);
  ew_cycle_results_free(m->thin_result, m->thin_results);
  ew_prior_clear(&m->spread);
}

gboolean ew_predict_doubt(const struct ew_prediction_setup *setup, const double *speed_rpm,
                          int speeds, const struct ew_cycle_options *given,
                          struct ew_cycle_result *results, struct ew_doubt *doubt,
                          struct ew_cycle_effort *effort, GPtrArray *notes, GError **error) {
  double by[EW_TUNE_COUNT];
  int knob[EW_TUNE_COUNT];
  struct part part;
  struct ew_cycle_options options = options_of(given, &part, 0, PART_CURVE);
  struct moved moved = {.knobs = knobs_of(setup, by, knob), .speeds = speeds};
  *doubt = (struct ew_doubt){.cell_m = given->cell_m, .speeds = speeds, .curves = 1 + moved.knobs};
  if (!ew_predict_setups(setup, 1, speed_rpm, speeds, &options, results, effort, notes, error))
    return FALSE;
  gboolean good = run_moved(setup, speed_rpm, given, knob, by, &moved, error);
  if (good) {
    int n = doubt->curves * speeds;
    g_assert(n == moved.results);
    doubt->torque_n_m = g_new0(double, n);
    doubt->torque_u_n_m = g_new0(double, speeds);
    for (int i = 0; i < n; i++)
      doubt->torque_n_m[i] = results[i % speeds].torque_n_m *
                             (moved.result[i].torque_n_m / moved.result[i % speeds].torque_n_m);
    sum_up(doubt, setup, &moved);
    seek_narrowing(doubt, setup, &moved);
  }
  moved_clear(&moved);
  return good;
}

void ew_doubt_write_narrowings(const struct ew_doubt *d, struct ew_json *json) {
  ew_json_open_array(json, "would_narrow");
  for (int i = 0; i < d->narrowings; i++) {
    ew_json_open(json, NULL);
    ew_json_text(json, "field", d->narrow[i].field);
    ew_json_number(json, "variance_share", d->narrow[i].variance_share);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

void ew_doubt_clear(struct ew_doubt *d) {
  g_free(d->torque_n_m);
  g_free(d->torque_u_n_m);
  *d = (struct ew_doubt){0};
}

/* Relative difference of mean torque with the same knob moved in both. */
static double difference(const struct ew_doubt *base, const struct ew_doubt *now, int curve,
                         const double *speed, double low, double high) {
  double a = 0, b = 0;
  for (int i = 0; i < base->speeds; i++)
    if (speed[i] >= low && speed[i] <= high) {
      a += base->torque_n_m[curve * base->speeds + i];
      b += now->torque_n_m[curve * now->speeds + i];
    }
  return a > 0 ? b / a - 1 : NAN;
}

struct ew_prediction_gain ew_prediction_gain_of(const struct ew_doubt *base,
                                                const struct ew_doubt *now, const double *speed_rpm,
                                                double low_rpm, double high_rpm) {
  double d = difference(base, now, 0, speed_rpm, low_rpm, high_rpm);
  double cells = EW_DOUBT_OF_CELLS * ew_cycle_cells_u(base->cell_m, (low_rpm + high_rpm) / 2);
  double squares =
      pow(EW_DOUBT_OF_DIFFERENCE * d, 2) + pow(EW_DOUBT_OF_TOLERANCE, 2) + cells * cells;
  for (int k = 1; k < MIN(base->curves, now->curves); k++)
    squares += pow(difference(base, now, k, speed_rpm, low_rpm, high_rpm) - d, 2);
  double u = sqrt(squares);
  return (struct ew_prediction_gain){d, u, low_rpm, high_rpm, fabs(d) > 2 * u};
}

EW_MESSAGE(gain_unknown, "desk.gain-unknown", EW_NOTE,
           "no difference can be stated from {low} to {high} rpm");
EW_MESSAGE(gain_beyond, "desk.gain-beyond-doubt", EW_NOTE,
           "{gain} ({least} to {most}) from {low} to {high} rpm, more than what the prediction can "
           "be wrong by");
EW_MESSAGE(gain_within, "desk.gain-within-doubt", EW_NOTE,
           "{gain} ({least} to {most}) from {low} to {high} rpm, inside what the prediction can be "
           "wrong by");

ew_message *ew_prediction_gain_says(const struct ew_prediction_gain *g) {
  struct ew_argument low = ew_say_figure("low", g->low_rpm, 0),
                     high = ew_say_figure("high", g->high_rpm, 0);
  if (isnan(g->relative))
    return ew_message(&gain_unknown, low, high);
  return ew_message(g->beyond_doubt ? &gain_beyond : &gain_within,
                    ew_say_share_change("gain", g->relative, 1),
                    ew_say_share_change("least", g->relative - 2 * g->relative_u, 1),
                    ew_say_share_change("most", g->relative + 2 * g->relative_u, 1), low, high);
}

/* ---- points of measured pulls ---- */

static gboolean check_pulls(const GPtrArray *pulls, double *from, double *to, GError **error) {
  if (!ew_desk_all_alike(pulls, EW_ALIKE_SIDE, 0, NULL, NULL, NULL, error))
    return FALSE;
  *from = 0;
  *to = INFINITY;
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *p = g_ptr_array_index(pulls, i);
    *from = fmax(*from, p->curve->speed_rpm[0]);
    *to = fmin(*to, p->curve->speed_rpm[p->curve->points - 1]);
  }
  return *to - *from >= 500 ||
         ew_refuse(error,
                   "these pulls have no 500 rpm in common: choose pulls over the same speeds");
}

static double otherwise(double given, double mean) {
  return isnan(given) ? mean : given;
}

gboolean ew_predict_measured(const GPtrArray *pulls, int points, struct ew_prediction_setup *setup,
                             double *speed_rpm, double *torque_n_m, GError **error) {
  double from, to, pressure = 0, temperature = 0, vapour = 0, n = pulls->len;
  if (!check_pulls(pulls, &from, &to, error))
    return FALSE;
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_conditions *c =
        &((const struct ew_loaded *)g_ptr_array_index(pulls, i))->curve->conditions;
    pressure += c->pressure_pa / n;
    temperature += c->temperature_k / n;
    vapour += c->vapour_pa / n;
  }
  gboolean air = !isnan(pressure) && !isnan(temperature);
  for (int k = 0; k < points; k++) {
    speed_rpm[k] = from + (to - from) * k / (points - 1);
    torque_n_m[k] = 0;
    for (guint i = 0; i < pulls->len; i++) {
      const struct ew_curve *c = ((const struct ew_loaded *)g_ptr_array_index(pulls, i))->curve;
      torque_n_m[k] +=
          ew_curve_at(c, air ? c->observed_n_m : c->torque_n_m, fmin(speed_rpm[k], to)) / n;
    }
  }
  const struct ew_loaded *first = g_ptr_array_index(pulls, 0);
  setup->pressure_pa = otherwise(setup->pressure_pa, air ? pressure : NAN);
  setup->temperature_k = otherwise(setup->temperature_k, air ? temperature : NAN);
  setup->vapour_pa = otherwise(setup->vapour_pa, air ? vapour : NAN);
  setup->spark_deg = otherwise(setup->spark_deg, first->setup.spark_deg);
  setup->lambda = otherwise(setup->lambda, first->setup.lambda_target);
  return TRUE;
}
