#include "world.h"
#include "pull/clean.h"
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdio.h>

const char *const noise_names[NOISES] = {
    "white samples", "samples AR 0.8",  "samples AR 0.95",
    "t3 samples",    "1 % spikes, cut", "t3 between pulls",
};

double normal(gsl_rng *random) {
  return gsl_ran_gaussian_ziggurat(random, 1);
}

double heavy(gsl_rng *random, double freedom) {
  double chi = 0;
  for (int i = 0; i < (int)freedom; i++) {
    double z = normal(random);
    chi += z * z;
  }
  return normal(random) * sqrt(freedom / chi) * sqrt((freedom - 2) / freedom);
}

void fill_noise(gsl_rng *random, double rho, double *sample) {
  double innovation = sqrt(1 - rho * rho);
  sample[0] = normal(random);
  for (int i = 1; i < SAMPLES; i++)
    sample[i] = rho * sample[i - 1] + innovation * normal(random);
}

static double rho_of(enum noise noise) {
  return noise == NOISE_AR80 ? 0.8 : noise == NOISE_AR95 ? 0.95 : 0;
}

/* Variance of the mean of n samples of an AR(1) of variance 1. */
static double mean_variance(double rho) {
  double n = SAMPLES, sum = n;
  for (int k = 1; k < SAMPLES; k++)
    sum += 2 * (n - k) * pow(rho, k);
  return sum / (n * n);
}

/* Mean of the samples that the filter of the program keeps. */
static double cut_mean(gsl_rng *random, double *sample) {
  guint8 spike[SAMPLES] = {0};
  for (int i = 0; i < SAMPLES; i++) {
    sample[i] *= SAMPLE_SD;
    if (gsl_rng_uniform(random) < 0.01)
      sample[i] +=
          (gsl_rng_uniform(random) < 0.5 ? -1 : 1) * (0.05 + 0.15 * gsl_rng_uniform(random));
  }
  struct ew_method method;
  ew_method_defaults(&method);
  ew_hampel(sample, SAMPLES, method.spike_limit, 0.02, spike);
  double sum = 0, kept = 0;
  for (int i = 0; i < SAMPLES; i++)
    if (!spike[i])
      sum += sample[i], kept++;
  return sum / kept;
}

double sampled_pull(gsl_rng *random, enum noise noise, double sd) {
  static double variance[NOISES];
  double sample[SAMPLES], mean = 0;
  if (variance[noise] == 0)
    variance[noise] = SAMPLE_SD * SAMPLE_SD * mean_variance(rho_of(noise));
  if (noise == NOISE_T3)
    for (int i = 0; i < SAMPLES; i++)
      sample[i] = heavy(random, 3);
  else
    fill_noise(random, rho_of(noise), sample);
  if (noise == NOISE_SPIKES)
    mean = cut_mean(random, sample);
  else
    for (int i = 0; i < SAMPLES; i++)
      mean += sample[i] * SAMPLE_SD / SAMPLES;
  double between = noise == NOISE_BETWEEN_T3 ? heavy(random, 3) : normal(random);
  return between * sqrt(sd * sd - variance[noise]) + mean;
}

int group_size(int group) {
  return 2 + group % 2;
}

struct ew_spread taught_by(const double *values, int groups) {
  struct ew_history_pull pull[MOST_PULLS];
  struct ew_spread levels[EW_LEVELS_COUNT];
  gsize n = 0;
  for (int g = 0; g < groups; g++)
    for (int i = 0; i < group_size(g); i++, n++)
      pull[n] = (struct ew_history_pull){.kind = g, .run = g, .position = i, .log_mean = values[n]};
  if (n == 0)
    return (struct ew_spread){NAN, 0, FALSE};
  ew_learn_spread(pull, n, levels);
  return levels[EW_LEVEL_CONSECUTIVE];
}

struct ew_spread usual_history(gsl_rng *random, int groups) {
  double values[MOST_PULLS];
  int n = 0;
  for (int g = 0; g < groups; g++)
    n += group_size(g);
  for (int i = 0; i < n; i++)
    values[i] = PULL_SD * normal(random);
  return taught_by(values, groups);
}

gsize day_of(const char *order, const double *values, struct ew_value *day) {
  gsize n = 0;
  for (; order[n]; n++)
    day[n] = (struct ew_value){order[n] == 'B', (double)n, values[n]};
  return n;
}

void begin_line(struct table *table, int line, const char *what) {
  table->line = line;
  table->line_good = TRUE;
  table->rows_in_line = 0;
  printf("| **%d** | **%s** | | | |\n", line, what);
  fflush(stdout);
}

void end_line(struct table *table) {
  gboolean good = table->line_good && table->rows_in_line > 0;
  good ? table->lines_passed++ : table->lines_failed++;
  if (!good)
    printf("| %d | line failed | | | **FAIL** |\n", table->line);
  fflush(stdout);
}

static void row(struct table *table, const char *what, const char *achieved, const char *limit,
                gboolean good) {
  table->line_good &= good;
  table->rows_in_line++;
  printf("| %d | %s | %s | %s | %s |\n", table->line, what, achieved, limit,
         good ? "pass" : "**FAIL**");
  fflush(stdout);
}

static double slack(const struct table *table, double p, double n) {
  return table->full ? 0 : 3 * sqrt(p * (1 - p) / n);
}

/* With its standard error. */
static void share_row(struct table *table, const char *what, double share, double trials,
                      const char *limit, gboolean good) {
  char achieved[48];
  snprintf(achieved, sizeof achieved, "%.2f ± %.2f %%", 100 * share,
           100 * sqrt(share * (1 - share) / trials));
  row(table, what, achieved, limit, good && isfinite(share));
}

void at_most(struct table *table, const char *what, double hits, double trials, double limit) {
  double share = hits / trials, most = limit + slack(table, limit, trials);
  char text[64];
  snprintf(text, sizeof text, "at most %.2f %%", 100 * most);
  share_row(table, what, share, trials, text, share <= most);
}

void at_least(struct table *table, const char *what, double hits, double trials, double limit) {
  double share = hits / trials, least = limit - slack(table, limit, trials);
  char text[64];
  snprintf(text, sizeof text, "at least %.2f %%", 100 * least);
  share_row(table, what, share, trials, text, share >= least);
}

void within(struct table *table, const char *what, double hits, double trials, double low,
            double high) {
  double share = hits / trials;
  double least = low - slack(table, low, trials), most = fmin(high + slack(table, high, trials), 1);
  char text[64];
  snprintf(text, sizeof text, "%.2f to %.2f %%", 100 * least, 100 * most);
  share_row(table, what, share, trials, text, share >= least && share <= most);
}

void value_at_most(struct table *table, const char *what, double value, double limit, double more,
                   const char *unit) {
  char achieved[48], text[48];
  double most = limit + (table->full ? 0 : more);
  snprintf(achieved, sizeof achieved, "%.3f %s", value, unit);
  snprintf(text, sizeof text, "at most %.3f %s", most, unit);
  row(table, what, achieved, text, value <= most);
}

void for_the_reader(struct table *table, const char *what, double hits, double trials) {
  share_row(table, what, hits / trials, trials, "", TRUE);
}
