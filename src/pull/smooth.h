/* Local regression of a quantity on speed, with standard errors that respect how samples of one pull
 * depend on each other.
 *
 * Sources: Cleveland 1979 (tricube weights, local polynomial); the noise along the pull is taken as
 * first-order autoregressive. */
#pragma once
#include <glib.h>

/* Weights l[0..n) such that sum l[i] y[i] is the local quadratic fit at x0 with tricube weights of half-width h.
 * Samples whose `use` is 0 (NULL: all are used) or whose x is NaN get none. Where the samples end within h of x0
 * the half-width grows by half of what is cut off: of orders and widths that were tried against known curves this
 * has the least error at the ends (the table is in docs/methods.md, "Curves", from tests/unit/pull/test_ends.c).
 * FALSE, and no weights, when x0 is further than h/10 from the nearest sample and not between two that are less than
 * h apart: no curve is drawn where nothing was measured; or when fewer than 4 samples or too narrow a spread lie
 * near x0. O(n). */
gboolean ew_smooth_weights(const double *x, gsize n, double x0, double h, const guint8 *use,
                           double *l);

/* sum over i, k of l[i] l[k] rho^|i-k|: variance of the fit for noise of variance 1. */
double ew_autoregressive_variance(const double *l, gsize n, double rho);

/* Lag-1 correlation of residuals, held within 0 and 0.99; pairs with NaN in them are left out. */
double ew_residual_correlation(const double *residual, gsize n);
