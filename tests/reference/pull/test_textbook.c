/* Engine arithmetic from a table of samples to BMEP, BSFC and volumetric efficiency. Sources: two worked
 * examples of a university textbook (chapter 17, examples 11 and 12, recomputed:
 * data/textbook-examples), and check values computed from the definitions, as in J. B. Heywood,
 * Internal Combustion Engine Fundamentals, chapter 2. */
#include "engine/engine.h"
#include "processed.h"

static double expected(const char *example, const char *quantity) {
  g_auto(GStrv) lines = data_lines("textbook-examples/examples.csv");
  for (int i = 1; lines[i]; i++) {
    g_auto(GStrv) cells = cells_of(lines[i]);
    if (strcmp(cells[0], example) == 0 && strcmp(cells[1], quantity) == 0)
      return g_ascii_strtod(cells[3], NULL);
  }
  return NAN;
}

static struct ew_engine engine_of(const char *yaml) {
  g_autoptr(GError) error = NULL;
  struct ew_engine engine;
  g_autoptr(ew_node) tree = ew_node_parse("test", yaml, strlen(yaml), &error);
  assert_true_says(tree && ew_engine_read(tree, "test", &engine, &error),
                   error ? error->message : "no tree");
  return engine;
}

/* Three speeds with the same torque and flows a turn, so that the middle point is the example. */
static char *table_of(double rpm, double torque, double fuel_kg_h, double air_kg_h) {
  GString *text = g_string_new("Speed [rpm],Torque [N.m],Fuel flow [kg/h],Air flow [kg/h]\n");
  for (int i = -1; i <= 1; i++) {
    double share = 1 + 0.05 * i;
    g_string_append_printf(text, "%.17g,%.17g,%.17g,%.17g\n", rpm * share, torque,
                           fuel_kg_h * share, air_kg_h * share);
  }
  return g_string_free(text, FALSE);
}

static double at_middle(const struct ew_curve *curve, const char *key) {
  const struct ew_curve_column *column = ew_curve_column(curve, key, 0);
  assert_true_says(column != NULL, key);
  return column->values[1];
}

static struct ew_processed *example(const char *text, const struct ew_engine *engine,
                                    double pressure_pa, double temperature_k) {
  struct ew_method method;
  struct ew_setup setup;
  ew_method_defaults(&method);
  method.standard = EW_STANDARD_NONE;
  ew_setup_defaults(&setup);
  setup.pressure_pa = pressure_pa;
  setup.temperature_k = temperature_k;
  struct ew_processed *processed = processed_with(text, &method, engine, &setup, NULL);
  ew_setup_clear(&setup);
  return processed;
}

/* Eight cylinders of 90 x 80 mm, 42 kgf on an arm of 0.54 m at 4500 rpm (the book takes 9.81 m/s2), 0.44
 * kg/min of fuel, 6 kg/min of air at 1 bar and 300 K (R 287, ours is 287.05287: allowed for). */
static void eight_cylinders(void **state) {
  (void)state;
  struct ew_engine engine = engine_of("cylinders: 8\nbore: 90 mm\nstroke: 80 mm\n");
  g_autofree char *text = table_of(4500, 42 * 9.81 * 0.54, 0.44 * 60, 6 * 60);
  struct ew_processed *processed = example(text, &engine, 1e5, 300);
  const struct ew_curve *curve = only_curve(processed);
  assert_relative(curve->power_w[1] / 1000, expected("ch17 ex12", "brake power"), 1e-7);
  assert_relative(at_middle(curve, "bmep") / 1e5, expected("ch17 ex12", "bmep"), 1e-6);
  assert_relative(at_middle(curve, "bsfc") * 3.6e6, expected("ch17 ex12", "bsfc"), 2e-5);
  assert_relative(at_middle(curve, "ve") * 100,
                  expected("ch17 ex12", "volumetric efficiency") * 287.05287 / 287, 1e-6);
  assert_relative(at_middle(curve, "air_flow") / at_middle(curve, "fuel_flow"),
                  expected("ch17 ex12", "air-fuel ratio"), 1e-6);
  assert_relative(at_middle(curve, "air_flow") / curve->power_w[1] * 3.6e6,
                  expected("ch17 ex12", "bsac"), 2e-5);
  assert_relative(100 / (at_middle(curve, "bsfc") * 44e6),
                  expected("ch17 ex12", "brake thermal efficiency"), 1e-6);
  ew_processed_free(processed);
  ew_engine_clear(&engine);
}

