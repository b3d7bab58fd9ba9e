/* What is due. Plain arithmetic on numbers of our own. */
#include "../engine/near.h"
#include "build/due.h"

static void by_hours_and_by_speed(void **state) {
  (void)state;
  static const char yaml[] =
      "parts:\n"
      "  - {part: springs, life: 12 h, life_above: 15 min, life_speed: 6500 rpm}\n"
      "  - {part: pistons, life: 40 h, position: 1}\n"
      "  - {part: rings, life: 10 h, fitted_at: 6 h}\n"
      "  - {part: pistons, life: 40 h, position: 1, fitted_at: 5 h}\n"
      "  - {part: pan}\n"
      "after:\n  - {what: two meetings, running: 2 h, runs: 12}\n  - {what: a call, runs: 3}\n";
  struct ew_engine engine = engine_of("cylinders: 4\n");
  g_autoptr(GError) error = NULL;
  g_autoptr(ew_node) tree = ew_node_parse("build", yaml, strlen(yaml), &error);
  g_autoptr(ew_build) build = ew_build_new();
  assert_true(ew_build_read_file(tree, "build", &engine, NULL, build, &error));
  double above[24] = {0};
  above[13] = 1800; /* seconds above 6,500 */
  g_autoptr(GArray) list = ew_build_due_list(build, 4 * 3600, above, 24);
  int runs;
  assert_near(ew_build_told_s(build, &runs), 7200, 1e-9);
  assert_int_equal(runs, 15);
  assert_int_equal(list->len, 3); /* the first pistons were replaced; the pan has no life */
  const struct ew_build_due *d = &g_array_index(list, struct ew_build_due, 0);
  assert_string_equal(d[0].part->part, "springs");
  assert_near(d[0].share, 2.0, 1e-9); /* 30 min of 15 above speed; 6 of 12 h by the clock */
  assert_near(d[0].used_s, 6 * 3600, 1e-9);
  assert_string_equal(d[1].part->part, "pistons");
  assert_near(d[1].share, 1.0 / 40, 1e-9);
  assert_near(d[2].share, 0, 1e-9);
  ew_engine_clear(&engine);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(by_hours_and_by_speed)};
  return cmocka_run_group_tests_name("due", tests, NULL, NULL);
}
