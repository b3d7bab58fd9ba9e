/* Other people's words on a terminal or in a log: whatever could steer it is written out.
 *
 * Control characters (ISO/IEC 6429: C0, DEL, C1) move the cursor, retitle the window, answer in the user's name; the
 * bidirectional controls of Unicode (UAX #9: U+202A to U+202E, U+2066 to U+2069) and its line ends (U+2028, U+2029) show another text than is
 * there. All of them, and bytes that are not UTF-8, are written as "\x1b" or "\u202e". */
#pragma once
#include <glib.h>

/* A line: line ends and tabs are written out too. The caller frees it. */
char *ew_plain_line(const char *text);
/* Our own text of several lines: line ends and tabs stay. The caller frees it. */
char *ew_plain_text(const char *text);
/* Nothing in it would be written out as a line. */
gboolean ew_plain_is(const char *text);
