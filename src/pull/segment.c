/* Load of each sample is that of load.h. A sweep is a run under full load with acceleration above 40 rpm/s over at
 * least 800 rpm; rows in which load or acceleration is not known neither begin it nor end it, up to one second of
 * them; steps are those of segment_dwell.c. These limits are common practice, no source.
 *
 * No comparison in here is made with a value that may be NaN unless NaN gives the answer that the comment beside
 * it states. */
#include "base/statistics.h"
#include "pull/findings.h"
#include "pull/segment_parts.h"
#include <math.h>
#include <string.h>

#define SWEEP_LEAST_RPM_S 40.0
#define SWEEP_LEAST_RPM   800.0
#define SWEEP_LEAST_S     1.0
#define SWEEP_LEAST_ROWS  8 /* own samples of speed; of them so many count: */
#define COUNT_LEAST_ROWS  6
#define LAPSE_S           0.3 /* load or acceleration seen to be gone */
#define END_S             0.6 /* from the last row that accelerates to the highest speed under load */
#define UNKNOWN_S         1.0 /* not seen at all */
#define START_S           0.1 /* of a sweep, and five rows at most: for the speed that it starts from */

EW_MESSAGE_PUBLIC(ew_pull_no_throttle, "pull.no-throttle", EW_NOTE,
                  "no throttle position: full load is judged by torque alone");
EW_MESSAGE(throttle_missing, "pull.throttle-missing", EW_NOTE,
           "throttle position is missing for {missing} of {whole}: full load is judged by torque");
EW_MESSAGE(throttle_gaps, "pull.throttle-gaps", EW_NOTE,
           "throttle position is missing for {missing}: full load is judged by torque there");
EW_MESSAGE_PUBLIC(ew_pull_no_full_throttle, "pull.no-full-throttle", EW_CAUTION,
                  "full throttle was never reached: the factor does not apply");
EW_MESSAGE(unsteady, "pull.unsteady", EW_CAUTION, "acceleration is unsteady");
EW_MESSAGE(speed_gaps, "pull.speed-gaps", EW_CAUTION,
           "too few speeds to know the acceleration at {unknown} of {samples} samples");
EW_MESSAGE(run_too_short, "pull.run-too-short", EW_NOTE,
           "{from} to {to}, left out: a run under load with fewer than {least} samples after the "
           "first {speed}");
EW_MESSAGE(table_of_points, "pull.table-of-points", EW_NOTE,
           "a table of steady points, not a recording over time");
EW_MESSAGE(not_turning, "pull.not-turning", EW_NOTE, "the engine barely turns in this recording");
EW_MESSAGE(
    no_pull, "pull.no-pull", EW_NOTE,
    "no steady acceleration over 800 rpm, and no three dwells of two seconds, under full load");
EW_MESSAGE(no_engine_speeds, "pull.no-engine-speeds", EW_NOTE,
           "no engine speeds: fewer than three rows, or none above 100 rpm");
EW_MESSAGE(no_torque, "pull.no-torque", EW_NOTE, "no torque was recognised");
EW_MESSAGE(no_speed, "pull.no-speed", EW_NOTE, "no engine speed was recognised");
EW_MESSAGE(no_speed_no_torque, "pull.no-speed-no-torque", EW_NOTE,
           "neither engine speed nor torque was recognised");

const char *const ew_segment_kind_names[] = {"sweep", "steps", "points", NULL};

static void segment_free(struct ew_segment *segment) {
  if (!segment)
    return;
  if (segment->dwells)
    g_array_unref(segment->dwells);
  g_ptr_array_unref(segment->notes);
  g_free(segment);
}

struct ew_segment *ew_segment_new(enum ew_segment_kind kind, gsize first, gsize last) {
  g_assert(first <= last);
  struct ew_segment *segment = g_new0(struct ew_segment, 1);
  segment->kind = kind;
  segment->first = segment->count_first = first;
  segment->last = segment->count_last = last;
  segment->notes = ew_messages_new();
  return segment;
}

double ew_segment_mean(const double *x, gsize first, gsize last) {
  double sum = 0;
  gsize count = 0;
  for (gsize i = first; i < last; i++)
    if (!isnan(x[i]))
      sum += x[i], count++;
  return count ? sum / (double)count : (double)NAN;
}

static double own_step_s(const struct ew_series *series) {
  const struct ew_series_channel *speed = ew_series_find(series, EW_CHANNEL_SPEED, 0);
  return speed && speed->interval_s > 0 ? speed->interval_s : series->interval_s;
}

