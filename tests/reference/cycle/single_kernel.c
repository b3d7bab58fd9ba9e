/* Pipe kernel in single precision: a shock tube against its exact solution (Sod, J. Comput. Phys. 27, 1978; Toro ch. 4), pipes of odd and even
 * length against double precision, and two cells a vector against one, bit for bit: that is the form of sixteen lanes, run here on whatever
 * vectors the processor has. */
#include "cycle/backend/kernel.h"
#include "cycle/backend/pipes_single.h"
#include "exact_riemann.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <string.h>

extern const struct ew_kernel
    ew_kernel_set_single_pair; /* single_kernel.c compiled again for this test */

#define CELLS 400

static struct ew_pipes *pipes_of(int pipes, const int *count, const struct ew_working_gas *gas) {
  struct ew_pipes *p = ew_pipes_new(EW_LANES, pipes, count);
  for (int l = 0; l < EW_LANES; l++)
    ew_pipes_set_gas(p, l, gas);
  return p;
}

static void free_pipes(struct ew_pipes *p) {
  ew_pipes_single_free(p->single);
  ew_pipes_free(p);
}

/* After all of it was shaped. */
static void in_single(struct ew_pipes *p) {
  p->single = ew_pipes_single_new(p);
  for (int l = 0; l < EW_LANES; l++)
    ew_pipes_single_take(p, l);
}

/* Closed ends of a pipe without waves at them: the pressure of the last cell, nothing else. */
static void close_ends(struct ew_pipes *p) {
  for (int i = 0; i < p->pipes; i++)
    for (int end = 0; end < 2; end++)
      for (int l = 0; l < EW_LANES; l++) {
        gsize cell = ew_pipes_element(p, i, end ? p->count[i] - 1 : 0, l);
        gsize face = end ? cell + EW_LANES : cell;
        for (int k = 0; k < EW_CONSERVED; k++)
          if (p->single)
            p->single->flux[k][face] = 0;
          else
            p->flux[k][face] = 0;
        if (p->single)
          p->single->flux[EW_MOMENTUM][face] =
              p->single->primitive[EW_PRESSURE][cell] * p->single->area_m2[face];
        else
          p->flux[EW_MOMENTUM][face] = p->primitive[EW_PRESSURE][cell] * p->area_m2[face];
      }
}

static void step(const struct ew_kernel *k, struct ew_pipes *p, double dt,
                 const struct ew_pipe_physics *physics) {
  double rate[EW_LANES], step_s[EW_LANES];
  for (int l = 0; l < EW_LANES; l++)
    step_s[l] = dt * (1 - 0.01 * l);
  k->primitives(p, rate);
  if (!k->single)
    ew_pipes_fill_ghosts(p);
  k->predict(p, step_s);
  k->riemann(p);
  close_ends(p);
  k->update(p, step_s, physics);
}

static double cell_mean(const struct riemann *x, int cell, double t) {
  double sum = 0;
  for (int k = 0; k < 20; k++)
    sum += riemann_at(x, ((cell + (k + 0.5) / 20) / CELLS - 0.5) / t).rho / 20;
  return sum;
}

static double sod_error(const struct ew_kernel *k) {
  struct riemann x =
      riemann_solve((struct riemann_state){1, 0, 1}, (struct riemann_state){0.125, 0, 0.1}, 1.4);
  static const struct ew_pipe_physics none = {0, 0};
  struct ew_working_gas gas;
  ew_working_gas_make_perfect(1.4, 1, &gas);
  int n = CELLS;
  double d[CELLS + 1], sum = 0, dt = 0.25 / 600, rate[EW_LANES];
  for (int i = 0; i <= n; i++)
    d[i] = 1;
  struct ew_pipes *p = pipes_of(1, &n, &gas);
  for (int l = 0; l < EW_LANES; l++) {
    ew_pipes_shape(p, 0, l, 1, d, 0, NULL, NULL);
    for (int i = 0; i < n; i++)
      ew_pipes_set_state(p, 0, i, l, &gas, i < n / 2 ? 1 : 0.1, i < n / 2 ? 1 : 0.8, 0, 0, 0);
  }
  if (k->single)
    in_single(p);
  for (int j = 0; j < 600; j++)
    step(k, p, dt, &none);
  k->primitives(p, rate);
  for (int i = 0; i < n; i++)
    sum += fabs(p->conserved[EW_MASS][ew_pipes_element(p, 0, i, 0)] /
                    p->volume_m3[ew_pipes_element(p, 0, i, 0)] -
                cell_mean(&x, i, 0.25)) /
           n;
  free_pipes(p);
  return sum;
}

static void a_shock_tube(void **state) {
  (void)state;
  double two = sod_error(ew_kernel_named("base")), one = sod_error(ew_kernel_named("single"));
  print_message("Sod, density in L1 at 400 cells: %.4e double, %.4e single\n", two, one);
  assert_true(one < 1.3e-3); /* 1.17e-3 is what double is held to by cycle_bench */
  assert_true(fabs(one / two - 1) < 0.01);
}

