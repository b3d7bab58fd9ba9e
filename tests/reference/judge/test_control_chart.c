/* The chart of single values with moving ranges. Sources: NIST/SEMATECH e-Handbook of Statistical
 * Methods, 6.3.2.2, example of flow rates (data and limits from memory, and equal to the computed ones);
 * d2 = 1.128 for ranges of two is ISO 7870-2's constant, 2/sqrt(pi). */
#include "../near.h"
#include "judge/calibration.h"

static const double flow[] = {49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};

static struct ew_control with_next(double next) {
  double values[11];
  memcpy(values, flow, sizeof flow);
  values[10] = next;
  return ew_control_chart(values, 11);
}

/* mean 50.81, mean range 1.8778, limits 45.8159 and 55.8041 */
static void flow_rates(void **state) {
  (void)state;
  struct ew_control chart = with_next(50);
  assert_near(chart.centre, 50.81, 1e-12);
  assert_near((chart.upper - chart.centre) / 3 * 1.128, 1.8778, 0.51e-4);
  assert_near(chart.upper, 55.8041, 0.51e-4);
  assert_near(chart.lower, 45.8159, 0.51e-4);
  assert_true(chart.in_control);
  assert_true(with_next(55.80).in_control);
  assert_false(with_next(55.81).in_control);
  assert_true(with_next(45.82).in_control);
  assert_false(with_next(45.81).in_control);
}

static void constant(void **state) {
  (void)state;
  assert_near(2 / sqrt(G_PI), 1.128, 0.51e-3);
  double step[] = {0, 1, 0, 1, 0, 1, 0}; /* mean range 1: three sigma are 3 / 1.128 */
  struct ew_control chart = ew_control_chart(step, 7);
  assert_near(chart.upper - chart.lower, 6 / 1.128, 1e-12);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(flow_rates), cmocka_unit_test(constant)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
