/* Small statistics, over GSL where GSL has them.
 *
 * A value that is NaN or infinite is not a figure. Every statistic counts those it met in *absent and is that of
 * the others: the caller says what it does about them. Who knows that there are none passes EW_NONE_ABSENT, and
 * gets NaN should there be one: never a statistic of a part of the data that nobody spoke of. NaN reaches no
 * comparison in here.
 *
 * Checked against the NIST Statistical Reference Datasets in tests/reference; absent values in
 * tests/unit/base/test_statistics.c. */
#pragma once
#include <glib.h>

#define EW_NONE_ABSENT ((gsize *)NULL)

/* Mean by a corrected two-pass sum, so that 10^7-like offsets lose no digits. NaN of no figure. */
double ew_mean(const double *x, gsize n, gsize *absent);
/* Standard deviation with n - 1. NaN of fewer than two figures. */
double ew_standard_deviation(const double *x, gsize n, gsize *absent);
/* Lag-1 autocorrelation, the NIST definition: sum (x_i - m)(x_{i+1} - m) / sum (x_i - m)^2. A pair with an
 * absent value is left out of the first sum: what stands on both sides of a hole are not neighbours. */
double ew_autocorrelation(const double *x, gsize n, gsize *absent);
/* Median; the order of x is kept. NaN of no figure. O(n). */
double ew_median(const double *x, gsize n, gsize *absent);
/* Sample quantile p in [0, 1], linear between order statistics (Hyndman and Fan type 7). O(n). */
double ew_quantile(const double *x, gsize n, double p, gsize *absent);

#define EW_FIT_MAX 8 /* parameters of one fit */

/* Least squares by QR after the columns are scaled to unit length (never normal equations).
 * rows x terms, row-major design; y of `rows` values.
 * Gives coefficients, their covariance (row-major, terms x terms), residual sum of squares.
 * Refused: fewer rows than terms, a row with NaN or infinity in it, columns that depend on each other. */
struct ew_fit {
  gsize rows, terms;
  double coefficient[EW_FIT_MAX];
  double covariance[EW_FIT_MAX * EW_FIT_MAX]; /* with the residual variance as scale */
  double residual_squares;
  double residual_sd; /* sqrt(residual_squares / (rows - terms)); NaN when rows == terms */
};
gboolean ew_fit_linear(const double *design, const double *y, gsize rows, gsize terms,
                       struct ew_fit *fit, GError **error);
