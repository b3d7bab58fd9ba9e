/* Uncertainty of a figure of a curve other than torque, after the GUM (JCGM 100): what its sensors' calibrations leave in doubt at what they
 * read, the scatter of its samples, and of a computed figure (BSFC, VE, BMEP) also the parts of what it is computed from.
 *
 * A sensor that was never calibrated has a doubt that nobody knows: it is named in `unknown`, and no sum is made, as a sum without it would
 * promise too much. O(rows of the budget). */
#pragma once
#include "judge/budget.h"

struct ew_figure_row {
  const char *from;        /* static */
  enum ew_channel channel; /* whose it is; EW_CHANNELS_COUNT: no channel's */
  double standard;         /* its contribution, in the figure's inside unit */
  double freedom;          /* INFINITY when well known */
};

#define EW_FIGURE_ROWS 8

struct ew_figure_budget {
  gsize count;
  struct ew_figure_row rows[EW_FIGURE_ROWS];
  guint64 unknown; /* channels whose sensor's doubt is not known: bits, 1 << enum ew_channel */
  double standard, expanded; /* combined, and at 95 %; NaN: something is not known */
  double freedom;
};

/* Of `column`, one of the curve's, at its point. `calibration` may be NULL; `hours` since the zero of torque was set, where nothing tells. */
struct ew_figure_budget ew_figure_budget(const struct ew_bench *bench,
                                         const struct ew_calibrated *calibration,
                                         const struct ew_curve *curve,
                                         const struct ew_curve_column *column, gsize point,
                                         double hours);
