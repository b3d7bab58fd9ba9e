/* The engine's file: wrong ones and what is said about them; one table for YAML, JSON, template and
 * manual; the round trip. */
#include "near.h"
#include "engine/check.h"

struct wrong {
  const char *says, *yaml, *part; /* part: must stand in the message */
};

static const struct wrong wrongs[] = {
    {"nothing at all", "", ""},
    {"a list where a map is wanted", "- bore\n- stroke\n", "name: value"},
    {"a tab for indentation", "geometry:\n\trod_length: 140 mm\n", "line 2"},
    {"an unknown field, with a suggestion", "bor: 86 mm\n", "did you mean 'bore'"},
    {"an unknown field of a group", "inlet:\n  rocker_ration: 1.5\n",
     "did you mean 'rocker_ratio'"},
    {"an unknown group", "camshaft:\n  advance: 4 deg\n", "camshaft"},
    {"a group that is one value", "geometry: 5\n", "name: value"},
    {"a group that is a list", "geometry: [1, 2]\n", "name: value"},
    {"a field that is a group", "bore:\n  x: 1\n", "expected one value"},
    {"a field twice", "bore: 86 mm\nbore: 87 mm\n", "given twice"},
    {"a length without a unit", "bore: 86\n", "86 mm"},
    {"a mass for a length", "bore: 86 kg\n", "bore"},
    {"energy for torque", "breathing:\n  expected_torque: 300 J\n", "expected_torque"},
    {"a negative bore", "bore: -86 mm\n", "outside"},
    {"a bore in metres", "bore: 86 m\n", "outside"},
    {"no figure", "bore: big\n", "bore"},
    {"not a number", "bore: nan mm\n", "bore"},
    {"an infinite number", "bore: inf mm\n", "bore"},
    {"a half cylinder", "cylinders: 4.5\n", "whole number"},
    {"no cylinders", "cylinders: 0\n", "outside"},
    {"too many cylinders", "cylinders: 1000\n", "outside"},
    {"a choice that is none", "geometry:\n  layout: star\n", "inline, vee, flat"},
    {"displacement against bore and stroke",
     "cylinders: 4\nbore: 86 mm\nstroke: 86 mm\ndisplacement: 2.3 L\n", "contradicts"},
    {"a rod shorter than the throw", "stroke: 90 mm\ngeometry:\n  rod_length: 44 mm\n",
     "rod_length"},
    {"a firing order with a cylinder twice",
     "cylinders: 4\ngeometry:\n  firing_order: [1, 3, 3, 2]\n", "once"},
    {"a firing order for another engine",
     "cylinders: 4\ngeometry:\n  firing_order: [1, 5, 3, 6, 2, 4]\n", "firing_order"},
    {"chambers missing", "cylinders: 4\ncompression:\n  chambers: [50 cc, 50 cc]\n", "chambers"},
    {"a gasket smaller than the bore", "bore: 86 mm\ncompression:\n  gasket_bore: 85 mm\n",
     "gasket_bore"},
    {"a separation that is not the mean",
     "cam:\n  lobe_separation: 110 deg\n  inlet_centreline: 104 deg\n  exhaust_centreline: 108 "
     "deg\n",
     "contradicts"},
    {"an advance that does not follow",
     "cam:\n  lobe_separation: 110 deg\n  inlet_centreline: 106 deg\n  advance: 8 deg\n",
     "contradicts"},
    {"a gross lift that is not lobe times ratio",
     "inlet:\n  lobe_lift: 7 mm\n  rocker_ratio: 1.5\n  gross_lift: 12 mm\n", "contradicts"},
    {"events that last another time",
     "inlet:\n  check_duration: 250 deg\n  opens: 20 deg\n  closes: 40 deg\n", "contradicts"},
    {"durations exchanged", "inlet:\n  duration: 240 deg\n  check_duration: 280 deg\n", "swapped"},
    {"a throat wider than the head", "inlet:\n  head_diameter: 40 mm\n  throat_diameter: 42 mm\n",
     "throat_diameter"},
    {"an open force that springs don't have",
     "inlet:\n  lobe_lift: 10 mm\n  spring_force: 300 N\n  spring_rate: 30 N/mm\n"
     "  spring_open_force: 900 N\n",
     "contradicts"},
    {"a bind height above the installed one",
     "inlet:\n  spring_height: 40 mm\n  spring_bind: 41 mm\n", "spring_bind"},
    {"flows without lifts", "inlet:\n  flows: [10 l/s]\n", "go in pairs"},
    {"flows without depression", "inlet:\n  flows: [10 l/s]\n  flow_lifts: [5 mm]\n",
     "flow_depression"},
    {"lifts that fall",
     "inlet:\n  flows: [10 l/s, 20 l/s]\n  flow_lifts: [6 mm, 5 mm]\n  flow_depression: 7 kPa\n",
     "must rise"},
    {"firing angles without an order",
     "cylinders: 2\ngeometry:\n  firing_angles: [0 deg, 360 deg]\n", "give both"},
    {"an anchor", "bore: &b 86 mm\nstroke: *b\n", "anchors"},
    {"an alias", "stroke: *b\n", "aliases"},
    {"a tag", "bore: !!str 86 mm\n", "tags"},
    {"two documents", "bore: 86 mm\n---\nbore: 87 mm\n", ""},
};

