/* The pipe kernel against exact solutions.
 *
 * Sod 1978 and the five tests of Toro, Riemann Solvers and Numerical Methods for Fluid Dynamics, table
 * 4.1; L1 error of Sod's density at 400 cells against the figure 1.17e-3 of a public reference code of
 * the same order; conservation, rest with area change, and equality of all vector levels, of both
 * layouts, and (to rounding) of a textbook scalar version. */
#include "../../bench/textbook_pipes.h"
#include "in_use.h"
#include "exact_riemann.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>

static const char *const levels[] = {"base", "avx2", "avx512", "neon"};
static const struct ew_pipe_physics inviscid = {0, 0}, full = {1, 1};

/* Largest stable step of all lanes; the same for all. */
static double common_step(const struct ew_kernel *k, struct ew_pipes *p, double cfl, double *step) {
  double rate[EW_LANES], most = 0;
  k->primitives(p, rate);
  for (int l = 0; l < EW_LANES; l++)
    most = fmax(most, rate[l]);
  for (int l = 0; l < EW_LANES; l++)
    step[l] = cfl / most;
  return cfl / most;
}

static void advance(const struct ew_kernel *k, struct ew_pipes *p, const double *step, int closed,
                    const struct ew_pipe_physics *physics) {
  ew_pipes_fill_ghosts(p);
  k->predict(p, step);
  k->riemann(p);
  for (int i = 0; i < p->pipes; i++)
    for (int end = 0; end < 2; end++)
      if (closed)
        ew_pipes_close(p, i, end);
      else
        ew_pipes_let_through(p, i, end);
  k->update(p, step, physics);
}

static struct ew_pipes *shock_tube(int stride, int cells, const struct ew_working_gas *gas,
                                   const struct riemann *x, double middle) {
  struct ew_pipes *p = ew_pipes_new(stride, 1, &cells);
  double *d = g_new(double, cells + 1);
  for (int i = 0; i <= cells; i++)
    d[i] = sqrt(4 / G_PI);
  for (int l = 0; l < stride; l++) {
    ew_pipes_set_gas(p, l, gas);
    ew_pipes_shape(p, 0, l, 1, d, 0, NULL, NULL);
    for (int i = 0; i < cells; i++) {
      int left = (i + 0.5) / cells < middle;
      struct riemann_state s = left ? x->l : x->r;
      ew_pipes_set_state(p, 0, i, l, gas, s.p, s.p / (s.rho * gas->gas_constant_j_kg_k[0]), s.u,
                         left ? 1 : 0, left ? 0 : 0.1);
    }
  }
  g_free(d);
  return p;
}

static void run_to(const struct ew_kernel *k, struct ew_pipes *p, double end, double cfl) {
  double t = 0, step[EW_LANES];
  for (int n = 0; t < end * (1 - 1e-12) && n < 100000; n++) {
    double dt = common_step(k, p, n < 5 ? 0.2 * cfl : cfl, step);
    if (t + dt > end)
      for (int l = 0; l < EW_LANES; l++)
        step[l] = dt = end - t;
    advance(k, p, step, 0, &inviscid);
    t += dt;
  }
  common_step(k, p, cfl, step);
}

static double density_error(const struct ew_pipes *p, const struct riemann *x, double middle,
                            double t) {
  double sum = 0;
  int n = p->count[0];
  for (int i = 0; i < n; i++) {
    double mean = 0; /* cell mean of the exact solution */
    for (int k = 0; k < 20; k++)
      mean += riemann_at(x, ((i + (k + 0.5) / 20) / n - middle) / t).rho / 20;
    sum += fabs(p->primitive[EW_DENSITY][ew_pipes_element(p, 0, i, 0)] - mean) / n;
  }
  return sum;
}

