/* What the conditions at the start of a pull do to its figure, learned from earlier pulls of the book, so that a difference of
 * conditions between the sides neither passes for a gain nor hides one.
 *
 *   log mean of pull i = level of its group + c (position) + x_i'g + e_i
 *
 * A group is what is of one engine, kind, day and run; c is a slope of its day. g belongs to an engine: it lies about that of its
 * family, that about that of its cell, and that about what is common. Few pulls of an engine therefore lean on the others, many on
 * themselves. All of it is one normal model, solved exactly (docs/methods.md, "Conditions between the sides"). */
#pragma once
#include "judge/day_model.h"
#include "judge/difference.h"
#include "pull/curve.h"

struct ew_effects_pull {
  int cell, family, engine; /* equal numbers: the same one; a family is of one cell */
  int day, group; /* numbers of the book: of a day of an engine; of like pulls of one run */
  double position, log_mean;
  double covariate[EW_DAY_COVARIATES]; /* K, and per cent of relative humidity; NaN: not known */
};

struct ew_effects {
  double effect[EW_DAY_COVARIATES]; /* log ratio per K or per cent */
  double covariance[EW_DAY_COVARIATES][EW_DAY_COVARIATES];
  gsize pulls, own; /* that it was learned from: in all, and of this engine */
  double told
      [EW_DAY_COVARIATES]; /* share of what readings moved by that was no scatter of the sensor: 0 to 1 */
};

/* For this engine. `sd`: of one pull, as a log ratio; not finite or 0: 0.3 %. None at all: what is common. O(n²) pulls. */
struct ew_effects ew_effects_learn(const struct ew_effects_pull *pulls, gsize n, int cell,
                                   int family, int engine, double sd);

/* Conditions of a pull; humidity only where it was measured with the pull. */
void ew_effects_conditions(const struct ew_curve *curve, double covariate[EW_DAY_COVARIATES]);

/* x'g, and the variance of it. */
double ew_effects_shift(const struct ew_effects *effects, const double x[EW_DAY_COVARIATES]);

/* What conditions did to a difference of two sides. */
struct ew_effects_told {
  gboolean asked; /* anything is known of both sides */
  double change
      [EW_DAY_COVARIATES]; /* mean of B less mean of A, as the gate tells it; NaN: not known of both */
  double shift
      [EW_DAY_COVARIATES]; /* of the difference, as a log ratio and as its pulls are weighed: taken out */
  double shift_sd[EW_DAY_COVARIATES]; /* of it */
  double sd;                          /* of all of it together: added to the interval */
};
/* Takes out of the values what the conditions did, and adds the variance of that to the options. x: of each value. `guarded` may be
 * NULL. */
void ew_effects_apply(const struct ew_effects *effects, const double (*x)[EW_DAY_COVARIATES],
                      struct ew_value *values, gsize n, struct ew_spread history,
                      struct ew_difference_options *options, struct ew_effects_told *guarded);
