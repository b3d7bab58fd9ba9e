/* The difference B - A of the headline, its spread and its degrees of freedom, from one or more pulls
 * a side in the order they ran, and what the cell is known to repeat to.
 *
 * Values are logs of band means, so that a difference is relative: exp(d) - 1. */
#pragma once
#include "judge/history.h"

struct ew_value {
  int side;        /* 0: A, 1: B */
  double position; /* in the order of running */
  double log_mean;
};

struct ew_difference_options {
  gboolean no_drift_term;      /* for checks: order is ignored */
  double drift_mean, drift_sd; /* history's slope a pull and its spread; NaN: 0 and 0.3 % */
  double added_variance;       /* from start windows that were not met */
  gboolean stop_between;       /* `history` is of a level with a stop: a change of side is one */
  struct ew_spread within;     /* then: of pulls without a stop between; freedom 0: not known */
};

enum ew_order { EW_ORDER_INTERLEAVED, EW_ORDER_PAIR, EW_ORDER_BLOCKS };

struct ew_difference {
  double difference, variance, freedom; /* freedom 0: nothing can be said */
  double sd;                            /* of one pull, pooled */
  double sd_freedom;                    /* of sd alone: `freedom` is that of the whole interval */
  double information;                   /* nA nB / (nA + nB), or less with the drift term */
  int n_a, n_b;
  enum ew_order order;
  double slope;         /* drift a pull, taken out; 0 where there is none to take */
  double slope_share;   /* of the slope that today's pulls show, in it: 1 to 0 (history's alone) */
  gboolean rough_today; /* today's scatter is more than history allows */
  gboolean drift_today; /* in blocks: today's own slope is more than history allows */
  gboolean uncertain_history; /* n = 1 each and a history of less than 3 degrees of freedom */
  double first_to_last;       /* A came back: last A less first A; NaN otherwise */
};

struct ew_difference ew_difference(const struct ew_value *values, gsize n, struct ew_spread history,
                                   const struct ew_difference_options *options);

/* What each pull weighs in the difference: difference = constant + sum of weight[i] log_mean[i]; n values in, n weights out. Those of a
 * side sum to -1 and 1, and with the slope of the pulls taken out to 0 over the positions. */
void ew_difference_weights(const struct ew_value *values, gsize n, const struct ew_difference *d,
                           double *weight);

/* Degrees of freedom that history lends: at most 12, two thirds of its own when each side has one. */
double ew_lent_freedom(double history_freedom, int n_a, int n_b);

/* Half-width of the two-sided interval at this level of probability left out (0.05). */
double ew_half_width(const struct ew_difference *d, double alpha);
