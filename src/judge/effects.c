/* Steps: 0. readings move by the sensors' own scatter, too: only the other share of it counts; 1. of each day of an engine, products of conditions and figures about the means of its groups, its slope taken out as far
 * as it may be one (a prior of 0 ± 0.15 % a pull): information J = X'MX/s² and h = X'My/s²; 2. upwards: what a child with own
 * deviation N(0, T) says of its parent is (I + J T)^-1 J and (I + J T)^-1 h, which needs no inverse of J; 3. downwards to the
 * engine that is asked about: prior and all others combined, widened by T at each level, and its own J and h added (normal model in
 * information form: Lindley and Smith, Bayes Estimates for the Linear Model, 1972; from memory). T is diagonal; 5. the covariance
 * is widened by what the sensors' scatter does through the correction factor. */
#include "judge/effects.h"
#include "gas/moist_air.h"
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <string.h>

#define K        EW_DAY_COVARIATES
#define USUAL_SD 0.003
#define SLOPE_SD 0.0015 /* a pull */
#define MEASURED "channel"

/* What is common, and the shares of its variance that belong to cell, family and engine: sizes as in the day's model; common
 * practice, no source. */
static const double common[K] = {[EW_DAY_OIL] = -0.0002,
                                 [EW_DAY_INLET] = -0.0004,
                                 [EW_DAY_COOLANT] = -0.0002,
                                 [EW_DAY_HUMIDITY] = -0.00003};
static const double common_sd[K] = {[EW_DAY_OIL] = 0.0003,
                                    [EW_DAY_INLET] = 0.0004,
                                    [EW_DAY_COOLANT] = 0.0003,
                                    [EW_DAY_HUMIDITY] = 0.00008};
/* How far one reading lies from what the engine had, by chance, from pull to pull; and what a reading that is wrong by one unit does to the
 * corrected figure, which was corrected by it: (T/T0)^0.5 of the standards' factors at 298 K; dry air, 32 Pa of vapour a per cent. Sizes of
 * the first: common practice, no source. */
static const double reading_sd[K] = {
    [EW_DAY_OIL] = 0.7, [EW_DAY_INLET] = 0.5, [EW_DAY_COOLANT] = 0.5, [EW_DAY_HUMIDITY] = 1.5};
static const double by_factor[K] = {[EW_DAY_INLET] = 0.5 / 298, [EW_DAY_HUMIDITY] = 32.0 / 98000};
#define SHARE_CELL   0.6
#define SHARE_FAMILY 0.2
#define SHARE_ENGINE 0.2

/* J and h; figures are scaled by common_sd, so that T is a share times the unit matrix. */
struct information {
  double J[K][K], h[K];
};

static void add(struct information *to, const struct information *what) {
  for (int i = 0; i < K; i++) {
    to->h[i] += what->h[i];
    for (int j = 0; j < K; j++)
      to->J[i][j] += what->J[i][j];
  }
}

/* A x = b for each column of b, in place. A is regular: a unit matrix with something not negative added. */
static void solve(double A[K][K], double *b, int columns) {
  double x[K];
  int sign;
  gsl_matrix_view a = gsl_matrix_view_array(&A[0][0], K, K);
  gsl_permutation *order = gsl_permutation_alloc(K);
  gsl_linalg_LU_decomp(&a.matrix, order, &sign);
  for (int c = 0; c < columns; c++) {
    for (int i = 0; i < K; i++)
      x[i] = b[i * columns + c];
    gsl_vector_view v = gsl_vector_view_array(x, K);
    gsl_linalg_LU_svx(&a.matrix, order, &v.vector);
    for (int i = 0; i < K; i++)
      b[i * columns + c] = x[i];
  }
  gsl_permutation_free(order);
}

/* 2. A child's information as one about its parent; 3. a parent's about a child, which is the same. */
static struct information through(const struct information *of, double share) {
  struct information out = *of;
  double both[K][K + 1], A[K][K];
  for (int i = 0; i < K; i++)
    for (int j = 0; j < K; j++) {
      A[i][j] = share * of->J[i][j] + (i == j);
      both[i][j] = of->J[i][j];
    }
  for (int i = 0; i < K; i++)
    both[i][K] = of->h[i];
  solve(A, &both[0][0], K + 1);
  for (int i = 0; i < K; i++) {
    out.h[i] = both[i][K];
    for (int j = 0; j < K; j++)
      out.J[i][j] = both[i][j];
  }
  return out;
}

