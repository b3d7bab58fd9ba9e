/* The mean growth of lash over builds, its spread between and within them, and the interval of the next valve;
 * formulas in lash.h. A figure that needs a second build, or a second valve, is NaN without it. */
#include "build/lash.h"
#include "build/position.h"
#include "base/statistics.h"
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

struct group {
  int build, count;
  double sum, squares, mean, time_sum;
};

double ew_lash_change_m(const struct ew_lash_row *row) {
  gboolean hot = fabs(row->hot_change_m) > fabs(row->cold_change_m) || isnan(row->cold_change_m);
  return hot ? row->hot_change_m : row->cold_change_m;
}

gboolean ew_lash_stops(double change_m) {
  return fabs(change_m) > EW_LASH_STOP_M * (1 + 1e-9);
}

gboolean ew_lifters_are_hydraulic(const struct ew_engine *engine) {
  return engine->cam.lifter == EW_LIFTER_FLAT_HYDRAULIC ||
         engine->cam.lifter == EW_LIFTER_ROLLER_HYDRAULIC;
}

double ew_lash_wanted_m(const struct ew_engine *engine, int side) {
  g_assert(side == 0 || side == 1);
  double lash = (side ? &engine->exhaust : &engine->inlet)->lash_m;
  return ew_lifters_are_hydraulic(engine) || !(lash > 0) ? (double)NAN : lash;
}

/* Samples of one side by build. */
static GArray *group_by_build(const struct ew_growth_sample *s, gsize count, int side) {
  GArray *groups = g_array_new(FALSE, TRUE, sizeof(struct group));
  for (gsize i = 0; i < count; i++) {
    if (s[i].side != side || isnan(s[i].growth_m))
      continue;
    struct group *g = NULL;
    for (guint k = 0; k < groups->len && !g; k++)
      if (g_array_index(groups, struct group, k).build == s[i].build)
        g = &g_array_index(groups, struct group, k);
    if (!g) {
      struct group fresh = {.build = s[i].build};
      g_array_append_val(groups, fresh);
      g = &g_array_index(groups, struct group, groups->len - 1);
    }
    g->count++;
    g->sum += s[i].growth_m;
    g->mean = g->sum / g->count;
  }
  for (gsize i = 0; i < count; i++)
    for (guint k = 0; k < groups->len && s[i].side == side && !isnan(s[i].growth_m); k++) {
      struct group *g = &g_array_index(groups, struct group, k);
      if (g->build == s[i].build)
        g->squares += (s[i].growth_m - g->mean) * (s[i].growth_m - g->mean);
    }
  return groups;
}

static double mean_of_build(const GArray *groups, int build) {
  for (guint k = 0; k < groups->len; k++)
    if (g_array_index(groups, struct group, k).build == build)
      return g_array_index(groups, struct group, k).mean;
  return NAN;
}

/* Growth against time since shut-down, both less their build's mean, through the origin. */
static void learn_slope(struct ew_growth *g, const struct ew_growth_sample *s, gsize count,
                        int side, const GArray *groups) {
  double xx = 0, xy = 0, yy = 0;
  int n = 0;
  for (guint k = 0; k < groups->len; k++) {
    int build = g_array_index(groups, struct group, k).build, m = 0;
    double sum = 0;
    for (gsize i = 0; i < count; i++)
      if (s[i].side == side && s[i].build == build && !isnan(s[i].since_stop_s))
        sum += s[i].since_stop_s, m++;
    if (m < 2)
      continue;
    n -= 1;
    for (gsize i = 0; i < count; i++) {
      if (s[i].side != side || s[i].build != build || isnan(s[i].since_stop_s))
        continue;
      double x = s[i].since_stop_s - sum / m, y = s[i].growth_m - mean_of_build(groups, build);
      xx += x * x, xy += x * y, yy += y * y, n++;
    }
  }
  g->slope_m_s = g->slope_error_m_s = NAN;
  if (n < 5 || xx <= 0)
    return;
  g->slope_m_s = xy / xx;
  double residual = fmax(yy - xy * xy / xx, 0) / (n - 1);
  g->slope_error_m_s = gsl_cdf_tdist_Pinv(0.975, n - 1) * sqrt(residual / xx);
}

