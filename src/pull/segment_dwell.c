/* Dwells of a step test, in a speed that a brake hunts about.
 *
 * 1. Straight lines through all windows of one length: where one moves by less than 25 rpm/s, every row of the
 *    window is steady. The rows that some steady window covers make runs.
 * 2. A run is cut at both ends to where speed stays within three deviations (1.4826 MAD) of the line of its middle.
 * 3. Neighbouring runs of one level with only samples of that level between them are one.
 * 4. A run is a dwell when it lasts two seconds and its own line moves by less than 25 rpm/s within two standard
 *    errors, for noise that is first-order autoregressive. The last three fifths of it count.
 * Which length of window tells steady from moving depends on noise and hunting, which differ from cell to cell: a
 * short one is fooled by scatter (a line through 0.5 s of white noise of 15 rpm at 10 Hz has a standard error of
 * 47 rpm/s), a long one does not fit into a short dwell. So 0.5, 1, 2 and 3 s are all tried, and the length that
 * finds the most dwells, then clearly longer ones, is taken, else the shorter.
 * 25 rpm/s and two seconds: common practice, no source; the rest is our own construction, tested with scatter of up
 * to 15 rpm, white and slow, at 5 to 100 Hz in tests/unit/pull/test_dwells.c. O(rows) a length. */
#include "base/statistics.h"
#include "pull/findings.h"
#include "pull/segment_parts.h"
#include "pull/smooth.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

EW_MESSAGE(creeping, "pull.creeping", EW_NOTE,
           "{from} to {to}, left out: near {speed} under load, but speed moves by {slope}; a dwell "
           "stays within {most}");
EW_MESSAGE(short_dwell, "pull.short-dwell", EW_NOTE,
           "{from} to {to}, left out: steady near {speed} under load for {length}; a dwell lasts "
           "{least}");
EW_MESSAGE(part_load_dwell, "pull.part-load-dwell", EW_NOTE,
           "{from} to {to}, left out: {speed} with {torque} is part load; another dwell at this "
           "speed has {best}");
EW_MESSAGE(scatter, "pull.speed-scatter", EW_NOTE,
           "speed scatters by up to {most} within a dwell, most at {speed}");
EW_MESSAGE_MANY(too_few_speeds, "pull.too-few-speeds", EW_NOTE,
                "{from} to {to}, left out: a dwell near {speed} under load; a step test has three "
                "speeds or more, and here is {speeds}",
                "{from} to {to}, left out: a dwell near {speed} under load; a step test has three "
                "speeds or more, and here are {speeds}");
EW_MESSAGE_MANY(
    load_sweep, "pull.load-sweep", EW_NOTE,
    "a load sweep at one speed: {loads} load from {least} to {most} at {speed}; a curve "
    "over speed needs three speeds or more",
    "a load sweep at one speed: {loads} loads from {least} to {most} at {speed}; a curve "
    "over speed needs three speeds or more");

#define RPM(name, rpm) ew_say_quantity(name, EW_KIND_ROTATIONAL_SPEED, rpm, 0)

#define MOST_RPM_S    25.0
#define LEAST_S       2.0
#define LEAST_ROWS    5
#define NEAR_RPM      10.0 /* nobody's brake holds better than this */
#define TRIMS         20
#define TOLD_S        0.7 /* what is steady for less is a turning point */
#define UNKNOWN_S     1.0
#define TEST_REST_S   120.0
#define TEST_FALL_RPM 1000.0
#define SAME_SPEED    0.03 /* speeds of one dwell, of its speed */
#define PART_LOAD     0.85

static const double windows_s[] = {0.5, 1, 2, 3};

struct run {
  gsize first, last;       /* [first, last) */
  double level, slope, sd; /* of its own line: at its middle, rpm/s, about it */
  double slope_se, middle_s;
};

struct steady {
  const struct ew_finding *f;
  const guint8 *free; /* rows that may belong to a dwell */
  GArray *runs;       /* struct run; dwells first judged by is_dwell */
};

