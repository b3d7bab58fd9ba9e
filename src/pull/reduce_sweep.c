/* A sweep: the torque that spins the inertias, local regression on the grid of speeds with standard errors,
 * the other channels by the same weights, the headline. Numbers of reduce.c. */
#include "base/statistics.h"
#include "pull/reduce_parts.h"
#include "pull/smooth.h"
#include <math.h>
#include <string.h>

#define RAW_MOST 2000

/* 2 */
struct ew_sample_torque ew_sample_torque(const struct ew_series *series,
                                         const struct ew_segment *segment,
                                         const struct ew_reduce_facts *facts) {
  gsize n = segment->count_last - segment->count_first;
  struct ew_sample_torque t = {n, g_new(double, n), g_new0(double, n), g_new0(double, n), NULL};
  memcpy(t.measured, ew_series_values(series, EW_CHANNEL_TORQUE) + segment->count_first,
         n * sizeof(double));
  if (segment->kind != EW_SEGMENT_SWEEP) {
    t.acceleration = g_new0(double, n);
    return t;
  }
  g_autofree double *all = ew_acceleration_within(
      series, ew_series_values(series, EW_CHANNEL_SPEED), 0.5, segment->first, segment->last);
  t.acceleration = g_memdup2(all + (segment->count_first - segment->first), n * sizeof(double));
  double brake = 0, engine = 0;
  if (!isnan(facts->bench->rotor_inertia_kg_m2))
    brake += facts->bench->rotor_inertia_kg_m2;
  if (!isnan(facts->bench->coupling_inertia_kg_m2))
    brake += facts->bench->coupling_inertia_kg_m2;
  if (facts->engine && !isnan(facts->engine->inertia_kg_m2))
    engine = facts->engine->inertia_kg_m2;
  for (gsize i = 0; i < n; i++) {
    double alpha = t.acceleration[i] * G_PI / 30; /* rad/s2 */
    t.inertia[i] = brake > 0 ? brake * alpha : 0; /* none to spin: acceleration need not be known */
    t.engine_inertia[i] = engine > 0 ? engine * alpha : 0;
  }
  return t;
}

void ew_sample_torque_clear(struct ew_sample_torque *t) {
  g_free(t->measured);
  g_free(t->inertia);
  g_free(t->engine_inertia);
  g_free(t->acceleration);
}

/* 4 */
struct grid_work {
  gsize n;             /* samples of the part that counts */
  const double *speed; /* their speeds */
  guint8 *use;
  double *weights;  /* points x n */
  gsize *from, *to; /* per point: where its weights begin and end */
  double *variance; /* per point: of the fit, for noise of variance 1 */
  gsize points;
};

static void make_grid(struct ew_curve *curve, const struct ew_segment *segment) {
  double step = curve->method.grid_step_rpm;
  double first = ceil(segment->low_rpm / step - 1e-9) * step;
  double last = floor((segment->high_rpm + 0.15 * step) / step) * step;
  curve->points = last >= first ? (gsize)((last - first) / step + 1.5) : 0;
  curve->speed_rpm = g_new(double, MAX(curve->points, 1));
  for (gsize j = 0; j < curve->points; j++)
    curve->speed_rpm[j] = first + step * (double)j;
}

/* Points of the grid with too few samples are dropped from the ends. */
static void weigh(struct ew_curve *curve, struct grid_work *work) {
  gsize kept = 0;
  work->weights = g_new(double, MAX(curve->points * work->n, 1));
  work->from = g_new0(gsize, MAX(curve->points, 1));
  work->to = g_new0(gsize, MAX(curve->points, 1));
  work->variance = g_new0(double, MAX(curve->points, 1));
  for (gsize j = 0; j < curve->points; j++) {
    double *l = work->weights + kept * work->n;
    if (!ew_smooth_weights(work->speed, work->n, curve->speed_rpm[j], curve->method.half_width_rpm,
                           work->use, l))
      continue;
    work->to[kept] = work->n;
    while (work->to[kept] > 0 && l[work->to[kept] - 1] == 0)
      work->to[kept]--;
    while (work->from[kept] < work->to[kept] && l[work->from[kept]] == 0)
      work->from[kept]++;
    curve->speed_rpm[kept++] = curve->speed_rpm[j];
  }
  g_assert(kept <= curve->points);
  curve->points = work->points = kept;
}

static double apply(const double *l, const double *y, gsize from, gsize to) {
  double sum = 0;
  for (gsize i = from; i < to; i++)
    if (l[i] != 0)
      sum += l[i] * y[i];
  return sum;
}

/* Degrees of freedom that the smooth curve takes: our own, checked in tests/reference/pull/against_scipy.py. */
static double fit_freedom(const struct ew_curve *curve) {
  return 3 + 2.2 * (curve->high_rpm - curve->low_rpm) / curve->method.half_width_rpm;
}

