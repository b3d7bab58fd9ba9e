/* Steps: 1. the slope of each day, from within its groups of like pulls, drawn towards none by what the days' slopes
 * spread beyond their own uncertainty (moments; the best linear predictor of a random slope: Searle, Casella and
 * McCulloch, Variance Components, 1992, 7.2), and taken out: a comparison fits its own, so that drift left in here would
 * count twice, and drift between two starts would pass for what a stop does; 2. pooled spread within groups; 3. nested
 * components by the method of moments for unequal numbers (Searle), level by level from the finest. O(n²) in pulls of
 * history, of which there are at most 200. */
#include "judge/history.h"
#include "base/statistics.h"
#include <math.h>
#include <string.h>

const char *const ew_level_names[] = {"consecutive", "restart", "day", "remount", NULL};

EW_MESSAGE(in_a_row, "judge.level-consecutive", EW_NOTE, "back to back");
EW_MESSAGE(restarted, "judge.level-restart", EW_NOTE, "after a restart");
EW_MESSAGE(next_day, "judge.level-day", EW_NOTE, "from day to day");
EW_MESSAGE(remounted, "judge.level-remount", EW_NOTE, "after remounting");
const struct ew_message_kind *const ew_level_words[EW_LEVELS_COUNT] = {&in_a_row, &restarted,
                                                                       &next_day, &remounted};

const double ew_starting_extra[] = {0.0, 0.0033, 0.0054, 0.0057};

struct ew_spread ew_pooled_spread(const double *value, const int *group, const double *position,
                                  gsize n, gboolean remove_slope) {
  g_autofree double *y = g_new0(double, n + 1), *x = g_new0(double, n + 1);
  gsize groups = 0, known = 0;
  for (gsize i = 0; i < n; i++) {
    double sum = 0, at = 0, count = 0;
    gboolean first = TRUE;
    if (isnan(value[i]))
      continue;
    for (gsize j = 0; j < n; j++)
      if (group[j] == group[i] && !isnan(value[j])) {
        sum += value[j], at += position ? position[j] : 0, count++;
        first &= j >= i;
      }
    known++;
    groups += first;
    y[i] = value[i] - sum / count;
    x[i] = (position ? position[i] : 0) - at / count;
  }
  double xx = 0, xy = 0, yy = 0;
  for (gsize i = 0; i < n; i++) /* one that is not known is 0 in both */
    xx += x[i] * x[i], xy += x[i] * y[i], yy += y[i] * y[i];
  g_assert(groups <= known && known <= n);
  double freedom = (double)known - (double)groups;
  if (remove_slope && xx > 0 && freedom > 1) {
    yy -= xy * xy / xx;
    freedom -= 1;
  }
  struct ew_spread spread = {NAN, freedom, FALSE};
  if (freedom > 0)
    spread.sd = sqrt(fmax(yy, 0) / freedom);
  else
    spread.freedom = 0;
  return spread;
}

/* Means of the pulls that agree in kind, mounting, day (and run), with their counts. */
struct cell_mean {
  struct ew_history_pull at;
  double sum, weight; /* weight: effective number of pulls behind the mean */
  double position;    /* sum */
  double slope_left;  /* variance of the day's slope that could not be taken out */
};

static gboolean same_up_to(const struct ew_history_pull *a, const struct ew_history_pull *b,
                           enum ew_level level) {
  if (a->kind != b->kind)
    return FALSE;
  if (level == EW_LEVEL_REMOUNT)
    return TRUE; /* only the kind agrees */
  if (a->mounting != b->mounting)
    return FALSE;
  if (level == EW_LEVEL_DAY)
    return TRUE;
  if (a->day != b->day)
    return FALSE;
  return level == EW_LEVEL_RESTART ? TRUE : a->run == b->run;
}

/* Between-means variance at one level: means of the finer cells inside each coarser cell.
 * extra^2 = MS_between - (mean variance of a cell's mean), with its degrees of freedom. */