/* Straight line through the known speeds of the run; FALSE of fewer than three. */
static gboolean fit_run(const struct ew_finding *f, struct run *r) {
  const double *t = f->series->time_s, *x = f->speed;
  double n = 0, st = 0, sx = 0, stt = 0, stx = 0, origin = t[r->first];
  for (gsize i = r->first; i < r->last; i++)
    if (!isnan(x[i]))
      n++, st += t[i] - origin, sx += x[i];
  if (n < 3)
    return FALSE;
  double mean_t = st / n, mean_x = sx / n;
  for (gsize i = r->first; i < r->last; i++)
    if (!isnan(x[i])) {
      double u = t[i] - origin - mean_t;
      stt += u * u, stx += u * (x[i] - mean_x);
    }
  r->middle_s = origin + mean_t;
  r->level = mean_x;
  r->slope = stt > 0 ? stx / stt : 0;
  g_autofree double *residual = g_new(double, r->last - r->first),
                    *size = g_new(double, r->last - r->first);
  gsize count = 0;
  double squares = 0;
  for (gsize i = r->first; i < r->last; i++)
    if (!isnan(x[i])) {
      residual[count] = x[i] - r->level - r->slope * (t[i] - r->middle_s);
      size[count] = fabs(residual[count]);
      squares += residual[count] * residual[count];
      count++;
    }
  double rho = ew_residual_correlation(residual, count);
  r->sd = 1.4826 * ew_median(size, count, EW_NONE_ABSENT);
  r->slope_se = stt > 0 ? sqrt(squares / fmax(n - 2, 1) / stt * (1 + rho) / (1 - rho)) : INFINITY;
  return TRUE;
}

static double line_at(const struct run *r, double time_s) {
  return r->level + r->slope * (time_s - r->middle_s);
}

/* 1. Marks the rows of every steady window of this length. */
static void mark_steady(const struct ew_finding *f, const guint8 *free, double window_s,
                        guint8 *steady) {
  const double *t = f->series->time_s, *x = f->speed;
  gsize n = f->series->rows, end = 0, marked = 0;
  double s1 = 0, st = 0, sx = 0, stt = 0, stx = 0, origin = 0;
  for (gsize a = 0; a < n; a++) {
    if (end <= a) {
      end = a, origin = t[a];
      s1 = st = sx = stt = stx = 0;
    }
    for (; end < n && free[end] && t[end] < t[a] + window_s + 1e-9; end++)
      if (!isnan(x[end])) {
        double u = t[end] - origin;
        s1++, st += u, sx += x[end], stt += u * u, stx += u * x[end];
      }
    gboolean whole = end > a && t[end - 1] - t[a] >= window_s - 1.5 * f->series->interval_s;
    double spread = stt - st * st / fmax(s1, 1);
    if (whole && s1 >= 4 && spread > 1e-9 && fabs((stx - st * sx / s1) / spread) <= MOST_RPM_S)
      for (gsize i = MAX(marked, a); i < end; i++)
        steady[i] = 1, marked = i + 1;
    if (end > a && !isnan(x[a])) {
      double u = t[a] - origin;
      s1--, st -= u, sx -= x[a], stt -= u * u, stx -= u * x[a];
    }
  }
}

/* The middle three fifths, whose line is not tilted by what is to be cut from the ends. */
static struct run middle_of(const struct run *r) {
  gsize fifth = (r->last - r->first) / 5;
  return (struct run){.first = r->first + fifth, .last = r->last - fifth};
}

/* 2. Until nothing is cut any more. */
static gboolean trim(const struct ew_finding *f, struct run *r) {
  const double *t = f->series->time_s, *x = f->speed;
  for (int round = 0; round < TRIMS; round++) {
    struct run middle = middle_of(r);
    if (!fit_run(f, &middle))
      return FALSE;
    gsize before = r->last - r->first;
    double away = fmax(3 * middle.sd, NEAR_RPM);
    while (r->last > middle.last &&
           !(fabs(x[r->last - 1] - line_at(&middle, t[r->last - 1])) <= away))
      r->last--; /* a speed that is not known ends no dwell */
    while (r->first < middle.first && !(fabs(x[r->first] - line_at(&middle, t[r->first])) <= away))
      r->first++;
    if (r->last - r->first == before)
      break;
  }
  return fit_run(f, r);
}

