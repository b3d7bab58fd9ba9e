/* What the two files of the alarms share: alarm_known.c follows what is known of the engine, alarm.c
 * decides on it. Internal to src/cell. */
#pragma once
#include "cell/alarm.h"
#include "cell/stillness.h"

#define INDEXES      17 /* a channel without a number, and sixteen cylinders */
#define RATE_POINTS  128
#define COUNT_POINTS 512
#define RUNNING_S    3.0 /* after a start, before anything is watched */
#define STALE_S      1.0 /* a last known speed is believed for so long */
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

/* The reading of a channel; index 0: the first that was seen. NULL: no such index. */
struct reading *ew_alarms_reading(struct ew_alarms *a, enum ew_channel channel, int index);
/* Takes note of the samples at hand, which are of `a->time_s`. */
void ew_alarms_follow(struct ew_alarms *a);
/* What an alarm watches, now; NaN: it has no reading. */
double ew_alarms_watched(struct ew_alarms *a, const struct ew_watch *w);
