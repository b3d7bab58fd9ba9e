/* Changes to an engine: how they are read, what they come to, and what kept answers depend on. */
#include "desk/vary.h"
#include "unit.h"

static const char six[] = "name: six\ncylinders: 6\nbore: 86 mm\nstroke: 86 mm\nfuel: petrol\n"
                          "lambda_target: 0.88\ngeometry: {rod_length: 150 mm}\n"
                          "breathing: {primary_length: 800 mm, primary_diameter: 42 mm}\n"
                          "compression: {ratio: 10.5}\n";

/* How a text is read: S sets, B changes by, P scales. */
static void texts(void **state) {
  (void)state;
  static const struct {
    const char *text;
    char how;
    double figure;
    const char *refused;
  } rows[] = {
      {"lambda=0.80", 'S', 0.80, NULL},
      {"lambda=+0.02", 'B', 0.02, NULL},
      {"lambda=-0.02", 'B', -0.02, NULL},
      {"lambda=−0.02", 'B', -0.02, NULL},
      {"lambda = 0.80 ", 'S', 0.80, NULL},
      {"compression=+5 %", 'P', 1.05, NULL},
      {"compression=-5%", 'P', 0.95, NULL},
      {"compression=95 %", 'P', 0.95, NULL},
      {"compression=11", 'S', 11, NULL},
      {"primary_length=30 in", 'S', 0.762, NULL},
      {"primary_length=-100 mm", 'B', -0.1, NULL},
      {"air_temperature=+10 K", 'B', 10, NULL},
      {"air_temperature=30 degC", 'S', 303.15, NULL},
      {"altitude=1500 m", 'S', 1500, NULL},
      {"cam_advance=+4 deg", 'B', 4, NULL},
      {"cam_advance=4 deg", 0, 0, "no sign|+4 deg or -4 deg"},
      {"cam_advance=+4 %", 0, 0, "percentage"},
      {"air_temperature=+4 %", 0, 0, "percentage"},
      {"compression=5 %", 0, 0, "scales to 5 %|+5 %"},
      {"compression=+500 %", 0, 0, "600 %"},
      {"primary_length=30", 0, 0, "unit"},
      {"compression=", 0, 0, "compression"},
      {"compresion=+1", 0, 0, "compression"},
      {"compression", 0, 0, "NAME=CHANGE"},
      {"bore=+1 mm", 'B', 0.001, NULL},
      {"breathing.plenum=3 l", 'S', 0.003, NULL},
      {"geometry.rod_length=-5 %", 'P', 0.95, NULL},
      {"inlet.head_diameter=1.7 in", 'S', 0.04318, NULL},
      {"bore=+1", 0, 0, "unit"},
      {"owner=Smith", 0, 0, "no such change|bore"},
      {"breathing=1", 0, 0, "breathing"},
      {"breathing.nothing=1", 0, 0, "breathing.nothing"},
  };
  static const char hows[] = {[EW_ADJUST_SET] = 'S', [EW_ADJUST_BY] = 'B', [EW_ADJUST_SCALE] = 'P'};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GArray) into = ew_variations_new();
    g_autoptr(GError) error = NULL;
    gboolean good = ew_variation_parse(rows[i].text, into, &error);
    expect(good == (rows[i].how != 0), rows[i].text, "%s", error ? error->message : "read");
    if (!good) {
      expect_refused(error, rows[i].refused, rows[i].text);
      continue;
    }
    struct ew_adjustment change = g_array_index(into, struct ew_variation, 0).change;
    expect(hows[change.how] == rows[i].how, rows[i].text, "%c", hows[change.how]);
    expect_near(change.figure, rows[i].figure, 1e-9, rows[i].text);
  }
}

static struct ew_engine engine_of(const char *yaml) {
  struct ew_engine engine;
  g_autoptr(GError) error = NULL;
  g_autoptr(ew_node) root = ew_node_parse("engine", yaml, strlen(yaml), &error);
  expect(root && ew_engine_read(root, "engine", &engine, &error), "the engine", "%s",
         error ? error->message : "");
  return engine;
}

