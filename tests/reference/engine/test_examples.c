/* The three engines of examples/engines, our own invention: their built-in faults are found, their
 * figures are the ones they were drawn with, and a sound file brings no danger. */
#include "near.h"
#include "engine/check.h"
#include "engine/lobe_built.h"

static struct ew_engine example(const char *name) {
  const char *root = g_getenv("EW_EXAMPLES");
  g_autofree char *file = g_strconcat(name, ".yaml", NULL), *text = NULL;
  g_autofree char *path = g_build_filename(root ? root : "examples", "engines", file, NULL);
  assert_true_says(g_file_get_contents(path, &text, NULL, NULL), path);
  return engine_of(text);
}

/* A warning of that field, of that kind (NULL: any), whose sentence in metric units has `figure` in it (NULL: any); its
 * severity, or -1. */
static int grade_of(const struct ew_engine_check *check, const char *field, const char *id,
                    const char *figure) {
  for (guint i = 0; i < check->warnings->len; i++) {
    const ew_message *w = g_ptr_array_index(check->warnings, i);
    g_autofree char *text = ew_message_text(w, EW_UNITS_SI);
    if (strcmp(ew_message_subject(w), field) == 0 && (!id || strcmp(ew_message_id(w), id) == 0) &&
        (!figure || strstr(text, figure)))
      return (int)ew_message_severity(w);
  }
  return -1;
}

static double value(const struct ew_engine_check *check, const char *key, gsize i) {
  const struct ew_figure *f = ew_engine_check_find(check, key);
  assert_true_says(f && i < f->count, key);
  return f->values[i];
}

static void the_six(void **state) {
  (void)state;
  struct ew_engine e = example("hill-climb-six");
  struct ew_engine_check *c = ew_engine_check_new(&e);
  assert_int_equal(grade_of(c, "compression.chambers", "engine.chamber-larger", "cylinder 4"),
                   EW_CAUTION);
  assert_int_equal(grade_of(c, "compression.chambers", NULL, "cylinder 3"), -1);
  assert_int_equal(grade_of(c, "idle_speed", "engine.idle-critical", "1,350 rpm"), EW_DANGER);
  assert_near(value(c, "displacement", 0) * 1e6, 2983, 0.5);
  assert_near(value(c, "compression_ratio", 0), 11.21, 0.005);
  assert_near(value(c, "compression_ratio", 3), 10.98, 0.005);
  assert_near(value(c, "effective_compression_ratio", 0), 8.81, 0.005);
  assert_near(value(c, "quench", 0) * 1e3, 1.10, 1e-9);
  assert_near(value(c, "mean_piston_speed", 0), 20.25, 0.005);
  assert_near(value(c, "bmep_greatest", 0) / 1e5, 12.81, 0.01);
  assert_near(value(c, "inlet_coil_bind_gap", 0) * 1e3, 1.7, 0.01);
  assert_near(value(c, "inlet_spring_force_open", 0), 1181, 0.5);
  assert_near(value(c, "inlet_contact_loss_speed", 0), 7450, 25);
  assert_near(c->clearance_running[EW_INLET].minimum_m * 1e3, 2.3, 0.05);
  assert_near(c->clearance_running[EW_EXHAUST].minimum_m * 1e3, 3.0, 0.05);
  assert_near(c->events[0].inlet_closes_abdc_deg, 66, 1e-9);
  assert_near(c->events[1].inlet_opens_btdc_deg, 20, 1e-9);
  assert_near(c->events[1].exhaust_opens_bbdc_deg, 58, 1e-9);
  assert_near(c->events[1].overlap_deg, 34, 1e-9);
  assert_near(value(c, "inlet_mach_index", 0), 0.58, 0.03);
  assert_int_equal(c->fuel.grade, EW_FUEL_NEAR);
  ew_engine_check_free(c);

  /* both faults corrected: no danger, no word about idle or chambers */
  e.idle_speed_rpm = 1350;
  g_array_index(e.compression.chambers, double, 3) = 44.0e-6;
  c = ew_engine_check_new(&e);
  assert_true(ew_engine_check_worst(c) < EW_DANGER);
  assert_int_equal(grade_of(c, "compression.chambers", NULL, NULL), -1);
  assert_int_equal(grade_of(c, "idle_speed", NULL, NULL), -1);
  ew_engine_check_free(c);
  ew_engine_clear(&e);
}

