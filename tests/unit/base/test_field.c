#include "base/error.h"
#include "base/field.h"
#include "base/language.h"
#include "base/number.h"
#include "unit.h"

struct thing {
  double bore_m, spark_deg, share;
  int count, kind, loud;
  char *name;
  GArray *gaps;
  guint64 sides;
};
static const char *const sides_of_thing[] = {"top", "bottom", "left", NULL};
static const char *const kinds_of_thing[] = {"round", "square", NULL};
#define AT(member) offsetof(struct thing, member)
static const struct ew_field thing_table[] = {
    {.name = "bore",
     .type = EW_FIELD_QUANTITY,
     .kind = EW_KIND_LENGTH,
     .offset = AT(bore_m),
     .minimum = 0.01,
     .maximum = 0.5,
     .help = "of the cylinder"},
    {.name = "spark",
     .type = EW_FIELD_QUANTITY,
     .kind = EW_KIND_ANGLE,
     .offset = AT(spark_deg),
     .minimum = -30,
     .maximum = 80,
     .fallback = "28 deg",
     .help = "advance"},
    {.name = "share",
     .type = EW_FIELD_QUANTITY,
     .kind = EW_KIND_RATIO,
     .offset = AT(share),
     .help = "of it"},
    {.name = "count",
     .type = EW_FIELD_INTEGER,
     .kind = EW_KIND_COUNT,
     .offset = AT(count),
     .minimum = 1,
     .maximum = 16,
     .fallback = "4",
     .help = "of cylinders"},
    {.name = "kind",
     .type = EW_FIELD_CHOICE,
     .offset = AT(kind),
     .choices = kinds_of_thing,
     .fallback = "square",
     .help = "shape"},
    {.name = "loud",
     .type = EW_FIELD_BOOLEAN,
     .offset = AT(loud),
     .fallback = "no",
     .help = "or not"},
    {.name = "name", .type = EW_FIELD_TEXT, .offset = AT(name), .help = "what it is called"},
    {.name = "gaps",
     .type = EW_FIELD_NUMBERS,
     .kind = EW_KIND_LENGTH,
     .offset = AT(gaps),
     .minimum = 0,
     .maximum = 0.01,
     .help = "measured"},
    {.name = "sides",
     .type = EW_FIELD_CHOICES,
     .offset = AT(sides),
     .choices = sides_of_thing,
     .help = "that are painted"},
};
static const struct ew_fields things = {"a thing", sizeof(struct thing), thing_table,
                                        G_N_ELEMENTS(thing_table)};

static gboolean from_yaml(const char *yaml, struct thing *thing, GError **error) {
  g_autoptr(ew_node) root = ew_node_parse("t.yaml", yaml, strlen(yaml), error);
  return root && ew_fields_read(&things, root, "t.yaml", NULL, thing, error);
}

static void defaults(void **state) {
  (void)state;
  struct thing t = {0};
  ew_fields_defaults(&things, &t);
  assert_true(isnan(t.bore_m) && isnan(t.share) && t.spark_deg == 28 && t.count == 4);
  assert_true(t.kind == 1 && !t.loud && !t.name && !t.gaps);
  ew_fields_clear(&things, &t);
}

static void all_kinds(void **state) {
  (void)state;
  struct thing t;
  g_autoptr(GError) error = NULL;
  expect(from_yaml("bore: 3.386 in\nshare: 12 %\ncount: 6\nkind: Round\nloud: yes\nname: five\n"
                   "gaps: [1 mm, 2 thou]\nsides: [left, Top, left]\n",
                   &t, &error),
         "reads", "%s", error->message);
  expect_near(t.bore_m, 3.386 * 0.0254, 1e-15, "bore");
  expect_near(t.share, 0.12, 1e-15, "share");
  assert_true(t.spark_deg == 28 && t.count == 6 && t.kind == 0 && t.loud);
  assert_string_equal(t.name, "five");
  assert_int_equal(t.gaps->len, 2);
  expect_near(g_array_index(t.gaps, double, 1), 5.08e-5, 1e-18, "second gap");
  assert_true(t.sides == 5);
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  ew_fields_write_json(&things, &t, &json);
  ew_json_close(&json);
  assert_non_null(strstr(json.text->str, "\"sides\":[\"top\",\"left\"]")); /* keys, no numbers */
  g_string_free(json.text, TRUE);
  ew_fields_clear(&things, &t);
  assert_null(t.name);
}

