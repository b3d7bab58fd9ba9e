/* A model of whole days of pulls: one for all of scatter, drift, jumps, warm-up, weather, settings and set-ups, where
 * judge/difference takes the pulls of one question. A second opinion beside it (docs/methods.md, "The day's model").
 *
 *   y_i = l_i + c i + w exp(-k_i / 2.5) + b1 v + b2 v² + b3 v³ + x_i' g + delta of the set-up + e_i
 *   e_i = rho e_(i-1) + N(0, s² (1 - rho²)), begun again (rho 0) each day and after a stop or long rest, so that e ~ N(0, s²)
 *   l_i = l_(i-1) + N(0, q² + J² if a stop or long rest lay before pull i)
 *
 * y: 100 times the log of the band mean (per cent); i: pulls since the day began; k: pulls since the last stop or rest;
 * v: (spark - 30 deg) / 5 deg; x: oil, inlet air and coolant (K) and relative humidity (per cent) less the day's first
 * known. s, q, J and rho (the memory) are not known: a grid of 192 of them is carried, each with one Kalman filter that is exact given its
 * point, weighed by how well it foretold each pull.
 *
 * What is known carries from day to day: g and b, a little wider each morning; level, slope, warm-up and set-ups begin
 * again. Pulls are given in the order they ran and cannot be taken back: replay them.
 *
 *   new --add--> day 1 --add, another day--> day 2 ... --ew_day_model_lend_history--> today --add--> ...
 *
 * Costs: one pull takes 192 updates of p²/2 figures, p = 11 + set-ups: about 40 microseconds, twice that until history is lent (a second grid, whose pulls may be wrong); a copy is 192 times 270 doubles, 0.4 MB. */
#pragma once
#include <glib.h>

#define EW_DAY_SETUPS                                                                              \
  12 /* of one day at the most; set-up 0 is the one that the others are measured from */

enum ew_day_covariate {
  EW_DAY_OIL,
  EW_DAY_INLET,
  EW_DAY_COOLANT,
  EW_DAY_HUMIDITY,
  EW_DAY_COVARIATES
};

struct ew_day_pull {
  int day;          /* another number than the pull before: another day */
  int setup;        /* 0 to EW_DAY_SETUPS - 1; numbers are of one day */
  double spark_deg; /* NaN: not known, taken as 30 */
  double covariate
      [EW_DAY_COVARIATES]; /* K, and per cent of relative humidity; NaN: not known, no effect */
  gboolean rested;         /* a stop or a long rest lay before it */
  double log_mean;         /* of the headline; a pull without a finite one is refused */
};

/* Everything off but for checks. */
struct ew_day_options {
  gboolean no_slope, no_jump; /* c, J held at 0 */
  gboolean plug_in;           /* only the likeliest point of the grid counts */
  gboolean cautious;          /* history lends 0.12 of its evidence about s, q and J, not 0.4 */
  gboolean all_sound;         /* no pull is ever wrong, and today scatters as earlier days did */
  const double *only; /* s, q, J in per cent, rho: one point in place of the grid; NULL: the grid */
};

typedef struct ew_day_model ew_day_model;
struct ew_day_model *ew_day_model_new(const struct ew_day_options *options);
struct ew_day_model *ew_day_model_copy(const struct ew_day_model *model);
void ew_day_model_free(struct ew_day_model *model);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_day_model, ew_day_model_free)

/* The next pull. FALSE, and nothing taken, when its figure is not finite or its set-up is not one of the numbers. */
gboolean ew_day_model_add(struct ew_day_model *model, const struct ew_day_pull *pull);
/* What came so far was earlier days: from here on its evidence about s, q and J counts only in part (about rho in full), and s may be larger today.
 * Once, before today's first pull. */
void ew_day_model_lend_history(struct ew_day_model *model);

/* What is believed of set-up b less set-up a, as log ratios (0.01: 1 %). */
struct ew_day_belief {
  double mean, sd;
  double scatter, walk, jump;          /* posterior means of s, q and J, as log ratios */
  double memory;                       /* of rho */
  double slope;                        /* posterior mean of c, a pull */
  double warm_up;                      /* of w */
  double effect[EW_DAY_COVARIATES];    /* of g, per K or per cent of humidity */
  double effect_sd[EW_DAY_COVARIATES]; /* their standard deviations */
};
struct ew_day_belief ew_day_model_believe(const struct ew_day_model *model, int a, int b);
/* P(difference <= x). */
double ew_day_model_below(const struct ew_day_model *model, int a, int b, double x);
/* Where that is p, 0 < p < 1. */
double ew_day_model_quantile(const struct ew_day_model *model, int a, int b, double p);

/* How far the last added pull was from what was foretold, in standard deviations of the foretelling; 0 for the first
 * of a day, which nothing foretells. */
double ew_day_model_surprise(const struct ew_day_model *model);
/* Log of the probability density of all pulls (since history was lent) but the first of each day, over the grid: for checks. */
double ew_day_model_evidence(const struct ew_day_model *model);
