/* The cycle simulation on a device beside the processor, in one run: whether the bits are the same, and runs a second.
 *
 *   device_bench [--runs N] [--check N] [--processor N] [--engine four|eight] [--threads N] [--shard I/N] [--single N] [--profile N]
 *                [--lanes N]
 *
 * Designs are of our own invention: lengths, compression and cam of a test engine moved by their number. Exit code 1 when a bit
 * differs, 0 when the device is not here (said aloud). --shard takes every N-th design, for several devices: a process each. --single N: so many
 * runs in single precision, too, held against double: worst error of torque, and Spearman's correlation of ranks at each speed.
 * --profile N: so many runs with each kernel timed by the device. --lanes N: so many runs on the processor in single and in double precision,
 * first of all and without a device, held against each other likewise; exit code 1 where torque is off by more than 0.1 % or ranks agree by less than 0.99. */
#include "../reference/cycle/engines.h"
#include "cycle/backend/opencl.h"
#include "cycle/backend/opencl_profile.h"
#include "cycle/predict.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static int runs = 4096, check = 64, processor = 64, threads, shard, shards = 1, cylinders = 8,
           single, profile, lanes;
static struct engine engine;
static struct ew_cycle_options options;

/* Even designs: the fractional part of multiples of irrational numbers (Weyl 1916). */
static double even(int design, double irrational) {
  double x = 0.5 + design * irrational;
  return x - floor(x);
}

static struct ew_cycle_plan *plan_of(int design, const struct ew_cycle_plan *like) {
  if (cylinders == 8)
    engine_eight(&engine, &engine_b);
  else
    engine_four(&engine, &engine_b);
  for (int i = 0; i < engine.model.pipes; i++)
    engine.pipe[i].length_m *= 1 + 0.1 * even(design, i % 2 ? 0.41421356 : 0.73205081);
  for (int c = 0; c < engine.model.cylinders; c++)
    engine.cylinder[c].compression_ratio += even(design, 0.2360680) - 0.5;
  GError *error = NULL;
  struct ew_cycle_plan *plan = ew_cycle_plan_new(&engine.model, &options, like, &error);
  if (!plan)
    g_error("%s", error->message);
  return plan;
}

/* n runs, five speeds a design; wall seconds. */
static double time_of(const char *backend, int n, struct ew_cycle_result *results) {
  int designs = (n + 4) / 5;
  struct ew_cycle_plan **plan = g_new0(struct ew_cycle_plan *, designs);
  g_autofree struct ew_cycle_task *task = g_new0(struct ew_cycle_task, n);
  for (int d = 0; d < designs; d++)
    plan[d] = plan_of(shard + d * shards, plan[0]);
  for (int i = 0; i < n; i++)
    task[i] = (struct ew_cycle_task){plan[i / 5], 3000 + 1000 * (i % 5), NAN};
  options.backend = ew_cycle_backend_named(backend);
  options.threads = threads;
  struct ew_cycle_effort effort;
  GError *error = NULL;
  if (!ew_cycle_run(task, n, &options, results, &effort, &error))
    g_error("%s", error->message);
  int settled = 0;
  double cycles = 0;
  for (int i = 0; i < n; i++) {
    settled += results[i].converged;
    cycles += results[i].cycles;
  }
  printf("%-8s %6d runs %8.2f s %9.1f runs/s %8.1f M cells/s   settled %d, %.1f cycles, %d cells; "
         "device %.2f s, "
         "judging %.2f s of threads\n",
         backend, n, effort.wall_s, n / effort.wall_s,
         1e-6 * effort.steps * effort.cells / effort.wall_s, settled, cycles / n, effort.cells,
         effort.cells_s + effort.ends_s, effort.cylinders_s);
  fflush(stdout);
  for (int d = 0; d < designs; d++)
    ew_cycle_plan_free(plan[d]);
  g_free(plan);
  return effort.wall_s;
}

static int differing(const struct ew_cycle_result *a, const struct ew_cycle_result *b, int n) {
  int differ = 0;
  double worst = 0;
  for (int i = 0; i < n; i++) {
    differ += memcmp(&a[i], &b[i], sizeof *a) != 0;
    worst = fmax(worst, fabs(a[i].torque_n_m / b[i].torque_n_m - 1));
  }
  printf("%d of %d runs differ in a bit; torque by %.1e at most\n", differ, n, worst);
  return differ;
}

static const char *best_processor(void) {
  return ew_cycle_backend_choose(NULL)->name;
}

/* ---- single precision ---- */

static const struct ew_cycle_result *ranked;
static int by_torque(const void *a, const void *b) {
  double x = ranked[5 * *(const int *)a].torque_n_m, y = ranked[5 * *(const int *)b].torque_n_m;
  return (x > y) - (x < y);
}

/* rank[designs] by torque at one of the five speeds. */
static void ranks_of(const struct ew_cycle_result *r, int speed, int designs, double *rank) {
  g_autofree int *order = g_new(int, designs);
  for (int d = 0; d < designs; d++)
    order[d] = d;
  ranked = r + speed;
  qsort(order, (size_t)designs, sizeof *order, by_torque);
  for (int d = 0; d < designs; d++)
    rank[order[d]] = d;
}