static void refusals(void **state) {
  (void)state;
  static const struct {
    const char *says, *yaml, *words;
  } rows[] = {
      {"an unknown key with its neighbour", "bores: 86 mm\n",
       "t.yaml|line 1|'bores'|a thing|'bore'"},
      {"an unknown key from nowhere", "name: x\nzeppelin: 3\n", "line 2|'zeppelin'"},
      {"a wrong unit", "bore: 86 deg\n", "line 1: bore|'deg'|86 mm"},
      {"a missing unit", "bore: 86\n", "bore|unit is missing"},
      {"below the range", "bore: 1 mm\n", "bore|'1 mm'|10 mm|500 mm|of the cylinder"},
      {"above the range", "bore: 1 m\n", "bore|'1 m'"},
      {"no whole number", "count: 4.5\n", "count|'4.5'|whole number"},
      {"a count out of range", "count: 17\n", "count|'17'"},
      {"no choice", "kind: oval\n", "kind|'oval'|round, square"},
      {"neither yes nor no", "loud: maybe\n", "loud|'maybe'|yes nor no"},
      {"a list for a figure", "bore: [1 mm]\n", "bore|one value|list"},
      {"a group for a figure", "bore: {a: 1}\n", "bore|one value|group"},
      {"a figure for a list", "gaps: 1 mm\n", "gaps|list"},
      {"a wrong unit in a list", "gaps: [1 mm, 2 kg]\n", "gaps[2]|'kg'"},
      {"a list in a list", "gaps: [[1 mm]]\n", "gaps[1]|figure"},
      {"out of range in a list", "gaps: [1 mm, 1 m]\n", "gaps[2]|'1 m'"},
      {"a word for a list of words", "sides: top\n", "sides|list|[top, ...]"},
      {"a wrong word in a list", "sides: [top, botom]\n", "sides[2]|'botom'|'bottom'"},
      {"a word from nowhere in a list", "sides: [zeppelin]\n", "sides[1]|top, bottom, left"},
      {"a list in a list of words", "sides: [[top]]\n", "sides[1]|one word"},
      {"a list for the whole", "- 1\n", "a thing|name: value"},
      {"words after the memory is taken", "name: x\ngaps: [1 mm]\nbore: no\n", "bore|'no'"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct thing t;
    g_autoptr(GError) error = NULL;
    expect(!from_yaml(rows[i].yaml, &t, &error), rows[i].says, "read");
    expect_refused(error, rows[i].words, rows[i].says);
  }
}

/* What is written reads back to the same bits, texts with every odd character too. */
static void round_trip(void **state) {
  (void)state;
  static const char *const names[] = {"plain",
                                      "",
                                      "a: b # c",
                                      "\"quoted\" \\ back",
                                      "two\nlines",
                                      "tab\there, return\rthere",
                                      "bell\a and \x01 and \x7f",
                                      "N·m, 日本, 😀",
                                      "next\xc2\x85line, \xe2\x80\xa8 separator",
                                      "yes",
                                      "~",
                                      " blanks around ",
                                      "- x",
                                      "{a: 1}"};
  g_autoptr(GRand) random = g_rand_new_with_seed(3);
  for (gsize i = 0; i < G_N_ELEMENTS(names); i++) {
    struct thing a = {0}, b, c = {0};
    ew_fields_defaults(&things, &a);
    a.bore_m = g_rand_double_range(random, 0.01, 0.5);
    a.spark_deg = g_rand_double_range(random, -30, 80);
    a.sides = i % 8;
    a.share = i % 2 ? NAN : g_rand_double(random);
    a.name = g_strdup(names[i]);
    a.gaps = g_array_new(FALSE, FALSE, sizeof(double));
    for (int k = 0; k < 5; k++) {
      double gap = g_rand_double_range(random, 0, 0.01);
      g_array_append_val(a.gaps, gap);
    }
    g_autofree char *yaml = ew_fields_write_yaml(&things, &a);
    g_autoptr(GError) error = NULL;
    expect(from_yaml(yaml, &b, &error), yaml, "%s", error ? error->message : "");
    ew_fields_copy(&things, &b, &c);
    for (gsize f = 0; f < things.count; f++) {
      expect(ew_field_same(&things.fields[f], &a, &b), things.fields[f].name, "%s", yaml);
      expect(ew_field_same(&things.fields[f], &a, &c), things.fields[f].name, "copy of %s", yaml);
    }
    g_autofree char *again = ew_fields_write_yaml(&things, &c);
    assert_string_equal(again, yaml);
    ew_fields_clear(&things, &a);
    ew_fields_clear(&things, &b);
    ew_fields_clear(&things, &c);
  }
}

/* A car in kilograms, a piston in grams; both are typed back as they were. */
static void a_mass_is_shown_as_it_is_weighed(void **state) {
  (void)state;
  static const struct {
    double kg;
    const char *shown;
  } rows[] = {{60000, "60000 kg"},  {1240, "1240 kg"}, {50, "50 kg"},    {10, "10 kg"},
              {9.9995, "9999.5 g"}, {0.412, "412 g"},  {0.0005, "0.5 g"}};
  const struct ew_field field = {.name = "mass", .type = EW_FIELD_QUANTITY, .kind = EW_KIND_MASS};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    double kg = rows[i].kg, back;
    g_autofree char *shown = ew_field_show(&field, &kg, EW_UNITS_SI);
    assert_string_equal(shown, rows[i].shown);
    assert_true(ew_quantity_parse("mass", shown, EW_KIND_MASS, &back, NULL));
    assert_true(fabs(back - kg) <= 1e-12 * kg);
  }
}

