/* Several cells and a travelling engine: the figures of ISO 5725-2 from published data, and what a difference is widened by.
 *
 * Outside sources, their numbers from memory and checked against each other here:
 * - ISO 5725-2:1994, Annex B, B.1 (sulfur content of coal), level 1: m 0.690, s_r 0.015, s_R 0.026; and level 4: m 3.250, s_r 0.026, s_R 0.058.
 *   If a single reading were misremembered the third decimals would not come out, which they do together for the first level.
 * - O. L. Davies, Statistical Methods in Research and Production (1947): yields of dyestuff of six batches, five each; as the data set
 *   "Dyestuff" of R's lme4 gives them: standard deviations 42.00 between batches and 49.51 within.
 * - Tables 4 and 5 of ISO 5725-2 for Cochran's and Grubbs' critical values. */
#include "unit.h"
#include "judge/between.h"
#include <math.h>

static void check_near(double value, double expected, double within) {
  if (!(fabs(value - expected) <= within))
    fail_msg("%.6f is not %.6f to %.6f", value, expected, within);
}

#define VISIT(...)                                                                                 \
  { (const double[]){__VA_ARGS__}, sizeof((const double[]){__VA_ARGS__}) / sizeof(double) }
#define NOT_BACK ((struct ew_between_visit){NULL, 0})

static void the_published_coal(void **state) {
  (void)state;
  const struct ew_between_visit visits[] = {VISIT(0.71, 0.71, 0.70, 0.71),
                                            VISIT(0.69, 0.67, 0.68),
                                            VISIT(0.66, 0.65, 0.69),
                                            VISIT(0.67, 0.65, 0.66),
                                            VISIT(0.70, 0.69, 0.66, 0.71, 0.69),
                                            VISIT(0.73, 0.74, 0.73),
                                            VISIT(0.71, 0.71, 0.69),
                                            VISIT(0.70, 0.65, 0.68)};
  struct ew_between b = ew_between(visits, 8, NOT_BACK);
  check_near(b.mean, 0.690, 0.0006);
  check_near(b.sd_within, 0.015, 0.0006);
  check_near(b.sd_all, 0.026, 0.0006);
  assert_true(isnan(b.cochran)); /* visits of different lengths */
  assert_true(b.grubbs < b.grubbs_5);
}

static void the_published_dyestuff(void **state) {
  (void)state;
  const struct ew_between_visit visits[] = {
      VISIT(1545, 1440, 1440, 1520, 1580), VISIT(1540, 1555, 1490, 1560, 1495),
      VISIT(1595, 1550, 1605, 1510, 1560), VISIT(1445, 1440, 1595, 1465, 1545),
      VISIT(1595, 1630, 1515, 1635, 1625), VISIT(1520, 1455, 1450, 1480, 1445)};
  struct ew_between b = ew_between(visits, 6, NOT_BACK);
  check_near(b.mean, 1527.5, 1e-9);
  check_near(b.sd_between, 42.00, 0.005);
  check_near(b.sd_within, 49.51, 0.005);
  check_near(b.count_mean, 5, 1e-12);
  check_near(b.freedom_within, 24, 1e-12);
}

static void the_published_critical_values(void **state) {
  (void)state;
  static const struct {
    gsize cells, count;
    double level, value;
  } cochran[] = {{2, 3, 0.05, 0.975}, {3, 3, 0.05, 0.871}, {10, 3, 0.05, 0.445},
                 {3, 3, 0.01, 0.942}, {2, 4, 0.05, 0.939}, {10, 3, 0.01, 0.536}};
  static const struct {
    gsize cells;
    double level, value;
  } grubbs[] = {{3, 0.05, 1.155}, {4, 0.05, 1.481}, {5, 0.05, 1.715},
                {8, 0.05, 2.126}, {8, 0.01, 2.274}, {10, 0.01, 2.482}};
  for (gsize i = 0; i < G_N_ELEMENTS(cochran); i++)
    check_near(ew_cochran_critical(cochran[i].cells, cochran[i].count, cochran[i].level),
               cochran[i].value, 0.0006);
  for (gsize i = 0; i < G_N_ELEMENTS(grubbs); i++)
    check_near(ew_grubbs_critical(grubbs[i].cells, grubbs[i].level), grubbs[i].value, 0.0011);
}

