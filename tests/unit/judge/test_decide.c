/* Precedence of answers: docs/methods.md, "Verdicts". The difference is made up figure by figure, so that
 * each row shows one rule. t quantiles: Student's table (two-sided 5 % at 10 degrees of freedom: 2.228). */
#include "judge/decide.h"
#include "unit.h"

static struct ew_difference made(double difference, double se, double freedom, int n) {
  return (struct ew_difference){.difference = difference,
                                .variance = se * se,
                                .freedom = freedom,
                                .sd = se / sqrt(2.0 / n),
                                .information = n / 2.0,
                                .n_a = n,
                                .n_b = n,
                                .order = EW_ORDER_INTERLEAVED,
                                .first_to_last = NAN};
}

static void precedence(void **state) {
  (void)state;
  static const struct {
    const char *says;
    double difference, se, margin;
    enum ew_verdict want;
    gboolean small;
  } rows[] = {
      {"clearly more", 0.02, 0.002, 0.01, EW_VERDICT_GAIN, FALSE},
      {"clearly less", -0.02, 0.002, 0.01, EW_VERDICT_LOSS, FALSE},
      {"nothing, and well known", 0, 0.002, 0.01, EW_VERDICT_SAME, FALSE},
      {"nothing, and ill known", 0, 0.02, 0.01, EW_VERDICT_UNDECIDED, FALSE},
      {"inside the margin wins over gain, with a flag", 0.005, 0.001, 0.01, EW_VERDICT_SAME, TRUE},
      {"and over loss", -0.005, 0.001, 0.01, EW_VERDICT_SAME, TRUE},
      {"more than nothing, perhaps more than the margin", 0.009, 0.003, 0.01, EW_VERDICT_GAIN,
       FALSE},
      {"neither nothing nor something", 0.005, 0.004, 0.01, EW_VERDICT_UNDECIDED, FALSE},
      {"without a margin never the same", 0, 0.0001, 0, EW_VERDICT_UNDECIDED, FALSE},
      {"a margin that is not known never the same", 0, 0.0001, NAN, EW_VERDICT_UNDECIDED, FALSE},
      {"without a margin a small gain is a gain", 0.001, 0.0001, 0, EW_VERDICT_GAIN, FALSE},
      {"just outside 2.228 standard errors", 0.0225, 0.01, 0, EW_VERDICT_GAIN, FALSE},
      {"just inside", 0.0221, 0.01, 0, EW_VERDICT_UNDECIDED, FALSE},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_difference d = made(rows[i].difference, rows[i].se, 10, 3);
    struct ew_decision r = ew_decide(&d, rows[i].margin, 0);
    expect(r.verdict == rows[i].want, rows[i].says, "%s", ew_verdict_keys[r.verdict]);
    expect(r.real_but_small == rows[i].small, rows[i].says, "%d", r.real_but_small);
    expect(r.low <= rows[i].difference && r.high >= rows[i].difference, rows[i].says, "%g", r.low);
    expect((r.verdict == EW_VERDICT_UNDECIDED) == (r.reason != NULL), rows[i].says, "%s",
           r.reason ? r.reason->id : "no reason");
    expect_near(r.high - r.low, 2 * 2.2281 * rows[i].se, 1e-4 * rows[i].se, rows[i].says);
  }
}

static void looks_are_paid_for(void **state) {
  (void)state;
  struct ew_difference d = made(0.01, 0.0042, 10, 2); /* 2.38 standard errors */
  assert_int_equal(ew_decide(&d, 0, 0).verdict, EW_VERDICT_GAIN);
  assert_int_equal(ew_decide(&d, 0, 1).verdict, EW_VERDICT_UNDECIDED);
  assert_int_equal(ew_decide(&d, 0, EW_FIRST_OF_SEVERAL).verdict, EW_VERDICT_UNDECIDED);
  double last = 0;
  for (int total = 2; total <= 8; total++) {
    expect(ew_spending_level(total) > 0.004 && ew_spending_level(total) < 0.05, "spent in parts",
           "%g", ew_spending_level(total));
    last = ew_spending_level(total);
  }
  assert_true(last <= 0.05);
  assert_true(ew_spending_level(1) == 0 && ew_spending_level(9) == 0);
  struct ew_difference many = made(0.1, 0.001, 20, 5); /* ten pulls: all is spent */
  struct ew_decision r = ew_decide(&many, 0.01, 3);
  assert_int_equal(r.verdict, EW_VERDICT_UNDECIDED);
  assert_string_equal(r.reason->id, "judge.eight-looked-at");
}

