/* What conditions do, learned across engines: held against one dense normal vector of all pulls (Cholesky: GSL), which knows nothing of
 * levels, children or days. */
#include "judge/effects.h"
#include "unit.h"
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_randist.h>

#define MOST 60
#define K    EW_DAY_COVARIATES

static const double common[K] = {-0.0002, -0.0004, -0.0002, -0.00003};
static const double common_sd[K] = {0.0003, 0.0004, 0.0003, 0.00008};

struct invented {
  struct ew_effects_pull pull[MOST];
  gsize n;
};

static void one_day(struct invented *b, gsl_rng *random, int engine, int family, int cell, int day,
                    int pulls, double inlet) {
  for (int i = 0; i < pulls; i++) {
    struct ew_effects_pull p = {.cell = cell,
                                .family = family,
                                .engine = engine,
                                .day = day,
                                .group = i % 2,
                                .position = i};
    for (int k = 0; k < K; k++)
      p.covariate[k] = 3 * gsl_ran_gaussian(random, 1);
    p.log_mean =
        5 + 0.1 * p.group + inlet * p.covariate[EW_DAY_INLET] + 0.002 * gsl_ran_gaussian(random, 1);
    b->pull[b->n++] = p;
  }
}

static struct invented a_book(void) {
  struct invented b = {.n = 0};
  gsl_rng *random = gsl_rng_alloc(gsl_rng_mt19937);
  gsl_rng_set(random, 7);
  one_day(&b, random, 1, 1, 1, 1, 9, -0.0005);
  one_day(&b, random, 1, 1, 1, 2, 8, -0.0005);
  one_day(&b, random, 2, 1, 1, 3, 10, -0.0009);
  one_day(&b, random, 3, 2, 1, 4, 12, 0.0001);
  one_day(&b, random, 4, 3, 2, 5, 10, 0.0010);
  gsl_rng_free(random);
  return b;
}

static double share(const struct ew_effects_pull *a, const struct ew_effects_pull *b) {
  double cell = a->cell == b->cell, family = cell && a->family == b->family;
  return 0.6 * cell + 0.2 * family + 0.2 * (a->engine == b->engine);
}

/* What readings moved by that was no scatter of theirs, and what is added to the variance for what was: figures of docs/methods.md. */
static const double reading_sd[K] = {0.7, 0.5, 0.5, 1.5},
                    by_factor[K] = {0, 0.5 / 298, 0, 32.0 / 98000};

static double told_of(const struct invented *b, int k) {
  double squares = 0, freedom = 0;
  for (gsize i = 0; i < b->n; i++) {
    double sum = 0, count = 0;
    for (gsize j = 0; j < b->n; j++)
      if (b->pull[j].engine == b->pull[i].engine && b->pull[j].day == b->pull[i].day &&
          b->pull[j].group == b->pull[i].group)
        sum += b->pull[j].covariate[k], count++;
    squares += pow(b->pull[i].covariate[k] - sum / count, 2);
    freedom += 1 - 1 / count;
  }
  return fmax(1 - reading_sd[k] * reading_sd[k] / (squares / freedom), 0);
}