static void level_component(const struct ew_history_pull *pulls, const double *slope_left, gsize n,
                            enum ew_level level, double pull_variance, double *mean_square,
                            double *share, double *freedom) {
  g_autoptr(GArray) cells = g_array_new(FALSE, FALSE, sizeof(struct cell_mean));
  for (gsize i = 0; i < n; i++) {
    struct cell_mean *found = NULL;
    for (guint c = 0; c < cells->len && !found; c++)
      if (same_up_to(&g_array_index(cells, struct cell_mean, c).at, &pulls[i], level - 1))
        found = &g_array_index(cells, struct cell_mean, c);
    if (!found) {
      struct cell_mean cell = {.at = pulls[i], .slope_left = slope_left[i]};
      g_array_append_val(cells, cell);
      found = &g_array_index(cells, struct cell_mean, cells->len - 1);
    }
    found->sum += pulls[i].log_mean;
    found->position += pulls[i].position;
    found->weight++;
  }
  double squares = 0, inverse = 0;
  *freedom = 0;
  for (guint i = 0; i < cells->len; i++) {
    const struct cell_mean *one = &g_array_index(cells, struct cell_mean, i);
    double sum = 0, position = 0, count = 0;
    for (guint j = 0; j < cells->len; j++) {
      const struct cell_mean *other = &g_array_index(cells, struct cell_mean, j);
      if (same_up_to(&one->at, &other->at, level))
        sum += other->sum / other->weight, position += other->position / other->weight, count++;
    }
    double away = one->sum / one->weight - sum / count;
    double apart = one->position / one->weight - position / count;
    squares += away * away;
    if (level == EW_LEVEL_RESTART) /* what drift alone may have put between two runs of a day */
      squares -= apart * apart * one->slope_left;
    if (count > 1)
      inverse += 1 / one->weight;
    *freedom += count > 1 ? (count - 1) / count : 0;
  }
  gsize cells_with_fellows = 0;
  for (guint i = 0; i < cells->len; i++)
    for (guint j = 0; j < cells->len; j++)
      if (i != j && same_up_to(&g_array_index(cells, struct cell_mean, i).at,
                               &g_array_index(cells, struct cell_mean, j).at, level)) {
        cells_with_fellows++;
        break;
      }
  *mean_square = *freedom > 0.5 ? fmax(squares, 0) / *freedom : (double)NAN;
  *share = cells_with_fellows ? inverse / (double)cells_with_fellows * pull_variance : 0;
}

/* Sums of products about the means of the groups of like pulls (one kind, one run) of a day. */
struct within_day {
  double xx, xy, yy, freedom;
  double middle; /* mean position of the day */
};

/* A pull that takes part; one that is not known stays out. */
static gboolean is_known(const struct ew_history_pull *p) {
  return isfinite(p->log_mean) && isfinite(p->position);
}

static gboolean same_day(const struct ew_history_pull *a, const struct ew_history_pull *b) {
  return a->mounting == b->mounting && a->day == b->day;
}

static struct within_day within_day(const struct ew_history_pull *pulls, gsize n,
                                    const struct ew_history_pull *of) {
  struct within_day w = {0};
  double known = 0;
  for (gsize i = 0; i < n; i++) {
    double x = 0, y = 0, count = 0;
    if (!same_day(&pulls[i], of) || !is_known(&pulls[i]))
      continue;
    for (gsize j = 0; j < n; j++)
      if (same_up_to(&pulls[i], &pulls[j], EW_LEVEL_CONSECUTIVE) && is_known(&pulls[j]))
        x += pulls[j].position, y += pulls[j].log_mean, count++;
    w.middle += pulls[i].position, known++;
    x = pulls[i].position - x / count, y = pulls[i].log_mean - y / count;
    w.xx += x * x, w.xy += x * y, w.yy += y * y;
    w.freedom += 1 - 1 / count;
  }
  w.middle /= fmax(known, 1);
  return w;
}

/* A day is placed at its first pull; the others have no products. */
static void find_days(const struct ew_history_pull *pulls, gsize n, struct within_day *day) {
  for (gsize i = 0; i < n; i++) {
    gboolean first = TRUE;
    for (gsize j = 0; j < i; j++)
      first &= !same_day(&pulls[j], &pulls[i]);
    if (first)
      day[i] = within_day(pulls, n, &pulls[i]);
  }
}

