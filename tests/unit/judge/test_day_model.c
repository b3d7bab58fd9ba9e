#include "judge/day_inside.h"
#include "unit.h"
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>

static struct ew_day_pull pull_of(int setup, double per_cent) {
  return (struct ew_day_pull){.day = 1,
                              .setup = setup,
                              .spark_deg = NAN,
                              .covariate = {NAN, NAN, NAN, NAN},
                              .log_mean = 5 + per_cent / 100};
}

static struct ew_day_model *model_of(const struct ew_day_options *options) {
  return ew_day_model_new(options ? options : &(struct ew_day_options){0});
}

/* A B A B A B with B 1 % above, and scatter of 0.2 % by hand. */
static struct ew_day_model *a_day(const struct ew_day_options *options, double drift) {
  static const double noise[] = {0.1, -0.2, 0.15, 0.2, -0.25, 0.05, -0.1, 0};
  struct ew_day_model *m = model_of(options);
  for (int i = 0; i < 8; i++) {
    struct ew_day_pull p = pull_of(i % 2, i % 2 + noise[i] + drift * i);
    assert_true(ew_day_model_add(m, &p));
  }
  return m;
}

static void nothing_told(void **state) {
  (void)state;
  g_autoptr(ew_day_model) m = model_of(NULL);
  struct ew_day_belief b = ew_day_model_believe(m, 0, 1);
  expect_near(b.mean, 0, 1e-12, "no pulls: no difference");
  expect_near(b.sd, 0.02, 1e-12, "no pulls: as wide as the prior");
  expect_near(ew_day_model_below(m, 0, 1, 0), 0.5, 1e-12, "no pulls: as likely above as below");
  struct ew_day_pull first = pull_of(0, 0);
  ew_day_model_add(m, &first);
  expect_near(ew_day_model_believe(m, 0, 1).sd, 0.02, 1e-9, "one pull of A tells nothing of B");
  expect_near(ew_day_model_surprise(m), 0, 1e-12, "nothing foretells the first");
}

static void a_difference_is_found(void **state) {
  (void)state;
  for (int k = 0; k < 3; k++) {
    double drift = 0.1 * k;
    g_autoptr(ew_day_model) m = a_day(NULL, drift);
    struct ew_day_belief b = ew_day_model_believe(m, 0, 1), back = ew_day_model_believe(m, 1, 0);
    expect_near(b.mean, 0.01, 0.003, "1 %");
    expect_near(back.mean, -b.mean, 1e-12, "the other way round");
    expect_near(back.sd, b.sd, 1e-12, "as sure");
    expect(ew_day_model_below(m, 0, 1, 0) < 0.01, "shown above 0", "%g",
           ew_day_model_below(m, 0, 1, 0));
    double low = ew_day_model_quantile(m, 0, 1, 0.025),
           high = ew_day_model_quantile(m, 0, 1, 0.975);
    expect(low < b.mean && b.mean < high, "the interval holds its mean", "%g to %g", low, high);
    expect_near(ew_day_model_below(m, 0, 1, low), 0.025, 1e-9, "a quantile is one");
  }
}

static void what_is_no_figure_is_refused(void **state) {
  (void)state;
  static const struct {
    const char *says;
    double log_mean;
    int setup;
  } rows[] = {
      {"NaN", NAN, 0},
      {"infinite: torque of 0", -INFINITY, 0},
      {"a set-up below 0", 5, -1},
      {"more set-ups than there is room for", 5, EW_DAY_SETUPS},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(ew_day_model) m = a_day(NULL, 0), same = a_day(NULL, 0);
    struct ew_day_pull p = pull_of(rows[i].setup, 0);
    p.log_mean = rows[i].log_mean;
    expect(!ew_day_model_add(m, &p), rows[i].says, "%s", "taken");
    expect_near(ew_day_model_below(m, 0, 1, 0.01), ew_day_model_below(same, 0, 1, 0.01), 0,
                rows[i].says);
  }
}

/* Conditions that come late, go and come back, or never were: figures stay figures. */
static void conditions_that_are_not_known(void **state) {
  (void)state;
  g_autoptr(ew_day_model) m = model_of(NULL);
  for (int i = 0; i < 9; i++) {
    struct ew_day_pull p = pull_of(i % 2, 0.1 * (i % 3));
    for (int k = 0; k < EW_DAY_COVARIATES; k++)
      p.covariate[k] = i < 2 || i == 5 ? NAN : i == 6 ? INFINITY : 330 + i;
    p.spark_deg = i == 3 ? NAN : 28;
    assert_true(ew_day_model_add(m, &p));
    struct ew_day_belief b = ew_day_model_believe(m, 0, 1);
    expect(isfinite(b.mean) && b.sd > 0, "known", "%g ± %g", b.mean, b.sd);
  }
}

