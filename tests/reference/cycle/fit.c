/* Fits and differences against engines whose truth is known: the model itself with turned factors.
 *
 * Coverage of an uncertainty: GUM (JCGM 100:2008), 5.1 and 6.2; runs of sign: Wald and Wolfowitz 1940. */
#include "cycle/vary.h"
#include "engines.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

static struct engine engine;
static const double rpm[] = {2000, 2700, 3400, 4100, 4800, 5500, 6200, 6900};

static void finds_the_factors(void **state) {
  (void)state;
  engine_single(&engine, &engine_b);
  struct ew_cycle_options o;
  ew_cycle_options_defaults(&o);
  o.cell_m = 0.04;
  static const double truth[EW_KNOBS] = {0.94, 1, 1.2, 1};
  struct ew_cycle_model real = ew_cycle_turned(&engine.model, truth);
  struct ew_cycle_result r[8];
  assert_true(ew_cycle_predict(&real, rpm, NULL, 8, &o, r, NULL, NULL));
  g_autoptr(GRand) rand = g_rand_new_with_seed(7);
  struct ew_cycle_measured points[8];
  for (int i = 0; i < 8; i++) {
    double noise = 0;
    for (int k = 0; k < 12; k++)
      noise += g_rand_double(rand) - 0.5;
    points[i] = (struct ew_cycle_measured){rpm[i], r[i].torque_n_m + 0.2 * noise, 0.2, NAN};
  }
  static const gboolean use[EW_KNOBS] = {TRUE, FALSE, TRUE, FALSE};
  struct ew_cycle_fit fit;
  GError *error = NULL;
  if (!ew_cycle_fit(&engine.model, points, 8, use, &o, &fit, &error))
    fail_msg("%s", error->message);
  print_message("rms %.2f -> %.2f N m in %d passes, %d runs; chi2 %.1f of %d, signs z %.1f\n",
                fit.rms_before_n_m, fit.rms_after_n_m, fit.passes, fit.runs, fit.chi_square,
                fit.degrees, fit.sign_changes_z);
  for (int k = 0; k < EW_KNOBS; k++) {
    double sd = sqrt(fit.covariance[k][k]);
    print_message("  %-8s %.3f (%.3f) +- %.3f\n", ew_cycle_knobs[k].name, fit.factor[k], truth[k],
                  sd);
    if (use[k])
      assert_true(fabs(log(fit.factor[k] / truth[k])) < 3 * sd + 0.01 && sd < 0.1);
  }
  assert_true(fit.rms_after_n_m < 0.4 && fit.rms_before_n_m > 3 * fit.rms_after_n_m);
  ew_cycle_fit_clear(&fit);
}

static void differences_are_surer_than_curves(void **state) {
  (void)state;
  struct engine_shape s = engine_b;
  static struct engine raised;
  engine_single(&engine, &s);
  s.ratio += 1;
  engine_single(&raised, &s);
  struct ew_cycle_options o;
  ew_cycle_options_defaults(&o);
  o.cell_m = 0.04;
  o.spark = EW_SPARK_MBT;
  struct ew_cycle_answer a[3];
  static const double at[] = {2500, 4000, 6000};
  GError *error = NULL;
  if (!ew_cycle_vary(&engine.model, &raised.model, at, 3, NULL, &o, a, &error))
    fail_msg("%s", error->message);
  for (int i = 0; i < 3; i++) {
    print_message("%.0f rpm, ratio +1: %+.2f +- %.2f N m, octane %.0f -> %.0f\n", at[i],
                  a[i].change_n_m, a[i].uncertainty_n_m, a[i].octane_from, a[i].octane_to);
    assert_true(a[i].change_n_m > 0.005 * a[i].from_n_m && a[i].change_n_m < 0.05 * a[i].from_n_m);
    assert_true(a[i].uncertainty_n_m < 0.02 * a[i].from_n_m);
    assert_true(a[i].octane_to > a[i].octane_from + 1);
  }
}

static void refuses_poor_points(void **state) {
  (void)state;
  engine_single(&engine, &engine_b);
  struct ew_cycle_options o;
  ew_cycle_options_defaults(&o);
  struct ew_cycle_measured p[3] = {{2000, 40, 1, NAN}, {3000, 41, 1, 20}, {4000, 42, 1, NAN}};
  static const gboolean use[EW_KNOBS] = {TRUE, FALSE, FALSE, FALSE}, none[EW_KNOBS] = {FALSE};
  struct ew_cycle_fit fit;
  g_autoptr(GError) error = NULL;
  assert_false(ew_cycle_fit(&engine.model, p, 2, use, &o, &fit, &error));
  g_clear_error(&error);
  assert_false(ew_cycle_fit(&engine.model, p, 3, use, &o, &fit, &error));
  assert_non_null(strstr(error->message, "spark"));
  g_clear_error(&error);
  p[1].spark_deg = NAN;
  p[2].uncertainty_n_m = 0;
  assert_false(ew_cycle_fit(&engine.model, p, 3, use, &o, &fit, &error));
  g_clear_error(&error);
  p[2].uncertainty_n_m = 1;
  assert_false(ew_cycle_fit(&engine.model, p, 3, none, &o, &fit, &error));
  assert_non_null(strstr(error->message, "no factor"));
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(finds_the_factors),
      cmocka_unit_test(differences_are_surer_than_curves),
      cmocka_unit_test(refuses_poor_points),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