static void cells_that_are_equal(void **state) {
  (void)state;
  const struct ew_between_visit visits[] = {VISIT(5.0, 5.01, 4.99), VISIT(5.0, 5.01, 4.99)};
  struct ew_between b = ew_between(visits, 2, (struct ew_between_visit)VISIT(5.0, 5.01, 4.99));
  check_near(b.sd_between, 0, 0); /* never below zero */
  check_near(b.back, 0, 1e-12);
  check_near(b.back_sd, 0.01 * sqrt(2.0 / 3), 1e-12);
  assert_true(isnan(b.grubbs)); /* of two cells neither is the odd one */
  check_near(ew_between_variance(&b, 0, 1), 1e-4 * 2 / 3, 1e-12);
}

static void the_odd_cell_is_named(void **state) {
  (void)state;
  const struct ew_between_visit visits[] = {VISIT(5.000, 5.002, 4.998), VISIT(5.001, 5.003, 4.999),
                                            VISIT(5.000, 5.001, 4.999), VISIT(5.002, 5.001, 5.000),
                                            VISIT(5.100, 5.080, 5.120)};
  struct ew_between b = ew_between(visits, 5, NOT_BACK);
  assert_int_equal(b.grubbs_cell, 4);
  assert_true(b.grubbs > b.grubbs_1);
  assert_int_equal(b.cochran_cell, 4);
  assert_true(b.cochran > b.cochran_1);
  assert_true(isnan(b.back));
}

/* An engine that lost 1 % on its way must not pass for cells that agree. */
static void what_came_back_is_in_it(void **state) {
  (void)state;
  const struct ew_between_visit visits[] = {VISIT(5.00, 5.00, 5.00), VISIT(5.00, 5.00, 5.00)};
  struct ew_between b = ew_between(visits, 2, (struct ew_between_visit)VISIT(4.99, 4.99, 4.99));
  check_near(sqrt(ew_between_variance(&b, 0, 1)), 0.01, 1e-9);
  check_near(sqrt(ew_between_variance(&b, 1, 0)), 0.01, 1e-9);
}

/* With a true difference of the cells, an interval of 1.96 such deviations leaves it out in at most 5 of 100 rounds: counted. */
static void the_interval_holds(void **state) {
  (void)state;
  static const double differences[] = {0, 0.004, 0.01, 0.03};
  for (gsize k = 0; k < G_N_ELEMENTS(differences); k++) {
    GRand *random = g_rand_new_with_seed(19);
    int out = 0, rounds = 2000;
    for (int i = 0; i < rounds; i++) {
      double v[3][4];
      for (int j = 0; j < 12; j++) {
        double u = 1 - g_rand_double(random), w = g_rand_double(random);
        v[j / 4][j % 4] =
            5 + (j / 4 == 1 ? differences[k] : 0) + 0.003 * sqrt(-2 * log(u)) * cos(2 * G_PI * w);
      }
      const struct ew_between_visit visits[] = {{v[0], 4}, {v[1], 4}};
      struct ew_between b = ew_between(visits, 2, (struct ew_between_visit){v[2], 4});
      out += differences[k] > 1.96 * sqrt(ew_between_variance(&b, 0, 1));
    }
    g_rand_free(random);
    if (out > rounds / 20)
      fail_msg("a difference of %.3f lies outside in %d of %d rounds", differences[k], out, rounds);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(the_published_coal),
                                     cmocka_unit_test(the_published_dyestuff),
                                     cmocka_unit_test(the_published_critical_values),
                                     cmocka_unit_test(cells_that_are_equal),
                                     cmocka_unit_test(the_odd_cell_is_named),
                                     cmocka_unit_test(what_came_back_is_in_it),
                                     cmocka_unit_test(the_interval_holds)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