/* Spearman's correlation of torque at one speed. */
static double rank_correlation(const struct ew_cycle_result *a, const struct ew_cycle_result *b,
                               int speed, int designs) {
  g_autofree double *x = g_new(double, designs), *y = g_new(double, designs);
  double off = 0, n = designs;
  ranks_of(a, speed, designs, x);
  ranks_of(b, speed, designs, y);
  for (int d = 0; d < designs; d++)
    off += (x[d] - y[d]) * (x[d] - y[d]);
  return 1 - 6 * off / (n * (n * n - 1));
}

static gboolean hold_single(const struct ew_cycle_result *one, const struct ew_cycle_result *two,
                            int n, double tolerance) {
  double worst = 0, least = 1, square = 0, residual = 0;
  for (int i = 0; i < n; i++) {
    double off = fabs(one[i].torque_n_m / two[i].torque_n_m - 1);
    worst = fmax(worst, off);
    square += off * off / n;
    residual = fmax(residual, fmax(one[i].mass_residual, one[i].energy_residual));
  }
  for (int s = 0; s < 5; s++)
    least = fmin(least, rank_correlation(one, two, s, n / 5));
  printf("single against double precision, %d runs: torque by %.1e at most, %.1e rms; correlation "
         "of ranks %.5f at least "
         "(%d designs at a speed); mass and energy kept to %.1e\n",
         n, worst, sqrt(square), least, n / 5, residual);
  return worst <= tolerance && least >= 0.99;
}

/* On the processor alone, turn about, three rounds: seconds of the thread's own, which other work on the machine does not stretch. */
static gboolean hold_lanes(int n) {
  struct ew_cycle_result *one = g_new0(struct ew_cycle_result, n),
                         *two = g_new0(struct ew_cycle_result, n);
  double best[2] = {INFINITY, INFINITY};
  for (int round = 0; round < 3; round++)
    for (int i = 0; i < 2; i++) {
      clock_t began = clock();
      time_of(i ? "single" : best_processor(), n, i ? one : two);
      best[i] = fmin(best[i], (double)(clock() - began) / CLOCKS_PER_SEC);
    }
  gboolean good = hold_single(one, two, n / 5 * 5, 1e-3);
  printf("a run takes %.1f ms of a core in double, %.1f ms in single: %.2f times\n",
         1e3 * best[0] / n, 1e3 * best[1] / n, best[0] / best[1]);
  g_free(one);
  g_free(two);
  return good;
}

static void say_profile(void) {
  const char *name;
  double seconds;
  gint64 calls;
  for (int k = 0; ew_opencl_profiled(k, &name, &seconds, &calls); k++)
    printf("  %-14s %8.3f s %8" G_GINT64_FORMAT " calls %8.1f us each\n", name, seconds, calls,
           1e6 * seconds / (double)MAX(calls, 1));
}

int main(int count, char **word) {
  for (int i = 1; i + 1 < count; i += 2) {
    int *into = strcmp(word[i], "--runs") == 0        ? &runs
                : strcmp(word[i], "--check") == 0     ? &check
                : strcmp(word[i], "--processor") == 0 ? &processor
                : strcmp(word[i], "--threads") == 0   ? &threads
                : strcmp(word[i], "--single") == 0    ? &single
                : strcmp(word[i], "--profile") == 0   ? &profile
                : strcmp(word[i], "--lanes") == 0     ? &lanes
                                                      : NULL;
    if (into)
      *into = atoi(word[i + 1]);
    else if (strcmp(word[i], "--engine") == 0)
      cylinders = strcmp(word[i + 1], "four") == 0 ? 4 : 8;
    else if (strcmp(word[i], "--shard") != 0 || sscanf(word[i + 1], "%d/%d", &shard, &shards) != 2)
      return 2;
  }
  ew_cycle_options_defaults(&options);
  options.cell_m = 0.04;
  if (lanes > 0 && !hold_lanes(lanes))
    return 1;
  gint64 began = g_get_monotonic_time();
  if (!ew_opencl_here()) {
    printf("skipped: %s\n", ew_opencl_why_not());
    return 0;
  }
  printf("%s: program compiled in %.1f s\n", ew_opencl_device_name(),
         1e-6 * (double)(g_get_monotonic_time() - began));
  int n = MAX(MAX(MAX(check, processor), MAX(runs, single)), profile), differ = 0;
  struct ew_cycle_result *here = g_new0(struct ew_cycle_result, n),
                         *there = g_new0(struct ew_cycle_result, n);
  if (check > 0) {
    time_of(best_processor(), check, here);
    time_of("opencl", check, there);
    differ = differing(there, here, check);
  }
  if (single > 0) {
    time_of("opencl-single", single, there);
    time_of("opencl", single, here);
    hold_single(there, here, single / 5 * 5, INFINITY);
  }
  double processor_s = processor > 0 ? time_of(best_processor(), processor, here) / processor : NAN;
  for (int some = 1024; some < runs; some *= 4)
    time_of("opencl", some, there);
  double device_s = runs > 0 ? time_of("opencl", runs, there) / runs : NAN;
  if (runs > 0 && processor > 0)
    printf("a run on the device takes %.4f of one on the processor\n", device_s / processor_s);
  if (profile > 0) {
    ew_opencl_profile();
    time_of("opencl", profile, there);
    say_profile();
  }
  g_free(here);
  g_free(there);
  return differ > 0;
}
