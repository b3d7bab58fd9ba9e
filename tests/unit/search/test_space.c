/* Even points, the front, its volume and the evolution, each against something that is known. */
#include "search/evolve.h"
#include "search/influence.h"
#include "search/seen.h"
#include "search/space.h"
#include "unit.h"

static void points_fill_the_cube(void **state) {
  (void)state;
  static const int prime[] = {2, 3, 5, 7};
  for (guint64 seed = 1; seed < 4; seed++)
    for (int j = 0; j < 4; j++) {
      int parts = prime[j] * prime[j], seen[49] = {0};
      for (int n = 0; n < parts; n++) {
        double point[4];
        ew_space_point(seed, (guint64)n, 4, point);
        expect(point[j] >= 0 && point[j] < 1, "within the cube", "%g", point[j]);
        seen[(int)(point[j] * parts)]++;
      }
      for (int k = 0; k < parts; k++)
        expect(seen[k] == 1, "the first b² points fall one each into b² parts (Halton)",
               "seed %d, dimension %d, part %d: %d", (int)seed, j, k, seen[k]);
    }
}

static void a_point_is_its_seed_and_number(void **state) {
  (void)state;
  double a[3], b[3], other[3];
  ew_space_point(7, 123456789012345u, 3, a);
  ew_space_point(7, 1, 3, b);
  ew_space_point(7, 123456789012345u, 3, b);
  ew_space_point(8, 123456789012345u, 3, other);
  assert_memory_equal(a, b, sizeof a);
  assert_memory_not_equal(a, other, sizeof a);
}

static void better_in_everything(void **state) {
  (void)state;
  static const struct {
    const char *says;
    double a[2], a_worse, b[2], b_worse;
    gboolean want;
  } rows[] = {
      {"better in both", {1, 1}, 0, {2, 2}, 0, TRUE},
      {"as good is not better", {1, 1}, 0, {1, 1}, 0, FALSE},
      {"better in one, as good in the other", {1, 1}, 0, {1, 2}, 0, TRUE},
      {"better in one, worse in the other", {1, 3}, 0, {2, 2}, 0, FALSE},
      {"within the limits beats without", {9, 9}, 0, {1, 1}, 0.1, TRUE},
      {"of two beyond the nearer", {9, 9}, 0.1, {1, 1}, 0.2, TRUE},
      {"a figure that is not known beats nothing", {NAN, 1}, 0, {2, 1}, 0, FALSE},
      {"and is beaten", {2, 1}, 0, {NAN, 1}, 0, TRUE},
      {"how far beyond is not known: worst", {1, 1}, NAN, {2, 2}, 5, FALSE},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++)
    expect(ew_dominates(rows[i].a, rows[i].a_worse, rows[i].b, rows[i].b_worse, 2) == rows[i].want,
           rows[i].says, "%d", !rows[i].want);
}

static void the_front_both_ways(void **state) {
  (void)state;
  enum { N = 300 };
  double figure[N * 3], worse[N];
  int rank[N];
  gboolean member[N];
  guint64 random = 5;
  for (int i = 0; i < N; i++) {
    for (int g = 0; g < 3; g++)
      figure[i * 3 + g] = i % 50 == 7 ? NAN : floor(20 * ew_random_share(&random));
    worse[i] = i % 3 ? 0 : ew_random_share(&random);
  }
  ew_front_ranks(figure, worse, N, 3, rank);
  int count = ew_front_of(figure, worse, N, 3, member), ranked = 0;
  for (int i = 0; i < N; i++) {
    expect(member[i] == (rank[i] == 0), "one pass finds what ranks find", "%d: rank %d", i,
           rank[i]);
    ranked += rank[i] == 0;
  }
  assert_int_equal(count, ranked);
}

/* By hand: two boxes that overlap; three in space by inclusion and exclusion. */
static void volumes(void **state) {
  (void)state;
  const double two[] = {1, 3, 2, 1, 5, 5, NAN, 0}, corner[] = {4, 4, 4};
  expect_near(ew_front_volume(two, 4, 2, corner), 3 * 1 + 2 * 3 - 2 * 1, 1e-12,
              "two overlapping boxes; beyond the corner and not known add nothing");
  const double three[] = {1, 2, 3, 2, 1, 3, 3, 3, 1};
  double a = 3 * 2 * 1, b = 2 * 3 * 1, c = 1 * 1 * 3, ab = 2 * 2 * 1, ac = 1 * 1 * 1,
         bc = 1 * 1 * 1, abc = 1 * 1 * 1;
  expect_near(ew_front_volume(three, 3, 3, corner), a + b + c - ab - ac - bc + abc, 1e-12,
              "three boxes");
  expect_near(ew_front_volume(three, 0, 3, corner), 0, 0, "nothing");
  expect_near(ew_front_volume(two, 1, 1, corner), 3, 1e-12, "one goal");
}

/* ZDT1 of E. Zitzler, K. Deb, L. Thiele, Evol. Comput. 8 (2000), 173-195: 30 variables, front f2 = 1 - sqrt(f1). */
static void zdt1(const double *x, double *f, double *worse, gpointer data) {
  (void)worse;
  double sum = 0;
  for (int j = 1; j < *(int *)data; j++)
    sum += x[j];
  double g = 1 + 9 * sum / (*(int *)data - 1);
  f[0] = x[0];
  f[1] = g * (1 - sqrt(x[0] / g));
}