static void the_flat_four(void **state) {
  (void)state;
  struct ew_engine e = example("flat-four");
  struct ew_engine_check *c = ew_engine_check_new(&e);
  assert_int_equal(grade_of(c, "degree_in", "engine.cam-late", "by 3.1 "), EW_CAUTION);
  assert_int_equal(grade_of(c, "fuel_system.injector_flow", "engine.injectors-near", "96 %"),
                   EW_CAUTION);
  assert_int_equal(grade_of(c, "octane", "engine.fuel-air-cooled", NULL), EW_NOTE);
  assert_near(value(c, "shaking_primary", 0), 0, 1e-6);
  assert_near(value(c, "shaking_secondary", 0), 0, 1e-6);
  assert_true(value(c, "shaking_secondary_moment", 0) > 10);
  ew_engine_check_free(c);
  ew_engine_clear(&e);
}

static void the_eight(void **state) {
  (void)state;
  struct ew_engine e = example("v8-solid");
  struct ew_engine_check *c = ew_engine_check_new(&e);
  assert_int_equal(grade_of(c, "inlet.piston_gap", "engine.valve-close-to-piston", NULL),
                   EW_CAUTION);
  assert_int_equal(grade_of(c, "exhaust.spring_bind", "engine.coils-near", NULL), EW_CAUTION);
  assert_int_equal(grade_of(c, "inlet.valve_mass", "engine.contact-near", NULL), EW_CAUTION);
  assert_near(value(c, "bobweight", 0) * 1e3, 1765, 1e-6);
  assert_near(value(c, "shaking_primary", 0), 0, 1e-6);
  assert_near(value(c, "jet_diameter_wanted", 0) * 1e3, 1.8 * sqrt(0.90 / 0.87), 1e-9);
  for (gsize i = 0; i < 8; i++)
    assert_near(value(c, "firing_intervals", i), 90, 1e-9);
  ew_engine_check_free(c);
  ew_engine_clear(&e);
}

/* The six's inlet lobe read every four degrees to a hundredth of a millimetre, one reading slipped. */
static void set_readings(struct ew_engine *e, const struct ew_lobe *lobe, double slip_m) {
  e->inlet.lobe_angles = g_array_new(FALSE, FALSE, sizeof(double));
  e->inlet.lobe_readings = g_array_new(FALSE, FALSE, sizeof(double));
  for (double angle = -200; angle <= 200; angle += 4) {
    double wheel = angle + 104;
    double reading =
        round(ew_lobe_at(lobe, angle).lift_m / 1e-5) * 1e-5 + (angle == 40 ? slip_m : 0);
    g_array_append_val(e->inlet.lobe_angles, wheel);
    g_array_append_val(e->inlet.lobe_readings, reading);
  }
}

static void a_measured_lobe_serves_as_well(void **state) {
  (void)state;
  struct ew_engine e = example("hill-climb-six");
  struct ew_engine_check *built = ew_engine_check_new(&e);
  set_readings(&e, &built->motion[EW_INLET].lobe, 0);
  struct ew_engine_check *c = ew_engine_check_new(&e);
  assert_true(c->motion[EW_INLET].measured);
  assert_near(value(c, "inlet_measured_lobe_lift", 0) * 1e3, 7.55, 0.01);
  assert_near(value(c, "inlet_measured_lobe_duration", 0), 248, 0.5);
  assert_near(value(c, "inlet_measured_lobe_centre", 0), 104, 0.1);
  assert_relative(c->contact_loss_rpm[EW_INLET], built->contact_loss_rpm[EW_INLET], 0.04);
  assert_near(c->clearance_running[EW_INLET].minimum_m,
              built->clearance_running[EW_INLET].minimum_m, 0.03e-3);
  assert_int_equal(grade_of(c, "inlet.lobe_readings", NULL, NULL), -1);
  ew_engine_check_free(c);
  g_array_unref(e.inlet.lobe_angles);
  g_array_unref(e.inlet.lobe_readings);
  set_readings(&e, &built->motion[EW_INLET].lobe, 0.3e-3);
  e.inlet.lobe_lift_m = 7.9e-3;
  c = ew_engine_check_new(&e);
  assert_int_equal(grade_of(c, "inlet.lobe_readings", "engine.lobe-reading-off", "reading 61 "),
                   EW_CAUTION);
  assert_int_equal(grade_of(c, "inlet.lobe_readings", "engine.lobe-lift-card", "7.90 mm"),
                   EW_CAUTION);
  ew_engine_check_free(c);
  ew_engine_check_free(built);
  ew_engine_clear(&e);
}

