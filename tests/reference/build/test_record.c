/* The build record as files: the examples of examples/build with their built-in faults, every record
 * to YAML and back, places in one spelling, and wrong files with clear refusals. The faults are our
 * own; nothing here is a published figure. */
#include "../engine/near.h"
#include "base/error.h"
#include "build/check.h"
#include "build/doubt.h"
#include "build/position.h"

static char *example(const char *folder, const char *name) {
  const char *root = g_getenv("EW_EXAMPLES");
  g_autofree char *file = g_strconcat(name, ".yaml", NULL);
  g_autofree char *path = g_build_filename(root ? root : "examples", folder, file, NULL);
  char *text = NULL;
  assert_true_says(g_file_get_contents(path, &text, NULL, NULL), path);
  return text;
}

static void take(struct ew_build *build, const char *name, const struct ew_engine *engine) {
  static const char *const others[] = {"engine_file", "targets", "checklists", NULL};
  g_autoptr(GError) error = NULL;
  g_autofree char *text = example("build", name);
  g_autoptr(ew_node) tree = ew_node_parse(name, text, strlen(text), &error);
  gboolean template = g_str_has_suffix(name, "targets") || g_str_has_suffix(name, "checklists");
  assert_true_says(tree &&
                       (template ? ew_build_read_template(tree, name, engine, build, &error)
                                 : ew_build_read_file(tree, name, engine, others, build, &error)),
                   error ? error->message : name);
}

static struct ew_build *build_of(const char *name, struct ew_engine *engine) {
  g_autofree char *yaml = example("engines", name);
  *engine = engine_of(yaml);
  struct ew_build *build = ew_build_new();
  take(build, "targets", engine);
  take(build, "checklists", engine);
  take(build, name, engine);
  return build;
}

/* `figure`: as it is shown in metric units; NULL: none is looked for. */
struct wanted {
  enum ew_severity severity;
  const char *about, *id, *figure;
};

static gboolean is_it(const ew_message *m, const struct wanted *wanted) {
  g_autofree char *text = ew_message_text(m, EW_UNITS_SI);
  return ew_message_severity(m) == wanted->severity &&
         g_strcmp0(ew_message_subject(m), wanted->about) == 0 &&
         strcmp(ew_message_id(m), wanted->id) == 0 &&
         (!wanted->figure || strstr(text, wanted->figure));
}

static void find_all(const char *name, const struct wanted *wanted, gsize count, guint total) {
  struct ew_engine engine;
  g_autoptr(ew_build) build = build_of(name, &engine);
  g_autoptr(GPtrArray) findings = ew_build_check(build, &engine, NULL);
  for (gsize i = 0; i < count; i++) {
    gboolean found = FALSE;
    for (guint k = 0; k < findings->len; k++)
      found |= is_it(findings->pdata[k], &wanted[i]);
    assert_true_says(found, wanted[i].about);
  }
  assert_int_equal(findings->len, total); /* and nothing else: sound figures are left alone */
  ew_engine_clear(&engine);
}

static void the_six(void **state) {
  (void)state;
  static const struct wanted wanted[] = {
      {EW_DANGER, "main clearance 4", "build.out-hurts", NULL},
      {EW_CAUTION, "main clearance", "build.not-measured-at", "7"},
      {EW_DANGER, "second ring gap 2", "build.out-hurts", NULL},
      {EW_CAUTION, "cylinder bore 3", "build.ovality", "0.014 mm"},
      {EW_CAUTION, "chamber volume", "build.spread", "45.1 cc at 4"},
      {EW_CAUTION, "chamber volume", "build.chamber-in-file", "44.6 cc"},
      {EW_DANGER, "spring seat load 6 exhaust", "build.out-hurts", "440 N"},
      {EW_CAUTION, "valve to piston", "build.not-measured-at", "2 inlet"},
      {EW_CAUTION, "leak-down 2", "build.changed", "4.0 % (before) became 8.0 % (after)"},
      {EW_DANGER, "lash 5 exhaust", "build.lash-changed", "+0.09 mm"},
      {EW_CAUTION, "piston", "build.serial-twice", "A1042"},
      {EW_DANGER, "rod bolt 3 front", "build.stretch", "0.131 mm"},
      {EW_CAUTION, "plug cylinder 4", "build.seen-watch", "paler"},
      {EW_NOTE, "oil", "build.no-batch", NULL}};
  find_all("hill-climb-six", wanted, G_N_ELEMENTS(wanted), 14);
  struct ew_engine engine;
  g_autoptr(ew_build) build = build_of("hill-climb-six", &engine);
  g_autoptr(GPtrArray) fire = ew_build_open_steps(build, EW_GATE_FIRST_FIRE);
  g_autoptr(GPtrArray) load = ew_build_open_steps(build, EW_GATE_LOAD);
  assert_int_equal(fire->len, 0);
  assert_int_equal(load->len, 1);
  assert_string_equal(ew_message_argument(load->pdata[0], "step")->text,
                      "second overspeed device tried and working");
  ew_engine_clear(&engine);
}

