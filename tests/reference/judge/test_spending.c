/* Levels for looking again and again: alpha spending after Lan and DeMets (Biometrika 70, 1983), power
 * family alpha t^1.5 (Kim and DeMets, Biometrika 74, 1987), 5 % in all over 2 to 8 pulls in the order
 * A B A B. The nominal levels are found here once more by the recursion of Armitage, McPherson and Rowe
 * (J. R. Statist. Soc. A 132, 1969), and the rate of the whole procedure follows from it. */
#include "../near.h"
#include "judge/decide.h"
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>

#define LOOKS 7
#define GRID  801

/* The density of the score before a look, on the points that did not stop earlier. */
struct path {
  double time; /* of the last look; 0 before the first */
  double at[GRID], density[GRID], step;
};

/* Probability that the score lies outside +- c at `time` and inside at all looks before. */
static double crossing(const struct path *p, double time, double c) {
  if (p->time == 0)
    return 2 * gsl_cdf_ugaussian_Q(c / sqrt(time));
  double sd = sqrt(time - p->time), sum = 0;
  for (int i = 0; i < GRID; i++) {
    double weight = i == 0 || i == GRID - 1 ? 0.5 : 1;
    sum += weight * p->density[i] *
           (gsl_cdf_ugaussian_Q((c - p->at[i]) / sd) + gsl_cdf_ugaussian_Q((c + p->at[i]) / sd));
  }
  return sum * p->step;
}

static void advance(struct path *p, double time, double c) {
  static struct path next;
  next = (struct path){.time = time, .step = 2 * c / (GRID - 1)};
  for (int i = 0; i < GRID; i++) {
    double x = next.at[i] = -c + next.step * i, sd = sqrt(time - p->time), sum = 0;
    if (p->time == 0)
      sum = gsl_ran_gaussian_pdf(x, sd);
    else {
      for (int j = 0; j < GRID; j++)
        sum += (j == 0 || j == GRID - 1 ? 0.5 : 1) * p->density[j] *
               gsl_ran_gaussian_pdf(x - p->at[j], sd);
      sum *= p->step;
    }
    next.density[i] = sum;
  }
  *p = next;
}

/* Information of n pulls in the order A B A B...: nA nB / (nA + nB), as a share of that of eight. */
static double time_of(int pulls) {
  double a = (pulls + 1) / 2, b = pulls / 2;
  return a * b / (a + b) / 2;
}

static double boundary(const struct path *p, double time, double spend) {
  double low = 0, high = 8;
  for (int i = 0; i < 60; i++) {
    double middle = (low + high) / 2;
    if (crossing(p, time, middle) > spend)
      low = middle;
    else
      high = middle;
  }
  return (low + high) / 2;
}

static void levels(void **state) {
  (void)state;
  static struct path p;
  p = (struct path){0};
  double spent = 0;
  for (int look = 0; look < LOOKS; look++) {
    double time = time_of(look + 2), all = 0.05 * pow(time, 1.5);
    double c = boundary(&p, time, all - spent);
    /* the program's levels are printed to four places */
    assert_near(ew_spending_level(look + 2), 2 * gsl_cdf_ugaussian_Q(c / sqrt(time)), 0.6e-4);
    advance(&p, time, c);
    spent = all;
  }
  assert_near(spent, 0.05, 1e-12);
  assert_true(ew_spending_level(1) == 0 && ew_spending_level(9) == 0);
}

/* The rate of false verdicts of the program's own seven levels: 5 %. Seven looks at 95 % each, the usual
 * habit, would make more than 15 % (computed by the same recursion). */
static void rate_of_the_whole(void **state) {
  (void)state;
  static struct path p;
  for (int naive = 0; naive <= 1; naive++) {
    p = (struct path){0};
    double rate = 0;
    for (int look = 0; look < LOOKS; look++) {
      double level = naive ? 0.05 : ew_spending_level(look + 2), time = time_of(look + 2);
      double c = gsl_cdf_ugaussian_Qinv(level / 2) * sqrt(time);
      rate += crossing(&p, time, c);
      advance(&p, time, c);
    }
    if (naive)
      assert_true(rate > 0.14 && rate < 0.20);
    else
      assert_near(rate, 0.05, 2e-4);
  }
}

/* How small a margin can be shown: (t.95 + t.90) s sqrt(1/nA + 1/nB), about 2.6 s with three pulls a side
 * and 4.5 s with one (computed, nine degrees of history). */
static void smallest_margin(void **state) {
  (void)state;
  const struct ew_spread history = {1, 9, FALSE};
  assert_near(ew_smallest_margin(history, 3, 3), 2.6, 0.1);
  assert_near(ew_smallest_margin(history, 1, 1), 4.5, 0.35);
  assert_true(isnan(ew_smallest_margin((struct ew_spread){NAN, 0, FALSE}, 3, 3)));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(levels), cmocka_unit_test(rate_of_the_whole),
                                     cmocka_unit_test(smallest_margin)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
