/* Pooled spread within groups, and nested components by the method of moments for unequal numbers (Searle), level by
 * level from the finest. O(n²) in pulls of history, of which there are at most 200. */
#include "judge/history.h"
#include "base/statistics.h"
#include <math.h>
#include <string.h>

const char *const ew_level_names[] = {"consecutive", "restart", "day", "remount", NULL};
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
  for (gsize i = 0; i < n; i++) /* one that is not known stands at 0 in both */
    xx += x[i] * x[i], xy += x[i] * y[i], yy += y[i] * y[i];
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
static void level_component(const struct ew_history_pull *pulls, gsize n, enum ew_level level,
                            double pull_variance, double *mean_square, double *share,
                            double *freedom) {
  g_autoptr(GArray) cells = g_array_new(FALSE, FALSE, sizeof(struct cell_mean));
  for (gsize i = 0; i < n; i++) {
    struct cell_mean *found = NULL;
    for (guint c = 0; c < cells->len && !found; c++)
      if (same_up_to(&g_array_index(cells, struct cell_mean, c).at, &pulls[i], level - 1))
        found = &g_array_index(cells, struct cell_mean, c);
    if (!found) {
      struct cell_mean cell = {pulls[i], 0, 0};
      g_array_append_val(cells, cell);
      found = &g_array_index(cells, struct cell_mean, cells->len - 1);
    }
    found->sum += pulls[i].log_mean;
    found->weight++;
  }
  double squares = 0, inverse = 0;
  *freedom = 0;
  for (guint i = 0; i < cells->len; i++) {
    const struct cell_mean *one = &g_array_index(cells, struct cell_mean, i);
    double sum = 0, count = 0;
    for (guint j = 0; j < cells->len; j++) {
      const struct cell_mean *other = &g_array_index(cells, struct cell_mean, j);
      if (same_up_to(&one->at, &other->at, level))
        sum += other->sum / other->weight, count++;
    }
    double away = one->sum / one->weight - sum / count;
    squares += away * away;
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
  *mean_square = *freedom > 0.5 ? squares / *freedom : (double)NAN;
  *share = cells_with_fellows ? inverse / (double)cells_with_fellows * pull_variance : 0;
}

void ew_learn_spread(const struct ew_history_pull *pulls, gsize n,
                     struct ew_spread levels[EW_LEVELS_COUNT]) {
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
  double variance = levels[0].sd * levels[0].sd, freedom = levels[0].freedom;
  for (int level = EW_LEVEL_RESTART; level < EW_LEVELS_COUNT; level++) {
    double mean_square, share, between;
    level_component(pulls, n, (enum ew_level)level, isnan(variance) ? 0 : variance, &mean_square,
                    &share, &between);
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
