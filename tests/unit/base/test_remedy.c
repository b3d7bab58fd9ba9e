/* Remedies: kept with the error, worded by the place where they are read. */
#include "base/error.h"
#include "unit.h"
#include <string.h>

static void an_error_carries_its_remedy(void **state) {
  (void)state;
  g_autoptr(GError) error = NULL, plain = NULL, other = NULL;
  assert_false(ew_refuse_with(&error, EW_REMEDY_LIST_PULLS, "there is no pull %d", 12));
  assert_int_equal(ew_error_remedy(error), EW_REMEDY_LIST_PULLS);
  assert_string_equal(error->message, "there is no pull 12");
  g_autoptr(GError) copy = g_error_copy(error);
  g_prefix_error(&copy, "file.csv: ");
  assert_int_equal(ew_error_remedy(copy), EW_REMEDY_LIST_PULLS);
  ew_refuse(&plain, "no remedy");
  assert_int_equal(ew_error_remedy(plain), EW_REMEDY_NONE);
  g_set_error_literal(&other, g_quark_from_string("another"), 1, "of a library");
  assert_int_equal(ew_error_remedy(other), EW_REMEDY_NONE);
}

static void each_place_has_its_own_words(void **state) {
  (void)state;
  g_autoptr(GError) error = NULL, plain = NULL;
  ew_refuse_with(&error, EW_REMEDY_LIST_PULLS, "there is no pull 12");
  ew_refuse(&plain, "no remedy");
  g_autofree char *shell = ew_error_says(error, EW_AT_COMMAND_LINE),
                  *page = ew_error_says(error, EW_AT_PAGE),
                  *bare = ew_error_says(plain, EW_AT_PAGE);
  assert_string_equal(shell, "there is no pull 12; 'enginewright pull list' lists the pulls");
  assert_string_equal(page, "there is no pull 12; the Pulls screen lists them");
  assert_string_equal(bare, "no remedy");
}

static void a_question_says_how_it_is_confirmed(void **state) {
  (void)state;
  g_autoptr(GError) error = NULL;
  ew_ask(&error, "0.6 mm is far outside");
  assert_true(g_error_matches(error, EW_ERROR, EW_ERROR_ASKS));
  assert_int_equal(ew_error_remedy(error), EW_REMEDY_SAY_SURE);
}

/* The page has no shell: nothing it says may be typed. Keys are stored in no two rows. */
static void the_page_names_no_command(void **state) {
  (void)state;
  g_autoptr(GHashTable) keys = g_hash_table_new(g_str_hash, g_str_equal);
  assert_null(ew_remedy_key(EW_REMEDY_NONE));
  assert_null(ew_remedy_at(EW_REMEDY_NONE, EW_AT_PAGE));
  for (int i = EW_REMEDY_NONE + 1; i < EW_REMEDIES_COUNT; i++) {
    const char *page = ew_remedy_at(i, EW_AT_PAGE), *shell = ew_remedy_at(i, EW_AT_COMMAND_LINE);
    assert_true(*page && *shell);
    assert_null(strstr(page, "--"));
    assert_null(strstr(page, "enginewright"));
    assert_true(g_hash_table_add(keys, (gpointer)ew_remedy_key(i)));
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(an_error_carries_its_remedy),
                                     cmocka_unit_test(each_place_has_its_own_words),
                                     cmocka_unit_test(a_question_says_how_it_is_confirmed),
                                     cmocka_unit_test(the_page_names_no_command)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
