/* Reads the trials of days.c: rates, pulls at equal rates, and whether they keep what docs/methods.md promises. */
#include "days.h"
#include "judge/day_opinion.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

typedef struct course (*courses)[METHODS][TRUTHS];

static const char *const world_names[WORLDS] = {"figures", "engine"};

static gboolean was_looked_at(const struct course *c, int pulls) {
  return c->look[pulls].differs != 0;
}

static double most_of(const struct course *c, gboolean same) {
  double most = -INFINITY;
  for (int n = 2; n <= MOST_LOOKS; n++)
    if (was_looked_at(c, n))
      most = fmax(most, same ? c->look[n].same : c->look[n].differs);
  return most;
}

static int by_size(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

/* How many trials ever say it; *scale: of the thresholds at which 5 % would. */
static double ever(courses all, int trials, enum method m, int truth, gboolean same,
                   double *scale) {
  g_autofree double *most = g_new(double, trials);
  double hits = 0;
  for (int i = 0; i < trials; i++) {
    most[i] = most_of(&all[i][m][truth], same);
    hits += most[i] > 1;
  }
  qsort(most, (size_t)trials, sizeof *most, by_size);
  *scale = most[(int)(0.95 * trials)];
  return hits;
}

/* Looking at 95 % after each pull, the usual habit. */
static double ever_naively(courses all, int trials, enum method m) {
  double hits = 0;
  for (int i = 0; i < trials; i++) {
    gboolean said = FALSE;
    for (int n = 2; n <= MOST_LOOKS; n++) {
      const struct look *l = &all[i][m][0].look[n];
      said |= l->half > 0 && fabs(l->estimate) > l->half;
    }
    hits += said;
  }
  return hits;
}

/* Pulls until settled, with thresholds scaled. */
static int settled_after(const struct course *c, double differs, double same, int most) {
  for (int n = 2; n <= most; n++)
    if (was_looked_at(c, n) && (c->look[n].differs > differs || c->look[n].same > same))
      return n;
  return most;
}

struct pulls {
  double mean, se;
};

static struct pulls pulls_to(courses all, const struct study *s, enum method m, int truth,
                             double differs, double same) {
  double sum = 0, squares = 0;
  for (int i = 0; i < s->trials; i++) {
    double n = settled_after(&all[i][m][truth], differs, same, s->most);
    sum += n, squares += n * n;
  }
  double mean = sum / s->trials;
  return (struct pulls){mean, sqrt((squares / s->trials - mean * mean) / s->trials)};
}

static double covered(courses all, int trials, enum method m, int n) {
  double held = 0;
  for (int i = 0; i < trials; i++)
    for (int t = 0; t < TRUTHS; t++) {
      double truth = log1p(truths[t]);
      held += all[i][m][t].low[n] <= truth && truth <= all[i][m][t].high[n];
    }
  return held / TRUTHS;
}

/* All pulls to an answer over the three truths, as the levels stand; a row of the table, with those at equal rates. */
static double print_method(courses all, const struct study *s, enum method m) {
  double differs, same, sum = 0, trials = s->trials;
  double wrong = ever(all, s->trials, m, 0, FALSE, &differs) / trials,
         wrong_same = ever(all, s->trials, m, 2, TRUE, &same) / trials;
  printf("| | %s, %s: false %.3f / %.3f; cover %.3f, %.3f; pulls at 0, 0.5, 1 %%, at equal rates "
         "and as it stands |",
         world_names[s->kind], method_names[m], wrong, wrong_same,
         covered(all, s->trials, m, 4) / trials, covered(all, s->trials, m, 8) / trials);
  for (int t = 0; t < TRUTHS; t++) {
    struct pulls p = pulls_to(all, s, m, t, differs, same);
    printf(" %.2f ± %.2f", p.mean, p.se);
  }
  printf(" |");
  for (int t = 0; t < TRUTHS; t++) {
    double mean = pulls_to(all, s, m, t, 1, 1).mean;
    printf(" %.2f", mean);
    sum += mean;
  }
  printf(" | |\n");
  fflush(stdout);
  return sum;
}

/* What a study promises of the model; NaN: nothing. */
struct promise {
  const char *what;
  struct day_trouble trouble;
  int stops;
  double wrong, same; /* shares that ever say gain or loss, or same */
  double saves;  /* pulls of the model, as a share of the plain answer's, as the levels stand */
  guint methods; /* beside the model's own and the plain answer of the program */
  gboolean no_past;
};

#define BIT(m) (1u << (m))

static void check_rate(struct table *t, courses all, const struct study *s, const struct promise *p,
                       enum method m, gboolean same) {
  char what[200];
  double scale, hits = ever(all, s->trials, m, same ? 2 : 0, same, &scale);
  double most = same ? p->same : p->wrong;
  snprintf(what, sizeof what, "%s, %s, %s: false %s", world_names[s->kind], p->what,
           method_names[m], same ? "same" : "gain or loss");
  if (isnan(most))
    for_the_reader(t, what, hits, s->trials);
  else
    at_most(t, what, hits, s->trials, most);
}

static void check_rates(struct table *t, courses all, const struct study *s,
                        const struct promise *p) {
  static const enum method methods[] = {METHOD_GUARD_ABAB, METHOD_MODEL_ABAB};
  for (gsize k = 0; k < G_N_ELEMENTS(methods); k++)
    if (s->methods & BIT(methods[k])) {
      check_rate(t, all, s, p, methods[k], FALSE);
      check_rate(t, all, s, p, methods[k], TRUE);
    }
}

static void check_control(struct table *t, courses all, const struct study *s, enum method m,
                          double least) {
  char what[160];
  double scale, hits = ever(all, s->trials, m, 0, FALSE, &scale);
  snprintf(what, sizeof what, "%s, %s: false gain or loss", world_names[s->kind], method_names[m]);
  at_least(t, what, hits, s->trials, least);
}

static void check_cover(struct table *t, courses all, const struct study *s) {
  char what[160];
  for (int n = 4; n <= 8; n += 4) {
    snprintf(what, sizeof what, "%s, cover after %d pulls", world_names[s->kind], n);
    double held = covered(all, s->trials, METHOD_MODEL_ABAB, n);
    at_least(t, what, held, s->trials, 0.93);
  }
  snprintf(what, sizeof what, "%s, control: a look at 95 %% after each pull", world_names[s->kind]);
  if (s->kind == WORLD_FIGURES) /* noise with memory makes A B A B surer than the history says */
    at_least(t, what, ever_naively(all, s->trials, METHOD_PLAIN), s->trials, 0.10);
}

static void study(struct table *t, const struct promise *p, enum world_kind kind, int trials) {
  struct study s = {.kind = kind,
                    .trouble = p->trouble,
                    .methods = BIT(METHOD_MODEL_ABAB) | (p->no_past ? 0 : BIT(METHOD_GUARD_ABAB)) |
                               p->methods,
                    .no_past = p->no_past,
                    .pulls_a_run = p->stops,
                    .most = MOST_LOOKS,
                    .trials = trials};
  courses all = run_study(&s);
  double sum[METHODS] = {0};
  printf("%s, %s, %d days\n", world_names[kind], p->what, trials);
  for (enum method m = 0; m < METHODS; m++)
    if (s.methods & BIT(m))
      sum[m] = print_method(all, &s, m);
  check_rates(t, all, &s, p);
  if (!isnan(p->saves))
    value_at_most(t, "pulls of the model by those of the plain answer, as the levels stand",
                  sum[METHOD_MODEL_ABAB] / sum[METHOD_PLAIN], p->saves, 0.15, "");
  if (p->trouble.linear == 0.3 && s.methods & BIT(METHOD_NO_SLOPE))
    check_control(t, all, &s, METHOD_NO_SLOPE,
                  kind == WORLD_FIGURES ? 0.15 : 0.08); /* as told, with its guards */
  if (p->no_past &&
      kind ==
          WORLD_FIGURES) /* noise with memory makes A B A B surer than any point of the grid says */
    check_control(t, all, &s, METHOD_PLUG_IN, 0.06); /* its guards hold part of it back */
  if (s.methods & BIT(METHOD_NO_JUMP) && kind == WORLD_FIGURES)
    check_control(t, all, &s, METHOD_NO_JUMP, 0.09);
  if (!isnan(p->saves) && !p->stops)
    check_cover(t, all, &s);
  g_free(all);
}

static const struct promise promises[] = {
    {"nothing wrong",
     {0},
     0,
     0.06,
     0.065,
     1.0,
     BIT(METHOD_PLAIN) | BIT(METHOD_NAMED_ABAB) | BIT(METHOD_NAMED_BABA) | BIT(METHOD_GUARD_ABAB) |
         BIT(METHOD_GUARD_BABA) | BIT(METHOD_MODEL_BABA)},
    {"drift of 0.3 % a pull", {.linear = 0.3}, 0, 0.07, 0.07, NAN, BIT(METHOD_NO_SLOPE)},
    {"a stop at each change, 3 pulls a run",
     {0},
     3,
     0.06,
     0.065,
     1.0,
     BIT(METHOD_PLAIN) | BIT(METHOD_GUARD_BABA) | BIT(METHOD_MODEL_BABA)},
    {"drift of 0.1 % a pull", {.linear = 0.1}, 0, 0.07, 0.07, NAN, 0},
    {"t3 between pulls", {.heavy = TRUE}, 0, 0.07, 0.07, NAN, 0},
    {"conditions act the other way", {.wrong_way = TRUE}, 0, 0.07, 0.07, NAN, 0},
    {"warm-up of 0.6 %", {.warm_up = 0.6}, 0, 0.06, 0.075, NAN, BIT(METHOD_MODEL_BABA)},
    {"inlet 3 K warmer on B", {.warm_inlet = 3}, 0, 0.06, NAN, NAN, BIT(METHOD_PLAIN)},
    {"one pull of B -1.5 %", {.bad_pull = -1.5}, 0, NAN, NAN, NAN, BIT(METHOD_PLAIN)},
    {"scatter 1.8 times larger", {.rougher = 1.8}, 0, NAN, NAN, NAN, BIT(METHOD_CAUTIOUS_BABA)},
    {"a jump that nobody told", {.unsaid_jump = 0.4}, 0, NAN, NAN, NAN, 0},
    {"a stop at each change, 2 pulls a run",
     {0},
     2,
     0.06,
     0.065,
     1.0,
     BIT(METHOD_PLAIN) | BIT(METHOD_NO_JUMP) | BIT(METHOD_GUARD_BABA) | BIT(METHOD_MODEL_BABA)},
    {"the first day of a book", {0}, 0, NAN, NAN, NAN, BIT(METHOD_PLUG_IN), TRUE},
};

/* CPU time of one second opinion, from figures to verdict, with the search for a pull that fits nothing, as a line of JSON. */
static int time_an_answer(void) {
  enum { TODAY = 60, EARLIER = 140 };
  const struct ew_comparison plain = {.verdict = EW_VERDICT_UNDECIDED,
                                      .confidence = 0.95,
                                      .margin = 0.01,
                                      .low = -0.01,
                                      .high = 0.01};
  static struct ew_day_told told[EARLIER + TODAY];
  for (int i = 0; i < EARLIER + TODAY; i++)
    told[i] = (struct ew_day_told){.pull = {.day = MIN(i, EARLIER) / 20,
                                            .setup = i % 3 ? i % 2 : 2 + i % 4,
                                            .spark_deg = 24 + i % 5,
                                            .covariate = {360 + i % 3, 298 + i % 4, 350, 50},
                                            .log_mean = 5 + 0.001 * (i % 7)},
                                   .today = i >= EARLIER};
  clock_t before = clock();
  struct ew_day_opinion *o = ew_day_opinion(told, EARLIER + TODAY, &plain);
  printf("{\"bench\":\"answer\",\"today\":%d,\"earlier\":%d,\"cpu_ms\":%.2f,\"low\":%.5f,\"high\":%"
         ".5f}\n",
         TODAY, EARLIER, 1000.0 * (double)(clock() - before) / CLOCKS_PER_SEC, o->low, o->high);
  ew_day_opinion_free(o);
  return 0;
}

int main(int count, char **arguments) {
  struct table t = {0};
  int only = -1, days = 0;
  for (int i = 1; i < count; i++) {
    t.full |= strcmp(arguments[i], "--full") == 0;
    if (strcmp(arguments[i], "--answer") == 0)
      return time_an_answer();
    if (strcmp(arguments[i], "--only") == 0 && i + 1 < count)
      only = atoi(arguments[i + 1]);
    if (strcmp(arguments[i], "--days") == 0 && i + 1 < count)
      days = atoi(arguments[i + 1]);
  }
  int studies = t.full ? (int)G_N_ELEMENTS(promises) : 3; /* the short form: the first three */
  for (int k = 0; k < (int)G_N_ELEMENTS(promises); k++) {
    if (only >= 0 ? only != k : k >= studies)
      continue;
    begin_line(&t, k, promises[k].what);
    for (enum world_kind kind = 0; kind < WORLDS; kind++)
      study(&t, &promises[k], kind, days ? days : t.full ? 2000 : 100);
    end_line(&t);
  }
  printf("[  PASSED  ] %d test(s).\n", t.lines_passed);
  if (t.lines_failed)
    printf("[  FAILED  ] %d test(s).\n", t.lines_failed);
  return t.lines_failed ? 1 : 0;
}
