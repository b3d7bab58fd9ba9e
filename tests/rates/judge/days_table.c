/* Reads the trials of days.c: rates, pulls at equal rates, and whether they keep what docs/methods.md promises. */
#include "days.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct course (*courses)[METHODS][TRUTHS];

static double most_of(const struct course *c, gboolean same) {
  double most = -INFINITY;
  for (int n = 2; n <= MOST_LOOKS; n++) {
    double r = same ? c->look[n].same : c->look[n].differs;
    if (c->look[n].differs != 0 && r > most)
      most = r;
  }
  return most;
}

static int by_size(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

/* Share of trials that ever say it, and the scale of thresholds at which 5 % would. */
static double ever(courses all, int trials, int m, int truth, gboolean same, double *scale) {
  double *most = g_new(double, trials), hits = 0;
  for (int i = 0; i < trials; i++) {
    most[i] = most_of(&all[i][m][truth], same);
    hits += most[i] > 1;
  }
  qsort(most, (size_t)trials, sizeof *most, by_size);
  if (scale)
    *scale = most[(int)(0.95 * trials)];
  g_free(most);
  return hits / trials;
}

/* Pulls until settled, with thresholds scaled. */
static int settled_after(const struct course *c, double differs, double same, int most) {
  for (int n = 2; n <= most; n++)
    if (c->look[n].differs != 0 && (c->look[n].differs > differs || c->look[n].same > same))
      return n;
  return most;
}

struct pulls {
  double mean, se;
};

static struct pulls pulls_to(courses all, const struct study *s, int m, int truth, double differs,
                             double same) {
  double sum = 0, squares = 0;
  for (int i = 0; i < s->trials; i++) {
    double n = settled_after(&all[i][m][truth], differs, same, s->most);
    sum += n, squares += n * n;
  }
  double mean = sum / s->trials;
  return (struct pulls){mean, sqrt((squares / s->trials - mean * mean) / s->trials)};
}

static double cover(courses all, int trials, int m, int n) {
  double held = 0;
  for (int i = 0; i < trials; i++)
    for (int t = 0; t < TRUTHS; t++) {
      double truth = log1p(truths[t]);
      held += all[i][m][t].low[n] <= truth && truth <= all[i][m][t].high[n];
    }
  return held / (TRUTHS * trials);
}

static void print_method(courses all, const struct study *s, int m) {
  double differs, same;
  double false_differs = ever(all, s->trials, m, 0, FALSE, &differs);
  double false_same = ever(all, s->trials, m, 2, TRUE, &same);
  printf("%-40s wrong %.3f / %.3f  cover %.3f %.3f  pulls", method_names[m], false_differs,
         false_same, cover(all, s->trials, m, 4), cover(all, s->trials, m, 8));
  double total = 0;
  for (int t = 0; t < TRUTHS; t++) {
    struct pulls p = pulls_to(all, s, m, t, differs, same);
    printf(" %.2f(%.2f)", p.mean, p.se);
    total += p.mean;
  }
  printf("  sum %.2f  nominal", total);
  for (int t = 0; t < TRUTHS; t++)
    printf(" %.2f", pulls_to(all, s, m, t, 1, 1).mean);
  printf("\n");
  fflush(stdout);
}

static void print_study(const struct study *s, const char *what) {
  printf("%s, %s, %d days\n", s->kind == WORLD_FIGURES ? "figures" : "engine", what, s->trials);
  courses all = run_study(s);
  for (int m = 0; m < METHODS; m++)
    if (s->methods & (1u << m))
      print_method(all, s, m);
  g_free(all);
}

int main(int count, char **arguments) {
  int trials = 200, only = -1;
  guint methods = (1u << METHODS) - 1;
  for (int i = 1; i + 1 < count; i++) {
    if (strcmp(arguments[i], "--days") == 0)
      trials = atoi(arguments[i + 1]);
    if (strcmp(arguments[i], "--only") == 0)
      only = atoi(arguments[i + 1]);
    if (strcmp(arguments[i], "--methods") == 0)
      methods = (guint)strtoul(arguments[i + 1], NULL, 0);
  }
  const struct {
    const char *what;
    struct day_trouble trouble;
    int stops;
  } rows[] = {
      {"nothing wrong", {0}, 0},
      {"linear 0.1", {.linear = 0.1}, 0},
      {"linear 0.3", {.linear = 0.3}, 0},
      {"warm-up 0.6", {.warm_up = 0.6}, 0},
      {"t3", {.heavy = TRUE}, 0},
      {"one pull -1.5 %", {.bad_pull = -1.5}, 0},
      {"rougher 1.4", {.rougher = 1.4}, 0},
      {"rougher 1.8", {.rougher = 1.8}, 0},
      {"wrong way", {.wrong_way = TRUE}, 0},
      {"jump not said", {.unsaid_jump = 0.4}, 0},
      {"inlet +3 K on B", {.warm_inlet = 3}, 0},
      {"swings x3", {.swings = 3}, 0},
      {"stops, 3 a run", {0}, 3},
      {"stops, 2 a run", {0}, 2},
      {"stops, 1 a run", {0}, 1},
  };
  for (int k = 0; k < (int)G_N_ELEMENTS(rows); k++)
    for (int kind = 0; kind < WORLDS; kind++)
      if (only < 0 || only == k)
        print_study(&(struct study){.kind = (enum world_kind)kind,
                                    .trouble = rows[k].trouble,
                                    .methods = methods,
                                    .pulls_a_run = rows[k].stops,
                                    .most = MOST_LOOKS,
                                    .trials = trials},
                    rows[k].what);
  return 0;
}
