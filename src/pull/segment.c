/* A sample is under full load when the throttle stands within a tenth of the most it shows, or, where
 * no throttle was recorded, when torque is above a third of its largest. A sweep is a run under full
 * load with acceleration above 40 rpm/s over at least 800 rpm; a dwell is two seconds or more under
 * load with less than 25 rpm/s. These limits are common practice, no source. */
#include "pull/segment.h"
#include "base/statistics.h"
#include <math.h>
#include <string.h>

#define SWEEP_LEAST_RPM_S 40.0
#define SWEEP_LEAST_RPM   800.0
#define DWELL_MOST_RPM_S  25.0
#define DWELL_LEAST_S     2.0
#define LAPSE_S           0.3

const char *const ew_segment_kind_names[] = {"sweep", "steps", "points", NULL};

static void segment_free(struct ew_segment *segment) {
  if (!segment)
    return;
  if (segment->dwells)
    g_array_unref(segment->dwells);
  g_ptr_array_unref(segment->notes);
  g_free(segment);
}

static struct ew_segment *new_segment(enum ew_segment_kind kind, gsize first, gsize last) {
  struct ew_segment *segment = g_new0(struct ew_segment, 1);
  segment->kind = kind;
  segment->first = segment->count_first = first;
  segment->last = segment->count_last = last;
  segment->notes = g_ptr_array_new_with_free_func(g_free);
  return segment;
}

double *ew_acceleration_within(const struct ew_series *series, const double *speed, double half_s,
                               gsize first, gsize last) {
  double *slope = g_new0(double, MAX(last - first, 1));
  const double *t = series->time_s;
  gsize low = first, high = first;
  double s1 = 0, st = 0, sx = 0, stt = 0, stx = 0; /* running sums over the window */
  double origin = first < last ? t[first] : 0;     /* keeps the sums small */
  for (gsize i = first; i < last; i++) {
    while (high < last && t[high] <= t[i] + half_s) {
      double u = t[high] - origin;
      if (!isnan(speed[high]))
        s1++, st += u, sx += speed[high], stt += u * u, stx += u * speed[high];
      high++;
    }
    while (t[low] < t[i] - half_s) {
      double u = t[low] - origin;
      if (!isnan(speed[low]))
        s1--, st -= u, sx -= speed[low], stt -= u * u, stx -= u * speed[low];
      low++;
    }
    double spread = stt - st * st / MAX(s1, 1);
    slope[i - first] = s1 >= 3 && spread > 1e-9 ? (stx - st * sx / s1) / spread : 0;
  }
  return slope;
}

struct load {
  gboolean known, ever_full;
  double threshold;
  const double *values;
};

static struct load load_of(const struct ew_series *series) {
  struct load load = {0};
  const double *throttle = ew_series_values(series, EW_CHANNEL_THROTTLE);
  if (throttle) {
    double most = ew_quantile(throttle, series->rows, 0.995);
    load = (struct load){TRUE, most >= 0.9, 0.9 * most, throttle};
    if (most > 0.3)
      return load;
  }
  const double *torque = ew_series_values(series, EW_CHANNEL_TORQUE);
  g_autofree double *known = g_new(double, series->rows + 1);
  gsize count = 0;
  for (gsize i = 0; i < series->rows; i++)
    if (!isnan(torque[i]))
      known[count++] = torque[i];
  load.values = torque;
  load.threshold = 0.35 * ew_quantile(known, count, 0.98);
  return load;
}

static gboolean loaded(const struct load *load, gsize i) {
  return load->values[i] >= load->threshold;
}

static double mean_over(const double *x, gsize first, gsize last) {
  double sum = 0;
  gsize count = 0;
  for (gsize i = first; i < last; i++)
    if (!isnan(x[i]))
      sum += x[i], count++;
  return count ? sum / (double)count : (double)NAN;
}

/* Ends the sweep at the highest speed still under load. */
static gsize sweep_end(const struct ew_series *series, const double *speed, const struct load *load,
                       gsize end) {
  gsize best = end;
  for (gsize i = end;
       i < series->rows && series->time_s[i] < series->time_s[end] + 0.6 && loaded(load, i); i++)
    if (speed[i] > speed[best])
      best = i;
  return best;
}

