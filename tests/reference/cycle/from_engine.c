/* The project's own example engines, predicted from their files: they must run, settle and be
 * plausible. Bands: Heywood (1988), figures 2-8 and 6-9 and chapter 13, from memory. */
#include "base/node.h"
#include "cycle/from_engine.h"
#include "cycle/predict.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>

static gboolean read_engine(const char *name, struct ew_engine *engine) {
  g_autofree char *path = g_build_filename(g_getenv("EW_EXAMPLES"), "engines", name, NULL);
  GError *error = NULL;
  struct ew_node *node = ew_node_read(path, &error);
  gboolean ok = node && ew_engine_read(node, name, engine, &error);
  if (!ok)
    print_message("%s: %s\n", name, error->message);
  ew_node_free(node);
  return ok;
}

static void examples_run(void **state) {
  (void)state;
  static const char *const names[] = {"flat-four.yaml", "hill-climb-six.yaml", "v8-solid.yaml"};
  for (int i = 0; i < 3; i++) {
    struct ew_engine engine;
    GError *error = NULL;
    assert_true(read_engine(names[i], &engine));
    struct ew_cycle_build *build = ew_cycle_from_engine(&engine, &error);
    if (!build)
      fail_msg("%s: %s", names[i], error->message);
    assert_true(build->notes->len > 2);
    static const double rpm[] = {2500, 3500, 4500, 5500, 6500};
    struct ew_cycle_result r[5];
    struct ew_cycle_options o;
    ew_cycle_options_defaults(&o);
    o.cell_m = 0.04;
    if (!ew_cycle_predict(&build->model, rpm, NULL, 5, &o, r, NULL, &error))
      fail_msg("%s: %s", names[i], error->message);
    for (int k = 0; k < 5; k++) {
      print_message(
          "%s %.0f rpm: %.0f N m, VE %.2f, BMEP %.1f bar, spark %.0f, residual %.1f %%%s\n",
          names[i], rpm[k], r[k].torque_n_m, r[k].volumetric_efficiency, r[k].bmep_pa / 1e5,
          r[k].spark_deg, 100 * r[k].residual_fraction, r[k].knock_limited ? ", knock" : "");
      if (!r[k].converged)
        fail_msg("%s at %g rpm: failure %d", names[i], rpm[k], r[k].why.failure);
      assert_true(r[k].volumetric_efficiency > 0.55 && r[k].volumetric_efficiency < 1.25);
      assert_true(r[k].bmep_pa > 4e5 && r[k].bmep_pa < 15e5);
      assert_true(r[k].energy_residual < 1e-12 && r[k].mass_residual < 1e-12);
    }
    ew_cycle_build_free(build);
    ew_engine_clear(&engine);
  }
}

static void refuses_what_it_cannot_run(void **state) {
  (void)state;
  struct ew_engine engine;
  assert_true(read_engine("flat-four.yaml", &engine));
  g_autoptr(GError) error = NULL;
  engine.strokes = 1;
  assert_null(ew_cycle_from_engine(&engine, &error));
  assert_non_null(strstr(error->message, "four-stroke"));
  g_clear_error(&error);
  engine.strokes = 0;
  g_free(engine.fuel);
  engine.fuel = g_strdup("diesel");
  assert_null(ew_cycle_from_engine(&engine, &error));
  assert_non_null(strstr(error->message, "diesel"));
  ew_engine_clear(&engine);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(examples_run),
      cmocka_unit_test(refuses_what_it_cannot_run),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
