/* The process of surrogate.h. Figures are handled less their mean and by their spread, so that numbers are near one.
 *
 *   1  R_ij = matern(x_i, x_j) + noise [i = j] = L L'
 *   2  level = 1' R⁻¹ y / 1' R⁻¹ 1;  s² = (y - level)' R⁻¹ (y - level) / (n - 1)
 *   3  log likelihood = -(n - 1)/2 log s² - sum log L_ii - 1/2 log 1' R⁻¹ 1 + constant, restricted to contrasts
 *   4  mean(x) = level + r' R⁻¹ (y - level)
 *   5  band²(x) = t² s² (1 + noise - r' R⁻¹ r + (1 - 1' R⁻¹ r)² / 1' R⁻¹ 1)
 *   6  t² = sum e_i² / sum band_i² over the designs, e_i what each misses when it is left out, band_i as step 5 then has it without t */
#include "search/surrogate.h"
#include "base/elementary.h"
#include "base/error.h"
#include <gsl/gsl_blas.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <nlopt.h>
#include <string.h>

#define LENGTH_LEAST 0.05
#define LENGTH_MOST  30.0
#define NOISE_LEAST  1e-7
#define NOISE_MOST   0.3
#define PRIOR_SPREAD 1.5
#define TRIALS_EACH  40
#define TRUST_LEAST  0.7
#define TRUST_MOST   5.0
#define LOG_2PI      1.8378770664093453

struct ew_surrogate {
  int n, dimensions;
  double *x, *y;          /* y: standardised */
  double mean, spread;    /* of the figures as given; spread 0: all the same */
  double *lengths, noise; /* noise: share of s² */
  gsl_matrix *l;          /* of R; upper part not used */
  gsl_vector *weight;     /* R⁻¹ (y - level) */
  gsl_vector *ones;       /* R⁻¹ 1 */
  double level, s2, one_r_one, likelihood;
  double trust; /* t of step 6; 1: as likelihood has it */
};

static double matern(double r) {
  double a = sqrt(5.0) * r;
  return (1 + a + a * a / 3) * ew_exp(-a);
}

static double likeness(const struct ew_surrogate *p, const double *a, const double *b) {
  double r2 = 0;
  for (int j = 0; j < p->dimensions; j++) {
    double d = (a[j] - b[j]) / p->lengths[j];
    r2 += d * d;
  }
  return matern(sqrt(r2));
}

static const double *point_of(const struct ew_surrogate *p, int i) {
  return p->x + (gsize)i * (gsize)p->dimensions;
}

static void fill(struct ew_surrogate *p) {
  for (int i = 0; i < p->n; i++) {
    for (int j = 0; j < i; j++)
      gsl_matrix_set(p->l, (gsize)i, (gsize)j, likeness(p, point_of(p, i), point_of(p, j)));
    gsl_matrix_set(p->l, (gsize)i, (gsize)i, 1 + p->noise);
  }
}

/* In eight sums, so that one need not wait for another; their order is fixed, so the bits are. */
static double product(const double *a, const double *b, gsize n) {
  double part[8] = {0};
  gsize k = 0;
  for (; k + 8 <= n; k += 8)
    for (gsize m = 0; m < 8; m++)
      part[m] += a[k + m] * b[k + m];
  for (gsize m = 0; k < n; k++, m++)
    part[m] += a[k] * b[k];
  return ((part[0] + part[1]) + (part[2] + part[3])) + ((part[4] + part[5]) + (part[6] + part[7]));
}

/* L L' in place, row by row. FALSE where it is not positive. */
static gboolean decompose(gsl_matrix *a) {
  for (gsize i = 0; i < a->size1; i++) {
    double *row = gsl_matrix_ptr(a, i, 0);
    for (gsize j = 0; j <= i; j++) {
      const double *other = gsl_matrix_const_ptr(a, j, 0);
      double sum = row[j] - product(row, other, j);
      if (j < i)
        row[j] = sum / other[j];
      else if (!(sum > 0))
        return FALSE;
      else
        row[i] = sqrt(sum);
    }
  }
  return TRUE;
}

static void solve(const gsl_matrix *l, gsl_vector *v) {
  gsl_blas_dtrsv(CblasLower, CblasNoTrans, CblasNonUnit, l, v);
  gsl_blas_dtrsv(CblasLower, CblasTrans, CblasNonUnit, l, v);
}