static void mark_counting_part(struct ew_segment *segment, const double *speed,
                               const struct ew_method *method) {
  double start = mean_over(speed, segment->first, MIN(segment->first + 5, segment->last));
  gsize i = segment->first;
  while (i < segment->last && !(speed[i] >= start + method->after_load_rpm))
    i++;
  segment->count_first = i;
  segment->low_rpm = INFINITY;
  segment->high_rpm = 0;
  for (; i < segment->last; i++) {
    segment->low_rpm = fmin(segment->low_rpm, speed[i]);
    segment->high_rpm = fmax(segment->high_rpm, speed[i]);
  }
}

static struct ew_segment *make_sweep(const struct ew_series *series, const double *speed,
                                     const double *acceleration, const struct load *load,
                                     const struct ew_method *method, gsize first, gsize last) {
  gsize end = sweep_end(series, speed, load, last - 1) + 1;
  struct ew_segment *segment = new_segment(EW_SEGMENT_SWEEP, first, end);
  mark_counting_part(segment, speed, method);
  gsize n = end - segment->count_first;
  segment->acceleration_rpm_s = n ? ew_median(acceleration + segment->count_first, n) : 0;
  segment->throttle_known = load->known;
  segment->full_throttle = load->known && load->ever_full;
  if (!load->known)
    g_ptr_array_add(segment->notes,
                    g_strdup("no throttle position: full load is judged from torque alone"));
  else if (!load->ever_full)
    g_ptr_array_add(segment->notes,
                    g_strdup("full throttle was never seen: the factor does not apply"));
  double scatter = n > 10 ? ew_quantile(acceleration + segment->count_first, n, 0.9) -
                                ew_quantile(acceleration + segment->count_first, n, 0.1)
                          : 0;
  if (scatter > 0.5 * segment->acceleration_rpm_s)
    g_ptr_array_add(segment->notes, g_strdup("the acceleration is unsteady"));
  return segment;
}

static void find_sweeps(const struct ew_series *series, const struct ew_method *method,
                        const double *speed, const double *acceleration, const struct load *load,
                        GPtrArray *found) {
  gsize n = series->rows;
  for (gsize i = 0; i < n;) {
    if (!loaded(load, i) || acceleration[i] < SWEEP_LEAST_RPM_S) {
      i++;
      continue;
    }
    gsize last = i;
    for (gsize j = i; j < n && series->time_s[j] - series->time_s[last] <= LAPSE_S; j++)
      if (loaded(load, j) && acceleration[j] >= SWEEP_LEAST_RPM_S)
        last = j;
    double rise = speed[last] - speed[i];
    if (rise >= SWEEP_LEAST_RPM && series->time_s[last] - series->time_s[i] > 1.0 &&
        last - i > 15) {
      struct ew_segment *segment =
          make_sweep(series, speed, acceleration, load, method, i, last + 1);
      if (segment->last - segment->count_first > 10)
        g_ptr_array_add(found, segment);
      else
        segment_free(segment);
    }
    i = last + 1;
  }
}

static gboolean inside_any(const GPtrArray *segments, gsize i) {
  for (guint s = 0; s < segments->len; s++) {
    const struct ew_segment *segment = g_ptr_array_index(segments, s);
    if (i >= segment->first && i < segment->last)
      return TRUE;
  }
  return FALSE;
}

static void close_steps(struct ew_segment *steps, const double *speed, const struct load *load,
                        GPtrArray *found) {
  if (steps && steps->dwells->len >= 3) {
    struct ew_dwell first = g_array_index(steps->dwells, struct ew_dwell, 0);
    struct ew_dwell last = g_array_index(steps->dwells, struct ew_dwell, steps->dwells->len - 1);
    steps->count_first = steps->first = first.first;
    steps->count_last = steps->last = last.last;
    steps->low_rpm = INFINITY;
    for (guint d = 0; d < steps->dwells->len; d++) {
      struct ew_dwell *dwell = &g_array_index(steps->dwells, struct ew_dwell, d);
      double mean = mean_over(speed, dwell->first, dwell->last);
      steps->low_rpm = fmin(steps->low_rpm, mean);
      steps->high_rpm = fmax(steps->high_rpm, mean);
    }
    steps->throttle_known = load->known;
    steps->full_throttle = load->known && load->ever_full;
    if (!load->known)
      g_ptr_array_add(steps->notes,
                      g_strdup("no throttle position: full load is judged from torque alone"));
    g_ptr_array_add(found, steps);
  } else
    segment_free(steps);
}

