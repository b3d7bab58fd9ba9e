/* Does the interval of a sweep hold the best where torque falls faster on one side, and where the
 * engine drifts from pull to pull? Two curves each for spark and mixture, both leaning either way:
 *
 * - a parabola with a lean of 10 to 20 % (its loss at one shift, 5 degrees or 0.03 lambda, is that
 *   much larger on one side and smaller on the other): the fitted model, with the lean at its usual size;
 * - spark: work of a cycle whose heat is released after Wiebe (Heywood, Internal Combustion Engine
 *   Fundamentals, 9.2.2, a = 5, m = 2; from memory) and lost to the wall; not a polynomial. Mixture: the
 *   linear-exponential loss (Varian 1975; from memory), flat on one side, steep on the other.
 *
 * One pull repeats to 0.3 % (spark) or 0.2 % (mixture), known from a history of 6 groups. Settings go up
 * in equal steps, over 20 to 24 degrees or 0.12 to 0.14 lambda, with the best in the middle third. "Home":
 * the first setting is repeated last, so that drift is fitted; "up" leaves it to what is lent, which is
 * wide on purpose, so that only the lower limit is held there. */
#include "leaning.h"
#include "judge/sweep.h"
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdio.h>

enum generator { GENERATOR_CUBIC, GENERATOR_OTHER };

static const struct {
  const char *name, *other;
  double shift, loss, sd, span; /* loss at one shift, scatter of one pull, range of the settings */
} kinds[] = {
    [EW_SWEEP_SPARK] = {"spark", "Wiebe cycle", 5, 0.01, 0.003, 22},
    [EW_SWEEP_MIXTURE] = {"mixture", "linear-exponential", 0.03, 0.003, 0.002, 0.13},
};

#define HOOK_POINTS 121 /* spark of -60 to 60 degrees from the best, one degree apart */

struct truth {
  enum ew_sweep_setting setting;
  enum generator generator;
  double best, loss, lean;
  double hook[HOOK_POINTS]; /* relative loss of the cycle, 1 at one shift on the mean */
};

/* Net work of one cycle, from 180 degrees before to 180 after the top: ideal gas of gamma 1.32 in a
 * chamber of compression 10, rod 1.75 strokes; p in units of the intake's, heat 28 times p V. */
static double cycle_work(double spark, double duration, double wall) {
  const double gamma = 1.32, degree = M_PI / 180, step = 0.5;
  double p = 1, work = 0, burned = 0, volume = 1;
  for (double at = -180 + step; at <= 180; at += step) {
    double sine = sin(at * degree), lift = 1 - cos(at * degree);
    lift += 3.5 - sqrt(3.5 * 3.5 - sine * sine);
    double next = 0.1 + 0.45 * lift, since = (at + spark) / duration;
    double fraction = since > 0 ? 1 - exp(-5 * since * since * since) : 0;
    double heat = 28 * (fraction - burned) - wall * (p * next - 1.35) * step;
    double mean = (next + volume) / 2;
    double rise = ((gamma - 1) * heat - gamma * p * (next - volume)) / mean;
    work += (p + rise / 2) * (next - volume);
    p += rise, volume = next, burned = fraction;
  }
  return work;
}

/* The cycle's loss about its own best, on a grid of whole degrees about it. */
static void fill_hook(gsl_rng *random, struct truth *t) {
  double duration = 45 + 20 * gsl_rng_uniform(random),
         wall = 0.004 + 0.006 * gsl_rng_uniform(random);
  double best = 20, most = -INFINITY;
  for (double spark = 0; spark < 60; spark += 0.25) {
    double work = cycle_work(spark, duration, wall);
    if (work > most)
      most = work, best = spark;
  }
  double before = cycle_work(best - 0.25, duration, wall);
  double after = cycle_work(best + 0.25, duration, wall);
  best += 0.125 * (after - before) / (2 * most - before - after); /* top of the parabola */
  most = cycle_work(best, duration, wall);
  double scale = 1 - (cycle_work(best - 5, duration, wall) + cycle_work(best + 5, duration, wall)) /
                         (2 * most);
  for (int i = 0; i < HOOK_POINTS; i++)
    t->hook[i] = (1 - cycle_work(best + i - HOOK_POINTS / 2, duration, wall) / most) / scale;
}

static double hook_at(const struct truth *t, double away) {
  double place = away + HOOK_POINTS / 2;
  int i = (int)place;
  double f = place - i, a = t->hook[i - 1], b = t->hook[i], c = t->hook[i + 1], d = t->hook[i + 2];
  /* cubic through four neighbours */
  return b + f * (c - a + f * (2 * a - 5 * b + 4 * c - d + f * (3 * (b - c) + d - a))) / 2;
}

