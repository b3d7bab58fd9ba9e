/* Reads the trials of days.c: rates, pulls at equal rates, and whether they keep what docs/methods.md promises. */
#include "days.h"
#include "judge/day_opinion.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define BIT(m) (1u << (m))

typedef struct course (*courses)[METHODS][TRUTHS];

static const char *const world_names[WORLDS] = {"figures", "engine"};

static gboolean was_looked_at(const struct course *c, int pulls) {
  return c->look[pulls].differs != 0;
}

static double height(const struct look *l, gboolean same, gboolean even) {
  return same ? (even ? l->even_same : l->same) : even ? l->even_differs : l->differs;
}

static double most_of(const struct course *c, gboolean same, gboolean even) {
  double most = -INFINITY;
  for (int n = 2; n <= MOST_LOOKS; n++)
    if (was_looked_at(c, n))
      most = fmax(most, height(&c->look[n], same, even));
  return most;
}

static int by_size(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

/* Thresholds: above these it is said. */
struct limits {
  double differs, same;
  gboolean even;
};

/* How many trials ever say it at the levels as they stand; *scale: of the thresholds at which 5 % would. */
static double ever(courses all, int trials, enum method m, gboolean same, gboolean even,
                   double *scale) {
  g_autofree double *most = g_new(double, trials);
  double hits = 0;
  for (int i = 0; i < trials; i++) {
    most[i] = most_of(&all[i][m][same ? 2 : 0], same, even);
    hits += most[i] > 1;
  }
  qsort(most, (size_t)trials, sizeof *most, by_size);
  *scale = most[(int)(0.95 * trials)];
  return hits;
}

static struct limits at_equal_rates(courses all, int trials, enum method m, gboolean even) {
  struct limits limits = {.even = even};
  ever(all, trials, m, FALSE, even, &limits.differs);
  ever(all, trials, m, TRUE, even, &limits.same);
  return limits;
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

static int settled_after(const struct course *c, const struct limits *limits, int most) {
  for (int n = 2; n <= most; n++)
    if (was_looked_at(c, n) && (height(&c->look[n], FALSE, limits->even) > limits->differs ||
                                height(&c->look[n], TRUE, limits->even) > limits->same))
      return n;
  return most;
}

struct pulls {
  double mean, se;
};

static double pulls_of_day(const struct course *day, const struct study *s, int truth,
                           const struct limits *limits) {
  double n = 0;
  for (int t = 0; t < TRUTHS; t++)
    if (truth < 0 || t == truth)
      n += settled_after(&day[t], limits, s->most);
  return n;
}

/* Pulls until settled, at one truth or over all of them (their sum), and the standard error. */
static struct pulls pulls_to(courses all, const struct study *s, enum method m, int truth,
                             const struct limits *limits) {
  double sum = 0, squares = 0;
  for (int i = 0; i < s->trials; i++) {
    double n = pulls_of_day(all[i][m], s, truth, limits);
    sum += n, squares += n * n;
  }
  double mean = sum / s->trials;
  return (struct pulls){mean, sqrt((squares / s->trials - mean * mean) / s->trials)};
}

/* How many fewer pulls than another method takes, as a share, with the standard error of a ratio on the same days (delta method). */
static struct pulls fewer_than(courses all, const struct study *s, enum method m,
                               const struct limits *limits, enum method other,
                               const struct limits *others) {
  double mine = 0, its = 0, squares = 0;
  for (int i = 0; i < s->trials; i++) {
    mine += pulls_of_day(all[i][m], s, -1, limits);
    its += pulls_of_day(all[i][other], s, -1, others);
  }
  for (int i = 0; i < s->trials; i++) {
    double away = pulls_of_day(all[i][m], s, -1, limits) -
                  mine / its * pulls_of_day(all[i][other], s, -1, others);
    squares += away * away;
  }
  return (struct pulls){1 - mine / its, sqrt(squares) / its};
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

static double rate(courses all, int trials, enum method m, gboolean same, gboolean even) {
  double scale;
  return ever(all, trials, m, same, even, &scale) / trials;
}

static double se_of(double share, int trials) {
  return sqrt(share * (1 - share) / trials);
}

static void print_share(double share, int trials) {
  printf(" %.1f ± %.1f", 100 * share, 100 * se_of(share, trials));
}

/* "17.9 ± 0.5 (5.8 7.2 4.9)", and how many fewer than the plain answer takes in the order A B A B: at its own levels, and at these. */
static void print_pulls(courses all, const struct study *s, enum method m,
                        const struct limits *limits, const struct limits *own,
                        const struct limits *these) {
  struct pulls in_all = pulls_to(all, s, m, -1, limits);
  printf(" %.2f ± %.2f (", in_all.mean, in_all.se);
  for (int t = 0; t < TRUTHS; t++)
    printf("%s%.2f", t ? " " : "", pulls_to(all, s, m, t, limits).mean);
  printf(") |");
  if (!(s->methods & BIT(METHOD_PLAIN))) {
    printf(" |");
    return;
  }
  struct pulls fewer = fewer_than(all, s, m, limits, METHOD_PLAIN, own),
               alike = fewer_than(all, s, m, limits, METHOD_PLAIN, these);
  printf(" %.0f ± %.0f %%", 100 * fewer.mean, 100 * fewer.se);
  if (limits->even)
    printf("; at even levels both %.0f ± %.0f %%", 100 * alike.mean, 100 * alike.se);
  printf(" |");
}

/* A row of the table of steps (its head is docs/benchmarks-days.md's): what a method says too often, what its 95 % interval
 * holds, and how many pulls it takes over the three truths (at 0, 0.5 and 1 %), at levels as they stand and at equal rates. */
static void print_method(courses all, const struct study *s, const char *what, enum method m) {
  for (gboolean even = FALSE; even <= TRUE; even++) {
    struct limits stand = {1, 1, even}, equal = at_equal_rates(all, s->trials, m, even);
    struct limits own = {1, 1, FALSE}, these = {1, 1, even};
    printf("| step | %s, %s | %s%s |", what, world_names[s->kind], method_names[m],
           even ? ", even levels" : "");
    print_share(rate(all, s->trials, m, FALSE, even), s->trials);
    printf(" /");
    print_share(rate(all, s->trials, m, TRUE, even), s->trials);
    printf(" |");
    print_share(covered(all, s->trials, m, 4) / s->trials, s->trials);
    printf(",");
    print_share(covered(all, s->trials, m, 8) / s->trials, s->trials);
    printf(" |");
    print_pulls(all, s, m, &stand, &own, &these);
    own = at_equal_rates(all, s->trials, METHOD_PLAIN, FALSE);
    these = at_equal_rates(all, s->trials, METHOD_PLAIN, even);
    print_pulls(all, s, m, &equal, &own, &these);
    printf("\n");
  }
  fflush(stdout);
}

/* All pulls of one method by those of another, at equal rates. */
static double pulls_by(courses all, const struct study *s, enum method m, enum method other) {
  struct limits one = at_equal_rates(all, s->trials, m, FALSE),
                two = at_equal_rates(all, s->trials, other, FALSE);
  return pulls_to(all, s, m, -1, &one).mean / pulls_to(all, s, other, -1, &two).mean;
}

/* What a study promises of the model; NaN: nothing. */
struct promise {
  const char *what;
  struct day_trouble trouble;
  int stops;
  double wrong, same; /* shares that ever say gain or loss, or same */
  double saves;  /* pulls of the model, B A B A, by the plain answer's, A B A B, at equal rates */
  guint methods; /* beside the model's own and the plain answer of the program */
  gboolean no_past;
  gboolean of_model; /* nothing is promised of the plain answer */
  gboolean briefly;  /* in the short form too */
  gboolean naive;    /* asked too: a look at 95 % after each pull */
};

static void check_rate(struct table *t, courses all, const struct study *s, const struct promise *p,
                       enum method m, gboolean same) {
  char what[200];
  double scale, hits = ever(all, s->trials, m, same, FALSE, &scale);
  double most = same ? p->same : p->wrong;
  snprintf(what, sizeof what, "%s, %s, %s: false %s", world_names[s->kind], p->what,
           method_names[m], same ? "same" : "gain or loss");
  if (isnan(most) || (p->of_model && m == METHOD_GUARD_ABAB))
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
  double scale, hits = ever(all, s->trials, m, FALSE, FALSE, &scale);
  snprintf(what, sizeof what, "%s, %s: false gain or loss", world_names[s->kind], method_names[m]);
  isnan(least) ? for_the_reader(t, what, hits, s->trials)
               : at_least(t, what, hits, s->trials, least);
}

/* WORLD_ENGINE: heavy tails in the morning look like a rough day, and the guard against one makes the answer wider than it need be. */
static void check_cover(struct table *t, courses all, const struct study *s) {
  char what[160];
  for (int n = 4; n <= 8; n += 4) {
    snprintf(what, sizeof what, "%s, cover after %d pulls", world_names[s->kind], n);
    within(t, what, covered(all, s->trials, METHOD_MODEL_ABAB, n), s->trials, 0.94,
           s->kind == WORLD_FIGURES ? 0.965 : 1);
  }
}

/* What is left out of the model must be missed: each control where it is. A drift that begins with the question is cancelled by the order
 * A B A B but for one pull's worth, 0.3 % beside a half-width of 0.36 % after 14 pulls: some 20 % are wrong, for the reader; one that ran
 * since morning has moved A by 2 %: some 40 and 34 % (100 days; half was asked, 30 % is held). Noise that remembers makes A B A B surer than the likeliest point or a
 * look at 95 % takes it for: in WORLD_ENGINE both must fail once its noise forgets. */
static void check_controls(struct table *t, courses all, const struct study *s,
                           const struct promise *p) {
  gboolean white = s->kind == WORLD_FIGURES || p->trouble.forgets;
  if (s->methods & BIT(METHOD_NO_SLOPE))
    check_control(t, all, s, METHOD_NO_SLOPE, p->trouble.all_day ? 0.30 : (double)NAN);
  if (s->methods & BIT(METHOD_PLUG_IN))
    check_control(t, all, s, METHOD_PLUG_IN, white ? 0.10 : (double)NAN);
  if (s->methods & BIT(METHOD_NO_JUMP))
    check_control(t, all, s, METHOD_NO_JUMP, p->stops >= 3 && white ? 0.09 : (double)NAN);
  if (p->naive) {
    char what[160];
    double hits = ever_naively(all, s->trials, METHOD_PLAIN);
    snprintf(what, sizeof what, "%s, control: a look at 95 %% after each pull",
             world_names[s->kind]);
    white ? at_least(t, what, hits, s->trials, 0.15) : for_the_reader(t, what, hits, s->trials);
  }
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
  printf("%s, %s, %d days, seeds %d to %d\n", world_names[kind], p->what, trials, FIRST_SEED,
         FIRST_SEED + trials - 1);
  for (enum method m = 0; m < METHODS; m++)
    if (s.methods & BIT(m))
      print_method(all, &s, p->what, m);
  check_rates(t, all, &s, p);
  if (!isnan(p->saves))
    value_at_most(t, "pulls of the model, B A B A, by the plain answer's, A B A B, at equal rates",
                  pulls_by(all, &s, METHOD_MODEL_BABA, METHOD_PLAIN), p->saves, 0.15, "");
  check_controls(t, all, &s, p);
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
     0.95,
     BIT(METHOD_PLAIN) | BIT(METHOD_NAMED_ABAB) | BIT(METHOD_NAMED_BABA) | BIT(METHOD_GUARD_ABAB) |
         BIT(METHOD_GUARD_BABA) | BIT(METHOD_MODEL_BABA) | BIT(METHOD_KNOWN_ABAB) |
         BIT(METHOD_KNOWN_BABA),
     .naive = TRUE,
     .briefly = TRUE},
    {"drift of 0.3 % a pull",
     {.linear = 0.3},
     0,
     0.07,
     0.07,
     NAN,
     BIT(METHOD_NO_SLOPE) | BIT(METHOD_BARE)},
    {"a stop at each change, 3 pulls a run",
     {0},
     3,
     0.06,
     0.065,
     0.85,
     BIT(METHOD_PLAIN) | BIT(METHOD_GUARD_BABA) | BIT(METHOD_MODEL_BABA) | BIT(METHOD_NO_JUMP),
     .briefly = TRUE},
    {"drift of 0.1 % a pull", {.linear = 0.1}, 0, 0.07, 0.07, NAN, 0},
    {"t3 between pulls", {.heavy = TRUE}, 0, 0.07, 0.07, NAN, 0},
    {"conditions act the other way", {.wrong_way = TRUE}, 0, 0.07, 0.07, NAN, 0},
    {"warm-up of 0.6 %", {.warm_up = 0.6}, 0, 0.06, 0.075, NAN, BIT(METHOD_MODEL_BABA)},
    {"inlet 3 K warmer on B", {.warm_inlet = 3}, 0, 0.06, NAN, NAN, BIT(METHOD_PLAIN)},
    {"one pull of B -1.5 %",
     {.bad_pull = -1.5},
     0,
     0.13,
     0.13,
     NAN,
     BIT(METHOD_MODEL_BABA),
     .of_model = TRUE},
    {"scatter 1.8 times larger today",
     {.rougher = 1.8, .all_day = TRUE},
     0,
     0.12,
     0.12,
     NAN,
     BIT(METHOD_MODEL_BABA),
     .of_model = TRUE},
    {"scatter 1.8 times larger from the question on",
     {.rougher = 1.8},
     0,
     NAN,
     NAN,
     NAN,
     BIT(METHOD_MODEL_BABA) | BIT(METHOD_CAUTIOUS_BABA)},
    {"a jump that nobody told", {.unsaid_jump = 0.4}, 0, NAN, NAN, NAN, 0},
    {"a stop at each change, 2 pulls a run",
     {0},
     2,
     0.06,
     0.065,
     0.85,
     BIT(METHOD_PLAIN) | BIT(METHOD_NO_JUMP) | BIT(METHOD_BARE) | BIT(METHOD_GUARD_BABA) |
         BIT(METHOD_MODEL_BABA)},
    {"the first day of a book",
     {0},
     0,
     NAN,
     NAN,
     NAN,
     BIT(METHOD_PLUG_IN) | BIT(METHOD_BARE) | BIT(METHOD_PLAIN),
     TRUE,
     .naive = TRUE},
    {"the first day of a book, and noise that forgets",
     {.forgets = TRUE},
     0,
     NAN,
     NAN,
     NAN,
     BIT(METHOD_PLUG_IN) | BIT(METHOD_BARE) | BIT(METHOD_PLAIN),
     TRUE,
     .naive = TRUE},
    {"drift of 0.3 % a pull, a stop at each change, 3 pulls a run",
     {.linear = 0.3},
     3,
     NAN,
     NAN,
     NAN,
     BIT(METHOD_NO_SLOPE) | BIT(METHOD_BARE)},
    {"drift of 0.3 % a pull from the day's first pull on",
     {.linear = 0.3, .all_day = TRUE},
     0,
     0.07,
     0.07,
     NAN,
     BIT(METHOD_NO_SLOPE) | BIT(METHOD_BARE),
     .briefly = TRUE},
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
    if (strcmp(arguments[i], "--parts") == 0)
      return printf("%zu\n", G_N_ELEMENTS(promises)) < 0;
    if (strcmp(arguments[i], "--only") == 0 && i + 1 < count)
      only = atoi(arguments[i + 1]);
    if (strcmp(arguments[i], "--days") == 0 && i + 1 < count)
      days = atoi(arguments[i + 1]);
  }
  for (int k = 0; k < (int)G_N_ELEMENTS(promises); k++) {
    if (only >= 0 ? only != k : !t.full && !promises[k].briefly)
      continue;
    begin_line(&t, k, promises[k].what);
    for (enum world_kind kind = 0; kind < WORLDS; kind++)
      study(&t, &promises[k], kind, days ? days : t.full ? 2000 : 60);
    end_line(&t);
  }
  printf("[  PASSED  ] %d test(s).\n", t.lines_passed);
  if (t.lines_failed)
    printf("[  FAILED  ] %d test(s).\n", t.lines_failed);
  return t.lines_failed ? 1 : 0;
}
