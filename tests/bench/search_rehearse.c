/* The choice of designs alone, by many seeds in a minute: figures are those that a process learned from the grid's rows has at a point, so that
 * a design costs microseconds, and the best of all is known by evolution. What holds here is yet to be seen with runs: a process that is
 * searched by processes is kinder than an engine, but it has the engine's hills, and one seed more or less is no judgement. */
#include "search/evolve.h"
#include "search/rounds.h"
#include "search/surrogate.h"
#include "search_rows.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define LEARN_MOST  1500
#define MORE        1.1 /* as search_judge.c */
#define POPULATION  200
#define GENERATIONS 150

struct rehearsal {
  int axes, wishes, goals, limits;
  struct ew_surrogate *truth[EW_FIGURES_MOST];
  struct ew_axis axis[EW_AXES_MOST];
  struct ew_goal goal[EW_GOALS_MOST];
  struct ew_limit limit[EW_FIGURES_MOST];
  double corner[EW_GOALS_MOST], whole;
};

static void figures_at(const struct rehearsal *r, const double *x, double *figure) {
  for (int k = 0; k < r->wishes; k++)
    figure[k] = ew_surrogate_mean(r->truth[k], x);
}

static double turned(const struct rehearsal *r, int goal, const double *figure) {
  double own = figure[r->goal[goal].figure];
  return r->goal[goal].more ? -own : own;
}

static double beyond(const struct rehearsal *r, const double *figure) {
  double sum = 0;
  for (int l = 0; l < r->limits; l++)
    sum += fmax(0, fmax(r->limit[l].low - figure[r->limit[l].figure],
                        figure[r->limit[l].figure] - r->limit[l].high));
  return sum;
}

static void judge(const double *point, double *goals, double *worse, gpointer data) {
  const struct rehearsal *r = data;
  double figure[EW_FIGURES_MOST];
  figures_at(r, point, figure);
  for (int g = 0; g < r->goals; g++)
    goals[g] = turned(r, g, figure);
  *worse = beyond(r, figure);
}

static gboolean run(const double *x, int n, double *figures, gboolean *sound, gpointer data,
                    GError **error) {
  const struct rehearsal *r = data;
  (void)error;
  for (int i = 0; i < n; i++) {
    figures_at(r, x + i * r->axes, figures + i * r->wishes);
    sound[i] = TRUE;
  }
  return TRUE;
}

static gboolean learn(struct rehearsal *r, const struct rows *grid) {
  int n = 0, every = MAX(1, grid->count / LEARN_MOST);
  g_autofree double *x = g_new(double, (gsize)grid->count *(gsize)r->axes);
  g_autofree double *y = g_new(double, grid->count);
  for (int k = 0; k < r->wishes; k++) {
    n = 0;
    for (int i = 0; i < grid->count && n < LEARN_MOST; i += every)
      if (grid->sound[i]) {
        memcpy(x + n * r->axes, grid->point + i * r->axes, sizeof(double) * (gsize)r->axes);
        y[n++] = grid->figure[i * r->wishes + k];
      }
    if (!(r->truth[k] = ew_surrogate_new(x, y, n, r->axes, NULL, NULL)))
      return FALSE;
  }
  printf("learned from %d designs", n);
  return TRUE;
}

/* The best of all: its corner and volume, or the one best figure; turned[n x goals] */
static void set_whole(struct rehearsal *r, const double *own, int n) {
  for (int g = 0; g < r->goals; g++) {
    double low = INFINITY, high = -INFINITY;
    for (int i = 0; i < n; i++) {
      low = fmin(low, own[i * r->goals + g]);
      high = fmax(high, own[i * r->goals + g]);
    }
    r->corner[g] = low + MORE * (high - low);
    r->whole = low;
  }
  if (r->goals > 1)
    r->whole = ew_front_volume(own, n, r->goals, r->corner);
}

