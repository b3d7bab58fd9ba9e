/* Uncertainty of one corrected torque, after the GUM (JCGM 100): absolute, and what remains of it in
 * a difference of two pulls in the same cell, where common errors cancel. */
#pragma once
#include "judge/history.h"
#include "pull/bench.h"
#include "pull/calibrated.h"
#include "pull/curve.h"

struct ew_budget_row {
  const char *from;    /* static */
  double standard_n_m; /* contribution to corrected torque */
  double freedom;      /* INFINITY when well known */
  gboolean cancels;    /* common to both sides of a comparison */
  gboolean of_air;     /* comes through the factor: observed torque has no part of it */
};

/* How long ago the zero was set, where nothing tells: half a working day. Common practice, no source. */
#define EW_HOURS_SINCE_ZERO 4.0

#define EW_BUDGET_ROWS 13

struct ew_budget {
  gsize count;
  struct ew_budget_row rows[EW_BUDGET_ROWS];
  double absolute_n_m, absolute_freedom;       /* combined standard uncertainty */
  double comparative_n_m, comparative_freedom; /* without what cancels */
  double expanded_n_m;                         /* 95 %, absolute */
  double expanded_comparative_n_m;
};

/* For a torque (corrected) at one point. `calibration` (NULL: none) gives gain, hysteresis, the age of the zero and the doubt of the weather's sensors where it
 * knows them, else the cell's record does; `hours` since the zero was set; `repeat` of consecutive
 * pulls. Sum in quadrature; effective degrees of freedom by Welch-Satterthwaite. */
struct ew_budget ew_budget(const struct ew_bench *bench, const struct ew_calibrated *calibration,
                           const struct ew_curve *curve, double torque_n_m, double inertia_n_m,
                           double sample_se_n_m, struct ew_spread repeat, double hours);

/* Combined standard uncertainty and effective degrees of freedom of independent contributions. */
void ew_combine(const double *standard, const double *freedom, gsize n, double *combined,
                double *effective);
/* Coverage factor for 95 % (or p) with these degrees of freedom, truncated down as the GUM does. */
double ew_coverage_factor(double p, double freedom);