static gboolean reads(const char *yaml, gsize size, GError **error) {
  struct ew_engine engine;
  g_autoptr(ew_node) tree = ew_node_parse("engine.yaml", yaml, size, error);
  if (!tree || !ew_engine_read(tree, "engine.yaml", &engine, error))
    return FALSE;
  ew_engine_clear(&engine);
  return TRUE;
}

static void wrong_files_are_refused_with_words(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(wrongs); i++) {
    g_autoptr(GError) error = NULL;
    assert_true_says(!reads(wrongs[i].yaml, strlen(wrongs[i].yaml), &error), wrongs[i].says);
    assert_non_null(error);
    if (!strstr(error->message, wrongs[i].part) || !strstr(error->message, "engine.yaml")) {
      print_error("%s: message is \"%s\", '%s' is missing\n", wrongs[i].says, error->message,
                  wrongs[i].part);
      fail();
    }
  }
}

static void hostile_files_are_refused_early(void **state) {
  (void)state;
  g_autoptr(GError) deep = NULL, bomb = NULL, big = NULL;
  GString *text = g_string_new("bore: ");
  for (int i = 0; i < 10000; i++)
    g_string_append_c(text, '[');
  assert_false(reads(text->str, text->len, &deep));
  g_string_assign(text, "a: &a [x, x, x, x, x, x, x, x, x]\n");
  for (char c = 'b'; c < 'j'; c++)
    g_string_append_printf(text, "%c: &%c [*%c, *%c, *%c, *%c, *%c, *%c, *%c, *%c, *%c]\n", c, c,
                           c - 1, c - 1, c - 1, c - 1, c - 1, c - 1, c - 1, c - 1, c - 1);
  assert_false(reads(text->str, text->len, &bomb));
  g_string_truncate(text, 0);
  while (text->len < 100u << 20)
    g_string_append(text, "# a line of nothing much, over and over, to fill a hundred megabytes\n");
  gint64 start = g_get_monotonic_time();
  assert_false(reads(text->str, text->len, &big));
  assert_true(g_get_monotonic_time() - start < G_USEC_PER_SEC);
  assert_non_null(big);
  g_string_free(text, TRUE);
}

/* One more field in a copy of a real table, described nowhere else. */
static void a_field_is_described_once(void **state) {
  (void)state;
  const struct ew_fields *old = ew_engine_groups[1].fields; /* compression */
  gsize place = old->size;
  struct ew_field *fields = g_new0(struct ew_field, old->count + 1);
  memcpy(fields, old->fields, old->count * sizeof *fields);
  fields[old->count] = (struct ew_field){.name = "plug_volume",
                                         .type = EW_FIELD_QUANTITY,
                                         .kind = EW_KIND_VOLUME,
                                         .offset = place,
                                         .minimum = 0,
                                         .maximum = 1e-5,
                                         .help = "volume around the plug's nose"};
  struct ew_fields table = {old->record, place + sizeof(double), fields, old->count + 1};
  void *record = g_malloc0(table.size);
  const char *yaml = "chamber: 44 cc\nplug_volume: 0.4 cc\n";
  g_autoptr(ew_node) tree = ew_node_parse("t", yaml, strlen(yaml), NULL);
  assert_true(ew_fields_read(&table, tree, "t", NULL, record, NULL));
  struct ew_json json = {g_string_new(NULL), FALSE};
  ew_json_open(&json, NULL);
  ew_fields_write_json(&table, record, &json);
  ew_json_close(&json);
  g_autofree char *template = ew_fields_template(&table), *manual = ew_fields_manual(&table);
  g_autofree char *out = ew_fields_write_yaml(&table, record);
  assert_non_null(strstr(json.text->str, "\"plug_volume_m3\""));
  assert_non_null(strstr(template, "plug_volume"));
  assert_non_null(strstr(template, "volume around the plug's nose"));
  assert_non_null(strstr(manual, "`plug_volume`"));
  assert_non_null(strstr(out, "plug_volume:"));
  g_string_free(json.text, TRUE);
  ew_fields_clear(&table, record);
  g_free(record);
  g_free(fields);
}

