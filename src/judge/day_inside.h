/* Inside of the day's model, for day_model.c and day_answer.c alone: the grid, its filters, and what one pull left behind at each point
 * for the way back. Everything is in per cent. */
#pragma once
#include "judge/day_model.h"

#define EW_DAY_NS     8
#define EW_DAY_NQ     4
#define EW_DAY_NJ     3
#define EW_DAY_POINTS (EW_DAY_NS * EW_DAY_NQ * EW_DAY_NJ)

/* States; of set-up 1 is EW_DAY_SETUP, set-up 0 has none. */
enum ew_day_state {
  EW_DAY_LEVEL,
  EW_DAY_SLOPE,
  EW_DAY_WARM_UP,
  EW_DAY_SPARK_1,
  EW_DAY_SPARK_2,
  EW_DAY_SPARK_3,
  EW_DAY_EFFECT,
  EW_DAY_SETUP = EW_DAY_EFFECT + EW_DAY_COVARIATES,
  EW_DAY_STATES = EW_DAY_SETUP + EW_DAY_SETUPS - 1
};
#define EW_DAY_SETUP_SD 2.0 /* prior of a set-up against set-up 0 */

/* One filter: the mean and covariance of the states in use. */
struct ew_day_filter {
  double s, q, J;
  double log_prior, log_evidence, weight;
  double mean[EW_DAY_STATES], covariance[EW_DAY_STATES][EW_DAY_STATES];
};

struct ew_day_model {
  struct ew_day_options options;
  double only[3];
  int points, states; /* states in use: EW_DAY_SETUP + (largest set-up of the day) */
  int day, pulls_of_day, since_rest;
  gboolean begun;
  double first[EW_DAY_COVARIATES]; /* known of the day; NaN */
  double origin;                   /* of y: the day's first */
  double surprise;
  struct ew_day_filter filter[EW_DAY_POINTS];
};

/* What one pull was at one point of the grid. */
struct ew_day_trail {
  double h[EW_DAY_STATES], gain[EW_DAY_STATES];
  double error, variance; /* of the foretelling; 0: not taken */
};

/* ew_day_model_add; `trail`: one a point of the grid, or NULL. */
gboolean ew_day_model_take(struct ew_day_model *model, const struct ew_day_pull *pull,
                           struct ew_day_trail *trail);
/* Mean and variance of set-up b less set-up a at one point. */
double ew_day_difference_at(const struct ew_day_filter *filter, int a, int b, double *variance);
/* ew_day_model_believe with these weights of the grid in place of the model's own. */
struct ew_day_belief ew_day_believe_weighed(const struct ew_day_model *model, int a, int b,
                                            const double *weight);
