#include "pull/explain.h"
#include "base/error.h"
#include "pull/smooth.h"
#include <math.h>

static gboolean nearest_point(const struct ew_curve *curve, double speed, gsize *point,
                              GError **error) {
  gsize n = curve->points;
  double slack = curve->method.grid_step_rpm;
  if (speed < curve->speed_rpm[0] - slack || speed > curve->speed_rpm[n - 1] + slack)
    return ew_refuse(error, "speed: %.0f rpm is outside this pull, which has %.0f to %.0f rpm",
                     speed, curve->speed_rpm[0], curve->speed_rpm[n - 1]);
  *point = 0;
  for (gsize j = 1; j < n; j++)
    if (fabs(curve->speed_rpm[j] - speed) < fabs(curve->speed_rpm[*point] - speed))
      *point = j;
  return TRUE;
}

static void walk_sweep(const struct ew_processed *processed, const struct ew_segment *segment,
                       const struct ew_reduce_facts *facts, struct ew_origin *origin) {
  gsize n = segment->count_last - segment->count_first;
  const double *speed =
      ew_series_values(processed->series, EW_CHANNEL_SPEED) + segment->count_first;
  const guint8 *flags =
      ew_series_find(processed->series, EW_CHANNEL_TORQUE, 0)->flags + segment->count_first;
  struct ew_sample_torque torque = ew_sample_torque(processed->series, segment, facts);
  g_autofree guint8 *use = g_new(guint8, n);
  g_autofree double *l = g_new(double, n);
  for (gsize i = 0; i < n; i++)
    use[i] = !isnan(torque.measured[i]) && !isnan(speed[i]);
  ew_smooth_weights(speed, n, origin->speed_rpm, facts->method->half_width_rpm, use, l);
  origin->first_s = INFINITY;
  origin->low_rpm = INFINITY;
  for (gsize i = 0; i < n; i++) {
    if (l[i] == 0)
      continue;
    double time = processed->series->time_s[segment->count_first + i];
    origin->measured_n_m += l[i] * torque.measured[i];
    origin->inertia_n_m += l[i] * torque.inertia[i];
    origin->engine_inertia_n_m += l[i] * torque.engine_inertia[i];
    origin->acceleration_rpm_s += l[i] * torque.acceleration[i];
    origin->samples++;
    origin->touched += (flags[i] & (EW_FLAG_SPIKE | EW_FLAG_DROPOUT)) != 0;
    origin->first_s = fmin(origin->first_s, time);
    origin->last_s = fmax(origin->last_s, time);
    origin->low_rpm = fmin(origin->low_rpm, speed[i]);
    origin->high_rpm = fmax(origin->high_rpm, speed[i]);
  }
  ew_sample_torque_clear(&torque);
}

gboolean ew_explain(const struct ew_processed *processed, guint pull,
                    const struct ew_reduce_facts *facts, double speed_rpm, struct ew_origin *origin,
                    GError **error) {
  const struct ew_curve *curve = g_ptr_array_index(processed->curves, pull);
  const struct ew_segment *segment = g_ptr_array_index(processed->segments, pull);
  gsize point = 0;
  if (!nearest_point(curve, speed_rpm, &point, error))
    return FALSE;
  *origin = (struct ew_origin){.speed_rpm = curve->speed_rpm[point],
                               .torque_n_m = curve->torque_n_m[point],
                               .power_w = curve->power_w[point],
                               .torque_se_n_m = curve->torque_se_n_m[point]};
  if (segment->kind == EW_SEGMENT_SWEEP)
    walk_sweep(processed, segment, facts, origin);
  else {
    origin->measured_n_m = curve->observed_n_m[point];
    origin->samples = (gsize)curve->samples[point];
    origin->low_rpm = origin->high_rpm = origin->speed_rpm;
    origin->first_s = curve->start_s;
    origin->last_s = curve->end_s;
  }
  return TRUE;
}