/* 3 */
static gboolean one_level(const struct steady *s, const struct run *a, const struct run *b) {
  const double *t = s->f->series->time_s, *x = s->f->speed;
  double away = fmax(4 * fmax(a->sd, b->sd), 2 * NEAR_RPM), level = (a->level + b->level) / 2;
  if (fabs(a->level - b->level) > away || t[b->first] - t[a->last - 1] > LEAST_S)
    return FALSE;
  for (gsize i = a->last; i < b->first; i++)
    if (!s->free[i] || fabs(x[i] - level) > away) /* not known: not away */
      return FALSE;
  return TRUE;
}

static void collect_runs(struct steady *s, const guint8 *steady) {
  gsize n = s->f->series->rows;
  for (gsize i = 0; i < n;) {
    if (!steady[i]) {
      i++;
      continue;
    }
    struct run r = {.first = i};
    while (i < n && steady[i])
      i++;
    r.last = i;
    if (!trim(s->f, &r))
      continue;
    struct run *before =
        s->runs->len ? &g_array_index(s->runs, struct run, s->runs->len - 1) : NULL;
    if (before && one_level(s, before, &r)) {
      before->last = r.last;
      fit_run(s->f, before);
    } else
      g_array_append_val(s->runs, r);
  }
}

static double length_s(const struct ew_finding *f, const struct run *r) {
  return f->series->time_s[r->last - 1] - f->series->time_s[r->first] + f->speed_step_s;
}

/* 4 */
static gboolean creeps(const struct run *r) {
  return fabs(r->slope) - 2 * r->slope_se > MOST_RPM_S;
}

static gboolean is_dwell(const struct ew_finding *f, const struct run *r) {
  return length_s(f, r) >= LEAST_S - 1e-6 && r->last - r->first >= LEAST_ROWS && !creeps(r);
}

static GArray *runs_with(const struct ew_finding *f, const guint8 *free, double window_s) {
  struct steady s = {f, free, g_array_new(FALSE, FALSE, sizeof(struct run))};
  g_autofree guint8 *steady = g_new0(guint8, MAX(f->series->rows, 1));
  mark_steady(f, free, window_s, steady);
  collect_runs(&s, steady);
  return s.runs;
}

static GArray *best_runs(const struct ew_finding *f, const guint8 *free) {
  GArray *best = NULL;
  guint most = 0;
  double longest = 0;
  for (gsize k = 0; k < G_N_ELEMENTS(windows_s); k++) {
    GArray *runs = runs_with(f, free, windows_s[k]);
    guint count = 0;
    double whole = 0;
    for (guint i = 0; i < runs->len; i++) {
      const struct run *r = &g_array_index(runs, struct run, i);
      if (is_dwell(f, r))
        count++, whole += length_s(f, r);
    }
    if (!best || count > most || (count == most && whole > 1.2 * longest)) {
      if (best)
        g_array_unref(best);
      best = runs, most = count, longest = whole;
    } else
      g_array_unref(runs);
  }
  return best;
}

static void tell_left_out(const struct ew_finding *f, const struct run *r) {
  if (creeps(r) && length_s(f, r) >= LEAST_S)
    ew_messages_add(
        f->left_out,
        ew_message(&creeping, EW_FROM_TO(f, r->first, r->last), RPM("speed", r->level),
                   ew_say_change("slope", EW_KIND_ROTATIONAL_ACCELERATION, r->slope, 0),
                   ew_say_quantity("most", EW_KIND_ROTATIONAL_ACCELERATION, MOST_RPM_S, 0)));
  else if (length_s(f, r) >= TOLD_S)
    ew_messages_add(f->left_out,
                    ew_message(&short_dwell, EW_FROM_TO(f, r->first, r->last),
                               RPM("speed", r->level),
                               ew_say_quantity("length", EW_KIND_TIME, length_s(f, r), 1),
                               ew_say_quantity("least", EW_KIND_TIME, LEAST_S, 0)));
}

