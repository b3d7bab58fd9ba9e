#include "shop.h"
#include "book/ledger.h"

static void seconds_above(void **state) {
  (void)state;
  /* a minute at 3,000, then 10 s to 6,000 in a straight line, a stop of an hour, 5 s standing */
  double time[1000], speed[1000];
  gsize n = 0;
  for (int i = 0; i <= 600; i++, n++)
    time[n] = 0.1 * i, speed[n] = 3000;
  for (int i = 1; i <= 100; i++, n++)
    time[n] = 60 + 0.1 * i, speed[n] = 3000 + 30 * i;
  for (int i = 0; i < 50; i++, n++)
    time[n] = 3670 + 0.1 * i, speed[n] = 0;
  struct ew_ledger ledger = {0};
  ew_ledger_add(&ledger, time, speed, n);
  expect_near(ledger.running_s, 70, 0.01, "the stop and the standing engine do not count");
  expect_near(ledger.highest_rpm, 6000, 0, "highest speed");
  expect_near(ledger.above_s[5], 70, 0.01, "above 2,500");
  expect_near(ledger.above_s[6], 10, 0.11, "above 3,000");
  expect_near(ledger.above_s[8], 20.0 / 3, 0.11, "above 4,000: two thirds of the climb");
  expect_near(ledger.above_s[11], 5.0 / 3, 0.11, "above 5,500");
  expect_near(ledger.above_s[12], 0, 0.01, "never above 6,000");
  double odd_time[] = {0, 1, NAN, 3, 2, 4}, odd_speed[] = {3000, 3000, 3000, NAN, 3000, 3000};
  struct ew_ledger odd = {0};
  ew_ledger_add(&odd, odd_time, odd_speed, 6);
  assert_true(odd.running_s >= 1 && odd.running_s <= 3); /* gaps are no time */
  ew_ledger_add(&odd, odd_time, odd_speed, 0);
}

static void from_stored_raw(void **state) {
  (void)state;
  struct shop s = shop_new();
  struct ew_book *book = open_book(s.path, TRUE);
  for (int i = 0; i < 3; i++) {
    g_autofree char *text = sweep_text(i + 1);
    assert_true(keep_recording(book, text, NULL));
  }
  struct ew_ledger ledger;
  assert_true(ew_ledger_read(book, 0, &ledger, NULL));
  assert_int_equal(ledger.recordings, 3);
  assert_int_equal(ledger.pulls, 3);
  expect_near(ledger.running_s, 3 * 13.5, 0.2, "2 s before, 10 s of sweep, 1.5 s of lift");
  expect_near(ledger.highest_rpm, 6500, 10, "highest");
  /* 500 rpm at 400 rpm/s up and 800 rpm/s down */
  expect_near(ledger.above_s[12], 3 * (500 / 400.0 + 500 / 800.0), 0.2, "above 6,000");
  /* what was worked out is kept, and gives the same to the bit; what cannot be read is worked out again */
  static const char *const kept[] = {"", "UPDATE life SET json = '{}'",
                                     "UPDATE life SET reduction = 0", "DELETE FROM life"};
  for (gsize i = 0; i < G_N_ELEMENTS(kept); i++) {
    struct ew_ledger again;
    gint64 lives;
    run_sql(s.path, kept[i]);
    assert_true(ew_ledger_read(book, 0, &again, NULL));
    assert_memory_equal(again.above_s, ledger.above_s, sizeof again.above_s);
    assert_true(again.running_s == ledger.running_s && again.highest_rpm == ledger.highest_rpm);
    assert_true(again.heat_cycles == ledger.heat_cycles && again.pulls == ledger.pulls &&
                again.recordings == ledger.recordings);
    assert_true(ew_sql_number(ew_book_port(book), &lives, NULL, "SELECT count(*) FROM life", ""));
    assert_int_equal(lives, 3);
  }
  assert_true(ew_ledger_read(book, 7, &ledger, NULL)); /* an engine without recordings */
  assert_true(ledger.recordings == 0 && ledger.running_s == 0 && ledger.heat_cycles == 0);
  ew_book_close(book);
  shop_clear(&s);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(seconds_above),
                                     cmocka_unit_test(from_stored_raw)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
