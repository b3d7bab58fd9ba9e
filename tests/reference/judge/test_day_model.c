/* The day's model against the same model without any filter: all pulls at once, as one normal vector whose covariance
 * is written down from the priors, conditioned by Cholesky's factorization (Rasmussen and Williams, Gaussian Processes
 * for Machine Learning, 2006, (2.22) to (2.24) and algorithm 2.1; GSL's linear algebra). Two days, a stop, two set-ups,
 * sparks, covariates that are not always known. */
#include "../near.h"
#include "judge/day_answer.h"
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_rng.h>
#include <string.h>

#define PULLS    26
#define NEXT_DAY 11 /* the first pull of the second day */

/* As docs/methods.md states them. */
static const double effect_mean[] = {-0.02, -0.04, -0.02, -0.003},
                    effect_sd[] = {0.03, 0.08, 0.03, 0.008};
static const double spark_mean[] = {0, -1, 0}, spark_sd[] = {1.4, 0.45, 0.2};

struct point {
  double s, q, J, memory;
};

static struct ew_day_pull pulls[PULLS];
static double run_before[PULLS],
    since_rest[PULLS]; /* pulls of the day before it, and since the stop */

static void fill(void) {
  gsl_rng *random = gsl_rng_alloc(gsl_rng_taus2);
  gsl_rng_set(random, 12);
  for (int i = 0; i < PULLS; i++) {
    int day = i >= NEXT_DAY, of_day = day ? i - NEXT_DAY : i;
    gboolean rested = i == 6 || i == 19;
    run_before[i] = of_day;
    since_rest[i] = of_day == 0 || rested ? 0 : since_rest[i - 1] + 1;
    pulls[i] = (struct ew_day_pull){.day = 100 + day,
                                    .setup = i % 4 == 3   ? 1
                                             : i % 7 == 5 ? 2
                                                          : 0,
                                    .spark_deg = i % 5 == 2   ? 22
                                                 : i % 5 == 4 ? 36
                                                              : 30,
                                    .rested = rested,
                                    .log_mean = 5 + 0.006 * gsl_rng_uniform(random)};
    for (int k = 0; k < EW_DAY_COVARIATES; k++)
      pulls[i].covariate[k] = (i + k) % 6 == 1 ? NAN : 300 + 6 * gsl_rng_uniform(random);
  }
  gsl_rng_free(random);
}

static double strayed(int i, int k) {
  int from = i >= NEXT_DAY ? NEXT_DAY : 0;
  while (isnan(pulls[from].covariate[k]) && from < i)
    from++;
  double x = pulls[i].covariate[k] - pulls[from].covariate[k];
  return isnan(x) ? 0 : x;
}

static double mean_of(int i) {
  double v = (pulls[i].spark_deg - 30) / 5, mean = 0;
  for (int k = 0; k < 3; k++)
    mean += spark_mean[k] * pow(v, k + 1);
  for (int k = 0; k < EW_DAY_COVARIATES; k++)
    mean += effect_mean[k] * strayed(i, k);
  return mean;
}

/* Covariance of what two pulls have in common; the noise of a pull is added by the caller. */
static double shared_of(int i, int j, struct point g) {
  gboolean second_i = i >= NEXT_DAY, second_j = j >= NEXT_DAY;
  double vi = (pulls[i].spark_deg - 30) / 5, vj = (pulls[j].spark_deg - 30) / 5, sum = 0;
  double wider =
             second_i && second_j ? 1 + 0.15 * 0.15 : 1, /* what carries over, a morning later */
      weather = second_i && second_j ? 1 + 0.4 * 0.4 : 1;
  for (int k = 0; k < 3; k++)
    sum += wider * spark_sd[k] * spark_sd[k] * pow(vi * vj, k + 1);
  for (int k = 0; k < EW_DAY_COVARIATES; k++)
    sum += weather * effect_sd[k] * effect_sd[k] * strayed(i, k) * strayed(j, k);
  if (second_i != second_j)
    return sum;
  sum += 100 * 100 + 0.15 * 0.15 * run_before[i] * run_before[j];
  sum += 0.4 * 0.4 * exp(-(since_rest[i] + since_rest[j]) / 2.5);
  if (pulls[i].setup == pulls[j].setup && pulls[i].setup)
    sum += 2 * 2;
  for (int step = (second_i ? NEXT_DAY : 0) + 1; step <= MIN(i, j); step++)
    sum += g.q * g.q + (pulls[step].rested ? g.J * g.J : 0);
  return sum;
}

static int wrong_one = -1; /* scatters by 5 s more */

/* Covariance of what two pulls scatter by: it fades from one to the next, and ends overnight and at a stop. */
static double noise_between(int i, int j, struct point g) {
  double sum = g.s * g.s;
  for (int step = MIN(i, j) + 1; step <= MAX(i, j); step++)
    sum *= step == NEXT_DAY || pulls[step].rested ? 0 : g.memory;
  return sum + (i == j && i == wrong_one ? 25 * g.s * g.s : 0);
}