static const struct {
  const char *says;
  struct riemann_state l, r;
  double middle, time, star_p, star_u,
      l1; /* l1: bound of the density error at 400 cells, relative */
} toro[] = {
    {"1 Sod", {1, 0, 1}, {0.125, 0, 0.1}, 0.5, 0.25, 0.30313018, 0.92745262, 1.17e-3},
    {"1 with sonic point", {1, 0.75, 1}, {0.125, 0, 0.1}, 0.3, 0.2, 0.46629357, 1.3609055, 4e-3},
    {"2 123 problem", {1, -2, 0.4}, {1, 2, 0.4}, 0.5, 0.15, 0.0018938734, 0, 8e-3},
    {"3 left blast", {1, 0, 1000}, {1, 0, 0.01}, 0.5, 0.012, 460.89379, 19.597451, 4e-2},
    {"4 right blast", {1, 0, 0.01}, {1, 0, 100}, 0.4, 0.035, 46.095044, -6.1963282, 4e-2},
    {"5 collision",
     {5.99924, 19.5975, 460.894},
     {5.99242, -6.19633, 46.0950},
     0.4,
     0.035,
     1691.647,
     8.6897744,
     0.2},
};

static void toros_tests(void **state) {
  (void)state;
  struct ew_working_gas gas;
  ew_working_gas_make_perfect(1.4, 1, &gas);
  const struct ew_kernel *k = kernel_in_use();
  for (gsize i = 0; i < G_N_ELEMENTS(toro); i++) {
    struct riemann x = riemann_solve(toro[i].l, toro[i].r, 1.4);
    assert_true(fabs(x.p / toro[i].star_p - 1) < 1e-6);
    assert_true(fabs(x.u - toro[i].star_u) < 2e-6 * (1 + fabs(x.u)));
    struct ew_pipes *p = shock_tube(1, 400, &gas, &x, toro[i].middle);
    run_to(k, p, toro[i].time, 0.8);
    double error = density_error(p, &x, toro[i].middle, toro[i].time);
    print_message("%-20s density L1 %.3e\n", toro[i].says, error);
    if (!(error < toro[i].l1))
      fail_msg("%s: L1 %g", toro[i].says, error);
    for (int c = 0; c < 400; c++) {
      gsize e = ew_pipes_element(p, 0, c, 0);
      assert_true(p->primitive[EW_DENSITY][e] > 0 && p->primitive[EW_PRESSURE][e] > 0);
      assert_true(p->primitive[EW_SHARE_BURNED][e] > -1e-12);
      assert_true(p->primitive[EW_SHARE_BURNED][e] < 1 + 1e-12);
    }
    ew_pipes_free(p);
  }
}

static void sod_converges(void **state) {
  (void)state;
  struct ew_working_gas gas;
  ew_working_gas_make_perfect(1.4, 1, &gas);
  struct riemann x = riemann_solve(toro[0].l, toro[0].r, 1.4);
  double error[3];
  for (int i = 0; i < 3; i++) {
    struct ew_pipes *p = shock_tube(1, 200 << i, &gas, &x, 0.5);
    run_to(kernel_in_use(), p, 0.25, 0.8);
    error[i] = density_error(p, &x, 0.5, 0.25);
    ew_pipes_free(p);
  }
  double order = log2(error[0] / error[2]) / 2;
  print_message("Sod L1 200/400/800: %.3e %.3e %.3e, order %.2f\n", error[0], error[1], error[2],
                order);
  assert_true(order > 0.6);
}

/* A smooth entropy wave carried by a steady stream: the scheme is of second order there. */
static double entropy_wave(int cells) {
  struct ew_working_gas gas;
  ew_working_gas_make_perfect(1.4, 287, &gas);
  struct ew_pipes *p = ew_pipes_new(1, 1, &cells);
  double *d = g_new(double, cells + 1), sum = 0, t_end = 0.3 / 100;
  for (int i = 0; i <= cells; i++)
    d[i] = 0.04;
  ew_pipes_set_gas(p, 0, &gas);
  ew_pipes_shape(p, 0, 0, 1, d, 0, NULL, NULL);
  for (int i = 0; i < cells; i++) {
    double s = ((i + 0.5) / cells - 0.35) / 0.08;
    ew_pipes_set_state(p, 0, i, 0, &gas, 1e5, 300 / (1 + 0.2 * exp(-s * s)), 100, 0, 0);
  }
  run_to(kernel_in_use(), p, t_end, 0.8);
  for (int i = 0; i < cells; i++) {
    double s = ((i + 0.5) / cells - 0.65) / 0.08, rho = 1e5 / 287 / 300 * (1 + 0.2 * exp(-s * s));
    sum += fabs(p->primitive[EW_DENSITY][ew_pipes_element(p, 0, i, 0)] - rho) / cells;
  }
  ew_pipes_free(p);
  g_free(d);
  return sum;
}

