/* One clock for several senders, against clocks whose error is known. */
#include "near.h"
#include "cell/session_clock.h"
#include <math.h>

static void test_the_first_is_the_clock(void **state) {
  (void)state;
  struct ew_session_clock session = {0};
  struct ew_sender_clock a = {0};
  for (int i = 0; i < 5000; i++) /* at thirty times the pace of its clock */
    assert_near(ew_session_clock_step(&session, &a, 7 + i * 0.01, 100 + i * 0.01 / 30, FALSE),
                7 + i * 0.01, 1e-12);
}

static void test_two_that_interleave(void **state) {
  (void)state;
  struct ew_session_clock session = {0};
  struct ew_sender_clock a = {0}, b = {0};
  double last = -INFINITY, worst = 0;
  g_autoptr(GRand) random = g_rand_new_with_seed(4);
  for (int i = 0; i < 20000; i++) { /* b began its clock at 5000, and comes up to 8 ms late */
    double now = 50 + i * 0.01;
    double s = ew_session_clock_step(&session, &a, i * 0.01, now, FALSE);
    assert_true(s >= last);
    last = s;
    double late = i ? g_rand_double_range(random, 0, 0.008) : 0;
    s = ew_session_clock_step(&session, &b, 5000 + i * 0.01, now + late, FALSE);
    assert_true(s >= last);
    last = s;
    worst = fmax(worst, fabs(b.offset_s + 5000));
  }
  assert_true(worst < 0.001);
  assert_near(b.late_s, 0.004, 0.002); /* the mean of what was added */
  assert_near(a.late_s, 0, 1e-9);
}

/* A second clock that runs 200 parts in a million fast is 0.72 s off after an hour, unless followed. */
static void test_a_clock_that_drifts(void **state) {
  (void)state;
  struct ew_session_clock session = {0};
  struct ew_sender_clock a = {0}, b = {0};
  for (int i = 0; i < 360000; i++) {
    double now = i * 0.01;
    ew_session_clock_step(&session, &a, now, now, FALSE);
    ew_session_clock_step(&session, &b, 300 + now * (1 + 200e-6), now, FALSE);
  }
  assert_near(b.last_s + b.offset_s, a.last_s, 0.005);
}

static void test_one_that_begins_again(void **state) {
  (void)state;
  struct ew_session_clock session = {0};
  struct ew_sender_clock a = {0};
  double s = 0;
  for (int i = 0; i < 1000; i++)
    s = ew_session_clock_step(&session, &a, 100 + i * 0.01, 20 + i * 0.01, FALSE);
  assert_near(s, 109.99, 1e-9);
  /* back 4 s later, its clock at zero: the session went on */
  s = ew_session_clock_step(&session, &a, 0, 34, FALSE);
  assert_near(s, 114, 1e-9);
  assert_near(ew_session_clock_step(&session, &a, 0.5, 34.5, FALSE), 114.5, 1e-9);
  /* with new channels and a clock further on */
  assert_near(ew_session_clock_step(&session, &a, 900, 35, TRUE), 115, 1e-9);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_the_first_is_the_clock), cmocka_unit_test(test_two_that_interleave),
      cmocka_unit_test(test_a_clock_that_drifts), cmocka_unit_test(test_one_that_begins_again)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