/* Noise of the samples about the smooth curve, relative to torque, and its correlation. */
static void settle_noise(struct ew_curve *curve, const struct grid_work *work,
                         const double *torque) {
  g_autofree double *residual = g_new(double, work->n + 1);
  gsize count = 0;
  double squares = 0;
  for (gsize i = 0; i < work->n; i++) {
    double fit = ew_curve_at(curve, curve->observed_n_m, work->speed[i]);
    if (!work->use[i] || isnan(fit) || fit <= 0)
      continue;
    residual[count] = torque[i] / fit - 1;
    squares += residual[count] * residual[count];
    count++;
  }
  double used = fit_freedom(curve);
  g_assert(count <= work->n && used >= 3);
  curve->noise_sd = count > used + 2 ? sqrt(squares / ((double)count - used)) : (double)NAN;
  curve->noise_correlation = ew_residual_correlation(residual, count);
  gsize tail = 0, middle = 0;
  double tail_squares = 0, middle_squares = 0;
  gsize at = 0;
  for (gsize i = 0; i < work->n; i++) {
    double fit = ew_curve_at(curve, curve->observed_n_m, work->speed[i]);
    if (!work->use[i] || isnan(fit) || fit <= 0)
      continue;
    double r = residual[at++];
    if (work->speed[i] > curve->high_rpm - 500)
      tail++, tail_squares += r * r;
    else if (work->speed[i] > curve->high_rpm - 2000)
      middle++, middle_squares += r * r;
  }
  curve->tail_scatter = tail > 10 && middle > 10
                            ? sqrt(tail_squares / (double)tail / (middle_squares / (double)middle))
                            : (double)NAN;
}

static void reduce_torque(struct ew_curve *curve, struct grid_work *work,
                          const struct ew_sample_torque *t) {
  g_autofree double *whole = g_new(double, MAX(work->n, 1));
  for (gsize i = 0; i < work->n; i++)
    whole[i] =
        t->measured[i] + t->inertia[i] + (curve->method.engine_inertia ? t->engine_inertia[i] : 0);
  for (gsize j = 0; j < curve->points; j++) {
    const double *l = work->weights + j * work->n;
    gsize from = work->from[j], to = work->to[j];
    g_assert(from <= to && to <= work->n);
    curve->observed_n_m[j] = apply(l, whole, from, to);
    curve->inertia_n_m[j] = apply(l, t->inertia, from, to);
    curve->engine_inertia_n_m[j] = apply(l, t->engine_inertia, from, to);
    for (gsize i = from; i < to; i++)
      curve->samples[j] += l[i] != 0;
    curve->torque_n_m[j] = curve->factor.factor * curve->observed_n_m[j];
    curve->power_w[j] = curve->torque_n_m[j] * curve->speed_rpm[j] * G_PI / 30;
  }
  settle_noise(curve, work, whole);
  for (gsize j = 0; j < curve->points; j++) {
    work->variance[j] =
        ew_autoregressive_variance(work->weights + j * work->n, work->n, curve->noise_correlation);
    curve->torque_se_n_m[j] = curve->torque_n_m[j] * curve->noise_sd * sqrt(work->variance[j]);
  }
}

/* Corrected samples for drawing behind the curve. */
static void keep_raw(struct ew_curve *curve, const struct grid_work *work,
                     const struct ew_sample_torque *t) {
  gsize stride = work->n / RAW_MOST + 1;
  curve->raw_speed_rpm = g_new(double, work->n / stride + 1);
  curve->raw_torque_n_m = g_new(double, work->n / stride + 1);
  for (gsize i = 0; i < work->n; i += stride)
    if (work->use[i]) {
      curve->raw_speed_rpm[curve->raw_points] = work->speed[i];
      curve->raw_torque_n_m[curve->raw_points++] =
          curve->factor.factor * (t->measured[i] + t->inertia[i] +
                                  (curve->method.engine_inertia ? t->engine_inertia[i] : 0));
    }
}

/* 5 */
/* The weights of a channel at point j: those of torque where both have the same samples, else its own, into
 * `own` (n of them). NULL when it has too few samples there. */
static const double *channel_weights(const struct ew_curve *curve, const struct grid_work *work,
                                     const guint8 *use, gboolean same, gsize j, double *own,
                                     gsize *from, gsize *to) {
  g_assert(j < work->points);
  *from = same ? work->from[j] : 0;
  *to = same ? work->to[j] : work->n;
  if (same)
    return work->weights + j * work->n;
  return ew_smooth_weights(work->speed, work->n, curve->speed_rpm[j], curve->method.half_width_rpm,
                           use, own)
             ? own
             : NULL;
}

/* Scatter of the samples about the column, and its correlation along them. NaN when the samples do no more
 * than fix the curve. */
