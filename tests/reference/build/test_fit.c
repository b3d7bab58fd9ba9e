/* Selective fit. Source: the rearrangement inequality (Hardy, Littlewood and Pólya 1934, ch. 10); and
 * every one of the 720 orders of six pistons, tried. */
#include "../near.h"
#include "build/fit.h"

#define N 6

static double worst_of(const double *b, const double *p, const int *order, double wanted,
                       double *squares) {
  double worst = 0;
  *squares = 0;
  for (int i = 0; i < N; i++) {
    double off = b[i] - p[order[i]] - wanted;
    worst = fmax(worst, fabs(off));
    *squares += off * off;
  }
  return worst;
}

static void best_of_all(const double *b, const double *p, double wanted, int *order, int k,
                        double *worst, double *squares) {
  if (k == N) {
    double sum, w = worst_of(b, p, order, wanted, &sum);
    *worst = fmin(*worst, w);
    *squares = fmin(*squares, sum);
    return;
  }
  for (int i = k; i < N; i++) {
    int swap = order[k];
    order[k] = order[i], order[i] = swap;
    best_of_all(b, p, wanted, order, k + 1, worst, squares);
    swap = order[k], order[k] = order[i], order[i] = swap;
  }
}

static void no_order_is_better(void **state) {
  (void)state;
  g_autoptr(GRand) rand = g_rand_new_with_seed(20261125);
  for (int round = 0; round < 40; round++) {
    double b[N], p[N], worst = INFINITY, squares = INFINITY, numbered, sum = 0;
    struct ew_fit_pair pairs[N];
    for (int i = 0; i < N; i++) {
      b[i] = 85.400 + g_rand_double_range(rand, -0.008, 0.008);
      p[i] = 85.320 + g_rand_double_range(rand, -0.008, 0.008);
    }
    double got = ew_selective_fit(b, p, N, 0.08, pairs, &numbered);
    best_of_all(b, p, 0.08, (int[]){0, 1, 2, 3, 4, 5}, 0, &worst, &squares);
    int used = 0;
    for (int i = 0; i < N; i++) {
      assert_int_equal(pairs[i].bore, i + 1);
      assert_near(pairs[i].clearance_m, b[i] - p[pairs[i].piston - 1], 1e-12);
      sum += pow(pairs[i].clearance_m - 0.08, 2);
      used |= 1 << pairs[i].piston;
    }
    assert_int_equal(used, 0x7e);
    assert_near(got, worst, 1e-12);
    assert_near(sum, squares, 1e-12);
    assert_true(numbered >= got);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(no_order_is_better)};
  return cmocka_run_group_tests_name("selective fit", tests, NULL, NULL);
}
