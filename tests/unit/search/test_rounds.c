/* Searches of functions whose best is known. */
#include "search/rounds.h"
#include "search/space.h"
#include "unit.h"

struct problem {
  int runs, designs;
  int fail_at; /* the run that fails; 0: none */
  gboolean barred_left, unsound_right;
};

static double branin(const double *u) {
  double a = 15 * u[0] - 5, b = 15 * u[1];
  double c = b - 5.1 / (4 * G_PI * G_PI) * a * a + 5 / G_PI * a - 6;
  return c * c + 10 * (1 - 1 / (8 * G_PI)) * cos(a) + 10;
}

static gboolean begin_run(struct problem *p, int n, GError **error) {
  p->designs += n;
  return ++p->runs != p->fail_at || ew_refuse(error, "the runner is gone");
}

/* Figures: the function, and what its limit is on. */
static gboolean run_branin(const double *x, int n, double *figures, gboolean *sound, gpointer data,
                           GError **error) {
  struct problem *p = data;
  for (int i = 0; i < n; i++) {
    figures[2 * i] = branin(x + 2 * i);
    figures[2 * i + 1] = x[2 * i];
    sound[i] = !(p->unsound_right && x[2 * i] > 0.9);
  }
  return begin_run(p, n, error);
}

/* ZDT1 in five variables, with both goals turned to "more". */
static gboolean run_two(const double *x, int n, double *figures, gboolean *sound, gpointer data,
                        GError **error) {
  for (int i = 0; i < n; i++, x += 5) {
    double g = 1 + 9 * (x[1] + x[2] + x[3] + x[4]) / 4;
    figures[2 * i] = -x[0];
    figures[2 * i + 1] = g * (1 - sqrt(x[0] / g));
    sound[i] = TRUE;
  }
  return begin_run(data, n, error);
}

static gboolean not_left(const double *point, gpointer data) {
  return !((struct problem *)data)->barred_left || point[0] >= 0.25;
}
static gboolean none(const double *point, gpointer data) {
  (void)point;
  (void)data;
  return FALSE;
}

static const struct ew_axis free_axes[5] = {{0}};
static const struct ew_goal least = {0, FALSE};

static struct ew_search_ask ask_branin(struct problem *p) {
  return (struct ew_search_ask){.axis = free_axes,
                                .goal = &least,
                                .axes = 2,
                                .figures = 2,
                                .goals = 1,
                                .seed = 4,
                                .first = 15,
                                .rounds = 7,
                                .batch = 3,
                                .allowed = not_left,
                                .run = run_branin,
                                .data = p};
}

static double best_of(const struct ew_search_found *f) {
  double best = INFINITY;
  for (int i = 0; i < f->designs; i++)
    if (f->front[i])
      best = fmin(best, f->figure[i * f->figures]);
  return best;
}

/* D. R. Jones, M. Schonlau, W. J. Welch, J. Global Optim. 13 (1998), 455-492, table 1: within 1 % of 0.397887 after 28 runs, one at
 * a time, of one set of first designs; here after 39, of most of eight. Without learning, 39 even points come to some 1.3. */
static void the_least_of_branin(void **state) {
  (void)state;
  int near = 0;
  for (guint64 seed = 1; seed <= 8; seed++) {
    struct problem p = {0};
    struct ew_search_ask ask = ask_branin(&p);
    struct ew_search_found found;
    ask.seed = seed;
    ask.batch = 1;
    ask.rounds = 24;
    assert_true(ew_search_run(&ask, &found, NULL));
    assert_int_equal(found.designs, 39);
    assert_int_equal(p.designs, 39);
    near += best_of(&found) < 0.397887 * 1.01;
    expect(best_of(&found) < 0.397887 * 1.05, "never far from the least", "%g", best_of(&found));
    ew_search_found_clear(&found);
  }
  expect(near >= 6, "within 1 % of the least", "%d of 8", near);
}

/* Several at a time do not huddle: no two of a search are the same to a thousandth of the square, and the least is near after 47 runs, for most
 * of 24 seeds. With hopeful figures in place of what is expected 14 of them came within 1 %; when each only counted with its mean for the next,
 * the worst of the first eight came to 0.65 and the best of a round were one design. */
