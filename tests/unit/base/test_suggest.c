#include "base/suggest.h"
#include "unit.h"

/* Distances of published examples: kitten/sitting 3 (Levenshtein distance, textbook example); a swap of
 * neighbours counts once (Damerau 1964; optimal string alignment). */
static void distances(void **state) {
  (void)state;
  static const struct {
    const char *a, *b;
    guint want;
  } rows[] = {{"kitten", "sitting", 3}, {"saturday", "sunday", 3},
              {"spark", "spark", 0},    {"saprk", "spark", 1},
              {"", "abc", 3},           {"abc", "", 3},
              {"Spark", "sPARK", 0},    {"ca", "abc", 3},
              {"stroke", "storke", 1}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++)
    expect(ew_edit_distance(rows[i].a, rows[i].b) == rows[i].want, rows[i].a, "%u",
           ew_edit_distance(rows[i].a, rows[i].b));
}

static void nearest_word(void **state) {
  (void)state;
  static const char *const words[] = {"spark", "lambda", "lash_inlet", "lash_exhaust", "oil_level"};
  static const struct {
    const char *given, *want;
  } rows[] = {{"sparc", "spark"},           {"lamda", "lambda"},
              {"lash_inlte", "lash_inlet"}, {"lash_exhuast", "lash_exhaust"},
              {"zebra crossing", NULL},     {"x", NULL}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    const char *got = ew_suggest(rows[i].given, words, G_N_ELEMENTS(words));
    expect(g_strcmp0(got, rows[i].want) == 0, rows[i].given, "%s", got ? got : "nothing");
  }
  assert_null(ew_suggest("spark", words, 0));
  g_autofree char *lengthy = g_strnfill(5000, 'x');
  assert_null(
      ew_suggest(lengthy, words, G_N_ELEMENTS(words))); /* a page of rubbish means nothing */
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(distances), cmocka_unit_test(nearest_word)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
