/* The process against numpy (the textbook's formulas with a general inverse), and against figures that it has not seen. */
#include "search/surrogate.h"
#include "search/space.h"
#include "unit.h"

/* numpy 1.24: R = matern + 0.01 I by Rasmussen and Williams (2006), 4.17; level, s² and band by Santner and others (2003),
 * 3.3, each written with numpy.linalg.inv. */
static void as_numpy_has_it(void **state) {
  (void)state;
  static const double x[] = {0.1, 0.2, 0.4, 0.9, 0.7, 0.3, 0.95, 0.6, 0.25, 0.55, 0.5, 0.05};
  static const double y[] = {1.2, -0.3, 2.5, 1.1, 0.4, 2.0}, lengths[] = {0.4, 1.3};
  static const struct {
    double at[2], mean, band;
  } rows[] = {{{0.3, 0.3}, 0.866678000770, 0.371332175581},
              {{0.9, 0.1}, 1.993343864342, 0.693419670854},
              {{0.4, 0.9}, -0.250803905473, 0.239732227253}};
  GError *error = NULL;
  g_autoptr(ew_surrogate) p = ew_surrogate_given(x, y, 6, 2, lengths, 0.01, &error);
  assert_non_null(p);
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    expect_near(ew_surrogate_mean(p, rows[i].at), rows[i].mean, 1e-10, "mean");
    expect_near(ew_surrogate_band(p, rows[i].at), rows[i].band, 1e-10, "band");
  }
  expect_near(ew_surrogate_likelihood(p), -7.355643813294, 1e-9, "likelihood of the contrasts");
}

/* One more that is taken to come out at its mean. The same formulas with a matrix of seven and s² and level of six, each by Gauss-Jordan
 * elimination in Python: the mean stays, the band shrinks most where it is. */
static void one_more_believed(void **state) {
  (void)state;
  static const double x[] = {0.1, 0.2, 0.4, 0.9, 0.7, 0.3, 0.95, 0.6, 0.25, 0.55, 0.5, 0.05};
  static const double y[] = {1.2, -0.3, 2.5, 1.1, 0.4, 2.0}, lengths[] = {0.4, 1.3};
  static const double more[] = {0.3, 0.3};
  static const struct {
    double at[2], mean, band;
  } rows[] = {{{0.3, 0.3}, 0.866678000770, 0.229601408556},
              {{0.9, 0.1}, 1.993343864342, 0.692163589819},
              {{0.4, 0.9}, -0.250803905473, 0.239715852236},
              {{0.35, 0.3}, 0.930084219192, 0.253104717732}};
  g_autoptr(ew_surrogate) p = ew_surrogate_given(x, y, 6, 2, lengths, 0.01, NULL);
  g_autoptr(ew_surrogate) q = ew_surrogate_believing(p, more);
  g_autoptr(ew_surrogate) twice = ew_surrogate_believing(q, more);
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    expect_near(ew_surrogate_mean(q, rows[i].at), rows[i].mean, 1e-10, "mean");
    expect_near(ew_surrogate_band(q, rows[i].at), rows[i].band, 1e-10, "band");
    expect_near(ew_surrogate_mean(twice, rows[i].at), rows[i].mean, 1e-10, "mean");
    expect(ew_surrogate_band(twice, rows[i].at) <= rows[i].band * (1 + 1e-12),
           "the same design again widens nothing", "%g", ew_surrogate_band(twice, rows[i].at));
    expect_near(hypot(ew_surrogate_doubt(q, rows[i].at), ew_surrogate_noise(q)), rows[i].band,
                1e-10, "the band is the doubt of the mean and the noise of a run");
  }
}

/* J. M. Branin's function on the unit square (L. C. W. Dixon, G. P. Szegö 1978). */
static double branin(const double *u) {
  double a = 15 * u[0] - 5, b = 15 * u[1];
  double c = b - 5.1 / (4 * G_PI * G_PI) * a * a + 5 / G_PI * a - 6;
  return c * c + 10 * (1 - 1 / (8 * G_PI)) * cos(a) + 10;
}

/* Of figures that it has not seen the 95 % band holds about 95 %, and more designs make it narrower. */
static void the_band_holds(void **state) {
  (void)state;
  enum { D = 2, UNSEEN = 400 };
  double before = INFINITY;
  for (int n = 15; n <= 60; n *= 2) {
    double x[60 * D], y[60], away = 0;
    int within = 0;
    for (int i = 0; i < n; i++) {
      ew_space_point(11, (guint64)i, D, x + i * D);
      y[i] = branin(x + i * D);
    }
    g_autoptr(ew_surrogate) p = ew_surrogate_new(x, y, n, D, NULL, NULL);
    for (int i = 0; i < UNSEEN; i++) {
      double at[D];
      ew_space_point(99, (guint64)i, D, at);
      double miss = ew_surrogate_mean(p, at) - branin(at);
      away += miss * miss / UNSEEN;
      within += fabs(miss) < 1.96 * ew_surrogate_band(p, at);
    }
    expect(within > 0.88 * UNSEEN, "the band holds what it says", "%d of %d at %d", within, UNSEEN,
           n);
    expect(sqrt(away) < before, "more designs, less error", "%g after %g", sqrt(away), before);
    before = sqrt(away);
  }
  expect(before < 2, "of a spread of 52: less than 4 %", "%g", before);
}

