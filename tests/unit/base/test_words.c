/* Against the C library's own printf for what is finite; what is not never reads as a number. */
#include "base/words.h"
#include "base/language.h"
#include "unit.h"
#include <inttypes.h>
#include <math.h>

#define SAME(...)                                                                                  \
  do {                                                                                             \
    g_autofree char *want = g_strdup_printf(__VA_ARGS__), *is = ew_words(__VA_ARGS__);             \
    assert_string_equal(is, want);                                                                 \
  } while (0)

static void as_printf(void **state) {
  (void)state;
  SAME("nothing");
  SAME("%s", "");
  SAME("100 %% of %s, %-8s|%8s|%.3s", "it", "left", "right", "cut short");
  SAME("%d %i %u %x %X %o %c", -1, 2, 3u, 255, 255, 8, 'c');
  SAME("%ld %lu %lld %llu %zu %zd", -1L, 2ul, -3LL, 4ull, (size_t)5, (ssize_t)-6);
  SAME("%" PRIi64 " %" G_GUINT64_FORMAT " %hd %hhd", INT64_MIN, G_MAXUINT64, 7, 8);
  SAME("%.3f|%8.2f|%-8.2f|%+.1f|%08.3f|% .2f", 1.0, 2.5, -3.25, 4.0, 5.5, 6.25);
  SAME("%g %.3g %e %.15g %G", 0.1, 12345.678, 1e-300, 0.1 + 0.2, 1e300);
  SAME("%*d|%-*d|%*.*f|%.*s", 5, 1, 5, 2, 9, 3, 3.14159, 2, "abc");
  SAME("%5.1f to %5.1f rpm: %s", -0.0, 7e3, "done");
  SAME("%d%%", 3);
}

static void never_a_number(void **state) {
  (void)state;
  const double none[] = {NAN, -NAN, INFINITY, -INFINITY};
  for (gsize i = 0; i < G_N_ELEMENTS(none); i++) {
    g_autofree char *text = ew_words("%.1f|%8.2f|%-6.3g|%+.1f|%08.3f|%e|%*.*f|%d", none[i], none[i],
                                     none[i], none[i], none[i], none[i], 4, 1, none[i], 7);
    assert_string_equal(text, "-|       -|-     |-|       -|-|   -|7");
  }
}

static void thousands(void **state) {
  (void)state;
  g_autofree char *text = ew_words("%#.0f|%#.0f|%#8.0f|%-#8.0f|%#.1f|%#.0f|%#6.0f", 999.0, 7000.0,
                                   12345.0, -1234.0, 1234567.25, -0.0, (double)NAN);
  assert_string_equal(text, "999|7,000|  12,345|-1,234  |1,234,567.2|-0|     -");
  const ew_language *german = ew_language_find("de", NULL);
  assert_non_null(german);
  ew_language_of_thread(german);
  g_autofree char *other = ew_words("%#.1f|%#8.0f", 7000.5, 12345.0);
  g_autofree char *exact = ew_exact("%.1f", 7000.5);
  ew_language_of_thread(NULL);
  assert_string_equal(other, "7.000,5|  12.345");
  assert_string_equal(exact, "7000.5");
}

/* Unicode Standard Annex 11, East Asian Width: wide characters take two columns, marks that combine none. */
static void columns(void **state) {
  (void)state;
  g_autofree char *text = ew_words("%-8s|%8s|%-4.2s|%s", "Zündung", "größer", "ab", "ohne");
  assert_string_equal(text, "Zündung |  größer|ab  |ohne");
  assert_int_equal(ew_columns(""), 0);
  assert_int_equal(ew_columns("N·m"), 3);
  assert_int_equal(ew_columns("\xe5\xbc\x95\xe6\x93\x8e"), 4); /* two ideographs */
  assert_int_equal(ew_columns("u\xcc\x88"), 1);                /* u and a combining diaeresis */
  assert_int_equal(ew_columns("\xff\xfe"), 2);                 /* not UTF-8 */
}

static void appended(void **state) {
  (void)state;
  GString *text = g_string_new("a ");
  ew_words_append(text, "%.1f %%, %s", NAN, "b");
  assert_string_equal(text->str, "a - %, b");
  g_string_free(text, TRUE);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(as_printf), cmocka_unit_test(never_a_number),
                                     cmocka_unit_test(appended), cmocka_unit_test(thousands),
                                     cmocka_unit_test(columns)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