static double true_loss(const struct truth *t, double setting) {
  double away = (setting - t->best) / kinds[t->setting].shift;
  if (t->generator == GENERATOR_CUBIC)
    return t->loss * away * away * (1 + t->lean * away);
  if (t->setting == EW_SWEEP_SPARK)
    return t->loss * hook_at(t, setting - t->best);
  double k = 3 * t->lean * away;
  return t->loss * (exp(k) - 1 - k) / (4.5 * t->lean * t->lean);
}

/* -------------------------------------------------------------------------------------------- */

static struct truth some_truth(gsl_rng *random, enum ew_sweep_setting setting,
                               enum generator generator) {
  struct truth t = {.setting = setting, .generator = generator};
  t.loss = kinds[setting].loss * fmax(0.3, 1 + 0.3 * normal(random));
  t.lean = (0.10 + 0.10 * gsl_rng_uniform(random)) * (gsl_rng_uniform(random) < 0.5 ? -1 : 1);
  t.best = kinds[setting].span * (1.0 / 3 + gsl_rng_uniform(random) / 3);
  if (generator == GENERATOR_OTHER && setting == EW_SWEEP_SPARK)
    fill_hook(random, &t);
  return t;
}

static struct ew_spread some_history(gsl_rng *random, double sd) {
  double values[MOST_PULLS];
  for (int i = 0; i < 15; i++)
    values[i] = sd * normal(random);
  return taught_by(values, 6);
}

struct plan {
  int pulls;
  gboolean home;  /* the first setting repeated last */
  double drift;   /* a pull */
  double between; /* standard deviation of the drift, from day to day */
  enum { EQUAL_STEPS, CHOSEN, UNTIL_TOLD } steps;
};

/* Pulls that follow what the sweep itself proposes: steps up to two thirds of the plan's settings, the first
 * setting again, then wherever the best is narrowed. Stops at plan.pulls, or where it is told well enough. */
static struct ew_sweep *run_chosen(gsl_rng *random, const struct truth *t, struct plan plan,
                                   gboolean until_told, int *used) {
  struct ew_sweep_pull pulls[32];
  double drift = plan.drift + plan.between * normal(random), sd = kinds[t->setting].sd;
  struct ew_spread history = some_history(random, sd);
  struct ew_sweep_options options = {.setting = t->setting,
                                     .margin = 0.005,
                                     .sd = history.sd,
                                     .freedom = history.freedom,
                                     .fit_drift = plan.home};
  struct ew_sweep *s = NULL;
  int steps = 5;
  for (int i = 0; i < plan.pulls; i++) {
    double setting = i < steps ? kinds[t->setting].span * i / (steps - 1) : 0;
    if (s)
      setting = isnan(s->narrow) ? kinds[t->setting].span * (i % 2 ? 0.25 : 0.75) : s->narrow;
    if (s && until_told && s->best_high - s->best_low <= 2 * s->wanted_half)
      break;
    pulls[i] =
        (struct ew_sweep_pull){.setting = setting,
                               .log_mean = sd * normal(random) - true_loss(t, setting) + drift * i,
                               .position = i,
                               .knock = NAN};
    *used = i + 1;
    if (i + 1 < steps + plan.home)
      continue;
    ew_sweep_free(s);
    s = ew_sweep(pulls, (gsize)i + 1, &options, NULL);
  }
  return s;
}

static struct ew_sweep *run_plan(gsl_rng *random, const struct truth *t, struct plan plan) {
  struct ew_sweep_pull pulls[16];
  int steps = plan.pulls - plan.home;
  double drift = plan.drift + plan.between * normal(random), sd = kinds[t->setting].sd;
  for (int i = 0; i < plan.pulls; i++) {
    double setting = i < steps ? kinds[t->setting].span * i / (steps - 1) : 0;
    pulls[i] =
        (struct ew_sweep_pull){.setting = setting,
                               .log_mean = sd * normal(random) - true_loss(t, setting) + drift * i,
                               .position = i,
                               .knock = NAN};
  }
  struct ew_spread history = some_history(random, sd);
  struct ew_sweep_options options = {.setting = t->setting,
                                     .margin = 0.005,
                                     .sd = history.sd,
                                     .freedom = history.freedom,
                                     .fit_drift = plan.home};
  return ew_sweep(pulls, (gsize)plan.pulls, &options, NULL);
}

