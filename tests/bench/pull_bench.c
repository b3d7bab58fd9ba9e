/* A typical pull from the bytes of its file to a verdict: 20 s, 64 channels, 100 samples a second.
 *
 * pull_bench [1]  one line of JSON a size: CPU milliseconds of reading two files and comparing them with a
 *                 history, at 1, 10 and 100 times the samples; and how far the answer is from the truth */
#include "judge/compare.h"
#include "pull/process.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define CHANNELS    64
#define TRUE_CHANGE 0.01
#define HISTORY_SD  0.002

static const char *const headings[] = {
    "Time [s]",      "RPM [rpm]",         "Torque [N·m]",        "Throttle [%]",
    "Lambda",        "Fuel flow [kg/h]",  "Air flow [kg/h]",     "Oil pressure [bar]",
    "Oil temp [°C]", "Coolant temp [°C]", "Inlet air temp [°C]", "Baro [hPa]",
    "Humidity [%]",  "Knock count",       "Spark advance [deg]", "Crankcase pressure [mbar]"};

static guint64 state;

static double noise(void) { /* near normal: 4 uniforms, variance 1 */
  double sum = 0;
  for (int i = 0; i < 4; i++) {
    state ^= state << 13;
    state ^= state >> 7;
    state ^= state << 17;
    sum += (double)(state >> 11) / 9007199254740992.0 - 0.5;
  }
  return sum * sqrt(3);
}

/* 2 s of idling at part throttle, a sweep from 2,500 to 7,000 rpm in 15 s, 3 s of letting off. */
static GString *recording(double rate_hz, double change) {
  GString *text = g_string_new(NULL);
  for (int c = 0; c < CHANNELS; c++)
    if (c < (int)G_N_ELEMENTS(headings))
      g_string_append_printf(text, "%s%s", c ? "," : "", headings[c]);
    else
      g_string_append_printf(text, ",EGT %d [°C]", c + 1 - (int)G_N_ELEMENTS(headings));
  g_string_append_c(text, '\n');
  for (int i = 0; i < 20 * (int)rate_hz; i++) {
    double t = i / rate_hz, sweep = CLAMP(t - 2, 0, 15), rpm = 2500 + 300 * sweep;
    gboolean full = t >= 2 && t < 17;
    if (t >= 17)
      rpm = 7000 - 1000 * (t - 17);
    double shape = 1 - pow((rpm - 4800) / 5200, 2);
    double torque = (full ? 420 * shape * (1 + change) : 25) + 2 * noise();
    double row[] = {t,
                    rpm + noise(),
                    torque,
                    full ? 99.8 : 12,
                    0.88 + 0.003 * noise(),
                    torque * rpm * 2.7e-5,
                    torque * rpm * 3e-4,
                    2 + rpm / 2500 + 0.01 * noise(),
                    92 + 0.2 * t,
                    84 + 0.1 * t,
                    24,
                    985.2,
                    48,
                    0,
                    30,
                    3 + 0.05 * noise()};
    for (int c = 0; c < CHANNELS; c++) {
      double value = c < (int)G_N_ELEMENTS(row) ? row[c] : 650 + 2 * c + 8 * sweep + noise();
      g_string_append_printf(text, c ? ",%.*f" : "%.*f", c == 0 ? 5 : c == 4 ? 4 : 2, value);
    }
    g_string_append_c(text, '\n');
  }
  return text;
}

static double cpu_ms(void) {
  struct timespec now;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
  return 1e3 * (double)now.tv_sec + 1e-6 * (double)now.tv_nsec;
}

static struct ew_processed *processed(const GString *text, const struct ew_reduce_facts *facts) {
  g_autoptr(GError) error = NULL;
  struct ew_processed *p = ew_process(text->str, text->len, "pull", NULL, facts, &error);
  if (!p || p->curves->len != 1) {
    fprintf(stderr, "%s\n", error ? error->message : "not one pull");
    exit(1);
  }
  return p;
}

/* Six groups of 2, 3, 2, 3, 2, 3 like pulls, as the book would hold them: curves, not files. */
#define HISTORY 15
static struct ew_processed *past[HISTORY];

static void make_history(const struct ew_reduce_facts *facts) {
  for (int i = 0; i < HISTORY; i++) {
    GString *text = recording(100, HISTORY_SD * noise());
    past[i] = processed(text, facts);
    g_string_free(text, TRUE);
  }
}

/* From bytes to verdict, with the band about the curve; returns the relative difference found. */
static double judge(const GString *a, const GString *b, const struct ew_reduce_facts *facts) {
  struct ew_processed *side[2] = {processed(a, facts), processed(b, facts)};
  struct ew_compared_pull pulls[2 + HISTORY];
  for (int i = 0; i < 2; i++)
    pulls[i] = (struct ew_compared_pull){g_ptr_array_index(side[i]->curves, 0), NULL, i, i};
  for (int i = 0, group = 2, left = 2; i < HISTORY; i++) {
    pulls[2 + i] = (struct ew_compared_pull){g_ptr_array_index(past[i]->curves, 0), NULL, group, i};
    if (--left == 0)
      group++, left = 2 + group % 2;
  }
  struct ew_compare_options options = {.margin = 0.01,
                                       .band_low_rpm = NAN,
                                       .band_high_rpm = NAN,
                                       .drift_mean = NAN,
                                       .drift_sd = NAN,
                                       .minutes_a_pull = NAN,
                                       .litres_a_pull = NAN};
  struct ew_comparison *c = ew_compare(pulls, 2 + HISTORY, &options, NULL);
  double difference = c && c->band.half_width ? c->difference : (double)NAN;
  if (c)
    ew_comparison_free(c);
  for (int i = 0; i < 2; i++)
    ew_processed_free(side[i]);
  return difference;
}

int main(int count, char **arguments) {
  int most = count > 1 ? atoi(arguments[1]) : 100;
  struct ew_method method;
  struct ew_bench bench;
  ew_method_defaults(&method);
  ew_bench_defaults(&bench);
  struct ew_reduce_facts facts = {.method = &method, .bench = &bench};
  state = 1234567;
  make_history(&facts);
  for (int times = 1; times <= most; times *= 10) {
    state = 88172645463325252u;
    GString *a = recording(100.0 * times, 0), *b = recording(100.0 * times, TRUE_CHANGE);
    double best = INFINITY, difference = NAN;
    for (int k = 0; k < (times == 1 ? (most == 1 ? 50 : 7) : times == 10 ? 3 : 1); k++) {
      double start = cpu_ms();
      difference = judge(a, b, &facts);
      best = fmin(best, cpu_ms() - start);
    }
    printf("{\"times\": %d, \"bytes\": %zu, \"cpu_ms\": %.2f, \"difference\": %.6f, \"truth\": "
           "%.6f}\n",
           times, a->len + b->len, best, difference, TRUE_CHANGE);
    fflush(stdout);
    g_string_free(a, TRUE);
    g_string_free(b, TRUE);
  }
  for (int i = 0; i < HISTORY; i++)
    ew_processed_free(past[i]);
  return 0;
}