/* Changes to figures of the engine itself, one after the other. */
static void changed_in_turn(void **state) {
  (void)state;
  struct ew_engine engine = engine_of(six);
  struct ew_varying at = {.engine = &engine, .spark_deg = NAN};
  g_autoptr(GArray) all = ew_variations_new();
  assert_true(ew_variation_parse("primary_length=-5 %,+40 mm,700 mm", all, NULL));
  const double want[] = {0.760, 0.800, 0.700};
  const char *const says[] = {"primary_length 800 mm → 760 mm", "primary_length 760 mm → 800 mm",
                              "primary_length 800 mm → 700 mm"};
  for (guint i = 0; i < all->len; i++) {
    const struct ew_variation *v = &g_array_index(all, struct ew_variation, i);
    struct ew_reach reach;
    assert_true(ew_vary(&at, v, FALSE, &reach, NULL));
    expect_near(engine.breathing.primary_length_m, want[i], 1e-12, v->text);
    g_autofree char *text = ew_variation_says(v, reach);
    expect(strcmp(text, says[i]) == 0, v->text, "%s", text);
  }
  /* the file gives no runner: a change of nothing is refused, a figure is taken */
  static const struct {
    const char *text, *refused;
  } rows[] = {{"runner_length=+50 mm", "gives no runner_length|without a sign"},
              {"runner_length=-5 %", "gives no runner_length"},
              {"primary_length=-900 mm", "far out of range"},
              {"runner_length=300 mm", NULL}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GArray) one = ew_variations_new();
    g_autoptr(GError) error = NULL;
    assert_true(ew_variation_parse(rows[i].text, one, NULL));
    gboolean good = ew_vary(&at, &g_array_index(one, struct ew_variation, 0), FALSE, NULL, &error);
    expect(good == (rows[i].refused == NULL), rows[i].text, "%s", error ? error->message : "done");
    if (!good)
      expect_refused(error, rows[i].refused, rows[i].text);
  }
  expect_near(engine.breathing.runner_length_m, 0.3, 1e-12, "a runner set");
  ew_engine_clear(&engine);
}

static void said(void **state) {
  (void)state;
  static const struct {
    const char *text;
    struct ew_reach reach;
    const char *says;
  } rows[] = {
      {"lambda=0.80", {0.88, 0.80}, "lambda 0.88 → 0.80"},
      {"lambda=+0.005", {0.88, 0.885}, "lambda 0.88 → 0.885"},
      {"compression=+0.5", {10.5, 11}, "compression 10.5 → 11"},
      {"compression=+5 %", {10.5, 11.025}, "compression 10.5 → 11.03"},
      {"altitude=1500 m", {110.9, 1500}, "altitude 111 m → 1500 m"},
      {"air_temperature=+10 K", {298.15, 308.15}, "air_temperature 25 °C → 35 °C"},
      {"cam_advance=+4 deg", {0, 4}, "cam_advance +4 deg"},
      {"runner_length=300 mm", {NAN, 0.3}, "runner_length not in the file → 300 mm"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GArray) one = ew_variations_new();
    assert_true(ew_variation_parse(rows[i].text, one, NULL));
    g_autofree char *text =
        ew_variation_says(&g_array_index(one, struct ew_variation, 0), rows[i].reach);
    expect(strcmp(text, rows[i].says) == 0, rows[i].text, "%s", text);
  }
}

/* Any figure of the file: changed where it is, said by its name, refused beyond its field's limits. */
static void fields_of_the_file(void **state) {
  (void)state;
  struct ew_engine engine = engine_of(six);
  struct ew_varying at = {.engine = &engine, .spark_deg = NAN};
  g_autoptr(GArray) all = ew_variations_new();
  assert_true(ew_variation_parse("bore=+1 mm", all, NULL));
  assert_true(ew_variation_parse("geometry.rod_length=140 mm", all, NULL));
  assert_true(ew_variation_parse("breathing.plenum=+1 l", all, NULL));
  assert_true(ew_variation_parse("bore=9 m", all, NULL));
  const struct ew_variation *v = &g_array_index(all, struct ew_variation, 0);
  struct ew_reach reach = {NAN, NAN};
  assert_true(ew_variation_is_field(v) && ew_vary(&at, v, FALSE, &reach, NULL));
  expect_near(engine.bore_m, 0.087, 1e-12, "bore");
  g_autofree char *says = ew_variation_says(v, reach);
  assert_string_equal(says, "bore 86 mm → 87 mm");
  assert_true(ew_vary(&at, v + 1, FALSE, &reach, NULL));
  expect_near(engine.geometry.rod_length_m, 0.14, 1e-12, "rod");
  g_autofree char *rod = ew_variation_says(v + 1, reach);
  assert_string_equal(rod, "geometry.rod_length 150 mm → 140 mm");
  g_autoptr(GError) error = NULL;
  assert_false(ew_vary(&at, v + 2, FALSE, &reach, &error));
  expect_refused(error, "breathing.plenum|without a sign", "a figure that the file does not give");
  g_clear_error(&error);
  assert_false(ew_vary(&at, v + 3, FALSE, &reach, &error));
  expect_refused(error, "range", "a bore of nine metres");
  expect_near(engine.bore_m, 0.087, 1e-12, "a refused change changes nothing");
  assert_true(ew_vary(&at, v, TRUE, &reach, NULL)); /* of the other pass: left alone */
  ew_engine_clear(&engine);
}

