/* The ends of a curve against curves that are known, with noise: the order and the width of the local regression
 * there are those with the least error of what was tried. The table in docs/methods.md, "Curves", is printed by this
 * test (EW_ENDS_TABLE=1; 200 draws a row; the test itself takes 40), and asserts what is said beside it.
 *
 * Error: root mean square over draws, in per cent of torque, at the last point of the curve. */
#include "pull/smooth.h"
#include "recording.h"
#include <stdio.h>
#include <stdlib.h>

#define H    400.0
#define LOW  2700.0
#define HIGH 7000.0

static double parabola(double n) {
  return 190 * (1 - pow((n - 4600) / 6500, 2));
}
static double steep(double n) {
  return 306 * (1 - pow((n - 5600) / 5200, 2) - 0.9 * pow(fmax((n - 6200) / 4000, 0), 1.5));
}
static double rising(double n) {
  return 180 + 60 / (1 + exp(-(n - 5200) / 500));
}
static double ripple(double n) {
  return 300 * (1 - pow((n - 5000) / 6000, 2) + 0.01 * sin(2 * G_PI * n / 900));
}
static double flat(double n) {
  return 300 + 0 * n;
}
static double breaks(double n) {
  return 300 * (1 - pow((n - 5200) / 6000, 2)) - 0.12 * fmax(n - 6800, 0);
}

static const struct {
  const char *says;
  double (*torque)(double);
} curves[] = {
    {"parabola", parabola},          {"falls steeply", steep}, {"rises to the end", rising},
    {"1 % ripple, 900 rpm", ripple}, {"flat", flat},           {"breaks 200 rpm before", breaks}};

static const struct {
  const char *says;
  double rate, hz, noise, rho;
} noises[] = {{"0.4 %, ρ 0.5, 300 rpm/s, 100 Hz", 300, 100, 0.004, 0.5},
              {"0.6 %, ρ 0.3, 600 rpm/s, 50 Hz", 600, 50, 0.006, 0.3},
              {"0.4 %, ρ 0.9, 300 rpm/s, 100 Hz", 300, 100, 0.004, 0.9}};

/* Local polynomial of order 1 or 2 at x0 with tricube weights of half-width h, written for itself. */
static double fit(const double *x, const double *y, gsize n, double x0, double h, int order) {
  double m[3][4] = {{0}};
  for (gsize i = 0; i < n; i++) {
    double u = (x[i] - x0) / h, power[5] = {1, u, u * u, u * u * u, u * u * u * u};
    double w = fabs(u) < 1 ? pow(1 - pow(fabs(u), 3), 3) : 0;
    for (int r = 0; r <= order; r++) {
      for (int c = 0; c <= order; c++)
        m[r][c] += w * power[r + c];
      m[r][3] += w * power[r] * y[i];
    }
  }
  for (int k = order; k > 0; k--) /* towards the constant: its row remains */
    for (int r = 0; r < k; r++) {
      double share = m[r][k] / m[k][k];
      for (int c = 0; c <= order; c++)
        m[r][c] -= share * m[k][c];
      m[r][3] -= share * m[k][3];
    }
  return m[0][3] / m[0][0];
}

enum { QUADRATIC, LINEAR, LINEAR_HALF, WIDER, DOUBLE, THIS, METHODS };
static const char *const methods[METHODS] = {"order 2, h",     "order 1, h",   "order 1, h/2",
                                             "order 2, 1.5 h", "order 2, 2 h", "the program"};

static double by_program(const double *x, const double *y, gsize n, double x0) {
  g_autofree double *l = g_new(double, n);
  double sum = 0;
  if (!ew_smooth_weights(x, n, x0, H, NULL, l))
    return NAN;
  for (gsize i = 0; i < n; i++)
    sum += l[i] * y[i];
  return sum;
}

static double normal(GRand *random) {
  double sum = -6;
  for (int i = 0; i < 12; i++)
    sum += g_rand_double(random);
  return sum; /* of variance 1 */
}

static void errors_of(gsize curve, gsize noise, int draws, double *rms) {
  g_autoptr(GRand) random = g_rand_new_with_seed(19);
  gsize n = (gsize)((HIGH - LOW) / noises[noise].rate * noises[noise].hz) + 1;
  g_autofree double *x = g_new(double, n), *y = g_new(double, n);
  double squares[METHODS] = {0}, rho = noises[noise].rho, end = curves[curve].torque(HIGH);
  for (int d = 0; d < draws; d++) {
    double z = normal(random);
    for (gsize i = 0; i < n; i++) {
      double speed = fmin(LOW + noises[noise].rate * (double)i / noises[noise].hz, HIGH);
      z = rho * z + sqrt(1 - rho * rho) * normal(random);
      x[i] = speed + normal(random);
      y[i] = curves[curve].torque(speed) * (1 + noises[noise].noise * z);
    }
    const double got[METHODS] = {fit(x, y, n, HIGH, H, 2),     fit(x, y, n, HIGH, H, 1),
                                 fit(x, y, n, HIGH, H / 2, 1), fit(x, y, n, HIGH, 1.5 * H, 2),
                                 fit(x, y, n, HIGH, 2 * H, 2), by_program(x, y, n, HIGH)};
    for (int m = 0; m < METHODS; m++)
      squares[m] += pow(100 * (got[m] / end - 1), 2);
  }
  for (int m = 0; m < METHODS; m++)
    rms[m] = sqrt(squares[m] / draws);
}

