/* Inside of the day's model, for day_model.c, day_filter.c and day_answer.c alone: the grid, its filters, and what one pull left
 * behind at each point for the way back. A figure of all points lies together, so that the loops over the grid are what the processor
 * does several of at once. Everything is in per cent. */
#pragma once
#include "judge/day_model.h"

#define EW_DAY_NS     8
#define EW_DAY_NQ     4
#define EW_DAY_NJ     3
#define EW_DAY_NM     2
#define EW_DAY_POINTS (EW_DAY_NS * EW_DAY_NQ * EW_DAY_NJ * EW_DAY_NM)

/* States; of set-up 1 is EW_DAY_SETUP, set-up 0 has none. */
enum ew_day_state {
  EW_DAY_LEVEL,
  EW_DAY_SLOPE,
  EW_DAY_WARM_UP,
  EW_DAY_NOISE, /* of the pull itself: all that it scatters by */
  EW_DAY_SPARK_1,
  EW_DAY_SPARK_2,
  EW_DAY_SPARK_3,
  EW_DAY_EFFECT,
  EW_DAY_SETUP = EW_DAY_EFFECT + EW_DAY_COVARIATES,
  EW_DAY_STATES = EW_DAY_SETUP + EW_DAY_SETUPS - 1
};
#define EW_DAY_SETUP_SD 2.0 /* prior of a set-up against set-up 0 */

/* One figure at each point of the grid. */
typedef double ew_day_row[EW_DAY_POINTS];

/* Of a symmetric matrix of states the half that is kept. */
#define EW_DAY_PAIRS (EW_DAY_STATES * (EW_DAY_STATES + 1) / 2)
static inline int ew_day_pair(int i, int j) {
  return i >= j ? i * (i + 1) / 2 + j : j * (j + 1) / 2 + i;
}

struct ew_day_model {
  struct ew_day_options options;
  struct ew_day_model *
      strays; /* the same pulls, any of which may be wrong; NULL: history was lent, or all are sound */
  double only[4];
  int points,
      states; /* points that count; states in use: EW_DAY_SETUP + (largest set-up of the day) */
  int day, pulls_of_day, since_rest;
  gboolean begun;
  double first[EW_DAY_COVARIATES]; /* known of the day; NaN */
  double origin;                   /* of y: the day's first */
  double surprise;
  ew_day_row s, q, J, memory; /* the grid */
  ew_day_row log_prior, log_evidence, weight;
  ew_day_row mean[EW_DAY_STATES], covariance[EW_DAY_PAIRS];
};

/* What one pull left behind. */
struct ew_day_trail {
  gboolean taken, fresh; /* fresh: its noise remembers none */
  double h[EW_DAY_STATES];
  ew_day_row gain[EW_DAY_STATES];
  ew_day_row error, variance; /* of the foretelling */
};

/* Level and noise go from one pull to the next; `fresh`: the first of a day, or after a stop or rest. */
void ew_day_pass(struct ew_day_model *model, gboolean first, gboolean rested);
/* The update by one pull; `error` and `variance` of its foretelling come back. */
void ew_day_update(struct ew_day_model *model, const double *h, double y, ew_day_row error,
                   ew_day_row variance, struct ew_day_trail *trail);
/* The update by one pull that is wrong with these odds (their log) and then scatters by so many s more. */
void ew_day_update_stray(struct ew_day_model *model, const double *h, double y, double log_odds,
                         double times_s, ew_day_row error, ew_day_row variance,
                         ew_day_row log_density);
/* Of a pull: how far it lies from what all others say of it, with the variance of that, and what it moves set-up 1 less set-up 0 by. */
struct ew_day_apart {
  gboolean taken;
  ew_day_row shift, variance, moves;
};
/* One way back over the trails of n pulls. */
void ew_day_walk_back(const struct ew_day_model *model, const struct ew_day_trail *trails, gsize n,
                      struct ew_day_apart *apart);

/* ew_day_model_add; `trail`: what the pull left behind, or NULL. */
gboolean ew_day_model_take(struct ew_day_model *model, const struct ew_day_pull *pull,
                           struct ew_day_trail *trail);
/* Mean and variance of set-up b less set-up a at one point. */
double ew_day_difference_at(const struct ew_day_model *model, int point, int a, int b,
                            double *variance);
/* ew_day_model_believe with these weights of the grid in place of the model's own. */
struct ew_day_belief ew_day_believe_weighed(const struct ew_day_model *model, int a, int b,
                                            const double *weight);
