/* What is known of the engine now, sample by sample, and what an alarm watches of it. */
#include "cell/alarm_parts.h"
#include <math.h>

#define RATE_S       0.12  /* window of rate() */
#define RUNNING_RPM  700.0 /* below: standing, cranking or stopping */
#define LOST_SAMPLES 3

struct reading *ew_alarms_reading(struct ew_alarms *a, enum ew_channel channel, int index) {
  g_assert(channel < EW_CHANNELS_COUNT);
  if (index > 0)
    return index < INDEXES ? &a->readings[channel][index] : NULL;
  for (int i = 0; i < INDEXES; i++)
    if (a->readings[channel][i].seen)
      return &a->readings[channel][i];
  return &a->readings[channel][0];
}

static double value_of(struct ew_alarms *a, enum ew_channel channel) {
  return ew_alarms_reading(a, channel, 0)->value;
}

static void follow_reading(struct ew_alarms *a, struct reading *r) {
  ew_stillness_step(&r->still, r->value, a->time_s, a->speed_rpm);
  if (isnan(r->value)) {
    r->lost++;
    if (isnan(r->lost_s))
      r->lost_s = a->time_s;
    return;
  }
  r->lost = 0;
  r->lost_s = NAN;
  r->known = r->value;
  if (!isnan(a->pull_s) && a->time_s - a->pull_s <= 0.3) {
    r->start += r->value;
    r->start_count++;
  }
}

/* A straight line through the last 0.12 s of speed. */
static void follow_rate(struct ew_alarms *a, double speed) {
  guint last = (a->rate_at + RATE_POINTS - 1) % RATE_POINTS;
  if (isnan(speed) || a->time_s - a->rate_t[last] < RATE_S / 60)
    return;
  a->rate_t[a->rate_at] = a->time_s;
  a->rate_n[a->rate_at] = speed;
  a->rate_at = (a->rate_at + 1) % RATE_POINTS;
  double n = 0, st = 0, sn = 0, stt = 0, stn = 0, first = 0;
  for (int i = 0; i < RATE_POINTS; i++) {
    double t = a->rate_t[i] - a->time_s;
    if (!(t > -RATE_S && t <= 0))
      continue;
    n++, st += t, sn += a->rate_n[i], stt += t * t, stn += t * a->rate_n[i];
    first = fmin(first, t);
  }
  g_assert(a->rate_at < RATE_POINTS && n <= RATE_POINTS);
  double spread = stt - st * st / fmax(n, 1);
  a->rate_rpm_s = n >= 5 && first < -RATE_S / 2 && spread > 0 ? (stn - st * sn / n) / spread : NAN;
}

static void follow_engine(struct ew_alarms *a) {
  double speed = value_of(a, EW_CHANNEL_SPEED), knock = value_of(a, EW_CHANNEL_KNOCK);
  follow_rate(a, speed);
  if (!isnan(speed)) {
    a->speed_rpm = speed;
    a->speed_s = a->time_s;
    gboolean runs = speed > RUNNING_RPM;
    if (!runs)
      a->running_s = NAN;
    else if (isnan(a->running_s)) /* found running: it was started long ago */
      a->running_s = a->begun ? a->time_s : -INFINITY;
    a->begun = TRUE;
  }
  if (knock > 0) {
    a->count_t[a->count_at] = a->time_s;
    a->count_n[a->count_at] = knock;
    a->count_at = (a->count_at + 1) % COUNT_POINTS;
  }
  double oil = value_of(a, EW_CHANNEL_OIL_TEMPERATURE);
  if (!isnan(a->pull_s) && !isnan(oil)) {
    a->oil_sum += oil;
    a->oil_count++;
  }
}

void ew_alarms_follow(struct ew_alarms *a) {
  follow_engine(a);
  for (int c = 0; c < EW_CHANNELS_COUNT; c++)
    for (int i = 0; i < INDEXES; i++)
      if (a->readings[c][i].seen)
        follow_reading(a, &a->readings[c][i]);
}

static double over_all(struct ew_alarms *a, enum ew_channel channel, gboolean spread) {
  g_assert(channel < EW_CHANNELS_COUNT);
  double high = -INFINITY, low = INFINITY;
  guint count = 0;
  for (int i = 0; i < INDEXES; i++) {
    double value = a->readings[channel][i].value;
    if (isnan(value))
      continue;
    high = fmax(high, value);
    low = fmin(low, value);
    count++;
  }
  if (count < (spread ? 2 : 1))
    return NAN;
  return spread ? high - low : high;
}

static double counted(const struct ew_alarms *a) {
  double sum = 0;
  for (int i = 0; i < COUNT_POINTS; i++)
    if (a->count_t[i] > a->time_s - 1)
      sum += a->count_n[i];
  return sum;
}

static double since_start(const struct ew_alarms *a, const struct reading *r, gboolean fall) {
  if (isnan(a->pull_s) || r->start_count < 1 || a->time_s - a->pull_s <= 0.3)
    return NAN;
  double start = r->start / r->start_count;
  return fall ? (start > 0 ? 1 - r->value / start : (double)NAN) : r->value - start;
}

static double frozen(const struct ew_alarms *a, const struct reading *r, enum ew_channel channel) {
  return r->seen ? ew_stillness_frozen_s(&r->still, channel, a->time_s, a->speed_rpm) : (double)NAN;
}

static double lost(const struct ew_alarms *a, const struct reading *r) {
  if (!r->seen)
    return NAN; /* a channel that was never there is for arming to refuse */
  return r->lost >= LOST_SAMPLES ? a->time_s - r->lost_s + ALWAYS_AFTER : 0;
}

double ew_alarms_watched(struct ew_alarms *a, const struct ew_watch *w) {
  struct reading *r = ew_alarms_reading(a, w->channel, w->index);
  if (!r)
    return NAN;
  switch (w->how) {
  case EW_WATCH_MINUS: return r->value - ew_alarms_reading(a, w->minus, w->minus_index)->value;
  case EW_WATCH_MAX: return over_all(a, w->channel, FALSE);
  case EW_WATCH_SPREAD: return over_all(a, w->channel, TRUE);
  case EW_WATCH_RISE: return since_start(a, r, FALSE);
  case EW_WATCH_FALL: return since_start(a, r, TRUE);
  case EW_WATCH_RATE: return a->rate_rpm_s;
  case EW_WATCH_COUNT: return r->seen ? counted(a) : (double)NAN;
  case EW_WATCH_LOST: return lost(a, r);
  case EW_WATCH_FROZEN: return frozen(a, r, w->channel);
  case EW_WATCH_VALUE: return r->value;
  case EW_WATCHES_COUNT: break;
  }
  g_assert_not_reached();
}
