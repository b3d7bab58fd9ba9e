/* Runs that begin where another engine's left off: within their tolerance what they are from still gas, in fewer cycles; from still gas where
 * the other says nothing of them; and never a state that does not belong to its plan. */
#include "../../reference/cycle/engines.h"
#include "cycle/warm.h"
#include "gas/combustible.h"
#include "unit.h"

#define SPEEDS 2
static const double speeds[SPEEDS] = {3000, 5000};
static struct engine engine; /* large: not on the stack */

static struct ew_cycle_options rough(struct ew_cycle_warm *warm) {
  struct ew_cycle_options options;
  ew_cycle_options_defaults(&options);
  options.cell_m = 0.08;
  options.threads = 1;
  options.warm = warm;
  if (warm)
    options.tolerance = 0.01;
  return options;
}

static void turn(double ratio, double primary_m, double equivalence) {
  engine_four(&engine, &engine_b);
  for (int i = 0; i < engine.model.cylinders; i++)
    engine.cylinder[i].compression_ratio = ratio;
  for (int i = 0; i < engine.model.pipes; i++)
    if (engine.pipe[i].exhaust && engine.pipe[i].length_m > 0.3 && primary_m > 0)
      engine.pipe[i].length_m = primary_m;
  if (equivalence > 0)
    engine.model.equivalence = equivalence;
}

static void run(struct ew_cycle_warm *warm, struct ew_cycle_result *results) {
  struct ew_cycle_options options = rough(warm);
  GError *error = NULL;
  if (!ew_cycle_predict(&engine.model, speeds, NULL, SPEEDS, &options, results, NULL, &error))
    fail_msg("%s", error->message);
}

static void as_from_still_gas(void **state) {
  (void)state;
  static const struct {
    const char *says;
    double ratio, primary_m, equivalence;
    gboolean fewer; /* cycles than from still gas */
  } rows[] = {
      {"the same engine", 10.5, 0, 0, TRUE},
      {"half a ratio more", 11, 0, 0, TRUE},
      {"primaries a tenth shorter", 11, 0.6, 0, TRUE},
      {"and four ratios less: far, and still within", 7, 0.6, 0, FALSE},
      {"a richer mixture is another gas: from still gas", 7, 0.6, 1.25, FALSE},
      {"and on from there", 7.2, 0.6, 1.25, TRUE},
  };
  struct ew_cycle_warm *warm = ew_cycle_warm_new();
  struct ew_cycle_result w[SPEEDS], c[SPEEDS];
  turn(10.5, 0, 0);
  run(warm, w);
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    turn(rows[i].ratio, rows[i].primary_m, rows[i].equivalence);
    run(warm, w);
    run(NULL, c);
    for (int k = 0; k < SPEEDS; k++) {
      expect(w[k].converged && c[k].converged, rows[i].says, "speed %g", speeds[k]);
      /* the rough tolerance, and half of it for the cycles that are not waited for */
      expect_near(w[k].torque_n_m / c[k].torque_n_m, 1, 0.015, rows[i].says);
      expect_near(w[k].spark_deg, c[k].spark_deg, 1.5, rows[i].says);
      expect(!rows[i].fewer || w[k].cycles < c[k].cycles, rows[i].says, "%d cycles, %d",
             w[k].cycles, c[k].cycles);
    }
  }
  ew_cycle_warm_free(warm);
}

/* What was asked before decides the bits; the same before, the same bits. */
static void twice_the_same(void **state) {
  (void)state;
  double torque[2][SPEEDS];
  for (int twice = 0; twice < 2; twice++) {
    struct ew_cycle_warm *warm = ew_cycle_warm_new();
    struct ew_cycle_result w[SPEEDS];
    turn(10.5, 0, 0);
    run(warm, w);
    turn(10.7, 0, 0);
    run(warm, w);
    for (int k = 0; k < SPEEDS; k++)
      torque[twice][k] = w[k].torque_n_m;
    ew_cycle_warm_free(warm);
  }
  assert_memory_equal(torque[0], torque[1], sizeof torque[0]);
}

static struct ew_cycle_plan *plan_of(const struct ew_cycle_options *options) {
  struct ew_cycle_plan *plan = ew_cycle_plan_new(&engine.model, options, NULL, NULL);
  assert_non_null(plan);
  return plan;
}

static void what_fits(void **state) {
  (void)state;
  struct ew_cycle_warm *warm = ew_cycle_warm_new();
  struct ew_cycle_result w[SPEEDS];
  struct ew_cycle_options options = rough(warm), coarse = options;
  const struct ew_cycle_laid *laid;
  turn(10.5, 0, 0);
  struct ew_cycle_plan *same = plan_of(&options);
  assert_null(ew_cycle_warm_at(warm, same, 3000, &laid)); /* nothing was run */
  run(warm, w);
  assert_non_null(ew_cycle_warm_at(warm, same, 3000, &laid));
  assert_non_null(ew_cycle_warm_at(warm, same, 3500, &laid));
  assert_null(ew_cycle_warm_at(warm, same, 4000, &laid)); /* a fifth away from both, and more */
  assert_null(ew_cycle_warm_at(warm, same, NAN, &laid));
  coarse.cell_m = 0.04;
  struct ew_cycle_plan *other_cells = plan_of(&coarse);
  assert_non_null(ew_cycle_warm_at(warm, other_cells, 3000, &laid));
  engine.model.delivery = engine.model.delivery == EW_FUEL_MIXED ? EW_FUEL_PORT : EW_FUEL_MIXED;
  struct ew_cycle_plan *delivery = plan_of(&options);
  assert_null(ew_cycle_warm_at(warm, delivery, 3000, &laid));
  turn(10.5, 0, 1.2);
  struct ew_cycle_plan *gas = plan_of(&options);
  assert_null(ew_cycle_warm_at(warm, gas, 3000, &laid));
  ew_cycle_plan_free(same);
  ew_cycle_plan_free(other_cells);
  ew_cycle_plan_free(delivery);
  ew_cycle_plan_free(gas);
  ew_cycle_warm_free(warm);
}

/* Stopped in the middle: what is held stays, and the next begins there. */
static void cancelled(void **state) {
  (void)state;
  struct ew_cycle_warm *warm = ew_cycle_warm_new();
  struct ew_cycle_result w[SPEEDS];
  struct ew_cycle_options options = rough(warm);
  gint cancel = 1;
  GError *error = NULL;
  turn(10.5, 0, 0);
  run(warm, w);
  options.cancel = &cancel;
  assert_false(ew_cycle_predict(&engine.model, speeds, NULL, SPEEDS, &options, w, NULL, &error));
  expect_refused(error, "cancelled", "cancelled");
  g_clear_error(&error);
  run(warm, w);
  assert_true(w[0].converged && w[0].cycles <= 4);
  ew_cycle_warm_free(warm);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(as_from_still_gas),
      cmocka_unit_test(twice_the_same),
      cmocka_unit_test(what_fits),
      cmocka_unit_test(cancelled),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
