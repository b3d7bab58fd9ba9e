/* Facts in, sentences out: what is stored reads back to the same bits, hostile bytes are refused, a translation may put
 * the arguments in another order, and a later program's message is shown as what it is. */
#include "base/language.h"
#include "base/message.h"
#include "base/words.h"
#include "unit.h"
#include <math.h>

EW_MESSAGE(oil, "test.oil", EW_NOTE, "oil at the start");
EW_MESSAGE(window, "test.window", EW_CAUTION, "{what} differs by {gap} (window ±{window})");
EW_MESSAGE_MANY(skipped, "test.skipped", EW_NOTE, "{rows} row was skipped",
                "{rows} rows were skipped");
EW_MESSAGE(brace, "test.brace", EW_NOTE, "a {{ and {text}");
EW_MESSAGE(all, "test.all", EW_DANGER, "{share} {figure} {inner} {list}");

static ew_message *make_window(double gap) {
  return ew_message_about(
      ew_message(&window, ew_say_word("what", &oil),
                 ew_say_change("gap", EW_KIND_TEMPERATURE_DIFFERENCE, gap, 1),
                 ew_say_quantity("window", EW_KIND_TEMPERATURE_DIFFERENCE, 3, 0)),
      "oil_temperature");
}

static void expect_text(const ew_message *m, enum ew_unit_system units, const char *want) {
  g_autofree char *text = ew_message_text(m, units);
  assert_string_equal(text, want);
}

static void sentences(void **state) {
  (void)state;
  g_autoptr(ew_message) m = make_window(5.25);
  expect_text(m, EW_UNITS_SI, "oil at the start differs by +5.2 K (window ±3 K)");
  expect_text(m, EW_UNITS_US, "oil at the start differs by +9.4 delta°F (window ±5 delta°F)");
  /* as fine in either system: a clearance in thousandths of a millimetre, or in tenths of a thou; small volumes in cc */
  g_autoptr(ew_message) fine =
      ew_message(&window, ew_say_quantity("what", EW_KIND_LENGTH, 5.8e-5, 3),
                 ew_say_quantity("gap", EW_KIND_VOLUME, 4.41e-5, 1),
                 ew_say_quantity("window", EW_KIND_PRESSURE_ABSOLUTE, 98500, 0));
  expect_text(fine, EW_UNITS_SI, "0.058 mm differs by 44.1 cc (window ±985 hPa)");
  expect_text(fine, EW_UNITS_US, "0.0023 in differs by 44.1 cc (window ±29.1 inHg)");
  g_autoptr(ew_message) none = make_window((double)NAN);
  expect_text(none, EW_UNITS_SI, "oil at the start differs by - (window ±3 K)");
  g_autoptr(ew_message) still = make_window(0);
  g_autoptr(ew_message) less = make_window(-0.04);
  expect_text(still, EW_UNITS_SI, "oil at the start differs by +0.0 K (window ±3 K)");
  expect_text(less, EW_UNITS_SI, "oil at the start differs by 0.0 K (window ±3 K)");
  g_autoptr(ew_message) one = ew_message(&skipped, ew_say_count("rows", 1));
  g_autoptr(ew_message) two = ew_message(&skipped, ew_say_count("rows", 2));
  expect_text(one, EW_UNITS_SI, "1 row was skipped");
  expect_text(two, EW_UNITS_SI, "2 rows were skipped");
  g_autoptr(ew_message) b = ew_message(&brace, ew_say_text("text", "{not a place}"));
  expect_text(b, EW_UNITS_SI, "a { and {not a place}");
  /* a term is somebody's own, or one of the catalogue's */
  g_autoptr(ew_message) own = ew_message(&brace, ew_say_term("text", "Müller's own alarm"));
  g_autoptr(ew_message) ours = ew_message(&brace, ew_say_term("text", "oil pressure"));
  g_autoptr(ew_message) empty = ew_message(&brace, ew_say_term("text", NULL));
  const ew_language *german = ew_language_find("de", NULL);
  ew_language_of_thread(german);
  expect_text(own, EW_UNITS_SI, "a { and Müller's own alarm");
  expect_text(ours, EW_UNITS_SI, "a { and Öldruck");
  expect_text(empty, EW_UNITS_SI, "a { and ");
  ew_language_of_thread(NULL);
  expect_text(ours, EW_UNITS_SI, "a { and oil pressure");
}

static ew_message *make_all(void) {
  g_autoptr(GPtrArray) list = ew_messages_new();
  ew_messages_add(list, make_window(0.1 + 0.2));
  ew_messages_add(list, ew_message(&skipped, ew_say_count("rows", G_MININT64)));
  g_autoptr(ew_message) inner = make_window(-INFINITY);
  return ew_message(&all, ew_say_share_change("share", 0.0123, 1),
                    ew_say_figure("figure", 12345.678, 2), ew_say_message("inner", inner),
                    ew_say_messages("list", list));
}