static void by_name(void **state) {
  (void)state;
  struct thing t = {0};
  g_autoptr(GError) error = NULL;
  ew_fields_defaults(&things, &t);
  assert_true(ew_field_set(&things, &t, "spark", "30 deg", &error));
  assert_true(t.spark_deg == 30);
  assert_true(ew_field_set(&things, &t, "name", "first", &error));
  assert_true(ew_field_set(&things, &t, "name", "second", &error));
  assert_string_equal(t.name, "second");
  assert_false(ew_field_set(&things, &t, "sparc", "30 deg", &error));
  expect_refused(error, "'sparc'|'spark'", "a name with a slip");
  g_clear_error(&error);
  assert_false(ew_field_set(&things, &t, "name", "\xff", &error));
  expect_refused(error, "name|UTF-8", "bytes that are no text");
  assert_string_equal(ew_error_field(error), "name");
  g_clear_error(&error);
  g_autofree char *lengthy = g_strnfill(4001, 'x');
  assert_false(ew_field_set(&things, &t, "name", lengthy, &error));
  expect_refused(error, "name|4,000", "too long a text");
  assert_string_equal(t.name, "second");
  assert_true(ew_field_set(&things, &t, "sides", "bottom , left", &error));
  assert_true(t.sides == 6);
  g_autofree char *sides = ew_field_show(&thing_table[8], &t, EW_UNITS_SI);
  assert_string_equal(sides, "bottom, left");
  assert_true(ew_field_set(&things, &t, "sides", "", &error));
  assert_null(ew_field_show(&thing_table[8], &t, EW_UNITS_SI));
  g_autofree char *shown = ew_field_show(&thing_table[1], &t, EW_UNITS_SI);
  assert_string_equal(shown, "30 deg");
  assert_null(ew_field_show(&thing_table[0], &t, EW_UNITS_SI));
  ew_fields_clear(&things, &t);
}

static void others_are_left_alone(void **state) {
  (void)state;
  struct thing t;
  const char *yaml = "name: x\nextra: {a: 1}\n", *const others[] = {"extra", NULL};
  g_autoptr(GError) error = NULL;
  g_autoptr(ew_node) root = ew_node_parse("t.yaml", yaml, strlen(yaml), &error);
  assert_true(ew_fields_read(&things, root, "t.yaml", others, &t, &error));
  ew_fields_clear(&things, &t);
}

static void what_grows_from_the_table(void **state) {
  (void)state;
  g_autofree char *template = ew_fields_template(&things), *manual = ew_fields_manual(&things);
  struct thing t;
  g_autoptr(GError) error = NULL;
  expect(from_yaml(template, &t, &error), "the template reads", "%s", error ? error->message : "");
  ew_fields_clear(&things, &t);
  for (gsize i = 0; i < things.count; i++)
    expect(strstr(manual, things.fields[i].name) && strstr(template, things.fields[i].help),
           things.fields[i].name, "missing");
  struct thing one = {.bore_m = 0.086, .spark_deg = 30, .share = NAN, .count = 4, .kind = 0};
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  ew_fields_write_json(&things, &one, &json);
  ew_json_close(&json);
  assert_string_equal(json.text->str, "{\"bore_m\":0.086,\"spark_deg\":30,\"count\":4,"
                                      "\"kind\":\"round\",\"loud\":false}");
  g_string_free(json.text, TRUE);
}

/* A German reader sees a comma; what is typed again, kept or compared has a point in every language. */
static void as_the_reader_writes(void **state) {
  (void)state;
  g_autoptr(GError) error = NULL;
  const ew_language *german = ew_language_find("de", &error);
  assert_non_null(german);
  struct thing t = {.bore_m = 0.08651, .spark_deg = 30.5, .share = NAN, .sides = 6, .loud = TRUE};
  g_autofree char *yaml = ew_fields_write_yaml(&things, &t);
  ew_language_of_thread(german);
  g_autofree char *shown = ew_field_show(&thing_table[1], &t, EW_UNITS_SI),
                  *typed = ew_field_typed(&thing_table[1], &t),
                  *loud = ew_field_show(&thing_table[5], &t, EW_UNITS_SI),
                  *loud_typed = ew_field_typed(&thing_table[5], &t),
                  *again = ew_fields_write_yaml(&things, &t), *speed = ew_number_thousands(4500),
                  *bore = ew_quantity_format(EW_KIND_LENGTH, EW_UNITS_SI, 0.08651, 2);
  assert_true(ew_language_now() == german);
  ew_language_of_thread(NULL);
  assert_string_equal(shown, "30,5°");
  assert_string_equal(typed, "30.5 deg");
  assert_string_equal(loud, "ja");
  assert_string_equal(loud_typed, "yes");
  assert_string_equal(again, yaml);
  assert_string_equal(speed, "4.500");
  assert_string_equal(bore, "86,51 mm");
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(defaults),
                                     cmocka_unit_test(all_kinds),
                                     cmocka_unit_test(refusals),
                                     cmocka_unit_test(round_trip),
                                     cmocka_unit_test(a_mass_is_shown_as_it_is_weighed),
                                     cmocka_unit_test(by_name),
                                     cmocka_unit_test(others_are_left_alone),
                                     cmocka_unit_test(as_the_reader_writes),
                                     cmocka_unit_test(what_grows_from_the_table)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