static gboolean is_known(const struct ew_effects_pull *p) {
  return isfinite(p->log_mean) && isfinite(p->position);
}

/* Position, figure and conditions of pull i about the means of its group; how many are in the group. */
static double about_group(const struct ew_effects_pull *pulls, gsize n, gsize i,
                          double out[K + 2]) {
  g_assert(i < n);
  double sum[K + 2] = {0}, count[K + 2] = {0}, own[K + 2];
  for (gsize j = 0; j < n; j++) {
    const struct ew_effects_pull *p = &pulls[j];
    if (p->engine != pulls[i].engine || p->day != pulls[i].day || p->group != pulls[i].group ||
        !is_known(p))
      continue;
    own[0] = p->position, own[1] = p->log_mean;
    memcpy(own + 2, p->covariate, sizeof p->covariate);
    for (int k = 0; k < K + 2; k++)
      if (isfinite(own[k]))
        sum[k] += own[k], count[k]++;
  }
  own[0] = pulls[i].position, own[1] = pulls[i].log_mean;
  memcpy(own + 2, pulls[i].covariate, sizeof pulls[i].covariate);
  for (int k = 0; k < K + 2; k++)
    out[k] = isfinite(own[k]) ? (own[k] - sum[k] / count[k]) * (k < 2 ? 1 : common_sd[k - 2]) : 0;
  return count[1];
}

/* 0. What readings moved by within their groups is the engine's conditions and the sensors' own scatter; only the first does anything to
 * torque. The share of it (regression calibration: Carroll, Ruppert, Stefanski and Crainiceanu, Measurement Error in Nonlinear Models,
 * 2006, chapter 4; from memory). O(n²). */
static void share_told(const struct ew_effects_pull *pulls, gsize n, double told[K]) {
  double squares[K] = {0}, freedom[K] = {0}, z[K + 2];
  for (gsize i = 0; i < n; i++) {
    if (!is_known(&pulls[i]))
      continue;
    double fellows = about_group(pulls, n, i, z);
    for (int k = 0; k < K; k++)
      if (fellows > 1 && isfinite(pulls[i].covariate[k])) {
        squares[k] += z[k + 2] * z[k + 2] / common_sd[k] / common_sd[k];
        freedom[k] += 1 - 1 / fellows;
      }
  }
  for (int k = 0; k < K; k++) {
    double moved = freedom[k] > 0 ? squares[k] / freedom[k] : 0;
    told[k] = moved > 0 ? fmax(1 - reading_sd[k] * reading_sd[k] / moved, 0) : 0;
  }
}

/* 5. What is learned is (told g + (1 - told) of what the sensor's scatter does through the factor), whose sign depends on the standard. */
static void widen(struct ew_effects *e) {
  for (int k = 0; k < K; k++) {
    double learned = 1 - e->covariance[k][k] / (common_sd[k] * common_sd[k]);
    double doubt = by_factor[k] * (1 - e->told[k]) * fmax(learned, 0);
    e->covariance[k][k] += doubt * doubt;
  }
}

/* 1. The day that pull `of` belongs to. */
static struct information of_day(const struct ew_effects_pull *pulls, gsize n, gsize of,
                                 double sd) {
  g_assert(of < n);
  double S[K + 2][K + 2] = {{0}}, z[K + 2];
  for (gsize i = 0; i < n; i++) {
    if (pulls[i].engine != pulls[of].engine || pulls[i].day != pulls[of].day ||
        !is_known(&pulls[i]) || about_group(pulls, n, i, z) < 2)
      continue;
    for (int a = 0; a < K + 2; a++)
      for (int b = 0; b < K + 2; b++)
        S[a][b] += z[a] * z[b];
  }
  double slope = S[0][0] + sd * sd / (SLOPE_SD * SLOPE_SD);
  struct information out;
  for (int i = 0; i < K; i++) {
    double with = S[i + 2][0] / slope;
    out.h[i] = (S[i + 2][1] - with * S[0][1]) / (sd * sd);
    for (int j = 0; j < K; j++)
      out.J[i][j] = (S[i + 2][j + 2] - with * S[0][j + 2]) / (sd * sd);
  }
  return out;
}

static gboolean same_engine(const struct ew_effects_pull *a, const struct ew_effects_pull *b) {
  return a->engine == b->engine;
}

