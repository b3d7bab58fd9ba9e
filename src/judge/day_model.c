/* Steps: 1. a grid over s, q and J with log-normal weights about 0.3, 0.045 and 0.2 %; 2. a pull: the level's variance
 * grows by q² and, after a stop or rest, J²; the foretelling h'm, h'Ph + s²; the update in Joseph's form, written out for
 * one figure: P - K(h'P) - (Ph)K' + K S K', which keeps P symmetric (Bucy and Joseph 1968; Anderson and Moore, Optimal
 * Filtering, 1979, 6.5); 3. the weight of each point by the density of what came (Anderson and Moore, 10.1: the exact
 * posterior over a finite set of models); 4. a new day: b and g stay and widen, the rest begins again; 5. the history's
 * weights are raised to a power below 1, since earlier days need not scatter like today; 6. the difference of two set-ups
 * is a mixture of normals; 7. back over the pulls at each point (de Jong, J. Am. Stat. Assoc. 84, 1989; from memory): u = v/F - K'r and
 * D = 1/F + K'N K give the pull's distance from all others, u/D with variance 1/D, r and N go back by L = I - K h'.
 * The priors' sizes: found by simulation, common practice, no source.
 *
 * Everything inside is in per cent. */
#include "judge/day_model.h"
#include "base/elementary.h"
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

#define PER_CENT 100.0
#define NS       7
#define NQ       4
#define NJ       3
#define POINTS   (NS * NQ * NJ)

enum state {
  LEVEL,
  SLOPE,
  WARM_UP,
  SPARK_1,
  SPARK_2,
  SPARK_3,
  EFFECT,
  SETUP = EFFECT + EW_DAY_COVARIATES, /* of set-up 1; set-up 0 has none */
  STATES = SETUP + EW_DAY_SETUPS - 1
};

static const double scatter[NS] = {0.16, 0.206, 0.264, 0.34, 0.436, 0.56, 0.72};
static const double walk[NQ] = {0, 0.03, 0.06, 0.12}, walk_weight[NQ] = {0.2, 0.3, 0.35, 0.15};
static const double jump[NJ] = {0.06, 0.2, 0.4};

#define USUAL_SCATTER  0.3
#define SCATTER_SPREAD 0.4 /* of the log */
#define USUAL_JUMP     0.2
#define JUMP_SPREAD    0.7

/* Means and standard deviations on the first day. */
static const struct {
  double mean, sd;
} prior[SETUP + 1] = {
    [LEVEL] = {0, 100}, /* about the day's first pull: as good as not known */
    [SLOPE] = {0, 0.15},
    [WARM_UP] = {0, 0.4},
    [SPARK_1] = {0, 1.4},
    [SPARK_2] = {-1, 0.45},
    [SPARK_3] = {0, 0.2},
    [EFFECT + EW_DAY_OIL] = {-0.02, 0.03},
    [EFFECT + EW_DAY_INLET] = {-0.04, 0.04},
    [EFFECT + EW_DAY_COOLANT] = {-0.02, 0.03},
    [EFFECT + EW_DAY_HUMIDITY] = {-0.003, 0.008},
    [SETUP] = {0, 2},
};
#define OVERNIGHT                                                                                  \
  0.15 /* of an effect's or a spark term's prior spread, by which it widens each morning */
#define WARM_UP_PULLS  2.5
#define POWER          0.4 /* of the history's evidence about the grid */
#define POWER_CAUTIOUS 0.12

/* One filter: the mean and covariance of the states in use. */
struct filter {
  double s, q, J;
  double log_prior, log_evidence, weight;
  double mean[STATES], covariance[STATES][STATES];
};

struct ew_day_model {
  struct ew_day_options options;
  double only[3];
  int points, states; /* states in use: SETUP + (largest set-up of the day) */
  int day, pulls_of_day, since_rest;
  gboolean begun;
  double first[EW_DAY_COVARIATES]; /* known of the day; NaN */
  double origin;                   /* of y: the day's first */
  double surprise;
  struct filter filter[POINTS];
};

