/* Linear least squares against the NIST Statistical Reference Datasets: Norris (a straight line, ozone
 * monitors) and Pontius (a parabola, the calibration of a load cell). Certified to 15 digits (public
 * domain; copies in data/nist-strd). Asked: 12 digits of the coefficients of Norris, 11 of Pontius,
 * whose columns 1, x, x^2 reach from 1 to 9e12 and lose some digits in double arithmetic, and 12 of
 * the standard deviations. */
#include "../near.h"
#include "base/statistics.h"

static double certified(const char *set, const char *quantity) {
  g_auto(GStrv) lines = data_lines("nist-strd/certified-linear.csv");
  for (int i = 1; lines[i]; i++) {
    g_auto(GStrv) cells = cells_of(lines[i]);
    if (strcmp(cells[0], set) == 0 && strcmp(cells[2], quantity) == 0)
      return g_ascii_strtod(cells[3], NULL);
  }
  return NAN;
}

struct points {
  gsize n;
  double x[64], y[64];
};

static struct points read_points(const char *name, int x, int y) {
  g_auto(GStrv) lines = data_lines(name);
  struct points p = {0};
  for (int i = 1; lines[i]; i++) {
    g_auto(GStrv) cells = cells_of(lines[i]);
    assert_true(p.n < G_N_ELEMENTS(p.x));
    p.x[p.n] = g_ascii_strtod(cells[x], NULL);
    p.y[p.n++] = g_ascii_strtod(cells[y], NULL);
  }
  return p;
}

static void check_fit(const char *set, const struct points *p, gsize terms, double coefficients,
                      double deviations) {
  double design[3 * 64];
  assert_true(p->n == certified(set, "n"));
  for (gsize i = 0; i < p->n; i++)
    for (gsize j = 0; j < terms; j++)
      design[i * terms + j] = pow(p->x[i], (double)j);
  struct ew_fit fit;
  assert_true(ew_fit_linear(design, p->y, p->n, terms, &fit, NULL));
  for (gsize j = 0; j < terms; j++) {
    g_autofree char *b = g_strdup_printf("b%zu", j), *sd = g_strdup_printf("sd_b%zu", j);
    assert_relative_says(fit.coefficient[j], certified(set, b), coefficients, b);
    assert_relative_says(sqrt(fit.covariance[j * terms + j]), certified(set, sd), deviations, sd);
  }
  assert_relative(fit.residual_squares, certified(set, "residual_ss"), deviations);
  double r_squared = certified(set, "r_squared"), mean = ew_mean(p->y, p->n, EW_NONE_ABSENT),
         total = 0;
  for (gsize i = 0; i < p->n; i++)
    total += (p->y[i] - mean) * (p->y[i] - mean);
  if (!isnan(r_squared))
    assert_relative(1 - fit.residual_squares / total, r_squared, 1e-14);
}

static void norris(void **state) {
  (void)state;
  struct points p = read_points("nist-strd/linear-norris.csv", 1, 0);
  check_fit("norris", &p, 2, 1e-12, 1e-12);
}

static void pontius(void **state) {
  (void)state;
  struct points p = read_points("nist-strd/linear-pontius-load-cell.csv", 0, 1);
  check_fit("pontius", &p, 3, 1e-11, 1e-12);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(norris), cmocka_unit_test(pontius)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