static void find_steps(const struct ew_series *series, const double *speed,
                       const double *acceleration, const struct load *load, GPtrArray *found) {
  gsize n = series->rows;
  struct ew_segment *steps = NULL;
  double last_speed = 0, last_time = 0;
  for (gsize i = 0; i < n;) {
    if (!loaded(load, i) || fabs(acceleration[i]) > DWELL_MOST_RPM_S || inside_any(found, i)) {
      i++;
      continue;
    }
    gsize j = i;
    while (j < n && loaded(load, j) && fabs(acceleration[j]) <= DWELL_MOST_RPM_S &&
           !inside_any(found, j))
      j++;
    if (series->time_s[j - 1] - series->time_s[i] >= DWELL_LEAST_S && j - i >= 5) {
      gsize settle = (j - i) * 2 / 5;
      struct ew_dwell dwell = {i + settle, j};
      double here = mean_over(speed, dwell.first, dwell.last);
      gboolean again = steps && (here < last_speed - 1000 || series->time_s[i] - last_time > 120);
      if (again) {
        close_steps(steps, speed, load, found);
        steps = NULL;
      }
      if (!steps) {
        steps = new_segment(EW_SEGMENT_STEPS, i, j);
        steps->dwells = g_array_new(FALSE, FALSE, sizeof(struct ew_dwell));
      }
      g_array_append_val(steps->dwells, dwell);
      last_speed = here;
      last_time = series->time_s[j - 1];
    }
    i = j;
  }
  close_steps(steps, speed, load, found);
}

static struct ew_segment *find_points(const struct ew_series *series, const double *speed,
                                      const double *torque) {
  struct ew_segment *points = new_segment(EW_SEGMENT_POINTS, 0, series->rows);
  points->low_rpm = INFINITY;
  for (gsize i = 0; i < series->rows; i++)
    if (!isnan(speed[i]) && !isnan(torque[i])) {
      points->low_rpm = fmin(points->low_rpm, speed[i]);
      points->high_rpm = fmax(points->high_rpm, speed[i]);
    }
  g_ptr_array_add(points->notes, g_strdup("a table of steady points, not a recording in time"));
  return points;
}

static int by_start(const void *a, const void *b) {
  const struct ew_segment *x = *(struct ew_segment *const *)a, *y = *(struct ew_segment *const *)b;
  return (x->first > y->first) - (x->first < y->first);
}

static gboolean has_speeds(const double *speed, gsize n) {
  gsize good = 0;
  for (gsize i = 0; i < n; i++)
    good += speed[i] > 100 && speed[i] < 30000;
  return good * 2 > n;
}

GPtrArray *ew_find_segments(const struct ew_series *series, const struct ew_method *method,
                            const char **why) {
  GPtrArray *found = g_ptr_array_new_with_free_func((GDestroyNotify)segment_free);
  const double *speed = ew_series_values(series, EW_CHANNEL_SPEED);
  const double *torque = ew_series_values(series, EW_CHANNEL_TORQUE);
  *why = NULL;
  if (!speed || !torque) {
    *why = speed    ? "no torque was recognised"
           : torque ? "no engine speed was recognised"
                    : "neither engine speed nor torque was recognised";
    return found;
  }
  if (!series->timed) {
    struct ew_segment *points = find_points(series, speed, torque);
    if (points->high_rpm > 100 && points->high_rpm > points->low_rpm && series->rows >= 3)
      g_ptr_array_add(found, points);
    else {
      segment_free(points);
      *why = "the speeds are no speeds of an engine";
    }
    return found;
  }
  if (!has_speeds(speed, series->rows)) {
    *why = "the engine hardly turns in this recording";
    return found;
  }
  struct load load = load_of(series);
  g_autofree double *acceleration = ew_acceleration_within(series, speed, 0.25, 0, series->rows);
  find_sweeps(series, method, speed, acceleration, &load, found);
  find_steps(series, speed, acceleration, &load, found);
  g_ptr_array_sort(found, by_start);
  if (found->len == 0)
    *why = "no steady acceleration over 800 rpm and no three dwells of two seconds under full load";
  return found;
}
