/* One Gaussian process with lengths and noise that are given: what a surrogate is an average of. Figures are standardised by who asks.
 * Inside this room. */
#pragma once
#include <glib.h>
#include <gsl/gsl_linalg.h>

struct ew_process {
  int n, dimensions;
  double *x, *y;
  double *lengths, noise; /* noise: share of s² */
  gsl_matrix *l;          /* of R; upper part not used */
  gsl_vector *weight;     /* R⁻¹ (y - level) */
  gsl_vector *ones;       /* R⁻¹ 1 */
  double level, s2, one_r_one, likelihood;
  double trust; /* t of process.c, step 6; 1: as likelihood has it */
};
/* Copies; lengths are none yet. */
struct ew_process *ew_process_new(const double *x, const double *y, int n, int dimensions);
void ew_process_free(struct ew_process *process);

/* With the lengths and noise that it has. FALSE: designs so alike that they cannot be told apart, or figures that are all one. n³/3. */
gboolean ew_process_learn(struct ew_process *process);
/* Each design left out in turn: by how much it is missed, and the square of the band there (0: it cannot be left out); miss[n], band2[n]. n³/3. */
void ew_process_left_out(const struct ew_process *process, double *miss, double *band2);
double ew_process_trust(const struct ew_process *process);
double ew_process_mean(const struct ew_process *process, const double *x);
double ew_process_band(const struct ew_process *process, const double *x);
/* The band without the noise of a run. */
double ew_process_doubt(const struct ew_process *process, const double *x);
/* One design more, taken to come out at y; level, s², lengths and noise stay. n². */
struct ew_process *ew_process_with(const struct ew_process *process, const double *x, double y);
