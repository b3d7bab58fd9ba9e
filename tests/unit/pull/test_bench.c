/* The cell's file: what it never records, and how fast it sweeps. */
#include "pull/bench.h"
#include "unit.h"

static gboolean from_yaml(const char *yaml, struct ew_bench *bench, GError **error) {
  g_autoptr(ew_node) root = ew_node_parse("cell.yaml", yaml, strlen(yaml), error);
  return root && ew_fields_read(&ew_bench_fields, root, "cell.yaml", NULL, bench, error);
}

static void says_what_is_not_fitted(void **state) {
  (void)state;
  struct ew_bench bench, usual;
  g_autoptr(GError) error = NULL;
  assert_true(from_yaml("not_fitted: [crankcase_pressure, coolant_temperature]\n", &bench, &error));
  ew_bench_defaults(&usual);
  for (int c = 0; c < EW_CHANNELS_COUNT; c++) {
    gboolean is = c == EW_CHANNEL_CRANKCASE_PRESSURE || c == EW_CHANNEL_COOLANT_TEMPERATURE;
    expect(ew_bench_lacks(&bench, (enum ew_channel)c) == is, ew_channel_facts[c].key, "is wrong");
    assert_false(ew_bench_lacks(&usual, (enum ew_channel)c));
  }
  g_autofree char *yaml = ew_fields_write_yaml(&ew_bench_fields, &bench);
  assert_non_null(strstr(yaml, "not_fitted: [coolant_temperature, crankcase_pressure]\n"));
  ew_fields_clear(&ew_bench_fields, &bench);
}

static void says_limit_and_rate(void **state) {
  (void)state;
  struct ew_bench bench;
  g_autoptr(GError) error = NULL;
  assert_true(from_yaml("limit: 7000 rpm\nrate: 300 rpm/s\n", &bench, &error));
  assert_true(bench.limit_rpm == 7000 && bench.rate_rpm_s == 300);
  ew_fields_clear(&ew_bench_fields, &bench);
  assert_true(from_yaml("name: cell 1\n", &bench, &error));
  assert_true(isnan(bench.limit_rpm) && isnan(bench.rate_rpm_s));
  ew_fields_clear(&ew_bench_fields, &bench);
}

static void refuses(void **state) {
  (void)state;
  static const struct {
    const char *yaml, *words;
  } rows[] = {
      {"not_fitted: [oil_presure]\n", "not_fitted[1]|'oil_presure'|'oil_pressure'"},
      {"not_fitted: oil_pressure\n", "not_fitted|list"},
      {"limit: 7000\n", "limit|unit is missing"},
      {"limit: 100 rpm\n", "limit|'100 rpm'|500 rpm"},
      {"rate: 0 rpm/s\n", "rate|'0 rpm/s'"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_bench bench;
    g_autoptr(GError) error = NULL;
    expect(!from_yaml(rows[i].yaml, &bench, &error), rows[i].yaml, "read");
    expect_refused(error, rows[i].words, rows[i].yaml);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(says_what_is_not_fitted),
                                     cmocka_unit_test(says_limit_and_rate),
                                     cmocka_unit_test(refuses)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
