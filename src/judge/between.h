/* Several cells, one reference engine that travels between them: what pulls of different cells differ by because the cells differ.
 *
 *   visits: the first cell, every other one, and the first again ("came back")
 *
 * One-way layout of ISO 5725-2 over the cells, values being logs of band means: s_r within a visit, s_L between cells, s_R of both. The visit
 * that came back is not in the layout: it tells what the engine, and mounting it again, did meanwhile.
 *
 * How a difference between two cells is widened. That these two cells differ is a bias of the difference that no number of further pulls takes
 * out. The variance added is
 *
 *   larger of (their difference in the round)^2 and 2 s_L^2, + variance of that difference by the pulls, + (what the round came back by)^2
 *
 * after the rule for biases in judge/comparable.h. It is not corrected for: which cell is right is not known. */
#pragma once
#include <glib.h>

#define EW_BETWEEN_CELLS_MOST  20
#define EW_BETWEEN_VISIT_LEAST 3 /* pulls: fewer say too little of what a cell repeats to */

/* Pulls of a visit, in the order they ran: logs of band means. */
struct ew_between_visit {
  const double *value;
  gsize count;
};

struct ew_between_cell {
  double mean, sd; /* of its visit */
  gsize count;
};

struct ew_between {
  gsize cells;
  struct ew_between_cell cell[EW_BETWEEN_CELLS_MOST];
  double mean;                      /* of all values */
  double sd_within, freedom_within; /* s_r */
  double sd_between;                /* s_L; 0 when the cells differ by no more than pulls do */
  double sd_all;                    /* s_R */
  double count_mean;                /* ISO 5725-2's mean number of values a cell */
  /* Cochran: is one cell rougher than the others? The largest variance's share of their sum. NaN where pulls a visit differ in number */
  double cochran, cochran_5, cochran_1;
  gsize cochran_cell;
  /* Grubbs: does one cell's mean lie off the others'? NaN with fewer than three cells */
  double grubbs, grubbs_5, grubbs_1;
  gsize grubbs_cell;
  double back,
      back_sd; /* the visit that came back less the first, and what pulls alone would make of it; NaN: not yet */
};

/* 2 cells or more, each with EW_BETWEEN_VISIT_LEAST values or more; `back` (its count 0: not run yet) is of cell 0. Every value is
 * finite. */
struct ew_between ew_between(const struct ew_between_visit *visits, gsize cells,
                             struct ew_between_visit back);
/* The variance that a difference between a pull of cell a and one of cell b gets more; needs `back`. */
double ew_between_variance(const struct ew_between *between, gsize a, gsize b);
/* What the difference of two cells is known to, as a standard deviation, with so many pulls a visit, when a pull repeats to sd. */
double ew_between_design(double sd, int pulls);

/* Critical values at a level such as 0.05: the largest of `cells` variances of `count` values each as a share of their sum; the furthest of
 * `cells` means from their mean in standard deviations, either side. */
double ew_cochran_critical(gsize cells, gsize count, double level);
double ew_grubbs_critical(gsize cells, double level);
