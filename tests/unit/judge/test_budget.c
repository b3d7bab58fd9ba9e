#include "judge/budget.h"
#include "judge/calibration.h"
#include "judge/history.h"
#include "unit.h"

static double part(const struct ew_budget *b, const char *words, gboolean *cancels) {
  for (gsize i = 0; i < b->count; i++)
    if (strstr(b->rows[i].from, words)) {
      *cancels = b->rows[i].cancels;
      return b->rows[i].standard_n_m;
    }
  *cancels = FALSE;
  return 0;
}

static void what_cancels(void **state) {
  (void)state;
  struct ew_bench bench;
  ew_bench_defaults(&bench);
  bench.arm_m = 0.5;
  bench.gain_uncertainty = 0.003;
  struct ew_curve c = {
      .conditions = {.pressure_pa = 99000, .temperature_k = 298, .vapour_pa = 1500},
      .factor = {.factor = 1.02}};
  ew_method_defaults(&c.method);
  struct ew_spread repeat = {0.002, 9, FALSE};
  struct ew_budget b = ew_budget(&bench, NULL, &c, 200, 5, 0.1, repeat, 4);
  static const struct {
    const char *words;
    gboolean cancels;
    double want; /* NaN: not reckoned here */
  } rows[] = {{"gain", TRUE, 0.6},
              {"arm", TRUE, 0.04}, /* 0.1 mm of 500 mm of 200 N·m */
              {"hysteresis", FALSE, 0.11547},
              {"zero", FALSE, 0.69282}, /* 1.2 N·m / sqrt 3 */
              {"inertias", TRUE, 0.25},
              {"weather", TRUE, NAN},
              {"samples", FALSE, 0.1},
              {"repeatability", FALSE, 0.4},
              {"re-mounting", TRUE, 0.8}};
  double all = 0, kept = 0;
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    gboolean cancels;
    double standard = part(&b, rows[i].words, &cancels);
    expect(standard > 0, rows[i].words, "missing");
    expect(cancels == rows[i].cancels, rows[i].words, "%d", cancels);
    if (!isnan(rows[i].want))
      expect_near(standard, rows[i].want, 1e-4, rows[i].words);
    all += standard * standard;
    kept += cancels ? 0 : standard * standard;
  }
  assert_int_equal(b.count, G_N_ELEMENTS(rows));
  expect_near(b.absolute_n_m, sqrt(all), 1e-9, "in quadrature");
  expect_near(b.comparative_n_m, sqrt(kept), 1e-9, "without what cancels");
  assert_true(b.expanded_comparative_n_m < b.expanded_n_m);
  /* a gain error is common to both sides: doubling it moves the absolute figure only */
  bench.gain_uncertainty = 0.006;
  struct ew_budget twice = ew_budget(&bench, NULL, &c, 200, 5, 0.1, repeat, 4);
  assert_true(twice.absolute_n_m > b.absolute_n_m && twice.comparative_n_m == b.comparative_n_m);
}

/* JCGM 100:2008, G.4 and table G.2: t for 95 % is 2.28 at 10, 1.96 for many; Welch-Satterthwaite by hand. */
static void combination(void **state) {
  (void)state;
  const double u[] = {3, 4}, nu[] = {9, INFINITY};
  double combined, freedom;
  ew_combine(u, nu, 2, &combined, &freedom);
  expect_near(combined, 5, 1e-12, "3 and 4 are 5");
  expect_near(freedom, 625.0 / (81.0 / 9), 1e-9, "625 / 9");
  expect_near(ew_coverage_factor(0.95, 10), 2.228, 5e-4, "t at 10");
  expect_near(ew_coverage_factor(0.95, 10.9), 2.228, 5e-4, "truncated down");
  expect_near(ew_coverage_factor(0.95, INFINITY), 1.960, 5e-4, "normal");
}

static void a_straight_calibration(void **state) {
  (void)state;
  struct ew_calibration_point p[] = {{0, 0.2}, {50, 49.2}, {100, 98.2}, {50, 49.5}, {0, 0.2}};
  struct ew_calibration c;
  g_autoptr(GError) error = NULL;
  assert_true(ew_calibrate(p, 5, &c, &error));
  expect_near(c.gain, 1 / 0.98, 0.003, "gain");
  expect_near(c.hysteresis, 0.3, 1e-9, "up and down differ by 0.3");
  assert_true(c.gain_u > 0 && c.offset_u > 0 && c.covariance < 0);
  struct ew_calibrated_line line = {.gain = c.gain,
                                    .gain_u = c.gain_u,
                                    .offset = c.offset,
                                    .offset_u = c.offset_u,
                                    .covariance = c.covariance};
  double u = ew_calibrated_u(&line, 49.35);
  expect_near(ew_calibrated_value(&line, 49.35), 50, 0.15, "in the middle");
  assert_true(u > 0 && u < c.residual_sd);
  assert_false(ew_calibrate(p, 2, &c, &error));
  expect_refused(error, "three points|2", "two points");
  g_clear_error(&error);
  struct ew_calibration_point one[] = {{50, 49}, {50, 49.1}, {50, 49.2}};
  assert_false(ew_calibrate(one, 3, &c, &error));
  expect_refused(error, "one load", "one weight, three times");
  g_clear_error(&error);
  struct ew_calibration_point falling[] = {{0, 0}, {50, -49}, {100, -98}};
  assert_false(ew_calibrate(falling, 3, &c, &error));
  expect_refused(error, "do not rise", "readings that fall");
  g_clear_error(&error);
  struct ew_calibration_point absent[] = {{0, 0}, {50, NAN}, {100, 98}};
  assert_false(ew_calibrate(absent, 3, &c, &error));
  expect_refused(error, "point 2", "a reading that is not a number");
  g_clear_error(&error);
  struct ew_calibration_point wrong[] = {{0, 0}, {50, 500}, {100, 1000}};
  assert_false(ew_calibrate(wrong, 3, &c, &error));
  expect_refused(error, "units and arm", "a factor of ten");
}

