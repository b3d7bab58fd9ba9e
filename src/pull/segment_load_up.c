/* Load without a throttle position: a run at part load looks like a pull, and load comes on and is dropped where torque
 * jumps. Each guess is said. The shares and times are common practice, no source. */
#include "base/statistics.h"
#include "pull/segment_parts.h"
#include <math.h>

EW_MESSAGE(load_on, "pull.load-on", EW_NOTE,
           "{at}: torque jumps from {low} to {high} near {speed}: taken for load coming on, as no "
           "throttle is recorded");
EW_MESSAGE(load_dropped, "pull.load-dropped", EW_NOTE,
           "{from} to {to}: torque falls away at the end of a pull: taken for load being dropped, "
           "as no throttle is recorded");
EW_MESSAGE(part_load_run, "pull.part-load-run", EW_NOTE,
           "{from} to {to}, left out: a run from {low} to {high} at {share} of the highest torque, "
           "taken for part load, as no throttle is recorded");

#define JUMP_OF_MOST  0.30 /* torque that comes on at once, of the most */
#define PART_OF_MOST  0.55 /* a run that never passes this is at part load */
#define SAME_TORQUE   0.80
#define LEVEL_S       0.3  /* a level before and after a jump, */
#define JUMP_S        0.15 /* and what the jump takes */
#define DROP_SHARE    0.15
#define DROP_SIGMAS   3.0
#define BEFORE_DROP_S 1.5 /* the line that torque follows: from so long before the end */
#define FLANK_S       0.5 /* to so long before it */

/* Mean of the known torque in rows [first, last), cut to the run. */
static double level(const double *torque, gsize low, gsize high, gssize first, gssize last) {
  gsize from = (gsize)CLAMP(first, (gssize)low, (gssize)high);
  gsize to = (gsize)CLAMP(last, (gssize)low, (gssize)high);
  return ew_segment_mean(torque, from, MAX(from, to));
}

gsize ew_segment_load_up(const struct ew_finding *f, gsize first, gsize last) {
  gssize rows = (gssize)fmax(lround(LEVEL_S / f->series->interval_s), 1);
  gssize jump = (gssize)fmax(lround(JUMP_S / f->series->interval_s), 1);
  double most = f->loads.most_torque_n_m, best = JUMP_OF_MOST * most, low = NAN, high = NAN;
  gsize at = first;
  for (gsize i = first + 1; i + 1 < last; i++) {
    gssize j = (gssize)i;
    double before = level(f->torque, first, last, j - rows, j);
    double after = level(f->torque, first, last, j + jump, j + jump + rows);
    if (after - before > best && before < 0.6 * most) /* not known: no jump */
      best = after - before, at = i, low = before, high = after;
  }
  if (at == first)
    return first;
  while (at + 1 < last && !(f->torque[at] >= 0.9 * high))
    at++;
  ew_messages_add(f->left_out,
                  ew_message(&load_on,
                             ew_say_quantity("at", EW_KIND_TIME, f->series->time_s[at], 1),
                             ew_say_quantity("low", EW_KIND_TORQUE, low, 0),
                             ew_say_quantity("high", EW_KIND_TORQUE, high, 0),
                             ew_say_quantity("speed", EW_KIND_ROTATIONAL_SPEED, f->speed[at], 0)));
  return at;
}

struct line {
  double level, slope, spread; /* at t = 0 */
};

static gboolean line_before(const struct ew_finding *f, gsize first, gsize last,
                            struct line *line) {
  g_assert(last > first);
  const double *t = f->series->time_s;
  double end = t[last - 1];
  g_autofree double *design = g_new(double, 2 * (last - first)), *y = g_new(double, last - first);
  gsize count = 0;
  for (gsize i = first; i < last && t[i] <= end - FLANK_S; i++)
    if (t[i] >= end - BEFORE_DROP_S && !isnan(f->torque[i])) {
      design[2 * count] = 1;
      design[2 * count + 1] = t[i] - end;
      y[count++] = f->torque[i];
    }
  struct ew_fit fit;
  if (count < 4 || !ew_fit_linear(design, y, count, 2, &fit, NULL))
    return FALSE;
  *line = (struct line){fit.coefficient[0], fit.coefficient[1], fit.residual_sd};
  return TRUE;
}

gsize ew_segment_before_drop(const struct ew_finding *f, gsize first, gsize last) {
  g_assert(last > 0);
  const double *t = f->series->time_s, *torque = f->torque;
  struct line line;
  if (f->loads.throttle && !isnan(f->loads.throttle[last - 1]))
    return last; /* throttle says how long load was on */
  if (!line_before(f, first, last, &line) || !(line.level > 0))
    return last;
  gsize end = last;
  double away = fmax(DROP_SHARE * line.level, 2 * DROP_SIGMAS * line.spread);
  for (gsize i = last; i > first + 1 && t[i - 1] > t[last - 1] - FLANK_S; i--)
    if (torque[i - 1] < line.level + line.slope * (t[i - 1] - t[last - 1]) - away)
      end = i - 1; /* the earliest row of the flank that is clear of the noise */
  if (end == last)
    return last;
  while (end > first + 1 && torque[end - 1] < line.level + line.slope * (t[end - 1] - t[last - 1]) -
                                                  DROP_SIGMAS * line.spread)
    end--;
  if (t[last - 1] - t[end - 1] > LEVEL_S)
    ew_messages_add(f->left_out, ew_message(&load_dropped, EW_FROM_TO(f, end - 1, last)));
  return end;
}

static double torque_between(const struct ew_finding *f, const struct ew_segment *s, double low,
                             double high) {
  double sum = 0, count = 0;
  for (gsize i = s->count_first; i < s->count_last; i++)
    if (f->speed[i] >= low && f->speed[i] <= high && !isnan(f->torque[i]))
      sum += f->torque[i], count++;
  return count > 0 ? sum / count : (double)NAN;
}

static double of_most(const struct ew_finding *f, const struct ew_segment *s) {
  gsize absent;
  return ew_quantile(f->torque + s->count_first, s->count_last - s->count_first, 0.9, &absent) /
         f->loads.most_torque_n_m;
}

/* Does a pull at full load give as little torque at the speeds that both have? Then this one is at full load too. */
static gboolean has_fellow(const struct ew_finding *f, const struct ew_segment *s) {
  for (guint k = 0; k < f->found->len; k++) {
    const struct ew_segment *other = g_ptr_array_index(f->found, k);
    double low = fmax(s->low_rpm, other->low_rpm), high = fmin(s->high_rpm, other->high_rpm);
    if (other != s && of_most(f, other) >= PART_OF_MOST &&
        torque_between(f, s, low, high) >= SAME_TORQUE * torque_between(f, other, low, high))
      return TRUE;
  }
  return FALSE;
}

void ew_segment_drop_part_load(struct ew_finding *f) {
  for (guint k = f->found->len; k-- > 0;) {
    const struct ew_segment *s = g_ptr_array_index(f->found, k);
    double share = of_most(f, s);
    if (!(share < PART_OF_MOST) || has_fellow(f, s))
      continue;
    ew_messages_add(f->left_out,
                    ew_message(&part_load_run, EW_FROM_TO(f, s->first, s->last),
                               ew_say_quantity("low", EW_KIND_ROTATIONAL_SPEED, s->low_rpm, 0),
                               ew_say_quantity("high", EW_KIND_ROTATIONAL_SPEED, s->high_rpm, 0),
                               ew_say_share("share", share, 0)));
    g_ptr_array_remove_index(f->found, k);
  }
}