static void the_flat_four(void **state) {
  (void)state;
  static const struct wanted wanted[] = {
      {EW_DANGER, "hook-up", "build.step-failed-note", "fuel valve stays open"},
      {EW_CAUTION, "deck height", "build.not-measured-at", "4"},
      {EW_CAUTION, "cylinder bore 2", "build.taper", "0.015 mm"},
      {EW_CAUTION, "port flow", "build.spread", "at 3 inlet"},
      {EW_CAUTION, "cranking pressure", "build.lowest", "6.8 bar at 3"},
      {EW_NOTE, "main clearance 3", "build.near", NULL}};
  find_all("flat-four", wanted, G_N_ELEMENTS(wanted), 6);
}

static void the_v8(void **state) {
  (void)state;
  static const struct wanted wanted[] = {
      {EW_DANGER, "rod clearance 6", "build.out-hurts", NULL},
      {EW_DANGER, "spring seat load 3 exhaust", "build.out-hurts", NULL},
      {EW_DANGER, "spring seat load 7 exhaust", "build.out-hurts", NULL},
      {EW_DANGER, "head studs", "build.torque", NULL},
      {EW_NOTE, "torque records", "build.no-lubricant", NULL},
      {EW_CAUTION, "cylinder bore", "build.not-measured", NULL},
      {EW_CAUTION, "lash 3 exhaust", "build.lash-growth", "the others by 0.20 mm"},
      {EW_CAUTION, "lash 8 exhaust", "build.lash-unread", NULL},
      {EW_CAUTION, "agreed limit", "build.limit-differs", "7,200 rpm"}};
  find_all("v8-solid", wanted, G_N_ELEMENTS(wanted), 9);
}

static gboolean same_or_none(double a, double b) {
  return a == b || (isnan(a) && isnan(b));
}

/* A template of another language asks for the same: item by item the same figures, step by step the same gates, and what the
 * program looks for by name is known to it. */
static void a_template_in_german(void **state) {
  (void)state;
  struct ew_engine engine;
  g_autofree char *yaml = example("engines", "hill-climb-six");
  engine = engine_of(yaml);
  g_autoptr(ew_build) english = ew_build_new(), german = ew_build_new();
  take(english, "targets", &engine), take(english, "checklists", &engine);
  take(german, "de/targets", &engine), take(german, "de/checklists", &engine);
  const GPtrArray *a = english->records[EW_BUILD_ITEM], *b = german->records[EW_BUILD_ITEM];
  assert_int_equal(a->len, b->len);
  for (guint i = 0; i < a->len; i++) {
    const struct ew_build_item *x = a->pdata[i], *y = b->pdata[i];
    assert_true_says(x->by == y->by && x->times == y->times && x->quantity == y->quantity &&
                         x->needed == y->needed && same_or_none(x->low, y->low) &&
                         same_or_none(x->high, y->high) && same_or_none(x->spread, y->spread) &&
                         same_or_none(x->change, y->change) &&
                         same_or_none(x->lowest_share, y->lowest_share) &&
                         !x->caution == !y->caution && !x->larger == !y->larger,
                     y->item);
  }
  a = english->records[EW_BUILD_STEP], b = german->records[EW_BUILD_STEP];
  assert_int_equal(a->len, b->len);
  for (guint i = 0; i < a->len; i++) {
    const struct ew_build_step *x = a->pdata[i], *y = b->pdata[i];
    assert_true_says(x->before == y->before && !x->caution == !y->caution, y->step);
  }
  static const char *const known[] = {"chamber volume", "piston clearance", "cylinder bore",
                                      "piston", "turning torque running"};
  for (gsize i = 0; i < G_N_ELEMENTS(known); i++) {
    assert_true_says(ew_build_item_known(german, known[i]) != NULL, known[i]);
    assert_true_says(ew_build_item_known(english, known[i]) != NULL, known[i]);
  }
  assert_true(ew_build_is(german, "Brennraumvolumen", "chamber volume"));
  assert_false(ew_build_is(german, "Kolben", "chamber volume"));
  ew_engine_clear(&engine);
}