double *ew_acceleration_within(const struct ew_series *series, const double *speed, double half_s,
                               gsize first, gsize last) {
  g_assert(first <= last && last <= series->rows);
  double *slope = g_new0(double, MAX(last - first, 1));
  const double *t = series->time_s;
  gsize low = first, high = first;
  double s1 = 0, st = 0, sx = 0, stt = 0, stx = 0; /* running sums over the window */
  double origin = first < last ? t[first] : 0;     /* keeps the sums small */
  half_s = fmax(half_s, 2.5 * own_step_s(series)); /* NaN steps: fmax takes the other */
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
    g_assert(s1 >= 0 && low <= i && high > i);
    double spread = stt - st * st / MAX(s1, 1);
    slope[i - first] = s1 >= 3 && spread > 1e-9 ? (stx - st * sx / s1) / spread : (double)NAN;
  }
  return slope;
}

/* A line through a window of one step of speed noise s has a standard error of s sqrt(12/n)/window: the shortest of
 * 0.5, 1 and 2 s in which three of them are below what makes a sweep. The noise is that of second differences of
 * speed, which have 6 times its variance in a straight run. */
static double window_of_noise_s(const struct ew_finding *f) {
  const struct ew_series_channel *speed = ew_series_find(f->series, EW_CHANNEL_SPEED, 0);
  g_autofree double *own = g_new(double, f->series->rows + 1);
  gsize count = 0;
  for (gsize i = 0; i < f->series->rows; i++)
    if (f->loads.at[i] == EW_LOAD_ON && !isnan(f->speed[i]) &&
        !(speed->flags && (speed->flags[i] & EW_FLAG_BETWEEN)))
      own[count++] = f->speed[i];
  for (gsize i = 0; i + 2 < count; i++)
    own[i] = fabs(own[i] - 2 * own[i + 1] + own[i + 2]);
  double noise = count > 4 ? 1.4826 * ew_median(own, count - 2, EW_NONE_ABSENT) / sqrt(6) : 0;
  double window = fmax(0.5, 5 * f->speed_step_s);
  while (window < 2 && 3 * noise * sqrt(12 * f->speed_step_s / window) / window > SWEEP_LEAST_RPM_S)
    window *= 2;
  return window;
}

static gsize next_known(const double *x, gsize i, gsize last) {
  while (i < last && isnan(x[i]))
    i++;
  return i;
}

/* Of [first, last), which holds a known speed. */
static gsize last_known(const double *x, gsize first, gsize last) {
  g_assert(first < last);
  while (last > first + 1 && isnan(x[last - 1]))
    last--;
  return last - 1;
}

/* Ends the sweep at the highest speed still under load: of the rows after `end`, whose speed is known. A speed that is
 * not known is not higher. */
static gsize sweep_end(const struct ew_finding *f, gsize first, gsize end) {
  const double *t = f->series->time_s;
  gsize best = last_known(f->speed, first, end + 1);
  for (gsize i = end; i < f->series->rows && t[i] < t[end] + fmax(END_S, 4 * f->speed_step_s);
       i++) {
    if (f->loads.at[i] == EW_LOAD_OFF)
      break;
    if (f->loads.at[i] == EW_LOAD_ON && f->speed[i] > f->speed[best])
      best = i;
  }
  g_assert(best >= first && best < f->series->rows);
  return best;
}

static void mark_counting_part(struct ew_segment *segment, const struct ew_finding *f) {
  const double *t = f->series->time_s, *speed = f->speed;
  gsize i = next_known(speed, segment->first, segment->last), end = i;
  while (end < segment->last && (end == i || (end < i + 5 && t[end] < t[i] + START_S)))
    end++;
  double from = ew_segment_mean(speed, i, end) + f->method->after_load_rpm;
  while (i < segment->last && !(speed[i] >= from)) /* not known: not there yet */
    i++;
  g_assert(i >= segment->first && i <= segment->last);
  segment->count_first = i;
  segment->low_rpm = INFINITY;
  segment->high_rpm = 0;
  for (; i < segment->last; i++) { /* fmin and fmax pass by what is not known */
    segment->low_rpm = fmin(segment->low_rpm, speed[i]);
    segment->high_rpm = fmax(segment->high_rpm, speed[i]);
  }
}