static double prior_mean(int state) {
  return prior[MIN(state, (int)SETUP)].mean;
}

static double prior_sd(const struct ew_day_model *m, int state) {
  return state == SLOPE && m->options.no_slope ? 0 : prior[MIN(state, (int)SETUP)].sd;
}

/* One state as if nothing were known of it but its prior. */
static void begin_state(const struct ew_day_model *m, struct filter *f, int state) {
  for (int i = 0; i < STATES; i++)
    f->covariance[state][i] = f->covariance[i][state] = 0;
  double sd = prior_sd(m, state);
  f->mean[state] = prior_mean(state);
  f->covariance[state][state] = sd * sd;
}

static double log_normal(double x, double usual, double spread) {
  double z = ew_log(x / usual) / spread;
  return -z * z / 2;
}

static void weigh(struct ew_day_model *m) {
  double most = -INFINITY, sum = 0;
  for (int g = 0; g < m->points; g++)
    most = fmax(most, m->filter[g].log_prior + m->filter[g].log_evidence);
  for (int g = 0; g < m->points; g++) {
    struct filter *f = &m->filter[g];
    double below = f->log_prior + f->log_evidence - most;
    f->weight = m->options.plug_in ? below == 0 : ew_exp(below);
    sum += f->weight;
  }
  g_assert(sum > 0);
  for (int g = 0; g < m->points; g++)
    m->filter[g].weight /= sum;
}

static void place_grid(struct ew_day_model *m) {
  int at = 0;
  for (int a = 0; a < NS; a++)
    for (int b = 0; b < NQ; b++)
      for (int c = 0; c < NJ; c++)
        m->filter[at++] = (struct filter){
            .s = scatter[a],
            .q = walk[b],
            .J = m->options.no_jump ? 0 : jump[c],
            .log_prior = log_normal(scatter[a], USUAL_SCATTER, SCATTER_SPREAD) +
                         ew_log(walk_weight[b]) + log_normal(jump[c], USUAL_JUMP, JUMP_SPREAD)};
  m->points = at;
}

struct ew_day_model *ew_day_model_new(const struct ew_day_options *options) {
  struct ew_day_model *m = g_new0(struct ew_day_model, 1);
  m->options = *options;
  if (options->only) {
    memcpy(m->only, options->only, sizeof m->only);
    m->options.only = m->only;
    m->filter[0] = (struct filter){.s = m->only[0], .q = m->only[1], .J = m->only[2]};
    m->points = 1;
  } else
    place_grid(m);
  m->states = SETUP;
  for (int g = 0; g < m->points; g++)
    for (int i = 0; i < STATES; i++)
      begin_state(m, &m->filter[g], i);
  weigh(m);
  return m;
}

struct ew_day_model *ew_day_model_copy(const struct ew_day_model *model) {
  struct ew_day_model *m = g_new(struct ew_day_model, 1);
  *m = *model;
  if (m->options.only)
    m->options.only = m->only;
  return m;
}

void ew_day_model_free(struct ew_day_model *model) {
  g_free(model);
}

/* 4. */
static void begin_day(struct ew_day_model *m, const struct ew_day_pull *pull) {
  for (int g = 0; g < m->points; g++)
    for (int i = 0; i < STATES; i++)
      if (i < SPARK_1 || i >= SETUP)
        begin_state(m, &m->filter[g], i);
      else if (m->begun) {
        double wider = OVERNIGHT * prior[i].sd;
        m->filter[g].covariance[i][i] += wider * wider;
      }
  for (int k = 0; k < EW_DAY_COVARIATES; k++)
    m->first[k] = NAN;
  m->begun = TRUE;
  m->day = pull->day;
  m->pulls_of_day = m->since_rest = 0;
  m->origin = PER_CENT * pull->log_mean;
  m->states = SETUP;
}