/* Mean and variance of effect k of the engine of `asked`, by the dense vector. */
static void dense(const struct invented *b, const struct ew_effects_pull *asked, double sd, int k,
                  double *mean, double *variance) {
  gsl_matrix *C = gsl_matrix_alloc(b->n, b->n);
  gsl_vector *c = gsl_vector_alloc(b->n), *x = gsl_vector_alloc(b->n);
  for (gsize i = 0; i < b->n; i++) {
    const struct ew_effects_pull *p = &b->pull[i];
    for (gsize j = 0; j < b->n; j++) {
      const struct ew_effects_pull *q = &b->pull[j];
      double day = p->engine == q->engine && p->day == q->day;
      double sum = (i == j) * sd * sd + day * (p->group == q->group) +
                   day * 0.0015 * 0.0015 * p->position * q->position;
      for (int m = 0; m < K; m++)
        sum += common_sd[m] * common_sd[m] * p->covariate[m] * q->covariate[m] * share(p, q);
      gsl_matrix_set(C, i, j, sum);
    }
    gsl_vector_set(c, i, common_sd[k] * common_sd[k] * p->covariate[k] * share(asked, p));
  }
  gsl_linalg_cholesky_decomp1(C);
  gsl_linalg_cholesky_solve(C, c, x);
  *mean = common[k], *variance = common_sd[k] * common_sd[k];
  for (gsize i = 0; i < b->n; i++) {
    double foretold = 5; /* as good as any: the levels' variance is 1 */
    for (int m = 0; m < K; m++)
      foretold += common[m] * b->pull[i].covariate[m];
    *mean += gsl_vector_get(x, i) * (b->pull[i].log_mean - foretold);
    *variance -= gsl_vector_get(x, i) * gsl_vector_get(c, i);
  }
  gsl_matrix_free(C), gsl_vector_free(c), gsl_vector_free(x);
}

static void as_the_dense_model(void **state) {
  (void)state;
  struct invented b = a_book(), scaled = b;
  for (gsize i = 0; i < b.n; i++)
    for (int k = 0; k < K; k++)
      scaled.pull[i].covariate[k] *= told_of(&b, k);
  static const struct {
    const char *says;
    struct ew_effects_pull asked;
  } rows[] = {
      {"an engine with two days", {.cell = 1, .family = 1, .engine = 1}},
      {"another of its family", {.cell = 1, .family = 1, .engine = 2}},
      {"one alone in its family", {.cell = 1, .family = 2, .engine = 3}},
      {"another cell", {.cell = 2, .family = 3, .engine = 4}},
      {"an engine that never ran, of a family that did", {.cell = 1, .family = 1, .engine = 9}},
      {"a family that never ran", {.cell = 1, .family = 8, .engine = 9}},
      {"a cell that never ran", {.cell = 7, .family = 8, .engine = 9}},
  };
  for (gsize r = 0; r < G_N_ELEMENTS(rows); r++) {
    const struct ew_effects_pull *a = &rows[r].asked;
    struct ew_effects e = ew_effects_learn(b.pull, b.n, a->cell, a->family, a->engine, 0.002);
    for (int k = 0; k < K; k++) {
      double mean, variance;
      dense(&scaled, a, 0.002, k, &mean, &variance);
      double doubt =
          by_factor[k] * (1 - told_of(&b, k)) * fmax(1 - variance / common_sd[k] / common_sd[k], 0);
      variance += doubt * doubt;
      expect_near(e.told[k], told_of(&b, k), 1e-9, "share that was no scatter of the sensor");
      expect_near(e.effect[k], mean, 2e-3 * common_sd[k], rows[r].says);
      expect_near(sqrt(e.covariance[k][k]), sqrt(variance), 2e-3 * common_sd[k], rows[r].says);
    }
  }
}

static void what_is_not_known(void **state) {
  (void)state;
  struct invented b = a_book();
  struct ew_effects none = ew_effects_learn(b.pull, 0, 1, 1, 1, NAN);
  for (int k = 0; k < K; k++) {
    expect_near(none.effect[k], common[k], 1e-12, "no pulls: what is common");
    expect_near(sqrt(none.covariance[k][k]), common_sd[k], 1e-12, "no pulls: its spread");
  }
  struct ew_effects whole = ew_effects_learn(b.pull, b.n, 1, 1, 1, 0.002);
  b.pull[b.n] = b.pull[b.n - 1];
  b.pull[b.n].log_mean = NAN;
  b.pull[b.n + 1] = b.pull[b.n - 1];
  b.pull[b.n + 1].position = NAN;
  struct ew_effects with = ew_effects_learn(b.pull, b.n + 2, 1, 1, 1, 0.002);
  expect_near(with.effect[EW_DAY_INLET], whole.effect[EW_DAY_INLET], 1e-15, "NaN takes no part");
  for (gsize i = 0; i < b.n; i++)
    b.pull[i].covariate[EW_DAY_INLET] = NAN;
  struct ew_effects blind = ew_effects_learn(b.pull, b.n, 1, 1, 1, 0.002);
  expect_near(blind.effect[EW_DAY_INLET], common[EW_DAY_INLET], 1e-9, "an inlet nobody read");
}

