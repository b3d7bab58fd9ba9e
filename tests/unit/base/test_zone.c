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

/* What the clock on the wall showed, over both changes. The rules are the IANA database's (2025b); expected instants are also
 * those of python3's zoneinfo, with fold 0 and 1. */
static void clocks(void **state) {
  (void)state;
  static const struct {
    const char *zone, *text, *instant; /* instant NULL: refused, with these words: */
    const char *words;
  } rows[] = {
      {"America/Los_Angeles", "2026-11-30 16:50", "2026-12-01T00:50:00Z", NULL},
      {"America/Los_Angeles", "2026-03-08 01:59:59", "2026-03-08T09:59:59Z", NULL},
      {"America/Los_Angeles", "2026-03-08 02:30", NULL, "left out"},
      {"America/Los_Angeles", "2026-03-08 03:00", "2026-03-08T10:00:00Z", NULL},
      {"America/Los_Angeles", "2026-11-01 00:59", "2026-11-01T07:59:00Z", NULL},
      {"America/Los_Angeles", "2026-11-01 01:30", NULL, "twice|-07:00|-08:00"},
      {"America/Los_Angeles", "2026-11-01 02:00", "2026-11-01T10:00:00Z", NULL},
      {"Europe/Berlin", "2026-11-30 16:50", "2026-11-30T15:50:00Z", NULL},
      {"Europe/Berlin", "2026-03-29 02:15", NULL, "left out"},
      {"Europe/Berlin", "2026-10-25 02:15", NULL,
       "twice|2026-10-25 02:15 +02:00|2026-10-25 02:15 +01:00"},
      {"Europe/Berlin", "2026-10-25 02:15 +02:00", "2026-10-25T00:15:00Z", NULL},
      {"Europe/Berlin", "2026-10-25 02:15 +01:00", "2026-10-25T01:15:00Z", NULL},
      {"Europe/Berlin", "2026-10-25 03:00", "2026-10-25T02:00:00Z", NULL},
      {"Asia/Kolkata", "2026-06-30 12:00:00.250", "2026-06-30T06:30:00.250Z", NULL},
      {"Asia/Kolkata", "2026-01-01 00:10", "2025-12-31T18:40:00Z", NULL},
      {"Australia/Lord_Howe", "2026-04-05 01:45", NULL, "twice|+11:00|+10:30"},
      {"Australia/Lord_Howe", "2026-04-05 01:29", "2026-04-04T14:29:00Z", NULL},
      {"Australia/Lord_Howe", "2026-04-05 02:00", "2026-04-04T15:30:00Z", NULL},
      {"Australia/Lord_Howe", "2026-10-04 02:15", NULL, "left out"},
      {"Australia/Lord_Howe", "2026-10-04 02:30", "2026-10-03T15:30:00Z", NULL},
      {"UTC", "2026-11-30T16:50", "2026-11-30T16:50:00Z", NULL},
      {"Europe/Berlin", "2026-11-30T16:50Z", "2026-11-30T16:50:00Z", NULL},
      {"Europe/Berlin", "2026-11-30T16:50:12-0500", "2026-11-30T21:50:12Z", NULL},
      {"Europe/Berlin", "2026-11-30", NULL, "not a time|2026-11-30 16:50"},
      {"Europe/Berlin", "2026-11-31 10:00", NULL, "not a time"},
      {"Europe/Berlin", "2026-11-30 24:00", NULL, "not a time"},
      {"Europe/Berlin", "2026-11-30 16:60", NULL, "not a time"},
      {"Europe/Berlin", "2026-11-30 16:50:60", NULL, "not a time"},
      {"Europe/Berlin", "2026-11-30 16:50 CET", NULL, "not a time"},
      {"Europe/Berlin", "2026-11-30 16:50 +25:00", NULL, "not a time"},
      {"Europe/Berlin", "yesterday", NULL, "not a time"},
      {"Europe/Berlin", "", NULL, "not a time"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GTimeZone) zone = ew_zone_find(rows[i].zone, NULL);
    g_autoptr(GError) error = NULL;
    double unix_s = NAN;
    gboolean good = ew_zone_read(zone, "at", rows[i].text, &unix_s, &error);
    expect(good == (rows[i].instant != NULL), rows[i].text, "%s", error ? error->message : "taken");
    if (!good) {
      expect_refused(error, rows[i].words, rows[i].text);
      continue;
    }
    g_autofree char *instant = ew_instant_write(unix_s);
    expect(strcmp(instant, rows[i].instant) == 0, rows[i].text, "%s", instant);
  }
}

/* Written and read back to the same; shown with the offset of that day. */
static void instants(void **state) {
  (void)state;
  static const double seconds[] = {0, 0.5, 1e9, 1764608999.999, 951782400, -1.25};
  for (gsize i = 0; i < G_N_ELEMENTS(seconds); i++) {
    g_autofree char *text = ew_instant_write(seconds[i]);
    assert_true(fabs(ew_instant(text) - seconds[i]) < 1e-6);
  }
  g_autoptr(GTimeZone) zone = ew_zone_find("Australia/Lord_Howe", NULL);
  g_autofree char *winter = ew_zone_show(zone, "2026-07-01T00:00:00Z"),
                  *summer = ew_zone_show(zone, "2026-12-31T13:30:00Z"),
                  *none = ew_zone_show(zone, "soon");
  assert_string_equal(winter, "2026-07-01 10:30 +10:30");
  assert_string_equal(summer, "2027-01-01 00:30 +11:00");
  assert_string_equal(none, "-");
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(days), cmocka_unit_test(no_instant),
                                     cmocka_unit_test(no_zone), cmocka_unit_test(clocks),
                                     cmocka_unit_test(instants)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
