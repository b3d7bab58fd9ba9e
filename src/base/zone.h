/* Which day is it, where the shop is? Times are stored in UTC; a day of work is a day of the shop's own time zone, named
 * as the IANA time zone database names it ("Europe/Berlin"), whose rules come from the machine (package tzdata). */
#pragma once
#include <glib.h>

#define EW_DAY_SIZE 11 /* "2026-11-25" with its end */

/* A zone that this machine has the rules of; refuses another, with what to write. To be unreffed. */
GTimeZone *ew_zone_find(const char *name, GError **error);
/* The machine's own, "UTC" when it has none by name. To be freed. */
char *ew_zone_of_machine(void);

/* Unix seconds of an instant as this program stores it, "2026-11-25T20:15:00.123Z"; of a date alone, its midnight in UTC. NaN when it
 * is neither. */
double ew_instant(const char *text);
/* An instant as this program stores it, in UTC to the millisecond: of Unix seconds. */
char *ew_instant_write(double unix_s);
/* The instants, in order, at which the clocks of a zone showed this: `naive_s` is what they showed as if it were UTC. One of an
 * ordinary time, two where clocks were put back, none where they were put forward over it. */
int ew_zone_instants(GTimeZone *zone, double naive_s, double unix_s[2]);
/* "2026-11-30 16:50", with seconds or without, with an offset ("+01:00", "Z") or, without one, as the clock in that zone shows:
 * Unix seconds. Refuses what is not such a time, a time that the clocks there left out, and one that they showed twice, with
 * what to write. `field` names it in the message. */
gboolean ew_zone_read(GTimeZone *zone, const char *field, const char *text, double *unix_s,
                      GError **error);
/* "2026-11-30 16:50 +01:00" of an instant, as the clock in that zone showed it. "-" of none. */
char *ew_zone_show(GTimeZone *zone, const char *instant);

/* The day that an instant belongs to in that zone. A date alone is its own day. FALSE when it is neither. */
gboolean ew_zone_day(GTimeZone *zone, const char *instant, char day[EW_DAY_SIZE]);