/* An inlet that hardly moved, read by a sensor that scatters as much as it moved: nothing is learned from it. And a reading's scatter on top
 * of what moved no longer shrinks what is learned: the true -0.1 % a K is found within the doubt that is told. */
static void sensors_scatter(void **state) {
  (void)state;
  struct invented b = {.n = 0};
  gsl_rng *random = gsl_rng_alloc(gsl_rng_mt19937);
  gsl_rng_set(random, 11);
  for (int i = 0; i < MOST; i++) {
    double inlet = 0.9 * gsl_ran_gaussian(random, 1), off = 0.5 * gsl_ran_gaussian(random, 1);
    b.pull[b.n++] = (struct ew_effects_pull){.cell = 1,
                                             .family = 1,
                                             .engine = 1,
                                             .day = i / 12,
                                             .group = i / 12,
                                             .position = i % 12,
                                             .log_mean = 5 - 0.001 * inlet +
                                                         0.0002 * gsl_ran_gaussian(random, 1),
                                             .covariate = {NAN, 298 + inlet + off, NAN, NAN}};
  }
  struct ew_effects e = ew_effects_learn(b.pull, b.n, 1, 1, 1, 0.0003);
  expect(e.told[EW_DAY_INLET] > 0.5 && e.told[EW_DAY_INLET] < 0.9, "about three quarters", "%g",
         e.told[EW_DAY_INLET]);
  expect_near(e.effect[EW_DAY_INLET], -0.001, 2 * sqrt(e.covariance[EW_DAY_INLET][EW_DAY_INLET]),
              "not drawn towards none");
  for (gsize i = 0; i < b.n; i++)
    b.pull[i].covariate[EW_DAY_INLET] = 298 + 0.4 * gsl_ran_gaussian(random, 1);
  e = ew_effects_learn(b.pull, b.n, 1, 1, 1, 0.0003);
  expect(e.told[EW_DAY_INLET] < 0.1, "what moved was the sensor", "%g", e.told[EW_DAY_INLET]);
  expect_near(e.effect[EW_DAY_INLET], common[EW_DAY_INLET], 0.00012, "what is common stays");
  gsl_rng_free(random);
}

static void taken_out(void **state) {
  (void)state;
  struct ew_effects e = ew_effects_learn(NULL, 0, 1, 1, 1, 0.003);
  struct ew_value v[] = {{0, 0, 5}, {1, 1, 5.01}, {0, 2, 5.001}, {1, 3, 5.011}};
  double x[4][K];
  for (int i = 0; i < 4; i++)
    for (int k = 0; k < K; k++)
      x[i][k] = k == EW_DAY_INLET ? 298 + 3 * (i % 2) : (double)NAN;
  struct ew_spread history = {0.003, 12, FALSE};
  struct ew_difference_options o = {.drift_mean = NAN, .drift_sd = NAN};
  struct ew_difference before = ew_difference(v, 4, history, &o);
  struct ew_effects_told told;
  ew_effects_apply(&e, (const double(*)[K])x, v, 4, history, &o, &told);
  struct ew_difference after = ew_difference(v, 4, history, &o);
  expect(told.asked, "one condition is known", "not asked");
  expect_near(told.change[EW_DAY_INLET], 3, 1e-9, "3 K on B");
  expect_near(told.change[EW_DAY_OIL], NAN, 0, "oil that nobody read");
  expect_near(after.difference, before.difference + 3 * 0.0004, 1e-12, "B ran in warmer air");
  expect_near(after.variance - before.variance, 9 * 0.0004 * 0.0004, 1e-12,
              "how well that is known");
  for (int i = 0; i < 4; i += 2)
    x[i][EW_DAY_INLET] = NAN;
  struct ew_difference_options again = {.drift_mean = NAN, .drift_sd = NAN};
  ew_effects_apply(&e, (const double(*)[K])x, v, 4, history, &again, &told);
  expect(!told.asked && told.sd == 0, "known on one side only: nothing is taken out", "%g",
         told.sd);
}

