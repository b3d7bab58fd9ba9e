/* Steps, channel by channel: 0. the channel's own samples are found (own_rate.c): those of a slower channel are
 * told from holes; 1. dropouts (missing, or zero between living values); 2. spikes; 3. saturation, all three of
 * the own samples; 4. short gaps are filled by a straight line, long ones stay lost; counts are not filled;
 * 5. flat lines, only where the engine's speed moves meanwhile; 6. a stated lag of the sensor is taken out. */
#include "pull/clean.h"
#include "base/statistics.h"
#include "pull/own_rate.h"
#include <math.h>
#include <string.h>

#define HALF 3 /* samples each side in the Hampel window */

#define ORDER(a, b)                                                                                \
  {                                                                                                \
    double low = (a) < (b) ? (a) : (b), high = (a) < (b) ? (b) : (a);                              \
    (a) = low;                                                                                     \
    (b) = high;                                                                                    \
  }

/* Seven without a branch: a sorting network, as far as the middle needs it. */
static inline double middle_of_seven(const double *v) {
  double a = v[0], b = v[1], c = v[2], d = v[3], e = v[4], f = v[5], g = v[6];
  ORDER(a, f)
  ORDER(a, d)
  ORDER(b, g)
  ORDER(c, e)
  ORDER(a, b)
  ORDER(d, f)
  ORDER(c, g)
  ORDER(c, d)
  ORDER(d, g)
  ORDER(e, f)
  ORDER(b, e)
  ORDER(b, d)
  ORDER(d, e)
  return d;
}

static double median_of(double *v, int n) {
  g_assert(n >= 1 && n <= 2 * HALF + 1);
  if (n == 7)
    return middle_of_seven(v);
  for (int i = 1; i < n; i++) {
    double key = v[i];
    int j = i - 1;
    for (; j >= 0 && v[j] > key; j--)
      v[j + 1] = v[j];
    v[j + 1] = key;
  }
  return n % 2 ? v[n / 2] : (v[n / 2 - 1] + v[n / 2]) / 2;
}

void ew_hampel(const double *x, gsize n, double limit, double least, guint8 *spike) {
  for (gsize i = 0; i < n; i++) {
    spike[i] = 0;
    double window[2 * HALF + 1], away[2 * HALF + 1];
    int count = 0;
    gsize first = i < HALF ? 0 : i - HALF, last = MIN(i + HALF, n - 1);
    for (gsize j = first; j <= last; j++)
      if (!isnan(x[j]))
        window[count++] = x[j];
    if (count < 4 || isnan(x[i]))
      continue;
    memcpy(away, window, sizeof window);
    double median = median_of(window, count);
    double distance = fabs(x[i] - median);
    if (distance <= least)
      continue;
    for (int j = 0; j < count; j++)
      away[j] = fabs(away[j] - median);
    spike[i] = distance > limit * 1.4826 * median_of(away, count);
  }
}

/* Typical size of the steps of a channel, so that quiet channels with one lively digit are no spikes. */
static double usual_step(const double *x, gsize n) {
  gsize stride = MAX(n / 2000, 1), count = 0;
  g_autofree double *steps = g_new(double, n / stride + 1);
  for (gsize i = 1; i < n; i += stride)
    if (!isnan(x[i]) && !isnan(x[i - 1]))
      steps[count++] = fabs(x[i] - x[i - 1]);
  return count ? ew_median(steps, count, EW_NONE_ABSENT) : 0;
}

/* The length of a run of zeros at i that comes back, within a few samples, near where it left; else 0. */
static gsize zeros_between(const double *x, gsize n, gsize i) {
  if (x[i] != 0 || i == 0 || isnan(x[i - 1]) || x[i - 1] == 0)
    return 0;
  gsize j = i;
  while (j < n && x[j] == 0)
    j++;
  return j < n && j - i <= 5 && fabs(x[j] - x[i - 1]) < 0.3 * fabs(x[i - 1]) ? j - i : 0;
}

static void flag_zeros(enum ew_channel channel, double *x, guint8 *flags, gsize n) {
  if (channel == EW_CHANNEL_KNOCK || channel == EW_CHANNEL_THROTTLE)
    return;
  for (gsize i = 0; i < n;) {
    gsize length = zeros_between(x, n, i);
    for (gsize k = i; k < i + length; k++) {
      flags[k] |= EW_FLAG_DROPOUT;
      x[k] = NAN;
    }
    i += MAX(length, 1);
  }
}

