/* Points that are told as one, and points that stand for many. */
#include "search/alike.h"
#include "unit.h"

static void nearly_equal_ones_are_one(void **state) {
  (void)state;
  /* torque, power, residual: a front as one was seen, its neighbours a millimetre apart */
  const double front[] = {280.7, 192.4, 5.64,  280.6, 192.4, 5.68,  280.4, 193.5,
                          3.52,  280.1, 193.6, 3.71,  277.8, 194.9, 12.6};
  const double band[] = {1.3, 0.9, 0.5};
  int of[5];
  assert_int_equal(ew_front_alike(front, 5, 3, band, of), 3);
  const int expected[] = {0, 0, 2, 2, 4};
  for (int i = 0; i < 5; i++)
    assert_int_equal(of[i], expected[i]);
}

/* Each is compared with the kept one, not with its neighbour: a long chain of small steps does not become one. */
static void a_chain_is_not_one(void **state) {
  (void)state;
  double chain[10];
  int of[10];
  const double band = 1.5;
  for (int i = 0; i < 10; i++)
    chain[i] = i;
  assert_int_equal(ew_front_alike(chain, 10, 1, &band, of), 5);
  assert_int_equal(of[1], 0);
  assert_int_equal(of[2], 2);
}

static void what_is_not_known_stands_alone(void **state) {
  (void)state;
  const double figures[] = {NAN, NAN, 1, 1, 2}, band = NAN, wide = INFINITY;
  int of[5];
  assert_int_equal(ew_front_alike(figures, 5, 1, &band, of), 4);
  assert_int_equal(of[3], 2);
  assert_int_equal(ew_front_alike(figures, 5, 1, &wide, of), 4); /* a band without an end is none */
  assert_int_equal(ew_front_alike(NULL, 0, 1, &band, of), 0);
}

static void some_stand_for_many(void **state) {
  (void)state;
  double line[200];
  gboolean taken[100];
  int count = 0, gap = 0, most = 0;
  for (int i = 0; i < 100; i++) {
    line[2 * i] = i < 90 ? i * 0.01 : i - 89; /* crowded at one end */
    line[2 * i + 1] = -line[2 * i];
  }
  ew_front_spread(line, 100, 2, 12, taken);
  for (int i = 0; i < 100; i++) {
    count += taken[i];
    gap = taken[i] ? 0 : gap + 1;
    most = MAX(most, gap);
  }
  assert_int_equal(count, 12);
  assert_true(taken[0] && taken[99]);
  for (int i = 91; i < 100; i++)
    assert_true(taken[i]); /* as far apart as the whole crowd is long */
}

static void fewer_than_asked_are_all(void **state) {
  (void)state;
  const double figures[] = {1, NAN, 3};
  gboolean taken[3];
  ew_front_spread(figures, 3, 1, 12, taken);
  assert_true(taken[0] && taken[1] && taken[2]);
  ew_front_spread(figures, 3, 1, 1, taken);
  assert_true(taken[0] && !taken[1] && !taken[2]);
  ew_front_spread(figures, 0, 1, 12, taken);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(nearly_equal_ones_are_one),      cmocka_unit_test(a_chain_is_not_one),
      cmocka_unit_test(what_is_not_known_stands_alone), cmocka_unit_test(some_stand_for_many),
      cmocka_unit_test(fewer_than_asked_are_all),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