static gboolean same_family(const struct ew_effects_pull *a, const struct ew_effects_pull *b) {
  return a->cell == b->cell && a->family == b->family;
}

static gboolean same_cell(const struct ew_effects_pull *a, const struct ew_effects_pull *b) {
  return a->cell == b->cell;
}

static gboolean same_day(const struct ew_effects_pull *a, const struct ew_effects_pull *b) {
  return a->engine == b->engine && a->day == b->day;
}

typedef gboolean (*same_kind)(const struct ew_effects_pull *, const struct ew_effects_pull *);
static const struct level {
  same_kind same;
  double share; /* of the variance between those of one parent */
} levels[] = {{same_cell, SHARE_CELL},
              {same_family, SHARE_FAMILY},
              {same_engine, SHARE_ENGINE},
              {same_day, 0}};
#define DAY 3

/* What the pulls that are of one kind with pull `of` at a level say of it: the sum of what its children say. `without`: a child
 * that is left out (a pull of it), n: none. */
static struct information told_by(const struct ew_effects_pull *pulls, gsize n, gsize of, int level,
                                  const struct ew_effects_pull *without, double sd) {
  if (level == DAY)
    return of_day(pulls, n, of, sd);
  const struct level *child = &levels[level + 1];
  struct information sum = {0};
  for (gsize i = 0; i < n; i++) {
    gboolean first = level < 0 || levels[level].same(&pulls[i], &pulls[of]);
    for (gsize j = 0; first && j < i; j++)
      first = (level >= 0 && !levels[level].same(&pulls[j], &pulls[of])) ||
              !child->same(&pulls[j], &pulls[i]);
    if (!first || (without && child->same(&pulls[i], without)))
      continue;
    struct information of_child = told_by(pulls, n, i, level + 1, NULL, sd);
    of_child = through(&of_child, child->share);
    add(&sum, &of_child);
  }
  return sum;
}

/* A pull in place of the engine asked about, where it has none: for the comparisons alone. */
static gsize stand_for(const struct ew_effects_pull *pulls, gsize n,
                       const struct ew_effects_pull *asked, int level) {
  for (gsize i = 0; i < n; i++)
    if (levels[level].same(&pulls[i], asked))
      return i;
  return n;
}

/* 3. */
static struct information believe(const struct ew_effects_pull *pulls, gsize n,
                                  const struct ew_effects_pull *asked, double sd) {
  struct information now = {0};
  for (int i = 0; i < K; i++) { /* of what is common, nothing is open but its cell's share */
    now.J[i][i] = 1 / SHARE_CELL;
    now.h[i] = common[i] / common_sd[i] / SHARE_CELL;
  }
  for (int level = 0; level < DAY; level++) {
    gsize of = stand_for(pulls, n, asked, level);
    if (level > 0)
      now = through(&now, levels[level].share);
    if (of == n)
      continue;
    struct information told = told_by(pulls, n, of, level, level + 1 < DAY ? asked : NULL, sd);
    add(&now, &told);
  }
  return now;
}

struct ew_effects ew_effects_learn(const struct ew_effects_pull *pulls, gsize n, int cell,
                                   int family, int engine, double sd) {
  const struct ew_effects_pull asked = {.cell = cell, .family = family, .engine = engine};
  struct ew_effects effects = {.pulls = 0};
  g_autofree struct ew_effects_pull *true_part = g_new(struct ew_effects_pull, n + 1);
  share_told(pulls, n, effects.told);
  for (gsize i = 0; i < n; i++) {
    true_part[i] = pulls[i];
    for (int k = 0; k < K; k++)
      true_part[i].covariate[k] *= effects.told[k]; /* only deviations count */
  }
  struct information now =
      believe(true_part, n, &asked, isfinite(sd) && sd > 0 ? fmax(sd, USUAL_SD / 10) : USUAL_SD);
  double inverse[K][K + 1] = {{0}};
  for (int i = 0; i < K; i++)
    inverse[i][i] = 1, inverse[i][K] = now.h[i];
  solve(now.J, &inverse[0][0], K + 1);
  for (int i = 0; i < K; i++) {
    effects.effect[i] = inverse[i][K] * common_sd[i];
    for (int j = 0; j < K; j++)
      effects.covariance[i][j] = (inverse[i][j] + inverse[j][i]) / 2 * common_sd[i] * common_sd[j];
  }
  widen(&effects);
  for (gsize i = 0; i < n; i++) {
    effects.pulls += is_known(&pulls[i]);
    effects.own += is_known(&pulls[i]) && pulls[i].engine == engine;
  }
  g_assert(effects.own <= effects.pulls);
  return effects;
}