static void reads_back(void **state) {
  (void)state;
  g_autoptr(ew_message) m = make_all();
  g_autofree char *written = ew_message_write(m);
  GError *error = NULL;
  g_autoptr(ew_message) back = ew_message_read(written, strlen(written), &error);
  assert_null(error);
  g_autofree char *again = ew_message_write(back);
  assert_string_equal(written, again);
  assert_true(ew_message_equal(m, back));
  assert_true(ew_message_is(back, &all));
  assert_int_equal(ew_message_severity(back), EW_DANGER);
  g_autofree char *text = ew_message_text(m, EW_UNITS_SI),
                  *same = ew_message_text(back, EW_UNITS_SI);
  assert_string_equal(text, same);
  assert_non_null(strstr(text, "+1.2 % 12,345.68 oil"));
}

static void refused_bytes(void **state) {
  (void)state;
  static const char *const rows[] = {
      "",
      "[]",
      "{}",
      "\"id\"",
      "{\"id\": {}}",
      "{\"id\": \"test.oil\", \"arguments\": []}",
      "{\"id\": \"test.window\", \"arguments\": {\"what\": 3}}",
      "{\"id\": \"x\", \"arguments\": {\"a\": {\"quantity\": 3}}}",
      "{\"id\": \"x\", \"arguments\": {\"a\": {\"quantity\": 3, \"of\": \"colour\", \"decimals\": "
      "1}}}",
      "{\"id\": \"x\", \"arguments\": {\"a\": {\"figure\": 3, \"decimals\": 99}}}",
      "{\"id\": \"x\", \"arguments\": {\"a\": {\"count\": 1.5}}}",
      "{\"id\": \"x\", \"arguments\": {\"a\": {\"messages\": {}}}}",
      "{\"id\": \"x\", \"arguments\": {\"a\": {\"message\": {\"no\": 1}}}}"};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GError) error = NULL;
    assert_null(ew_message_read(rows[i], strlen(rows[i]), &error));
    assert_non_null(error);
  }
  GString *deep = g_string_new(NULL);
  for (int i = 0; i < 12; i++)
    g_string_append(deep, "{\"id\": \"x\", \"arguments\": {\"a\": {\"message\": ");
  g_string_append(deep, "{\"id\": \"x\"}");
  for (int i = 0; i < 12; i++)
    g_string_append(deep, "}}}");
  g_autoptr(GError) error = NULL;
  assert_null(ew_message_read(deep->str, deep->len, &error));
  assert_non_null(error);
  g_string_free(deep, TRUE);
}

static void of_a_later_program(void **state) {
  (void)state;
  static const char later[] =
      "{\"id\":\"moon.phase\",\"arguments\":{\"share\":{\"share\":0.5,\"decimals\":0},"
      "\"word\":{\"word\":\"moon.full\"}}}";
  g_autoptr(ew_message) m = ew_message_read(later, strlen(later), NULL);
  assert_non_null(m);
  assert_string_equal(ew_message_id(m), "moon.phase");
  expect_text(m, EW_UNITS_SI,
              "moon.phase: share 50 %, word moon.full (from a newer version of this program)");
  /* ours, with arguments that are not: never an assertion, never a sentence with holes */
  static const char other[] = "{\"id\":\"test.skipped\",\"arguments\":{\"lines\":{\"count\":3}}}";
  g_autoptr(ew_message) o = ew_message_read(other, strlen(other), NULL);
  expect_text(o, EW_UNITS_SI, "test.skipped: lines 3 (from a newer version of this program)");
}

static void kinds_are_known(void **state) {
  (void)state;
  assert_ptr_equal(ew_message_kind_find("test.window"), &window);
  assert_null(ew_message_kind_find("test.nothing"));
  g_autoptr(GPtrArray) kinds = ew_message_kinds();
  for (guint i = 1; i < kinds->len; i++)
    assert_true(strcmp(((const struct ew_message_kind *)kinds->pdata[i - 1])->id,
                       ((const struct ew_message_kind *)kinds->pdata[i])->id) < 0);
}

/* Made by msgfmt from the text below (its bytes are read at run time by the file's name). */
static const ew_language *german(void) {
  static char *folder;
  if (!folder)
    folder = g_dir_make_tmp("words-XXXXXX", NULL);
  g_autofree char *po = g_build_filename(folder, "t.po", NULL);
  g_autofree char *mo = g_build_filename(folder, "t.mo", NULL);
  static const char text[] =
      "msgid \"\"\nmsgstr \"Content-Type: text/plain; charset=UTF-8\\nPlural-Forms: nplurals=2; "
      "plural=(n != 1);\\n\"\n"
      "msgid \"{what} differs by {gap} (window ±{window})\"\nmsgstr \"Fenster ±{window}: {what} um "
      "{gap} anders\"\n"
      "msgid \"oil at the start\"\nmsgstr \"Öl am Anfang\"\n"
      "msgid \"{rows} row was skipped\"\nmsgid_plural \"{rows} rows were skipped\"\n"
      "msgstr[0] \"{rows} Zeile übergangen\"\nmsgstr[1] \"{rows} Zeilen übergangen\"\n"
      "msgctxt \"verdict\"\nmsgid \"same\"\nmsgstr \"gleich\"\n"
      "msgid \"%d of %s\"\nmsgstr \"%d von %s\"\n";
  assert_true(g_file_set_contents(po, text, -1, NULL));
  const char *words[] = {"msgfmt", "-o", mo, po, NULL};
  int status;
  assert_true(g_spawn_sync(NULL, (char **)words, NULL, G_SPAWN_SEARCH_PATH, NULL, NULL, NULL, NULL,
                           &status, NULL) &&
              status == 0);
  return ew_language_find(mo, NULL);
}

