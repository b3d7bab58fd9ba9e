/* On, off or not known for each sample. The most that a throttle or torque shows is a quantile: what is reached for
 * half a second or five samples in all, so that one spike sets no threshold. O(n). */
#include "pull/load.h"
#include "base/statistics.h"
#include <math.h>

#define OF_MOST_THROTTLE 0.9
#define FULL_THROTTLE    0.9
#define OPENS            0.3 /* a throttle that never passes this tells nothing about load */
#define TORQUE_ALONE     0.35
#define TORQUE_BESIDE    0.55
#define SHOWN_S          0.5
#define SHOWN_LEAST      5.0 /* samples */

static double most_shown(const struct ew_series *series, const double *x, double seconds) {
  gsize absent, n = series->rows;
  double highest = ew_quantile(x, n, 1, &absent), known = (double)(n - absent);
  if (known < 2)
    return highest;
  double count = series->timed ? fmax(seconds / series->interval_s * known / (double)n, 1) : 1;
  count = fmin(fmax(count, SHOWN_LEAST), (known - 1) / 2);
  return ew_quantile(x, n, 1 - count / (known - 1), &absent);
}

static enum ew_load by_torque(double torque, double threshold) {
  return isnan(torque) ? EW_LOAD_UNKNOWN : torque >= threshold ? EW_LOAD_ON : EW_LOAD_OFF;
}

static enum ew_load load_at(const struct ew_loads *loads, const struct ew_series_channel *throttle,
                            const double *torque, double opened, gsize i) {
  if (loads->by_torque_alone)
    return by_torque(torque[i], TORQUE_ALONE * loads->most_torque_n_m);
  double here = throttle->values[i];
  gboolean guessed = throttle->flags && (throttle->flags[i] & (EW_FLAG_DROPOUT | EW_FLAG_BETWEEN));
  if (here >= opened)
    return EW_LOAD_ON;
  if (!isnan(here) && !guessed)
    return EW_LOAD_OFF;
  enum ew_load load = by_torque(torque[i], TORQUE_BESIDE * loads->most_torque_n_m);
  return load == EW_LOAD_UNKNOWN && !isnan(here) ? EW_LOAD_OFF : load;
}

struct ew_loads ew_loads_of(const struct ew_series *series) {
  const struct ew_series_channel *throttle = ew_series_find(series, EW_CHANNEL_THROTTLE, 0);
  const double *torque = ew_series_values(series, EW_CHANNEL_TORQUE);
  struct ew_loads loads = {.at = g_new(guint8, MAX(series->rows, 1)),
                           .most_torque_n_m = most_shown(series, torque, SHOWN_S)};
  double most = throttle ? most_shown(series, throttle->values, SHOWN_S) : (double)NAN;
  loads.throttle = throttle && !isnan(most) ? throttle->values : NULL;
  loads.by_torque_alone = !(most > OPENS);
  for (gsize i = 0; i < series->rows; i++)
    loads.at[i] = (guint8)load_at(&loads, throttle, torque, OF_MOST_THROTTLE * most, i);
  return loads;
}

void ew_loads_clear(struct ew_loads *loads) {
  g_free(loads->at);
}

gboolean ew_loads_full_throttle(const struct ew_loads *loads, const struct ew_series *series,
                                gsize first, gsize last, double *seconds_absent) {
  gsize absent = last - first;
  double middle =
      loads->throttle ? ew_median(loads->throttle + first, last - first, &absent) : (double)NAN;
  if (seconds_absent)
    *seconds_absent = series->timed ? (double)absent * series->interval_s : 0;
  return middle >= FULL_THROTTLE;
}
