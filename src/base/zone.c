/* Days of a time zone: GLib's rules, held to names that the time zone database has. */
#include "base/zone.h"
#include "base/error.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

#define FOLDER         "/usr/share/zoneinfo"
#define BEYOND_DATES_S 1e12 /* no calendar has such a second */

/* GLib also takes offsets and rules ("+02:00", "XYZ3"): here a zone is a name of the database. */
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
  g_assert(strlen(day) == EW_DAY_SIZE - 1);
  return TRUE;
}

/* ---- the clock on the wall ---- */

char *ew_instant_write(double unix_s) {
  if (!(fabs(unix_s) < BEYOND_DATES_S)) /* nor has it NaN: as of the years beyond 9999 */
    return g_strdup("Z");
  gint64 ms = (gint64)floor(unix_s * 1000 + 0.5),
         whole = ms >= 0 ? ms / 1000 : -((999 - ms) / 1000);
  g_autoptr(GDateTime) time = g_date_time_new_from_unix_utc(whole);
  g_autofree char *seconds = time ? g_date_time_format(time, "%Y-%m-%dT%H:%M:%S") : g_strdup("");
  gint64 rest = ms - whole * 1000;
  g_assert(rest >= 0 && rest < 1000);
  return rest ? g_strdup_printf("%s.%03dZ", seconds, (int)rest) : g_strconcat(seconds, "Z", NULL);
}

static double offset_at(GTimeZone *zone, double unix_s) {
  int interval = g_time_zone_find_interval(zone, G_TIME_TYPE_UNIVERSAL, (gint64)floor(unix_s));
  return interval < 0 ? 0 : g_time_zone_get_offset(zone, interval);
}

/* A zone keeps an offset for longer than a day, so that those of a day before and after are all there can be. */
int ew_zone_instants(GTimeZone *zone, double naive_s, double unix_s[2]) {
  double offsets[] = {offset_at(zone, naive_s - 86400), offset_at(zone, naive_s + 86400)};
  int count = 0;
  for (int i = 0; i < (offsets[0] == offsets[1] ? 1 : 2); i++)
    if (offset_at(zone, naive_s - offsets[i]) == offsets[i])
      unix_s[count++] = naive_s - offsets[i];
  if (count == 2 && unix_s[0] > unix_s[1]) {
    double later = unix_s[0];
    unix_s[0] = unix_s[1];
    unix_s[1] = later;
  }
  g_assert(count < 2 || unix_s[0] < unix_s[1]);
  return count;
}

/* "Z", "+01:00", "-0730" up to the end; FALSE when it is something else. No text means no offset. */
static gboolean read_offset(const char *at, gboolean *given, double *offset_s) {
  int hour = 0, minute = 0, end = 0;
  *given = *at != 0;
  *offset_s = 0;
  if (!*at || ((*at == 'Z' || *at == 'z') && !at[1]))
    return TRUE;
  if (*at != '+' && *at != '-')
    return FALSE;
  if (!(sscanf(at + 1, "%2d:%2d%n", &hour, &minute, &end) == 2 && end && !at[1 + end]) &&
      !(sscanf(at + 1, "%2d%2d%n", &hour, &minute, &end) == 2 && end == 4 && !at[1 + end]))
    return FALSE;
  *offset_s = (*at == '-' ? -1 : 1) * (hour * 3600 + minute * 60);
  return hour >= 0 && hour <= 14 && minute >= 0 && minute < 60;
}

/* The figures of the clock as if they were UTC. */
static gboolean read_clock(const char *text, double *naive_s, gboolean *given, double *offset_s) {
  int year, month, day, hour, minute, end = 0;
  double second = 0;
  char mark;
  if (sscanf(text, "%4d-%2d-%2d%c%2d:%2d%n", &year, &month, &day, &mark, &hour, &minute, &end) !=
          6 ||
      !end || (mark != 'T' && mark != 't' && mark != ' '))
    return FALSE;
  const char *at = text + end;
  if (*at == ':') {
    char *rest = NULL;
    if (!g_ascii_isdigit(at[1]) || !g_ascii_isdigit(at[2]) || g_ascii_isdigit(at[3]))
      return FALSE;
    second = g_ascii_strtod(at + 1, &rest);
    at = rest;
  }
  at += *at == ' ' && at[1];
  g_autoptr(GDateTime) time = g_date_time_new_utc(year, month, day, hour, minute, 0);
  if (!time || !(second >= 0 && second < 60) || !read_offset(at, given, offset_s))
    return FALSE;
  *naive_s = (double)g_date_time_to_unix(time) + second;
  return TRUE;
}

static char *with_offset(GTimeZone *zone, double unix_s) {
  g_autofree char *instant = ew_instant_write(unix_s);
  g_autoptr(GDateTime) utc = instant_of(instant);
  g_autoptr(GDateTime) there = utc ? g_date_time_to_timezone(utc, zone) : NULL;
  return there ? g_date_time_format(there, "%Y-%m-%d %H:%M %:z") : g_strdup("-");
}

gboolean ew_zone_read(GTimeZone *zone, const char *field, const char *text, double *unix_s,
                      GError **error) {
  double naive_s, offset_s, instants[2];
  gboolean given;
  if (!read_clock(text, &naive_s, &given, &offset_s))
    return ew_refuse(error,
                     "%s: '%.60s' is not a time; write, for example, \"2026-11-30 16:50\" (the "
                     "shop's clock) or 2026-11-30T15:50:00Z",
                     field, text);
  if (given) {
    *unix_s = naive_s - offset_s;
    return TRUE;
  }
  int count = ew_zone_instants(zone, naive_s, instants);
  if (count == 1) {
    *unix_s = instants[0];
    return TRUE;
  }
  const char *name = g_time_zone_get_identifier(zone);
  if (count == 0)
    return ew_refuse(error,
                     "%s: '%.60s' is a time that the clocks of %s left out when they were put "
                     "forward: write another time, or one with its offset",
                     field, text, name);
  g_autofree char *one = with_offset(zone, instants[0]), *other = with_offset(zone, instants[1]);
  return ew_refuse(error,
                   "%s: the clocks of %s showed '%.60s' twice, as they were put back: write \"%s\" "
                   "or \"%s\"",
                   field, name, text, one, other);
}

char *ew_zone_show(GTimeZone *zone, const char *instant) {
  double unix_s = ew_instant(instant);
  return isnan(unix_s) ? g_strdup("-") : with_offset(zone, unix_s);
}