static void a_batch_is_spread(void **state) {
  (void)state;
  enum { SEEDS = 24 };
  int near = 0, close = 0;
  for (guint64 seed = 1; seed <= SEEDS; seed++) {
    struct problem p = {0};
    struct ew_search_ask ask = ask_branin(&p);
    struct ew_search_found found;
    ask.seed = seed;
    ask.batch = 8;
    ask.rounds = 4;
    assert_true(ew_search_run(&ask, &found, NULL));
    for (int i = 0; i < found.designs; i++)
      for (int j = 0; j < i; j++) {
        double apart = hypot(found.point[2 * i] - found.point[2 * j],
                             found.point[2 * i + 1] - found.point[2 * j + 1]);
        expect(apart > 1e-3, "two designs are apart", "%g in rounds %d and %d", apart,
               found.round[i], found.round[j]);
      }
    near += best_of(&found) < 0.397887 * 1.01;
    close += best_of(&found) < 0.397887 * 1.05;
    expect(best_of(&found) < 0.397887 * 1.1, "never far from the least after four rounds of eight",
           "%g of seed %d", best_of(&found), (int)seed);
    ew_search_found_clear(&found);
  }
  expect(near >= 16 && close >= SEEDS - 1, "near the least after four rounds of eight",
         "%d within 1 %%, %d within 5 %%", near, close);
}

static void what_matters_in_a_search(void **state) {
  (void)state;
  struct problem p = {0};
  struct ew_search_ask ask = ask_branin(&p);
  struct ew_search_found found;
  struct ew_influence influence[2];
  assert_true(ew_search_run(&ask, &found, NULL));
  assert_true(ew_search_influence(&ask, &found, 0, influence));
  expect(influence[0].all > 0.2 && influence[1].all > 0.2, "both matter", "%g %g", influence[0].all,
         influence[1].all);
  assert_false(ew_search_influence(&ask, &found, 1,
                                   influence)); /* neither wanted nor limited: not learned */
  ew_search_found_clear(&found);
}

static void the_same_seed_the_same_designs(void **state) {
  (void)state;
  struct problem p = {0};
  struct ew_search_ask ask = ask_branin(&p);
  struct ew_search_found a, b, other;
  ask.rounds = 3;
  assert_true(ew_search_run(&ask, &a, NULL) && ew_search_run(&ask, &b, NULL));
  ask.seed = 5;
  assert_true(ew_search_run(&ask, &other, NULL));
  assert_memory_equal(a.point, b.point, sizeof(double) * (gsize)(a.designs * a.axes));
  assert_memory_not_equal(a.point, other.point, sizeof(double) * (gsize)(a.designs * a.axes));
  ew_search_found_clear(&a);
  ew_search_found_clear(&b);
  ew_search_found_clear(&other);
}

/* Limits: one that needs no run, one that does, and a part of the cube where nothing can be run. Branin's three least are at
 * x1 of 0.124, 0.543 and 0.962. */
static void within_the_limits(void **state) {
  (void)state;
  struct problem p = {.barred_left = TRUE, .unsound_right = TRUE};
  struct ew_search_ask ask = ask_branin(&p);
  struct ew_limit limit = {1, -INFINITY, 0.5};
  ask.limit = &limit;
  ask.limits = 1;
  struct ew_search_found found;
  assert_true(ew_search_run(&ask, &found, NULL));
  expect(found.barred > 0 && found.unsound > 0, "both are counted", "%d barred, %d unsound",
         found.barred, found.unsound);
  for (int i = 0; i < found.designs; i++) {
    expect(found.point[2 * i] >= 0.25, "what is barred is never run", "%g", found.point[2 * i]);
    expect(!found.front[i] || found.figure[2 * i + 1] <= 0.5, "the front is within", "%g",
           found.figure[2 * i + 1]);
    expect(found.sound[i] || isnan(found.figure[2 * i]), "what did not run has no figure", "%g",
           found.figure[2 * i]);
  }
  /* along x1 = 0.5: least of Branin there, by golden section over x2 */
  double low = INFINITY;
  for (double y = 0; y < 1; y += 1e-4)
    low = fmin(low, branin((double[]){0.5, y}));
  expect(best_of(&found) < low + 0.35, "the best on the limit", "%g, there is %g", best_of(&found),
         low);
  ew_search_found_clear(&found);
}

/* The front of ZDT1 has 2/3 of the unit square behind it, to the corner (1, 1); less 1/3 of what no point fills. */
static double share_of_front(const struct ew_search_found *f) {
  g_autofree double *own = g_new(double, (gsize)f->designs * 2);
  const double corner[2] = {1, 1};
  for (int i = 0; i < f->designs; i++) {
    own[2 * i] = -f->figure[2 * i];
    own[2 * i + 1] = f->figure[2 * i + 1];
  }
  return ew_front_volume(own, f->designs, 2, corner) / (2.0 / 3);
}

