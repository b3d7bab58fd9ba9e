/* What the acceptance of verdicts is tried on: invented pulls whose truth is known, and the table of
 * what came out. */
#pragma once
#include <gsl/gsl_rng.h>
#include "judge/decide.h"

#define PULL_SD     0.004 /* of one pull's band mean, sample noise included */
#define SAMPLES     900   /* of one pull, 2,000 to 7,000 rpm */
#define SAMPLE_SD   0.008
#define MOST_GROUPS 20
#define MOST_PULLS  60 /* of a history, and of a day */

enum noise {
  NOISE_WHITE,
  NOISE_AR80,
  NOISE_AR95,
  NOISE_T3,
  NOISE_SPIKES,
  NOISE_BETWEEN_T3,
  NOISES
};
extern const char *const noise_names[NOISES];

/* Normal deviates from one seeded stream. */
double normal(gsl_rng *random);
/* Student's t with 3 degrees of freedom, or 5, scaled to variance 1. */
double heavy(gsl_rng *random, double freedom);
/* 900 samples of noise with variance 1, correlation rho from one to the next. */
void fill_noise(gsl_rng *random, double rho, double *sample);

/* The band mean of one pull from its 900 samples, of standard deviation `sd` in all. */
double sampled_pull(gsl_rng *random, enum noise noise, double sd);

/* Group g of a history has 2, 3, 2, 3... pulls. */
int group_size(int group);
/* What a history of like pulls with these band means teaches, by ew_learn_spread. */
struct ew_spread taught_by(const double *values, int groups);
/* A history of normal pulls of standard deviation PULL_SD. */
struct ew_spread usual_history(gsl_rng *random, int groups);

/* A day of pulls: order "ABAB", one value each. */
gsize day_of(const char *order, const double *values, struct ew_value *day);

/* The table: one row a check, one line a group of checks. The short form runs fewer trials, and its
 * limits are wider by three standard errors of a share p of n trials, 3 sqrt(p (1 - p) / n). */
struct table {
  gboolean full;
  int line, lines_passed, lines_failed;
  gboolean line_good;
  int rows_in_line;
};
void begin_line(struct table *table, int line, const char *what);
void end_line(struct table *table);
void at_most(struct table *table, const char *what, double hits, double trials, double limit);
void at_least(struct table *table, const char *what, double hits, double trials, double limit);
void within(struct table *table, const char *what, double hits, double trials, double low,
            double high);
/* A mean or an rms in its own unit; `slack` is added in the short form. */
void value_at_most(struct table *table, const char *what, double value, double limit, double slack,
                   const char *unit);
/* A figure for the reader, without a limit. */
void for_the_reader(struct table *table, const char *what, double hits, double trials);