static void in_another_language(void **state) {
  (void)state;
  const ew_language *language = german();
  assert_non_null(language);
  g_autoptr(ew_message) m = make_window(5.25);
  g_autofree char *facts = ew_message_write(m);
  ew_language_of_thread(language);
  expect_text(m, EW_UNITS_SI, "Fenster ±3 K: Öl am Anfang um +5.2 K anders");
  g_autoptr(ew_message) one = ew_message(&skipped, ew_say_count("rows", 1));
  g_autoptr(ew_message) none = ew_message(&skipped, ew_say_count("rows", 0));
  expect_text(one, EW_UNITS_SI, "1 Zeile übergangen");
  expect_text(none, EW_UNITS_SI, "0 Zeilen übergangen");
  assert_string_equal(ew_tr_in("verdict", "same"), "gleich");
  assert_string_equal(ew_tr("same"), "same");
  g_autofree char *text = ew_words("%d of %s", 3, "x"), *exact = ew_exact("%d of %s", 3, "x");
  assert_string_equal(text, "3 von x");
  assert_string_equal(exact, "3 of x");
  g_autofree char *same = ew_message_write(m);
  assert_string_equal(facts, same); /* facts know no language */
  ew_language_of_thread(NULL);
  expect_text(one, EW_UNITS_SI, "1 row was skipped");
}

static void damaged_catalogues(void **state) {
  (void)state;
  (void)german();
  g_autofree char *folder = g_dir_make_tmp("words-XXXXXX", NULL);
  g_autofree char *path = g_build_filename(folder, "bad.mo", NULL);
  static const char head[] =
      "\xde\x12\x04\x95\0\0\0\0\xff\xff\xff\x7f\x1c\0\0\0\x1c\0\0\0\0\0\0\0\0\0\0\0";
  assert_true(g_file_set_contents(path, head, sizeof head - 1, NULL));
  g_autoptr(GError) error = NULL;
  assert_null(ew_language_find(path, &error));
  assert_non_null(error);
  g_autoptr(GError) unknown = NULL;
  assert_null(ew_language_find("tlh", &unknown));
  assert_non_null(strstr(unknown->message, "en, de"));
}

EW_MESSAGE(quotes, "test.quotes", EW_NOTE, "it says '{words}'");
EW_MESSAGE(passes_on, "test.passes-on", EW_NOTE, "heard: {what}; {all}");
EW_MESSAGE(at_line, "test.at-line", EW_NOTE, "line {number}");

/* Words for the person here alone: gone from the copy for others at any depth, and from its facts. */
static void for_here_alone(void **state) {
  (void)state;
  g_autoptr(ew_message) where = ew_message(&at_line, ew_say_count("number", 12));
  g_autoptr(ew_message) inner = ew_message(&quotes, ew_say_text_here("words", "a secret", where));
  g_autoptr(GPtrArray) list = ew_messages_new();
  ew_messages_add(list, ew_message_copy(inner));
  g_autoptr(ew_message) whole =
      ew_message(&passes_on, ew_say_message("what", inner), ew_say_messages("all", list));
  g_autoptr(ew_message) told = ew_message_elsewhere(whole), again = ew_message_elsewhere(told);
  g_autofree char *here = ew_message_text(whole, EW_UNITS_SI),
                  *there = ew_message_text(told, EW_UNITS_SI), *facts = ew_message_write(told);
  assert_string_equal(here, "heard: it says 'a secret'; it says 'a secret'");
  assert_string_equal(there, "heard: it says 'line 12'; it says 'line 12'");
  assert_null(strstr(facts, "secret"));
  assert_true(ew_message_equal(told, again));
  g_autoptr(ew_message) open = ew_message(&quotes, ew_say_text("words", "for all"));
  g_autoptr(ew_message) same = ew_message_elsewhere(open);
  assert_true(ew_message_equal(open, same));
}

static void asked_for(void **state) {
  (void)state;
  const ew_language *english = ew_language_english();
  static const char *const rows[] = {"C", "C.UTF-8", "POSIX", "en", "en_US.UTF-8", "en-GB", ""};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++)
    assert_ptr_equal(ew_language_find(rows[i], NULL), english);
  assert_ptr_equal(ew_language_accepted("fr, xx;q=0.9", english), english);
  assert_ptr_equal(ew_language_accepted("*", english), english);
  assert_ptr_equal(ew_language_accepted(NULL, english), english);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(sentences),          cmocka_unit_test(reads_back),
      cmocka_unit_test(refused_bytes),      cmocka_unit_test(of_a_later_program),
      cmocka_unit_test(kinds_are_known),    cmocka_unit_test(in_another_language),
      cmocka_unit_test(damaged_catalogues), cmocka_unit_test(for_here_alone),
      cmocka_unit_test(asked_for)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