static void flag_spikes(enum ew_channel channel, double *x, guint8 *flags, gsize n, double limit) {
  if (channel == EW_CHANNEL_KNOCK)
    return;
  g_autofree guint8 *spike = g_new(guint8, MAX(n, 1));
  ew_hampel(x, n, limit, 4 * usual_step(x, n), spike);
  for (gsize i = 0; i < n; i++)
    if (spike[i]) {
      flags[i] |= EW_FLAG_SPIKE;
      x[i] = NAN;
    }
}

static void flag_saturated(enum ew_channel channel, const double *x, guint8 *flags, gsize n) {
  if (channel != EW_CHANNEL_TORQUE && channel != EW_CHANNEL_OIL_PRESSURE &&
      channel != EW_CHANNEL_LAMBDA && channel != EW_CHANNEL_FUEL_PRESSURE)
    return;
  double top = -INFINITY;
  gsize at_top = 0;
  for (gsize i = 0; i < n; i++)
    if (x[i] > top)
      top = x[i], at_top = 1;
    else
      at_top += x[i] == top;
  if (at_top < 10 || usual_step(x, n) == 0)
    return;
  for (gsize i = 0, run = 0; i < n; i++) {
    run = x[i] == top ? run + 1 : 0;
    if (run >= 8)
      for (gsize k = i - run + 1; k <= i; k++)
        flags[k] |= EW_FLAG_SATURATED;
  }
}

/* Steps 1 to 3 of the own samples: neighbours are neighbours, whatever rows of other channels lie between. */
static void judge_samples(struct ew_series_channel *one, gsize n, double spike_limit) {
  double *x = one->values;
  guint8 *flags = one->flags;
  g_autofree gsize *row = NULL;
  g_autofree double *own = NULL;
  g_autofree guint8 *own_flags = NULL;
  gsize count = n;
  if (one->slow) {
    row = g_new(gsize, MAX(n, 1));
    own = g_new(double, MAX(n, 1));
    own_flags = g_new0(guint8, MAX(n, 1));
    count = 0;
    for (gsize i = 0; i < n; i++)
      if (!isnan(x[i]))
        row[count] = i, own[count++] = x[i];
    x = own, flags = own_flags;
  }
  flag_zeros(one->channel, x, flags, count);
  flag_spikes(one->channel, x, flags, count, spike_limit);
  flag_saturated(one->channel, x, flags, count);
  g_assert(count <= n);
  for (gsize k = 0; row && k < count; k++) {
    one->values[row[k]] = own[k];
    one->flags[row[k]] |= own_flags[k];
  }
}

/* A still coolant or barometer is not a fault: only channels that must follow the speed are judged. */
static gboolean follows_speed(enum ew_channel channel) {
  return channel == EW_CHANNEL_TORQUE || channel == EW_CHANNEL_OIL_PRESSURE ||
         channel == EW_CHANNEL_SPEED || channel == EW_CHANNEL_FUEL_FLOW ||
         channel == EW_CHANNEL_AIR_FLOW;
}

/* Largest less smallest of the known x[first..last). */
static double moved_over(const double *x, gsize first, gsize last) {
  double least = INFINITY, most = -INFINITY;
  for (gsize i = first; i < last; i++) {
    least = fmin(least, x[i]);
    most = fmax(most, x[i]);
  }
  return most >= least ? most - least : 0;
}

static void flag_flat(struct ew_series_channel *one, const struct ew_series *series,
                      const double *speed) {
  if (!follows_speed(one->channel) || !speed || !series->timed)
    return;
  gsize n = series->rows;
  for (gsize i = 0; i < n;) {
    gsize j = i + 1;
    while (j < n && one->values[j] == one->values[i])
      j++;
    double length = series->time_s[j - 1] - series->time_s[i];
    if (j - i > 10 && length > 0.5 && !isnan(one->values[i]) && one->values[i] != 0 &&
        (one->channel == EW_CHANNEL_SPEED || moved_over(speed, i, j) > 150))
      for (gsize k = i; k < j; k++)
        one->flags[k] |= EW_FLAG_FLAT;
    i = j;
  }
}

