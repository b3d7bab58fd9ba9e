/* One pass over a text, character by character, that writes out what could steer a terminal. Which characters those
 * are, and after which standards: plain.h. */
#include "base/plain.h"
#include <string.h>

static gboolean steers(gunichar c) {
  return c < 0x20 || (c >= 0x7f && c < 0xa0) || (c >= 0x2028 && c <= 0x202e) ||
         (c >= 0x2066 && c <= 0x2069);
}

static char *write_out(const char *text, gboolean lines) {
  GString *out = g_string_sized_new(strlen(text));
  for (const char *at = text; *at;) {
    gunichar c = g_utf8_get_char_validated(at, -1);
    if (c == (gunichar)-1 || c == (gunichar)-2) {
      g_string_append_printf(out, "\\x%02x", (guint)(guchar)*at++);
      continue;
    }
    if (!steers(c) || (lines && (c == '\n' || c == '\t')))
      g_string_append_unichar(out, c);
    else
      g_string_append_printf(out, c < 0x100 ? "\\x%02x" : "\\u%04x", c);
    at = g_utf8_next_char(at);
  }
  return g_string_free(out, FALSE);
}

char *ew_plain_line(const char *text) {
  return write_out(text, FALSE);
}

char *ew_plain_text(const char *text) {
  return write_out(text, TRUE);
}

gboolean ew_plain_is(const char *text) {
  if (!g_utf8_validate(text, -1, NULL))
    return FALSE;
  for (const char *at = text; *at; at = g_utf8_next_char(at))
    if (steers(g_utf8_get_char(at)))
      return FALSE;
  return TRUE;
}
