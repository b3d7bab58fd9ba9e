/* A figure as a smooth function of a design, learned from the designs that were run: a Gaussian process.
 *
 *   y(x) = level + s z(x) + noise,   cov z = product-free Matérn 5/2 of r² = sum over j of ((x_j - x'_j) / length_j)²
 *
 * C. E. Rasmussen, C. K. I. Williams, "Gaussian Processes for Machine Learning", MIT Press 2006, equation 4.17 and algorithm
 * 2.1; level and s profiled out, with the level's own doubt in the band (T. J. Santner, B. J. Williams, W. I. Notz, "The Design and
 * Analysis of Computer Experiments", Springer 2003, section 3.3). A length a dimension and the share of noise have a wide prior (log length ~
 * N(0, 1.5²), noise any). The likeliest are found by BOBYQA of NLopt from two starts; few designs allow many others, so what is said is
 * the average over sixteen taken by a walk of Metropolis in the likelihood and prior (M. S. Handcock, M. L. Stein, "A Bayesian analysis of
 * kriging", Technometrics 35 (1993), 403-410: with the likeliest alone the band is too narrow).
 *
 * Lengths say what matters: one much longer than the cube is a figure that does nothing.
 *
 * Costs: n³/3 for each of some 40 (dimensions + 2) trials and 96 (dimensions + 1) steps of the walk (a fifth and a third where it is gone on);
 * of more than EW_SURROGATE_FIT_MOST designs an even choice of so many is fitted and all are then used. A mean takes n dimensions a member,
 * a band n². Members: sixteen up to EW_SURROGATE_FIT_MOST designs, then fewer, in the same memory. */
#pragma once
#include <glib.h>

#define EW_SURROGATE_FIT_MOST 250
#define EW_SURROGATE_MEMBERS  16
#define EW_SURROGATE_MOST     2500 /* designs: 50 MB */

typedef struct ew_surrogate ew_surrogate;
/* x[n x dimensions] in the unit cube, y[n]; both copied. Refuses fewer than four designs, more than EW_SURROGATE_MOST, and figures
 * that are not finite. Figures that are all the same give that figure with no band. `before`: what was learned from fewer of
 * these designs; it is gone on from, in a fifth of the trials. NULL: none. */
struct ew_surrogate *ew_surrogate_new(const double *x, const double *y, int n, int dimensions,
                                      const struct ew_surrogate *before, GError **error);
/* What the band is worth, learned from the first `even` of the designs, which fill the space, each left out in turn: those that crowd at a front say
 * nothing of how wide it must be elsewhere, and where there are such it is never narrowed. Of the average of all members. What is chosen next hangs on the band
 * itself, what people read on this. Cost: members x n³/3. */
void ew_surrogate_weigh(struct ew_surrogate *surrogate, int even);
/* The same with lengths and noise given (share of s²), for checks. */
struct ew_surrogate *ew_surrogate_given(const double *x, const double *y, int n, int dimensions,
                                        const double *lengths, double noise, GError **error);
/* One design more, taken to come out at its mean: the mean stays there, the band shrinks about it. What was learned (lengths, noise, spread,
 * level) stays. For designs that are chosen and not yet run (D. Ginsbourger, R. Le Riche, L. Carraro, "Kriging is well-suited to
 * parallelize optimization", Computational Intelligence in Expensive Optimization Problems, Springer 2010, 131-162: the believer).
 * O(n²), copies. */
struct ew_surrogate *ew_surrogate_believing(const struct ew_surrogate *surrogate, const double *x);
void ew_surrogate_free(struct ew_surrogate *surrogate);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_surrogate, ew_surrogate_free)

double ew_surrogate_mean(const struct ew_surrogate *surrogate, const double *x);
/* Standard deviation of a run at x about the mean: the surrogate's and the noise's. */
double ew_surrogate_band(const struct ew_surrogate *surrogate, const double *x);
/* Of the mean alone, without the noise of a run: what more runs there would take away. Never more than the band. */
double ew_surrogate_doubt(const struct ew_surrogate *surrogate, const double *x);
/* The band times what it is worth, for people. */
double ew_surrogate_told(const struct ew_surrogate *surrogate, const double *x);
/* Both by a quarter of the members: for who asks thousands of times and looks again at what he takes. band NULL: not asked for. */
void ew_surrogate_glance(const struct ew_surrogate *surrogate, const double *x, double *mean,
                         double *band);
double ew_surrogate_length(const struct ew_surrogate *surrogate, int dimension);
double ew_surrogate_noise(const struct ew_surrogate *surrogate); /* standard deviation */
double
ew_surrogate_likelihood(const struct ew_surrogate *surrogate); /* log, of the figures as given */
