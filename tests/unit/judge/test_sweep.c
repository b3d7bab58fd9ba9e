#include "base/message.h"
#include "judge/sweep.h"
#include "said.h"
#include "unit.h"

#define N 6
/* Torque that falls by 0.04 % a degree squared from its best; noise of 0.05 % by hand. */
static void fill(struct ew_sweep_pull *p, const double *settings, double best, double curvature) {
  static const double noise[] = {3e-4, -5e-4, 2e-4, 5e-4, -3e-4, -1e-4};
  for (int i = 0; i < N; i++)
    p[i] = (struct ew_sweep_pull){.setting = settings[i],
                                  .log_mean = 5 - curvature * pow(settings[i] - best, 2) + noise[i],
                                  .position = i,
                                  .knock = 0};
}

static const struct ew_sweep_options spark = {
    .setting = EW_SWEEP_SPARK, .margin = 0.005, .reserve = 2, .sd = 0.001, .freedom = 12};
static const double degrees[N] = {24, 26, 28, 30, 32, 34};

static void the_best_and_the_least(void **state) {
  (void)state;
  struct ew_sweep_pull p[N];
  fill(p, degrees, 30, 4e-4);
  struct ew_sweep *s = ew_sweep(p, N, &spark, NULL);
  assert_non_null(s);
  expect_near(s->best, 30, 0.5, "the best");
  assert_true(s->bracketed && !s->ended && s->best_low < 30 && s->best_high > 30);
  /* a loss of 0.5 % stands at sqrt(0.005 / 0.0004) = 3.5 degrees below the best: the least that is shown to
   * be inside lies between that and the best */
  assert_true(s->chosen >= 26.5 && s->chosen < 30 && s->chosen_loss < 0.005);
  for (gsize j = 0; j < s->points; j++)
    assert_true(s->loss[j] >= 0 && s->loss_se[j] >= 0);
  assert_true(isnan(s->next) && said(s->reason, "stop"));
  ew_sweep_free(s);
}

static void not_bracketed(void **state) {
  (void)state;
  struct ew_sweep_pull p[N];
  fill(p, degrees, 40, 4e-4);
  struct ew_sweep *s = ew_sweep(p, N, &spark, NULL);
  assert_false(s->bracketed);
  assert_true(s->next == 36 && s->next_probability > 0.9 && said(s->reason, "next step"));
  assert_true(s->warnings->len >= 1 &&
              strcmp(ew_message_id(s->warnings->pdata[0]), "judge.not-bracketed") == 0);
  ew_sweep_free(s);
}

static void signs_end_it(void **state) {
  (void)state;
  static const struct {
    const char *says;
    int at; /* the pull with the sign */
    double knock;
    const char *seen;
    gboolean ends;
    double most; /* degrees that may be chosen */
    const char *reason;
  } rows[] = {
      {"knock at 34", 5, 7, NULL, TRUE, 32, "knock"},
      {"knock at 30 holds the choice", 3, 3, NULL, TRUE, 28, "knock"},
      {"two counts are no knock yet", 5, 2, NULL, FALSE, 34, ""},
      {"specks on a plug", 4, 0, "specks on plug 4", TRUE, 30, "specks on plug 4"},
      {"nothing written is nothing seen", 4, 0, "", FALSE, 34, ""},
      {"knock that was not measured is no sign", 4, NAN, NULL, FALSE, 34, ""},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_sweep_pull p[N];
    fill(p, degrees, 40, 4e-4); /* torque alone would go on */
    p[rows[i].at].knock = rows[i].knock;
    p[rows[i].at].seen = rows[i].seen;
    struct ew_sweep *s = ew_sweep(p, N, &spark, NULL);
    expect(s->ended == rows[i].ends, rows[i].says, "%d", s->ended);
    expect(!rows[i].ends || isnan(s->next), rows[i].says, "next %g", s->next);
    expect(said(s->reason, rows[i].reason), rows[i].says, "%s", ew_message_id(s->reason));
    expect(!(s->chosen > rows[i].most), rows[i].says, "%g", s->chosen);
    ew_sweep_free(s);
  }
}

