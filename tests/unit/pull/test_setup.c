#include "recording.h"

static void changes(void **state) {
  (void)state;
  static const struct {
    const char *says, *name, *value, *want; /* want NULL: no change of the set-up */
  } rows[] = {
      {"spark", "spark", "30 deg", "spark 28 deg → 30 deg"},
      {"plugs", "plugs", "hot", "plugs cold → hot"},
      {"something stated for the first time", "oil", "SAE 50", "oil not stated → SAE 50"},
      {"the same again", "spark", "28 deg", NULL},
      {"weather is no change", "pressure", "950 hPa", NULL},
      {"rest is no change", "rest", "200 s", NULL},
      {"a remark is no change", "remark", "specks on 4", NULL},
      {"the limit is no change", "limit", "6500 rpm", NULL},
      {"a measured spark is no change", "spark_measured", "29 deg", NULL},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_setup a, b;
    ew_setup_defaults(&a);
    ew_setup_defaults(&b);
    assert_true(ew_field_set(&ew_setup_fields, &a, "spark", "28 deg", NULL));
    assert_true(ew_field_set(&ew_setup_fields, &a, "plugs", "cold", NULL));
    ew_setup_clear(&b);
    ew_fields_copy(&ew_setup_fields, &a, &b);
    assert_true(ew_field_set(&ew_setup_fields, &b, rows[i].name, rows[i].value, NULL));
    g_autoptr(GPtrArray) list = ew_setup_changes(&a, &b);
    expect(list->len == (rows[i].want ? 1 : 0), rows[i].says, "%u", list->len);
    if (rows[i].want) {
      g_autofree char *text = ew_message_text(g_ptr_array_index(list, 0), EW_UNITS_SI);
      assert_string_equal(text, rows[i].want);
    }
    ew_setup_clear(&a);
    ew_setup_clear(&b);
  }
}

/* Three ways to the same vapour pressure: 50 % at 25 °C is a dew point of 13.9 °C and a wet bulb of
 * 17.9 °C (ASHRAE psychrometric chart no. 1, read to 0.1 K). */
static void vapour(void **state) {
  (void)state;
  static const struct {
    const char *name, *value;
  } rows[] = {{"humidity", "50 %"}, {"dew_point", "13.86 degC"}, {"wet_bulb", "17.88 degC"}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_setup s;
    ew_setup_defaults(&s);
    assert_true(isnan(ew_setup_vapour_pa(&s, 101325, 298.15)));
    assert_true(ew_field_set(&ew_setup_fields, &s, rows[i].name, rows[i].value, NULL));
    expect_near(ew_setup_vapour_pa(&s, 101325, 298.15), 1584.6, 15, rows[i].name);
    ew_setup_clear(&s);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(changes), cmocka_unit_test(vapour)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