static void the_control_chart(void **state) {
  (void)state;
  const double quiet[] = {0.1, 0.2, 0.1, 0.2, 0.15}, wild[] = {0.1, 0.2, 0.1, 0.2, 2};
  assert_true(ew_control_chart(quiet, 5).in_control);
  struct ew_control w = ew_control_chart(wild, 5);
  assert_false(w.in_control);
  expect_near(w.upper - w.centre, 3 * 0.1 / 1.128, 1e-12, "three sigma of the moving range");
  assert_true(ew_control_chart(wild, 3).in_control && isnan(ew_control_chart(wild, 3).centre));
}

/* Nested levels: made with spreads of 0.2 % within a run, 0.3 % more by a restart, 0.4 % more by a day. */
static void history_is_nested(void **state) {
  (void)state;
  g_autoptr(GRand) random = g_rand_new_with_seed(4);
  struct ew_history_pull p[240];
  gsize n = 0;
  double day_part = 0, run_part = 0;
  for (int day = 0; day < 20; day++) {
    for (int k = 0, i = 0; i < 12; i++, k++) {
      double z[3] = {0, 0, 0};
      for (int j = 0; j < 3; j++)
        for (int m = 0; m < 12; m++)
          z[j] += g_rand_double(random) - 0.5; /* the sum of twelve uniforms has variance 1 */
      if (i == 0)
        day_part = 0.004 * z[2];
      if (i % 3 == 0)
        run_part = 0.003 * z[1];
      p[n++] = (struct ew_history_pull){.day = day,
                                        .run = day * 4 + i / 3,
                                        .kind = 1,
                                        .position = i % 3,
                                        .log_mean = 5 + day_part + run_part + 0.002 * z[0]};
    }
  }
  struct ew_spread levels[EW_LEVELS_COUNT];
  ew_learn_spread(p, n, levels);
  expect_near(levels[EW_LEVEL_CONSECUTIVE].sd, 0.002, 0.0003, "within a run");
  expect_near(levels[EW_LEVEL_RESTART].sd, sqrt(4e-6 + 9e-6), 0.0008, "after a restart");
  expect_near(levels[EW_LEVEL_DAY].sd, sqrt(4e-6 + 9e-6 + 16e-6), 0.0016, "another day");
  assert_false(levels[EW_LEVEL_DAY].borrowed);
  assert_true(levels[EW_LEVEL_REMOUNT].borrowed);
  for (int i = 1; i < EW_LEVELS_COUNT; i++)
    assert_true(levels[i].sd >= levels[i - 1].sd);
  expect_near(levels[EW_LEVEL_CONSECUTIVE].freedom, 160, 1e-9, "240 pulls in 80 runs");
}

static void little_history(void **state) {
  (void)state;
  struct ew_spread levels[EW_LEVELS_COUNT];
  ew_learn_spread(NULL, 0, levels);
  assert_true(levels[EW_LEVEL_CONSECUTIVE].freedom == 0);
  struct ew_history_pull two[] = {{.kind = 1, .log_mean = 5}, {.kind = 2, .log_mean = 6}};
  ew_learn_spread(two, 2, levels);
  assert_true(levels[EW_LEVEL_CONSECUTIVE].freedom == 0); /* unlike pulls teach nothing */
  struct ew_history_pull like[] = {{.kind = 1, .log_mean = 5}, {.kind = 1, .log_mean = 5.004}};
  ew_learn_spread(like, 2, levels);
  expect_near(levels[EW_LEVEL_CONSECUTIVE].sd, 0.004 / sqrt(2), 1e-12, "of two");
  assert_true(levels[EW_LEVEL_RESTART].borrowed && levels[EW_LEVEL_RESTART].sd > levels[0].sd);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(what_cancels),           cmocka_unit_test(combination),
      cmocka_unit_test(a_straight_calibration), cmocka_unit_test(the_control_chart),
      cmocka_unit_test(history_is_nested),      cmocka_unit_test(little_history)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
