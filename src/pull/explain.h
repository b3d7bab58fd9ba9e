/* One figure of a curve, walked back to the samples it came from. */
#pragma once
#include "pull/process.h"

struct ew_origin {
  double speed_rpm; /* the point of the curve nearest to what was asked */
  double torque_n_m, power_w, torque_se_n_m;
  double measured_n_m, inertia_n_m, engine_inertia_n_m, acceleration_rpm_s;
  gsize samples;          /* with weight */
  gsize touched;          /* rows between those that cleaning touched: they have no weight */
  double first_s, last_s; /* of the samples with weight, in the recording */
  double low_rpm, high_rpm;
};

gboolean ew_explain(const struct ew_processed *processed, guint pull,
                    const struct ew_reduce_facts *facts, double speed_rpm, struct ew_origin *origin,
                    GError **error);

/* A sample that has weight in a figure. */
struct ew_origin_sample {
  double time_s; /* of its row; what it says was true `lag_s` of its channel before */
  double speed_rpm, value, inertia_n_m, engine_inertia_n_m, acceleration_rpm_s, weight;
  gboolean speed_filled; /* cleaning put its speed on the line between neighbours */
};

#define EW_ORIGIN_INPUTS 4
/* A column of the curve: measured by a channel, or computed from other figures at the same speed. */
struct ew_figure_origin {
  const struct ew_curve_column *column;
  double speed_rpm, value;                 /* in inside units */
  const struct ew_series_channel *channel; /* NULL: computed */
  GArray *samples;     /* struct ew_origin_sample; NULL: computed, or no sweep */
  gsize touched;       /* rows between them that cleaning touched: they have no weight */
  const char *formula; /* NULL: measured */
  gsize inputs_count;
  struct {
    const char *name; /* with its unit at the end */
    double value;
  } inputs[EW_ORIGIN_INPUTS];
};

/* `figure` is a key of the curve's columns ("lambda", "bmep", "exhaust_temperature_3"). */
gboolean ew_explain_figure(const struct ew_processed *processed, guint pull,
                           const struct ew_reduce_facts *facts, const char *figure,
                           double speed_rpm, struct ew_figure_origin *origin, GError **error);
void ew_figure_origin_clear(struct ew_figure_origin *origin);

/* The samples behind torque at the point nearest to this speed: the sum of weight times (value plus what
 * was added back) is the observed torque. NULL, and the error set, when the pull is not a sweep: a steady
 * point is a plain mean, not a weighting of samples. */
GArray *ew_explain_torque_samples(const struct ew_processed *processed, guint pull,
                                  const struct ew_reduce_facts *facts, double speed_rpm,
                                  GError **error);
