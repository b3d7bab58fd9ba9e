/* What is run next: of the candidates that an evolution on the surrogates' means finds, and another that counts their bands too, the ones
 * that promise most, times the chance that they are within the limits; one after the other, each taken to come out at its mean for those
 * after it, so that their bands shrink where it is and a batch does not huddle (sources: rounds.h, surrogate.h).
 *
 * Several things wanted: a promise is the volume that the hopeful figures (mean and one band to the better) add to the front, and the second
 * evolution is on those. One thing: it is the improvement that is expected of the figure, by the doubt of its mean (the noise of a run would
 * promise something of a copy, too), and the second evolution has mean and band for two goals. What is expected rises with either, so the
 * best lies on their front; and a front does not gather in one hollow, as a search for the one hopeful figure does. The first place of a
 * batch of several is for the best mean, so that each round comes nearer to the best of what is known, however much is still unknown.
 *
 * Costs: the first evolution glances at GENERATIONS x POPULATION means, each linear in the n designs that were learned from; the second at
 * half as many bands, each n², and for fewer generations beyond HOPE_DESIGNS of them; taking a batch of m measures 2 POPULATION volumes and
 * copies the surrogates, n², for each of its m places. */
#include "search/evolve.h"
#include "search/rounds_parts.h"
#include "search/space.h"
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <math.h>
#include <string.h>

#define POPULATION   80
#define GENERATIONS  60
#define HOPE_DESIGNS 300

static gboolean is_wanted(const struct ew_rounds *s, int figure) {
  gboolean wanted = FALSE;
  for (int g = 0; g < s->ask->goals; g++)
    wanted |= s->ask->goal[g].figure == figure;
  return wanted;
}

/* What evolution is asked with: a glance at means, and at the bands of what is wanted unless that is NULL. */
static void glance(const struct ew_rounds *s, const double *point, double *means, double *bands,
                   double *worse) {
  double snapped[EW_AXES_MOST], row[EW_AXES_MOST * EW_PLACES_MOST];
  ew_axes_snap(s->ask->axis, s->ask->axes, point, snapped);
  ew_rounds_row(s->ask, snapped, row);
  for (int k = 0; k < s->ask->figures; k++)
    if (s->found->surrogate[k])
      ew_surrogate_glance(s->found->surrogate[k], row, &means[k],
                          bands && is_wanted(s, k) ? &bands[k] : NULL);
  *worse = ew_rounds_beyond(s, means);
  if (!ew_rounds_may_be(s, snapped))
    *worse += 10; /* ten spans beyond: worse than any that may be built */
}

static void judge(const double *point, double *figure, double *worse, gpointer data) {
  const struct ew_rounds *s = data;
  double means[EW_FIGURES_MOST] = {0};
  glance(s, point, means, NULL, worse);
  for (int g = 0; g < s->ask->goals; g++)
    figure[g] = ew_goal_turned(&s->ask->goal[g], means[s->ask->goal[g].figure]);
}

/* A goal then is what it may come to. */
static void judge_hope(const double *point, double *figure, double *worse, gpointer data) {
  const struct ew_rounds *s = data;
  double means[EW_FIGURES_MOST] = {0}, bands[EW_FIGURES_MOST] = {0};
  glance(s, point, means, bands, worse);
  for (int g = 0; g < s->ask->goals; g++) {
    int k = s->ask->goal[g].figure;
    figure[g] = ew_goal_turned(&s->ask->goal[g], means[k]) - bands[k];
  }
}

/* One thing is wanted: its mean, and how little is known of it. */
static void judge_both(const double *point, double *figure, double *worse, gpointer data) {
  const struct ew_rounds *s = data;
  double means[EW_FIGURES_MOST] = {0}, bands[EW_FIGURES_MOST] = {0};
  int k = s->ask->goal[0].figure;
  glance(s, point, means, bands, worse);
  figure[0] = ew_goal_turned(&s->ask->goal[0], means[k]);
  figure[1] = -bands[k];
}