/* y of pull n given all before it: mean and variance. */
static void foretell(int n, struct point g, double *mean, double *variance) {
  gsl_matrix *c = gsl_matrix_alloc((size_t)n, (size_t)n);
  gsl_vector *y = gsl_vector_alloc((size_t)n), *h = gsl_vector_alloc((size_t)n),
             *a = gsl_vector_alloc((size_t)n);
  for (int i = 0; i < n; i++) {
    double origin = pulls[i >= NEXT_DAY ? NEXT_DAY : 0].log_mean;
    for (int j = 0; j < n; j++)
      gsl_matrix_set(c, (size_t)i, (size_t)j, shared_of(i, j, g) + noise_between(i, j, g));
    gsl_vector_set(y, (size_t)i, 100 * (pulls[i].log_mean - origin) - mean_of(i));
    gsl_vector_set(h, (size_t)i, shared_of(i, n, g) + noise_between(i, n, g));
  }
  gsl_linalg_cholesky_decomp1(c);
  *mean = mean_of(n), *variance = shared_of(n, n, g) + noise_between(n, n, g);
  gsl_linalg_cholesky_solve(c, h, a);
  for (size_t i = 0; i < (size_t)n; i++) {
    *mean += gsl_vector_get(a, i) * gsl_vector_get(y, i);
    *variance -= gsl_vector_get(a, i) * gsl_vector_get(h, i);
  }
  gsl_matrix_free(c);
  gsl_vector_free(y), gsl_vector_free(h), gsl_vector_free(a);
}

/* Set-up 1 of the second day less set-up 0: from the foretellings of two pulls alike but for the set-up, it can not
 * be read without noise; so by conditioning the set-up's own prior. */
static void difference(struct point g, double *mean, double *variance) {
  gsl_matrix *c = gsl_matrix_alloc(PULLS, PULLS);
  gsl_vector *y = gsl_vector_alloc(PULLS), *h = gsl_vector_alloc(PULLS),
             *a = gsl_vector_alloc(PULLS);
  for (int i = 0; i < PULLS; i++) {
    double origin = pulls[i >= NEXT_DAY ? NEXT_DAY : 0].log_mean;
    for (int j = 0; j < PULLS; j++)
      gsl_matrix_set(c, (size_t)i, (size_t)j, shared_of(i, j, g) + noise_between(i, j, g));
    gsl_vector_set(y, (size_t)i, 100 * (pulls[i].log_mean - origin) - mean_of(i));
    gsl_vector_set(h, (size_t)i, i >= NEXT_DAY && pulls[i].setup == 1 ? 4 : 0);
  }
  gsl_linalg_cholesky_decomp1(c);
  gsl_linalg_cholesky_solve(c, h, a);
  *mean = 0, *variance = 4;
  for (size_t i = 0; i < PULLS; i++) {
    *mean += gsl_vector_get(a, i) * gsl_vector_get(y, i);
    *variance -= gsl_vector_get(a, i) * gsl_vector_get(h, i);
  }
  gsl_matrix_free(c);
  gsl_vector_free(y), gsl_vector_free(h), gsl_vector_free(a);
}

static struct ew_day_model *told(const double *only) {
  struct ew_day_model *m = ew_day_model_new(&(struct ew_day_options){.only = only});
  for (int i = 0; i < PULLS; i++)
    assert_true(ew_day_model_add(m, &pulls[i]));
  return m;
}

static double dense_evidence(struct point g) {
  double sum = 0;
  for (int i = 1; i < PULLS; i++) {
    double mean, variance;
    if (i == NEXT_DAY)
      continue;
    foretell(i, g, &mean, &variance);
    double error = 100 * (pulls[i].log_mean - pulls[i >= NEXT_DAY ? NEXT_DAY : 0].log_mean) - mean;
    sum -= (log(2 * M_PI * variance) + error * error / variance) / 2;
  }
  return sum;
}

static const struct point points[] = {
    {0.16, 0, 0.06, 0}, {0.34, 0.06, 0.2, 0.35}, {0.72, 0.12, 0.4, 0.8}, {0.2, 0.03, 0, -0.3}};

