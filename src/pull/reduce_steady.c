/* Steady points, each the mean of its samples: dwells of a step test, or the rows of a table. */
#include "base/elementary.h"
#include "base/statistics.h"
#include "pull/reduce_parts.h"
#include "pull/smooth.h"
#include <math.h>

EW_MESSAGE_MANY(engine_map, "pull.engine-map", EW_NOTE,
                "an engine map of {points} point: the curve is the highest torque at each speed",
                "an engine map of {points} points: the curve is the highest torque at each speed");

struct steady_point {
  gsize first, last;
  double speed, torque;
};

static int by_speed(const void *a, const void *b) {
  const struct steady_point *x = a, *y = b;
  return (x->speed > y->speed) - (x->speed < y->speed);
}

/* The rows of a table; of a map, the row of most torque at each speed. */
static GArray *points_of_table(const struct ew_series *series, struct ew_curve *curve) {
  GArray *points = g_array_new(FALSE, FALSE, sizeof(struct steady_point));
  const double *speed = ew_series_values(series, EW_CHANNEL_SPEED);
  const double *torque = ew_series_values(series, EW_CHANNEL_TORQUE);
  for (gsize i = 0; i < series->rows; i++)
    if (!isnan(speed[i]) && !isnan(torque[i])) {
      struct steady_point point = {i, i + 1, speed[i], torque[i]};
      g_array_append_val(points, point);
    }
  g_array_sort(points, by_speed);
  guint kept = 0;
  for (guint i = 0; i < points->len; i++) {
    struct steady_point *here = &g_array_index(points, struct steady_point, i);
    struct steady_point *last = kept ? &g_array_index(points, struct steady_point, kept - 1) : NULL;
    if (last && here->speed == last->speed) {
      if (here->torque > last->torque)
        *last = *here;
    } else
      g_array_index(points, struct steady_point, kept++) = *here;
  }
  if (kept < points->len)
    ew_messages_add(curve->warnings, ew_message(&engine_map, ew_say_count("points", points->len)));
  g_assert(kept <= points->len);
  g_array_set_size(points, kept);
  return points;
}

static GArray *points_of_dwells(const struct ew_series *series, const struct ew_segment *segment) {
  GArray *points = g_array_new(FALSE, FALSE, sizeof(struct steady_point));
  const double *speed = ew_series_values(series, EW_CHANNEL_SPEED);
  const double *torque = ew_series_values(series, EW_CHANNEL_TORQUE);
  for (guint d = 0; d < segment->dwells->len; d++) {
    struct ew_dwell dwell = g_array_index(segment->dwells, struct ew_dwell, d);
    struct steady_point point = {dwell.first, dwell.last,
                                 ew_reduce_mean(speed, dwell.first, dwell.last),
                                 ew_reduce_mean(torque, dwell.first, dwell.last)};
    if (!isnan(point.speed) && !isnan(point.torque))
      g_array_append_val(points, point);
  }
  g_array_sort(points, by_speed);
  return points;
}

/* Standard error of the mean of one dwell's torque, its samples first-order autoregressive. */
static double dwell_se(const double *torque, const struct steady_point *point) {
  g_assert(point->first < point->last);
  gsize n = point->last - point->first, absent;
  g_autofree double *residual = g_new(double, MAX(n, 1));
  for (gsize i = 0; i < n; i++)
    residual[i] = torque[point->first + i] - point->torque;
  double rho = ew_residual_correlation(residual, n);
  double sd = ew_standard_deviation(residual, n, &absent);
  return n - absent < 8 ? (double)NAN : sd * sqrt((1 + rho) / ((double)(n - absent) * (1 - rho)));
}

void ew_reduce_steady(struct ew_curve *curve, const struct ew_series *series,
                      const struct ew_segment *segment) {
  GArray *points = segment->kind == EW_SEGMENT_STEPS ? points_of_dwells(series, segment)
                                                     : points_of_table(series, curve);
  const double *torque = ew_series_values(series, EW_CHANNEL_TORQUE);
  curve->points = points->len;
  curve->speed_rpm = g_new0(double, MAX(points->len, 1));
  ew_reduce_allocate(curve);
  double noise = 0;
  guint known = 0;
  for (guint j = 0; j < points->len; j++) {
    const struct steady_point *point = &g_array_index(points, struct steady_point, j);
    g_assert(point->last <= series->rows && (j == 0 || curve->speed_rpm[j - 1] <= point->speed));
    curve->speed_rpm[j] = point->speed;
    curve->observed_n_m[j] = point->torque;
    curve->torque_n_m[j] = curve->factor.factor * point->torque;
    curve->power_w[j] = curve->torque_n_m[j] * point->speed * G_PI / 30;
    curve->torque_se_n_m[j] = curve->factor.factor * dwell_se(torque, point);
    curve->samples[j] = (double)(point->last - point->first);
    if (!isnan(curve->torque_se_n_m[j]) && curve->torque_n_m[j] > 0)
      noise += ew_pow(curve->torque_se_n_m[j] / curve->torque_n_m[j], 2), known++;
  }
  for (guint c = 0; c < series->channels_count; c++) {
    const struct ew_series_channel *channel = &series->channels[c];
    if (!ew_reduce_in_curve(channel))
      continue;
    struct ew_curve_column *column = ew_reduce_column(curve, channel->channel, channel->index,
                                                      ew_channel_facts[channel->channel].key,
                                                      ew_channel_facts[channel->channel].kind);
    for (guint j = 0; j < points->len; j++) {
      const struct steady_point *point = &g_array_index(points, struct steady_point, j);
      column->values[j] = ew_reduce_mean(channel->values, point->first, point->last);
    }
  }
  if (curve->points >= 2) {
    ew_reduce_band(curve);
    curve->band_mean_se = known ? sqrt(noise) / known : (double)NAN;
  }
  curve->raw_points = 0;
  curve->raw_speed_rpm = g_new0(double, 1);
  curve->raw_torque_n_m = g_new0(double, 1);
  g_array_unref(points);
}