/* Share of sweeps whose interval holds the best, with the mean error and half-width for the reader. */
static int covered_in(enum ew_sweep_setting setting, enum generator generator, struct plan plan,
                      int trials, char *figures, gsize size) {
  gsl_rng *random = gsl_rng_alloc(gsl_rng_taus2);
  gsl_rng_set(random, 1101);
  int covered = 0;
  double error = 0, squares = 0, half = 0, pulls = 0, spread = 0, shift = kinds[setting].shift;
  for (int trial = 0; trial < trials; trial++) {
    struct truth t = some_truth(random, setting, generator);
    int used = plan.pulls;
    struct ew_sweep *s = plan.steps == EQUAL_STEPS
                             ? run_plan(random, &t, plan)
                             : run_chosen(random, &t, plan, plan.steps == UNTIL_TOLD, &used);
    pulls += (double)used / trials;
    spread += (double)used * used / trials;
    covered += s->best_low <= t.best && t.best <= s->best_high;
    error += (s->best - t.best) / trials;
    squares += (s->best - t.best) * (s->best - t.best) / trials;
    half += (s->best_high - s->best_low) / 2 / trials;
    ew_sweep_free(s);
  }
  const char *format = shift > 1 ? "rms %.2f, bias %+.2f, ± %.2f, %.2f ± %.2f pulls"
                                 : "rms %.4f, bias %+.4f, ± %.4f, %.2f ± %.2f pulls";
#pragma GCC diagnostic ignored "-Wformat-nonliteral"
  snprintf(figures, size, format, sqrt(squares), error, half, pulls,
           sqrt(fmax(spread - pulls * pulls, 0) / trials)); /* of pulls: its standard error */
  gsl_rng_free(random);
  return covered;
}

static void cover_row(struct table *table, enum ew_sweep_setting setting, enum generator generator,
                      struct plan plan) {
  char figures[96], drift[40] = "", what[200];
  int trials = (table->full ? 5000 : 400) / (plan.steps == EQUAL_STEPS ? 1 : 4);
  int covered = covered_in(setting, generator, plan, trials, figures, sizeof figures);
  if (plan.drift != 0)
    snprintf(drift, sizeof drift, ", drift %.2f %% a pull", 100 * plan.drift);
  if (plan.between != 0)
    snprintf(drift, sizeof drift, ", drift 0 ± %.2f %% a pull", 100 * plan.between);
  snprintf(what, sizeof what, "%s, %s, %d pulls %s%s%s (%s)", kinds[setting].name,
           generator == GENERATOR_CUBIC ? "parabola with a lean" : kinds[setting].other, plan.pulls,
           plan.home ? "and home" : "up",
           plan.steps == CHOSEN ? ", then as proposed"
           : plan.steps         ? ", then until told"
                                : "",
           drift, figures);
  if (plan.home)
    within(table, what, covered, trials, 0.93, 0.97);
  else
    at_least(table, what, covered, trials, 0.93);
}

void line_leaning(struct table *table) {
  static const int pulls[] = {5, 8, 12};
  begin_line(table, 11, "the best of a curve that leans, and of a day that drifts");
  for (int setting = EW_SWEEP_SPARK; setting <= EW_SWEEP_MIXTURE; setting++)
    for (int generator = GENERATOR_CUBIC; generator <= GENERATOR_OTHER; generator++)
      for (gsize k = 0; k < G_N_ELEMENTS(pulls); k++) {
        const struct plan plans[] = {{pulls[k], TRUE, 0.0015, 0, EQUAL_STEPS},
                                     {pulls[k], FALSE, 0, 0.0015, EQUAL_STEPS}};
        for (gsize j = 0; j < G_N_ELEMENTS(plans); j++)
          cover_row(table, setting, generator, plans[j]);
      }
  end_line(table);
}

/* Twelve pulls in equal steps against five and then wherever the sweep proposes, and how many it takes until the best is
 * told to a degree, or to lambda 0.01. */
void line_narrowing(struct table *table) {
  static const struct plan plans[] = {{8, TRUE, 0, 0.0005, EQUAL_STEPS},
                                      {8, TRUE, 0, 0.0005, CHOSEN},
                                      {12, TRUE, 0, 0.0005, EQUAL_STEPS},
                                      {12, TRUE, 0, 0.0005, CHOSEN},
                                      {20, TRUE, 0, 0.0005, UNTIL_TOLD}};
  begin_line(table, 12, "where the next pull of a sweep is put");
  for (int setting = EW_SWEEP_SPARK; setting <= EW_SWEEP_MIXTURE; setting++)
    for (int generator = GENERATOR_CUBIC; generator <= GENERATOR_OTHER; generator++)
      for (gsize k = 0; k < G_N_ELEMENTS(plans); k++)
        cover_row(table, setting, generator, plans[k]);
  end_line(table);
}
