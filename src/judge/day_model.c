/* Steps: 1. a grid over s, q, J and rho with log-normal weights about 0.3, 0.045 and 0.2 %; 2. a pull updates the filter of each point
 * (judge/day_filter.c); 3. the weight of each point by the density of what came (Anderson and Moore, Optimal Filtering, 1979, 10.1: the exact
 * posterior over a finite set of models); 4. a new day: b and g stay and widen, the rest begins again; 5. the history's evidence is raised to
 * a power below 1, since earlier days need not scatter like today, but what it says of rho counts in full, and 0.25 of each weight moves
 * to the point that scatters 2.1 times as much. Until then a second grid takes the same pulls, any of which may be wrong: an engine whose
 * pulls stray would otherwise look rough by them. Both are put together by what came (5.1); 6. the difference of two set-ups is a mixture of normals.
 * The priors' sizes: found by simulation, common practice, no source.
 *
 * Everything inside is in per cent. */
#include "judge/day_inside.h"
#include "base/elementary.h"
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

#define PER_CENT 100.0
#define NS       EW_DAY_NS
#define NQ       EW_DAY_NQ
#define NJ       EW_DAY_NJ
#define NM       EW_DAY_NM

static const double scatter[NS] = {0.16, 0.206, 0.264, 0.34, 0.436, 0.56, 0.72, 0.93};
static const double walk[NQ] = {0, 0.03, 0.06, 0.12}, walk_weight[NQ] = {0.2, 0.3, 0.35, 0.15};
static const double jump[NJ] = {0.06, 0.2, 0.4};
static const double memory[NM] = {0, 0.4}, memory_weight[NM] = {0.6, 0.4};

#define USUAL_SCATTER  0.3
#define SCATTER_SPREAD 0.4 /* of the log */
#define USUAL_JUMP     0.2
#define JUMP_SPREAD    0.7

/* Means and standard deviations on the first day. */
static const struct {
  double mean, sd;
} prior[EW_DAY_SETUP + 1] = {
    [EW_DAY_LEVEL] = {0, 100}, /* about the day's first pull: as good as not known */
    [EW_DAY_SLOPE] = {0, 0.15},
    [EW_DAY_WARM_UP] = {0, 0.4},
    [EW_DAY_SPARK_1] = {0, 1.4},
    [EW_DAY_SPARK_2] = {-1, 0.45},
    [EW_DAY_SPARK_3] = {0, 0.2},
    [EW_DAY_EFFECT + EW_DAY_OIL] = {-0.02, 0.03},
    [EW_DAY_EFFECT + EW_DAY_INLET] = {-0.04, 0.08},
    [EW_DAY_EFFECT + EW_DAY_COOLANT] = {-0.02, 0.03},
    [EW_DAY_EFFECT + EW_DAY_HUMIDITY] = {-0.003, 0.008},
    [EW_DAY_SETUP] = {0, EW_DAY_SETUP_SD},
};
/* Of its prior spread, by which a spark term, and what the weather does, widens each morning: what earlier days taught of weather was taught
 * together with their drift, and a day may be of another kind. */
#define OVERNIGHT         0.15
#define OVERNIGHT_WEATHER 0.4
#define WARM_UP_PULLS     2.5
#define POWER             0.4 /* of the history's evidence about the grid */
#define POWER_CAUTIOUS    0.12
#define ENGINE_STRAYS     0.3  /* chance that an engine is one whose pulls stray */
#define PULL_STRAYS       0.05 /* chance of one of its pulls */
#define STRAYS_BY         5.0  /* times s, as in judge/day_answer.c */
#define ROUGHER           0.25 /* chance that today scatters more than earlier days */
#define ROUGHER_BY        3    /* points of the grid: 2.1 times */

static double prior_mean(int state) {
  return prior[MIN(state, (int)EW_DAY_SETUP)].mean;
}

static double prior_sd(const struct ew_day_model *m, int state) {
  return state == EW_DAY_SLOPE && m->options.no_slope ? 0 : prior[MIN(state, (int)EW_DAY_SETUP)].sd;
}