void ew_effects_conditions(const struct ew_curve *curve, double covariate[K]) {
  const struct ew_conditions *c = &curve->conditions;
  gboolean measured = c->vapour_pa > 0 && strcmp(c->humidity_from, MEASURED) == 0;
  covariate[EW_DAY_OIL] = c->oil_start_k;
  covariate[EW_DAY_INLET] = c->temperature_k;
  covariate[EW_DAY_COOLANT] = c->coolant_start_k;
  covariate[EW_DAY_HUMIDITY] =
      measured ? 100 * c->vapour_pa / ew_saturation_pressure_pa(c->temperature_k) : (double)NAN;
}

/* Conditions less their mean over the pulls (`x`: rows of n pulls). What is not known of a pull becomes the mean of its side; where a
 * side (0 or 1) knows nothing of it, it is 0 in both. */
static void effects_fill(const int *side, double (*x)[K], gsize n) {
  for (int k = 0; k < K; k++) {
    double sum[2] = {0, 0}, count[2] = {0, 0};
    for (gsize i = 0; i < n; i++)
      if (isfinite(x[i][k]))
        sum[side[i]] += x[i][k], count[side[i]]++;
    gboolean known = count[0] > 0 && count[1] > 0;
    double middle = (sum[0] + sum[1]) / (count[0] + count[1]);
    for (gsize i = 0; i < n; i++) {
      double value = isfinite(x[i][k]) ? x[i][k] : sum[side[i]] / count[side[i]];
      x[i][k] = known ? value - middle : 0;
    }
  }
}

double ew_effects_shift(const struct ew_effects *effects, const double x[K]) {
  double sum = 0;
  for (int k = 0; k < K; k++)
    sum += effects->effect[k] * x[k];
  return sum;
}

static double effects_variance(const struct ew_effects *effects, const double x[K]) {
  double sum = 0;
  for (int i = 0; i < K; i++)
    for (int j = 0; j < K; j++)
      sum += x[i] * effects->covariance[i][j] * x[j];
  return fmax(sum, 0);
}

/* `weighed`: the change as the difference weighs its pulls, which is what acted on it. Told is the change of the sides' means, which is
 * what the gate tells too and what a reader can check. */
static struct ew_effects_told tell(const struct ew_effects *effects, const double (*x)[K],
                                   const double weighed[K], const struct ew_value *values,
                                   gsize n) {
  struct ew_effects_told g = {.sd = sqrt(effects_variance(effects, weighed))};
  for (int k = 0; k < K; k++) {
    double sum[2] = {0, 0}, known[2] = {0, 0};
    for (gsize i = 0; i < n; i++)
      if (isfinite(x[i][k]))
        sum[values[i].side] += x[i][k], known[values[i].side]++;
    gboolean both = known[0] > 0 && known[1] > 0;
    g.asked |= both;
    g.change[k] = both ? sum[1] / known[1] - sum[0] / known[0] : (double)NAN;
    g.shift[k] = effects->effect[k] * weighed[k];
    g.shift_sd[k] = fabs(weighed[k]) * sqrt(effects->covariance[k][k]);
  }
  return g;
}

void ew_effects_apply(const struct ew_effects *effects, const double (*x)[K],
                      struct ew_value *values, gsize n, struct ew_spread history,
                      struct ew_difference_options *options, struct ew_effects_told *guarded) {
  g_autofree double(*filled)[K] = g_malloc0_n(n + 1, sizeof *filled);
  g_autofree int *side = g_new(int, n + 1);
  g_autofree double *weight = g_new(double, n + 1);
  double change[K] = {0};
  memcpy(filled, x, n * sizeof *filled);
  for (gsize i = 0; i < n; i++)
    side[i] = values[i].side;
  effects_fill(side, filled, n);
  for (gsize i = 0; i < n; i++)
    values[i].log_mean -= ew_effects_shift(effects, filled[i]);
  struct ew_difference d = ew_difference(values, n, history, options);
  ew_difference_weights(values, n, &d, weight);
  for (gsize i = 0; i < n; i++)
    for (int k = 0; k < K; k++)
      change[k] += weight[i] * filled[i][k];
  options->added_variance += effects_variance(effects, change);
  if (guarded)
    *guarded = tell(effects, x, change, values, n);
}
