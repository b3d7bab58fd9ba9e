/* The difference of two sides: pooled spread, and orders that take drift out. Sources: NIST/SEMATECH
 * e-Handbook of Statistical Methods, 1.3.5.3 (two-sample t test, AUTO83B; from memory and equal to the
 * computed values); ordinary least squares, which GSL solves here once more from the whole design. */
#include "../near.h"
#include "judge/decide.h"
#include "judge/difference.h"
#include <gsl/gsl_multifit.h>

static const struct ew_spread no_history = {NAN, 0, FALSE};
static const struct ew_difference_options by_the_book = {.no_drift_term = TRUE};
static const struct ew_difference_options with_drift = {.drift_mean = NAN, .drift_sd = NAN};

/* The power example (computed, SciPy agrees): pooled s 1.01516, t 5.77507 at 9 degrees of freedom. */
static void pooled_example(void **state) {
  (void)state;
  static const double a[] = {401.2, 402.8, 400.9, 403.1, 402.0},
                      b[] = {405.9, 404.1, 407.0, 405.2, 404.8, 406.3};
  struct ew_value values[11];
  for (int i = 0; i < 11; i++)
    values[i] = (struct ew_value){i >= 5, i, i < 5 ? a[i] : b[i - 5]};
  struct ew_difference d = ew_difference(values, 11, no_history, &by_the_book);
  assert_near(d.difference, 3.55, 1e-12);
  assert_near(d.sd, 1.01516, 0.51e-5);
  assert_near(d.freedom, 9, 0);
  assert_near(d.difference / sqrt(d.variance), 5.77507, 0.51e-5);
  /* t(0.975; 9) = 2.262, as in the table of 40 CFR 1065.602 */
  assert_relative(ew_half_width(&d, 0.05), 2.262 * sqrt(d.variance), 3e-4);
}

/* Values with a given mean and standard deviation: a row of equal steps, scaled. */
static void fill(struct ew_value *values, int n, int side, double mean, double sd) {
  double squares = 0;
  for (int i = 0; i < n; i++)
    squares += (i - (n - 1) / 2.0) * (i - (n - 1) / 2.0);
  double scale = sd / sqrt(squares / (n - 1));
  for (int i = 0; i < n; i++)
    values[i] = (struct ew_value){side, 0, mean + scale * (i - (n - 1) / 2.0)};
}

/* AUTO83B: 249 and 79 cars, means 20.14458 and 30.48101, sd 6.41470 and 6.10771: s_p 6.34260, t
 * -12.62059 with 326 degrees of freedom, critical value 1.9673. The raw mileages are not needed: only
 * counts, means and deviations enter. */
static void pooled_of_nist(void **state) {
  (void)state;
  struct ew_value *values = g_new(struct ew_value, 328);
  fill(values, 249, 0, 20.14458, 6.41470);
  fill(values + 249, 79, 1, 30.48101, 6.10771);
  struct ew_difference d = ew_difference(values, 328, no_history, &by_the_book);
  assert_near(d.sd, 6.34260, 1e-5);
  assert_near(d.difference / sqrt(d.variance), 12.62059, 2e-5);
  assert_near(d.freedom, 326, 0);
  assert_near(ew_half_width(&d, 0.05) / sqrt(d.variance), 1.9673, 0.51e-4);
  double log_means[328];
  int group[328];
  for (int i = 0; i < 328; i++)
    log_means[i] = values[i].log_mean, group[i] = values[i].side;
  struct ew_spread pooled = ew_pooled_spread(log_means, group, NULL, 328, FALSE);
  assert_near(pooled.sd, 6.34260, 1e-5);
  assert_near(pooled.freedom, 326, 0);
  g_free(values);
}

static gsize values_of(const char *order, struct ew_value *values, double slope, double gain) {
  gsize n = strlen(order);
  for (gsize i = 0; i < n; i++)
    values[i] = (struct ew_value){order[i] == 'B', (double)i,
                                  400 + slope * (double)i + (order[i] == 'B' ? gain : 0)};
  return n;
}

/* A falls by 0.8 a pull and B is 6 better: a pair finds 5.2, ABA and ABBA find 6.0 (computed). */
static void drift_cancels(void **state) {
  (void)state;
  struct ew_value v[8];
  const struct ew_spread history = {0.5, 9, FALSE};
  struct ew_difference d = ew_difference(v, values_of("AB", v, -0.8, 6), history, &with_drift);
  assert_near(d.difference, 5.2, 1e-12);
  static const char *const orders[] = {"ABA", "ABBA", "ABAB", "ABABA", "ABBABA", "ABABAB", "BAB"};
  for (gsize i = 0; i < G_N_ELEMENTS(orders); i++) {
    d = ew_difference(v, values_of(orders[i], v, -0.8, 6), history, &with_drift);
    assert_near_says(d.difference, 6.0, 1e-11, orders[i]);
    assert_near_says(d.slope, -0.8, 1e-12, orders[i]);
  }
  d = ew_difference(v, values_of("ABA", v, -0.8, 6), history, &with_drift);
  assert_near(d.first_to_last, -1.6, 1e-12); /* A2 - A1, shown beside it */
}