struct promise {
  double point[EW_AXES_MOST];
  double mean[EW_GOALS_MOST], hopeful[EW_GOALS_MOST]; /* turned */
  double doubt;                                       /* of the mean of the one thing */
  double chance;                                      /* of being within the limits */
  double gain;
  int chosen; /* how many were chosen when its figures were worked out */
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

static double doubt_of(const struct ew_rounds *s, const double *point, int figure) {
  double row[EW_AXES_MOST * EW_PLACES_MOST];
  if (!s->found->surrogate[figure])
    return 0;
  ew_rounds_row(s->ask, point, row);
  return ew_surrogate_doubt(s->found->surrogate[figure], row);
}

static void fill_promise(const struct ew_rounds *s, const double *point, struct promise *p) {
  memcpy(p->point, point, sizeof(double) * (gsize)s->ask->axes);
  p->chance = chance_within(s, point);
  p->doubt = s->ask->goals == 1 ? doubt_of(s, point, s->ask->goal[0].figure) : 0;
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
  gboolean by_means; /* one goal: what is not known of it counts nothing */
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

/* By how much a normal figure is expected to be below the best so far, what is above it counting nothing. */
static double expected_improvement(double mean, double doubt, double best) {
  if (!(doubt > 0))
    return fmax(best - mean, 0);
  double z = (best - mean) / doubt;
  return (best - mean) * gsl_cdf_ugaussian_P(z) + doubt * gsl_ran_ugaussian_pdf(z);
}

/* before: volume of the board, which of one goal is how far the best is below the corner (0: none is within the limits, the worst that
 * ran is what counts then). */
static double gain_of(struct board *b, const struct promise *p, double before) {
  if (b->goals == 1)
    return p->chance *
           expected_improvement(p->mean[0], b->by_means ? 0 : p->doubt, b->corner[0] - before);
  board_add(b, p->hopeful);
  double gain = ew_front_volume(b->figure, b->count, b->goals, b->corner) - before;
  b->count--;
  return gain * p->chance;
}

/* Candidates of an evolution that are new and may be built, behind those that are there. */
static void add_promises(const struct ew_rounds *s, const double *points, const double *worse,
                         GArray *all) {
  for (int i = 0; i < POPULATION; i++) {
    struct promise p = {.chosen = 0};
    double snapped[EW_AXES_MOST];
    ew_axes_snap(s->ask->axis, s->ask->axes, points + i * s->ask->axes, snapped);
    if (worse[i] >= 10 || ew_rounds_known(s, snapped, NULL, 0))
      continue;
    fill_promise(s, snapped, &p);
    g_array_append_val(all, p);
  }
}

/* The one that adds most. What others were taken to come out at only makes less of a promise, so figures are worked out again for the
 * one that seems best alone, until it still does. Their number: none adds anything. */
static guint best_promise(const struct ew_rounds *s, GArray *promises, struct board *b,
                          const double *chosen, int n) {
  double before = ew_front_volume(b->figure, b->count, b->goals, b->corner);
  for (guint i = 0; i < promises->len; i++) {
    struct promise *p = &g_array_index(promises, struct promise, i);
    p->gain = ew_rounds_known(s, p->point, chosen, n) ? 0 : gain_of(b, p, before);
  }
  for (;;) {
    guint best = promises->len;
    for (guint i = 0; i < promises->len; i++)
      if (g_array_index(promises, struct promise, i).gain >
          (best < promises->len ? g_array_index(promises, struct promise, best).gain : 0))
        best = i;
    if (best == promises->len)
      return best;
    struct promise *p = &g_array_index(promises, struct promise, best);
    if (p->chosen == n)
      return best;
    double point[EW_AXES_MOST];
    memcpy(point, p->point, sizeof point);
    fill_promise(s, point, p);
    p->gain = gain_of(b, p, before);
    p->chosen = n;
  }
}

static void believe_chosen(struct ew_search_found *with, const struct ew_rounds *s,
                           const double *point) {
  double row[EW_AXES_MOST * EW_PLACES_MOST];
  ew_rounds_row(s->ask, point, row);
  for (int k = 0; k < with->figures; k++)
    if (with->surrogate[k]) {
      struct ew_surrogate *more = ew_surrogate_believing(with->surrogate[k], row);
      if (with->surrogate[k] != s->found->surrogate[k])
        ew_surrogate_free(with->surrogate[k]);
      with->surrogate[k] = more;
    }
}

static int take_best(const struct ew_rounds *s, struct ew_search_found *with, GArray *promises,
                     struct board *b, double *chosen, int n) {
  struct ew_rounds believing = *s;
  believing.found = with;
  b->by_means = n == 0 && s->ask->batch > 1;
  guint best = best_promise(&believing, promises, b, chosen, n);
  if (best == promises->len && b->by_means) { /* no mean is better than what was run */
    b->by_means = FALSE;
    best = best_promise(&believing, promises, b, chosen, n);
  }
  if (best == promises->len)
    return n;
  const struct promise *p = &g_array_index(promises, struct promise, best);
  g_assert(n < s->ask->batch);
  memcpy(chosen + n * s->ask->axes, p->point, sizeof(double) * (gsize)s->ask->axes);
  board_add(b, p->mean);
  believe_chosen(with, s, p->point);
  g_array_remove_index(promises, best);
  return n + 1;
}

/* A batch of them. */
static int take_batch(const struct ew_rounds *s, GArray *promises, double *chosen) {
  struct ew_search_found with = *s->found; /* with surrogates of its own */
  struct ew_surrogate *surrogate[EW_FIGURES_MOST] = {NULL};
  struct board board;
  int n = 0, before = -1;
  for (int k = 0; k < with.figures; k++)
    surrogate[k] = s->found->surrogate[k];
  with.surrogate = surrogate;
  board_begin(s, &board);
  while (n < s->ask->batch && n > before) {
    before = n;
    n = take_best(s, &with, promises, &board, chosen, n);
  }
  for (int k = 0; k < with.figures; k++)
    if (surrogate[k] != s->found->surrogate[k])
      ew_surrogate_free(surrogate[k]);
  g_free(board.figure);
  return n;
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
  g_autofree double *hope = g_new(double, POPULATION *(gsize)a->axes);
  g_autofree double *figures = g_new(double, POPULATION *(gsize)MAX(a->goals, 2));
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
  g_autoptr(GArray) promises = g_array_new(FALSE, FALSE, sizeof(struct promise));
  add_promises(s, points, worse, promises);
  gint64 designs = MAX(s->found->designs, HOPE_DESIGNS);
  evolve.generations =
      (int)MAX(1, (gint64)GENERATIONS / 2 * HOPE_DESIGNS * HOPE_DESIGNS / (designs * designs));
  evolve.start = points;
  evolve.starts = a->goals == 1 ? POPULATION / 2 : POPULATION; /* the rest is even */
  evolve.goals = MAX(a->goals, 2);
  evolve.judge = a->goals == 1 ? judge_both : judge_hope;
  ew_evolve_run(&evolve, hope, figures, worse);
  add_promises(s, hope, worse, promises);
  return take_batch(s, promises, chosen);
}
