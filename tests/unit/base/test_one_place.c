/* A field is described in one place: one row added to a table is known to YAML, to JSON, to the command
 * line's --set, to the template, to the manual and to refusals, with nothing else changed. */
#include "engine/engine.h"
#include "pull/bench.h"
#include "pull/method.h"
#include "pull/setup.h"
#include "unit.h"
#include <string.h>

/* The set-up as it is, and one more field at its end. */
struct longer {
  struct ew_setup setup;
  double ballast_kg;
};

static const struct ew_field added = {.name = "ballast",
                                      .type = EW_FIELD_QUANTITY,
                                      .kind = EW_KIND_MASS,
                                      .offset = offsetof(struct longer, ballast_kg),
                                      .minimum = 1,
                                      .maximum = 900,
                                      .help = "weight on the test bed"};

static struct ew_fields longer_table(struct ew_field *rows) {
  memcpy(rows, ew_setup_fields.fields, ew_setup_fields.count * sizeof *rows);
  rows[ew_setup_fields.count] = added;
  return (struct ew_fields){"a set-up", sizeof(struct longer), rows, ew_setup_fields.count + 1};
}

static void added_field_is_known_everywhere(void **state) {
  (void)state;
  struct ew_field rows[100];
  assert_true(ew_setup_fields.count < G_N_ELEMENTS(rows));
  const struct ew_fields table = longer_table(rows);
  const char *text = "spark: 30 deg\nballast: 20 lb\n";
  g_autoptr(GError) error = NULL;
  g_autoptr(ew_node) root = ew_node_parse("text", text, strlen(text), &error);
  struct longer record;
  assert_true(ew_fields_read(&table, root, "text", NULL, &record, &error));
  assert_true(record.ballast_kg > 9.0718 && record.ballast_kg < 9.0719);
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  ew_fields_write_json(&table, &record, &json);
  ew_json_close(&json);
  g_autofree char *written = g_string_free(json.text, FALSE);
  g_autofree char *yaml = ew_fields_write_yaml(&table, &record);
  g_autofree char *template = ew_fields_template(&table);
  g_autofree char *manual = ew_fields_manual(&table);
  assert_non_null(strstr(written, "\"ballast_kg\":"));
  assert_non_null(strstr(yaml, "ballast: "));
  assert_non_null(strstr(template, "# weight on the test bed"));
  assert_non_null(strstr(manual, "| `ballast` | mass |"));
  assert_true(ew_field_set(&table, &record, "ballast", "5 kg", &error));
  assert_true(record.ballast_kg == 5);
  assert_false(ew_field_set(&table, &record, "balast", "5 kg", &error));
  assert_non_null(strstr(error->message, "ballast"));
  ew_fields_clear(&table, &record);
}

/* Every field of every record stands in its template and its manual, with its help. */
static void every_field_is_in_template_and_manual(void **state) {
  (void)state;
  const struct ew_fields *tables[] = {&ew_setup_fields, &ew_method_fields, &ew_bench_fields,
                                      &ew_engine_fields};
  for (gsize t = 0; t < G_N_ELEMENTS(tables); t++) {
    g_autofree char *template = ew_fields_template(tables[t]);
    g_autofree char *manual = ew_fields_manual(tables[t]);
    for (gsize i = 0; i < tables[t]->count; i++) {
      const struct ew_field *field = &tables[t]->fields[i];
      g_autofree char *line = g_strdup_printf("%s: ", field->name);
      g_autofree char *cell = g_strdup_printf("| `%s` |", field->name);
      assert_non_null(strstr(template, line));
      assert_non_null(strstr(template, field->help));
      assert_non_null(strstr(manual, cell));
    }
  }
  g_autofree char *engine = ew_engine_manual(), *start = ew_engine_template();
  for (gsize g = 0; g < ew_engine_groups_count; g++)
    for (gsize i = 0; i < ew_engine_groups[g].fields->count; i++) {
      assert_non_null(strstr(engine, ew_engine_groups[g].fields->fields[i].name));
      assert_non_null(strstr(start, ew_engine_groups[g].fields->fields[i].name));
    }
}

/* What the template shows for a field is what that field can be: a spark plug of 86 mm teaches nobody. */
static void every_example_can_be_set(void **state) {
  (void)state;
  struct ew_engine engine;
  for (gsize g = 0; g <= ew_engine_groups_count; g++) {
    gboolean top = g == ew_engine_groups_count;
    const struct ew_fields *table = top ? &ew_engine_fields : ew_engine_groups[g].fields;
    for (gsize i = 0; i < table->count; i++) {
      const struct ew_field *field = &table->fields[i];
      memset(&engine, 0, sizeof engine);
      void *record = top ? (char *)&engine : (char *)&engine + ew_engine_groups[g].offset;
      g_autoptr(GError) error = NULL;
      if (!field->example && !field->fallback)
        fail_msg("%s: the template has neither a default nor an example", field->name);
      g_autofree char *line = g_strdup_printf("%s: %s\n", field->name,
                                              field->fallback ? field->fallback : field->example);
      g_autoptr(ew_node) map = ew_node_parse("template", line, strlen(line), &error);
      if (!map || !ew_fields_read(table, map, "template", NULL, record, &error))
        fail_msg("%s", error->message);
      ew_fields_clear(table, record);
    }
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(added_field_is_known_everywhere),
      cmocka_unit_test(every_field_is_in_template_and_manual),
      cmocka_unit_test(every_example_can_be_set),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