static void mixture(void **state) {
  (void)state;
  const double lambdas[N] = {0.82, 0.84, 0.86, 0.88, 0.90, 0.92};
  struct ew_sweep_options o = spark;
  o.setting = EW_SWEEP_MIXTURE;
  o.reserve = 0.01;
  struct ew_sweep_pull p[N];
  fill(p, lambdas, 0.87, 0.003 / (0.03 * 0.03));
  struct ew_sweep *s = ew_sweep(p, N, &o, NULL);
  expect_near(s->best, 0.87, 0.01, "the best mixture");
  ew_sweep_free(s);
}

static void drift_is_fitted(void **state) {
  (void)state;
  struct ew_sweep_pull p[N];
  const double back[N] = {24, 27, 30, 33, 36, 24};
  fill(p, back, 30, 4e-4);
  for (int i = 0; i < N; i++)
    p[i].log_mean += 0.003 * i;
  struct ew_sweep_options o = spark;
  o.fit_drift = TRUE;
  struct ew_sweep *s = ew_sweep(p, N, &o, NULL);
  expect_near(s->slope, 0.003, 0.0003, "the drift");
  expect_near(s->best, 30, 0.8, "the best beside a drift");
  ew_sweep_free(s);
}

/* Six pulls at 0.1 % know the best within a degree; rougher ones do not, and the next is put where it tells most. */
static void narrowing(void **state) {
  (void)state;
  static const struct {
    const char *says;
    double best, sd;
    enum ew_sweep_setting setting;
    int at;
    double knock;
    const char *seen;
    double low, high; /* where the next may be; NaN: nowhere */
  } rows[] = {
      {"quiet pulls tell it already", 28, 0.0005, EW_SWEEP_SPARK, 0, 0, NULL, NAN, NAN},
      {"rough pulls: six degrees to a side", 28, 0.003, EW_SWEEP_SPARK, 0, 0, NULL, 18, 38},
      {"never above what was tested", 34, 0.003, EW_SWEEP_SPARK, 0, 0, NULL, 18, 38},
      {"one count of knock at 36: two degrees below it", 30, 0.003, EW_SWEEP_SPARK, 4, 1, NULL, 18,
       34},
      {"knock that was not measured", 28, 0.003, EW_SWEEP_SPARK, 4, NAN, NULL, 18, 38},
      {"knock ends it", 28, 0.003, EW_SWEEP_SPARK, 5, 9, NULL, NAN, NAN},
      {"something seen ends it", 28, 0.003, EW_SWEEP_SPARK, 5, 0, "specks", NAN, NAN},
      {"a best outside: step on first", 50, 0.003, EW_SWEEP_SPARK, 0, 0, NULL, NAN, NAN},
  };
  const double wide[N] = {18, 22, 26, 30, 36, 38};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_sweep_pull p[N];
    struct ew_sweep_options o = spark;
    o.sd = rows[i].sd;
    fill(p, wide, rows[i].best, 4e-4);
    p[rows[i].at].knock = rows[i].knock;
    p[rows[i].at].seen = rows[i].seen;
    struct ew_sweep *s = ew_sweep(p, N, &o, NULL);
    gboolean told = isnan(rows[i].low) ? isnan(s->narrow)
                                       : s->narrow >= rows[i].low && s->narrow <= rows[i].high;
    expect(told, rows[i].says, "%g", s->narrow);
    expect(isnan(s->narrow) == (s->narrow_says == NULL), rows[i].says, "%d",
           s->narrow_says != NULL);
    expect(!isnan(s->narrow) || s->narrow_pulls == 0, rows[i].says, "%u", s->narrow_pulls);
    ew_sweep_free(s);
  }
}

