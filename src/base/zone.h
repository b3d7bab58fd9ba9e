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
/* The day that an instant belongs to in that zone. A date alone is its own day. FALSE when it is neither. */
gboolean ew_zone_day(GTimeZone *zone, const char *instant, char day[EW_DAY_SIZE]);