static void weights(void **state) {
  (void)state;
  static const char *const orders[] = {"AB", "ABA", "ABAB", "AABB", "BABAAB", "AAAB"};
  struct ew_spread history = {0.003, 12, FALSE};
  struct ew_difference_options o = {.drift_mean = 0.0001, .drift_sd = 0.001};
  for (gsize r = 0; r < G_N_ELEMENTS(orders); r++) {
    struct ew_value v[8];
    double w[8], sum[2] = {0, 0}, moved = 0;
    gsize n = strlen(orders[r]);
    for (gsize i = 0; i < n; i++)
      v[i] = (struct ew_value){orders[r][i] == 'B', (double)i, 5 + 0.001 * (double)((i * 3) % 5)};
    struct ew_difference d = ew_difference(v, n, history, &o);
    ew_difference_weights(v, n, &d, w);
    for (gsize i = 0; i < n; i++)
      sum[v[i].side] += w[i];
    expect_near(sum[0], -1, 1e-12, orders[r]);
    expect_near(sum[1], 1, 1e-12, orders[r]);
    v[n - 1].log_mean += 1e-9; /* too little to move s, and with it the weight of the slope */
    moved = ew_difference(v, n, history, &o).difference - d.difference;
    expect_near(moved / 1e-9, w[n - 1], 1e-4, orders[r]);
  }
}

static void drift(void **state) {
  (void)state;
  struct ew_history_pull p[60];
  gsl_rng *random = gsl_rng_alloc(gsl_rng_mt19937);
  double mean, spread, raw = 0.003 / sqrt(2); /* of a slope through three pulls */
  static const struct {
    const char *says;
    double tau, least, most;
  } rows[] = {{"scatter alone is little drift", 0, 0.0003, 0.0018},
              {"days that drift by 0.4 % a pull", 0.004, 0.0025, 0.0055}};
  for (gsize r = 0; r < G_N_ELEMENTS(rows); r++) {
    gsl_rng_set(random, 3);
    for (int run = 0; run < 20; run++) {
      double slope = rows[r].tau * gsl_ran_gaussian(random, 1);
      for (int i = 0; i < 3; i++)
        p[3 * run + i] = (struct ew_history_pull){.run = run,
                                                  .position = 3 * run + i,
                                                  .log_mean = 5 + slope * i +
                                                              0.003 * gsl_ran_gaussian(random, 1)};
    }
    ew_learn_drift(p, 60, 0.003, &mean, &spread);
    expect(spread > rows[r].least && spread < rows[r].most && (rows[r].tau > 0 || spread < raw),
           rows[r].says, "%g", spread);
    ew_learn_drift(p, 9, 0.003, &mean, &spread);
    expect(isnan(mean) && isnan(spread), "three runs are too few", "%g", spread);
    ew_learn_drift(p, 60, NAN, &mean, &spread);
    expect(isnan(spread), "scatter not known", "%g", spread);
  }
  double before;
  ew_learn_drift(p, 57, 0.003, &mean, &before);
  p[57].log_mean = p[58].position = NAN;
  ew_learn_drift(p, 60, 0.003, &mean, &spread);
  expect_near(spread, before, 1e-15, "NaN takes no part, and one pull makes no slope");
  gsl_rng_free(random);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(as_the_dense_model),
                                     cmocka_unit_test(what_is_not_known),
                                     cmocka_unit_test(taken_out),
                                     cmocka_unit_test(sensors_scatter),
                                     cmocka_unit_test(weights),
                                     cmocka_unit_test(drift)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