static void the_ends_have_the_least_error_of_what_was_tried(void **state) {
  (void)state;
  gboolean table = g_getenv("EW_ENDS_TABLE") != NULL;
  int draws = table ? 200 : 40;
  double total[METHODS] = {0}, worst[METHODS] = {0};
  for (gsize k = 0; k < G_N_ELEMENTS(noises); k++)
    for (gsize c = 0; c < G_N_ELEMENTS(curves); c++) {
      double rms[METHODS];
      errors_of(c, k, draws, rms);
      if (table)
        print_message("| %s | %s |", noises[k].says, curves[c].says);
      for (int m = 0; m < METHODS; m++) {
        total[m] += rms[m] * rms[m];
        worst[m] = fmax(worst[m], rms[m]);
        if (table)
          print_message(" %.2f |", rms[m]);
      }
      if (table)
        print_message("\n");
      /* the program's own weights are order 2 with half of what is cut off added: 1.5 h at the last sample */
      expect_near(rms[THIS], rms[WIDER], 0.03, curves[c].says);
    }
  for (int m = 0; m < METHODS; m++)
    total[m] = sqrt(total[m] / (G_N_ELEMENTS(noises) * G_N_ELEMENTS(curves)));
  for (int m = 0; m < METHODS; m++) {
    if (table)
      print_message("%s: all %.2f, worst %.2f\n", methods[m], total[m], worst[m]);
    /* order 1 of h/2 is its equal over all, within the noise of the draws; the others are worse */
    double room = m == LINEAR_HALF ? 1.1 : 0.95;
    if (m != THIS && m != WIDER)
      expect(total[THIS] < room * total[m], methods[m], "%.3f against %.3f %%", total[THIS],
             total[m]);
  }
}

/* The stated standard error of the last point is that which is seen, of a curve without detail finer than h. */
static void the_uncertainty_at_the_end_is_what_is_seen(void **state) {
  (void)state;
  struct facts *f = facts_new();
  f->method.standard = EW_STANDARD_NONE;
  double squares = 0, stated = 0;
  int draws = 60;
  for (int d = 0; d < draws; d++) {
    struct recording r = recording_new(TRUE);
    g_rand_set_seed(r.random, 100 + (guint32)d);
    r.noise_n_m = 1.5;
    sweep(&r, 2500, 6510, 300);
    struct ew_processed *p = process_text(r.text->str, f, "a noisy sweep");
    const struct ew_curve *c = curve_of(p, 0);
    gsize last = c->points - 1;
    expect_near(c->speed_rpm[last], 6500, 1, "the last point");
    squares += pow(c->torque_n_m[last] - true_torque_n_m(6500), 2);
    stated += pow(c->torque_se_n_m[last], 2);
    ew_processed_free(p);
    recording_clear(&r);
  }
  double ratio = sqrt(squares / stated); /* of 60: its own standard error is 9 % */
  expect(ratio > 0.7 && ratio < 1.3, "seen over stated", "%.2f", ratio);
  facts_free(f);
}

static void no_curve_where_nothing_was_measured(void **state) {
  (void)state;
  double x[200], l[200];
  guint8 use[200];
  for (int i = 0; i < 200; i++)
    x[i] = 3000 + 10 * i, use[i] = i < 100 || i >= 140; /* none from 4,000 to 4,400 rpm */
  assert_true(ew_smooth_weights(x, 200, 5030, H, use, l));
  assert_false(ew_smooth_weights(x, 200, 5040, H, use, l)); /* the last is at 4,990 */
  assert_false(ew_smooth_weights(x, 200, 2950, H, use, l));
  assert_false(ew_smooth_weights(x, 200, 4200, H, use, l)); /* 410 rpm apart */
  use[100] = use[139] = 1;
  assert_true(ew_smooth_weights(x, 200, 4200, H, use, l)); /* 390 rpm apart */
}

/* Rows of torque, power or what else, with what is to be found. */
static void the_highest_point(void **state) {
  (void)state;
  static const struct {
    const char *says;
    double values[9], se;
    gsize at;
    gboolean end;
  } rows[] = {
      {"in the middle", {1, 2, 3, 4, 5, 4, 3, 2, 1}, 0.01, 4, FALSE},
      {"a tail of noise is not the highest", {1, 2, 3, 4, 5, 4, 3, 4, 5.02}, 0.01, 4, FALSE},
      {"a tail clear of noise is, and lies at the end",
       {1, 2, 3, 4, 5, 4, 3, 4, 5.5},
       0.01,
       8,
       TRUE},
      {"still rising", {1, 2, 3, 4, 5, 6, 7, 7.01, 7.02}, 0.01, 8, TRUE},
      {"falls from the first", {9, 8, 7, 6, 5, 4, 3, 2, 1}, 0.01, 0, TRUE},
      {"a bump at the first", {5.02, 3, 4, 4.5, 5, 4, 3, 2, 1}, 0.01, 4, FALSE},
      {"NaN is not high", {NAN, 2, 3, NAN, 5, 4, 3, 2, NAN}, 0.01, 4, FALSE},
      {"no uncertainty: anything counts", {1, 2, 3, 4, 5, 4, 3, 4, 5.02}, NAN, 8, TRUE},
      {"nothing known", {NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN}, 0.01, 0, TRUE},
  };
  for (gsize k = 0; k < G_N_ELEMENTS(rows); k++) {
    double speed[9], se[9];
    for (int i = 0; i < 9; i++)
      speed[i] = 3000 + 100 * i, se[i] = rows[k].se;
    gboolean at_end;
    gsize at = ew_highest_point(speed, rows[k].values, se, 9, 200, &at_end);
    expect(at == rows[k].at, rows[k].says, "point %zu", at);
    if (k + 1 < G_N_ELEMENTS(rows))
      expect(at_end == rows[k].end, rows[k].says, "%d", at_end);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_ends_have_the_least_error_of_what_was_tried),
      cmocka_unit_test(the_uncertainty_at_the_end_is_what_is_seen),
      cmocka_unit_test(no_curve_where_nothing_was_measured), cmocka_unit_test(the_highest_point)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
