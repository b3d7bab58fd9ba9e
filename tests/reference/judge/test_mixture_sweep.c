/* The optimum of a mixture sweep on measured data: NOx against equivalence ratio of a single-cylinder
 * engine on ethanol (data/ethanol-single-cylinder, after N. D. Brinkman, SAE Transactions 90, 1981; data
 * set of the R package lattice). NOx stands in for torque: it has one maximum, known to lie lean of
 * stoichiometric at an equivalence ratio of about 0.9 (Heywood, Internal Combustion Engine
 * Fundamentals, 11.2; from memory). Its logarithm is taken to 1/15, so that it bends about as torque
 * does; the place of a parabola's top does not move. The same parabola is fitted by GSL here. */
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
    pulls[n] = (struct ew_sweep_pull){1 / ratio, log(nox) / 15, (double)n, NAN, NULL};
    n++;
  }
  return n;
}

/* The parabola, with one row more that lends the curvature that torque usually has (0.3 % of loss at
 * 0.03 of lambda; common practice, no source) with a spread of 0.35 of it; `lent` 0 leaves it out. */
static double vertex_by_gsl(const struct ew_sweep_pull *pulls, gsize n, double lent_sd,
                            double *sd) {
  const double usual = 0.003 / (0.03 * 0.03);
  gsize rows = n + (lent_sd > 0);
  gsl_matrix *x = gsl_matrix_calloc(rows, 3), *covariance = gsl_matrix_alloc(3, 3);
  gsl_vector *y = gsl_vector_calloc(rows), *c = gsl_vector_alloc(3);
  gsl_multifit_linear_workspace *work = gsl_multifit_linear_alloc(rows, 3);
  double squares;
  for (gsize i = 0; i < n; i++) {
    gsl_matrix_set(x, i, 0, 1);
    gsl_matrix_set(x, i, 1, pulls[i].setting);
    gsl_matrix_set(x, i, 2, pulls[i].setting * pulls[i].setting);
    gsl_vector_set(y, i, pulls[i].log_mean);
  }
  if (lent_sd > 0) {
    gsl_matrix_set(x, n, 2, lent_sd / (0.35 * usual));
    gsl_vector_set(y, n, -lent_sd / 0.35);
  }
  gsl_multifit_linear(x, y, c, covariance, &squares, work);
  *sd = sqrt(squares / (double)(rows - 3));
  double vertex = -gsl_vector_get(c, 1) / (2 * gsl_vector_get(c, 2));
  gsl_multifit_linear_free(work);
  gsl_matrix_free(x);
  gsl_matrix_free(covariance);
  gsl_vector_free(y);
  gsl_vector_free(c);
  return vertex;
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
    assert_near(sweep->best, plain, 0.01); /* the lent row tells, a little */
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