static struct ew_engine example(const char *name) {
  g_autofree char *text = NULL,
                  *path = g_strdup_printf("%s/engines/%s.yaml", g_getenv("EW_EXAMPLES"), name);
  assert_true(g_file_get_contents(path, &text, NULL, NULL));
  return engine_of(text);
}

static void key(const struct ew_vary *ask, const GArray *set, char *hex, const char *says) {
  g_autoptr(GError) error = NULL;
  expect(ew_vary_key(ask, set, hex, &error), says, "%s", error ? error->message : "");
}

/* Kept answers belong to all that they were computed from, and to nothing else. */
static void what_is_kept(void **state) {
  (void)state;
  struct ew_engine engine = example("flat-four"), other = example("hill-climb-six");
  const double speeds[] = {3000, 4000}, others[] = {3000, 4100};
  g_autoptr(GArray) own = ew_variations_new(), set = ew_variations_new(),
                    set2 = ew_variations_new();
  assert_true(ew_variation_parse("compression=+1", own, NULL));
  assert_true(ew_variation_parse("lambda=+0.02", set, NULL));
  assert_true(ew_variation_parse("lambda=+0.03", set2, NULL));
  struct ew_cycle_options options;
  ew_cycle_options_defaults(&options);
  struct ew_vary base = {.setup = {.engine = &engine,
                                   .lambda = NAN,
                                   .pressure_pa = NAN,
                                   .temperature_k = NAN,
                                   .vapour_pa = NAN,
                                   .spark_deg = NAN},
                         .speed_rpm = speeds,
                         .speeds = 2,
                         .options = &options};
  ew_fields_defaults(&ew_tune_fields, &base.setup.tune);
  char mine[EW_CYCLE_HEX], again[EW_CYCLE_HEX];
  key(&base, set, mine, "the base");
  struct ew_cycle_options coarse = options, loose = options, threads = options;
  threads.threads = 1;
  struct ew_vary alone = base;
  alone.options = &threads;
  key(&alone, set, again, "threads");
  assert_string_equal(mine, again);
  coarse.cell_m *= 2;
  loose.tolerance *= 2;
  for (int i = 0; i < 14; i++) {
    struct ew_vary a = base;
    const GArray *of = set;
    const char *says = NULL;
    switch (i) {
    case 0: of = set2, says = "change"; break;
    case 1: a.setup.vapour_pa = 1500, says = "humidity"; break;
    case 2: a.setup.pressure_pa = 9e4, says = "pressure"; break;
    case 3: a.setup.temperature_k = 300, says = "temperature"; break;
    case 4: a.setup.lambda = 0.9, says = "mixture"; break;
    case 5: a.setup.spark_deg = 30, says = "spark"; break;
    case 6: a.setup.tune.flow = 0.9, says = "tune"; break;
    case 7: a.setup.engine = &other, says = "engine"; break;
    case 8: a.setup.variations = own, says = "changes of its own"; break;
    case 9: a.speed_rpm = others, says = "speeds"; break;
    case 10: a.options = &coarse, says = "cells"; break;
    case 11: a.options = &loose, says = "tolerance"; break;
    case 12: a.speeds = 1, says = "number of speeds"; break;
    case 13: a.setup.tune.flow_u = 0.02, says = "uncertainty of a fit"; break;
    }
    key(&a, of, again, says);
    expect(strcmp(mine, again) != 0, says, "the same key");
  }
  ew_engine_clear(&engine);
  ew_engine_clear(&other);
}

/* More than memory is meant for is refused before any of it is made. */
static void too_many(void **state) {
  (void)state;
  g_autoptr(GArray) all = ew_variations_new();
  g_autoptr(GError) error = NULL;
  for (int i = 1; i <= 40; i++)
    for (int what = 0; ew_variation_names[what]; what++) {
      struct ew_variation v = {what, {EW_ADJUST_BY, 0.001 * i}, NULL};
      g_array_append_val(all, v);
    }
  assert_null(ew_variants_of(all, TRUE, &error));
  expect_refused(error, "variants|1000000", "a grid of 41 to the thirteenth");
  g_autoptr(GPtrArray) single = ew_variants_of(all, FALSE, NULL);
  assert_int_equal(single->len, all->len);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(texts),        cmocka_unit_test(changed_in_turn),
      cmocka_unit_test(said),         cmocka_unit_test(fields_of_the_file),
      cmocka_unit_test(what_is_kept), cmocka_unit_test(too_many)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