/* Steps 1 to 3 with the lengths and noise that it has. */
static gboolean learn(struct ew_surrogate *p) {
  fill(p);
  if (!decompose(p->l))
    return FALSE;
  double top = 0, log_det = 0;
  gsl_vector_set_all(p->ones, 1);
  solve(p->l, p->ones);
  p->one_r_one = 0;
  for (int i = 0; i < p->n; i++) {
    p->one_r_one += gsl_vector_get(p->ones, (gsize)i);
    top += gsl_vector_get(p->ones, (gsize)i) * p->y[i];
    log_det += ew_log(gsl_matrix_get(p->l, (gsize)i, (gsize)i));
  }
  p->level = top / p->one_r_one;
  for (int i = 0; i < p->n; i++)
    gsl_vector_set(p->weight, (gsize)i, p->y[i] - p->level);
  solve(p->l, p->weight);
  double square = 0;
  for (int i = 0; i < p->n; i++)
    square += gsl_vector_get(p->weight, (gsize)i) * (p->y[i] - p->level);
  p->s2 = square / (p->n - 1);
  p->likelihood =
      -(p->n - 1) / 2.0 * (ew_log(p->s2) + LOG_2PI + 1) - log_det - ew_log(p->one_r_one) / 2;
  return p->s2 > 0 && isfinite(p->likelihood);
}

static void take(struct ew_surrogate *p, const double *logs) {
  for (int j = 0; j < p->dimensions; j++)
    p->lengths[j] = ew_exp(logs[j]);
  p->noise = ew_exp(logs[p->dimensions]);
}

/* Less is better: what NLopt is handed. */
static double unlikely(unsigned n, const double *logs, double *gradient, void *data) {
  struct ew_surrogate *p = data;
  (void)gradient;
  g_assert(n == (unsigned)p->dimensions + 1);
  take(p, logs);
  double prior = 0;
  for (int j = 0; j < p->dimensions; j++)
    prior += logs[j] * logs[j] / (2 * PRIOR_SPREAD * PRIOR_SPREAD);
  return learn(p) ? prior - p->likelihood : 1e10;
}

static void start_at(const struct ew_surrogate *p, double length, double noise, double *logs) {
  for (int j = 0; j <= p->dimensions; j++)
    logs[j] = ew_log(j < p->dimensions ? length : noise);
}

/* From where another one ended: the same figures with some designs less. */
static void start_from(const struct ew_surrogate *before, double *logs) {
  for (int j = 0; j < before->dimensions; j++)
    logs[j] = ew_log(CLAMP(before->lengths[j], LENGTH_LEAST, LENGTH_MOST));
  logs[before->dimensions] = ew_log(CLAMP(before->noise, NOISE_LEAST, NOISE_MOST));
}

/* logs: where it begins, and then where it ended. */
static double seek(struct ew_surrogate *p, double step, int trials, double *logs) {
  unsigned n = (unsigned)p->dimensions + 1;
  g_autofree double *low = g_new(double, n), *high = g_new(double, n);
  for (unsigned j = 0; j < n; j++) {
    low[j] = ew_log(j + 1 < n ? LENGTH_LEAST : NOISE_LEAST);
    high[j] = ew_log(j + 1 < n ? LENGTH_MOST : NOISE_MOST);
  }
  nlopt_opt opt = nlopt_create(NLOPT_LN_BOBYQA, n);
  nlopt_set_lower_bounds(opt, low);
  nlopt_set_upper_bounds(opt, high);
  nlopt_set_min_objective(opt, unlikely, p);
  nlopt_set_initial_step1(opt, step);
  nlopt_set_xtol_abs1(opt, 0.01);
  nlopt_set_ftol_abs(opt, 0.01);
  nlopt_set_maxeval(opt, trials);
  double least = 1e10;
  nlopt_optimize(opt, logs, &least); /* rounding may end it: the logs are its best all the same */
  nlopt_destroy(opt);
  return least;
}

/* Step 6. Left out, a design misses by (R⁻¹ (y - level))_i / Q_ii, with a band of s² / Q_ii, Q = R⁻¹ - R⁻¹ 1 1' R⁻¹ / 1' R⁻¹ 1
 * (O. Dubrule, "Cross validation of kriging in a unique neighborhood", Math. Geol. 15 (1983), 687-699). Designs that lie close
 * together say little of it, and count little. n³/3. */
static double trust_of(const struct ew_surrogate *p) {
  double miss = 0, band = 0;
  gsize n = (gsize)p->n;
  gsl_vector *column = gsl_vector_alloc(n);
  for (gsize i = 0; i < n; i++) {
    double own = 0;
    gsl_vector_set_zero(column);
    gsl_vector_set(column, i, 1);
    gsl_matrix_const_view lower = gsl_matrix_const_submatrix(p->l, i, i, n - i, n - i);
    gsl_vector_view rest = gsl_vector_subvector(column, i, n - i);
    gsl_blas_dtrsv(CblasLower, CblasNoTrans, CblasNonUnit, &lower.matrix, &rest.vector);
    gsl_blas_ddot(&rest.vector, &rest.vector, &own);
    double one = gsl_vector_get(p->ones, i);
    own -= one * one / p->one_r_one;
    if (!(own > 0))
      continue;
    double e = gsl_vector_get(p->weight, i) / own;
    miss += e * e;
    band += p->s2 / own;
  }
  gsl_vector_free(column);
  return band > 0 ? CLAMP(sqrt(miss / band), TRUST_LEAST, TRUST_MOST) : 1;
}