/* Variance of the estimate in units of that of one pull, from the whole design by GSL. */
static double variance_of(const char *order) {
  gsize n = strlen(order);
  gsl_matrix *x = gsl_matrix_alloc(n, 3), *covariance = gsl_matrix_alloc(3, 3);
  gsl_vector *y = gsl_vector_calloc(n), *c = gsl_vector_alloc(3), *w = gsl_vector_alloc(n);
  gsl_multifit_linear_workspace *work = gsl_multifit_linear_alloc(n, 3);
  double chi_squared;
  for (gsize i = 0; i < n; i++) {
    gsl_matrix_set(x, i, 0, 1);
    gsl_matrix_set(x, i, 1, order[i] == 'B');
    gsl_matrix_set(x, i, 2, (double)i);
    gsl_vector_set(w, i, 1); /* weights of variance 1: the covariance is not scaled by the rest */
  }
  gsl_multifit_wlinear(x, w, y, c, covariance, &chi_squared, work);
  double variance = gsl_matrix_get(covariance, 1, 1);
  gsl_multifit_linear_free(work);
  gsl_matrix_free(x);
  gsl_matrix_free(covariance);
  gsl_vector_free(y);
  gsl_vector_free(c);
  gsl_vector_free(w);
  return variance;
}

/* sigma^2 (1 + 1/2) for ABA and 1.0 for ABBA, against 2 sigma^2 for a pair (computed); the rest from
 * least squares. */
static void variance_of_the_orders(void **state) {
  (void)state;
  static const struct {
    const char *order;
    double variance;
  } rows[] = {{"ABA", 1.5},    {"ABBA", 1.0},    {"ABAB", 1.25},
              {"ABABA", .833}, {"ABBABA", .675}, {"ABABAB", .729}};
  const struct ew_spread history = {0.5, 9, FALSE};
  struct ew_value v[8];
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_difference d =
        ew_difference(v, values_of(rows[i].order, v, 0, 0), history, &with_drift);
    assert_near_says(1 / d.information, variance_of(rows[i].order), 1e-12, rows[i].order);
    assert_near_says(1 / d.information, rows[i].variance, 0.006, rows[i].order);
    assert_relative_says(d.variance, d.sd * d.sd / d.information, 1e-12, rows[i].order);
  }
}

/* A pair cannot see drift: its variance is 2 sigma^2 and that of an unknown drift of 0.3 % a pull
 * (common practice, no source). */
static void unknown_drift(void **state) {
  (void)state;
  const struct ew_spread history = {0.004, 9, FALSE};
  struct ew_value v[8];
  struct ew_difference d = ew_difference(v, values_of("AB", v, 0, 0), history, &with_drift);
  assert_relative(d.variance, 2 * 0.004 * 0.004 + 0.003 * 0.003, 1e-12);
}

/* In blocks the slope has its own scatter and what history says of it: one weighted row more in the least
 * squares, slope = 0 with a spread of 0.3 % a pull. GSL solves that whole design here. */
static void blocks(void **state) {
  (void)state;
  static const char *const orders[] = {"AABB", "AAABBB", "AAAB", "BBBAAAA"};
  static const double noise[] = {.003, -.005, .004, .001, -.002, .006, -.003};
  const struct ew_spread history = {0.004, 9, FALSE};
  for (gsize k = 0; k < G_N_ELEMENTS(orders); k++) {
    struct ew_value v[8];
    gsize n = values_of(orders[k], v, -0.002, 0.01);
    gsl_matrix *x = gsl_matrix_calloc(n + 1, 3), *covariance = gsl_matrix_alloc(3, 3);
    gsl_vector *y = gsl_vector_calloc(n + 1), *c = gsl_vector_alloc(3),
               *w = gsl_vector_alloc(n + 1);
    gsl_multifit_linear_workspace *work = gsl_multifit_linear_alloc(n + 1, 3);
    for (gsize i = 0; i < n; i++)
      v[i].log_mean += noise[i] - 400;
    struct ew_difference d = ew_difference(v, n, history, &with_drift);
    assert_true(d.order == EW_ORDER_BLOCKS);
    for (gsize i = 0; i < n; i++) {
      gsl_matrix_set(x, i, 0, 1);
      gsl_matrix_set(x, i, 1, v[i].side);
      gsl_matrix_set(x, i, 2, v[i].position);
      gsl_vector_set(y, i, v[i].log_mean);
      gsl_vector_set(w, i, 1 / (d.sd * d.sd));
    }
    gsl_matrix_set(x, n, 2, 1);
    gsl_vector_set(w, n, 1 / (0.003 * 0.003));
    double chi_squared;
    gsl_multifit_wlinear(x, w, y, c, covariance, &chi_squared, work);
    assert_near_says(d.difference, gsl_vector_get(c, 1), 1e-9, orders[k]);
    assert_near_says(d.slope, gsl_vector_get(c, 2), 1e-9, orders[k]);
    assert_relative_says(d.variance, gsl_matrix_get(covariance, 1, 1), 1e-6, orders[k]);
    gsl_multifit_linear_free(work);
    gsl_matrix_free(x);
    gsl_matrix_free(covariance);
    gsl_vector_free(y);
    gsl_vector_free(c);
    gsl_vector_free(w);
  }
}

/* Degrees of freedom of a sum of two variances (Welch and Satterthwaite, as in the GUM, G.4.1). */
static void freedom_of_the_sum(void **state) {
  (void)state;
  const struct ew_spread history = {0.004, 9, FALSE};
  struct ew_value v[2];
  struct ew_difference d = ew_difference(v, values_of("AB", v, 0, 0), history, &with_drift);
  double known = 2 * 0.004 * 0.004, added = 0.003 * 0.003, lent = 6; /* 2/3 of 9 */
  assert_relative(d.freedom, (known + added) * (known + added) / (known * known / lent), 1e-12);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(pooled_example),    cmocka_unit_test(pooled_of_nist),
      cmocka_unit_test(drift_cancels),     cmocka_unit_test(variance_of_the_orders),
      cmocka_unit_test(unknown_drift),     cmocka_unit_test(blocks),
      cmocka_unit_test(freedom_of_the_sum)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
