/* Where facts come from: what is written is read back; what is hostile, of a later program or nothing is no fact. */
#include "pull/told.h"
#include "unit.h"

static void round_trip(void **state) {
  (void)state;
  g_autoptr(GArray) told = ew_told_new();
  ew_told_add(told, EW_TOLD_PRESSURE, EW_FROM_CARRIED, "2026-11-30T15:50:00Z", "7", 840, 110.5);
  ew_told_add(told, EW_TOLD_UNITS, EW_FROM_DEFAULT, NULL, NULL, NAN, NAN);
  g_autofree char *text = ew_told_write(told);
  g_autoptr(GArray) back = ew_told_read(text);
  assert_int_equal(back->len, 2);
  const struct ew_told *one = ew_told_find(back, EW_TOLD_PRESSURE);
  assert_true(one && one->from == EW_FROM_CARRIED && one->age_s == 840 && one->u == 110.5);
  assert_string_equal(one->at, "2026-11-30T15:50:00Z");
  assert_string_equal(one->pull, "7");
  one = ew_told_find(back, EW_TOLD_UNITS);
  assert_true(one && one->from == EW_FROM_DEFAULT && !one->at && isnan(one->age_s) &&
              isnan(one->u));
  assert_null(ew_told_find(back, EW_TOLD_TIME));
  g_autofree char *again = ew_told_write(back);
  assert_string_equal(again, text);
}

static void strange(void **state) {
  (void)state;
  static const char *const rows[] = {"[]",
                                     "",
                                     "{",
                                     "[1,2]",
                                     "{\"fact\":\"pressure\"}",
                                     "[{\"fact\":\"pressure\"}]",
                                     "[{\"fact\":\"colour\",\"from\":\"typed\"}]",
                                     "[{\"fact\":\"pressure\",\"from\":\"guessed\"}]",
                                     "[{\"fact\":[1],\"from\":\"typed\"}]"};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GArray) told = ew_told_read(rows[i]);
    expect(told->len == 0, rows[i], "%u", told->len);
  }
  g_autoptr(GArray) none = ew_told_read(NULL);
  assert_int_equal(none->len, 0);
  g_autoptr(GArray) odd =
      ew_told_read("[{\"fact\":\"pressure\",\"from\":\"typed\",\"age_s\":\"soon\",\"u\":1e999}]");
  const struct ew_told *one = ew_told_find(odd, EW_TOLD_PRESSURE);
  assert_true(one && isnan(one->age_s) && isnan(one->u));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(round_trip), cmocka_unit_test(strange)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