static void to_yaml_and_back(void **state) {
  (void)state;
  static const char *const names[] = {"hill-climb-six", "flat-four", "v8-solid"};
  for (int n = 0; n < 3; n++) {
    struct ew_engine engine;
    g_autoptr(ew_build) build = build_of(names[n], &engine);
    for (int k = 0; k < EW_BUILD_KINDS_COUNT; k++)
      for (guint i = 0; i < build->records[k]->len; i++) {
        g_autoptr(GError) error = NULL;
        g_autofree char *yaml = ew_build_record_yaml(k, build->records[k]->pdata[i]);
        g_autoptr(ew_node) node = ew_node_parse("record", yaml, strlen(yaml), &error);
        void *again = node ? ew_build_record_read(k, node, "record", build, &engine, &error) : NULL;
        assert_true_says(again, error ? error->message : yaml);
        g_autofree char *twice = ew_build_record_yaml(k, again);
        assert_string_equal(yaml, twice);
        ew_build_record_free(k, again);
      }
    ew_engine_clear(&engine);
  }
}

static void places(void **state) {
  (void)state;
  struct ew_engine six = engine_of("cylinders: 6\n"),
                   four = engine_of("cylinders: 4\ninlet:\n  valves: 2\n"),
                   vee = engine_of("cylinders: 8\ngeometry:\n  layout: vee\n");
  static const struct {
    const char *text, *want;
    enum ew_build_by by;
  } rows[] = {{"Main 7", "7", EW_BY_MAIN},
              {"3", "3", EW_BY_ROD},
              {"Cyl 2  top Thrust", "2 top thrust", EW_BY_BORE},
              {"exhaust 5", "5 exhaust", EW_BY_VALVE},
              {"valve #5 exhaust", "5 exhaust", EW_BY_VALVE},
              {"4", "4 inlet", EW_BY_INLET},
              {"", "engine", EW_BY_ENGINE},
              {"8", NULL, EW_BY_MAIN},
              {"0", NULL, EW_BY_CYLINDER},
              {"7 inlet", NULL, EW_BY_VALVE},
              {"2 tip thrust", NULL, EW_BY_BORE}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GError) error = NULL;
    g_autofree char *got = ew_build_position(rows[i].text, rows[i].by, &six, 0, "test", &error);
    assert_true_says(g_strcmp0(got, rows[i].want) == 0, rows[i].text);
    assert_true((error != NULL) == (rows[i].want == NULL));
  }
  g_autoptr(GPtrArray) valves = ew_build_positions(&four, EW_BY_VALVE, 0);
  g_autoptr(GPtrArray) mains = ew_build_positions(&vee, EW_BY_MAIN, 0);
  assert_int_equal(valves->len, 12);
  assert_string_equal(valves->pdata[0], "1 inlet a");
  assert_int_equal(mains->len, 5);
  ew_engine_clear(&six);
  ew_engine_clear(&four);
  ew_engine_clear(&vee);
}