/* The keys that other programs rely on, and a confidence and a method for every figure. */
static void json_has_what_is_promised(void **state) {
  (void)state;
  static const char *const keys[] = {"\"displacement_m3\":",
                                     "\"compression_ratio\":[",
                                     "\"effective_compression_ratio\":[",
                                     "\"mean_piston_speed_m_s\":",
                                     "\"valve_events_deg\":{",
                                     "\"valve_piston_clearance_m\":{",
                                     "\"contact_loss_speed_rpm\":",
                                     "\"warnings\":[",
                                     "\"left_out\":[",
                                     "\"about\":{"};
  struct ew_engine e = example("hill-climb-six");
  struct ew_json json = {g_string_new(NULL), FALSE};
  ew_json_open(&json, NULL);
  ew_engine_check_write_json(&e, EW_UNITS_SI, &json);
  ew_json_close(&json);
  for (gsize i = 0; i < G_N_ELEMENTS(keys); i++)
    assert_true_says(strstr(json.text->str, keys[i]) != NULL, keys[i]);
  g_autoptr(GError) error = NULL;
  g_autoptr(ew_node) tree = ew_node_parse("out", json.text->str, json.text->len, &error);
  assert_true_says(tree != NULL, error ? error->message : "");
  const struct ew_node *about = ew_node_member(tree, "about");
  struct ew_engine_check *c = ew_engine_check_new(&e);
  assert_int_equal(about->children->len, c->figures->len);
  for (guint i = 0; i < about->children->len; i++) {
    const struct ew_node *one = g_ptr_array_index(about->children, i);
    assert_non_null(ew_node_member(one, "confidence"));
    assert_true(strlen(ew_node_member(one, "method")->text) > 2);
    assert_non_null(ew_node_member(tree, one->key)); /* and no key twice: the parser refuses that */
  }
  ew_engine_check_free(c);
  g_string_free(json.text, TRUE);
  ew_engine_clear(&e);
}

/* Every method that a figure names is a heading of the page of methods, with a source and a test. */
static void every_method_is_written_down(void **state) {
  (void)state;
  static const char *const names[] = {"hill-climb-six", "flat-four", "v8-solid"};
  const char *root = g_getenv("EW_DOCS");
  g_autofree char *path = g_build_filename(root ? root : "docs", "methods-combination.md", NULL);
  g_autofree char *page = NULL;
  assert_true_says(g_file_get_contents(path, &page, NULL, NULL), path);
  for (gsize i = 0; i < G_N_ELEMENTS(names); i++) {
    struct ew_engine e = example(names[i]);
    struct ew_engine_check *c = ew_engine_check_new(&e);
    for (guint j = 0; j < c->figures->len; j++) {
      const char *method = g_array_index(c->figures, struct ew_figure, j).method;
      g_autofree char *heading = g_strdup_printf("\n## %s\n", method);
      const char *at = strstr(page, heading);
      assert_true_says(at != NULL, method);
      const char *end = strstr(at + 4, "\n## ");
      g_autofree char *part = end ? g_strndup(at, (gsize)(end - at)) : g_strdup(at);
      assert_true_says(strstr(part, "Source:") && strstr(part, "Tested:"), method);
    }
    ew_engine_check_free(c);
    ew_engine_clear(&e);
  }
}

