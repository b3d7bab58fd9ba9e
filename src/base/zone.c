/* Days of a time zone: GLib's rules, held to names that the time zone database has. */
#include "base/zone.h"
#include "base/error.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

#define FOLDER "/usr/share/zoneinfo"

/* GLib also takes offsets and rules ("+02:00", "XYZ3"): here a zone is a name that stands in the database. */
static gboolean is_in_database(const char *name) {
  const char *folder = g_getenv("TZDIR");
  if (!g_ascii_isalpha(*name) || strlen(name) > 64 || strstr(name, "..") ||
      strspn(name, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_+-/") !=
          strlen(name))
    return FALSE;
  g_autofree char *file = g_build_filename(folder ? folder : FOLDER, name, NULL);
  return g_file_test(file, G_FILE_TEST_IS_REGULAR);
}

GTimeZone *ew_zone_find(const char *name, GError **error) {
  if (strcmp(name, "UTC") == 0)
    return g_time_zone_new_utc();
  GTimeZone *zone = is_in_database(name) ? g_time_zone_new_identifier(name) : NULL;
  if (!zone)
    ew_refuse(error,
              "zone: '%.64s' is not a time zone of this machine; write its name in the IANA "
              "database, such as Europe/Berlin or America/Los_Angeles (package tzdata)",
              name);
  return zone;
}

char *ew_zone_of_machine(void) {
  g_autoptr(GTimeZone) local = g_time_zone_new_local();
  const char *name = g_time_zone_get_identifier(local);
  return g_strdup(name && is_in_database(name) ? name : "UTC");
}

/* "2026-11-25": a date alone. NULL when it is none. */
static GDateTime *date_of(const char *text) {
  int year, month, day, end = 0;
  if (strlen(text) != 10 || sscanf(text, "%4d-%2d-%2d%n", &year, &month, &day, &end) != 3 ||
      end != 10)
    return NULL;
  return g_date_time_new_utc(year, month, day, 0, 0, 0);
}

static GDateTime *instant_of(const char *text) {
  g_autoptr(GTimeZone) utc = g_time_zone_new_utc();
  return text ? g_date_time_new_from_iso8601(text, utc) : NULL;
}

double ew_instant(const char *text) {
  g_autoptr(GDateTime) date = text ? date_of(text) : NULL;
  g_autoptr(GDateTime) time = date ? g_date_time_ref(date) : instant_of(text);
  return time ? (double)g_date_time_to_unix(time) + g_date_time_get_microsecond(time) / 1e6
              : (double)NAN;
}

gboolean ew_zone_day(GTimeZone *zone, const char *instant, char day[EW_DAY_SIZE]) {
  g_autoptr(GDateTime) date = instant ? date_of(instant) : NULL;
  g_autoptr(GDateTime) time = date ? NULL : instant_of(instant);
  g_autoptr(GDateTime) there = time ? g_date_time_to_timezone(time, zone) : NULL;
  GDateTime *known = date ? date : there;
  if (!known)
    return FALSE;
  g_snprintf(day, EW_DAY_SIZE, "%04d-%02d-%02d", g_date_time_get_year(known) % 10000,
             g_date_time_get_month(known), g_date_time_get_day_of_month(known));
  return TRUE;
}