/* A second time with what was advised, the interval is narrower, and in the end nothing more is asked for. */
static void narrowing_comes_to_an_end(void **state) {
  (void)state;
  struct ew_sweep_pull p[40];
  const double wide[N] = {18, 22, 26, 30, 34, 38};
  struct ew_sweep_options o = spark;
  o.sd = 0.002;
  fill(p, wide, 27, 4e-4);
  gsize n = N;
  double half = INFINITY;
  for (; n < 40; n++) {
    struct ew_sweep *s = ew_sweep(p, n, &o, NULL);
    double next = s->narrow, now = s->best_high - s->best_low;
    ew_sweep_free(s);
    assert_true(now < half * 1.1);
    half = now;
    if (isnan(next))
      break;
    p[n] = (struct ew_sweep_pull){.setting = next,
                                  .log_mean = 5 - 4e-4 * pow(next - 27, 2) + (n % 2 ? 2e-4 : -2e-4),
                                  .position = (double)n};
  }
  assert_true(n > N && n < 20 && half <= 2);
}

static void refusals(void **state) {
  (void)state;
  struct ew_sweep_pull p[N];
  fill(p, degrees, 30, 4e-4);
  g_autoptr(GError) error = NULL;
  assert_null(ew_sweep(p, 2, &spark, &error));
  expect_refused(error, "three different settings|2", "two settings");
  g_clear_error(&error);
  p[1].setting = p[2].setting = p[0].setting;
  assert_null(ew_sweep(p, 3, &spark, &error));
  expect_refused(error, "three different settings|1", "one setting three times");
  g_clear_error(&error);
  fill(p, degrees, 30, 4e-4);
  struct ew_sweep_options blind = spark;
  blind.sd = NAN;
  assert_null(ew_sweep(p, N, &blind, &error));
  expect_refused(error, "scatter|--history", "no spread");
}

/* Each pull in turn reads 0.1 % more: the best moves as its weight foretold (a derivative: nothing but the answer itself is the
 * reference). */
static void weights_foretell(void **state) {
  (void)state;
  struct ew_sweep_pull p[N];
  fill(p, degrees, 30, 4e-4);
  struct ew_sweep_options o = spark;
  o.minutes_a_pull = 4, o.litres_a_pull = NAN, o.seconds_high_a_pull = 0.5;
  struct ew_sweep *s = ew_sweep(p, N, &o, NULL);
  double most = 0;
  for (int i = 0; i < N; i++)
    most = fmax(most, fabs(s->pull_moves[i]));
  assert_true(most > 0);
  for (int i = 0; i < N; i++) {
    p[i].log_mean += 0.001;
    struct ew_sweep *moved = ew_sweep(p, N, &o, NULL);
    p[i].log_mean -= 0.001;
    expect_near((moved->best - s->best) * 10, s->pull_moves[i], 0.15 * most, "a pull reads more");
    ew_sweep_free(moved);
  }
  assert_true(s->assumed->len == 4);
  if (s->narrow_pulls) {
    expect_near(s->cost_minutes, 4 * s->narrow_pulls, 1e-9, "minutes");
    expect_near(s->cost_seconds_high, 0.5 * s->narrow_pulls, 1e-9, "near the limit");
  }
  expect_near(s->cost_litres, NAN, 0, "fuel that nobody measured");
  ew_sweep_free(s);
  fill(p, degrees, 40, 4e-4);
  s = ew_sweep(p, N, &o, NULL);
  for (int i = 0; i < N; i++)
    expect_near(s->pull_moves[i], NAN, 0, "a best outside what was tested has no weights");
  ew_sweep_free(s);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(the_best_and_the_least),
                                     cmocka_unit_test(weights_foretell),
                                     cmocka_unit_test(not_bracketed),
                                     cmocka_unit_test(signs_end_it),
                                     cmocka_unit_test(mixture),
                                     cmocka_unit_test(drift_is_fitted),
                                     cmocka_unit_test(narrowing),
                                     cmocka_unit_test(narrowing_comes_to_an_end),
                                     cmocka_unit_test(refusals)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