/* Is the figure printed behind its label somewhere: within its last digit and what its confidence leaves of it, lengths to a tenth of a
 * thou or a micrometer at the finest, masses under 5 kg in grams everywhere? Read back by the parser of the files. */
static gboolean is_printed(const char *text, const struct ew_figure *f,
                           enum ew_unit_system system) {
  static const int figures[] = {
      [EW_EXACT] = 4, [EW_ESTIMATE] = 3, [EW_RULE_OF_THUMB] = 2}; /* methods-combination.md */
  g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
  g_autofree char *head = f->read || f->si
                              ? g_strdup_printf("  %s, %s ", f->label, f->read ? f->read : f->si)
                              : g_strdup_printf("  %s ", f->label);
  for (int i = 0; lines[i]; i++) {
    if (!g_str_has_prefix(lines[i], head))
      continue;
    char *digits = g_strstrip(lines[i] + strlen(head)), *end = strstr(digits, "  [");
    if (!end)
      continue;
    *end = 0;
    digits[strcspn(digits, ",(")] = 0; /* the first of several */
    g_strstrip(digits);
    double shown = strtod(digits, &end), inside = shown,
           want = f->values[0] * (f->read ? f->factor : 1);
    const char *point = strchr(digits, '.'), *unit = end + (*end == ' ');
    int decimals = point && point < end ? (int)(end - point) - 1 : 0;
    if (*unit && !ew_quantity_parse("figure", digits, f->kind, &inside, NULL))
      continue;
    double scale = shown != 0 && *unit ? fabs(inside / shown) : 1;
    double room =
        0.51 * pow(10, -decimals) * scale + 0.51 * pow(10, 1 - figures[f->confidence]) * fabs(want);
    if (fabs(inside - want) > room)
      continue;
    if (f->kind == EW_KIND_LENGTH && decimals > (system == EW_UNITS_US ? 4 : 3))
      continue;
    if (f->kind == EW_KIND_MASS &&
        strcmp(unit, system == EW_UNITS_US && fabs(want) >= 5 ? "lb" : "g") != 0)
      continue;
    return TRUE;
  }
  return FALSE;
}

/* Every figure on paper is the figure of the check, in both systems of units; of the V8 once more with rods and pistons of 5.1 kg. */
static void what_is_printed_is_what_was_found(void **state) {
  (void)state;
  static const char *const names[] = {"hill-climb-six", "flat-four", "v8-solid", "v8-solid"};
  int figures = 0, heavy = 0;
  for (gsize i = 0; i < G_N_ELEMENTS(names); i++) {
    struct ew_engine e = example(names[i]);
    if (i == 3)
      e.balance.piston_kg += 5.1 - 0.770;
    struct ew_engine_check *c = ew_engine_check_new(&e);
    for (int system = 0; system <= EW_UNITS_US; system++) {
      g_autofree char *text = ew_engine_check_text(&e, (enum ew_unit_system)system);
      for (guint k = 0; k < c->figures->len; k++) {
        const struct ew_figure *f = &g_array_index(c->figures, struct ew_figure, k);
        assert_true_says(is_printed(text, f, (enum ew_unit_system)system), f->key);
        figures++;
        heavy += f->kind == EW_KIND_MASS && f->values[0] >= 5 && f->values[0] < 6;
      }
    }
    ew_engine_check_free(c);
    ew_engine_clear(&e);
  }
  assert_true(figures > 300 && heavy >= 2);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(the_six),
                                     cmocka_unit_test(the_flat_four),
                                     cmocka_unit_test(the_eight),
                                     cmocka_unit_test(a_measured_lobe_serves_as_well),
                                     cmocka_unit_test(every_method_is_written_down),
                                     cmocka_unit_test(what_is_printed_is_what_was_found),
                                     cmocka_unit_test(json_has_what_is_promised)};
  return cmocka_run_group_tests_name("examples", tests, NULL, NULL);
}