static void wrong_files(void **state) {
  (void)state;
  struct ew_engine engine = engine_of("cylinders: 4\nbore: 90 mm\n");
  static const struct {
    const char *yaml, *says;
  } rows[] = {
      {"measured:\n  - {item: main clearence, position: 1, readings: [0.05 mm]}\n",
       "did you mean 'main clearance'"},
      {"measured:\n  - {item: main clearance, position: 9, readings: [0.05 mm]}\n", "not a place"},
      {"measured:\n  - {item: main clearance, position: 1, readings: [0.05 N]}\n", "length"},
      {"measured:\n  - {item: main clearance, position: 1, readings: []}\n", "no readings"},
      {"measured:\n  - {item: main clearance, position: 1, readings: 0.05 mm}\n", "list"},
      {"measured:\n  - {item: main clearance, readings: [0.05 mm]}\n", "'position' is missing"},
      {"measured:\n  - {position: 1, readings: [0.05 mm]}\n", "'item' is missing"},
      {"measured:\n  - {item: main clearance, position: 1, readings: [0.05 mm], low: 0.07 mm, "
       "high: "
       "0.05 mm}\n",
       "above its high one"},
      {"measured:\n  - {item: main clearance, kind: torque, position: 1, readings: [5 N.m]}\n",
       "measured as length"},
      {"measured:\n  - {item: piston clearance, position: 1, readings: [0.08 mm]}\n",
       "difference between"},
      {"measured:\n  - {item: main clearance, each: [0.05 mm]}\n", "map of places"},
      {"measured:\n  - {item: main clearance, each: {1: {a: 1}}}\n", "a reading or a list"},
      {"measured:\n  - main clearance\n", "a map of fields"},
      {"measured: none\n", "is a list"},
      {"lash:\n  - {valve: 1 inlet}\n", "'cold', 'hot' or both"},
      {"lash:\n  - {valve: 1 inlet, cold: 3 in}\n", "outside"},
      {"lash:\n  - {valve: 5 inlet, cold: 0.3 mm}\n", "not a place"},
      {"done:\n  - {list: hookup, step: x}\n", "no checklist"},
      {"done:\n  - {list: hook-up, step: shaft gard on and bolted}\n", "shaft guard on and bolted"},
      {"done:\n  - {list: hook-up, step: shaft guard on and bolted, at: tomorrow}\n", "not a date"},
      {"done:\n  - {list: hook-up, step: shaft guard on and bolted, at: 2026-13-01}\n",
       "not a date"},
      {"done:\n  - {list: hook-up, step: shaft guard on and bolted, state: failed}\n", "say why"},
      {"done:\n  - {list: hook-up, step: shaft guard on and bolted, state: does not apply}\n",
       "say why"},
      {"parts:\n  - {number: 5}\n", "'part' is missing"},
      {"parts:\n  - {part: oil, life: -3 h}\n", "outside"},
      {"agreed:\n  - {power: 100 kW}\n", "'what' is missing"},
      {"agreed:\n  - {what: x, power: 100 N}\n", "power"},
      {"famly: x\n", "did you mean 'family'"},
      {"items:\n  - {item: a, kind: lengths}\n", "is not one of length"},
      {"items:\n  - {item: a, larger: b}\n", "both 'larger' and 'smaller'"},
      {"lists:\n  - {list: a}\n", "'steps'"},
      {"mains: -2\n", "outside"}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GError) error = NULL;
    g_autoptr(ew_build) build = ew_build_new();
    take(build, "targets", &engine);
    take(build, "checklists", &engine);
    g_autoptr(ew_node) tree = ew_node_parse("file", rows[i].yaml, strlen(rows[i].yaml), &error);
    assert_true_says(tree, rows[i].yaml);
    assert_true_says(!ew_build_read_file(tree, "file", &engine, NULL, build, &error), rows[i].yaml);
    assert_true_says(error && strstr(error->message, rows[i].says),
                     error ? error->message : rows[i].says);
  }
  ew_engine_clear(&engine);
}

static void *measure_of(const char *yaml, struct ew_build *build, const struct ew_engine *engine,
                        GError **error) {
  g_autoptr(ew_node) map = ew_node_parse("record", yaml, strlen(yaml), error);
  return map ? ew_build_record_read(EW_BUILD_MEASURE, map, "record", build, engine, error) : NULL;
}