/* What each state does to this pull. */
static void design(struct ew_day_model *m, const struct ew_day_pull *pull, double *h) {
  double v = isnan(pull->spark_deg) ? 0 : (pull->spark_deg - 30) / 5;
  memset(h, 0, STATES * sizeof *h);
  h[LEVEL] = 1;
  h[SLOPE] = m->pulls_of_day;
  h[WARM_UP] = ew_exp(-m->since_rest / WARM_UP_PULLS);
  h[SPARK_1] = v, h[SPARK_2] = v * v, h[SPARK_3] = v * v * v;
  for (int k = 0; k < EW_DAY_COVARIATES; k++) {
    double x = pull->covariate[k];
    if (isnan(m->first[k]) && isfinite(x))
      m->first[k] = x;
    h[EFFECT + k] = isfinite(x) ? x - m->first[k] : 0;
  }
  if (pull->setup > 0)
    h[SETUP + pull->setup - 1] = 1;
}

/* What one pull was at one point of the grid, for the way back (7). */
struct trail {
  double h[STATES], gain[STATES];
  double error, variance; /* of the foretelling; 0: not taken */
};

/* 2. for one point of the grid; the foretelling's error in standard deviations. */
static double update(struct filter *f, int n, const double *h, double y, double grows,
                     double *log_density, struct trail *trail) {
  double ph[STATES], gain[STATES], foretold = 0, variance = f->s * f->s;
  f->covariance[LEVEL][LEVEL] += grows;
  for (int i = 0; i < n; i++) {
    double sum = 0;
    for (int j = 0; j < n; j++)
      sum += f->covariance[i][j] * h[j];
    ph[i] = sum;
    foretold += h[i] * f->mean[i];
  }
  for (int i = 0; i < n; i++)
    variance += h[i] * ph[i];
  for (int i = 0; i < n; i++)
    gain[i] = ph[i] / variance;
  double error = y - foretold;
  for (int i = 0; i < n; i++) {
    f->mean[i] += gain[i] * error;
    for (int j = 0; j < n; j++)
      f->covariance[i][j] += gain[i] * gain[j] * variance - gain[i] * ph[j] - ph[i] * gain[j];
  }
  *log_density = -(ew_log(2 * M_PI * variance) + error * error / variance) / 2;
  if (trail) {
    memcpy(trail->h, h, sizeof trail->h);
    memcpy(trail->gain, gain, (gsize)n * sizeof *gain);
    trail->error = error, trail->variance = variance;
  }
  return error / sqrt(variance);
}

/* `trail`: one a point of the grid, or NULL. */
static gboolean take(struct ew_day_model *m, const struct ew_day_pull *pull, struct trail *trail) {
  if (!isfinite(pull->log_mean) || pull->setup < 0 || pull->setup >= EW_DAY_SETUPS)
    return FALSE;
  gboolean first = !m->begun || pull->day != m->day;
  if (first)
    begin_day(m, pull);
  else if (pull->rested)
    m->since_rest = 0;
  m->states = MAX(m->states, SETUP + pull->setup);
  double h[STATES], y = PER_CENT * pull->log_mean - m->origin, surprise = 0;
  design(m, pull, h);
  for (int g = 0; g < m->points; g++) {
    struct filter *f = &m->filter[g];
    double log_density, grows = first ? 0 : f->q * f->q + (pull->rested ? f->J * f->J : 0);
    surprise +=
        f->weight * update(f, m->states, h, y, grows, &log_density, trail ? &trail[g] : NULL);
    if (!first) /* nothing foretold it */
      f->log_evidence += log_density;
  }
  m->surprise = first ? 0 : surprise;
  weigh(m);
  m->pulls_of_day++;
  m->since_rest++;
  return TRUE;
}

gboolean ew_day_model_add(struct ew_day_model *m, const struct ew_day_pull *pull) {
  return take(m, pull, NULL);
}

void ew_day_model_lend_history(struct ew_day_model *m) {
  for (int g = 0; g < m->points; g++)
    m->filter[g].log_evidence *= m->options.cautious ? POWER_CAUTIOUS : POWER;
  weigh(m);
}