static void second_order_where_smooth(void **state) {
  (void)state;
  double a = entropy_wave(100), b = entropy_wave(200), c = entropy_wave(400);
  print_message("entropy wave L1 100/200/400: %.3e %.3e %.3e, order %.2f\n", a, b, c, log2(b / c));
  assert_true(log2(b / c) > 1.7);
}

/* Three pipes of uneven bore and wild, seeded state with real gas. */
static struct ew_pipes *wild(int stride, const struct ew_working_gas *gas) {
  static const int count[] = {7, 12, 31};
  struct ew_pipes *p = ew_pipes_new(stride, 3, count);
  for (int l = 0; l < stride; l++) {
    g_autoptr(GRand) rand = g_rand_new_with_seed(42);
    ew_pipes_set_gas(p, l, gas);
    for (int i = 0; i < 3; i++) {
      double d[40], wall[40];
      for (int c = 0; c <= count[i]; c++) {
        d[c] = 0.04 + 0.004 * sin(c);
        wall[c] = 400;
      }
      ew_pipes_shape(p, i, l, 0.02 * count[i], d, 0.5, wall, NULL);
      for (int c = 0; c < count[i]; c++)
        ew_pipes_set_state(p, i, c, l, gas, g_rand_double_range(rand, 0.7e5, 2e5),
                           g_rand_double_range(rand, 280, 1200),
                           g_rand_double_range(rand, -100, 100), g_rand_double_range(rand, 0, 0.9),
                           g_rand_double_range(rand, 0, 0.1));
    }
  }
  return p;
}

static struct ew_working_gas petrol_gas(void) {
  struct ew_working_gas gas;
  assert_true(ew_working_gas_make(ew_combustible_find("petrol"), 1.1, 0.01, &gas, NULL));
  return gas;
}

static void closed_pipes_conserve(void **state) {
  (void)state;
  struct ew_working_gas gas = petrol_gas();
  for (int stride = 1; stride <= EW_LANES; stride += EW_LANES - 1) {
    struct ew_pipes *p = wild(stride, &gas);
    double before[EW_CONSERVED], step[EW_LANES], scale = 0;
    for (int k = 0; k < EW_CONSERVED; k++)
      before[k] = ew_pipes_total(p, p->conserved[k], 0);
    for (gsize e = 0; e < p->elements; e++)
      scale += p->live[e] ? fabs(p->conserved[EW_ENERGY][e]) / stride : 0;
    for (int n = 0; n < 500; n++) {
      common_step(kernel_in_use(), p, 0.85, step);
      advance(kernel_in_use(), p, step, 1, &full);
    }
    static const enum ew_conserved kept[] = {EW_MASS, EW_BURNED, EW_FUEL};
    for (int k = 0; k < 3; k++)
      assert_true(fabs(ew_pipes_total(p, p->conserved[kept[k]], 0) / before[kept[k]] - 1) < 1e-13);
    double heat = ew_pipes_total(p, p->heat_j, 0);
    assert_true(fabs(heat) > 1);
    double energy = ew_pipes_total(p, p->conserved[EW_ENERGY], 0);
    assert_true(fabs(energy - heat - before[EW_ENERGY]) < 1e-13 * scale);
    ew_pipes_free(p);
  }
}

static void rest_stays_at_rest(void **state) {
  (void)state;
  struct ew_working_gas gas = petrol_gas();
  int cells = 40;
  struct ew_pipes *p = ew_pipes_new(1, 1, &cells);
  double d[41], step[EW_LANES];
  for (int i = 0; i <= cells; i++)
    d[i] = i < 20 ? 0.03 : 0.06;
  ew_pipes_set_gas(p, 0, &gas);
  ew_pipes_shape(p, 0, 0, 1, d, 0, NULL, NULL);
  for (int i = 0; i < cells; i++)
    ew_pipes_set_state(p, 0, i, 0, &gas, 1e5, 300, 0, 0, 0.05);
  for (int n = 0; n < 300; n++) {
    common_step(kernel_in_use(), p, 0.85, step);
    advance(kernel_in_use(), p, step, 1, &full);
  }
  for (int i = 0; i < cells; i++)
    assert_true(fabs(p->primitive[EW_VELOCITY][ew_pipes_element(p, 0, i, 0)]) < 1e-11 * 340);
  ew_pipes_free(p);
}

