/* Speed of the cycle simulation, each figure with its error beside it, all ratios within one run.
 *
 * Pipe kernel: area, friction, heat, two transported scalars, composition- and temperature-dependent
 * heat capacity, on sixteen pipes of twenty cells, against a textbook scalar version of the same
 * method; the error is Sod's density in L1 at 400 cells, and the largest relative difference between
 * the two answers.
 *
 * Whole engines: wall time, and CPU time for each core, which other work on the machine does not
 * stretch; the best of three. Exit code 1 when a limit is missed; --quick does less. */
#include "../reference/cycle/exact_riemann.h"
#include "../reference/cycle/engines.h"
#include "../reference/cycle/in_use.h"
#include "textbook_pipes.h"
#include <stdio.h>
#include <time.h>

#define PIPES         16
#define CELLS         20
#define LIMIT_ONE     4.0     /* pipe kernel against textbook, one engine */
#define LIMIT_LANES   6.0     /* the same, in lanes */
#define LIMIT_SOD     1.17e-3 /* L1 of density, 400 cells */
#define LIMIT_40_MM_S 1.5     /* eight cylinders, 20 speeds, a core */
#define LIMIT_10_MM_S 8.0

static int steps = 2000, missed;

static const char *judged(int good) {
  missed += !good;
  return good ? "" : "  LIMIT MISSED";
}

static double diameter[CELLS + 1], wall[CELLS];

static void start(int pipe, int cell, double *p, double *t, double *u, double *y) {
  double s = sin(0.7 * pipe + 0.4 * cell);
  *p = 1e5 * (1 + 0.05 * s);
  *t = 400 + 100 * s;
  *u = 20 * s;
  *y = 0.5 + 0.4 * s;
}

static double best(double a, double b) {
  return b < a ? b : a;
}

static double textbook_ns(const struct ew_working_gas *gas, double dt,
                          struct textbook_pipe **pipe) {
  for (int i = 0; i < PIPES; i++) {
    pipe[i] = textbook_pipe_new(CELLS, 0.8, diameter, 500);
    for (int c = 0; c < CELLS; c++) {
      double p, t, u, y;
      start(i, c, &p, &t, &u, &y);
      textbook_set(pipe[i], c, gas, p, t, u, y, 0.02);
    }
  }
  gint64 began = g_get_monotonic_time();
  for (int n = 0; n < steps; n++)
    for (int i = 0; i < PIPES; i++) {
      textbook_primitives(pipe[i], gas);
      textbook_step(pipe[i], gas, dt, 1, 1);
    }
  return 1e3 * (g_get_monotonic_time() - began) / ((double)steps * PIPES * CELLS);
}

static struct ew_pipes *kernel_start(int stride, const struct ew_working_gas *gas) {
  int count[PIPES];
  for (int i = 0; i < PIPES; i++)
    count[i] = CELLS;
  struct ew_pipes *f = ew_pipes_new(stride, PIPES, count);
  for (int l = 0; l < stride; l++) {
    ew_pipes_set_gas(f, l, gas);
    for (int i = 0; i < PIPES; i++) {
      ew_pipes_shape(f, i, l, 0.8, diameter, 0, wall, NULL);
      for (int c = 0; c < CELLS; c++) {
        double p, t, u, y;
        start(i, c, &p, &t, &u, &y);
        ew_pipes_set_state(f, i, c, l, gas, p, t, u, y, 0.02);
      }
    }
  }
  return f;
}

static double kernel_ns(const struct ew_kernel *k, struct ew_pipes *f, double dt) {
  static const struct ew_pipe_physics full = {1, 1};
  double step[EW_LANES], rate[EW_LANES];
  for (int l = 0; l < EW_LANES; l++)
    step[l] = dt;
  gint64 began = g_get_monotonic_time();
  for (int n = 0; n < steps; n++) {
    k->primitives(f, rate);
    ew_pipes_fill_ghosts(f);
    k->predict(f, step);
    k->riemann(f);
    for (int i = 0; i < PIPES; i++) {
      ew_pipes_let_through(f, i, 0);
      ew_pipes_let_through(f, i, 1);
    }
    k->update(f, step, &full);
  }
  return 1e3 * (g_get_monotonic_time() - began) / ((double)steps * PIPES * CELLS * f->stride);
}