/* A hole is as long as what it lies between; one of a slower channel begins beyond its own step. A count is not
 * filled: nobody knows what was counted there. */
static void fill_gap(struct ew_series_channel *one, const struct ew_series *series, gsize first,
                     gsize end, double longest_s) {
  g_assert(first < end && end <= series->rows);
  double *x = one->values;
  gboolean inside = first > 0 && end < series->rows && one->channel != EW_CHANNEL_KNOCK;
  double length = inside ? series->time_s[end] - series->time_s[first - 1] : INFINITY;
  gboolean between = one->slow && length <= 1.5 * one->interval_s;
  gboolean fill = between || length <= longest_s + 2 * one->interval_s;
  double from = inside ? x[first - 1] : (double)NAN, slope = (fill ? x[end] - from : 0) / length;
  for (gsize k = first; k < end; k++) {
    if (between && !one->flags[k]) /* a spike on the way stays one */
      one->flags[k] |= EW_FLAG_BETWEEN;
    else if (!(one->flags[k] & EW_FLAG_SPIKE))
      one->flags[k] |= EW_FLAG_DROPOUT;
    if (fill)
      x[k] = from + slope * (series->time_s[k] - series->time_s[first - 1]);
    else
      one->flags[k] |= EW_FLAG_LOST;
  }
}

static void fill_gaps(struct ew_series_channel *one, const struct ew_series *series,
                      double longest_s) {
  gsize n = series->rows;
  for (gsize i = 0; i < n; i++) {
    if (!isnan(one->values[i]))
      continue;
    gsize j = i;
    while (j < n && isnan(one->values[j]))
      j++;
    fill_gap(one, series, i, j, longest_s);
    i = j;
  }
}

/* To the nearest row: the sample of `lag_rows` later takes this one's place. */
static void take_out_lag(struct ew_series_channel *one, const struct ew_series *series) {
  if (!(one->lag_s > 0) || !series->timed)
    return;
  gsize n = series->rows, shift = (gsize)lround(one->lag_s / series->interval_s);
  if (shift == 0 || shift >= n)
    return;
  g_assert(shift > 0 && shift < n);
  one->lag_rows = shift;
  memmove(one->values, one->values + shift, (n - shift) * sizeof(double));
  memmove(one->flags, one->flags + shift, n - shift);
  for (gsize i = n - shift; i < n; i++) {
    one->values[i] = NAN;
    one->flags[i] = EW_FLAG_LOST;
  }
}

struct ew_clean_counts ew_clean_count(const struct ew_series_channel *channel, gsize first,
                                      gsize last) {
  struct ew_clean_counts counts = {0};
  for (gsize i = first; channel->flags && i < last; i++) {
    counts.spikes += (channel->flags[i] & EW_FLAG_SPIKE) != 0;
    counts.dropouts += (channel->flags[i] & EW_FLAG_DROPOUT) != 0;
    counts.flat += (channel->flags[i] & EW_FLAG_FLAT) != 0;
    counts.saturated += (channel->flags[i] & EW_FLAG_SATURATED) != 0;
    counts.lost += (channel->flags[i] & EW_FLAG_LOST) != 0;
  }
  return counts;
}

struct ew_clean_counts ew_clean(struct ew_series *series, const struct ew_method *method) {
  struct ew_clean_counts all = {0};
  const double *speed = ew_series_values(series, EW_CHANNEL_SPEED);
  for (guint c = 0; c < series->channels_count; c++) {
    struct ew_series_channel *one = &series->channels[c];
    if (!one->values || one->channel >= EW_CHANNELS_COUNT || one->channel == EW_CHANNEL_TIME)
      continue;
    one->flags = g_new0(guint8, MAX(series->rows, 1));
    if (!series->timed)
      continue;
    ew_find_own_rate(series, one);
    judge_samples(one, series->rows, method->spike_limit);
    fill_gaps(one, series, method->longest_fill_s);
    flag_flat(one, series, speed);
    take_out_lag(one, series);
    struct ew_clean_counts here = ew_clean_count(one, 0, series->rows);
    all.spikes += here.spikes;
    all.dropouts += here.dropouts;
    all.flat += here.flat;
    all.saturated += here.saturated;
    all.lost += here.lost;
  }
  return all;
}