/* One state as if nothing were known of it but its prior. */
static void begin_state(struct ew_day_model *m, int state) {
  for (int i = 0; i < EW_DAY_STATES; i++)
    memset(m->covariance[ew_day_pair(state, i)], 0, sizeof(ew_day_row));
  double sd = prior_sd(m, state), *variance = m->covariance[ew_day_pair(state, state)];
  for (int g = 0; g < EW_DAY_POINTS; g++)
    m->mean[state][g] = prior_mean(state), variance[g] = sd * sd;
}

static double log_normal(double x, double usual, double spread) {
  double z = ew_log(x / usual) / spread;
  return -z * z / 2;
}

static void weigh(struct ew_day_model *m) {
  double most = -INFINITY, sum = 0;
  for (int g = 0; g < m->points; g++)
    most = fmax(most, m->log_prior[g] + m->log_evidence[g]);
  for (int g = 0; g < m->points; g++) {
    double below = m->log_prior[g] + m->log_evidence[g] - most;
    m->weight[g] = m->options.plug_in ? below == 0 : ew_exp(below);
    sum += m->weight[g];
  }
  g_assert(sum > 0);
  for (int g = 0; g < m->points; g++)
    m->weight[g] /= sum;
}

static void place(struct ew_day_model *m, int g, double s, double q, double J, double kept) {
  m->s[g] = s, m->q[g] = q, m->J[g] = m->options.no_jump ? 0 : J, m->memory[g] = kept;
}

/* Scatter is the slowest: step 5 moves weight along it. */
static void place_grid(struct ew_day_model *m) {
  for (int g = 0; g < EW_DAY_POINTS; g++) {
    int a = g / (NQ * NJ * NM), b = g / (NJ * NM) % NQ, c = g / NM % NJ, d = g % NM;
    place(m, g, scatter[a], walk[b], jump[c], memory[d]);
    m->log_prior[g] = log_normal(scatter[a], USUAL_SCATTER, SCATTER_SPREAD) +
                      ew_log(walk_weight[b]) + log_normal(jump[c], USUAL_JUMP, JUMP_SPREAD) +
                      ew_log(memory_weight[d]);
  }
  m->points = EW_DAY_POINTS;
}

struct ew_day_model *ew_day_model_new(const struct ew_day_options *options) {
  struct ew_day_model *m = g_new0(struct ew_day_model, 1);
  m->options = *options;
  if (options->only) {
    memcpy(m->only, options->only, sizeof m->only);
    m->options.only = m->only;
    for (int g = 0; g < EW_DAY_POINTS; g++) /* the first counts */
      place(m, g, m->only[0], m->only[1], m->only[2], m->only[3]);
    m->points = 1;
  } else
    place_grid(m);
  m->states = EW_DAY_SETUP;
  for (int i = 0; i < EW_DAY_STATES; i++)
    begin_state(m, i);
  weigh(m);
  if (m->points > 1 && !options->all_sound)
    m->strays = ew_day_model_copy(m);
  return m;
}

struct ew_day_model *ew_day_model_copy(const struct ew_day_model *model) {
  struct ew_day_model *m = g_new(struct ew_day_model, 1);
  *m = *model;
  if (m->options.only)
    m->options.only = m->only;
  if (m->strays)
    m->strays = ew_day_model_copy(m->strays);
  return m;
}

void ew_day_model_free(struct ew_day_model *model) {
  if (model)
    ew_day_model_free(model->strays);
  g_free(model);
}

/* 4. */
static void begin_day(struct ew_day_model *m, const struct ew_day_pull *pull) {
  for (int i = 0; i < EW_DAY_STATES; i++)
    if (i < EW_DAY_SPARK_1 || i >= EW_DAY_SETUP)
      begin_state(m, i);
    else if (m->begun) {
      double share = i < EW_DAY_EFFECT ? OVERNIGHT : OVERNIGHT_WEATHER;
      double wider = share * prior[i].sd, *variance = m->covariance[ew_day_pair(i, i)];
      for (int g = 0; g < EW_DAY_POINTS; g++)
        variance[g] += wider * wider;
    }
  for (int k = 0; k < EW_DAY_COVARIATES; k++)
    m->first[k] = NAN;
  m->begun = TRUE;
  m->day = pull->day;
  m->pulls_of_day = m->since_rest = 0;
  m->origin = PER_CENT * pull->log_mean;
  m->states = EW_DAY_SETUP;
}

