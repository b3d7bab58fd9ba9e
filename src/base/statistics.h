/* Small statistics, over GSL where GSL has them.
 *
 * Checked against the NIST Statistical Reference Datasets in tests/reference. */
#pragma once
#include <glib.h>

/* Mean by a corrected two-pass sum, so that 10^7-like offsets lose no digits. NaN when n is 0. */
double ew_mean(const double *x, gsize n);
/* Standard deviation with n - 1. NaN when n < 2. */
double ew_standard_deviation(const double *x, gsize n);
/* Lag-1 autocorrelation, the NIST definition: sum (x_i - m)(x_{i+1} - m) / sum (x_i - m)^2. */
double ew_autocorrelation(const double *x, gsize n);
/* Median; the order of x is kept. NaN when n is 0. */
double ew_median(const double *x, gsize n);
/* Sample quantile p in [0, 1], linear between order statistics (Hyndman and Fan type 7). */
double ew_quantile(const double *x, gsize n, double p);

#define EW_FIT_MAX 8 /* parameters of one fit */

/* Least squares by QR after the columns are scaled to unit length (never normal equations).
 * rows x terms, row-major design; y of `rows` values.
 * Gives coefficients, their covariance (row-major, terms x terms), residual sum of squares. */
struct ew_fit {
  gsize rows, terms;
  double coefficient[EW_FIT_MAX];
  double covariance[EW_FIT_MAX * EW_FIT_MAX]; /* with the residual variance as scale */
  double residual_squares;
  double residual_sd; /* sqrt(residual_squares / (rows - terms)); NaN when rows == terms */
};
gboolean ew_fit_linear(const double *design, const double *y, gsize rows, gsize terms,
                       struct ew_fit *fit, GError **error);
