/* Means, spread, quantiles, and least squares by QR with column scaling. Figures that are absent are taken out
 * before any comparison or sum. Quantiles by selection, O(n); fits O(rows x terms²). */
#include "base/statistics.h"
#include "base/error.h"
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_blas.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The figures among x[0..*n): x itself when all are figures, else a copy without the others, to be freed from
 * *own. NULL when one is absent and nobody counts them. *n becomes their number. */
static const double *figures(const double *x, gsize *n, gsize *absent, double **own) {
  gsize count = 0;
  for (gsize i = 0; i < *n; i++)
    count += isfinite(x[i]) != 0;
  if (absent)
    *absent = *n - count;
  if (count == *n)
    return x;
  if (!absent)
    return NULL;
  *own = g_new(double, MAX(count, 1));
  gsize kept = 0;
  for (gsize i = 0; i < *n; i++)
    if (isfinite(x[i]))
      (*own)[kept++] = x[i];
  *n = count;
  return *own;
}

static double mean_of(const double *x, gsize n) {
  double sum = 0, rest = 0;
  for (gsize i = 0; i < n; i++)
    sum += x[i];
  double mean = sum / (double)n;
  for (gsize i = 0; i < n; i++)
    rest += x[i] - mean;
  return mean + rest / (double)n;
}

double ew_mean(const double *x, gsize n, gsize *absent) {
  g_autofree double *own = NULL;
  const double *f = figures(x, &n, absent, &own);
  return f && n > 0 ? mean_of(f, n) : (double)NAN;
}

double ew_standard_deviation(const double *x, gsize n, gsize *absent) {
  g_autofree double *own = NULL;
  const double *f = figures(x, &n, absent, &own);
  if (!f || n < 2)
    return NAN;
  double mean = mean_of(f, n), squares = 0, rest = 0;
  for (gsize i = 0; i < n; i++) {
    squares += (f[i] - mean) * (f[i] - mean);
    rest += f[i] - mean;
  }
  return sqrt((squares - rest * rest / (double)n) / (double)(n - 1));
}

double ew_autocorrelation(const double *x, gsize n, gsize *absent) {
  double mean = ew_mean(x, n, absent), cross = 0, squares = 0;
  if (isnan(mean))
    return NAN;
  for (gsize i = 0; i < n; i++) {
    if (!isfinite(x[i]))
      continue;
    squares += (x[i] - mean) * (x[i] - mean);
    if (i + 1 < n && isfinite(x[i + 1]))
      cross += (x[i] - mean) * (x[i + 1] - mean);
  }
  return cross / squares;
}

/* Of figures only. Brings the k-th smallest to v[k], nothing larger before it and nothing smaller after it (C. A. R. Hoare,
 * Algorithm 65, 1961; three parts, so that many equal values cost no more). */
static void select_nth(double *v, gsize n, gsize k) {
  gsize low = 0, high = n; /* the part that holds v[k] */
  while (high - low > 1) {
    double a = v[low], b = v[low + (high - low) / 2], c = v[high - 1];
    double pivot = a < b ? (b < c ? b : a < c ? c : a) : (a < c ? a : b < c ? c : b);
    gsize less = low, at = low, more = high;
    while (at < more) {
      double here = v[at];
      if (here < pivot)
        v[at++] = v[less], v[less++] = here;
      else if (here > pivot)
        v[at] = v[--more], v[more] = here;
      else
        at++;
    }
    if (k < less)
      high = less;
    else if (k >= more)
      low = more;
    else
      return;
  }
}

double ew_quantile(const double *x, gsize n, double p, gsize *absent) {
  g_autofree double *own = NULL;
  const double *f = figures(x, &n, absent, &own);
  if (!f || n == 0)
    return NAN;
  g_autofree double *sorted = g_memdup2(f, n * sizeof *f);
  double position = p * (double)(n - 1);
  gsize below = (gsize)position;
  if (below + 1 >= n)
    below = n - 1;
  select_nth(sorted, n, below);
  if (below + 1 == n)
    return sorted[below];
  for (gsize i = below + 2; i < n; i++) /* the next one up comes next */
    sorted[below + 1] = fmin(sorted[below + 1], sorted[i]);
  return sorted[below] + (position - (double)below) * (sorted[below + 1] - sorted[below]);
}

