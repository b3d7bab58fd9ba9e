/* Calibration of a sensor: a straight line through loads and readings, up and down; the chart of daily zeros and check weights.
 * Figures are in the inside unit of the sensor's channel: N·m of torque, Pa, K. What is done with the line: pull/calibrated.h. */
#pragma once
#include <glib.h>

struct ew_calibration_point {
  double applied; /* true: of a load cell weight x g x arm */
  double read;
};

struct ew_calibration {
  double gain, gain_u; /* applied = offset + gain x read; standard uncertainty */
  double offset, offset_u;
  double covariance; /* of the two */
  double residual_sd;
  double hysteresis; /* largest difference between loading and unloading at one load */
  double largest;    /* applied */
  gsize points;
};

/* Straight line through all points (GUM H.3), points in the order of loading and unloading. Refuses fewer than three, one load
 * alone, readings that do not rise with it, a gain outside 0.5 to 2 and what is not a number. */
gboolean ew_calibrate(const struct ew_calibration_point *points, gsize n,
                      struct ew_calibration *calibration, GError **error);

/* A control chart of single values: centre and limits from the moving range of what came before
 * (mean range / 1.128, three sigma; Shewhart individuals chart, ISO 7870-2). */
struct ew_control {
  double centre, lower, upper;
  gboolean in_control; /* the last value */
};
struct ew_control ew_control_chart(const double *values, gsize n);