/* Journals of one crank, bores of one block: held against each other once two are known. The sizes are our own. */
static void sizes_beside_each_other(void **state) {
  (void)state;
  static const struct {
    const char *yaml, *asks; /* NULL: taken */
  } rows[] = {
      {"item: main journal\nkind: length\nposition: '1'\nreadings: [60.00 mm]\n", NULL},
      {"item: main journal\nkind: length\nposition: '2'\nreadings: [55.00 mm]\n", NULL},
      {"item: main journal\nkind: length\nposition: '2'\nreadings: [59.99 mm]\nstage: ground\n",
       NULL},
      {"item: main journal\nkind: length\nposition: '3'\nreadings: [60.01 mm]\n", NULL},
      {"item: main journal\nkind: length\nposition: '4'\nreadings: [54.98 mm]\n",
       "where the others read 60.000 mm"},
      {"item: main journal\nkind: length\nposition: '4'\nreadings: [60.00 mm, 59.75 mm]\n",
       "reads 59.750 mm"},
      {"item: main journal\nkind: length\nposition: '4'\nreadings: [54.98 mm]\nsure: 'yes'\n",
       NULL},
      {"item: main journal\nkind: length\nposition: '5'\nreadings: [60.02 mm]\n", NULL},
      {"item: rod journal\nkind: length\nposition: '1'\nreadings: [48.00 mm]\n", NULL},
      {"item: step\nkind: length\nposition: '1'\nreadings: [1.0 mm]\n", NULL},
      {"item: step\nkind: length\nposition: '2'\nreadings: [1.0 mm]\n", NULL},
      {"item: step\nkind: length\nposition: '3'\nreadings: [3.0 mm]\n", NULL}};
  struct ew_engine engine = engine_of("cylinders: 4\nbore: 90 mm\n");
  g_autoptr(ew_build) build = ew_build_new();
  take(build, "targets", &engine);
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GError) error = NULL;
    void *record = measure_of(rows[i].yaml, build, &engine, &error);
    assert_true_says((record != NULL) == (rows[i].asks == NULL),
                     error ? error->message : rows[i].yaml);
    if (record)
      g_ptr_array_add(build->records[EW_BUILD_MEASURE], record);
    else
      assert_true_says(error->code == EW_ERROR_ASKS && strstr(error->message, rows[i].asks),
                       error->message);
  }
  ew_engine_clear(&engine);
}

/* The same bearing twice is asked about; the same record sent again, another stage and another place are not. */
static void the_same_place_twice(void **state) {
  (void)state;
  static const char *const there = "item: main clearance\nposition: '1'\nreadings: [0.058 mm]\nat: "
                                   "2026-03-01T10:00:00Z\n";
  static const struct {
    const char *yaml;
    gboolean asks;
  } rows[] = {
      {"item: main clearance\nposition: '1'\nreadings: [0.058 mm]\nat: 2026-03-01T10:00:00Z\n",
       FALSE},
      {"item: Main Clearance\nposition: main 1\nreadings: [0.061 mm]\nat: "
       "2026-03-01T11:00:00Z\n",
       TRUE},
      {"item: main clearance\nposition: '1'\nreadings: [0.058 mm]\nat: 2026-03-01T11:00:00Z\n",
       TRUE},
      {"item: main clearance\nposition: '1'\nreadings: [0.061 mm]\nstage: again\n", FALSE},
      {"item: main clearance\nposition: '2'\nreadings: [0.058 mm]\n", FALSE},
      {"item: rod clearance\nposition: '1'\nreadings: [0.058 mm]\n", FALSE}};
  struct ew_engine engine = engine_of("cylinders: 4\nbore: 90 mm\n");
  g_autoptr(ew_build) build = ew_build_new();
  take(build, "targets", &engine);
  g_autoptr(GError) error = NULL;
  g_ptr_array_add(build->records[EW_BUILD_MEASURE], measure_of(there, build, &engine, &error));
  assert_null(error);
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GError) asked = NULL;
    void *record = measure_of(rows[i].yaml, build, &engine, &error);
    assert_true_says(record, rows[i].yaml);
    gboolean first = ew_build_first_there(EW_BUILD_MEASURE, record, "record", build, &asked);
    assert_true_says(first == !rows[i].asks, rows[i].yaml);
    assert_true(first || strstr(asked->message, "reads 0.058 mm"));
    ew_build_record_free(EW_BUILD_MEASURE, record);
  }
  ew_engine_clear(&engine);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(the_six),
                                     cmocka_unit_test(the_flat_four),
                                     cmocka_unit_test(the_v8),
                                     cmocka_unit_test(to_yaml_and_back),
                                     cmocka_unit_test(a_template_in_german),
                                     cmocka_unit_test(places),
                                     cmocka_unit_test(wrong_files),
                                     cmocka_unit_test(sizes_beside_each_other),
                                     cmocka_unit_test(the_same_place_twice)};
  return cmocka_run_group_tests_name("build record", tests, NULL, NULL);
}