struct ew_growth ew_growth_learn(const struct ew_growth_sample *samples, gsize count, int side) {
  g_assert((side == 0 || side == 1) && (count == 0 || samples));
  struct ew_growth g = {.mean_m = NAN,
                        .between_m = NAN,
                        .within_m = NAN,
                        .low_m = NAN,
                        .high_m = NAN,
                        .slope_m_s = NAN,
                        .slope_error_m_s = NAN,
                        .few = TRUE};
  g_autoptr(GArray) groups = group_by_build(samples, count, side);
  if (groups->len == 0)
    return g;
  double *means = g_new(double, groups->len), squares = 0, inverse = 0;
  for (guint k = 0; k < groups->len; k++) {
    const struct group *one = &g_array_index(groups, struct group, k);
    means[k] = one->mean;
    squares += one->squares;
    inverse += 1.0 / one->count;
    g.valves += one->count;
  }
  int b = g.builds = (int)groups->len, free_within = g.valves - b;
  double n = b / inverse;
  g.mean_m = ew_mean(means, groups->len, EW_NONE_ABSENT);
  g.within_m = free_within > 0 ? sqrt(squares / free_within) : (double)NAN;
  g.between_m = b > 1 ? ew_standard_deviation(means, groups->len, EW_NONE_ABSENT) : (double)NAN;
  double within = isnan(g.within_m) ? 0 : g.within_m, half = NAN;
  if (b > 1)
    half = gsl_cdf_tdist_Pinv(0.975, b - 1) *
           sqrt(g.between_m * g.between_m * (1 + 1.0 / b) + within * within * (1 - 1 / n));
  else if (free_within > 0)
    half = gsl_cdf_tdist_Pinv(0.975, free_within) * within * sqrt(1 + 1.0 / g.valves);
  g.low_m = g.mean_m - half;
  g.high_m = g.mean_m + half;
  g.few = b < 4;
  g_free(means);
  learn_slope(&g, samples, count, side, groups);
  return g;
}

GArray *ew_lash_pairs(const struct ew_build *build) {
  GArray *pairs = g_array_new(FALSE, TRUE, sizeof(struct ew_lash_pair));
  const struct ew_build_lash *hot, *cold;
  EW_BUILD_EACH(build, LASH, struct ew_build_lash, hot, i) {
    if (isnan(hot->hot_m))
      continue;
    double value = hot->cold_m;
    if (isnan(value))
      EW_BUILD_EACH(build, LASH, struct ew_build_lash, cold, k)
    if (!isnan(cold->cold_m) && strcmp(cold->valve, hot->valve) == 0 &&
        g_strcmp0(cold->stage, hot->stage) == 0)
      value = cold->cold_m;
    if (isnan(value))
      continue;
    struct ew_lash_pair pair = {hot->valve,
                                hot->stage,
                                ew_build_position_side(hot->valve),
                                value,
                                hot->hot_m,
                                hot->since_stop_s,
                                hot->head_temperature_k};
    g_array_append_val(pairs, pair);
  }
  return pairs;
}

static void take(double value, const char *stage, double *first, const char **first_stage,
                 double *last, double *change) {
  if (isnan(value))
    return;
  if (isnan(*first)) {
    *first = value;
    *first_stage = stage;
  }
  *last = value;
  *change = g_strcmp0(stage, *first_stage) == 0 ? (double)NAN : value - *first;
}

static struct ew_lash_row row_of(const struct ew_build *build, const struct ew_engine *engine,
                                 const char *valve) {
  struct ew_lash_row row = {.side = ew_build_position_side(valve),
                            .cold_m = NAN,
                            .hot_m = NAN,
                            .growth_m = NAN,
                            .hot_change_m = NAN,
                            .cold_change_m = NAN,
                            .since_stop_s = NAN,
                            .head_temperature_k = NAN};
  g_strlcpy(row.valve, valve, sizeof row.valve);
  row.wanted_m = ew_lash_wanted_m(engine, row.side);
  double first_cold = NAN, first_hot = NAN;
  const char *cold_stage = NULL, *hot_stage = NULL;
  const struct ew_build_lash *lash;
  EW_BUILD_EACH(build, LASH, struct ew_build_lash, lash, i) {
    if (strcmp(lash->valve, valve) != 0)
      continue;
    take(lash->cold_m, lash->stage, &first_cold, &cold_stage, &row.cold_m, &row.cold_change_m);
    take(lash->hot_m, lash->stage, &first_hot, &hot_stage, &row.hot_m, &row.hot_change_m);
    if (!isnan(lash->hot_m)) {
      row.since_stop_s = lash->since_stop_s;
      row.head_temperature_k = lash->head_temperature_k;
    }
  }
  return row;
}

GArray *ew_lash_rows(const struct ew_build *build, const struct ew_engine *engine) {
  GArray *rows = g_array_new(FALSE, TRUE, sizeof(struct ew_lash_row));
  g_autoptr(GPtrArray) valves = ew_build_positions(engine, EW_BY_VALVE, 0);
  g_autoptr(GArray) pairs = ew_lash_pairs(build);
  for (guint i = 0; i < valves->len; i++) {
    struct ew_lash_row row = row_of(build, engine, valves->pdata[i]);
    for (guint k = 0; k < pairs->len; k++) {
      const struct ew_lash_pair *pair = &g_array_index(pairs, struct ew_lash_pair, k);
      if (strcmp(pair->valve, row.valve) == 0)
        row.growth_m = pair->hot_m - pair->cold_m;
    }
    g_array_append_val(rows, row);
  }
  return rows;
}
