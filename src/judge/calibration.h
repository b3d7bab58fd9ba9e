/* Load-cell calibration with weights on an arm, up and down; daily zero and check weight. */
#pragma once
#include <glib.h>

struct ew_calibration_point {
  double applied_n_m; /* weight x g x arm */
  double read_n_m;
};

struct ew_calibration {
  double gain, gain_u; /* applied = offset + gain x read; standard uncertainty */
  double offset_n_m, offset_u;
  double covariance; /* of the two */
  double residual_sd_n_m;
  double hysteresis_n_m; /* largest difference between loading and unloading at one weight */
  double largest_n_m;    /* applied */
  gsize points;
};

/* Straight line through all points (GUM H.3), points in the order of loading and unloading. Needs three
 * points at two different weights or more. */
gboolean ew_calibrate(const struct ew_calibration_point *points, gsize n,
                      struct ew_calibration *calibration, GError **error);
/* Correction of a reading and its standard uncertainty, with the covariance of offset and gain. */
double ew_calibrated_n_m(const struct ew_calibration *calibration, double read_n_m,
                         double *standard_n_m);

/* A control chart of single values: centre and limits from the moving range of what came before
 * (mean range / 1.128, three sigma; Shewhart individuals chart, ISO 7870-2). */
struct ew_control {
  double centre, lower, upper;
  gboolean in_control; /* the last value */
};
struct ew_control ew_control_chart(const double *values, gsize n);