/* Where the time of the kernel goes. */
static void kernel_parts(const struct ew_kernel *k, struct ew_pipes *f, double dt) {
  static const struct ew_pipe_physics full = {1, 1};
  static const char *const names[] = {"primitives", "ghosts", "slopes and predictor",
                                      "HLLC",       "ends",   "update"};
  double step[EW_LANES], rate[EW_LANES];
  gint64 spent[6] = {0};
  for (int l = 0; l < EW_LANES; l++)
    step[l] = dt;
  for (int n = 0; n < steps; n++)
    for (int part = 0; part < 6; part++) {
      gint64 began = g_get_monotonic_time();
      for (int again = 0; again < (part == 5 ? 1 : 10); again++)
        switch (part) {
        case 0: k->primitives(f, rate); break;
        case 1: ew_pipes_fill_ghosts(f); break;
        case 2: k->predict(f, step); break;
        case 3: k->riemann(f); break;
        case 4:
          for (int i = 0; i < 2 * PIPES; i++)
            ew_pipes_let_through(f, i / 2, i % 2);
          break;
        default: k->update(f, step, &full);
        }
      spent[part] += (g_get_monotonic_time() - began) * (part == 5 ? 10 : 1);
    }
  for (int part = 0; part < 6; part++)
    printf("  %-22s %6.2f ns/cell\n", names[part],
           1e2 * spent[part] / ((double)steps * PIPES * CELLS * f->stride));
}

static double difference(const struct ew_pipes *f, struct textbook_pipe *const *pipe) {
  double worst = 0;
  for (int i = 0; i < PIPES; i++)
    for (int c = 0; c < CELLS; c++) {
      double a = pipe[i]->cell[c + 1].amount[0];
      double b = f->conserved[EW_MASS][ew_pipes_element(f, i, c, f->stride - 1)];
      worst = fmax(worst, fabs(b / a - 1));
    }
  return worst;
}

/* Exact mean density of a cell: what a finite volume holds. */
static double cell_mean(const struct riemann *x, int cell, int cells) {
  double sum = 0;
  for (int k = 0; k < 20; k++)
    sum += riemann_at(x, ((cell + (k + 0.5) / 20) / cells - 0.5) / 0.25).rho / 20;
  return sum;
}

static double sod_error(const struct ew_kernel *k) {
  struct riemann x =
      riemann_solve((struct riemann_state){1, 0, 1}, (struct riemann_state){0.125, 0, 0.1}, 1.4);
  struct ew_working_gas gas;
  ew_working_gas_make_perfect(1.4, 1, &gas);
  int n = 400;
  double d[401], t = 0, sum = 0;
  for (int i = 0; i <= n; i++)
    d[i] = 1;
  struct ew_pipes *p = ew_pipes_new(1, 1, &n);
  ew_pipes_set_gas(p, 0, &gas);
  ew_pipes_shape(p, 0, 0, 1, d, 0, NULL, NULL);
  for (int i = 0; i < n; i++)
    ew_pipes_set_state(p, 0, i, 0, &gas, i < 200 ? 1 : 0.1, i < 200 ? 1 : 0.8, 0, 0, 0);
  static const struct ew_pipe_physics none = {0, 0};
  for (int j = 0; t < 0.25 * (1 - 1e-12); j++) {
    double rate[EW_LANES], step[EW_LANES], most = 0;
    k->primitives(p, rate);
    for (int l = 0; l < EW_LANES; l++)
      most = fmax(most, rate[l]);
    double dt = fmin((j < 5 ? 0.16 : 0.8) / most, 0.25 - t);
    for (int l = 0; l < EW_LANES; l++)
      step[l] = dt;
    ew_pipes_fill_ghosts(p);
    k->predict(p, step);
    k->riemann(p);
    ew_pipes_let_through(p, 0, 0);
    ew_pipes_let_through(p, 0, 1);
    k->update(p, step, &none);
    t += dt;
  }
  double rate[EW_LANES];
  k->primitives(p, rate);
  for (int i = 0; i < n; i++)
    sum += fabs(p->primitive[EW_DENSITY][ew_pipes_element(p, 0, i, 0)] - cell_mean(&x, i, n)) / n;
  ew_pipes_free(p);
  return sum;
}