/* Shares of Branin's unseen figures in the 95 % band of 60 even designs, and as many more that crowd in a corner, as it is and as it is told. */
static void shares_of(int crowd, double length, double noise, double *plain, double *told) {
  double x[240], y[120], at[2], lengths[] = {length, length};
  int inside[2] = {0, 0};
  for (int i = 0; i < 60 + crowd; i++) {
    ew_space_point(3, (guint64)i, 2, x + 2 * i);
    if (i >= 60) {
      x[2 * i] = 0.9 + 0.1 * x[2 * i];
      x[2 * i + 1] *= 0.1;
    }
    y[i] = branin(x + 2 * i);
  }
  g_autoptr(ew_surrogate) p = ew_surrogate_given(x, y, 60 + crowd, 2, lengths, noise, NULL);
  ew_surrogate_weigh(p, 60);
  for (int i = 0; i < 400; i++) {
    ew_space_point(3, (guint64)(1000 + i), 2, at);
    double off = fabs(branin(at) - ew_surrogate_mean(p, at));
    inside[0] += off <= 1.96 * ew_surrogate_band(p, at);
    inside[1] += off <= 1.96 * ew_surrogate_told(p, at);
  }
  *plain = inside[0] / 400.0;
  *told = inside[1] / 400.0;
}

/* A band that is too wide is told narrower; one that designs in a crowd made too narrow, as they miss one another by little, is told wider. */
static void a_band_is_told_for_what_it_is_worth(void **state) {
  (void)state;
  double plain, told;
  shares_of(0, 0.5, 1e-5, &plain, &told);
  expect(plain > 0.97 && told < plain && told >= 0.9, "too wide", "%g, told %g", plain, told);
  shares_of(60, 20, 1e-3, &plain, &told);
  expect(plain < 0.9 && told >= 0.9 && told <= 0.98, "too narrow", "%g, told %g", plain, told);
}

static void lengths_say_what_matters(void **state) {
  (void)state;
  double x[40 * 3], y[40];
  for (int i = 0; i < 40; i++) {
    ew_space_point(3, (guint64)i, 3, x + i * 3);
    y[i] = 1000 + 5 * sin(5 * x[i * 3]) + x[i * 3 + 1];
  }
  g_autoptr(ew_surrogate) p = ew_surrogate_new(x, y, 40, 3, NULL, NULL);
  expect(ew_surrogate_length(p, 0) < ew_surrogate_length(p, 1), "the one that turns is shortest",
         "%g, %g", ew_surrogate_length(p, 0), ew_surrogate_length(p, 1));
  expect(ew_surrogate_length(p, 2) > 5, "one that does nothing is long", "%g",
         ew_surrogate_length(p, 2));
  g_autoptr(ew_surrogate) again = ew_surrogate_new(x, y, 40, 3, p, NULL);
  expect(fabs(ew_surrogate_length(again, 0) / ew_surrogate_length(p, 0) - 1) < 0.3,
         "gone on with, it ends where it was", "%g, %g", ew_surrogate_length(again, 0),
         ew_surrogate_length(p, 0));
}

/* The same design twice with two figures is noise; all figures the same are that figure. */
static void the_second_time(void **state) {
  (void)state;
  double x[20], y[20], same[20];
  for (int i = 0; i < 20; i++) {
    x[i] = (i / 2) / 10.0;
    y[i] = x[i] + (i % 2 ? 0.05 : -0.05);
    same[i] = 4;
  }
  g_autoptr(ew_surrogate) p = ew_surrogate_new(x, y, 20, 1, NULL, NULL);
  expect(ew_surrogate_noise(p) > 0.03 && ew_surrogate_noise(p) < 0.12, "the scatter is found", "%g",
         ew_surrogate_noise(p));
  g_autoptr(ew_surrogate) flat = ew_surrogate_new(x, same, 20, 1, NULL, NULL);
  double at = 0.33;
  expect_near(ew_surrogate_mean(flat, &at), 4, 0, "the one figure");
  expect_near(ew_surrogate_band(flat, &at), 0, 0, "no band");
  g_autoptr(ew_surrogate) gone_on = ew_surrogate_new(x, y, 20, 1, flat, NULL);
  assert_non_null(gone_on);
}

static void refused(void **state) {
  (void)state;
  double x[5] = {0, 0.2, 0.4, 0.6, 0.8}, y[5] = {1, 2, NAN, 3, 4};
  GError *error = NULL;
  assert_null(ew_surrogate_new(x, y, 3, 1, NULL, &error));
  expect_refused(error, "3 designs", "too few");
  g_clear_error(&error);
  assert_null(ew_surrogate_new(x, y, 5, 1, NULL, &error));
  expect_refused(error, "design 2", "a figure that is not known");
  g_clear_error(&error);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(as_numpy_has_it),
      cmocka_unit_test(one_more_believed),
      cmocka_unit_test(the_band_holds),
      cmocka_unit_test(a_band_is_told_for_what_it_is_worth),
      cmocka_unit_test(lengths_say_what_matters),
      cmocka_unit_test(the_second_time),
      cmocka_unit_test(refused),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
