/* What could steer a terminal is written out. Outside sources: ISO/IEC 6429 (C0, C1), Unicode UAX #9 (bidirectional controls). */
#include "base/plain.h"
#include "base/json_writer.h"
#include "unit.h"

static const struct {
  const char *says, *given, *line;
} rows[] = {
    {"plain words stay", "oil 90 °C, 5 µm – Öl", "oil 90 °C, 5 µm – Öl"},
    {"an escape sequence that retitles the window", "\x1b]0;pwned\x07", "\\x1b]0;pwned\\x07"},
    {"a carriage return that overwrites the line", "all well\rX", "all well\\x0dX"},
    {"a line end that forges a line", "a\nenginewright: b", "a\\x0aenginewright: b"},
    {"DEL", "a\x7f", "a\\x7f"},
    {"C1: an 8-bit control sequence introducer",
     "\xc2\x9b"
     "31m",
     "\\x9b31m"},
    {"a bidirectional override", "\xe2\x80\xaegnp.exe", "\\u202egnp.exe"},
    {"a line separator",
     "a\xe2\x80\xa8"
     "b",
     "a\\u2028b"},
    {"bytes that are not UTF-8", "\xff\x9b", "\\xff\\x9b"},
    {"the half of a character", "a\xe2\x80", "a\\xe2\\x80"},
    {"nothing", "", ""}};

static void written_out(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autofree char *line = ew_plain_line(rows[i].given);
    expect(strcmp(line, rows[i].line) == 0, rows[i].says, "%s", line);
    expect(ew_plain_is(rows[i].given) == (strcmp(line, rows[i].given) == 0), rows[i].says, "%s",
           line);
    expect(ew_plain_is(line), rows[i].says, "%s", line);
  }
  g_autofree char *text = ew_plain_text("a\tb\nc\x1b");
  assert_string_equal(text, "a\tb\nc\\x1b");
}

static void json_too(void **state) {
  (void)state;
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_text(&json, NULL,
               "a\x7f\xc2\x9b"
               "31m\x1bµ");
  assert_string_equal(json.text->str, "\"a\\u007f\\u009b31m\\u001bµ\"");
  g_string_free(json.text, TRUE);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(written_out), cmocka_unit_test(json_too)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
