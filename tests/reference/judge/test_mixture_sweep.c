/* The optimum of a mixture sweep on measured data: NOx against equivalence ratio of a single-cylinder
 * engine on ethanol (data/ethanol-single-cylinder, after N. D. Brinkman, SAE Transactions 90, 1981; data
 * set of the R package lattice). NOx stands in for torque: it has one maximum, known to lie lean of
 * stoichiometric at an equivalence ratio of about 0.9 (Heywood, Internal Combustion Engine
 * Fundamentals, 11.2; from memory). Its logarithm is taken to 1/15, so that it bends about as torque
 * does; the place of the top does not move. The same augmented cubic is fitted by GSL here. */
#include "../near.h"
#include "judge/sweep.h"
#include <gsl/gsl_multifit.h>

#define MOST 60

/* Points near the top at one compression ratio, lambda = 1/E. */
static gsize points_of(double compression, struct ew_sweep_pull *pulls) {
  g_auto(GStrv) lines = data_lines("ethanol-single-cylinder/ethanol.csv");
  gsize n = 0;
  for (int i = 1; lines[i]; i++) {
    g_auto(GStrv) cells = cells_of(lines[i]);
    double nox = g_ascii_strtod(cells[0], NULL), ratio = g_ascii_strtod(cells[2], NULL);
    if (g_ascii_strtod(cells[1], NULL) != compression || ratio < 0.78 || ratio > 1.05)
      continue;
    assert_true(n < MOST);
    pulls[n] = (struct ew_sweep_pull){1 / ratio, log(nox) / 15, 0, NAN, NULL}; /* order not known */
    n++;
  }
  return n;
}

/* One fit about `centre`. With lent_sd the cubic and the drift a pull come in, and three rows that lend
 * what is usual: the curvature (0.3 % of loss at 0.03 of lambda, spread 0.35 of it; common practice, no
 * source), a lean of 15 % of that loss at 0.03, a drift of 0.15 % a pull. Without it a plain cubic. */
static double vertex_about(const struct ew_sweep_pull *pulls, gsize n, double lent_sd,
                           double centre, double *sd) {
  const double usual = 0.003 / (0.03 * 0.03);
  gsize terms = lent_sd > 0 ? 5 : 4, rows = n + (lent_sd > 0 ? 3 : 0);
  gsl_matrix *x = gsl_matrix_calloc(rows, terms), *covariance = gsl_matrix_alloc(terms, terms);
  gsl_vector *y = gsl_vector_calloc(rows), *c = gsl_vector_alloc(terms);
  gsl_multifit_linear_workspace *work = gsl_multifit_linear_alloc(rows, terms);
  double squares;
  for (gsize i = 0; i < n; i++) {
    for (gsize j = 0; j < terms; j++)
      gsl_matrix_set(x, i, j,
                     j < 4 ? pow(pulls[i].setting - centre, (double)j) : pulls[i].position);
    gsl_vector_set(y, i, pulls[i].log_mean);
  }
  if (lent_sd > 0) {
    gsl_matrix_set(x, n, 2, lent_sd / (0.35 * usual));
    gsl_vector_set(y, n, -lent_sd / 0.35);
    gsl_matrix_set(x, n + 1, 3, lent_sd * 0.03 / (0.15 * usual));
    gsl_matrix_set(x, n + 2, 4, lent_sd / 0.0015);
  }
  gsl_multifit_linear(x, y, c, covariance, &squares, work);
  *sd = sqrt(squares / (double)(rows - terms));
  double b1 = gsl_vector_get(c, 1), b2 = gsl_vector_get(c, 2);
  double b3 = gsl_vector_get(c, 3);
  double vertex = (-b2 - sqrt(b2 * b2 - 3 * b1 * b3)) / (3 * b3);
  gsl_multifit_linear_free(work);
  gsl_matrix_free(x);
  gsl_matrix_free(covariance);
  gsl_vector_free(y);
  gsl_vector_free(c);
  return centre + vertex;
}

/* The usual curvature is that at the best: fitted about the best found before, until it stays. */
static double vertex_by_gsl(const struct ew_sweep_pull *pulls, gsize n, double lent_sd,
                            double *sd) {
  double centre = 1 / 0.9;
  for (int turn = 0; turn < 60; turn++)
    centre = vertex_about(pulls, n, lent_sd, centre, sd);
  return centre;
}

static void best_mixture(void **state) {
  (void)state;
  static const double compressions[] = {7.5, 9, 12, 15, 18};
  int used = 0;
  for (gsize k = 0; k < G_N_ELEMENTS(compressions); k++) {
    struct ew_sweep_pull pulls[MOST];
    gsize n = points_of(compressions[k], pulls);
    if (n < 6)
      continue;
    used++;
    double sd, rest, plain = vertex_by_gsl(pulls, n, 0, &sd);
    double best = vertex_by_gsl(pulls, n, sd, &rest);
    struct ew_sweep_options options = {
        .setting = EW_SWEEP_MIXTURE, .margin = 0.005, .sd = sd, .freedom = 12};
    g_autoptr(GError) error = NULL;
    struct ew_sweep *sweep = ew_sweep(pulls, n, &options, &error);
    assert_true_says(sweep != NULL, error ? error->message : "no message");
    assert_near(sweep->best, best, 1e-9);
    /* what is lent moves the best by less than its own doubt: up to 0.017 where a pull repeats to 0.9 %,
     * else 0.005 at most */
    assert_near(sweep->best, plain, sd > 0.005 ? 0.02 : 0.005);
    assert_true(sweep->best_low < plain && plain < sweep->best_high);
    assert_true(sweep->best_low < best && best < sweep->best_high);
    assert_true(sweep->bracketed);
    assert_near(1 / sweep->best, 0.9, 0.04);
    ew_sweep_free(sweep);
  }
  assert_true(used >= 3);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(best_mixture)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
