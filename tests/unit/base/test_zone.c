/* The day that an instant belongs to, where clocks are changed: the rules are the IANA time zone database's (2025b). In each
 * zone the first and the last second of a day are tried: one of 23 hours, one of 25, one of 24 and a half. */
#include "base/zone.h"
#include "unit.h"
#include <math.h>
#include <string.h>

static void days(void **state) {
  (void)state;
  static const struct {
    const char *zone, *instant, *day;
  } rows[] = {
      /* Los Angeles: UTC-8, from 8 March to 1 November 2026 UTC-7 */
      {"America/Los_Angeles", "2026-03-08T07:59:59Z", "2026-03-07"},
      {"America/Los_Angeles", "2026-03-08T08:00:00Z", "2026-03-08"},
      {"America/Los_Angeles", "2026-03-09T06:59:59.999Z", "2026-03-08"},
      {"America/Los_Angeles", "2026-03-09T07:00:00Z", "2026-03-09"},
      {"America/Los_Angeles", "2026-11-01T06:59:59Z", "2026-10-31"},
      {"America/Los_Angeles", "2026-11-01T07:00:00Z", "2026-11-01"},
      {"America/Los_Angeles", "2026-11-02T07:59:59Z", "2026-11-01"},
      {"America/Los_Angeles", "2026-11-02T08:00:00Z", "2026-11-02"},
      /* Berlin: UTC+1, from 29 March to 25 October 2026 UTC+2 */
      {"Europe/Berlin", "2026-03-28T22:59:59Z", "2026-03-28"},
      {"Europe/Berlin", "2026-03-28T23:00:00Z", "2026-03-29"},
      {"Europe/Berlin", "2026-03-29T21:59:59Z", "2026-03-29"},
      {"Europe/Berlin", "2026-03-29T22:00:00Z", "2026-03-30"},
      {"Europe/Berlin", "2026-10-24T21:59:59Z", "2026-10-24"},
      {"Europe/Berlin", "2026-10-24T22:00:00Z", "2026-10-25"},
      {"Europe/Berlin", "2026-10-25T22:59:59Z", "2026-10-25"},
      {"Europe/Berlin", "2026-10-25T23:00:00Z", "2026-10-26"},
      /* Kolkata: UTC+5:30 all the year */
      {"Asia/Kolkata", "2026-06-30T18:29:59Z", "2026-06-30"},
      {"Asia/Kolkata", "2026-06-30T18:30:00Z", "2026-07-01"},
      {"Asia/Kolkata", "2026-12-31T18:30:00Z", "2027-01-01"},
      /* Lord Howe: UTC+10:30, from 4 October to 5 April UTC+11: half an hour */
      {"Australia/Lord_Howe", "2026-04-04T12:59:59Z", "2026-04-04"},
      {"Australia/Lord_Howe", "2026-04-04T13:00:00Z", "2026-04-05"},
      {"Australia/Lord_Howe", "2026-04-05T13:29:59Z", "2026-04-05"},
      {"Australia/Lord_Howe", "2026-04-05T13:30:00Z", "2026-04-06"},
      {"Australia/Lord_Howe", "2026-10-03T13:29:59Z", "2026-10-03"},
      {"Australia/Lord_Howe", "2026-10-03T13:30:00Z", "2026-10-04"},
      {"Australia/Lord_Howe", "2026-10-04T12:59:59Z", "2026-10-04"},
      {"Australia/Lord_Howe", "2026-10-04T13:00:00Z", "2026-10-05"},
      {"UTC", "2026-11-25T23:59:59Z", "2026-11-25"},
      /* an instant written with an offset is the same instant */
      {"Europe/Berlin", "2026-11-25T23:30:00+00:00", "2026-11-26"},
      {"Europe/Berlin", "2026-11-25T23:30:00+01:00", "2026-11-25"},
      /* a date alone is its own day, in every zone */
      {"America/Los_Angeles", "2026-11-25", "2026-11-25"},
      {"Australia/Lord_Howe", "2026-11-25", "2026-11-25"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GTimeZone) zone = ew_zone_find(rows[i].zone, NULL);
    char day[EW_DAY_SIZE];
    assert_non_null(zone);
    assert_true(ew_zone_day(zone, rows[i].instant, day));
    if (strcmp(day, rows[i].day) != 0)
      fail_msg("%s in %s is %s, not %s", rows[i].instant, rows[i].zone, rows[i].day, day);
  }
}

static void no_instant(void **state) {
  (void)state;
  static const char *const texts[] = {
      "", "yesterday", "2026-13-01", "2026-02-30", "2026-11-25T25:00:00Z", "2026-1-2"};
  g_autoptr(GTimeZone) zone = ew_zone_find("UTC", NULL);
  char day[EW_DAY_SIZE];
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++) {
    assert_false(ew_zone_day(zone, texts[i], day));
    assert_true(isnan(ew_instant(texts[i])));
  }
  assert_false(ew_zone_day(zone, NULL, day));
  assert_true(isnan(ew_instant(NULL)));
  assert_true(ew_instant("1970-01-02") == 86400 && ew_instant("1970-01-01T00:00:01.5Z") == 1.5);
}

static void no_zone(void **state) {
  (void)state;
  static const char *const names[] = {"Europe/Atlantis",
                                      "",
                                      "Berlin",
                                      "+02:00",
                                      "XYZ3",
                                      "../UTC",
                                      "Europe",
                                      "Europe/../Europe/Berlin",
                                      "europe/berlin\n"};
  for (gsize i = 0; i < G_N_ELEMENTS(names); i++) {
    g_autoptr(GError) error = NULL;
    assert_null(ew_zone_find(names[i], &error));
    assert_non_null(strstr(error->message, "America/Los_Angeles"));
  }
  g_autofree char *here = ew_zone_of_machine();
  g_autoptr(GTimeZone) zone = ew_zone_find(here, NULL);
  assert_non_null(zone);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(days), cmocka_unit_test(no_instant),
                                     cmocka_unit_test(no_zone)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