/* Does a dwell go on with the step test of those before it? */
static gboolean belongs(const struct ew_finding *f, const GArray *dwells, const struct run *r) {
  const struct run *last = &g_array_index(dwells, struct run, dwells->len - 1);
  return r->level >= last->level - TEST_FALL_RPM &&
         f->series->time_s[r->first] - f->series->time_s[last->last - 1] <= TEST_REST_S;
}

static struct ew_dwell counting_part(const struct run *r) {
  return (struct ew_dwell){r->first + (r->last - r->first) * 2 / 5, r->last};
}

/* Of dwells at one speed, those at clearly less torque than the best are at part load. */
static void drop_part_load(const struct ew_finding *f, GArray *dwells) {
  for (guint i = dwells->len; i-- > 0;) {
    const struct run *r = &g_array_index(dwells, struct run, i);
    struct ew_dwell d = counting_part(r);
    double here = ew_segment_mean(f->torque, d.first, d.last), best = here;
    for (guint k = 0; k < dwells->len; k++) {
      const struct run *other = &g_array_index(dwells, struct run, k);
      struct ew_dwell o = counting_part(other);
      if (fabs(other->level - r->level) <= SAME_SPEED * r->level)
        best = fmax(best, ew_segment_mean(f->torque, o.first, o.last));
    }
    if (here < PART_LOAD * best) {
      ew_messages_add(f->left_out, ew_message(&part_load_dwell, EW_FROM_TO(f, r->first, r->last),
                                              RPM("speed", r->level),
                                              ew_say_quantity("torque", EW_KIND_TORQUE, here, 0),
                                              ew_say_quantity("best", EW_KIND_TORQUE, best, 0)));
      g_array_remove_index(dwells, i);
    }
  }
}

static guint different_speeds(const GArray *dwells) {
  guint different = 0;
  for (guint i = 0; i < dwells->len; i++) {
    gboolean seen = FALSE;
    for (guint k = 0; k < i; k++)
      seen |= fabs(g_array_index(dwells, struct run, i).level -
                   g_array_index(dwells, struct run, k).level) <=
              SAME_SPEED * g_array_index(dwells, struct run, i).level;
    different += !seen;
  }
  return different;
}

static void note_test(struct ew_segment *steps, const struct ew_finding *f, const GArray *dwells) {
  gsize unknown = 0;
  double widest = 0, where = 0;
  gboolean full = TRUE;
  for (guint d = 0; d < steps->dwells->len; d++) {
    struct ew_dwell dwell = g_array_index(steps->dwells, struct ew_dwell, d);
    double absent_s;
    gboolean here =
        ew_loads_full_throttle(&f->loads, f->series, dwell.first, dwell.last, &absent_s);
    unknown +=
        absent_s > 0.5 * (f->series->time_s[dwell.last - 1] - f->series->time_s[dwell.first]);
    full &= here;
    const struct run *r = &g_array_index(dwells, struct run, d);
    if (r->sd > widest)
      widest = r->sd, where = r->level;
  }
  if (widest > 1.5 * NEAR_RPM)
    ew_messages_add(steps->notes, ew_message(&scatter, RPM("most", widest), RPM("speed", where)));
  steps->throttle_known = f->loads.throttle && unknown == 0;
  steps->full_throttle = steps->throttle_known && full;
  if (!steps->throttle_known)
    ew_messages_add(steps->notes, ew_message_plain(&ew_pull_no_throttle));
}

static void close_test(struct ew_finding *f, GArray *dwells) {
  drop_part_load(f, dwells);
  guint different = different_speeds(dwells);
  for (guint i = 0; different < 3 && i < dwells->len; i++) {
    const struct run *r = &g_array_index(dwells, struct run, i);
    ew_messages_add(f->left_out,
                    ew_message(&too_few_speeds, EW_FROM_TO(f, r->first, r->last),
                               RPM("speed", r->level), ew_say_count("speeds", different)));
  }
  if (different < 3)
    return;
  struct ew_segment *steps = ew_segment_new(EW_SEGMENT_STEPS, 0, 0);
  steps->dwells = g_array_new(FALSE, FALSE, sizeof(struct ew_dwell));
  steps->low_rpm = INFINITY;
  for (guint i = 0; i < dwells->len; i++) {
    struct ew_dwell dwell = counting_part(&g_array_index(dwells, struct run, i));
    g_array_append_val(steps->dwells, dwell);
    double mean = ew_segment_mean(f->speed, dwell.first, dwell.last);
    steps->low_rpm = fmin(steps->low_rpm, mean);
    steps->high_rpm = fmax(steps->high_rpm, mean);
  }
  steps->count_first = steps->first = g_array_index(steps->dwells, struct ew_dwell, 0).first;
  steps->count_last = steps->last =
      g_array_index(steps->dwells, struct ew_dwell, steps->dwells->len - 1).last;
  note_test(steps, f, dwells);
  g_ptr_array_add(f->found, steps);
}