static void find_truth(struct rehearsal *r) {
  g_autofree double *point = g_new(double, POPULATION *(gsize)r->axes);
  g_autofree double *figure = g_new(double, POPULATION *(gsize)r->goals);
  g_autofree double *worse = g_new(double, POPULATION);
  g_autofree double *own = g_new(double, 4 * POPULATION * (gsize)r->goals);
  int n = 0;
  for (guint64 seed = 1; seed <= 4; seed++) {
    struct ew_evolve evolve = {.dimensions = r->axes,
                               .goals = r->goals,
                               .population = POPULATION,
                               .generations = GENERATIONS,
                               .seed = seed,
                               .judge = judge,
                               .data = r};
    ew_evolve_run(&evolve, point, figure, worse);
    for (int i = 0; i < POPULATION; i++)
      if (worse[i] == 0)
        memcpy(own + n++ * r->goals, figure + i * r->goals, sizeof(double) * (gsize)r->goals);
  }
  g_autofree gboolean *member = g_new0(gboolean, MAX(n, 1));
  int kept = 0;
  ew_front_of(own, NULL, n, r->goals, member);
  for (int i = 0; i < n; i++)
    if (member[i])
      memmove(own + kept++ * r->goals, own + i * r->goals, sizeof(double) * (gsize)r->goals);
  set_whole(r, own, kept);
  printf(", best of all %.5g\n", r->goals > 1 ? r->whole : fabs(r->whole));
}

static double worth(const struct rehearsal *r, const struct ew_search_found *f, int n) {
  g_autofree double *own = g_new(double, (gsize)n *(gsize)r->goals);
  double best = INFINITY;
  int count = 0;
  for (int i = 0; i < n; i++) {
    const double *figure = f->figure + i * f->figures;
    if (beyond(r, figure) > 0)
      continue;
    for (int g = 0; g < r->goals; g++)
      own[count * r->goals + g] = turned(r, g, figure);
    best = fmin(best, own[count++ * r->goals]);
  }
  return r->goals > 1 ? ew_front_volume(own, count, r->goals, r->corner) / r->whole
                      : best - r->whole;
}

static void take_question(struct rehearsal *r, const struct ew_search_question *q) {
  *r = (struct rehearsal){
      .axes = (int)q->axes->len, .wishes = (int)q->wishes->len, .goals = q->wanted};
  ew_search_axes(q, r->axis);
  for (int k = 0; k < r->wishes; k++) {
    const struct ew_search_wish *w = &g_array_index(q->wishes, struct ew_search_wish, k);
    if (w->wanted)
      r->goal[k] = (struct ew_goal){k, w->more};
    if (isfinite(w->least) || isfinite(w->most))
      r->limit[r->limits++] = (struct ew_limit){k, w->least, w->most};
  }
}

static int by_value(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

/* One row of all seeds after n designs. */
static void say_row(int n, double *value, int seeds) {
  double mean = 0;
  for (int i = 0; i < seeds; i++)
    mean += value[i] / seeds;
  qsort(value, (size_t)seeds, sizeof *value, by_value);
  printf("  %4d: mean %.4f, median %.4f, from %.4f to %.4f", n, mean, value[seeds / 2], value[0],
         value[seeds - 1]);
  int within = 0;
  for (int i = 0; i < seeds; i++)
    within += value[i] <= 0.7;
  printf(", %d of %d within 0.7\n", within, seeds);
}

int rows_rehearse(const struct ew_search_question *question, const char *path,
                  const struct ew_search_setup *s, int seeds) {
  static const int looks[] = {40, 60, 80, 100, 200, 300};
  struct rehearsal r;
  struct rows grid;
  take_question(&r, question);
  rows_read(path, r.axes, r.wishes, &grid);
  if (grid.count < 8 || !learn(&r, &grid))
    return 2;
  find_truth(&r);
  g_autofree double *value = g_new(double, G_N_ELEMENTS(looks) * (gsize)seeds);
  int total = s->first + s->rounds * s->batch;
#pragma omp parallel for schedule(dynamic, 1)
  for (int i = 0; i < seeds; i++) {
    struct ew_search_ask ask = {.axis = r.axis,
                                .goal = r.goal,
                                .limit = r.limit,
                                .axes = r.axes,
                                .figures = r.wishes,
                                .goals = r.goals,
                                .limits = r.limits,
                                .seed = s->seed + (guint64)i,
                                .first = s->first,
                                .rounds = s->rounds,
                                .batch = s->batch,
                                .run = run,
                                .data = &r};
    struct ew_search_found found;
    if (!ew_search_run(&ask, &found, NULL))
      exit(2);
    for (gsize k = 0; k < G_N_ELEMENTS(looks) && looks[k] <= total; k++)
      value[k * (gsize)seeds + (gsize)i] = worth(&r, &found, looks[k]);
    ew_search_found_clear(&found);
  }
  for (gsize k = 0; k < G_N_ELEMENTS(looks) && looks[k] <= total; k++)
    say_row(looks[k], value + k * (gsize)seeds, seeds);
  for (int k = 0; k < r.wishes; k++)
    ew_surrogate_free(r.truth[k]);
  rows_clear(&grid);
  return 0;
}