/* What each state does to this pull. */
static void design(struct ew_day_model *m, const struct ew_day_pull *pull, double *h) {
  double v = isnan(pull->spark_deg) ? 0 : (pull->spark_deg - 30) / 5;
  memset(h, 0, EW_DAY_STATES * sizeof *h);
  h[EW_DAY_LEVEL] = 1;
  h[EW_DAY_SLOPE] = m->pulls_of_day;
  h[EW_DAY_NOISE] = 1;
  h[EW_DAY_WARM_UP] = ew_exp(-m->since_rest / WARM_UP_PULLS);
  h[EW_DAY_SPARK_1] = v, h[EW_DAY_SPARK_2] = v * v, h[EW_DAY_SPARK_3] = v * v * v;
  for (int k = 0; k < EW_DAY_COVARIATES; k++) {
    double x = pull->covariate[k];
    if (isnan(m->first[k]) && isfinite(x))
      m->first[k] = x;
    h[EW_DAY_EFFECT + k] = isfinite(x) ? x - m->first[k] : 0;
  }
  if (pull->setup > 0)
    h[EW_DAY_SETUP + pull->setup - 1] = 1;
}

/* Of all pulls but the first of a day, which nothing foretold. */
static void foretold(struct ew_day_model *m, const ew_day_row error, const ew_day_row variance,
                     const double *log_density) {
  double surprise = 0;
  for (int g = 0; g < m->points; g++) {
    surprise += m->weight[g] * error[g] / sqrt(variance[g]);
    m->log_evidence[g] +=
        log_density ? log_density[g]
                    : -(ew_log(2 * M_PI * variance[g]) + error[g] * error[g] / variance[g]) / 2;
  }
  m->surprise = surprise;
}

/* A new day, or a stop. TRUE: its noise remembers none. */
static gboolean begin_pull(struct ew_day_model *m, const struct ew_day_pull *pull,
                           gboolean *first) {
  *first = !m->begun || pull->day != m->day;
  if (*first)
    begin_day(m, pull);
  else if (pull->rested)
    m->since_rest = 0;
  m->states = MAX(m->states, EW_DAY_SETUP + pull->setup);
  return *first || pull->rested;
}

/* `strays`: the pull may be wrong, unless it is the first of its day, which nothing foretells. */
static void take(struct ew_day_model *m, const struct ew_day_pull *pull, gboolean strays,
                 struct ew_day_trail *trail) {
  gboolean first, fresh = begin_pull(m, pull, &first);
  double h[EW_DAY_STATES], y = PER_CENT * pull->log_mean - m->origin;
  ew_day_row error, variance, log_density;
  design(m, pull, h);
  ew_day_pass(m, first, pull->rested);
  strays &= !first;
  if (strays)
    ew_day_update_stray(m, h, y, ew_log(PULL_STRAYS / (1 - PULL_STRAYS)), STRAYS_BY, error,
                        variance, log_density);
  else
    ew_day_update(m, h, y, error, variance, trail);
  if (trail)
    trail->fresh = fresh;
  m->surprise = 0;
  if (!first)
    foretold(m, error, variance, strays ? log_density : NULL);
  m->pulls_of_day++;
  m->since_rest++;
}

gboolean ew_day_model_take(struct ew_day_model *m, const struct ew_day_pull *pull,
                           struct ew_day_trail *trail) {
  if (!isfinite(pull->log_mean) || pull->setup < 0 || pull->setup >= EW_DAY_SETUPS)
    return FALSE;
  take(m, pull, FALSE, trail);
  if (m->strays)
    take(m->strays, pull, TRUE, NULL);
  if (!trail) /* who asks for what is left behind weighs at the end */
    weigh(m);
  return TRUE;
}

gboolean ew_day_model_add(struct ew_day_model *m, const struct ew_day_pull *pull) {
  return ew_day_model_take(m, pull, NULL);
}