/* Every k-th design: those come in an order that fills the cube. */
static struct ew_surrogate *thinned(const double *x, const double *y, int n, int dimensions) {
  int most = MIN(n, EW_SURROGATE_FIT_MOST);
  struct ew_surrogate *p = g_new0(struct ew_surrogate, 1);
  *p = (struct ew_surrogate){.n = most,
                             .dimensions = dimensions,
                             .x = g_new(double, (gsize)most *(gsize)dimensions),
                             .y = g_new(double, most),
                             .lengths = g_new0(double, dimensions),
                             .l = gsl_matrix_calloc((gsize)most, (gsize)most),
                             .weight = gsl_vector_alloc((gsize)most),
                             .ones = gsl_vector_alloc((gsize)most)};
  for (int i = 0; i < most; i++) {
    gsize from = (gsize)((gint64)i * n / most);
    memcpy(p->x + (gsize)i * (gsize)dimensions, x + from * (gsize)dimensions,
           sizeof(double) * (gsize)dimensions);
    p->y[i] = y[from];
  }
  return p;
}

static void standardise(struct ew_surrogate *p, double mean, double spread) {
  p->mean = mean;
  p->spread = spread;
  for (int i = 0; i < p->n; i++)
    p->y[i] = spread > 0 ? (p->y[i] - mean) / spread : 0;
}

static void spread_of(const double *y, int n, double *mean, double *spread) {
  g_assert(n > 0);
  double sum = 0, square = 0;
  for (int i = 0; i < n; i++)
    sum += y[i];
  *mean = sum / n;
  for (int i = 0; i < n; i++)
    square += (y[i] - *mean) * (y[i] - *mean);
  *spread = sqrt(square / (n - 1));
  if (!(*spread > 1e-12 * fabs(*mean)))
    *spread = 0;
}

static gboolean check(const double *y, int n, GError **error) {
  if (n < 4 || n > EW_SURROGATE_MOST)
    return ew_refuse(error, "%d designs: a surrogate is learned from 4 to %d", n,
                     EW_SURROGATE_MOST);
  for (int i = 0; i < n; i++)
    if (!isfinite(y[i]))
      return ew_refuse(error, "design %d has no figure: leave it out", i);
  return TRUE;
}

struct ew_surrogate *ew_surrogate_given(const double *x, const double *y, int n, int dimensions,
                                        const double *lengths, double noise, GError **error) {
  double mean, spread;
  if (!check(y, n, error))
    return NULL;
  struct ew_surrogate *p = g_new0(struct ew_surrogate, 1);
  *p = (struct ew_surrogate){.n = n,
                             .dimensions = dimensions,
                             .x = g_memdup2(x, sizeof(double) * (gsize)n * (gsize)dimensions),
                             .y = g_memdup2(y, sizeof(double) * (gsize)n),
                             .lengths = g_memdup2(lengths, sizeof(double) * (gsize)dimensions),
                             .noise = noise,
                             .trust = 1,
                             .l = gsl_matrix_calloc((gsize)n, (gsize)n),
                             .weight = gsl_vector_alloc((gsize)n),
                             .ones = gsl_vector_alloc((gsize)n)};
  spread_of(y, n, &mean, &spread);
  standardise(p, mean, spread);
  while (spread > 0 && !learn(p)) { /* designs so alike that they cannot be told apart */
    p->noise = MAX(10 * p->noise, NOISE_LEAST);
    if (p->noise > 1) {
      ew_surrogate_free(p);
      ew_fail(error, "the surrogate could not be learned from %d designs", n);
      return NULL;
    }
  }
  return p;
}

static void fit(struct ew_surrogate *p, const struct ew_surrogate *before) {
  int trials = TRIALS_EACH * (p->dimensions + 2);
  g_autofree double *a = g_new0(double, p->dimensions + 1), *b = g_new0(double, p->dimensions + 1);
  if (before && before->spread > 0) {
    start_from(before, a);
    seek(p, 0.25, trials / 5, a);
    take(p, a);
    return;
  }
  start_at(p, 0.5, 1e-3, a);
  start_at(p, 2, 1e-5, b);
  double first = seek(p, 0.7, trials, a), second = seek(p, 0.7, trials, b);
  take(p, first <= second ? a : b);
}

