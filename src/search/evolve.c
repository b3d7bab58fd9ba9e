/* NSGA-II: see the header for what it is and where it comes from.
 *
 *   begin (given points, then even ones) -> [parents by tournament -> children -> the better half of both] x generations */
#include "search/evolve.h"
#include "base/elementary.h"
#include "search/space.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SPREAD_CROSSOVER 15
#define CHANCE_CROSSOVER 0.9
#define SPREAD_MUTATION  20

struct herd { /* parents in the first half, children in the second */
  const struct ew_evolve *ask;
  int count;
  double *point, *figure, *worse, *room;
  int *rank;
  guint64 random;
};

static double *point_of(const struct herd *h, int i) {
  return h->point + (gsize)i * (gsize)h->ask->dimensions;
}

static void judge(struct herd *h, int i) {
  h->worse[i] = 0;
  h->ask->judge(point_of(h, i), h->figure + (gsize)i * (gsize)h->ask->goals, &h->worse[i],
                h->ask->data);
}

static void begin(struct herd *h) {
  const struct ew_evolve *a = h->ask;
  for (int i = 0; i < a->population; i++) {
    if (i < a->starts)
      memcpy(point_of(h, i), a->start + (gsize)i * (gsize)a->dimensions,
             sizeof(double) * (gsize)a->dimensions);
    else
      ew_space_point(a->seed, (guint64)i, a->dimensions, point_of(h, i));
    judge(h, i);
  }
}

static int winner(struct herd *h) {
  int a = ew_random_below(&h->random, h->ask->population),
      b = ew_random_below(&h->random, h->ask->population);
  if (h->rank[a] != h->rank[b])
    return h->rank[a] < h->rank[b] ? a : b;
  return h->room[a] >= h->room[b] ? a : b;
}

/* Children of one coordinate: as far from their mean as the parents times a drawn spread; either may have the greater. */
static void cross(struct herd *h, double *x, double *y) {
  double u = ew_random_share(&h->random), power = 1.0 / (SPREAD_CROSSOVER + 1);
  double spread = u <= 0.5 ? ew_pow(2 * u, power) : ew_pow(1 / (2 * (1 - u)), power);
  double mean = (*x + *y) / 2, half = spread * (*y - *x) / 2;
  if (ew_random_share(&h->random) < 0.5)
    half = -half;
  *x = CLAMP(mean - half, 0, 1);
  *y = CLAMP(mean + half, 0, 1);
}

static void mutate(struct herd *h, double *x) {
  double u = ew_random_share(&h->random), power = 1.0 / (SPREAD_MUTATION + 1);
  double step = u < 0.5 ? ew_pow(2 * u, power) - 1 : 1 - ew_pow(2 * (1 - u), power);
  *x = CLAMP(*x + step, 0, 1);
}

static void breed(struct herd *h, int child) {
  int n = h->ask->dimensions;
  double *x = point_of(h, child), *y = point_of(h, child + 1);
  memcpy(x, point_of(h, winner(h)), sizeof(double) * (gsize)n);
  memcpy(y, point_of(h, winner(h)), sizeof(double) * (gsize)n);
  gboolean crossed = ew_random_share(&h->random) < CHANCE_CROSSOVER;
  for (int j = 0; j < n; j++) {
    if (crossed && ew_random_share(&h->random) < 0.5)
      cross(h, &x[j], &y[j]);
    if (ew_random_share(&h->random) * n < 1)
      mutate(h, &x[j]);
    if (ew_random_share(&h->random) * n < 1)
      mutate(h, &y[j]);
  }
  judge(h, child);
  judge(h, child + 1);
}

static void rank_first(struct herd *h, int n) {
  ew_front_ranks(h->figure, h->worse, n, h->ask->goals, h->rank);
  ew_front_room(h->figure, h->rank, n, h->ask->goals, h->room);
}

static int by_merit(gconstpointer a, gconstpointer b, gpointer herd) {
  const struct herd *h = herd;
  int i = *(const int *)a, j = *(const int *)b;
  if (h->rank[i] != h->rank[j])
    return h->rank[i] - h->rank[j];
  if (h->room[i] != h->room[j])
    return h->room[i] > h->room[j] ? -1 : 1;
  return i - j;
}

static void reorder(double *row, const int *order, int n, gsize width) {
  g_autofree double *was = g_memdup2(row, sizeof(double) * width * 2 * (gsize)n);
  for (int k = 0; k < n; k++)
    memcpy(row + (gsize)k * width, was + (gsize)order[k] * width, sizeof(double) * width);
}

/* The better half moves to the front. */
static void select_half(struct herd *h) {
  int all = h->count;
  g_autofree int *order = g_new(int, all);
  rank_first(h, all);
  for (int i = 0; i < all; i++)
    order[i] = i;
  g_qsort_with_data(order, all, sizeof *order, by_merit, h);
  reorder(h->point, order, all / 2, (gsize)h->ask->dimensions);
  reorder(h->figure, order, all / 2, (gsize)h->ask->goals);
  reorder(h->worse, order, all / 2, 1);
  rank_first(h, all / 2);
}

void ew_evolve_run(const struct ew_evolve *a, double *point, double *figure, double *worse) {
  g_assert(a->population >= 4 && a->population % 2 == 0 && a->goals >= 1 &&
           a->goals <= EW_GOALS_MOST && a->dimensions >= 1);
  gsize all = 2 * (gsize)a->population;
  g_autofree double *points = g_new(double, all *(gsize)a->dimensions);
  g_autofree double *figures = g_new(double, all *(gsize)a->goals);
  g_autofree double *beyond = g_new0(double, all), *room = g_new0(double, all);
  g_autofree int *rank = g_new0(int, all);
  struct herd h = {.ask = a,
                   .count = (int)all,
                   .point = points,
                   .figure = figures,
                   .worse = beyond,
                   .room = room,
                   .rank = rank,
                   .random = ew_random_seed(a->seed, 77)};
  begin(&h);
  rank_first(&h, a->population);
  for (int g = 0; g < a->generations; g++) {
    for (int child = a->population; child < h.count; child += 2)
      breed(&h, child);
    select_half(&h);
  }
  memcpy(point, points, sizeof(double) * (gsize)a->population * (gsize)a->dimensions);
  memcpy(figure, figures, sizeof(double) * (gsize)a->population * (gsize)a->goals);
  memcpy(worse, beyond, sizeof(double) * (gsize)a->population);
}