static void note_throttle(struct ew_segment *segment, const struct ew_finding *f) {
  double absent_s;
  gboolean full = ew_loads_full_throttle(&f->loads, f->series, segment->count_first,
                                         segment->count_last, &absent_s);
  double whole_s =
      f->series->time_s[segment->count_last - 1] - f->series->time_s[segment->count_first];
  segment->throttle_known = f->loads.throttle && !(absent_s > 0.5 * whole_s);
  segment->full_throttle = segment->throttle_known && full;
  if (!f->loads.throttle)
    ew_messages_add(segment->notes, ew_message_plain(&ew_pull_no_throttle));
  else if (!segment->throttle_known)
    ew_messages_add(segment->notes,
                    ew_message(&throttle_missing,
                               ew_say_quantity("missing", EW_KIND_TIME, absent_s, 1),
                               ew_say_quantity("whole", EW_KIND_TIME, whole_s, 1)));
  else if (!full)
    ew_messages_add(segment->notes, ew_message_plain(&ew_pull_no_full_throttle));
  if (segment->throttle_known && absent_s > 2 * f->series->interval_s)
    ew_messages_add(
        segment->notes,
        ew_message(&throttle_gaps, ew_say_quantity("missing", EW_KIND_TIME, absent_s, 1)));
}

static void settle_acceleration(struct ew_segment *segment, const double *acceleration) {
  gsize n = segment->last - segment->count_first, absent;
  const double *a = acceleration + segment->count_first;
  segment->acceleration_rpm_s = ew_median(a, n, &absent);
  if (isnan(segment->acceleration_rpm_s))
    segment->acceleration_rpm_s = 0;
  double scatter =
      n - absent > 10 ? ew_quantile(a, n, 0.9, &absent) - ew_quantile(a, n, 0.1, &absent) : 0;
  if (scatter > 0.5 * segment->acceleration_rpm_s)
    ew_messages_add(segment->notes, ew_message_plain(&unsteady));
  if (absent * 20 > n)
    ew_messages_add(segment->notes, ew_message(&speed_gaps, ew_say_count("unknown", (gint64)absent),
                                               ew_say_count("samples", (gint64)n)));
}

/* The last row of the run that begins at i: known to be loaded and to accelerate. */
static gsize run_end(const struct ew_finding *f, const double *acceleration, gsize i) {
  const double *t = f->series->time_s;
  double lapse_s = fmax(LAPSE_S, 2.5 * f->speed_step_s);
  double unknown_s = fmax(UNKNOWN_S, 4 * f->speed_step_s);
  gsize last = i, seen_gone = 0;
  for (gsize j = i; j < f->series->rows; j++) {
    if (t[j] - t[last] > (seen_gone ? lapse_s : unknown_s))
      break; /* also where no row stands between: another run, behind a recorder that was stopped */
    gboolean known = f->loads.at[j] != EW_LOAD_UNKNOWN && !isnan(acceleration[j]);
    if (known && f->loads.at[j] == EW_LOAD_ON && acceleration[j] >= SWEEP_LEAST_RPM_S)
      last = j, seen_gone = 0;
    else if (known)
      seen_gone++;
  }
  g_assert(last >= i && last < f->series->rows);
  return last;
}

static gsize own_samples(const struct ew_finding *f, gsize first, gsize last) {
  const struct ew_series_channel *speed = ew_series_find(f->series, EW_CHANNEL_SPEED, 0);
  gsize count = 0;
  for (gsize i = first; i < last; i++)
    count += !isnan(f->speed[i]) && !(speed->flags && (speed->flags[i] & EW_FLAG_BETWEEN));
  return count;
}

/* Of the rows whose load and acceleration are known two in three accelerate: a speed that hunts does so in one. */
static gboolean keeps_rising(const struct ew_finding *f, const double *acceleration, gsize first,
                             gsize last) {
  gsize known = 0, rising = 0;
  for (gsize i = first; i <= last; i++)
    if (f->loads.at[i] == EW_LOAD_ON && !isnan(acceleration[i])) {
      known++;
      rising += acceleration[i] >= SWEEP_LEAST_RPM_S;
    }
  g_assert(rising <= known);
  return rising * 3 >= known * 2;
}

/* NULL when [first, last] is too short, or rises too little, for a sweep. */
static struct ew_segment *make_sweep(const struct ew_finding *f, const double *acceleration,
                                     gsize first, gsize last) {
  if (f->loads.by_torque_alone)
    first = ew_segment_load_up(f, first, last + 1);
  gsize low = next_known(f->speed, first, last + 1);
  if (low > last)
    return NULL;
  gsize high = last_known(f->speed, low, last + 1);
  if (f->speed[high] - f->speed[low] < SWEEP_LEAST_RPM ||
      f->series->time_s[high] - f->series->time_s[low] <= SWEEP_LEAST_S ||
      own_samples(f, first, last + 1) < SWEEP_LEAST_ROWS ||
      !keeps_rising(f, acceleration, first, last))
    return NULL;
  gsize end = ew_segment_before_drop(f, first, sweep_end(f, first, last) + 1);
  struct ew_segment *segment = ew_segment_new(EW_SEGMENT_SWEEP, first, end);
  mark_counting_part(segment, f);
  if (own_samples(f, segment->count_first, end) < COUNT_LEAST_ROWS) {
    ew_messages_add(f->left_out, ew_message(&run_too_short, EW_FROM_TO(f, first, end),
                                            ew_say_count("least", COUNT_LEAST_ROWS),
                                            ew_say_quantity("speed", EW_KIND_ROTATIONAL_SPEED,
                                                            f->method->after_load_rpm, 0)));
    segment_free(segment);
    return NULL;
  }
  settle_acceleration(segment, acceleration);
  note_throttle(segment, f);
  return segment;
}

