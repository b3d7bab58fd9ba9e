#include "judge/difference.h"
#include "unit.h"

static const struct ew_difference_options usual = {.drift_mean = NAN, .drift_sd = NAN};

/* A B A B with a straight drift and no scatter: the drift is taken out to the last bit or nearly. */
static void interleaved_takes_drift_out(void **state) {
  (void)state;
  struct ew_value v[8];
  for (int i = 0; i < 8; i++)
    v[i] = (struct ew_value){i % 2, i, 5 + 0.01 * (i % 2) + 0.002 * i};
  struct ew_difference d = ew_difference(v, 8, (struct ew_spread){0.003, 9, FALSE}, &usual);
  assert_int_equal(d.order, EW_ORDER_INTERLEAVED);
  expect_near(d.difference, 0.01, 1e-12, "the difference");
  expect_near(d.slope, 0.002, 1e-12, "the drift a pull");
  struct ew_difference_options blind = {.no_drift_term = TRUE, .drift_mean = NAN, .drift_sd = NAN};
  expect_near(ew_difference(v, 8, (struct ew_spread){0.003, 9, FALSE}, &blind).difference, 0.012,
              1e-12, "without the term the drift is in it");
}

static void blocks_are_widened(void **state) {
  (void)state;
  struct ew_value blocks[6], mixed[6];
  for (int i = 0; i < 6; i++) {
    blocks[i] = (struct ew_value){i >= 3, i, 5 + (i >= 3 ? 0.01 : 0) + 0.001 * ((i * 7) % 3)};
    mixed[i] = (struct ew_value){i % 2, i, 5 + (i % 2 ? 0.01 : 0) + 0.001 * ((i * 7) % 3)};
  }
  struct ew_spread history = {0.003, 9, FALSE};
  struct ew_difference b = ew_difference(blocks, 6, history, &usual);
  struct ew_difference m = ew_difference(mixed, 6, history, &usual);
  assert_int_equal(b.order, EW_ORDER_BLOCKS);
  assert_true(ew_half_width(&b, 0.05) > 1.3 * ew_half_width(&m, 0.05));
}

/* Pooled by hand: nu0 = min(12, nu_h) and s^2 = (nu0 s_h^2 + SS) / (nu0 + nu_p). */
static void pooling(void **state) {
  (void)state;
  struct ew_value v[] = {{0, 0, 5.000}, {1, 1, 5.012}, {0, 2, 5.004}, {1, 3, 5.008}};
  struct ew_difference_options o = {.no_drift_term = TRUE, .drift_mean = NAN, .drift_sd = NAN};
  struct ew_difference d = ew_difference(v, 4, (struct ew_spread){0.003, 9, FALSE}, &o);
  double squares = 2 * (0.002 * 0.002 + 0.002 * 0.002);
  double variance = (9 * 0.003 * 0.003 + squares) / (9 + 2);
  expect_near(d.sd, sqrt(variance), 1e-12, "pooled");
  expect_near(d.freedom, 11, 1e-12, "degrees of freedom");
  expect_near(d.variance, variance * (0.5 + 0.5), 1e-15, "of the difference");
  expect_near(d.difference, 5.010 - 5.002, 1e-12, "means");
  d = ew_difference(v, 4, (struct ew_spread){0.003, 40, FALSE}, &o);
  expect_near(d.freedom, 14, 1e-12, "history lends at most 12");
  d = ew_difference(v, 4, (struct ew_spread){0.0002, 40, FALSE}, &o);
  assert_true(d.rough_today);
  expect_near(d.sd, sqrt(squares / 2), 1e-12, "a rough day keeps its own spread");
}

/* Values of a day on which drift and difference fit four pulls to 1e-5 by chance: nobody's cell repeats so. */
static void alike_by_chance(void **state) {
  (void)state;
  struct ew_value v[] = {{1, 0, 3.728711}, {0, 1, 3.695820}, {0, 2, 3.696542}, {1, 3, 3.730925}};
  struct ew_difference d = ew_difference(v, 4, (struct ew_spread){0}, &usual);
  expect_near(d.sd, 2e-4, 1e-12, "no finer than a load cell is read");
  assert_true(ew_half_width(&d, 0.05) > 0.002);
}

static void a_side_that_came_back(void **state) {
  (void)state;
  struct ew_value v[] = {{0, 0, 5.00}, {1, 1, 5.01}, {0, 2, 5.03}};
  struct ew_difference d = ew_difference(v, 3, (struct ew_spread){0.003, 9, FALSE}, &usual);
  expect_near(d.first_to_last, 0.03, 1e-12, "A moved by 3 %");
  struct ew_value pair[] = {{0, 0, 5.00}, {1, 1, 5.01}};
  assert_true(
      isnan(ew_difference(pair, 2, (struct ew_spread){0.003, 9, FALSE}, &usual).first_to_last));
}

/* A A in the morning, A and B six pulls later, and a straight drift six times what earlier days drifted by: A's own pulls show it,
 * and none of it may pass for a gain. */
static void a_drift_that_history_does_not_know(void **state) {
  (void)state;
  struct ew_value v[] = {{0, 0, 5.000}, {0, 1, 5.003}, {0, 8, 5.024}, {1, 9, 5.027}};
  struct ew_difference_options o = {.drift_mean = 0, .drift_sd = 0.0005};
  struct ew_difference d = ew_difference(v, 4, (struct ew_spread){0.003, 30, FALSE}, &o);
  assert_int_equal(d.order, EW_ORDER_BLOCKS);
  assert_true(d.drift_today);
  assert_true(fabs(d.difference) < 0.001);
  assert_true(ew_half_width(&d, 0.05) > 2 * fabs(d.difference));
  double weight[4], at_positions = 0;
  ew_difference_weights(v, 4, &d, weight);
  for (int i = 0; i < 4; i++)
    at_positions += weight[i] * v[i].position;
  assert_true(fabs(at_positions) < 0.3); /* of six pulls between the means of the sides */
}

/* What history says of drift keeps its weight where today's pulls agree with it. */
static void a_drift_that_history_knows(void **state) {
  (void)state;
  struct ew_value v[] = {{0, 0, 5.000}, {0, 1, 5.001}, {0, 8, 5.004}, {1, 9, 5.0045}};
  struct ew_difference_options o = {.drift_mean = 0.0005, .drift_sd = 0.0005};
  struct ew_difference d = ew_difference(v, 4, (struct ew_spread){0.003, 30, FALSE}, &o);
  double xx = 9 + 4 + 25, own = d.sd * d.sd / xx,
         weight = 0.0005 * 0.0005 / (0.0005 * 0.0005 + own);
  assert_false(d.drift_today);
  expect_near(d.slope_share, weight, 1e-12, "shares by what is known of each");
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(interleaved_takes_drift_out),
                                     cmocka_unit_test(blocks_are_widened),
                                     cmocka_unit_test(pooling),
                                     cmocka_unit_test(alike_by_chance),
                                     cmocka_unit_test(a_side_that_came_back),
                                     cmocka_unit_test(a_drift_that_history_does_not_know),
                                     cmocka_unit_test(a_drift_that_history_knows)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