/* Every field of every group stands in template and manual, and the template reads as it is. */
static void template_and_manual_hold_every_field(void **state) {
  (void)state;
  g_autofree char *template = ew_engine_template(), *manual = ew_engine_manual();
  g_autoptr(GError) error = NULL;
  for (gsize i = 0; i < ew_engine_groups_count; i++)
    for (gsize j = 0; j < ew_engine_groups[i].fields->count; j++) {
      const struct ew_field *field = &ew_engine_groups[i].fields->fields[j];
      g_autofree char *line = g_strdup_printf("%s: ", field->name);
      g_autofree char *row = g_strdup_printf("| `%s` |", field->name);
      assert_true_says(strstr(template, line) && strstr(template, field->help), field->name);
      assert_true_says(strstr(manual, row) != NULL, field->name);
      assert_true_says(field->offset < ew_engine_groups[i].fields->size, field->name);
    }
  assert_true_says(reads(template, strlen(template), &error), error ? error->message : "");
}

static const char *const examples[] = {"hill-climb-six", "flat-four", "v8-solid"};

static char *example_text(const char *name) {
  const char *root = g_getenv("EW_EXAMPLES");
  g_autofree char *file = g_strconcat(name, ".yaml", NULL), *text = NULL;
  g_autofree char *path = g_build_filename(root ? root : "examples", "engines", file, NULL);
  assert_true_says(g_file_get_contents(path, &text, NULL, NULL), path);
  return g_steal_pointer(&text);
}

static char *json_of(const struct ew_engine *engine) {
  struct ew_json json = {g_string_new(NULL), FALSE};
  ew_json_open(&json, NULL);
  ew_engine_write_json(engine, &json);
  ew_json_close(&json);
  return g_string_free(json.text, FALSE);
}

static void round_trip(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(examples); i++) {
    g_autofree char *text = example_text(examples[i]);
    struct ew_engine first = engine_of(text), copy;
    g_autofree char *written = ew_engine_write_yaml(&first);
    struct ew_engine second = engine_of(written);
    ew_engine_copy(&first, &copy);
    g_autofree char *a = json_of(&first), *b = json_of(&second), *c = json_of(&copy);
    assert_string_equal(a, b);
    assert_string_equal(a, c);
    ew_engine_clear(&first);
    ew_engine_clear(&second);
    g_autofree char *d = json_of(&copy);
    assert_string_equal(a, d); /* the copy owns what it has */
    ew_engine_clear(&copy);
  }
}

/* What an engine of three figures gives, and what it says is missing. */
static void a_short_file_is_enough(void **state) {
  (void)state;
  struct ew_engine e = engine_of("cylinders: 4\nbore: 86 mm\nstroke: 86 mm\n");
  struct ew_engine_check *check = ew_engine_check_new(&e);
  assert_near(ew_engine_check_find(check, "displacement")->values[0] * 1e6, 1998.229, 1e-3);
  assert_null(ew_engine_check_find(check, "compression_ratio"));
  assert_true(check->left_out->len >= 5);
  assert_int_equal(ew_engine_check_worst(check), -1);
  ew_engine_check_free(check);
  e.fuel = g_strdup("lamp oil");
  check = ew_engine_check_new(&e);
  assert_int_equal(check->warnings->len, 1);
  const ew_message *w = g_ptr_array_index(check->warnings, 0);
  assert_string_equal(ew_message_id(w), "engine.fuel-unknown");
  assert_string_equal(ew_message_argument(w, "fuel")->text, "lamp oil");
  assert_non_null(strstr(ew_message_argument(w, "known")->text, "methanol"));
  ew_engine_check_free(check);
  g_autofree char *text = ew_engine_check_text(&e, EW_UNITS_US);
  assert_non_null(strstr(text, "Not worked out"));
  ew_engine_clear(&e);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(wrong_files_are_refused_with_words),
                                     cmocka_unit_test(hostile_files_are_refused_early),
                                     cmocka_unit_test(a_field_is_described_once),
                                     cmocka_unit_test(template_and_manual_hold_every_field),
                                     cmocka_unit_test(round_trip),
                                     cmocka_unit_test(a_short_file_is_enough)};
  return cmocka_run_group_tests_name("engine file", tests, NULL, NULL);
}