/* Deb and others 2002, table II: NSGA-II (real) on ZDT1, 100 x 250: mean distance to the front 0.0335, variance 0.0048. */
static void evolution_comes_to_the_known_front(void **state) {
  (void)state;
  int n = 30;
  static double point[100 * 30], figure[100 * 2], worse[100];
  struct ew_evolve ask = {.dimensions = n,
                          .goals = 2,
                          .population = 100,
                          .generations = 250,
                          .seed = 1,
                          .judge = zdt1,
                          .data = &n};
  ew_evolve_run(&ask, point, figure, worse);
  double away = 0, low = 1, high = 0;
  for (int i = 0; i < 100; i++) {
    away += (figure[2 * i + 1] - (1 - sqrt(figure[2 * i]))) / 100;
    low = fmin(low, figure[2 * i]);
    high = fmax(high, figure[2 * i]);
  }
  expect(away < 0.0335 + 2 * 0.069, "as near to the front as published", "%g", away);
  expect(low < 0.05 && high > 0.95, "along the whole of it", "%g to %g", low, high);
}

/* T. Ishigami, T. Homma 1990, with a = 7, b = 0.1; the indices follow in closed form (A. Saltelli and others, "Global Sensitivity
 * Analysis: The Primer", Wiley 2008): V = a²/8 + b pi^4/5 + b² pi^8/18 + 1/2. */
static double ishigami(const double *u, gpointer data) {
  (void)data;
  double x[3];
  for (int j = 0; j < 3; j++)
    x[j] = -G_PI + 2 * G_PI * u[j];
  return sin(x[0]) + 7 * pow(sin(x[1]), 2) + 0.1 * pow(x[2], 4) * sin(x[0]);
}
static double flat(const double *u, gpointer data) {
  (void)u;
  (void)data;
  return 3;
}

static void what_matters(void **state) {
  (void)state;
  struct ew_influence got[3];
  double v = 49.0 / 8 + 0.1 * pow(G_PI, 4) / 5 + 0.01 * pow(G_PI, 8) / 18 + 0.5;
  double v1 = 0.5 * pow(1 + 0.1 * pow(G_PI, 4) / 5, 2), v2 = 49.0 / 8,
         v13 = 0.01 * pow(G_PI, 8) * (1.0 / 18 - 1.0 / 50);
  assert_true(ew_influence_of(ishigami, NULL, 3, 8192, 3, got));
  expect_near(got[0].alone, v1 / v, 0.02, "x1 alone");
  expect_near(got[1].alone, v2 / v, 0.02, "x2 alone");
  expect_near(got[2].alone, 0, 0.02, "x3 alone");
  expect_near(got[0].all, (v1 + v13) / v, 0.02, "x1 with others");
  expect_near(got[1].all, v2 / v, 0.02, "x2 with others");
  expect_near(got[2].all, v13 / v, 0.02, "x3 with others");
  assert_false(ew_influence_of(flat, NULL, 3, 64, 3, got));
  expect_near(got[1].all, 0, 0, "nothing matters to what never varies");
}

/* Against a look at every one: free axes, places and names, points that lie on both sides of a cell's edge. */
static void seen_as_a_look_at_all_has_it(void **state) {
  (void)state;
  static const struct ew_axis sets[3][5] = {
      {{0}, {0}, {0}, {0}, {0}},
      {{3, FALSE}, {0}, {4, TRUE}, {0}, {1, FALSE}},
      {{2, FALSE}, {3, FALSE}, {2, TRUE}, {2, FALSE}, {2, FALSE}}};
  for (int set = 0; set < 3; set++) {
    double kept[400 * 5];
    int n = 0, again = 0;
    guint64 random = 5;
    struct ew_seen *seen = ew_seen_new(sets[set], 5);
    for (int i = 0; i < 800; i++) {
      double from[5], point[5];
      gboolean known = FALSE;
      for (int j = 0; j < 5;
           j++) /* every other one is a neighbour of one before it, by up to 1.5 thousandths */
        from[j] =
            i % 2 && n > 0
                ? CLAMP(kept[(i * 7 % n) * 5 + j] + 3e-3 * (ew_random_share(&random) - 0.5), 0, 1)
                : ew_random_share(&random);
      ew_axes_snap(sets[set], 5, from, point);
      for (int k = 0; k < n; k++)
        known |= ew_seen_alike(sets[set], 5, kept + k * 5, point);
      expect(ew_seen_has(seen, point) == known, "seen", "point %d of set %d: %d", i, set, known);
      again += known;
      if (known || n == 400)
        continue;
      memcpy(kept + n++ * 5, point, sizeof point);
      ew_seen_add(seen, point);
    }
    expect(n > 20 && again > 20, "both happen", "%d new, %d again", n, again);
    ew_seen_free(seen);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(points_fill_the_cube),
      cmocka_unit_test(a_point_is_its_seed_and_number),
      cmocka_unit_test(better_in_everything),
      cmocka_unit_test(the_front_both_ways),
      cmocka_unit_test(volumes),
      cmocka_unit_test(evolution_comes_to_the_known_front),
      cmocka_unit_test(what_matters),
      cmocka_unit_test(seen_as_a_look_at_all_has_it),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
