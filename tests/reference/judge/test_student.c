/* Student's t. Sources: table 1 of 40 CFR 1065.602 (data/t-critical-table-1065.602.csv, US government
 * text), two-sided 90 and 95 %, whole; and the usual table of the 99 % column (from memory, and equal to
 * the computed values). */
#include "../near.h"
#include "judge/budget.h"

static void part_1065_table(void **state) {
  (void)state;
  g_auto(GStrv) lines = data_lines("t-critical-table-1065.602.csv");
  int rows = 0;
  for (int i = 1; lines[i]; i++, rows++) {
    g_auto(GStrv) cells = cells_of(lines[i]);
    double freedom = g_ascii_strtod(cells[0], NULL);
    assert_near(ew_coverage_factor(0.90, freedom), g_ascii_strtod(cells[1], NULL), 0.51e-3);
    assert_near(ew_coverage_factor(0.95, freedom), g_ascii_strtod(cells[2], NULL), 0.51e-3);
  }
  assert_int_equal(rows, 28);
}

static void usual_table(void **state) {
  (void)state;
  static const struct {
    double freedom, t95, t99;
  } rows[] = {{1, 12.706, 63.657}, {2, 4.303, 9.925},  {3, 3.182, 5.841},       {4, 2.776, 4.604},
              {5, 2.571, 4.032},   {8, 2.306, 3.355},  {10, 2.228, 3.169},      {15, 2.131, 2.947},
              {20, 2.086, 2.845},  {30, 2.042, 2.750}, {INFINITY, 1.960, 2.576}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    assert_near(ew_coverage_factor(0.95, rows[i].freedom), rows[i].t95, 0.51e-3);
    assert_near(ew_coverage_factor(0.99, rows[i].freedom), rows[i].t99, 0.51e-3);
  }
}

/* The GUM (JCGM 100:2008, G.4.1) truncates fractional degrees of freedom down. */
static void truncated_down(void **state) {
  (void)state;
  assert_true(ew_coverage_factor(0.95, 16.9) == ew_coverage_factor(0.95, 16));
  assert_true(ew_coverage_factor(0.95, 16.9) > ew_coverage_factor(0.95, 17));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(part_1065_table),
                                     cmocka_unit_test(usual_table),
                                     cmocka_unit_test(truncated_down)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