static void given_a_point_it_is_exact(void **state) {
  (void)state;
  fill();
  for (size_t k = 0; k < G_N_ELEMENTS(points); k++) {
    const double only[] = {points[k].s, points[k].q, points[k].J, points[k].memory};
    g_autoptr(ew_day_model) m = told(only);
    double mean, variance;
    difference(points[k], &mean, &variance);
    struct ew_day_belief b = ew_day_model_believe(m, 0, 1);
    /* 100² of level beside 0.16²: 5 digits of 16 are lost in either computation */
    assert_near(100 * b.mean, mean, 1e-7);
    assert_near(100 * b.sd, sqrt(variance), 1e-7);
    assert_near(ew_day_model_evidence(m), dense_evidence(points[k]), 1e-5);
    assert_near(ew_day_model_below(m, 0, 1, 0.001),
                gsl_cdf_ugaussian_P((0.1 - mean) / sqrt(variance)), 1e-7);
    assert_near(ew_day_model_below(m, 0, 1, ew_day_model_quantile(m, 0, 1, 0.3)), 0.3, 1e-9);
    assert_near(ew_day_model_below(m, 1, 0, -0.001), 1 - ew_day_model_below(m, 0, 1, 0.001), 1e-9);
  }
}

/* The mixture: each point's evidence times its prior. */
static void over_the_grid(void **state) {
  (void)state;
  static const double s[] = {0.16, 0.206, 0.264, 0.34, 0.436, 0.56, 0.72, 0.93},
                      q[] = {0, 0.03, 0.06, 0.12}, wq[] = {0.2, 0.3, 0.35, 0.15},
                      J[] = {0.06, 0.2, 0.4}, memory[] = {0, 0.4}, wm[] = {0.6, 0.4};
  double whole = 0, below = 0, first = NAN;
  fill();
  for (int a = 0; a < 8; a++)
    for (int b = 0; b < 4; b++)
      for (int c = 0; c < 6; c++) {
        double mean, variance, zs = log(s[a] / 0.3) / 0.4, zJ = log(J[c / 2] / 0.2) / 0.7;
        struct point g = {s[a], q[b], J[c / 2], memory[c % 2]};
        double evidence = dense_evidence(g);
        if (isnan(first))
          first = evidence;
        difference(g, &mean, &variance);
        double weight = wq[b] * wm[c % 2] * exp(-(zs * zs + zJ * zJ) / 2 + evidence - first);
        whole += weight;
        below += weight * gsl_cdf_ugaussian_P(-mean / sqrt(variance));
      }
  g_autoptr(ew_day_model) m = told(NULL);
  assert_near(ew_day_model_below(m, 0, 1, 0), below / whole, 1e-6);
}

/* Log density of the second day's pulls given the first day. */
static double second_day(struct point g) {
  double sum = 0;
  for (int i = NEXT_DAY; i < PULLS; i++) {
    double mean, variance;
    foretell(i, g, &mean, &variance);
    double error = 100 * (pulls[i].log_mean - pulls[NEXT_DAY].log_mean) - mean;
    sum -= (log(2 * M_PI * variance) + error * error / variance) / 2;
  }
  return sum;
}

/* One of today's pulls may be wrong: each of these explanations computed by itself, and weighed. `spoiled`: a pull that is off by 3 %. */
static void one_may_be_wrong(void **state) {
  (void)state;
  for (size_t k = 0; k < G_N_ELEMENTS(points); k++)
    for (int spoiled = NEXT_DAY - 1; spoiled < PULLS; spoiled += 5) {
      fill();
      if (spoiled >= NEXT_DAY)
        pulls[spoiled].log_mean -= 0.03;
      const double only[] = {points[k].s, points[k].q, points[k].J, points[k].memory};
      g_autoptr(ew_day_model) before = ew_day_model_new(&(struct ew_day_options){.only = only});
      for (int i = 0; i < NEXT_DAY; i++)
        assert_true(ew_day_model_add(before, &pulls[i]));
      g_autoptr(ew_day_answer) answer =
          ew_day_answer_new(before, pulls + NEXT_DAY, PULLS - NEXT_DAY);
      double weight[PULLS + 1], sum = 0, below = 0, mean_of_all = 0, none = second_day(points[k]);
      for (int i = NEXT_DAY; i <= PULLS; i++) { /* PULLS: none is */
        double mean, variance;
        wrong_one = i < PULLS ? i : -1;
        weight[i] = (i < PULLS ? 0.02 / 0.98 : 1) * exp(second_day(points[k]) - none);
        difference(points[k], &mean, &variance);
        sum += weight[i], mean_of_all += weight[i] * mean;
        below += weight[i] * gsl_cdf_ugaussian_P((0.1 - mean) / sqrt(variance));
      }
      wrong_one = -1;
      assert_near(ew_day_answer_below(answer, 0.001), below / sum, 1e-6);
      assert_near(100 * ew_day_answer_believe(answer).mean, mean_of_all / sum, 1e-5);
      for (int i = NEXT_DAY; i < PULLS; i++)
        assert_near(ew_day_answer_wrong(answer, (gsize)(i - NEXT_DAY)), weight[i] / sum, 1e-5);
      assert_near(ew_day_answer_below(answer, ew_day_answer_quantile(answer, 0.3)), 0.3, 1e-9);
    }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(given_a_point_it_is_exact),
                                     cmocka_unit_test(over_the_grid),
                                     cmocka_unit_test(one_may_be_wrong)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