/* Mean and variance of set-up b less set-up a at one point. */
static double difference_at(const struct filter *f, int a, int b, double *variance) {
  int i = SETUP + b - 1, j = SETUP + a - 1;
  double mean = (b ? f->mean[i] : 0) - (a ? f->mean[j] : 0);
  *variance = (b ? f->covariance[i][i] : 0) + (a ? f->covariance[j][j] : 0) -
              (a && b ? 2 * f->covariance[i][j] : 0);
  return mean;
}

static void believe_at(const struct filter *f, struct ew_day_belief *d, double *squares) {
  d->scatter += f->weight * f->s / PER_CENT;
  d->walk += f->weight * f->q / PER_CENT;
  d->jump += f->weight * f->J / PER_CENT;
  d->slope += f->weight * f->mean[SLOPE] / PER_CENT;
  d->warm_up += f->weight * f->mean[WARM_UP] / PER_CENT;
  for (int k = 0; k < EW_DAY_COVARIATES; k++) {
    double mean = f->mean[EFFECT + k] / PER_CENT;
    d->effect[k] += f->weight * mean;
    squares[k] +=
        f->weight * (f->covariance[EFFECT + k][EFFECT + k] / PER_CENT / PER_CENT + mean * mean);
  }
}

struct ew_day_belief ew_day_model_believe(const struct ew_day_model *m, int a, int b) {
  g_assert(a != b && MIN(a, b) >= 0 && MAX(a, b) < EW_DAY_SETUPS);
  struct ew_day_belief d = {0};
  double square = 0, squares[EW_DAY_COVARIATES] = {0};
  for (int g = 0; g < m->points; g++) {
    const struct filter *f = &m->filter[g];
    double variance, mean = difference_at(f, a, b, &variance);
    d.mean += f->weight * mean;
    square += f->weight * (variance + mean * mean);
    believe_at(f, &d, squares);
  }
  d.sd = sqrt(fmax(square - d.mean * d.mean, 0)) / PER_CENT;
  d.mean /= PER_CENT;
  for (int k = 0; k < EW_DAY_COVARIATES; k++)
    d.effect_sd[k] = sqrt(fmax(squares[k] - d.effect[k] * d.effect[k], 0));
  return d;
}

double ew_day_model_below(const struct ew_day_model *m, int a, int b, double x) {
  double below = 0;
  for (int g = 0; g < m->points; g++) {
    double variance, mean = difference_at(&m->filter[g], a, b, &variance);
    if (m->filter[g].weight > 1e-12)
      below += m->filter[g].weight * gsl_cdf_ugaussian_P((PER_CENT * x - mean) / sqrt(variance));
  }
  return below;
}

double ew_day_model_quantile(const struct ew_day_model *m, int a, int b, double p) {
  g_assert(p > 0 && p < 1);
  struct ew_day_belief d = ew_day_model_believe(m, a, b);
  double low = d.mean - 20 * d.sd, high = d.mean + 20 * d.sd;
  for (int i = 0; i < 50; i++) {
    double middle = (low + high) / 2;
    if (ew_day_model_below(m, a, b, middle) < p)
      low = middle;
    else
      high = middle;
  }
  return (low + high) / 2;
}

double ew_day_model_surprise(const struct ew_day_model *m) {
  return m->surprise;
}

/* 7. */
struct apart {
  double shift, variance; /* of the pull from what all others say of it; variance 0: not taken */
};

/* What comes after a night says nothing of the level, slope, warm-up and set-ups before it. */
static void forget_night(double *r, double N[STATES][STATES]) {
  for (int i = 0; i < STATES; i++)
    if (i < SPARK_1 || i >= SETUP) {
      r[i] = 0;
      for (int j = 0; j < STATES; j++)
        N[i][j] = N[j][i] = 0;
    }
}

/* One step back: u and D of this pull from r and N, which become those before it. */
static struct apart step_back(const struct trail *t, int n, double *r, double N[STATES][STATES]) {
  double back = 0, square = 0, NK[STATES];
  for (int i = 0; i < n; i++) {
    back += t->gain[i] * r[i];
    NK[i] = 0;
    for (int j = 0; j < n; j++)
      NK[i] += N[i][j] * t->gain[j];
  }
  for (int i = 0; i < n; i++)
    square += t->gain[i] * NK[i];
  double u = t->error / t->variance - back, D = 1 / t->variance + square;
  for (int i = 0; i < n; i++) {
    r[i] += t->h[i] * u;
    for (int j = 0; j < n; j++)
      N[i][j] += t->h[i] * t->h[j] * D - t->h[i] * NK[j] - NK[i] * t->h[j];
  }
  return (struct apart){.shift = u / D, .variance = 1 / D};
}