/* Variance of the days' slopes beyond what scatter makes of them; *variance: of one pull about its day's slope. */
static double spread_of_slopes(const struct within_day *day, gsize n, double *variance) {
  double squares = 0, freedom = 0, explained = 0, xx = 0, days = 0;
  for (gsize i = 0; i < n; i++) {
    if (!(day[i].xx > 0))
      continue;
    double by_slope = day[i].xy * day[i].xy / day[i].xx;
    squares += fmax(day[i].yy - by_slope, 0);
    freedom += day[i].freedom - 1;
    explained += by_slope;
    xx += day[i].xx;
    days++;
  }
  *variance = freedom > 0.5 ? squares / freedom : (double)NAN;
  return (explained - days * *variance) / xx;
}

/* 1. Degrees of freedom that it cost; left: for each pull the variance of its day's slope that stays unknown. */
static double take_slopes_out(struct ew_history_pull *pulls, gsize n, double *left) {
  g_autofree struct within_day *day = g_new0(struct within_day, n + 1);
  double variance, cost = 0;
  find_days(pulls, n, day);
  double spread = spread_of_slopes(day, n, &variance);
  if (!(spread > 0)) /* nothing to see, or not known */
    return 0;
  for (gsize i = 0; i < n; i++) {
    if (!(day[i].xx > 0))
      continue;
    double share = spread / (spread + variance / day[i].xx), slope = share * day[i].xy / day[i].xx;
    cost += share;
    for (gsize j = i; j < n; j++)
      if (same_day(&pulls[j], &pulls[i])) {
        pulls[j].log_mean -= slope * (pulls[j].position - day[i].middle);
        left[j] = share * variance / day[i].xx;
      }
  }
  return cost;
}

void ew_learn_spread(const struct ew_history_pull *as_run, gsize n,
                     struct ew_spread levels[EW_LEVELS_COUNT]) {
  g_autofree struct ew_history_pull *pulls = g_memdup2(as_run, n * sizeof *pulls);
  g_autofree double *left = g_new0(double, n + 1);
  double cost = take_slopes_out(pulls, n, left);
  g_autofree double *value = g_new0(double, n + 1), *position = g_new0(double, n + 1);
  g_autofree int *group = g_new0(int, n + 1);
  for (gsize i = 0; i < n; i++) {
    value[i] = pulls[i].log_mean;
    position[i] = pulls[i].position;
    group[i] = (int)i;
    for (gsize j = 0; j < i; j++)
      if (same_up_to(&pulls[i], &pulls[j], EW_LEVEL_CONSECUTIVE)) {
        group[i] = group[j];
        break;
      }
  }
  levels[EW_LEVEL_CONSECUTIVE] = ew_pooled_spread(value, group, position, n, FALSE);
  if (levels[0].freedom > cost) {
    levels[0].sd *= sqrt(levels[0].freedom / (levels[0].freedom - cost));
    levels[0].freedom -= cost;
  }
  double variance = levels[0].sd * levels[0].sd, freedom = levels[0].freedom;
  for (int level = EW_LEVEL_RESTART; level < EW_LEVELS_COUNT; level++) {
    double mean_square, share, between;
    level_component(pulls, left, n, (enum ew_level)level, isnan(variance) ? 0 : variance,
                    &mean_square, &share, &between);
    gboolean seen = between >= 0.99 && freedom > 0;
    double extra =
        seen ? fmax(mean_square - share, 0) : ew_starting_extra[level] * ew_starting_extra[level];
    if (seen) { /* Satterthwaite for extra + variance, both estimated */
      double total = extra + variance;
      double scale = mean_square > 0 ? mean_square * mean_square / between : 0;
      double rest = (variance - share) * (variance - share) / fmax(freedom, 1);
      freedom =
          total > 0 && scale + rest > 0 ? fmax(total * total / (scale + rest), between) : freedom;
      variance = total;
    } else
      variance += extra;
    levels[level] = (struct ew_spread){sqrt(variance), freedom, !seen};
    g_assert(!(levels[level].sd < levels[level - 1].sd)); /* a longer break adds, and never takes */
  }
}
