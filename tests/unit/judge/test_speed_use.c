/* The use of speeds as a weight: closed forms, and what a pull that does not reach makes of it. A curve of equal torque has the same mean
 * whatever the weight; one whose logarithm rises evenly has the logarithm at the weight's own mean speed. */
#include "unit.h"
#include "judge/speed_use.h"
#include <math.h>

#define POINTS 61

static double speeds[POINTS], torques[POINTS];

static struct ew_curve curve_of(double slope_per_rpm) {
  for (int i = 0; i < POINTS; i++) {
    speeds[i] = 2000 + 100.0 * i; /* to 8,000 rpm */
    torques[i] = 200 * exp(slope_per_rpm * (speeds[i] - 2000));
  }
  return (struct ew_curve){.points = POINTS, .speed_rpm = speeds, .torque_n_m = torques};
}

static void check_near(double value, double expected, double within) {
  if (!(fabs(value - expected) <= within))
    fail_msg("%.9f is not %.9f", value, expected);
}

static void an_even_curve(void **state) {
  (void)state;
  struct ew_curve c = curve_of(0);
  struct ew_speed_use use = {.share = {[6] = 0.2, [9] = 0.8}};
  check_near(ew_speed_use_log(&use, &c, 2000, 8000), log(200), 1e-12);
}

static void a_rising_curve(void **state) {
  (void)state;
  const double slope = 1e-5;
  struct ew_curve c = curve_of(slope);
  struct ew_speed_use use = {.share = {[6] = 0.25, [10] = 0.75}}; /* 3,250 and 5,250 rpm */
  double mean_rpm = 0.25 * 3250 + 0.75 * 5250;
  check_near(ew_speed_use_log(&use, &c, 2000, 8000), log(200) + slope * (mean_rpm - 2000), 1e-6);
}

static void cut_at_the_ends(void **state) {
  (void)state;
  struct ew_speed_use use = {.share = {[4] = 0.5, [5] = 0.5}};
  double low = 2250, high = 9000;
  check_near(ew_speed_use_between(&use, low, high), 0.75, 1e-12);
  assert_true(ew_speed_use_range(&use, &low, &high));
  check_near(low, 2250, 0);
  check_near(high, 3000, 0);
}

static void where_nothing_is_used(void **state) {
  (void)state;
  struct ew_curve c = curve_of(0);
  struct ew_speed_use none = {.share = {0}}, not = {.share = {[5] = NAN}};
  double low = 2000, high = 8000;
  assert_false(ew_speed_use_range(&none, &low, &high));
  assert_true(isnan(ew_speed_use_log(&none, &c, 2000, 8000)));
  assert_true(isnan(ew_speed_use_log(&not, &c, 2000, 8000)));
}

static void a_pull_that_does_not_reach(void **state) {
  (void)state;
  struct ew_curve c = curve_of(0);
  struct ew_speed_use use = {.share = {[15] = 0.5, [16] = 0.5}}; /* to 8,500 rpm */
  assert_true(isnan(ew_speed_use_log(&use, &c, 2000, 9000)));
  check_near(ew_speed_use_log(&use, &c, 2000, 8000), log(200), 1e-12);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(an_even_curve), cmocka_unit_test(a_rising_curve),
      cmocka_unit_test(cut_at_the_ends), cmocka_unit_test(where_nothing_is_used),
      cmocka_unit_test(a_pull_that_does_not_reach)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