static void one_pull_a_side(void **state) {
  (void)state;
  struct ew_value v[] = {{0, 0, 5.00}, {1, 1, 5.05}};
  struct ew_difference_options o = {.drift_mean = NAN, .drift_sd = NAN};
  struct ew_difference d = ew_difference(v, 2, (struct ew_spread){NAN, 0, FALSE}, &o);
  struct ew_decision r = ew_decide(&d, 0.01, 0);
  assert_int_equal(r.verdict, EW_VERDICT_UNDECIDED);
  assert_string_equal(r.reason->id, "judge.scatter-unknown");
  assert_true(isinf(r.high));
  d = ew_difference(v, 2, (struct ew_spread){0.003, 2, FALSE}, &o);
  r = ew_decide(&d, 0.01, 0);
  assert_int_equal(r.verdict, EW_VERDICT_UNDECIDED);
  assert_string_equal(r.reason->id, "judge.history-thin");
  d = ew_difference(v, 2, (struct ew_spread){0.003, 9, FALSE}, &o);
  assert_int_equal(ew_decide(&d, 0.01, 0).verdict, EW_VERDICT_GAIN);
  assert_int_equal(ew_lent_freedom(9, 1, 1), 6);
  assert_int_equal(ew_lent_freedom(90, 3, 3), 12);
}

/* One freedom is little, and its interval says so (t of 12.706 at 5 %, Student's table); it is an answer all the same. Without any there
 * is none. */
static void few_pulls(void **state) {
  (void)state;
  static const struct {
    const char *says;
    double freedom;
    int n_a, n_b;
    const char *reason; /* NULL: decided */
  } rows[] = {
      {"one freedom decides", 1, 2, 1, NULL},
      {"less than one, as pooled freedoms come, too", 0.8, 2, 1, NULL},
      {"none, one a side", 0, 1, 1, "judge.scatter-unknown"},
      {"none, two on one side", 0, 2, 1, "judge.too-few-pulls"},
      {"none, two a side", 0, 2, 2, "judge.too-few-pulls"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_difference d = made(0.05, 0.0005, rows[i].freedom, 2);
    d.n_a = rows[i].n_a, d.n_b = rows[i].n_b;
    struct ew_decision r = ew_decide(&d, 0.01, 0);
    expect(g_strcmp0(r.reason ? r.reason->id : NULL, rows[i].reason) == 0, rows[i].says, "%s",
           r.reason ? r.reason->id : "decided");
    expect((r.verdict == EW_VERDICT_GAIN) == !rows[i].reason, rows[i].says, "%s",
           ew_verdict_keys[r.verdict]);
    if (rows[i].freedom == 1)
      expect_near(r.high - r.low, 2 * 12.7062 * 0.0005, 1e-7, rows[i].says);
  }
}

static void pulls_that_are_needed(void **state) {
  (void)state;
  struct ew_difference d = made(0.004, 0.003, 9, 2);
  int close = ew_pulls_needed(&d, 0.01);
  assert_true(close >= 1 && close <= 15);
  assert_int_equal(close, ew_pulls_needed(&d, 0.01)); /* fixed seed */
  struct ew_difference rough = made(0.004, 0.03, 9, 2);
  int far = ew_pulls_needed(&rough, 0.01);
  expect(far == 0 || far > close, "a rough cell needs more, or none would do", "%d", far);
  struct ew_difference none = made(0.004, 0.003, 0, 1);
  assert_int_equal(ew_pulls_needed(&none, 0.01), 0);
  struct ew_spread history = {0.004, 9, FALSE};
  double three = ew_smallest_margin(history, 3, 3), one = ew_smallest_margin(history, 1, 1);
  assert_true(three > 0.004 * 2 && three < 0.004 * 3 && one > three);
  assert_true(isnan(ew_smallest_margin((struct ew_spread){NAN, 0, FALSE}, 3, 3)));
}

/* Five pulls that stand for A tell no more than two more than B's pulls: the level is that of the shorter side, else A's would spend
 * what B's next pulls need, and eight would be used up before B ran four times. */
static void the_shorter_side_spends(void **state) {
  (void)state;
  static const struct {
    const char *says;
    int n_a, n_b, counts_as;
  } rows[] = {
      {"two of each", 2, 2, 4},
      {"one more of A", 3, 2, 5},
      {"five more of A", 7, 2, 5},
      {"a day of A and one B", 12, 1, 3},
      {"the same the other way round", 1, 12, 3},
      {"as long as the other", 4, 4, 8},
      {"nine of A, four of B: eight are used up", 9, 4, 9},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_difference d = made(0.01, 0.004, 10, 2);
    d.n_a = rows[i].n_a, d.n_b = rows[i].n_b;
    double want = ew_spending_level(rows[i].counts_as);
    struct ew_decision again = ew_decide(&d, 0.01, 1);
    if (want == 0) {
      expect(again.alpha == ew_spending_level(8), rows[i].says, "%g", again.alpha);
      expect(again.reason && strcmp(again.reason->id, "judge.eight-looked-at") == 0, rows[i].says,
             "%s", again.reason ? again.reason->id : "no reason");
      continue;
    }
    expect_near(again.alpha, want, 1e-15, rows[i].says);
    double first = 0.05 * pow(rows[i].counts_as / 8.0, 1.5);
    expect_near(ew_decide(&d, 0.01, EW_FIRST_OF_SEVERAL).alpha, first, 1e-15, rows[i].says);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(precedence),         cmocka_unit_test(the_shorter_side_spends),
      cmocka_unit_test(looks_are_paid_for), cmocka_unit_test(one_pull_a_side),
      cmocka_unit_test(few_pulls),          cmocka_unit_test(pulls_that_are_needed)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
