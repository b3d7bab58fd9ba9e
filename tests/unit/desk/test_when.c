/* When a recording ran: from what was said, from the file, from its stamp, from the clock. */
#include "base/zone.h"
#include "desk/when.h"
#include "unit.h"

#define FIGURES "Time,RPM,Torque\n0.0,2500,100\n0.1,2600,101\n0.2,2700,102\n0.3,2800,103\n"
#define NOW     "2026-12-01T12:00:00Z"
#define STAMP   "2026-11-29T08:00:00Z"

static void sources(void **state) {
  (void)state;
  static const struct {
    const char *says, *typed, *file, *at;
    enum ew_told_from from;
  } rows[] = {
      {"said, by the shop's clock", "2026-11-30 16:50", FIGURES, "2026-11-30T15:50:00Z",
       EW_FROM_TYPED},
      {"nothing said: the stamp", NULL, FIGURES, STAMP, EW_FROM_STAMP},
      {"a preamble of two lines", NULL, "Date,2026-11-28\nTime,09:15:00\n\n" FIGURES,
       "2026-11-28T08:15:00Z", EW_FROM_FILE},
      {"a preamble of one", NULL, "# Recorded: 2026-11-28 09:15:30\n" FIGURES,
       "2026-11-28T08:15:30Z", EW_FROM_FILE},
      {"a day with dots", NULL,
       "Datum;28.11.2026\nUhrzeit;09:15:00\n\nTime;RPM;Torque\n0,0;2500;99,5\n0,1;2600;99,7\n0,2;"
       "2700;99,9\n",
       "2026-11-28T08:15:00Z", EW_FROM_FILE},
      {"an instant with its offset", NULL, "Start,2026-11-28T09:15:00-05:00\n" FIGURES,
       "2026-11-28T14:15:00Z", EW_FROM_FILE},
      {"a date alone, of another day than the stamp: noon", NULL, "Date,2026-11-28\n" FIGURES,
       "2026-11-28T11:00:00Z", EW_FROM_FILE},
      {"a date alone, of the stamp's day", NULL, "Date,2026-11-29\n" FIGURES, STAMP, EW_FROM_FILE},
      {"a column of dates", NULL,
       "Date Time,RPM\n2026-11-28 09:15:00,2500\n2026-11-28 09:15:01,2600\n2026-11-28 "
       "09:15:02,2700\n",
       "2026-11-28T08:15:00Z", EW_FROM_FILE},
      {"a date before, a clock in the rows", NULL,
       "Date,2026-11-28\n\nTime,RPM,Torque\n09:15:00,2500,99\n09:15:01,2600,100\n09:15:02,2700,"
       "101\n",
       "2026-11-28T08:15:00Z", EW_FROM_FILE},
      {"a clock that counts from the start is no time of day", NULL,
       "Time,RPM\n00:00:00,2500\n00:00:01,2600\n00:00:02,2700\n", STAMP, EW_FROM_STAMP},
      {"a recorder whose clock was never set", NULL, "Date,1970-01-01\n" FIGURES, STAMP,
       EW_FROM_STAMP},
      {"a recorder from the future", NULL, "Date,2031-01-01\n" FIGURES, STAMP, EW_FROM_STAMP},
      {"a note that is no date", NULL, "Comment,2026-11-28 was cold\n" FIGURES, STAMP,
       EW_FROM_STAMP},
      {"a time shown twice: the first", NULL, "Start,2026-10-25 02:15:00\n" FIGURES,
       "2026-10-25T00:15:00Z", EW_FROM_FILE},
      {"a time left out: as if the clock had not been put forward", NULL,
       "Start,2026-03-29 02:15:00\n" FIGURES, "2026-03-29T01:15:00Z", EW_FROM_FILE},
  };
  g_autoptr(GTimeZone) zone = ew_zone_find("Europe/Berlin", NULL);
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_when_ask ask = {.zone = zone,
                              .typed = rows[i].typed,
                              .stamp_s = ew_instant(STAMP),
                              .now_s = ew_instant(NOW)};
    struct ew_when when;
    g_autoptr(GError) error = NULL;
    expect(ew_when_of(&ask, rows[i].file, strlen(rows[i].file), "run.csv", &when, &error),
           rows[i].says, "%s", error ? error->message : "");
    g_autofree char *at = ew_instant_write(when.unix_s);
    expect(strcmp(at, rows[i].at) == 0 && when.from == rows[i].from, rows[i].says, "%s, %s", at,
           ew_told_from_keys[when.from]);
    expect(!when.doubt, rows[i].says, "doubted");
  }
}

static void refused_and_doubted(void **state) {
  (void)state;
  g_autoptr(GTimeZone) zone = ew_zone_find("Europe/Berlin", NULL);
  struct ew_when_ask ask = {
      .zone = zone, .typed = "2027-11-30 16:50", .stamp_s = NAN, .now_s = ew_instant(NOW)};
  struct ew_when when;
  g_autoptr(GError) error = NULL;
  assert_false(ew_when_of(&ask, FIGURES, strlen(FIGURES), "run.csv", &when, &error));
  expect_refused(error, "still to come|2027", "the year of tomorrow");
  static const char file[] = "Date,2026-11-28\nTime,09:15:00\n\n" FIGURES;
  ask.typed = "2025-11-28 09:15";
  assert_true(ew_when_of(&ask, file, strlen(file), "run.csv", &when, NULL));
  assert_non_null(when.doubt);
  assert_string_equal(ew_message_id(when.doubt), "pull.doubt-time");
  ew_message_free(when.doubt);
  ask.typed = NULL; /* no stamp, no file's date: the clock; live: the clock whatever stands in it */
  assert_true(ew_when_of(&ask, FIGURES, strlen(FIGURES), "run.csv", &when, NULL));
  assert_true(when.from == EW_FROM_CLOCK && when.unix_s == ask.now_s);
  ask.live = TRUE;
  assert_true(ew_when_of(&ask, file, strlen(file), "run.csv", &when, NULL));
  assert_true(when.from == EW_FROM_CLOCK);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(sources),
                                     cmocka_unit_test(refused_and_doubted)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
