/* What is run next: of the candidates that an evolution on the surrogates' means finds, the ones that add most to the volume of the
 * front, times the chance that they are within the limits; one after the other, each counting with its mean for those after it
 * (sources: rounds.h).
 *
 * Costs: an evolution asks for GENERATIONS x POPULATION means, each linear in the designs that were learned from; taking a batch of m
 * measures POPULATION volumes for each of its m places. */
#include "search/evolve.h"
#include "search/rounds_parts.h"
#include "search/space.h"
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

#define POPULATION  80
#define GENERATIONS 60

/* What evolution is asked with: means alone. */
static void judge(const double *point, double *figure, double *worse, gpointer data) {
  const struct ew_rounds *s = data;
  double snapped[EW_AXES_MOST], means[EW_FIGURES_MOST];
  ew_axes_snap(s->ask->axis, s->ask->axes, point, snapped);
  for (int k = 0; k < s->ask->figures; k++) {
    means[k] = 0;
    ew_rounds_believe(s->ask, s->found, snapped, k, &means[k], NULL);
  }
  for (int g = 0; g < s->ask->goals; g++)
    figure[g] = ew_goal_turned(&s->ask->goal[g], means[s->ask->goal[g].figure]);
  *worse = ew_rounds_beyond(s, means);
  if (!ew_rounds_may_be(s, snapped))
    *worse += 10; /* ten spans beyond: worse than any that may be built */
}

struct promise {
  double point[EW_AXES_MOST];
  double mean[EW_GOALS_MOST], hopeful[EW_GOALS_MOST]; /* turned */
  double chance;                                      /* of being within the limits */
};

static double chance_within(const struct ew_rounds *s, const double *point) {
  double chance = 1;
  for (int k = 0; k < s->ask->limits; k++) {
    const struct ew_limit *l = &s->ask->limit[k];
    double mean, band;
    if (!ew_rounds_believe(s->ask, s->found, point, l->figure, &mean, &band))
      continue;
    band = fmax(band, 1e-9 * (fabs(mean) + s->scale[l->figure]) + 1e-300);
    chance *=
        gsl_cdf_ugaussian_P((l->high - mean) / band) - gsl_cdf_ugaussian_P((l->low - mean) / band);
  }
  return chance;
}

static void fill_promise(const struct ew_rounds *s, const double *point, struct promise *p) {
  memcpy(p->point, point, sizeof(double) * (gsize)s->ask->axes);
  p->chance = chance_within(s, point);
  for (int g = 0; g < s->ask->goals; g++) {
    double mean = 0, band = 0;
    ew_rounds_believe(s->ask, s->found, point, s->ask->goal[g].figure, &mean, &band);
    p->mean[g] = ew_goal_turned(&s->ask->goal[g], mean);
    p->hopeful[g] = p->mean[g] - band;
  }
}

/* The front as it is run and as it is hoped for, and the corner that its volume is measured from. */
struct board {
  double *figure; /* turned, count x goals */
  int count, goals;
  double corner[EW_GOALS_MOST];
};

static void board_add(struct board *b, const double *turned_figures) {
  memcpy(b->figure + b->count++ * b->goals, turned_figures, sizeof(double) * (gsize)b->goals);
}

static void board_begin(const struct ew_rounds *s, struct board *b) {
  const struct ew_search_found *f = s->found;
  *b = (struct board){
      .figure = g_new(double, (gsize)(f->designs + s->ask->batch + 1) * (gsize)s->ask->goals),
      .goals = s->ask->goals};
  for (int g = 0; g < b->goals; g++)
    b->corner[g] = -INFINITY;
  for (int i = 0; i < f->designs; i++) {
    double own[EW_GOALS_MOST];
    if (!f->sound[i])
      continue;
    for (int g = 0; g < b->goals; g++) {
      own[g] = ew_goal_turned(&s->ask->goal[g], f->figure[i * f->figures + s->ask->goal[g].figure]);
      b->corner[g] = fmax(b->corner[g], own[g]);
    }
    if (f->worse[i] == 0)
      board_add(b, own);
  }
}

static double gain_of(struct board *b, const struct promise *p, double before) {
  board_add(b, p->hopeful);
  double gain = ew_front_volume(b->figure, b->count, b->goals, b->corner) - before;
  b->count--;
  return gain * p->chance;
}

/* Candidates of the evolution that are new and may be built. */
static GArray *promises_of(const struct ew_rounds *s, const double *points, const double *worse) {
  GArray *all = g_array_new(FALSE, FALSE, sizeof(struct promise));
  for (int i = 0; i < POPULATION; i++) {
    struct promise p;
    double snapped[EW_AXES_MOST];
    ew_axes_snap(s->ask->axis, s->ask->axes, points + i * s->ask->axes, snapped);
    if (worse[i] >= 10 || ew_rounds_known(s, snapped, NULL, 0))
      continue;
    fill_promise(s, snapped, &p);
    g_array_append_val(all, p);
  }
  return all;
}

static int take_best(const struct ew_rounds *s, GArray *promises, struct board *b, double *chosen,
                     int n) {
  double before = ew_front_volume(b->figure, b->count, b->goals, b->corner), most = 0;
  guint best = promises->len;
  for (guint i = 0; i < promises->len; i++) {
    const struct promise *p = &g_array_index(promises, struct promise, i);
    double gain = ew_rounds_known(s, p->point, chosen, n) ? 0 : gain_of(b, p, before);
    if (gain > most) {
      most = gain;
      best = i;
    }
  }
  if (best == promises->len)
    return n;
  const struct promise *p = &g_array_index(promises, struct promise, best);
  memcpy(chosen + n * s->ask->axes, p->point, sizeof(double) * (gsize)s->ask->axes);
  board_add(b, p->mean);
  g_array_remove_index(promises, best);
  return n + 1;
}

/* Sound designs of the front so far: where evolution begins. */
static int starts_of(const struct ew_rounds *s, double *start) {
  const struct ew_search_found *f = s->found;
  int n = 0;
  for (int i = f->designs - 1; i >= 0 && n < POPULATION / 2; i--)
    if (f->sound[i] && f->front && f->front[i])
      memcpy(start + n++ * f->axes, f->point + i * f->axes, sizeof(double) * (gsize)f->axes);
  return n;
}

int ew_rounds_choose(struct ew_rounds *s, int round, double *chosen) {
  const struct ew_search_ask *a = s->ask;
  gboolean learned = FALSE;
  for (int k = 0; k < a->figures; k++)
    learned |= s->found->surrogate[k] != NULL;
  if (!learned) /* nothing ran: nothing promises anything */
    return 0;
  g_autofree double *start = g_new(double, POPULATION *(gsize)a->axes);
  g_autofree double *points = g_new(double, POPULATION *(gsize)a->axes);
  g_autofree double *figures = g_new(double, POPULATION *(gsize)a->goals);
  g_autofree double *worse = g_new(double, POPULATION);
  struct ew_evolve evolve = {.dimensions = a->axes,
                             .goals = a->goals,
                             .population = POPULATION,
                             .generations = GENERATIONS,
                             .seed = ew_random_seed(a->seed, (guint64)round),
                             .start = start,
                             .starts = starts_of(s, start),
                             .judge = judge,
                             .data = s};
  ew_evolve_run(&evolve, points, figures, worse);
  g_autoptr(GArray) promises = promises_of(s, points, worse);
  struct board board;
  board_begin(s, &board);
  int n = 0, before = -1;
  while (n < a->batch && n > before) {
    before = n;
    n = take_best(s, promises, &board, chosen, n);
  }
  g_free(board.figure);
  return n;
}