static const int counts[] = {2, 3, 7, 20, 33};
#define PIPES ((int)G_N_ELEMENTS(counts))

static struct ew_pipes *real_gas(void) {
  struct ew_working_gas gas;
  assert_true(ew_working_gas_make(ew_combustible_find("petrol"), 1.1, 0.01, &gas, NULL));
  struct ew_pipes *p = pipes_of(PIPES, counts, &gas);
  double d[40], wall[40];
  for (int i = 0; i < 40; i++) {
    d[i] = 0.04 + 0.0002 * i;
    wall[i] = 350 + 3 * i;
  }
  for (int l = 0; l < EW_LANES; l++)
    for (int i = 0; i < PIPES; i++) {
      ew_pipes_shape(p, i, l, 0.04 * counts[i], d, 0.4, wall, NULL);
      for (int c = 0; c < counts[i]; c++) {
        double s = sin(0.7 * i + 0.4 * c + 0.3 * l);
        ew_pipes_set_state(p, i, c, l, &gas, 1e5 * (1 + 0.2 * s), 400 + 100 * s, 40 * s,
                           0.5 + 0.4 * s, 0.02);
      }
    }
  return p;
}

static void run(const struct ew_kernel *k, struct ew_pipes *p) {
  static const struct ew_pipe_physics full = {1, 1};
  if (k->single)
    in_single(p);
  for (int j = 0; j < 300; j++)
    step(k, p, 0.5 * 0.04 / 700, &full);
}

/* Of the largest of its kind. */
static double apart(const double *a, const double *b, gsize n) {
  double worst = 0, largest = 0;
  for (gsize i = 0; i < n; i++) {
    worst = fmax(worst, fabs(a[i] - b[i]));
    largest = fmax(largest, fabs(b[i]));
    assert_false(isnan(a[i]));
  }
  return worst / largest;
}

static void pipes_against_double(void **state) {
  (void)state;
  struct ew_pipes *one = real_gas(), *two = real_gas();
  run(ew_kernel_named("single"), one);
  run(ew_kernel_named("base"), two);
  for (int k = 0; k < EW_CONSERVED; k++) {
    double off = apart(one->conserved[k], two->conserved[k], one->elements);
    print_message("amount %d: %.1e of the largest apart\n", k, off);
    assert_true(off < 1e-4);
  }
  for (int l = 0; l < EW_LANES; l++) { /* closed: what is added goes in pairs, in double */
    double kept = ew_pipes_total(one, one->conserved[EW_MASS], l);
    assert_true(fabs(kept / ew_pipes_total(two, two->conserved[EW_MASS], l) - 1) < 1e-7);
  }
  free_pipes(one);
  free_pipes(two);
}

static void two_cells_a_vector(void **state) {
  (void)state;
  struct ew_pipes *narrow = real_gas(), *wide = real_gas();
  assert_int_equal(ew_kernel_set_single_pair.doubles, 16);
  run(ew_kernel_named("single"), narrow);
  run(&ew_kernel_set_single_pair, wide);
  for (int i = 0; i < PIPES; i++)
    for (int k = 0; k < EW_CONSERVED; k++) {
      gsize from = ew_pipes_element(narrow, i, 0, 0);
      assert_memory_equal(narrow->conserved[k] + from, wide->conserved[k] + from,
                          sizeof(double) * EW_LANES * (size_t)counts[i]);
      assert_memory_equal(narrow->heat_j + from, wide->heat_j + from,
                          sizeof(double) * EW_LANES * (size_t)counts[i]);
    }
  double a[EW_LANES], b[EW_LANES];
  ew_kernel_named("single")->primitives(narrow, a);
  ew_kernel_set_single_pair.primitives(wide, b);
  assert_memory_equal(a, b, sizeof a);
  free_pipes(narrow);
  free_pipes(wide);
}

/* Errors as lane_math.h states them, against the C library's double. */
static void logarithm_and_exponential(void **state) {
  (void)state;
  const struct ew_kernel *k = ew_kernel_named("single");
  double x[16], y[16], worst[2] = {0, 0};
  for (int at = 0; at < 4000; at++) {
    for (int i = 0; i < 16; i++)
      x[i] = (float)(0.01 + 0.0017 * (16 * at + i));
    k->logarithm(x, y, 16);
    for (int i = 0; i < 16; i++)
      worst[0] = fmax(worst[0], fabs(y[i] - log(x[i])) / (1 + fabs(log(x[i]))));
    for (int i = 0; i < 16; i++)
      x[i] = (float)(-20 + 0.0005 * (16 * at + i));
    k->exponential(x, y, 16);
    for (int i = 0; i < 16; i++)
      worst[1] = fmax(worst[1], fabs(y[i] / exp(x[i]) - 1));
  }
  print_message("logarithm %.1e, exponential %.1e\n", worst[0], worst[1]);
  assert_true(worst[0] < 4e-7 && worst[1] < 4e-7);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_shock_tube), cmocka_unit_test(pipes_against_double),
      cmocka_unit_test(two_cells_a_vector), cmocka_unit_test(logarithm_and_exponential)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