static void levels_and_layouts_agree_to_the_bit(void **state) {
  (void)state;
  struct ew_working_gas gas = petrol_gas();
  struct ew_pipes *reference = NULL;
  for (gsize i = 0; i < G_N_ELEMENTS(levels); i++) {
    const struct ew_kernel *k = ew_kernel_named(levels[i]);
    for (int stride = 1; k && stride <= EW_LANES; stride += EW_LANES - 1) {
      struct ew_pipes *p = wild(stride, &gas);
      double step[EW_LANES];
      for (int n = 0; n < 200; n++) {
        common_step(k, p, 0.85, step);
        advance(k, p, step, 1, &full);
      }
      if (!reference) {
        reference = p;
        continue;
      }
      for (int c = 0; c < 3; c++)
        for (int j = 0; j < p->count[c]; j++)
          for (int l = 0; l < stride; l++)
            for (int q = 0; q < EW_CONSERVED; q++) {
              double a = reference->conserved[q][ew_pipes_element(reference, c, j, 0)];
              double b = p->conserved[q][ew_pipes_element(p, c, j, l)];
              if (memcmp(&a, &b, sizeof a) != 0)
                fail_msg("%s stride %d: %.17g %.17g", k->name, stride, a, b);
            }
      ew_pipes_free(p);
    }
  }
  ew_pipes_free(reference);
}

static void textbook_gives_the_same(void **state) {
  (void)state;
  struct ew_working_gas gas = petrol_gas();
  int cells = 60;
  double d[61], wall[60], step[EW_LANES];
  for (int i = 0; i <= cells; i++)
    d[i] = 0.04 - 0.0001 * i;
  for (int i = 0; i < cells; i++)
    wall[i] = 500;
  struct ew_pipes *p = ew_pipes_new(1, 1, &cells);
  ew_pipes_set_gas(p, 0, &gas);
  ew_pipes_shape(p, 0, 0, 1, d, 0, wall, NULL);
  struct textbook_pipe *t = textbook_pipe_new(cells, 1, d, 500);
  for (int i = 0; i < cells; i++) {
    double s = (i - 30) / 8.0, pressure = 1e5 * (1 + exp(-s * s)), k = 400 + 5 * i, y = i / 100.0;
    ew_pipes_set_state(p, 0, i, 0, &gas, pressure, k, 20, y, 0.02);
    textbook_set(t, i, &gas, pressure, k, 20, y, 0.02);
  }
  for (int n = 0; n < 100; n++) {
    double dt = common_step(kernel_in_use(), p, 0.85, step);
    double rate = textbook_primitives(t, &gas);
    assert_true(fabs(dt * rate / 0.85 - 1) < 1e-6);
    advance(kernel_in_use(), p, step, 0, &full);
    textbook_step(t, &gas, dt, 1, 1);
  }
  for (int i = 0; i < cells; i++)
    for (int k = 0; k < 5; k++) {
      double a = t->cell[i + 1].amount[k], b = p->conserved[k][ew_pipes_element(p, 0, i, 0)];
      assert_true(fabs(a - b) < 1e-6 * (fabs(a) + 1e-6));
    }
  ew_pipes_free(p);
  textbook_pipe_free(t);
}

static void own_logarithm_and_exponential(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(levels); i++) {
    const struct ew_kernel *k = ew_kernel_named(levels[i]);
    double x[8], y[8], z[8];
    for (int n = 0; k && n < 2000; n++) {
      for (int j = 0; j < 8; j++)
        x[j] = exp(-20 + 40 * (n * 8 + j) / 16000.0);
      k->logarithm(x, y, 8);
      k->exponential(y, z, 8);
      for (int j = 0; j < 8; j++) {
        assert_true(fabs(y[j] - log(x[j])) <= 4e-16 + 4e-16 * fabs(log(x[j])));
        assert_true(fabs(z[j] / exp(y[j]) - 1) < 4e-15);
      }
    }
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(toros_tests),
      cmocka_unit_test(sod_converges),
      cmocka_unit_test(second_order_where_smooth),
      cmocka_unit_test(closed_pipes_conserve),
      cmocka_unit_test(rest_stays_at_rest),
      cmocka_unit_test(levels_and_layouts_agree_to_the_bit),
      cmocka_unit_test(textbook_gives_the_same),
      cmocka_unit_test(own_logarithm_and_exponential),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
