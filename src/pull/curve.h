/* A curve: what one pull gives, with its conditions, its uncertainty from the scatter of samples and
 * what was done to get it. Plain values; owned arrays freed by ew_curve_free. */
#pragma once
#include "base/message.h"
#include "pull/bench.h"
#include "pull/clean.h"
#include "pull/correct.h"
#include "pull/segment.h"
#include "pull/setup.h"

struct ew_conditions {
  double pressure_pa, temperature_k, vapour_pa; /* means over the part that counts; NaN unknown */
  const char *pressure_from, *temperature_from,
      *humidity_from;   /* "channel", "set-up", "not known" */
  double weather_age_s; /* of what comes from the set-up; NaN: read for this pull, or none does */
  double oil_start_k, oil_end_k, coolant_start_k, coolant_end_k, inlet_start_k, inlet_end_k, fuel_k;
  double rest_s, acceleration_rpm_s;
  gboolean throttle_known, full_throttle;
};

/* Was its torque brought to standard air? A curve that should have been and could not be is never pooled with one that
 * was, nor with one that was left as measured on purpose. */
enum ew_corrected {
  EW_CORRECTED, /* by the method's factor */
  EW_OBSERVED,  /* the method asks for none */
  EW_UNCORRECTED, /* the factor could not be had: weather not known, or fuel flow where it needs that */
  EW_CORRECTED_COUNT
};
extern const char *const ew_corrected_keys[EW_CORRECTED_COUNT]; /* "corrected", "observed", ... */

struct ew_curve_column {
  enum ew_channel channel; /* EW_CHANNELS_COUNT for a derived figure */
  int index;
  const char *key; /* "lambda", "bmep": static */
  enum ew_kind kind;
  double *values, *se; /* of the curve's points; NaN where not known */
};

struct ew_curve {
  enum ew_segment_kind kind;
  gsize points;
  double *speed_rpm, *torque_n_m, *torque_se_n_m, *power_w; /* corrected by `factor` */
  double *observed_n_m;       /* with inertia added back, not corrected */
  double *inertia_n_m;        /* rotor and coupling, as added back */
  double *engine_inertia_n_m; /* the engine's own, added only when the method says so */
  double *samples;            /* how many samples had weight, per point */
  GArray *columns;            /* struct ew_curve_column */
  gsize raw_points;           /* corrected samples of the part that counts, thinned to 2,000 */
  double *raw_speed_rpm, *raw_torque_n_m;
  struct ew_conditions conditions;
  struct ew_factor factor;
  struct ew_method method;
  struct ew_clean_counts cleaned;     /* of speed and torque in the part that counts */
  double noise_sd, noise_correlation; /* relative to torque; along the samples */
  double band_low_rpm, band_high_rpm; /* of the headline */
  double band_mean_n_m, band_mean_se; /* relative: of the log of torque */
  double low_rpm, high_rpm;
  double start_s, end_s; /* in the recording */
  double tail_scatter;   /* residual spread of the last 500 rpm against the middle */
  double knock_count;    /* in the whole pull; NaN without the channel */
  double knock_near_rpm; /* where the first one fell */
  ew_message
      *out_of_range;   /* why the factor is not to be trusted, or none was applied; NULL: it is */
  GPtrArray *warnings; /* of messages */
};
void ew_curve_free(struct ew_curve *curve);

const struct ew_curve_column *ew_curve_column(const struct ew_curve *curve, const char *key,
                                              int index);
enum ew_corrected ew_curve_corrected(const struct ew_curve *curve);
/* Linear between points; NaN outside. */
double ew_curve_at(const struct ew_curve *curve, const double *values, double speed_rpm);
/* Mean of the log of corrected torque over [low, high]; NaN when the curve does not reach. */
double ew_curve_band_log(const struct ew_curve *curve, double low_rpm, double high_rpm);
/* Index of the highest point of values[0..n), NaN left out, that is supported on both sides: `margin_rpm` or more from
 * both ends. A point nearer to an end is taken only when it is higher by more than two of its relative standard
 * errors (NaN: by anything), or when values rise up to the margin on that side: then *at_end (may be NULL) is TRUE, and
 * the true highest may lie beyond what was run. */
gsize ew_highest_point(const double *speed_rpm, const double *values, const double *relative_se,
                       gsize n, double margin_rpm, gboolean *at_end);
/* That of torque or power of a curve: a sweep's margin is half of its half-width; of steady points the first and the
 * last are the ends. */
gsize ew_curve_peak(const struct ew_curve *curve, const double *values);
gboolean ew_curve_peak_is_at_end(const struct ew_curve *curve, const double *values);
double ew_curve_margin_rpm(const struct ew_curve *curve);

/* The members of the curve inside an open object: what `pull curve --json` prints. */
void ew_curve_write_json(const struct ew_curve *curve, struct ew_json *json);