static void pipe_kernels(void) {
  struct ew_working_gas gas;
  if (!ew_working_gas_make(ew_combustible_find("petrol"), 1.1, 0.01, &gas, NULL))
    return;
  double dt = 0.8 * 0.04 / 700, textbook = 1e9;
  struct textbook_pipe *pipe[PIPES];
  static const char *const levels[] = {"base", "avx2", "avx512"};
  double ns[3][2], apart[3][2];
  for (int round = 0; round < 5; round++) {
    textbook = best(textbook, textbook_ns(&gas, dt, pipe));
    for (int i = 0; i < 3; i++) {
      const struct ew_kernel *k = ew_kernel_named(levels[i]);
      for (int lanes = 0; k && lanes < 2; lanes++) {
        struct ew_pipes *f = kernel_start(lanes ? EW_LANES : 1, &gas);
        double t = kernel_ns(k, f, dt);
        ns[i][lanes] = round ? best(ns[i][lanes], t) : t;
        apart[i][lanes] = difference(f, pipe);
        ew_pipes_free(f);
      }
    }
    for (int i = 0; i < PIPES; i++)
      textbook_pipe_free(pipe[i]);
  }
  printf("pipe kernel                    ns/cell   ratio   apart from textbook   Sod L1 at 400\n");
  printf("textbook scalar                %7.1f    1.00\n", textbook);
  for (int i = 0; i < 3; i++) {
    const struct ew_kernel *k = ew_kernel_named(levels[i]);
    for (int lanes = 0; k && lanes < 2; lanes++) {
      double ratio = textbook / ns[i][lanes], sod = sod_error(k);
      int best_level = k == kernel_in_use();
      int good = !best_level || (ratio >= (lanes ? LIMIT_LANES : LIMIT_ONE) && sod <= LIMIT_SOD);
      printf("%-8s %-20s  %7.1f  %6.2f   %.1e               %.3e%s\n", k->name,
             lanes ? "lanes of 8 runs" : "one engine", ns[i][lanes], ratio, apart[i][lanes], sod,
             judged(good));
    }
  }
}

static void parts(void) {
  struct ew_working_gas gas;
  if (!ew_working_gas_make(ew_combustible_find("petrol"), 1.1, 0.01, &gas, NULL))
    return;
  for (int stride = 1; stride <= EW_LANES; stride += EW_LANES - 1) {
    struct ew_pipes *f = kernel_start(stride, &gas);
    printf("parts of the pipe kernel, %s\n", stride == 1 ? "one engine" : "lanes");
    kernel_parts(kernel_in_use(), f, 0.8 * 0.04 / 700);
    ew_pipes_free(f);
  }
}

static struct engine engine;

static void build(int cylinders) {
  if (cylinders == 8)
    engine_eight(&engine, &engine_b);
  else if (cylinders == 4)
    engine_four(&engine, &engine_b);
  else
    engine_single(&engine, &engine_b);
}

/* A curve of n speeds from 1,500 to 7,500 rpm. */
static struct ew_cycle_effort curve(int cylinders, double cell_m, int n, int threads,
                                    struct ew_cycle_result *r, double *core_s) {
  double rpm[64];
  struct ew_cycle_options o;
  struct ew_cycle_effort effort;
  GError *error = NULL;
  ew_cycle_options_defaults(&o);
  o.cell_m = cell_m;
  o.threads = threads;
  build(cylinders);
  for (int i = 0; i < n; i++)
    rpm[i] = n > 1 ? 1500 + 6000.0 * i / (n - 1) : 8000;
  struct ew_cycle_effort quickest = {.wall_s = 1e9};
  double least = 1e9; /* of three: other work disturbs only upwards */
  for (int i = 0; i < 3; i++) {
    clock_t began = clock();
    if (!ew_cycle_predict(&engine.model, rpm, NULL, n, &o, r, &effort, &error))
      g_error("%s", error->message);
    least = fmin(least, (double)(clock() - began) / CLOCKS_PER_SEC / effort.threads);
    if (effort.wall_s < quickest.wall_s)
      quickest = effort;
  }
  if (core_s)
    *core_s = least;
  return quickest;
}

