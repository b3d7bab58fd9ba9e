#include "cell/alarm.h"
#include "base/error.h"
#include "cell/stillness.h"
#include <math.h>
#include <string.h>

#define INDEXES      17   /* a channel without a number, and sixteen cylinders */
#define RATE_S       0.12 /* window of rate() */
#define RATE_POINTS  128
#define COUNT_POINTS 512
#define RUNNING_RPM  700.0 /* below: standing, cranking or stopping */
#define RUNNING_S    3.0   /* after a start, before anything is watched */
#define LOST_SAMPLES 3
#define STALE_S      1.0 /* a last known speed is believed for so long */
#define NEAR         0.015
#define ALWAYS_AFTER 1e-9

struct alarm_state {
  double since_s;                     /* of the breach; NaN: none */
  double met_s;                       /* since when the conditions stand; NaN: they do not */
  gboolean tripped, beyond, in_force; /* in_force: its conditions have stood long enough */
  struct ew_alarm_near near;
};

struct reading {
  double value, known; /* latest; latest that was one */
  guint lost;
  double lost_s; /* since when; NaN */
  gboolean seen;
  struct ew_stillness still;
  double start, start_count; /* mean at the pull's start */
};

struct ew_alarms {
  struct ew_alarm_table *table;
  struct ew_own_curves *own;
  struct alarm_state *states;
  struct reading readings[EW_CHANNELS_COUNT][INDEXES];
  double time_s, speed_rpm, speed_s, running_s, pull_s; /* pull_s: its begin; NaN outside */
  double rate_t[RATE_POINTS], rate_n[RATE_POINTS], rate_rpm_s;
  double count_t[COUNT_POINTS], count_n[COUNT_POINTS];
  guint rate_at, count_at;
  gboolean begun, asked; /* asked: a pull in which something asked to back off */
  double oil_sum, oil_count;
};

static void reset_states(struct ew_alarms *a) {
  g_free(a->states);
  a->states = g_new0(struct alarm_state, a->table->alarms->len + 1);
  for (guint i = 0; i < a->table->alarms->len; i++)
    a->states[i].since_s = a->states[i].met_s = NAN;
}

struct ew_alarms *ew_alarms_new(struct ew_alarm_table *table, struct ew_own_curves *own) {
  struct ew_alarms *a = g_new0(struct ew_alarms, 1);
  a->table = table;
  a->own = own;
  reset_states(a);
  a->time_s = a->speed_rpm = a->speed_s = a->running_s = a->pull_s = a->rate_rpm_s = NAN;
  for (int c = 0; c < EW_CHANNELS_COUNT; c++)
    for (int i = 0; i < INDEXES; i++) {
      a->readings[c][i] = (struct reading){.value = NAN, .known = NAN, .lost_s = NAN, .start = 0};
      ew_stillness_begin(&a->readings[c][i].still);
    }
  for (int i = 0; i < RATE_POINTS; i++)
    a->rate_t[i] = NAN;
  for (int i = 0; i < COUNT_POINTS; i++)
    a->count_t[i] = NAN;
  return a;
}

void ew_alarms_free(struct ew_alarms *a) {
  if (!a)
    return;
  ew_alarm_table_free(a->table);
  g_free(a->states);
  g_free(a);
}

gboolean ew_alarms_replace(struct ew_alarms *a, struct ew_alarm_table *table, GError **error) {
  if (!isnan(a->pull_s))
    return ew_refuse(error, "a pull is under way: limits are locked until it is over");
  ew_alarm_table_free(a->table);
  a->table = table;
  reset_states(a);
  return TRUE;
}

const struct ew_alarm_table *ew_alarms_table(const struct ew_alarms *a) {
  return a->table;
}

double ew_alarms_speed(const struct ew_alarms *a) {
  return a->time_s - a->speed_s <= STALE_S ? a->speed_rpm : (double)NAN;
}

void ew_alarms_set(struct ew_alarms *a, enum ew_channel channel, int index, double value) {
  if (channel < EW_CHANNELS_COUNT && index >= 0 && index < INDEXES) {
    a->readings[channel][index].value = value;
    a->readings[channel][index].seen = TRUE;
  }
}

/* ---- what is known of the engine now ---- */