struct ew_surrogate *ew_surrogate_new(const double *x, const double *y, int n, int dimensions,
                                      const struct ew_surrogate *before, GError **error) {
  g_assert(!before || before->dimensions == dimensions);
  double mean, spread;
  if (!check(y, n, error))
    return NULL;
  g_autoptr(ew_surrogate) p = thinned(x, y, n, dimensions);
  spread_of(p->y, p->n, &mean, &spread);
  standardise(p, mean, spread);
  if (spread > 0)
    fit(p, before);
  else
    for (int j = 0; j < dimensions; j++)
      p->lengths[j] = 1;
  struct ew_surrogate *whole = ew_surrogate_given(x, y, n, dimensions, p->lengths, p->noise, error);
  if (whole && whole->spread > 0)
    whole->trust = trust_of(whole);
  return whole;
}

void ew_surrogate_free(struct ew_surrogate *p) {
  if (!p)
    return;
  g_free(p->x);
  g_free(p->y);
  g_free(p->lengths);
  gsl_matrix_free(p->l);
  gsl_vector_free(p->weight);
  gsl_vector_free(p->ones);
  g_free(p);
}

double ew_surrogate_mean(const struct ew_surrogate *p, const double *x) {
  if (p->spread == 0)
    return p->mean;
  double sum = p->level;
  for (int i = 0; i < p->n; i++)
    sum += gsl_vector_get(p->weight, (gsize)i) * likeness(p, x, point_of(p, i));
  return p->mean + p->spread * sum;
}

double ew_surrogate_band(const struct ew_surrogate *p, const double *x) {
  if (p->spread == 0)
    return 0;
  gsl_vector *r = gsl_vector_alloc((gsize)p->n);
  double own = 0, ones = 0;
  for (int i = 0; i < p->n; i++) {
    double k = likeness(p, x, point_of(p, i));
    gsl_vector_set(r, (gsize)i, k);
    ones += k * gsl_vector_get(p->ones, (gsize)i);
  }
  gsl_blas_dtrsv(CblasLower, CblasNoTrans, CblasNonUnit, p->l, r);
  gsl_blas_ddot(r, r, &own);
  gsl_vector_free(r);
  double share = 1 + p->noise - own + (1 - ones) * (1 - ones) / p->one_r_one;
  return p->trust * p->spread * sqrt(p->s2 * MAX(share, 0));
}

/* L of one row more: what was decomposed stays. */
static void add_row(const struct ew_surrogate *p, struct ew_surrogate *q, const double *x) {
  gsize n = (gsize)p->n;
  for (gsize i = 0; i < n; i++)
    memcpy(gsl_matrix_ptr(q->l, i, 0), gsl_matrix_const_ptr(p->l, i, 0), (i + 1) * sizeof(double));
  double *row = gsl_matrix_ptr(q->l, n, 0), own = 1 + p->noise;
  for (gsize j = 0; j < n; j++) {
    const double *other = gsl_matrix_const_ptr(p->l, j, 0);
    row[j] = (likeness(p, x, point_of(p, (int)j)) - product(row, other, j)) / other[j];
    own -= row[j] * row[j];
  }
  row[n] = sqrt(fmax(own, 1e-12));
}

struct ew_surrogate *ew_surrogate_believing(const struct ew_surrogate *p, const double *x) {
  struct ew_surrogate *q = g_memdup2(p, sizeof *p);
  gsize n = (gsize)p->n, d = (gsize)p->dimensions;
  q->n = p->n + 1;
  q->x = g_new(double, (n + 1) * d);
  memcpy(q->x, p->x, sizeof(double) * n * d);
  memcpy(q->x + n * d, x, sizeof(double) * d);
  q->y = g_new(double, n + 1);
  memcpy(q->y, p->y, sizeof(double) * n);
  q->y[n] = p->spread > 0 ? (ew_surrogate_mean(p, x) - p->mean) / p->spread : 0;
  q->lengths = g_memdup2(p->lengths, sizeof(double) * d);
  q->l = gsl_matrix_calloc(n + 1, n + 1);
  q->weight = gsl_vector_calloc(n + 1); /* nothing of the new one: the mean stays */
  q->ones = gsl_vector_alloc(n + 1);
  for (gsize i = 0; i < n; i++)
    gsl_vector_set(q->weight, i, gsl_vector_get(p->weight, i));
  if (p->spread == 0)
    return q;
  add_row(p, q, x);
  gsl_vector_set_all(q->ones, 1);
  solve(q->l, q->ones);
  q->one_r_one = 0;
  for (gsize i = 0; i <= n; i++)
    q->one_r_one += gsl_vector_get(q->ones, i);
  return q;
}

double ew_surrogate_length(const struct ew_surrogate *p, int dimension) {
  g_assert(dimension >= 0 && dimension < p->dimensions);
  return p->lengths[dimension];
}

double ew_surrogate_noise(const struct ew_surrogate *p) {
  return p->spread * sqrt(p->s2 * p->noise);
}

double ew_surrogate_likelihood(const struct ew_surrogate *p) {
  return p->spread > 0 ? p->likelihood - (p->n - 1) * ew_log(p->spread) : INFINITY;
}
