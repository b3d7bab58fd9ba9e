/* Steps, turns back and stays of one channel, as running means, and the verdict "frozen" from them. Written so that
 * an unknown channel is never called frozen: it has to have shown its noise or its rhythm first. */
#include "cell/stillness.h"
#include <math.h>

#define MEMORY      128.0 /* changes that the means go back */
#define FORGET_S    600.0 /* the longest stay fades so slowly */
#define LEAST       16u   /* changes before a channel is known at all */
#define NOISE_KNOWN 128u
#define NOISY       0.2  /* share of changes that turn back by two steps */
#define STAYS       3.0  /* times the longest stay ... */
#define MEANS       20.0 /* ... and so many mean ones */
#define TWICE       2.0
#define SHORTEST_S  0.5
#define RUNNING_RPM 700.0
#define MOVED_RPM   300.0 /* speed moved so far: what follows speed has moved as well */
#define COARSE      10.0  /* times the furthest, for what has no noise beyond its step */
#define SLOWER      0.8   /* noise is known for this share of the speed, and above */
#define ROWS_KNOWN  20u
#define ROW_S       1.0

void ew_stillness_begin(struct ew_stillness *s) {
  *s = (struct ew_stillness){.value = NAN,
                             .since_s = NAN,
                             .since_rpm = NAN,
                             .step = INFINITY,
                             .low = INFINITY,
                             .high = -INFINITY};
}

/* Not what stood there when the session began, nor while the engine stands. */
static void learn_stay(struct ew_stillness *s, double stay_s, double speed_rpm, double share) {
  if (s->changes == 0 || s->since_rpm < RUNNING_RPM || speed_rpm < RUNNING_RPM)
    return;
  double fade = exp(-stay_s / FORGET_S), moved = fabs(speed_rpm - s->since_rpm);
  s->mean_s += share * (stay_s - s->mean_s);
  s->longest_s = fmax(s->longest_s * fade, stay_s);
  if (!isnan(moved))
    s->moved_rpm = fmax(s->moved_rpm * fade, moved);
}

static void learn_change(struct ew_stillness *s, double value, double speed_rpm) {
  double change = value - s->value;
  s->changes++;
  double share = fmax(1 / MEMORY, 1 / (double)s->changes);
  s->step = fmin(s->step, fabs(change));
  g_assert(share > 0 && share <= 1 && s->step >= 0);
  gboolean turned = change * s->change < 0 && fabs(change) >= 1.999 * s->step;
  s->noisy += share * (turned - s->noisy);
  if (!isnan(speed_rpm))
    s->noisy_rpm += share * (speed_rpm - s->noisy_rpm);
  s->change = change;
}

void ew_stillness_step(struct ew_stillness *s, double value, double time_s, double speed_rpm) {
  if (isnan(value)) {
    s->value = s->since_s = NAN;
    return;
  }
  if (value == s->value && time_s >= s->since_s)
    return;
  if (!isnan(s->value) && time_s >= s->since_s) {
    double share = fmax(1 / MEMORY, 1 / (double)(s->changes + 1));
    learn_stay(s, time_s - s->since_s, speed_rpm, share);
    learn_change(s, value, speed_rpm);
  }
  s->value = value;
  s->low = fmin(s->low, value);
  s->high = fmax(s->high, value);
  s->since_s = time_s;
  s->since_rpm = speed_rpm;
  g_assert(s->low <= s->value && s->value <= s->high);
}

/* What cannot stay when the speed moves by some hundred revolutions; the rest (coolant, barometer,
 * humidity, levels) may. Common practice, no source. */
static gboolean follows_speed(enum ew_channel channel) {
  static const enum ew_channel those[] = {
      EW_CHANNEL_SPEED,        EW_CHANNEL_SPEED_2,   EW_CHANNEL_TORQUE,  EW_CHANNEL_POWER,
      EW_CHANNEL_OIL_PRESSURE, EW_CHANNEL_FUEL_FLOW, EW_CHANNEL_AIR_FLOW};
  for (gsize i = 0; i < G_N_ELEMENTS(those); i++)
    if (those[i] == channel)
      return TRUE;
  return FALSE;
}

static gboolean is_noisy(const struct ew_stillness *s) {
  return s->changes >= NOISE_KNOWN && s->noisy >= NOISY;
}

/* By its noise alone, at any speed where the noise is known. At the very end of all that it ever gave it
 * may be held by a stop: a throttle wide open, a cell without load, a full scale. */
static gboolean too_still(const struct ew_stillness *s, double stay_s, double speed_rpm) {
  return is_noisy(s) && stay_s > fmax(SHORTEST_S, STAYS * s->longest_s + MEANS * s->mean_s) &&
         speed_rpm >= SLOWER * s->noisy_rpm && s->value > s->low && s->value < s->high;
}

/* Speed went on and this did not. */
static gboolean left_behind(const struct ew_stillness *s, enum ew_channel channel, double stay_s,
                            double speed_rpm) {
  double moved_rpm = fabs(speed_rpm - s->since_rpm);
  if (s->changes < LEAST)
    return follows_speed(channel) && moved_rpm > MOVED_RPM;
  if (is_noisy(s))
    return stay_s > TWICE * s->longest_s && moved_rpm > fmax(MOVED_RPM, STAYS * s->moved_rpm);
  return follows_speed(channel) && stay_s > TWICE * s->mean_s &&
         moved_rpm > fmax(MOVED_RPM, COARSE * s->moved_rpm);
}

double ew_stillness_frozen_s(const struct ew_stillness *s, enum ew_channel channel, double time_s,
                             double speed_rpm) {
  double stay_s = time_s - s->since_s;
  if (isnan(stay_s) || isnan(s->value))
    return 0;
  return too_still(s, stay_s, speed_rpm) || left_behind(s, channel, stay_s, speed_rpm) ? stay_s : 0;
}

gboolean ew_row_stillness_step(struct ew_row_stillness *s, gboolean same, gboolean runs,
                               double arrival_s) {
  double stay_s = arrival_s - s->since_s;
  if (same && stay_s >= 0)
    return runs && s->changes >= ROWS_KNOWN &&
           stay_s > fmax(ROW_S, STAYS * s->longest_s + MEANS * s->mean_s);
  s->since_s = arrival_s;
  if (!runs || !(stay_s >= 0))
    return FALSE;
  if (s->changes++ == 0) /* what stood there when the session began */
    return FALSE;
  s->mean_s += fmax(1 / MEMORY, 1 / (double)s->changes) * (stay_s - s->mean_s);
  s->longest_s = fmax(s->longest_s * exp(-stay_s / FORGET_S), stay_s);
  return FALSE;
}