static double channel_noise(const struct ew_curve *curve, const struct grid_work *work,
                            const double *y, const guint8 *use, const double *values,
                            double *correlation) {
  g_autofree double *residual = g_new(double, MAX(work->n, 1));
  double squares = 0;
  gsize count = 0;
  for (gsize i = 0; i < work->n; i++) {
    double fit = use[i] ? ew_curve_at(curve, values, work->speed[i]) : (double)NAN;
    if (isnan(fit))
      continue;
    residual[count] = y[i] - fit;
    squares += residual[count] * residual[count];
    count++;
  }
  *correlation = ew_residual_correlation(residual, count);
  double used = fit_freedom(curve);
  return count > used + 2 ? sqrt(squares / ((double)count - used)) : (double)NAN;
}

static void reduce_channel(struct ew_curve *curve, const struct grid_work *work,
                           const struct ew_segment *segment,
                           const struct ew_series_channel *channel) {
  const double *y = channel->values + segment->count_first;
  struct ew_curve_column *column = ew_reduce_column(curve, channel->channel, channel->index,
                                                    ew_channel_facts[channel->channel].key,
                                                    ew_channel_facts[channel->channel].kind);
  g_autofree guint8 *use = g_new(guint8, MAX(work->n, 1));
  for (gsize i = 0; i < work->n; i++)
    use[i] = !isnan(work->speed[i]) &&
             ew_reduce_uses(channel, segment->count_first + i, segment->count_last);
  gboolean same = memcmp(use, work->use, work->n) == 0;
  g_autofree double *own = same ? NULL : g_new(double, MAX(work->n, 1));
  gsize from, to;
  for (gsize j = 0; j < curve->points; j++) {
    const double *l = channel_weights(curve, work, use, same, j, own, &from, &to);
    if (l)
      column->values[j] = apply(l, y, from, to);
  }
  double correlation, noise = channel_noise(curve, work, y, use, column->values, &correlation);
  for (gsize j = 0; !isnan(noise) && j < curve->points; j++) {
    const double *l = channel_weights(curve, work, use, same, j, own, &from, &to);
    if (l)
      column->se[j] = noise * sqrt(ew_autoregressive_variance(l + from, to - from, correlation));
  }
}

static void reduce_channels(struct ew_curve *curve, const struct grid_work *work,
                            const struct ew_series *series, const struct ew_segment *segment) {
  for (guint c = 0; c < series->channels_count; c++) {
    const struct ew_series_channel *channel = &series->channels[c];
    if (ew_reduce_in_curve(channel))
      reduce_channel(curve, work, segment, channel);
  }
}

/* 6 */
static void settle_headline(struct ew_curve *curve, const struct grid_work *work) {
  ew_reduce_band(curve);
  g_autofree double *sum = g_new0(double, MAX(work->n, 1));
  gsize inside = 0;
  for (gsize j = 0; j < curve->points; j++)
    if (curve->speed_rpm[j] >= curve->band_low_rpm && curve->speed_rpm[j] <= curve->band_high_rpm) {
      inside++;
      for (gsize i = 0; i < work->n; i++)
        sum[i] += work->weights[j * work->n + i];
    }
  for (gsize i = 0; i < work->n; i++)
    sum[i] /= (double)MAX(inside, 1);
  curve->band_mean_se =
      curve->noise_sd * sqrt(ew_autoregressive_variance(sum, work->n, curve->noise_correlation));
}

void ew_reduce_sweep(struct ew_curve *curve, const struct ew_series *series,
                     const struct ew_segment *segment, const struct ew_reduce_facts *facts) {
  struct grid_work work = {.n = segment->count_last - segment->count_first,
                           .speed =
                               ew_series_values(series, EW_CHANNEL_SPEED) + segment->count_first};
  struct ew_sample_torque torque = ew_sample_torque(series, segment, facts);
  work.use = g_new(guint8, MAX(work.n, 1));
  const struct ew_series_channel *channel = ew_series_find(series, EW_CHANNEL_TORQUE, 0);
  for (gsize i = 0; i < work.n; i++)
    work.use[i] = ew_reduce_uses(channel, segment->count_first + i, segment->count_last) &&
                  !isnan(work.speed[i]) && !isnan(torque.inertia[i]) &&
                  !isnan(torque.engine_inertia[i]);
  make_grid(curve, segment);
  ew_reduce_allocate(curve);
  weigh(curve, &work);
  if (curve->points >= 3) {
    reduce_torque(curve, &work, &torque);
    keep_raw(curve, &work, &torque);
    reduce_channels(curve, &work, series, segment);
    settle_headline(curve, &work);
  }
  ew_sample_torque_clear(&torque);
  g_free(work.weights);
  g_free(work.from);
  g_free(work.to);
  g_free(work.variance);
  g_free(work.use);
}
