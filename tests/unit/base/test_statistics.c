/* Absent values in statistics: counted, left out when the caller counts them, and never compared. Numbers
 * themselves are held to published ones in tests/reference/base. */
#include "base/statistics.h"
#include "unit.h"

/* The same figures with absent ones at every place of the list. */
static void absent_values_are_left_out_and_counted(void **state) {
  (void)state;
  static const double figures[] = {3, -1, 4, 1, 5, -9, 2, 6};
  static const double marks[] = {NAN, INFINITY, -INFINITY};
  const gsize n = G_N_ELEMENTS(figures);
  for (gsize m = 0; m < G_N_ELEMENTS(marks); m++)
    for (gsize at = 0; at <= n; at++)
      for (gsize many = 1; many <= 3; many++) {
        double x[16];
        gsize count = 0, absent = 99;
        for (gsize i = 0; i <= n; i++) {
          for (gsize k = 0; i == at && k < many; k++)
            x[count++] = marks[m];
          if (i < n)
            x[count++] = figures[i];
        }
        assert_true(ew_mean(x, count, &absent) == ew_mean(figures, n, EW_NONE_ABSENT));
        assert_int_equal(absent, many);
        assert_true(ew_standard_deviation(x, count, &absent) ==
                    ew_standard_deviation(figures, n, EW_NONE_ABSENT));
        assert_int_equal(absent, many);
        for (double p = 0; p <= 1; p += 0.125) {
          absent = 99;
          assert_true(ew_quantile(x, count, p, &absent) ==
                      ew_quantile(figures, n, p, EW_NONE_ABSENT));
          assert_int_equal(absent, many);
        }
        assert_true(ew_median(x, count, &absent) == 2.5);
        assert_true(isfinite(ew_autocorrelation(x, count, &absent)));
        assert_int_equal(absent, many);
      }
}

static void nobody_counts_so_there_is_no_answer(void **state) {
  (void)state;
  const double x[] = {1, 2, NAN, 4};
  assert_true(isnan(ew_mean(x, 4, EW_NONE_ABSENT)));
  assert_true(isnan(ew_standard_deviation(x, 4, EW_NONE_ABSENT)));
  assert_true(isnan(ew_median(x, 4, EW_NONE_ABSENT)));
  assert_true(isnan(ew_quantile(x, 4, 0.9, EW_NONE_ABSENT)));
  assert_true(isnan(ew_autocorrelation(x, 4, EW_NONE_ABSENT)));
  assert_true(ew_mean(x, 2, EW_NONE_ABSENT) == 1.5);
}

static void nothing_and_nothing_known(void **state) {
  (void)state;
  const double x[] = {NAN, NAN, INFINITY};
  gsize absent = 99;
  assert_true(isnan(ew_median(x, 3, &absent)));
  assert_int_equal(absent, 3);
  assert_true(isnan(ew_mean(x, 0, &absent)));
  assert_int_equal(absent, 0);
  assert_true(isnan(ew_standard_deviation(x, 3, &absent)));
  const double one[] = {NAN, 7, NAN};
  assert_true(ew_quantile(one, 3, 0.5, &absent) == 7 && absent == 2);
  assert_true(isnan(ew_standard_deviation(one, 3, &absent)));
}

/* Left out of a series, the neighbours of a hole are no pair: 1 -1 1 -1 has -3/4, with a hole in it less. */
static void a_hole_makes_no_neighbours(void **state) {
  (void)state;
  const double whole[] = {1, -1, 1, -1}, hole[] = {1, -1, NAN, 1, -1};
  gsize absent;
  assert_true(ew_autocorrelation(whole, 4, EW_NONE_ABSENT) == -0.75);
  assert_true(ew_autocorrelation(hole, 5, &absent) == -0.5);
}

static void a_fit_refuses_what_is_no_figure(void **state) {
  (void)state;
  static const double marks[] = {NAN, INFINITY, -INFINITY};
  for (gsize m = 0; m < G_N_ELEMENTS(marks); m++)
    for (gsize at = 0; at < 12; at++) {
      double design[] = {1, 1, 1, 2, 1, 3, 1, 4}, y[] = {1, 2, 3, 5};
      at < 8 ? (design[at] = marks[m]) : (y[at - 8] = marks[m]);
      struct ew_fit fit;
      g_autoptr(GError) error = NULL;
      g_autofree char *point = g_strdup_printf("point %zu of 4", (at < 8 ? at / 2 : at - 8) + 1);
      assert_false(ew_fit_linear(design, y, 4, 2, &fit, &error));
      expect_refused(error, point, "a point that is no figure");
    }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(absent_values_are_left_out_and_counted),
                                     cmocka_unit_test(nobody_counts_so_there_is_no_answer),
                                     cmocka_unit_test(nothing_and_nothing_known),
                                     cmocka_unit_test(a_hole_makes_no_neighbours),
                                     cmocka_unit_test(a_fit_refuses_what_is_no_figure)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
