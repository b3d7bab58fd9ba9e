/* Deciding, sample by sample: conditions, the band that is allowed now, holds, trips, bands for the screen. The
 * diagram of states is in alarm.h; what readings mean before they are judged is alarm_known.c.
 *
 * One thread; O(alarms) a sample, O(alarms²) while own curves are learned (tables have tens of rows). Every
 * comparison is written so that NaN never trips. */
#include "cell/alarm_parts.h"
#include "base/error.h"
#include "base/message.h"
#include <math.h>
#include <string.h>

#define NEAR 0.015

static void reset_states(struct ew_alarms *a) {
  g_free(a->states);
  a->states = g_new0(struct alarm_state, a->table->alarms->len + 1);
  for (guint i = 0; i < a->table->alarms->len; i++)
    a->states[i].since_s = a->states[i].met_s = NAN;
}

struct ew_alarms *ew_alarms_new(struct ew_alarm_table *table, struct ew_own_curves *own) {
  g_assert(table);
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

static const struct ew_alarm_spec *spec_at(const struct ew_alarm_table *table, guint i) {
  g_assert(i < table->alarms->len);
  return &g_array_index(table->alarms, struct ew_alarm_spec, i);
}

/* What holds of every alarm between two samples. */
static void check_states(const struct ew_alarms *a) {
  for (guint i = 0; i < a->table->alarms->len; i++) {
    const struct alarm_state *s = &a->states[i];
    g_assert(!(s->since_s > a->time_s) && !(s->met_s > a->time_s)); /* nothing began later */
    g_assert(isnan(s->since_s) || s->in_force); /* HOLDING only while its conditions are met */
    g_assert(!s->near.alarm || (s->near.share >= 0 && s->near.share <= 1));
  }
}

/* The alarm of this name; the length of the table when there is none. */
static guint place_in(const struct ew_alarm_table *table, const char *name) {
  guint i = 0;
  while (i < table->alarms->len && strcmp(spec_at(table, i)->name, name) != 0)
    i++;
  return i;
}

static gboolean keeps_what_stands(const struct ew_alarms *a, const struct ew_alarm_table *table,
                                  GError **error) {
  for (guint i = 0; i < a->table->alarms->len; i++) {
    const struct ew_alarm_spec *was = spec_at(a->table, i);
    guint at = place_in(table, was->name);
    if (!a->states[i].tripped)
      continue;
    if (at == table->alarms->len)
      return ew_refuse(error, "'%s' has tripped and is not in the new table: clear it first",
                       was->name);
    if (spec_at(table, at)->action < was->action)
      return ew_refuse(error, "'%s' has tripped and asks for less in the new table: clear it first",
                       was->name);
  }
  return TRUE;
}

gboolean ew_alarms_replace(struct ew_alarms *a, struct ew_alarm_table *table, GError **error) {
  if (!isnan(a->pull_s))
    return ew_refuse(error, "a pull is under way: limits are locked until it ends");
  if (!keeps_what_stands(a, table, error))
    return FALSE;
  g_autoptr(ew_alarm_table) old = a->table;
  g_autofree struct alarm_state *states = g_steal_pointer(&a->states);
  a->table = table;
  reset_states(a);
  for (guint i = 0; i < old->alarms->len; i++) {
    guint at = place_in(table, spec_at(old, i)->name);
    if (!states[i].tripped)
      continue;
    g_assert(at < table->alarms->len); /* else it would have been refused */
    a->states[at].tripped = TRUE;
    a->states[at].beyond = states[i].beyond; /* until the next sample tells */
  }
  check_states(a);
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

/* ---- conditions and limits ---- */

static double oil_now(struct ew_alarms *a) {
  return ew_alarms_reading(a, EW_CHANNEL_OIL_TEMPERATURE, 0)->known;
}

static double transport_s(double speed_rpm) {
  return 0.15 + 0.2 * CLAMP((7000 - speed_rpm) / 4500, 0, 1) + 0.15; /* gas, and the probe's lag */
}

static gboolean conditions(struct ew_alarms *a, const struct ew_alarm_spec *s) {
  double throttle = ew_alarms_reading(a, EW_CHANNEL_THROTTLE, 0)->known;
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
  g_assert(n > 0 && s->speeds_rpm->len == n);
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
  band.low = fmax(band.low, s->below_per_1000_rpm * a->speed_rpm / 1000);
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

EW_MESSAGE(below_floor, "cell.below-floor", EW_DANGER, "{name} ({value}, at least {least})");

void ew_alarms_below_floor(struct ew_alarms *a, GPtrArray *messages) {
  for (guint i = 0; i < a->table->alarms->len; i++) {
    const struct ew_alarm_spec *s = spec_at(a->table, i);
    if (s->action != EW_ALARM_SHUT_DOWN || !watches_a_reading(&s->watch) || !conditions(a, s))
      continue;
    double value = ew_alarms_watched(a, &s->watch), low = allowed_now(a, s).low;
    if (!(value < low)) /* no reading, or no floor: not for this to judge */
      continue;
    ew_messages_add(messages, ew_message(&below_floor, ew_say_text("name", s->name),
                                         ew_say_quantity("value", s->watch.kind, value, 2),
                                         ew_say_quantity("least", s->watch.kind, low, 2)));
  }
}

void ew_alarms_bands(struct ew_alarms *a, GArray *bands) {
  g_array_set_size(bands, 0);
  for (guint i = 0; i < a->table->alarms->len; i++) {
    const struct ew_alarm_spec *s = spec_at(a->table, i);
    const struct alarm_state *state = &a->states[i];
    struct reading *r = ew_alarms_reading(a, s->watch.channel, s->watch.index);
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
        .value = ew_alarms_watched(a, &s->watch),
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
  g_assert(state->in_force);
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
  g_assert(a->table && a->states && trips);
  const struct ew_alarm_spec *s = spec_at(a->table, i);
  struct alarm_state *state = &a->states[i];
  state->in_force = settled(a, s, state);
  if (!state->in_force) {
    state->since_s = NAN;
    state->beyond = FALSE;
    return;
  }
  double value = ew_alarms_watched(a, &s->watch);
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
  g_assert(state->in_force && state->since_s <= a->time_s && !isnan(value));
  state->tripped = TRUE;
  a->asked |= s->action != EW_ALARM_NOTICE;
  struct ew_alarm_trip trip = {s, a->time_s, value, b.bound, a->time_s - state->since_s};
  g_array_append_val(trips, trip);
}

static gboolean learns(const struct ew_alarm_spec *s) {
  return !isnan(s->below_own) || !isnan(s->below_last) || s->above_own_text || s->over_own;
}

static void teach(struct ew_alarms *a) {
  g_assert(a->own);
  double throttle = ew_alarms_reading(a, EW_CHANNEL_THROTTLE, 0)->known;
  if (isnan(a->pull_s) || a->time_s - a->pull_s < 0.8 || throttle < 0.9)
    return;
  for (guint i = 0; i < a->table->alarms->len; i++) {
    const struct ew_alarm_spec *s = spec_at(a->table, i);
    gboolean again = FALSE;
    for (guint k = 0; k < i; k++)
      again |= learns(spec_at(a->table, k)) &&
               strcmp(spec_at(a->table, k)->watch_text, s->watch_text) == 0;
    if (learns(s) && !again)
      ew_own_curves_take(a->own, s->watch_text, a->speed_rpm, ew_alarms_watched(a, &s->watch));
  }
}

void ew_alarms_step(struct ew_alarms *a, double time_s, GArray *trips) {
  if (isnan(time_s)) /* no moment: decided as of the last one */
    time_s = a->time_s;
  if (time_s < a->time_s) { /* another clock: holds begin again, what is tripped stays */
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
  ew_alarms_follow(a);
  for (guint i = 0; i < a->table->alarms->len; i++)
    decide(a, i, trips);
  check_states(a);
  if (a->own)
    teach(a);
}

void ew_alarms_begin_pull(struct ew_alarms *a, double time_s) {
  g_assert(!isnan(time_s)); /* NaN says that there is no pull */
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
    const struct ew_alarm_spec *s = spec_at(a->table, i);
    if (!state->tripped || state->beyond || (name && strcmp(name, s->name) != 0))
      continue;
    state->tripped = FALSE;
    state->since_s = NAN;
    cleared++;
  }
  check_states(a);
  return cleared;
}

guint ew_alarms_standing(const struct ew_alarms *a, enum ew_alarm_action least, GString *names) {
  g_assert((int)least < EW_ALARM_ACTIONS_COUNT);
  guint count = 0;
  for (guint i = 0; i < a->table->alarms->len; i++) {
    const struct ew_alarm_spec *s = spec_at(a->table, i);
    if (!a->states[i].tripped || s->action < (int)least)
      continue;
    count++;
    if (names)
      g_string_append_printf(names, "%s%s", names->len ? ", " : "", s->name);
  }
  return count;
}

guint ew_alarms_tripped(const struct ew_alarms *a) {
  return ew_alarms_standing(a, EW_ALARM_NOTICE, NULL);
}