/* 5. Today may be rougher than what earlier days say: a share of each point's weight goes to those of larger scatter. */
static void expect_rougher(struct ew_day_model *m) {
  double weight[EW_DAY_POINTS], moved[EW_DAY_POINTS] = {0}, most = -INFINITY, sum = 0;
  for (int g = 0; g < m->points; g++)
    most = fmax(most, m->log_prior[g] + m->log_evidence[g]);
  for (int g = 0; g < m->points; g++)
    sum += weight[g] = ew_exp(m->log_prior[g] + m->log_evidence[g] - most);
  for (int g = 0; g < m->points; g++) {
    int up = MIN(ROUGHER_BY, NS - 1 - g / (NQ * NJ * NM));
    moved[g] += (1 - ROUGHER) * weight[g] / sum;
    moved[g + up * NQ * NJ * NM] += ROUGHER * weight[g] / sum;
  }
  for (int g = 0; g < m->points; g++)
    m->log_prior[g] = ew_log(fmax(moved[g], 1e-300)), m->log_evidence[g] = 0;
}

/* Log of the weight of all points of one memory, their evidence to this power. */
static double told_of_memory(const struct ew_day_model *m, int of, double power) {
  double most = -INFINITY, sum = 0;
  for (int g = of; g < m->points; g += NM)
    most = fmax(most, m->log_prior[g] + power * m->log_evidence[g]);
  for (int g = of; g < m->points; g += NM)
    sum += ew_exp(m->log_prior[g] + power * m->log_evidence[g] - most);
  return most + ew_log(sum);
}

/* Log of the weight of all points. */
static double told_in_all(const struct ew_day_model *m) {
  double most = -INFINITY, sum = 0;
  for (int g = 0; g < m->points; g++)
    most = fmax(most, m->log_prior[g] + m->log_evidence[g]);
  for (int g = 0; g < m->points; g++)
    sum += ew_exp(m->log_prior[g] + m->log_evidence[g] - most);
  return most + ew_log(sum);
}

static void lend(struct ew_day_model *m) {
  double power = m->options.cautious ? POWER_CAUTIOUS : POWER;
  for (int of = 0; of < NM;
       of++) { /* memory is of the engine, and as today as on any day: all of it counts */
    double more = m->points > 1 ? told_of_memory(m, of, 1) - told_of_memory(m, of, power) : 0;
    for (int g = of; g < m->points; g += NM)
      m->log_evidence[g] = power * m->log_evidence[g] + more;
  }
}

/* One normal in place of two at a point, mean and variance as both have; `share`: of the second. */
static void put_together(struct ew_day_model *m, const struct ew_day_model *other, int g,
                         double share) {
  for (int i = 0; i < EW_DAY_STATES; i++)
    for (int j = 0; j <= i; j++) {
      double *p = &m->covariance[ew_day_pair(i, j)][g];
      double apart = (other->mean[i][g] - m->mean[i][g]) * (other->mean[j][g] - m->mean[j][g]);
      *p += share * (other->covariance[ew_day_pair(i, j)][g] - *p) + share * (1 - share) * apart;
    }
  for (int i = 0; i < EW_DAY_STATES; i++)
    m->mean[i][g] += share * (other->mean[i][g] - m->mean[i][g]);
}

/* 5.1. Whether pulls stray is the engine's, as memory is: all that history says of it counts; of each grid what is lent. */
static void put_strays_in(struct ew_day_model *m) {
  struct ew_day_model *other = m->strays;
  double odds = ew_log(ENGINE_STRAYS / (1 - ENGINE_STRAYS)) + told_in_all(other) - told_in_all(m);
  lend(other);
  lend(m);
  double strays = odds > 0 ? 1 / (1 + ew_exp(-odds)) : 1 - 1 / (1 + ew_exp(odds));
  double of_other = told_in_all(other), own = told_in_all(m);
  for (int g = 0; g < m->points; g++) {
    double b = strays * ew_exp(other->log_prior[g] + other->log_evidence[g] - of_other);
    double a = (1 - strays) * ew_exp(m->log_prior[g] + m->log_evidence[g] - own);
    put_together(m, other, g, a + b > 0 ? b / (a + b) : strays);
    m->log_prior[g] = ew_log(fmax(a + b, 1e-300)), m->log_evidence[g] = 0;
  }
  ew_day_model_free(g_steal_pointer(&m->strays));
}