static void walk_back(const struct trail *trails, const struct ew_day_pull *pulls, gsize n,
                      int point, int states, struct apart *out) {
  double r[STATES] = {0}, N[STATES][STATES] = {{0}};
  for (gsize i = n; i-- > 0;) {
    const struct trail *t = &trails[i * POINTS + (gsize)point];
    if (i + 1 < n && pulls[i + 1].day != pulls[i].day)
      forget_night(r, N);
    out[i * POINTS + (gsize)point] =
        t->variance > 0 ? step_back(t, states, r, N) : (struct apart){0};
  }
}

/* How far pull i stands apart, in standard deviations: its shift has the prior of a set-up, and each point of the grid the weight that
 * it has once the pull is a set-up of its own. */
static double times_apart(const struct ew_day_model *m, const struct apart *apart) {
  double prior_variance = prior[SETUP].sd * prior[SETUP].sd, most = -INFINITY;
  double weight[POINTS], sum = 0, mean = 0, square = 0;
  for (int g = 0; g < m->points; g++) {
    double v = apart[g].variance, wide = v + prior_variance, e = apart[g].shift;
    gboolean counts = v > 0 && m->filter[g].weight > 0;
    weight[g] =
        counts ? ew_log(m->filter[g].weight) + ew_log(v / wide) / 2 + e * e / 2 * (1 / v - 1 / wide)
               : -INFINITY;
    most = fmax(most, weight[g]);
  }
  for (int g = 0; g < m->points && isfinite(most); g++) {
    double v = apart[g].variance, share = prior_variance / (v + prior_variance);
    double w = isfinite(weight[g]) ? ew_exp(weight[g] - most) : 0, shift = apart[g].shift * share;
    sum += w, mean += w * shift, square += w * (v * share + shift * shift);
  }
  mean = sum > 0 ? mean / sum : 0;
  double variance = sum > 0 ? square / sum - mean * mean : 0;
  return variance > 0 ? fabs(mean) / sqrt(variance) : 0;
}

double ew_day_model_misfit(const struct ew_day_model *before, const struct ew_day_pull *pulls,
                           gsize n, gsize *which) {
  g_autoptr(ew_day_model) m = ew_day_model_copy(before);
  g_autofree struct trail *trails = g_new0(struct trail, (n + 1) * POINTS);
  g_autofree struct apart *apart = g_new0(struct apart, (n + 1) * POINTS);
  double most = 0;
  gsize at = n, of[2] = {0, 0};
  for (gsize i = 0; i < n; i++)
    if (take(m, &pulls[i], &trails[i * POINTS]) && pulls[i].setup <= 1)
      of[pulls[i].setup]++;
  for (int g = 0; g < m->points; g++)
    walk_back(trails, pulls, n, g, m->states, apart);
  for (gsize i = 0; i < n; i++) {
    if (pulls[i].setup < 0 || pulls[i].setup > 1 || of[pulls[i].setup] < 2)
      continue;
    double misfit = times_apart(m, &apart[i * POINTS]);
    if (misfit > most)
      most = misfit, at = i;
  }
  if (which)
    *which = at;
  return most;
}

double ew_day_model_evidence(const struct ew_day_model *m) {
  double most = -INFINITY, with = 0, without = 0;
  for (int g = 0; g < m->points; g++)
    most = fmax(most, m->filter[g].log_evidence);
  for (int g = 0; g < m->points; g++) {
    with += ew_exp(m->filter[g].log_prior + m->filter[g].log_evidence - most);
    without += ew_exp(m->filter[g].log_prior);
  }
  return most + ew_log(with / without);
}
