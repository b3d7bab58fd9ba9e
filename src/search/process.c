/* One process of process.h. Figures are handled less their mean and by their spread, so that numbers are near one.
 *
 *   1  R_ij = matern(x_i, x_j) + noise [i = j] = L L'
 *   2  level = 1' R⁻¹ y / 1' R⁻¹ 1;  s² = (y - level)' R⁻¹ (y - level) / (n - 1)
 *   3  log likelihood = -(n - 1)/2 log s² - sum log L_ii - 1/2 log 1' R⁻¹ 1 + constant, restricted to contrasts
 *   4  mean(x) = level + r' R⁻¹ (y - level)
 *   5  band²(x) = t² s² (1 + noise - r' R⁻¹ r + (1 - 1' R⁻¹ r)² / 1' R⁻¹ 1); doubt²(x): the same without noise
 *   6  t² = sum e_i² / sum band_i² over the designs, e_i what each misses when it is left out, band_i as step 5 then has it without t */
#include "search/process.h"
#include "base/elementary.h"
#include <gsl/gsl_blas.h>
#include <math.h>
#include <string.h>

#define TRUST_LEAST 1.0
#define TRUST_MOST  5.0
#define LOG_2PI     1.8378770664093453

static double matern(double r) {
  double a = sqrt(5.0) * r;
  return (1 + a + a * a / 3) * ew_exp(-a);
}

static double likeness(const struct ew_process *p, const double *a, const double *b) {
  double r2 = 0;
  for (int j = 0; j < p->dimensions; j++) {
    double d = (a[j] - b[j]) / p->lengths[j];
    r2 += d * d;
  }
  return matern(sqrt(r2));
}

static const double *point_of(const struct ew_process *p, int i) {
  return p->x + (gsize)i * (gsize)p->dimensions;
}

static void fill(struct ew_process *p) {
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
gboolean ew_process_learn(struct ew_process *p) {
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

/* Step 6. Left out, a design misses by (R⁻¹ (y - level))_i / Q_ii, with a band of s² / Q_ii, Q = R⁻¹ - R⁻¹ 1 1' R⁻¹ / 1' R⁻¹ 1
 * (O. Dubrule, "Cross validation of kriging in a unique neighborhood", Math. Geol. 15 (1983), 687-699). Designs that lie close
 * together say little of it, and count little. n³/3. */
void ew_process_left_out(const struct ew_process *p, double *miss, double *band2) {
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
    miss[i] = own > 0 ? gsl_vector_get(p->weight, i) / own : 0;
    band2[i] = own > 0 ? p->s2 / own : 0;
  }
  gsl_vector_free(column);
}

double ew_process_trust(const struct ew_process *p) {
  g_autofree double *miss = g_new(double, p->n), *band2 = g_new(double, p->n);
  double missed = 0, band = 0;
  ew_process_left_out(p, miss, band2);
  for (int i = 0; i < p->n; i++) {
    missed += miss[i] * miss[i];
    band += band2[i];
  }
  return band > 0 ? CLAMP(sqrt(missed / band), TRUST_LEAST, TRUST_MOST) : 1;
}

struct ew_process *ew_process_new(const double *x, const double *y, int n, int dimensions) {
  struct ew_process *p = g_new0(struct ew_process, 1);
  g_assert(n >= 2 && dimensions >= 1);
  *p = (struct ew_process){.n = n,
                           .dimensions = dimensions,
                           .x = g_memdup2(x, sizeof(double) * (gsize)n * (gsize)dimensions),
                           .y = g_memdup2(y, sizeof(double) * (gsize)n),
                           .lengths = g_new0(double, dimensions),
                           .trust = 1,
                           .l = gsl_matrix_calloc((gsize)n, (gsize)n),
                           .weight = gsl_vector_alloc((gsize)n),
                           .ones = gsl_vector_alloc((gsize)n)};
  return p;
}

void ew_process_free(struct ew_process *p) {
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

double ew_process_mean(const struct ew_process *p, const double *x) {
  double sum = p->level;
  for (int i = 0; i < p->n; i++)
    sum += gsl_vector_get(p->weight, (gsize)i) * likeness(p, x, point_of(p, i));
  return sum;
}

/* Step 5 with this much noise, over t² s². */
static double share_at(const struct ew_process *p, const double *x, double noise) {
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
  double share = 1 + noise - own + (1 - ones) * (1 - ones) / p->one_r_one;
  return MAX(share, 0);
}

double ew_process_band(const struct ew_process *p, const double *x) {
  return p->trust * sqrt(p->s2 * share_at(p, x, p->noise));
}

double ew_process_doubt(const struct ew_process *p, const double *x) {
  return p->trust * sqrt(p->s2 * share_at(p, x, 0));
}

/* L of one row more: what was decomposed stays. */
static void add_row(const struct ew_process *p, struct ew_process *q) {
  gsize n = (gsize)p->n;
  const double *x = point_of(q, p->n);
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

struct ew_process *ew_process_with(const struct ew_process *p, const double *x, double y) {
  gsize n = (gsize)p->n, d = (gsize)p->dimensions;
  g_autofree double *points = g_new(double, (n + 1) * d), *figures = g_new(double, n + 1);
  memcpy(points, p->x, sizeof(double) * n * d);
  memcpy(points + n * d, x, sizeof(double) * d);
  memcpy(figures, p->y, sizeof(double) * n);
  figures[n] = y;
  struct ew_process *q = ew_process_new(points, figures, p->n + 1, p->dimensions);
  memcpy(q->lengths, p->lengths, sizeof(double) * d);
  q->noise = p->noise;
  q->level = p->level;
  q->s2 = p->s2;
  q->likelihood = p->likelihood;
  q->trust = p->trust;
  add_row(p, q);
  gsl_vector_set_all(q->ones, 1);
  solve(q->l, q->ones);
  for (gsize i = 0; i <= n; i++) {
    q->one_r_one += gsl_vector_get(q->ones, i);
    gsl_vector_set(q->weight, i, q->y[i] - q->level);
  }
  solve(q->l, q->weight);
  return q;
}