/* Seconds of eight engines per second of one core. */
static double lanes_at_8000(void) {
  double rpm[8], best_ratio = 0;
  struct ew_cycle_options o;
  struct ew_cycle_result r[8];
  struct ew_cycle_effort effort;
  ew_cycle_options_defaults(&o);
  o.cell_m = 0.04;
  o.threads = 1;
  build(8);
  for (int i = 0; i < 8; i++)
    rpm[i] = 8000 + i;
  for (int again = 0; again < 3; again++) {
    if (!ew_cycle_predict(&engine.model, rpm, NULL, 8, &o, r, &effort, NULL))
      return NAN;
    double real = 0;
    for (int i = 0; i < 8; i++)
      real += r[i].cycles * 120 / rpm[i];
    best_ratio = fmax(best_ratio, real / effort.wall_s);
  }
  return best_ratio;
}

static void engines(void) {
  static struct ew_cycle_result fine[20], r[64];
  double fine_s, core_s;
  struct ew_cycle_effort e = curve(8, 0.01, 20, 2, fine, &fine_s);
  printf("\neight cylinders, 20 speeds, converged, best spark, %s\n", e.simd);
  printf(
      "cells     wall s  threads  VE from 10 mm   audit mass, energy   cells/ends/cylinders %%\n");
  for (int i = 0; i < 4; i++) {
    double cell = i < 2 ? 0.04 : i < 3 ? 0.02 : 0.01, worst = 0, mass = 0, energy = 0;
    e = curve(8, cell, 20, i == 1 ? 1 : 2, r, &core_s);
    int settled = 0;
    for (int k = 0; k < 20; k++) {
      worst = fmax(worst, fabs(r[k].volumetric_efficiency / fine[k].volumetric_efficiency - 1));
      mass = fmax(mass, r[k].mass_residual);
      energy = fmax(energy, r[k].energy_residual);
      settled += r[k].converged;
    }
    double all = (e.cells_s + e.ends_s + e.cylinders_s) / 100;
    double limit = cell > 0.03 ? LIMIT_40_MM_S : cell < 0.015 ? LIMIT_10_MM_S : 1e9;
    int good = settled == 20 && mass < 1e-12 && energy < 1e-12 && (e.threads < 2 || core_s < limit);
    printf("%3.0f mm    %6.2f  %6.2f        %d        %.2f %%         %.0e, %.0e        "
           "%.0f/%.0f/%.0f  (%d of 20 converged)%s\n",
           1000 * cell, e.wall_s, core_s, e.threads, 100 * worst, mass, energy, e.cells_s / all,
           e.ends_s / all, e.cylinders_s / all, settled, judged(good));
  }
  e = curve(8, 0.04, 1, 1, r, NULL);
  printf("8,000 rpm, one core: a run alone %.1f times real time",
         r[0].cycles * 120 / 8000.0 / e.wall_s);
  double eight = lanes_at_8000();
  printf(", eight runs in lanes %.1f times real time\n", eight);
  printf("\ngrowth of cost (one thread, microseconds a run and step; 40 mm unless told)\n");
  static const int cylinders[] = {1, 4, 8}, speeds[] = {8, 16, 32, 64};
  for (int i = 0; i < 3; i++) {
    e = curve(cylinders[i], 0.04, 16, 1, r, NULL);
    printf("  %d cylinders: %.2f us (%d cells, %d ends)\n", cylinders[i], 1e6 * e.wall_s / e.steps,
           e.cells, e.ends);
  }
  for (int i = 0; i < 4; i++) {
    e = curve(4, 0.04, speeds[i], 1, r, NULL);
    printf("  %d speeds: %.3f s, %.2f us\n", speeds[i], e.wall_s, 1e6 * e.wall_s / e.steps);
  }
}

int main(int argc, char **argv) {
  int quick = argc > 1 && strcmp(argv[1], "--quick") == 0;
  steps = quick ? 400 : 2000;
  for (int i = 0; i <= CELLS; i++)
    diameter[i] = 0.04 + 0.0001 * i;
  for (int i = 0; i < CELLS; i++)
    wall[i] = 500;
  pipe_kernels();
  if (!quick) {
    parts();
    engines();
  }
  return missed > 0;
}