/* Rows under load, outside sweeps; a hole of up to a second in what tells load ends nothing, one in the clock does. */
static guint8 *rows_under_load(const struct ew_finding *f) {
  const double *t = f->series->time_s;
  gsize n = f->series->rows;
  double on_s = -INFINITY, longest_s = fmax(UNKNOWN_S, 5 * f->series->interval_s);
  guint8 *free = g_new0(guint8, MAX(n, 1));
  for (gsize i = 0; i < n; i++) {
    if (f->loads.at[i] == EW_LOAD_ON)
      on_s = t[i];
    free[i] = f->loads.at[i] != EW_LOAD_OFF && t[i] - on_s <= UNKNOWN_S &&
              (i == 0 || t[i] - t[i - 1] <= longest_s);
  }
  for (guint k = 0; k < f->found->len; k++) {
    const struct ew_segment *sweep = g_ptr_array_index(f->found, k);
    memset(free + sweep->first, 0, sweep->last - sweep->first);
  }
  return free;
}

void ew_segment_find_steps(struct ew_finding *f) {
  g_autofree guint8 *free = rows_under_load(f);
  g_autoptr(GArray) runs = best_runs(f, free);
  g_autoptr(GArray) dwells = g_array_new(FALSE, FALSE, sizeof(struct run));
  for (guint i = 0; i < runs->len; i++) {
    const struct run *r = &g_array_index(runs, struct run, i);
    if (!is_dwell(f, r)) {
      tell_left_out(f, r);
      continue;
    }
    if (dwells->len && !belongs(f, dwells, r)) {
      close_test(f, dwells);
      g_array_set_size(dwells, 0);
    }
    g_array_append_val(dwells, *r);
  }
  close_test(f, dwells);
}

static int ascending(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

/* Levels of the known torque, from the lowest up: a tenth of the highest apart, with a twentieth of the samples each. */
static gsize count_levels(const double *torque, gsize n, double *lowest, double *highest) {
  g_autofree double *known = g_new(double, MAX(n, 1));
  gsize count = 0, levels = 0;
  for (gsize i = 0; i < n; i++)
    if (!isnan(torque[i]))
      known[count++] = torque[i];
  qsort(known, count, sizeof *known, ascending);
  double apart = count ? 0.1 * known[count - 1 - count / 50] : 0;
  for (gsize i = 0, j = 0; i < count; i = j) {
    while (j < count && known[j] <= known[i] + apart)
      j++;
    if ((j - i) * 20 < count)
      continue;
    *highest = known[i + (j - i) / 2];
    *lowest = levels++ ? *lowest : *highest;
  }
  return levels;
}

ew_message *ew_segment_load_sweep(const struct ew_finding *f) {
  gsize n = f->series->rows, absent;
  double middle = ew_median(f->speed, n, &absent), least = NAN, most = NAN;
  double low = ew_quantile(f->speed, n, 0.02, &absent),
         high = ew_quantile(f->speed, n, 0.98, &absent);
  gboolean one_speed = middle > 100 && high - low <= 2 * SAME_SPEED * middle; /* not known: no */
  gsize levels = one_speed ? count_levels(f->torque, n, &least, &most) : 0;
  if (levels < 2)
    return NULL;
  return ew_message(&load_sweep, ew_say_count("loads", (gint64)levels),
                    ew_say_quantity("least", EW_KIND_TORQUE, least, 0),
                    ew_say_quantity("most", EW_KIND_TORQUE, most, 0), RPM("speed", middle));
}