static void a_copy_goes_its_own_way(void **state) {
  (void)state;
  const double only[] = {0.3, 0.05, 0.2, 0};
  for (int k = 0; k < 2; k++) {
    g_autoptr(ew_day_model) m = a_day(&(struct ew_day_options){.only = k ? only : NULL}, 0);
    g_autoptr(ew_day_model) copy = ew_day_model_copy(m);
    double before = ew_day_model_below(m, 0, 1, 0.01);
    struct ew_day_pull p = pull_of(1, -3);
    ew_day_model_add(copy, &p);
    expect_near(ew_day_model_below(m, 0, 1, 0.01), before, 0, "the model stays");
    expect(ew_day_model_below(copy, 0, 1, 0.01) > before, "the copy has learned", "%g", before);
    expect(fabs(ew_day_model_surprise(copy)) > 3, "4 % below is a surprise", "%g",
           ew_day_model_surprise(copy));
  }
}

/* A new day forgets level and set-ups, not what the weather does; lent history knows the scatter less well. */
static void days(void **state) {
  (void)state;
  g_autoptr(ew_day_model) m = a_day(NULL, 0);
  double sure = ew_day_model_believe(m, 0, 1).sd;
  struct ew_day_pull next = pull_of(0, 7);
  next.day = 2;
  ew_day_model_add(m, &next);
  struct ew_day_belief b = ew_day_model_believe(m, 0, 1);
  expect_near(b.sd, 0.02, 1e-9, "another day: its set-up 1 is another one");
  expect_near(b.mean, 0, 1e-9, "another day: nothing known of it");
  expect(sure < 0.004, "a day of eight pulls", "%g", sure);
  g_autoptr(ew_day_model) lent = a_day(&(struct ew_day_options){.all_sound = TRUE}, 0);
  double scatter = ew_day_model_believe(lent, 0, 1).scatter;
  ew_day_model_lend_history(lent);
  double then = ew_day_model_believe(lent, 0, 1).scatter;
  expect(fabs(log(then / 0.003)) < fabs(log(scatter / 0.003)), "nearer to what is usual",
         "%g, then %g", scatter, then);
  g_autoptr(ew_day_model) rougher = a_day(NULL, 0);
  ew_day_model_lend_history(rougher);
  double today = ew_day_model_believe(rougher, 0, 1).scatter;
  expect(today > 1.2 * then && today < 2.2 * then, "and today may be rougher", "%g, then %g", today,
         then);
}

/* After a stop the level may have moved: the same figures tell less. */
static void a_stop_costs(void **state) {
  (void)state;
  double sd[2];
  for (int stop = 0; stop < 2; stop++) {
    g_autoptr(ew_day_model) m = model_of(NULL);
    for (int i = 0; i < 6; i++) {
      struct ew_day_pull p = pull_of(i >= 3, 0.1 * (i % 2));
      p.rested = stop && i == 3;
      ew_day_model_add(m, &p);
    }
    sd[stop] = ew_day_model_believe(m, 0, 1).sd;
  }
  expect(sd[1] > 1.05 * sd[0], "a stop between the sides", "%g, without %g", sd[1], sd[0]);
}

/* Six days of twelve pulls of 0.3 %, each pull keeping this share of the one before: what the engine's noise keeps is learned from them, in
 * full when the days are lent, and A B A B is surer for it. */
static struct ew_day_belief after_days_of(double kept, unsigned long seed) {
  gsl_rng *random = gsl_rng_alloc(gsl_rng_taus2);
  g_autoptr(ew_day_model) m = model_of(NULL);
  double noise = 0;
  gsl_rng_set(random, seed);
  for (int i = 0; i < 80; i++) {
    noise = kept * noise + 0.3 * sqrt(1 - kept * kept) * gsl_ran_gaussian(random, 1);
    struct ew_day_pull p = pull_of(i < 72 ? 0 : i % 2, i < 72 ? noise : 0.1 * (i % 4));
    p.day = 1 + i / 12;
    if (i == 72)
      ew_day_model_lend_history(m);
    ew_day_model_add(m, &p);
  }
  gsl_rng_free(random);
  return ew_day_model_believe(m, 0, 1);
}

static void noise_that_remembers(void **state) {
  (void)state;
  double memory[2] = {0, 0}, sd[2] = {0, 0};
  for (int k = 0; k < 2; k++)
    for (unsigned long seed = 1; seed <= 5; seed++) {
      struct ew_day_belief b = after_days_of(k ? 0.5 : 0, seed);
      memory[k] += b.memory / 5, sd[k] += b.sd / 5;
    }
  expect(memory[0] < 0.1 && memory[1] > 0.3, "the noise's memory is found, or its lack",
         "%g and %g", memory[0], memory[1]);
  expect(sd[1] < 0.9 * sd[0], "A B A B is surer where noise remembers", "%g, without %g", sd[1],
         sd[0]);
}