double ew_median(const double *x, gsize n, gsize *absent) {
  return ew_quantile(x, n, 0.5, absent);
}

static gsize first_unfit_row(const double *design, const double *y, gsize rows, gsize terms) {
  for (gsize i = 0; i < rows; i++) {
    gboolean figure = isfinite(y[i]) != 0;
    for (gsize j = 0; j < terms; j++)
      figure &= isfinite(design[i * terms + j]) != 0;
    if (!figure)
      return i;
  }
  return rows;
}

static double column_length(const double *design, gsize rows, gsize terms, gsize j) {
  double squares = 0;
  for (gsize i = 0; i < rows; i++)
    squares += design[i * terms + j] * design[i * terms + j];
  return squares > 0 ? sqrt(squares) : 1;
}

/* cov = s^2 R^-1 R^-T, unscaled back to the caller's columns. */
static void fill_covariance(const gsl_matrix *qr, const double *length, struct ew_fit *fit) {
  gsize p = fit->terms;
  g_autofree double *inverse = g_new0(double, p *p);
  for (gsize j = 0; j < p; j++) {
    inverse[j * p + j] = 1 / gsl_matrix_get(qr, j, j);
    for (gsize i = j; i-- > 0;) {
      double sum = 0;
      for (gsize k = i + 1; k <= j; k++)
        sum += gsl_matrix_get(qr, i, k) * inverse[k * p + j];
      inverse[i * p + j] = -sum / gsl_matrix_get(qr, i, i);
    }
  }
  double variance = fit->residual_sd * fit->residual_sd;
  for (gsize i = 0; i < p; i++)
    for (gsize j = 0; j < p; j++) {
      double sum = 0;
      for (gsize k = MAX(i, j); k < p; k++)
        sum += inverse[i * p + k] * inverse[j * p + k];
      fit->covariance[i * p + j] = variance * sum / (length[i] * length[j]);
    }
}

gboolean ew_fit_linear(const double *design, const double *y, gsize rows, gsize terms,
                       struct ew_fit *fit, GError **error) {
  g_assert(terms > 0 && terms <= EW_FIT_MAX);
  if (rows < terms)
    return ew_refuse(error, "a fit of %zu terms needs at least %zu points, and has %zu", terms,
                     terms, rows);
  gsize unfit = first_unfit_row(design, y, rows, terms);
  if (unfit < rows)
    return ew_refuse(error, "point %zu of %zu of a fit is not a figure: leave it out", unfit + 1,
                     rows);
  *fit = (struct ew_fit){.rows = rows, .terms = terms};
  double length[EW_FIT_MAX];
  gsl_matrix *qr = gsl_matrix_alloc(rows, terms);
  gsl_vector *tau = gsl_vector_alloc(terms), *x = gsl_vector_alloc(terms);
  gsl_vector *residual = gsl_vector_alloc(rows);
  gsl_vector_const_view b = gsl_vector_const_view_array(y, rows);
  for (gsize j = 0; j < terms; j++) {
    length[j] = column_length(design, rows, terms, j);
    for (gsize i = 0; i < rows; i++)
      gsl_matrix_set(qr, i, j, design[i * terms + j] / length[j]);
  }
  gsl_linalg_QR_decomp(qr, tau);
  gboolean singular = FALSE;
  for (gsize j = 0; j < terms; j++)
    singular |= fabs(gsl_matrix_get(qr, j, j)) < 1e-14;
  if (!singular) {
    gsl_linalg_QR_lssolve(qr, tau, &b.vector, x, residual);
    fit->residual_squares = gsl_blas_dnrm2(residual) * gsl_blas_dnrm2(residual);
    fit->residual_sd =
        rows > terms ? sqrt(fit->residual_squares / (double)(rows - terms)) : (double)NAN;
    for (gsize j = 0; j < terms; j++)
      fit->coefficient[j] = gsl_vector_get(x, j) / length[j];
    fill_covariance(qr, length, fit);
  }
  gsl_matrix_free(qr);
  gsl_vector_free(tau);
  gsl_vector_free(x);
  gsl_vector_free(residual);
  return singular ? ew_refuse(error,
                              "the points do not determine a fit of %zu terms: they lie at too "
                              "few different places",
                              terms)
                  : TRUE;
}
