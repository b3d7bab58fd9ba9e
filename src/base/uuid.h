/* Names of rows that hold everywhere and sort by time: UUID version 7 of RFC 9562, section 5.7.
 *
 *     0                   1                   2                   3
 *     unix_ts_ms (48 bits)             | ver 7 (4) | rand_a (12) | var 2 (2) | rand_b (62)
 *
 * rand_a is a counter within one millisecond (section 6.2, method 1: fixed-length dedicated counter, seeded at random with
 * its highest bit 0): names made by one process rise in the order in which they were made, also when the clock stands or
 * goes back. rand_b is random: two machines that agree on everything else differ by 62 bits. */
#pragma once
#include <glib.h>

#define EW_UUID_SIZE 37 /* text in small letters, with its end */

/* The layout alone: 48 bits of time, 12 and 62 bits of what is given; higher bits of them are dropped. */
void ew_uuid7_write(guint64 unix_ms, guint16 rand_a, guint64 rand_b, char uuid[EW_UUID_SIZE]);
/* A new one. Any thread. */
void ew_uuid7(char uuid[EW_UUID_SIZE]);
/* The same for what was made long ago: its time, and bits that follow from `of` alone (SHA-256), so that two copies of the
 * same thing give the same name. A time before 1970, or NaN, counts as 1970. */
void ew_uuid7_of(double unix_s, const char *of, char uuid[EW_UUID_SIZE]);
/* Is it 36 characters of that layout, in small letters? */
gboolean ew_uuid7_is(const char *text);
gint64 ew_uuid7_unix_ms(const char *uuid); /* of one that is */