static void a_front_of_two(void **state) {
  (void)state;
  static const struct ew_goal goals[] = {{0, TRUE}, {1, FALSE}};
  struct problem p = {0};
  struct ew_search_ask ask = {.axis = free_axes,
                              .goal = goals,
                              .axes = 5,
                              .figures = 2,
                              .goals = 2,
                              .seed = 2,
                              .first = 40,
                              .rounds = 4,
                              .batch = 15,
                              .run = run_two,
                              .data = &p};
  struct ew_search_found found;
  assert_true(ew_search_run(&ask, &found, NULL));
  assert_int_equal(found.designs, 100);
  expect(share_of_front(&found) > 0.94, "94 % of the front's volume after 100 designs", "%g",
         share_of_front(&found));
  ew_search_found_clear(&found);
  ask.first = 100;
  ask.rounds = 0;
  assert_true(ew_search_run(&ask, &found, NULL));
  expect(share_of_front(&found) < 0.5, "which even designs do not come near", "%g",
         share_of_front(&found));
  ew_search_found_clear(&found);
}

/* Places, and names without order: the best part is found though its neighbours are the worst. */
static gboolean run_parts(const double *x, int n, double *figures, gboolean *sound, gpointer data,
                          GError **error) {
  static const struct ew_axis part = {5, TRUE};
  static const double worth[] = {0, 1, 9, 1, 0};
  for (int i = 0; i < n; i++) {
    figures[i] = worth[ew_axis_place(&part, x[2 * i])] - pow(x[2 * i + 1] - 0.6, 2);
    sound[i] = TRUE;
  }
  return begin_run(data, n, error);
}

static void parts_have_no_order(void **state) {
  (void)state;
  static const struct ew_axis axes[] = {{5, TRUE}, {11, FALSE}};
  static const struct ew_goal most = {0, TRUE};
  struct problem p = {0};
  struct ew_search_ask ask = {.axis = axes,
                              .goal = &most,
                              .axes = 2,
                              .figures = 1,
                              .goals = 1,
                              .seed = 1,
                              .first = 12,
                              .rounds = 3,
                              .batch = 4,
                              .run = run_parts,
                              .data = &p};
  struct ew_search_found found;
  assert_true(ew_search_run(&ask, &found, NULL));
  for (int i = 0; i < found.designs; i++) {
    expect(fabs(found.point[2 * i + 1] * 10 - round(found.point[2 * i + 1] * 10)) < 1e-12,
           "runs are on the axis's places", "%g", found.point[2 * i + 1]);
    if (found.front[i]) {
      expect_near(found.point[2 * i], 0.5, 0, "the third part");
      expect_near(found.point[2 * i + 1], 0.6, 0.1 + 1e-12,
                  "at its best place or one beside it, which is 0.1 % less");
    }
    for (int k = 0; k < i; k++)
      expect(memcmp(found.point + 2 * i, found.point + 2 * k, 16) != 0, "none is run twice",
             "%d, %d", i, k);
  }
  /* the whole of it, 55 designs, and not one more */
  ask.first = 40;
  ask.rounds = 5;
  ew_search_found_clear(&found);
  assert_true(ew_search_run(&ask, &found, NULL));
  assert_int_equal(found.designs, 55);
  ew_search_found_clear(&found);
}

static void refused(void **state) {
  (void)state;
  struct problem p = {0};
  struct ew_search_found found;
  GError *error = NULL;
  struct ew_search_ask ask = ask_branin(&p);
  ask.axes = 0;
  assert_false(ew_search_run(&ask, &found, &error));
  expect_refused(error, "change", "nothing to change");
  g_clear_error(&error);
  ask = ask_branin(&p);
  ask.goals = 0;
  assert_false(ew_search_run(&ask, &found, &error));
  expect_refused(error, "want", "nothing wanted");
  g_clear_error(&error);
  ask = ask_branin(&p);
  ask.rounds = 100000;
  assert_false(ew_search_run(&ask, &found, &error));
  expect_refused(error, "100000 rounds", "too much");
  g_clear_error(&error);
  ask = ask_branin(&p);
  ask.allowed = none;
  assert_false(ew_search_run(&ask, &found, &error));
  assert_int_equal(error->code, EW_ERROR_NO);
  g_clear_error(&error);
  for (p.fail_at = 1; p.fail_at < 6; p.fail_at++) { /* the runner fails at each of its calls */
    p.runs = 0;
    ask = ask_branin(&p);
    assert_false(ew_search_run(&ask, &found, &error));
    expect_refused(error, "gone", "the runner's own words");
    g_clear_error(&error);
    assert_null(found.point);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_least_of_branin),      cmocka_unit_test(a_batch_is_spread),
      cmocka_unit_test(what_matters_in_a_search), cmocka_unit_test(the_same_seed_the_same_designs),
      cmocka_unit_test(within_the_limits),        cmocka_unit_test(a_front_of_two),
      cmocka_unit_test(parts_have_no_order),      cmocka_unit_test(refused),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