/* One pull that may be wrong, beside the two updates that it stands for: sound, and with five times s more of noise that nothing
 * remembers. Mean and covariance of the two, weighed by their densities and the odds, to the last digits. */
static void a_stray_counts_in_part(void **state) {
  (void)state;
  static const double far[] = {0.2, 1.2, 1.6, 40};
  const double only[] = {0.3, 0.05, 0.2, 0.4}, odds = 0.05 / 0.95;
  double h[EW_DAY_STATES] = {
      [EW_DAY_LEVEL] = 1, [EW_DAY_SLOPE] = 8, [EW_DAY_NOISE] = 1, [EW_DAY_SETUP] = 1};
  for (gsize k = 0; k < G_N_ELEMENTS(far); k++) {
    g_autoptr(ew_day_model) sound = a_day(&(struct ew_day_options){.only = only}, 0);
    g_autoptr(ew_day_model) wrong = ew_day_model_copy(sound), both = ew_day_model_copy(sound);
    ew_day_row error, variance, error2, variance2, density;
    wrong->covariance[ew_day_pair(EW_DAY_NOISE, EW_DAY_NOISE)][0] += 1.5 * 1.5;
    ew_day_update(sound, h, far[k], error, variance, NULL);
    ew_day_update(wrong, h, far[k], error2, variance2, NULL);
    ew_day_update_stray(both, h, far[k], log(odds), 5, error, variance2, density);
    double e2 = error[0] * error[0], v = variance[0], w = v + 2.25;
    double one = exp(-e2 / 2 / v) / sqrt(2 * M_PI * v),
           other = odds * exp(-e2 / 2 / w) / sqrt(2 * M_PI * w);
    double chance = other / (one + other);
    expect_near(density[0], log((one + other) / (1 + odds)), 1e-9 * (1 + e2),
                "the density of what came");
    for (int i = 0; i < both->states; i++)
      for (int j = 0; j <= i && i != EW_DAY_NOISE; j++) {
        int ij = ew_day_pair(i, j);
        if (j == EW_DAY_NOISE)
          continue;
        double apart =
            (wrong->mean[i][0] - sound->mean[i][0]) * (wrong->mean[j][0] - sound->mean[j][0]);
        expect_near(both->mean[i][0],
                    sound->mean[i][0] + chance * (wrong->mean[i][0] - sound->mean[i][0]), 1e-9,
                    "mean");
        expect_near(both->covariance[ij][0],
                    (1 - chance) * sound->covariance[ij][0] + chance * wrong->covariance[ij][0] +
                        chance * (1 - chance) * apart,
                    1e-8, "covariance");
      }
  }
}

/* Six days of A; every so many pulls one of them is 1.5 % off. */
static struct ew_day_belief after_strays(int every, gboolean all_sound) {
  gsl_rng *random = gsl_rng_alloc(gsl_rng_taus2);
  g_autoptr(ew_day_model) m = model_of(&(struct ew_day_options){.all_sound = all_sound});
  gsl_rng_set(random, 5);
  for (int i = 0; i < 80; i++) {
    double noise = gsl_ran_gaussian(random, 0.25);
    if (i < 72 && i % every == 5)
      noise += i % 2 ? 1.5 : -1.5;
    struct ew_day_pull p = pull_of(i < 72 ? 0 : i % 2, i < 72 ? noise : 0.1 * (i % 4));
    p.day = 1 + i / 12;
    if (i == 72)
      ew_day_model_lend_history(m);
    ew_day_model_add(m, &p);
  }
  gsl_rng_free(random);
  return ew_day_model_believe(m, 0, 1);
}

/* An engine whose pulls stray now and then is not rough by them: what it is judged by tomorrow is what the others scatter by. */
static void days_with_strays(void **state) {
  (void)state;
  enum { NEVER = 1000, OFTEN = 11 };
  struct ew_day_belief clean = after_strays(NEVER, FALSE), stray = after_strays(OFTEN, FALSE);
  struct ew_day_belief taken_in = after_strays(OFTEN, TRUE), clean_too = after_strays(NEVER, TRUE);
  expect(stray.scatter < 1.25 * clean.scatter, "strays are none of the scatter", "%g, without %g",
         stray.scatter, clean.scatter);
  expect(taken_in.scatter > 1.4 * clean_too.scatter, "as they are where all are taken for sound",
         "%g, without %g", taken_in.scatter, clean_too.scatter);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(nothing_told),
                                     cmocka_unit_test(a_difference_is_found),
                                     cmocka_unit_test(what_is_no_figure_is_refused),
                                     cmocka_unit_test(conditions_that_are_not_known),
                                     cmocka_unit_test(a_copy_goes_its_own_way),
                                     cmocka_unit_test(days),
                                     cmocka_unit_test(a_stop_costs),
                                     cmocka_unit_test(noise_that_remembers),
                                     cmocka_unit_test(a_stray_counts_in_part),
                                     cmocka_unit_test(days_with_strays)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
