/* Finding the pulls in a recording. */
#pragma once
#include "pull/method.h"
#include "pull/series.h"

enum ew_segment_kind {
  EW_SEGMENT_SWEEP,  /* steady acceleration at full load */
  EW_SEGMENT_STEPS,  /* dwells at speed */
  EW_SEGMENT_POINTS, /* a table of steady points, no recording in time */
};
extern const char *const ew_segment_kind_names[];

struct ew_dwell {
  gsize first, last; /* the samples that count: [first, last) */
};

struct ew_segment {
  enum ew_segment_kind kind;
  gsize first, last;             /* all of it: [first, last) */
  gsize count_first, count_last; /* the part that counts */
  double low_rpm, high_rpm;      /* of the part that counts */
  double acceleration_rpm_s;     /* 0 for steps and points */
  gboolean throttle_known, full_throttle;
  GArray *dwells;   /* of struct ew_dwell, for steps; else NULL */
  GPtrArray *notes; /* of messages */
};

/* All pulls, in order of time: struct ew_segment*. None is not an error: *why then says what was missing (to be
 * freed), else it is NULL. What looked like a part of a pull and is not one is added to left_out, a list of messages, with
 * the reason. O(rows). */
GPtrArray *ew_find_segments(const struct ew_series *series, const struct ew_method *method,
                            GPtrArray *left_out, ew_message **why);

/* rpm/s at each sample of [first, last), as an array of last - first: from a straight line through half a window
 * each side, at least two and a half steps of the speed's own rate. Near the ends the window is shorter, so that
 * the lift after a sweep does not reach into it. NaN where fewer than three speeds are known. O(rows). */
double *ew_acceleration_within(const struct ew_series *series, const double *speed_rpm,
                               double half_window_s, gsize first, gsize last);