/* Six cylinders of 80 x 100 mm, 150 N m at 4000 rpm, 20 kg/h. Its compression ratio is checked in
 * tests/reference/engine/test_compression.c. */
static void six_cylinders(void **state) {
  (void)state;
  struct ew_engine engine = engine_of("cylinders: 6\nbore: 80 mm\nstroke: 100 mm\n");
  g_autofree char *text = table_of(4000, 150, 20, 280);
  struct ew_processed *processed = example(text, &engine, 1e5, 300);
  const struct ew_curve *curve = only_curve(processed);
  assert_relative(curve->power_w[1] / 1000, expected("ch17 ex11", "brake power"), 1e-6);
  assert_relative(at_middle(curve, "bmep") / 1e5, expected("ch17 ex11", "bmep"), 1e-6);
  assert_relative(100 / (at_middle(curve, "bsfc") * 43e6),
                  expected("ch17 ex11", "brake thermal efficiency"), 1e-6);
  ew_processed_free(processed);
  ew_engine_clear(&engine);
}

/* 200 N m and 2.0 l are 12.56637 bar; 2.0 l, 6000 rpm, VE 1 in dry air of 101325 Pa and 25 C are 426.206
 * kg/h with R 287.055 (computed). */
static void two_litres(void **state) {
  (void)state;
  struct ew_engine engine = engine_of("cylinders: 4\ndisplacement: 2.0 L\n");
  g_autofree char *text = table_of(6000, 200, 30, 426.206);
  struct ew_processed *processed = example(text, &engine, 101325, 298.15);
  const struct ew_curve *curve = only_curve(processed);
  assert_near(at_middle(curve, "bmep") / 1e5, 12.56637, 0.51e-5);
  assert_relative(at_middle(curve, "ve"), 287.05287 / 287.055, 2e-6);
  ew_processed_free(processed);
  ew_engine_clear(&engine);
}

/* The fuel parameter of ISO 1585 from fuel flow and, for a charged engine, the pressure ratio: q = 120000
 * x 5.0 g/s / (2.0 l x 4000 rpm) = 75.0 mg/(l cycle), qc = q/r (definition seen in an engine's service
 * manual that quotes the standard). With r = 1.5, qc = 50 and fm = 0.66. */
static void fuel_parameter(void **state) {
  (void)state;
  struct ew_engine engine = engine_of("cylinders: 4\ndisplacement: 2.0 L\n");
  struct ew_setup setup;
  struct ew_method method;
  ew_setup_defaults(&setup);
  setup.pressure_pa = 97000, setup.temperature_k = 305.15, setup.humidity = 0;
  ew_method_defaults(&method);
  method.standard = EW_STANDARD_ISO1585_CI;
  method.charging = EW_NATURAL;
  const char *natural = "Speed [rpm],Torque [N.m],Fuel flow [g/s]\n"
                        "3900,300,4.0\n4000,300,4.0\n4100,300,4.0\n"; /* q = 60, fm = 1.02 */
  struct ew_processed *processed = processed_with(natural, &method, &engine, &setup, NULL);
  assert_near(only_curve(processed)->factor.factor, pow(99.0 / 97 * pow(305.0 / 298, 0.7), 1.02),
              1e-9);
  ew_processed_free(processed);
  const char *charged = "Speed [rpm],Torque [N.m],Fuel flow [g/s],Manifold pressure [kPa]\n"
                        "3900,300,5.0,145.5\n4000,300,5.0,145.5\n4100,300,5.0,145.5\n";
  method.charging = EW_TURBO;
  processed = processed_with(charged, &method, &engine, &setup, NULL);
  assert_near(only_curve(processed)->factor.factor,
              pow(pow(99.0 / 97, 0.7) * pow(305.0 / 298, 1.2), 0.66), 1e-9);
  assert_true(only_curve(processed)->factor.in_range);
  ew_processed_free(processed);
  /* charged, and the pressure ratio is not known: nothing is corrected, and it says so */
  processed = processed_with(natural, &method, &engine, &setup, NULL);
  assert_true(only_curve(processed)->factor.factor == 1);
  assert_true(!only_curve(processed)->factor.in_range && only_curve(processed)->factor.why_not);
  ew_processed_free(processed);
  ew_setup_clear(&setup);
  ew_engine_clear(&engine);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(eight_cylinders),
                                     cmocka_unit_test(six_cylinders), cmocka_unit_test(two_litres),
                                     cmocka_unit_test(fuel_parameter)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
