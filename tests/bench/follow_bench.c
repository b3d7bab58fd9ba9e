/* What a first look at a turned engine costs and how far it is off: a figure of an engine turned step by step, its curve each time from where
 * the one before left off (cycle/warm.h), beside the same cells from still gas and beside the usual cells.
 *
 *   follow_bench ENGINE.yaml [THREADS [CELL_MM [TOLERANCE]]]
 *
 * A line a figure: seconds by the clock and of the processor a turn, the median; and how far torque is off, rms over the speeds, the worst turn. */
#include "base/error.h"
#include "base/node.h"
#include "cycle/warm.h"
#include "desk/predict.h"
#include "desk/vary.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>

#define TURNS  4
#define SPEEDS 6
#define LIMIT                                                                                      \
  0.03 /* of torque, rms over the speeds, the worst turn, against the same cells from still gas */

static int threads = 2, missed;

static const struct {
  const char *says, *change; /* a turn; %g: which, 1 .. TURNS */
} figures[] = {
    {"primary length, 20 mm a turn", "primary_length=-%g mm"},
    {"compression, 0.1 a turn", "compression=+%g"},
    {"cam, a degree a turn", "cam_advance=-%g deg"},
    {"inlet valve, 0.2 mm a turn", "inlet.head_diameter=+%g mm"},
};
static const double step_of[] = {20, 0.1, 1, 0.2};

static double processor_s(void) {
  struct rusage r;
  getrusage(RUSAGE_SELF, &r);
  return (double)(r.ru_utime.tv_sec + r.ru_stime.tv_sec) +
         1e-6 * (double)(r.ru_utime.tv_usec + r.ru_stime.tv_usec);
}

static void stop(GError *error) {
  fprintf(stderr, "follow_bench: %s\n", error->message);
  exit(2);
}

struct run {
  double torque_n_m[SPEEDS], clock_s, processor_s;
  int steady;
  double cycles;
};

static struct run run_of(const struct ew_engine *engine, const char *change, double cell_m,
                         double tolerance, struct ew_cycle_warm *warm) {
  g_autoptr(GArray) variations = ew_variations_new();
  struct ew_prediction_setup setup = {.engine = engine,
                                      .lambda = NAN,
                                      .pressure_pa = NAN,
                                      .temperature_k = NAN,
                                      .vapour_pa = NAN,
                                      .spark_deg = NAN,
                                      .variations = variations};
  struct ew_cycle_options options;
  struct ew_cycle_result results[SPEEDS];
  double speed[SPEEDS], began = processor_s();
  struct run r = {.clock_s = 1e-6 * (double)g_get_monotonic_time()};
  GError *error = NULL;
  ew_fields_defaults(&ew_tune_fields, &setup.tune);
  ew_cycle_options_defaults(&options);
  options.cell_m = cell_m;
  options.tolerance = tolerance;
  options.threads = threads;
  options.warm = warm;
  for (int i = 0; i < SPEEDS; i++)
    speed[i] = 2000 + 1000 * i;
  if ((change && !ew_variation_parse(change, variations, &error)) ||
      !ew_predict_setups(&setup, 1, speed, SPEEDS, &options, results, NULL, NULL, &error))
    stop(error);
  r.clock_s = 1e-6 * (double)g_get_monotonic_time() - r.clock_s;
  r.processor_s = processor_s() - began;
  for (int i = 0; i < SPEEDS; i++) {
    r.torque_n_m[i] = results[i].torque_n_m;
    r.steady += results[i].converged;
    r.cycles += (double)results[i].cycles / SPEEDS;
    ew_cycle_result_clear(&results[i]);
  }
  return r;
}

static double off(const struct run *a, const struct run *b) {
  double sum = 0;
  for (int i = 0; i < SPEEDS; i++)
    sum += pow(a->torque_n_m[i] / b->torque_n_m[i] - 1, 2) / SPEEDS;
  return sqrt(sum);
}

static int upwards(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return x < y ? -1 : x > y;
}

static double median(double *values) {
  qsort(values, TURNS, sizeof *values, upwards);
  return values[TURNS / 2];
}

static void figure(const struct ew_engine *engine, int which, double cell_m, double tolerance) {
  struct ew_cycle_warm *warm = ew_cycle_warm_new();
  double clock[TURNS], cpu[TURNS], cycles[TURNS], still[TURNS], worst = 0, fine = 0;
  run_of(engine, NULL, cell_m, tolerance, warm);
  for (int k = 0; k < TURNS; k++) {
    g_autofree char *change = g_strdup_printf(figures[which].change, step_of[which] * (k + 1));
    struct run w = run_of(engine, change, cell_m, tolerance, warm);
    struct run c = run_of(engine, change, cell_m, 1e-3, NULL);
    struct run f = run_of(engine, change, 0.04, 1e-3, NULL);
    clock[k] = w.clock_s;
    cpu[k] = w.processor_s;
    cycles[k] = w.cycles;
    still[k] = c.processor_s;
    worst = fmax(worst, off(&w, &c));
    fine = fmax(fine, off(&w, &f));
    missed += w.steady != SPEEDS;
  }
  missed += !(worst < LIMIT);
  printf("%-30s cells %3.0f mm, tolerance %.3f: %5.3f s, processor %5.3f s (still gas %5.3f), "
         "%4.1f cycles; off %.2f %% of the same cells, %.2f %% of 40 mm%s\n",
         figures[which].says, 1e3 * cell_m, tolerance, median(clock), median(cpu), median(still),
         median(cycles), 100 * worst, 100 * fine, worst < LIMIT ? "" : "  LIMIT MISSED");
  ew_cycle_warm_free(warm);
}

int main(int count, char **argument) {
  struct ew_engine engine;
  GError *error = NULL;
  g_autoptr(ew_node) root = count > 1 ? ew_node_read(argument[1], &error) : NULL;
  if (!root || !ew_engine_read(root, argument[1], &engine, &error)) {
    fprintf(stderr, "follow_bench ENGINE.yaml [THREADS]: %s\n",
            error ? error->message : "no engine");
    return 2;
  }
  if (count > 2)
    threads = atoi(argument[2]);
  double cell_m = count > 3 ? 1e-3 * atof(argument[3]) : 0.08,
         tolerance = count > 4 ? atof(argument[4]) : 0.01;
  setvbuf(stdout, NULL, _IOLBF, 0);
  for (int which = 0; which < (int)G_N_ELEMENTS(figures); which++)
    figure(&engine, which, cell_m, tolerance);
  ew_engine_clear(&engine);
  return missed ? 1 : 0;
}