void ew_day_model_lend_history(struct ew_day_model *m) {
  if (m->strays)
    put_strays_in(m);
  else
    lend(m);
  if (m->begun && m->points > 1 && !m->options.all_sound)
    expect_rougher(m);
  weigh(m);
}

double ew_day_difference_at(const struct ew_day_model *m, int g, int a, int b, double *variance) {
  int i = EW_DAY_SETUP + b - 1, j = EW_DAY_SETUP + a - 1;
  double mean = (b ? m->mean[i][g] : 0) - (a ? m->mean[j][g] : 0);
  *variance = (b ? m->covariance[ew_day_pair(i, i)][g] : 0) +
              (a ? m->covariance[ew_day_pair(j, j)][g] : 0) -
              (a && b ? 2 * m->covariance[ew_day_pair(i, j)][g] : 0);
  return mean;
}

static void believe_at(const struct ew_day_model *m, int g, double weight, struct ew_day_belief *d,
                       double *squares) {
  d->scatter += weight * m->s[g] / PER_CENT;
  d->walk += weight * m->q[g] / PER_CENT;
  d->jump += weight * m->J[g] / PER_CENT;
  d->memory += weight * m->memory[g];
  d->slope += weight * m->mean[EW_DAY_SLOPE][g] / PER_CENT;
  d->warm_up += weight * m->mean[EW_DAY_WARM_UP][g] / PER_CENT;
  for (int k = 0; k < EW_DAY_COVARIATES; k++) {
    int i = EW_DAY_EFFECT + k;
    double mean = m->mean[i][g] / PER_CENT;
    double variance = m->covariance[ew_day_pair(i, i)][g] / PER_CENT / PER_CENT;
    d->effect[k] += weight * mean;
    squares[k] += weight * (variance + mean * mean);
  }
}

struct ew_day_belief ew_day_believe_weighed(const struct ew_day_model *m, int a, int b,
                                            const double *weight) {
  g_assert(a != b && MIN(a, b) >= 0 && MAX(a, b) < EW_DAY_SETUPS);
  struct ew_day_belief d = {0};
  double square = 0, squares[EW_DAY_COVARIATES] = {0};
  for (int g = 0; g < m->points; g++) {
    double variance, mean = ew_day_difference_at(m, g, a, b, &variance);
    d.mean += weight[g] * mean;
    square += weight[g] * (variance + mean * mean);
    believe_at(m, g, weight[g], &d, squares);
  }
  d.sd = sqrt(fmax(square - d.mean * d.mean, 0)) / PER_CENT;
  d.mean /= PER_CENT;
  for (int k = 0; k < EW_DAY_COVARIATES; k++)
    d.effect_sd[k] = sqrt(fmax(squares[k] - d.effect[k] * d.effect[k], 0));
  return d;
}

struct ew_day_belief ew_day_model_believe(const struct ew_day_model *m, int a, int b) {
  double weight[EW_DAY_POINTS];
  for (int g = 0; g < m->points; g++)
    weight[g] = m->weight[g];
  return ew_day_believe_weighed(m, a, b, weight);
}

double ew_day_model_below(const struct ew_day_model *m, int a, int b, double x) {
  double below = 0;
  for (int g = 0; g < m->points; g++) {
    double variance, mean = ew_day_difference_at(m, g, a, b, &variance);
    if (m->weight[g] > 1e-12)
      below += m->weight[g] * gsl_cdf_ugaussian_P((PER_CENT * x - mean) / sqrt(variance));
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

double ew_day_model_evidence(const struct ew_day_model *m) {
  double most = -INFINITY, with = 0, without = 0;
  for (int g = 0; g < m->points; g++)
    most = fmax(most, m->log_evidence[g]);
  for (int g = 0; g < m->points; g++) {
    with += ew_exp(m->log_prior[g] + m->log_evidence[g] - most);
    without += ew_exp(m->log_prior[g]);
  }
  return most + ew_log(with / without);
}
