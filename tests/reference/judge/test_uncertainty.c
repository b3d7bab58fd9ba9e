/* Combining uncertainties after the GUM. Sources: JCGM 100:2008, examples H.1 (end gauge) and H.3
 * (calibration of a thermometer; its data seen in a public library's documentation, its results from
 * memory and equal to an independent computation); 40 CFR 1065.602 (data/examples.csv). */
#include "../near.h"
#include "judge/budget.h"
#include "judge/calibration.h"
#include "pull/calibrated.h"

/* H.1: 25, 9.7, 2.9, 16.6 nm with 18, 25.6, 50, 2 degrees of freedom: u_c^2 = 1003 nm2 (printed 32 nm),
 * 16.7 degrees (16.8 without rounding), t99(16) = 2.92, U99 = 93 nm. */
static void gum_h1(void **state) {
  (void)state;
  double u[] = {25, 9.7, 2.9, 16.6}, freedom[] = {18, 25.6, 50, 2}, combined, effective;
  ew_combine(u, freedom, 4, &combined, &effective);
  assert_near(combined * combined, 1003, 0.5);
  assert_near(combined, 31.67, 0.006);
  assert_near(effective, 16.8, 0.06);
  double k = ew_coverage_factor(0.99, effective);
  assert_near(k, 2.921, 0.51e-3);
  assert_near(k * combined, 93, 0.6);
}

/* A well-known part adds variance and no degrees of freedom of its own. */
static void infinite_freedom(void **state) {
  (void)state;
  double u[] = {3, 4}, freedom[] = {INFINITY, 8}, combined, effective;
  ew_combine(u, freedom, 2, &combined, &effective);
  assert_near(combined, 5, 1e-15);
  assert_near(effective, 625 * 8 / 256.0, 1e-12);
  double known[] = {INFINITY, INFINITY};
  ew_combine(u, known, 2, &combined, &effective);
  assert_true(isinf(effective));
}

/* H.3: corrections b of a thermometer against its reading t, a line about 20 C. Posed as a load cell's
 * calibration: what is applied is t - 20 + b, what is read t - 20, so that offset is y1 and gain 1 + y2.
 * y1 = -0.1712 (0.0029), y2 = 0.00218 (0.00067), r = -0.930, s = 0.0035; b(30) = -0.1494 (0.0041). */
static void gum_h3(void **state) {
  (void)state;
  static const double t[] = {21.521, 22.012, 22.512, 23.003, 23.507, 23.999,
                             24.513, 25.002, 25.503, 26.010, 26.511};
  static const double b[] = {-.171, -.169, -.166, -.159, -.164, -.165,
                             -.156, -.157, -.159, -.161, -.160};
  struct ew_calibration_point points[11];
  for (int i = 0; i < 11; i++)
    points[i] = (struct ew_calibration_point){t[i] - 20 + b[i], t[i] - 20};
  struct ew_calibration c;
  g_autoptr(GError) error = NULL;
  assert_true(ew_calibrate(points, 11, &c, &error));
  assert_near(c.offset, -0.1712, 0.51e-4);
  assert_near(c.offset_u, 0.0029, 0.51e-4);
  assert_near(c.gain - 1, 0.00218, 0.51e-5);
  assert_near(c.gain_u, 0.00067, 0.51e-5);
  assert_near(c.covariance / (c.offset_u * c.gain_u), -0.930, 0.51e-3);
  assert_near(c.residual_sd, 0.0035, 0.51e-4);
  struct ew_calibrated_line line = {.gain = c.gain,
                                    .gain_u = c.gain_u,
                                    .offset = c.offset,
                                    .offset_u = c.offset_u,
                                    .covariance = c.covariance};
  assert_near(ew_calibrated_value(&line, 10) - 10, -0.1494, 0.51e-4);
  assert_near(ew_calibrated_u(&line, 10), 0.0041, 0.51e-4);
  /* without the correlation it would be 0.0073: the term is essential */
  assert_near(hypot(c.offset_u, 10 * c.gain_u), 0.0073, 0.51e-4);
}

static char **printed(const char *what) {
  g_auto(GStrv) lines = data_lines("examples.csv");
  for (int i = 1; lines[i]; i++) {
    char **cells = cells_of(lines[i]);
    if (strcmp(cells[1], what) == 0)
      return cells;
    g_strfreev(cells);
  }
  assert_true_says(FALSE, what);
  return NULL;
}

/* 1065.602(f)(1): the unpaired t test with its degrees of freedom (Welch and Satterthwaite); (f)(2): the
 * paired one; (g): the F ratio. */
static void part_1065(void **state) {
  (void)state;
  g_auto(GStrv) row = printed("unpaired t statistic");
  g_auto(GStrv) degrees = printed("unpaired t degrees of freedom");
  double n[] = {named(row[2], "Nref"), named(row[2], "N")};
  double u[] = {named(row[2], "sref") / sqrt(n[0]), named(row[2], "sy") / sqrt(n[1])};
  double freedom[] = {n[0] - 1, n[1] - 1}, combined, effective;
  ew_combine(u, freedom, 2, &combined, &effective);
  double t = fabs(named(row[2], "Yref") - named(row[2], "Y")) / combined;
  assert_near(t, g_ascii_strtod(row[3], NULL), 0.51e-2);
  assert_near(effective, g_ascii_strtod(degrees[3], NULL), 0.51e-2);
  g_auto(GStrv) paired = printed("paired t statistic");
  double one = named(paired[2], "s") / sqrt(named(paired[2], "N")), fifteen = 15;
  ew_combine(&one, &fifteen, 1, &combined, &effective);
  assert_near(fabs(named(paired[2], "mean error")) / combined, g_ascii_strtod(paired[3], NULL),
              0.51e-3);
  assert_near(effective, 15, 1e-12);
}

/* Welch's test of the power example (computed, SciPy agrees): A 401.2 402.8 400.9 403.1 402.0, B 405.9
 * 404.1 407.0 405.2 404.8 406.3: t -5.82960, 8.89329 degrees; and of NIST's car mileages (NIST/SEMATECH
 * e-Handbook of Statistical Methods, 1.3.5.3, AUTO83B; from memory and equal to the computed values). */
static void welch(void **state) {
  (void)state;
  double u[] = {0.96177 / sqrt(5), 1.05594 / sqrt(6)}, freedom[] = {4, 5}, combined, effective;
  ew_combine(u, freedom, 2, &combined, &effective);
  assert_near((402.0 - 405.55) / combined, -5.82960, 1e-4);
  assert_near(effective, 8.89329, 1e-4);
  double miles[] = {6.41470 / sqrt(249), 6.10771 / sqrt(79)}, cars[] = {248, 78};
  ew_combine(miles, cars, 2, &combined, &effective);
  assert_near((20.14458 - 30.48101) / combined, -12.94627, 2e-5);
  assert_near(effective, 136.875, 1e-3);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(gum_h1), cmocka_unit_test(infinite_freedom),
                                     cmocka_unit_test(gum_h3), cmocka_unit_test(part_1065),
                                     cmocka_unit_test(welch)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