static struct reading *reading_of(struct ew_alarms *a, enum ew_channel channel, int index) {
  if (index > 0)
    return index < INDEXES ? &a->readings[channel][index] : NULL;
  for (int i = 0; i < INDEXES; i++)
    if (a->readings[channel][i].seen)
      return &a->readings[channel][i];
  return &a->readings[channel][0];
}

static double value_of(struct ew_alarms *a, enum ew_channel channel) {
  return reading_of(a, channel, 0)->value;
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

static double oil_now(struct ew_alarms *a) {
  return reading_of(a, EW_CHANNEL_OIL_TEMPERATURE, 0)->known;
}

/* ---- watches ---- */

static double over_all(struct ew_alarms *a, enum ew_channel channel, gboolean spread) {
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

static double watched(struct ew_alarms *a, const struct ew_watch *w) {
  struct reading *r = reading_of(a, w->channel, w->index);
  if (!r)
    return NAN;
  switch (w->how) {
  case EW_WATCH_MINUS: return r->value - reading_of(a, w->minus, w->minus_index)->value;
  case EW_WATCH_MAX: return over_all(a, w->channel, FALSE);
  case EW_WATCH_SPREAD: return over_all(a, w->channel, TRUE);
  case EW_WATCH_RISE: return since_start(a, r, FALSE);
  case EW_WATCH_FALL: return since_start(a, r, TRUE);
  case EW_WATCH_RATE: return a->rate_rpm_s;
  case EW_WATCH_COUNT: return r->seen ? counted(a) : (double)NAN;
  case EW_WATCH_LOST: return lost(a, r);
  case EW_WATCH_FROZEN: return frozen(a, r, w->channel);
  default: return r->value;
  }
}

/* ---- conditions and limits ---- */

static double transport_s(double speed_rpm) {
  return 0.15 + 0.2 * CLAMP((7000 - speed_rpm) / 4500, 0, 1) + 0.15; /* gas, and the probe's lag */
}

static gboolean conditions(struct ew_alarms *a, const struct ew_alarm_spec *s) {
  double throttle = reading_of(a, EW_CHANNEL_THROTTLE, 0)->known;
  double speed = a->time_s - a->speed_s <= STALE_S || !isnan(a->pull_s) ? a->speed_rpm : NAN;
  if (!(a->time_s - a->running_s >= RUNNING_S) && s->watch.channel != EW_CHANNEL_SPEED)
    return FALSE;
  if (s->in_pull && isnan(a->pull_s))
    return FALSE;
  return !(s->throttle_above > 0 && !(throttle > s->throttle_above)) &&
         !(s->throttle_below > 0 && !(throttle < s->throttle_below)) &&
         !(s->speed_above_rpm > 0 && !(speed > s->speed_above_rpm)) &&
         !(s->speed_below_rpm > 0 && !(speed < s->speed_below_rpm)) &&
         !(s->rate_below_rpm_s > 0 && !(fabs(a->rate_rpm_s) < s->rate_below_rpm_s));
}

static gboolean settled(struct ew_alarms *a, const struct ew_alarm_spec *s,
                        struct alarm_state *state) {
  if (!conditions(a, s)) {
    state->met_s = NAN;
    return FALSE;
  }
  if (isnan(state->met_s))
    state->met_s = a->time_s;
  double wait = s->settle_s + (s->transport_delay ? transport_s(a->speed_rpm) : 0);
  return a->time_s - state->met_s >= wait;
}

static double at_speed(const struct ew_alarm_spec *s, double speed) {
  const double *x = (const double *)(void *)s->speeds_rpm->data,
               *y = (const double *)(void *)s->limits->data;
  guint n = s->limits->len;
  if (!(speed >= x[0]))
    return NAN; /* below the table nothing is asked */
  for (guint i = 1; i < n; i++)
    if (speed <= x[i])
      return y[i - 1] + (y[i] - y[i - 1]) * (speed - x[i - 1]) / (x[i] - x[i - 1]);
  return y[n - 1];
}

/* The band that is allowed now, in what the limits stand for; NaN: open. `shift`: what a reading is
 * lowered by before it is held against them. */
struct allowed {
  double low, high, shift;
};

static struct allowed allowed_now(struct ew_alarms *a, const struct ew_alarm_spec *s) {
  struct allowed band = {NAN, NAN, 0};
  double mean = NAN, scatter = NAN, last = NAN, last_scatter = NAN;
  if (a->own) {
    ew_own_curves_at(a->own, s->watch_text, a->speed_rpm, oil_now(a), FALSE, &mean, &scatter);
    ew_own_curves_at(a->own, s->watch_text, a->speed_rpm, oil_now(a), TRUE, &last, &last_scatter);
  }
  if (s->until_learned && !isnan(mean))
    return band;
  if (s->over_own && !isnan(mean))
    band.shift = mean;
  band.high = fmin(s->above, mean + s->above_own);
  band.low = fmax(s->below, s->below_own * mean);
  if (s->limits->len)
    band.low = fmax(band.low, at_speed(s, a->speed_rpm));
  band.low = fmax(band.low, s->below_last * last - 2 * last_scatter);
  return band;
}

/* How far `value` is beyond the nearest limit, above 0; NaN when there is no limit now. */
struct beyond {
  double by, bound;
};

static struct beyond beyond_limits(struct ew_alarms *a, const struct ew_alarm_spec *s,
                                   double *value) {
  struct allowed band = allowed_now(a, s);
  if (band.shift != 0)
    *value = fmax(*value - band.shift, 0);
  double over = *value - band.high, under = band.low - *value;
  if (isnan(over) || under > over)
    return (struct beyond){under, band.low};
  return (struct beyond){over, band.high};
}

static gboolean watches_a_reading(const struct ew_watch *w) {
  return w->how == EW_WATCH_VALUE || w->how == EW_WATCH_MAX;
}

void ew_alarms_bands(struct ew_alarms *a, GArray *bands) {
  g_array_set_size(bands, 0);
  for (guint i = 0; i < a->table->alarms->len; i++) {
    const struct ew_alarm_spec *s = &g_array_index(a->table->alarms, struct ew_alarm_spec, i);
    const struct alarm_state *state = &a->states[i];
    struct reading *r = reading_of(a, s->watch.channel, s->watch.index);
    if (!r || !r->seen)
      continue;
    struct allowed now = allowed_now(a, s);
    struct ew_alarm_band band = {
        .alarm = s,
        .index = s->watch.how == EW_WATCH_MAX ? -1 : (int)(r - a->readings[s->watch.channel]),
        .of_reading = watches_a_reading(&s->watch),
        .in_force = state->in_force,
        .beyond = state->beyond,
        .tripped = state->tripped,
        .value = watched(a, &s->watch),
        .low = now.low + now.shift,
        .high = now.high + now.shift};
    g_array_append_val(bands, band);
  }
}

/* ---- deciding ---- */

static void note_near(struct ew_alarms *a, const struct ew_alarm_spec *s, struct alarm_state *state,
                      double value, struct beyond b) {
  if (isnan(a->pull_s) || state->tripped)
    return;
  double share;
  if (!isnan(state->since_s))
    share = s->hold_s > 0 ? fmin((a->time_s - state->since_s) / s->hold_s, 1) : 1;
  else if (s->hold_s > 0.05 || fabs(b.bound) < 1e-12 || -b.by > NEAR * fabs(b.bound))
    return;
  else
    share = 1 + b.by / fabs(b.bound);
  if (share > state->near.share)
    state->near = (struct ew_alarm_near){s, a->time_s, value, b.bound, share};
}

static void decide(struct ew_alarms *a, guint i, GArray *trips) {
  const struct ew_alarm_spec *s = &g_array_index(a->table->alarms, struct ew_alarm_spec, i);
  struct alarm_state *state = &a->states[i];
  state->in_force = settled(a, s, state);
  if (!state->in_force) {
    state->since_s = NAN;
    state->beyond = FALSE;
    return;
  }
  double value = watched(a, &s->watch);
  if (isnan(value))
    return; /* one lost sample neither begins nor ends a hold */
  struct beyond b = beyond_limits(a, s, &value);
  state->beyond = b.by > 0;
  if (isnan(b.by) || b.by <= -s->hysteresis)
    state->since_s = NAN;
  else if (b.by > 0 && isnan(state->since_s))
    state->since_s = a->time_s;
  note_near(a, s, state, value, b);
  if (state->tripped || isnan(state->since_s) || !(b.by > 0) ||
      a->time_s - state->since_s < s->hold_s - ALWAYS_AFTER)
    return;
  state->tripped = TRUE;
  a->asked |= s->action != EW_ALARM_NOTICE;
  struct ew_alarm_trip trip = {s, a->time_s, value, b.bound, a->time_s - state->since_s};
  g_array_append_val(trips, trip);
}

static gboolean learns(const struct ew_alarm_spec *s) {
  return !isnan(s->below_own) || !isnan(s->below_last) || s->above_own_text || s->over_own;
}

static void teach(struct ew_alarms *a) {
  double throttle = reading_of(a, EW_CHANNEL_THROTTLE, 0)->known;
  if (isnan(a->pull_s) || a->time_s - a->pull_s < 0.8 || throttle < 0.9)
    return;
  for (guint i = 0; i < a->table->alarms->len; i++) {
    const struct ew_alarm_spec *s = &g_array_index(a->table->alarms, struct ew_alarm_spec, i);
    gboolean again = FALSE;
    for (guint k = 0; k < i; k++)
      again |= learns(&g_array_index(a->table->alarms, struct ew_alarm_spec, k)) &&
               strcmp(g_array_index(a->table->alarms, struct ew_alarm_spec, k).watch_text,
                      s->watch_text) == 0;
    if (learns(s) && !again)
      ew_own_curves_take(a->own, s->watch_text, a->speed_rpm, watched(a, &s->watch));
  }
}

void ew_alarms_step(struct ew_alarms *a, double time_s, GArray *trips) {
  if (time_s < a->time_s) { /* another clock: holds begin anew, what is tripped stays */
    for (guint i = 0; i < a->table->alarms->len; i++)
      a->states[i].since_s = a->states[i].met_s = NAN;
    a->speed_s = time_s;
    for (int i = 0; i < RATE_POINTS; i++)
      a->rate_t[i] = NAN;
    for (int i = 0; i < COUNT_POINTS; i++)
      a->count_t[i] = NAN;
    if (!isnan(a->running_s))
      a->running_s = -INFINITY;
  }
  a->time_s = time_s;
  follow_engine(a);
  for (int c = 0; c < EW_CHANNELS_COUNT; c++)
    for (int i = 0; i < INDEXES; i++)
      if (a->readings[c][i].seen)
        follow_reading(a, &a->readings[c][i]);
  for (guint i = 0; i < a->table->alarms->len; i++)
    decide(a, i, trips);
  if (a->own)
    teach(a);
}

void ew_alarms_begin_pull(struct ew_alarms *a, double time_s) {
  a->pull_s = time_s;
  a->asked = FALSE;
  a->oil_sum = a->oil_count = 0;
  for (int c = 0; c < EW_CHANNELS_COUNT; c++)
    for (int i = 0; i < INDEXES; i++)
      a->readings[c][i].start = a->readings[c][i].start_count = 0;
  for (guint i = 0; i < a->table->alarms->len; i++)
    a->states[i].near = (struct ew_alarm_near){0};
}

gboolean ew_alarms_in_pull(const struct ew_alarms *a) {
  return !isnan(a->pull_s);
}

void ew_alarms_end_pull(struct ew_alarms *a, gboolean sound, GArray *near) {
  for (guint i = 0; i < a->table->alarms->len; i++)
    if (a->states[i].near.alarm && !a->states[i].tripped && near)
      g_array_append_val(near, a->states[i].near);
  if (a->own && !isnan(a->pull_s))
    ew_own_curves_end(a->own, a->oil_count ? a->oil_sum / a->oil_count : (double)NAN,
                      sound && !a->asked);
  a->pull_s = NAN;
}

guint ew_alarms_clear(struct ew_alarms *a, const char *name) {
  guint cleared = 0;
  for (guint i = 0; i < a->table->alarms->len; i++) {
    struct alarm_state *state = &a->states[i];
    const struct ew_alarm_spec *s = &g_array_index(a->table->alarms, struct ew_alarm_spec, i);
    if (!state->tripped || state->beyond || (name && strcmp(name, s->name) != 0))
      continue;
    state->tripped = FALSE;
    state->since_s = NAN;
    cleared++;
  }
  return cleared;
}

guint ew_alarms_tripped(const struct ew_alarms *a) {
  guint count = 0;
  for (guint i = 0; i < a->table->alarms->len; i++)
    count += a->states[i].tripped;
  return count;
}