static void find_sweeps(struct ew_finding *f) {
  gsize n = f->series->rows;
  g_autofree double *acceleration =
      ew_acceleration_within(f->series, f->speed, window_of_noise_s(f) / 2, 0, n);
  for (gsize i = 0; i < n;) {
    if (f->loads.at[i] != EW_LOAD_ON || !(acceleration[i] >= SWEEP_LEAST_RPM_S)) {
      i++; /* not known: no pull begins here */
      continue;
    }
    gsize last = run_end(f, acceleration, i);
    struct ew_segment *segment = make_sweep(f, acceleration, i, last);
    if (segment)
      g_ptr_array_add(f->found, segment);
    i = last + 1;
  }
  if (f->loads.by_torque_alone)
    ew_segment_drop_part_load(f);
}

static struct ew_segment *find_points(const struct ew_series *series, const double *speed,
                                      const double *torque) {
  struct ew_segment *points = ew_segment_new(EW_SEGMENT_POINTS, 0, series->rows);
  points->low_rpm = INFINITY;
  for (gsize i = 0; i < series->rows; i++)
    if (!isnan(speed[i]) && !isnan(torque[i])) {
      points->low_rpm = fmin(points->low_rpm, speed[i]);
      points->high_rpm = fmax(points->high_rpm, speed[i]);
    }
  ew_messages_add(points->notes, ew_message_plain(&table_of_points));
  return points;
}

static int by_start(const void *a, const void *b) {
  const struct ew_segment *x = *(struct ew_segment *const *)a, *y = *(struct ew_segment *const *)b;
  return (x->first > y->first) - (x->first < y->first);
}

/* Half of the speeds that are known are those of a running engine. */
static gboolean has_speeds(const double *speed, gsize n) {
  gsize good = 0, known = 0;
  for (gsize i = 0; i < n; i++) {
    known += !isnan(speed[i]);
    good += speed[i] > 100 && speed[i] < 30000;
  }
  return good * 2 > known;
}

static void find_timed(struct ew_finding *f, ew_message **why) {
  if (!has_speeds(f->speed, f->series->rows)) {
    *why = ew_message_plain(&not_turning);
    return;
  }
  f->loads = ew_loads_of(f->series);
  f->speed_step_s = own_step_s(f->series);
  find_sweeps(f);
  ew_segment_find_steps(f);
  g_ptr_array_sort(f->found, by_start);
  if (f->found->len == 0)
    *why = ew_segment_load_sweep(f);
  if (f->found->len == 0 && !*why)
    *why = ew_message_plain(&no_pull);
  ew_loads_clear(&f->loads);
}

static void find_untimed(struct ew_finding *f, ew_message **why) {
  *why = ew_segment_load_sweep(f);
  if (*why)
    return;
  struct ew_segment *points = find_points(f->series, f->speed, f->torque);
  if (points->high_rpm > 100 && points->high_rpm > points->low_rpm && f->series->rows >= 3) {
    g_ptr_array_add(f->found, points);
    return;
  }
  segment_free(points);
  *why = ew_message_plain(&no_engine_speeds);
}

GPtrArray *ew_find_segments(const struct ew_series *series, const struct ew_method *method,
                            GPtrArray *left_out, ew_message **why) {
  struct ew_finding f = {
      .series = series,
      .method = method,
      .speed = ew_series_values(series, EW_CHANNEL_SPEED),
      .torque = ew_series_values(series, EW_CHANNEL_TORQUE),
      .found = g_ptr_array_new_with_free_func((GDestroyNotify)segment_free),
      .left_out = left_out,
  };
  *why = NULL;
  if (!f.speed || !f.torque)
    *why = ew_message_plain(f.speed ? &no_torque : f.torque ? &no_speed : &no_speed_no_torque);
  else if (series->timed)
    find_timed(&f, why);
  else
    find_untimed(&f, why);
  return f.found;
}
