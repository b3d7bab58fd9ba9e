/* What is said of the set-up during a session: a field counts once, by its latest value; nothing that was said is lost
 * between a cut without a pull, the end of a session and the next one. */
#include "desk/record_setup.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include <string.h>

static void expect(const struct ew_said *said, const char *want) {
  g_autofree char *text = ew_said_write(said);
  assert_string_equal(text ? text : "", want);
}

static void says(struct ew_said *said, const char *set) {
  g_autoptr(GError) error = NULL;
  assert_true(ew_said_set(said, set, &error));
  assert_null(error);
}

static void the_latest_of_a_field_counts(void **state) {
  (void)state;
  struct ew_said said = {0};
  says(&said, "spark=28 deg");
  says(&said, "lambda=0.9");
  says(&said, "spark = 30 deg");
  expect(&said, "set lambda=0.9\nset spark = 30 deg\n");
  ew_said_clear(&said);
}

static void what_cannot_be_is_refused_and_changes_nothing(void **state) {
  (void)state;
  static const char *const wrong[] = {
      "spark=fast",    "spark=300 deg", "spark",       "",          "=30 deg",
      "sparks=30 deg", "spark=30 bar",  "lambda=12.6", "spark=nan", "pressure=sea level"};
  struct ew_said said = {0};
  says(&said, "spark=28 deg");
  for (gsize i = 0; i < G_N_ELEMENTS(wrong); i++) {
    g_autoptr(GError) error = NULL;
    assert_false(ew_said_set(&said, wrong[i], &error));
    assert_non_null(error);
  }
  expect(&said, "set spark=28 deg\n");
  ew_said_clear(&said);
}

/* Said while the pull before is still being reduced: it is of the next one, and stays. */
static void what_was_used_goes_and_what_was_said_since_stays(void **state) {
  (void)state;
  struct ew_said said = {0};
  says(&said, "spark=28 deg");
  says(&said, "jets=140");
  ew_said_changed(&said, "air horns");
  g_autofree char *used = ew_said_write(&said);
  says(&said, "spark=30 deg");
  ew_said_used(&said, used);
  expect(&said, "set spark=30 deg\n");
  ew_said_used(&said, NULL);
  expect(&said, "set spark=30 deg\n");
  ew_said_clear(&said);
}

static void it_is_written_read_and_moved_whole(void **state) {
  (void)state;
  struct ew_said one = {0}, two = {0};
  says(&one, "spark=28 deg");
  ew_said_changed(&one, "header, long primaries");
  g_autofree char *text = ew_said_write(&one);
  ew_said_read(text, &two);
  expect(&two, text);
  says(&two, "spark=32 deg");
  ew_said_move(&one, &two); /* what is moved counts over it */
  expect(&two, "set spark=28 deg\nchanged header, long primaries\n");
  assert_false(ew_said_anything(&one));
  ew_said_forget(&two, "spark=1 deg");
  expect(&two, "changed header, long primaries\n");
  ew_said_read("set spark=what\nrubbish\nset jets=142\n", &two); /* from a book that isn't ours */
  expect(&two, "set jets=142\nchanged header, long primaries\n");
  ew_said_clear(&two);
  assert_null(ew_said_write(&two));
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_latest_of_a_field_counts),
      cmocka_unit_test(what_cannot_be_is_refused_and_changes_nothing),
      cmocka_unit_test(what_was_used_goes_and_what_was_said_since_stays),
      cmocka_unit_test(it_is_written_read_and_moved_whole),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
