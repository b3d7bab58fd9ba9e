/* Verdicts are right as often as they say: the real functions of src/judge on invented pulls whose
 * truth is known, with fixed seeds.
 *
 * Conditions unless a row says otherwise: one pull's band mean has a standard deviation of 0.4 %,
 * sample noise included; the history has 6 groups of 2, 3, 2, 3, 2, 3 like pulls (9 degrees of
 * freedom) of the same spread; order A B A B...; one look; the headline is the mean torque. Rates are
 * of gain or loss where nothing differs (type I), or where B is 1 % better (power). "No term" leaves
 * drift out of account; all other rows take the program as it is. Lines 1 and 4 draw 900 samples a
 * pull; a mean of normal samples is normal, so the rest draw the band mean itself.
 *
 * acceptance         short: 2,000 trials for rates, 120 for bands; limits 3 standard errors wider
 * acceptance --full  10,000 and 2,000; limits as they stand
 * acceptance --line N  one line alone */
#include "judge/band.h"
#include "judge/compare.h"
#include "judge/sweep.h"
#include "leaning.h"
#include "pull/smooth.h"
#include "world.h"
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const struct ew_difference_options plain = {
    .no_drift_term = TRUE, .drift_mean = NAN, .drift_sd = NAN};
static const struct ew_difference_options usual = {.drift_mean = NAN, .drift_sd = NAN};

static int trials(const struct table *t) {
  return t->full ? 10000 : 2000;
}

static gboolean differs(enum ew_verdict verdict) {
  return verdict == EW_VERDICT_GAIN || verdict == EW_VERDICT_LOSS;
}

static enum ew_verdict verdict_of(const char *order, const double *values, struct ew_spread history,
                                  const struct ew_difference_options *options, double margin,
                                  int looks_before) {
  struct ew_value day[MOST_PULLS];
  gsize n = day_of(order, values, day);
  struct ew_difference d = ew_difference(day, n, history, options);
  return ew_decide(&d, margin, looks_before).verdict;
}

static gsl_rng *seeded(unsigned long seed) {
  gsl_rng *random = gsl_rng_alloc(gsl_rng_taus2);
  gsl_rng_set(random, seed);
  return random;
}

/* 1 ------------------------------------------------------------------------------------------- */

static const char *const alternating[] = {NULL, "AB", "ABAB", "ABABAB"};

/* spread_out: each group and the present has its own standard deviation, 0.2 to 0.6 %. */
static void type_one_rows(struct table *t, enum noise noise, gboolean spread_out) {
  gsl_rng *random = seeded(101 + noise + 50u * (unsigned)spread_out);
  int hits[4][2] = {{0}};
  for (int trial = 0; trial < trials(t); trial++) {
    double past[MOST_PULLS], today[6];
    int n = 0;
    for (int g = 0; g < 6; g++) {
      double sd = spread_out ? 0.002 + 0.004 * gsl_rng_uniform(random) : PULL_SD;
      for (int i = 0; i < group_size(g); i++)
        past[n++] = sampled_pull(random, noise, sd);
    }
    double sd = spread_out ? 0.002 + 0.004 * gsl_rng_uniform(random) : PULL_SD;
    for (int i = 0; i < 6; i++)
      today[i] = sampled_pull(random, noise, sd);
    struct ew_spread history = taught_by(past, 6);
    for (int each = 1; each <= 3; each++) {
      hits[each][0] += differs(verdict_of(alternating[each], today, history, &plain, 0, 0));
      hits[each][1] += differs(verdict_of(alternating[each], today, history, &usual, 0, 0));
    }
  }
  for (int each = 1; each <= 3; each++)
    for (int term = 0; term < 2; term++) {
      double limit = each > 1                                  ? (spread_out ? 0.065 : 0.06)
                     : noise == NOISE_BETWEEN_T3 || spread_out ? 0.07
                                                               : 0.05;
      char what[120];
      snprintf(what, sizeof what, "%s%s, n = %d%s", noise_names[noise],
               spread_out ? ", spreads of 0.2 to 0.6 %" : "", each, term ? "" : ", no term");
      at_most(t, what, hits[each][term], trials(t), limit);
    }
  gsl_rng_free(random);
}

static void line_type_one(struct table *t) {
  begin_line(t, 1, "false gain or loss, nothing differs");
  for (enum noise noise = 0; noise < NOISES; noise++)
    type_one_rows(t, noise, FALSE);
  type_one_rows(t, NOISE_AR80, TRUE);
  end_line(t);
}

/* 2 ------------------------------------------------------------------------------------------- */

enum drift { DRIFT_LINEAR, DRIFT_WARM_UP };

static double drift_at(enum drift drift, double size, int pull) {
  return drift == DRIFT_LINEAR ? size * pull : -size * exp(-pull / 1.5);
}

/* Values of a day with drift; `first` pulls ran before and were discarded. */
static void drifting_day(gsl_rng *random, const char *order, enum drift drift, double size,
                         int first, double *today) {
  for (int i = 0; order[i]; i++)
    today[i] = PULL_SD * normal(random) + drift_at(drift, size, i + first);
}

static void drift_row(struct table *t, const char *order, enum drift drift, double size,
                      double limit) {
  gsl_rng *random = seeded(201);
  int hits = 0;
  for (int trial = 0; trial < trials(t); trial++) {
    double today[MOST_PULLS];
    struct ew_spread history = usual_history(random, 6);
    drifting_day(random, order, drift, size, drift == DRIFT_WARM_UP, today);
    hits += differs(verdict_of(order, today, history, &usual, 0, 0));
  }
  char what[120];
  snprintf(what, sizeof what,
           drift == DRIFT_LINEAR ? "%s, drift %.1f %% a pull"
                                 : "%s, warm-up %.0f %%, first pull dropped",
           order, 100 * size);
  at_most(t, what, hits, trials(t), limit);
  gsl_rng_free(random);
}

/* A curve that stands `level` (log) above 300 N·m everywhere. */
static struct ew_curve *level_curve(double level) {
  struct ew_curve *curve = g_new0(struct ew_curve, 1);
  curve->points = 51;
  double **arrays[] = {&curve->speed_rpm, &curve->torque_n_m, &curve->torque_se_n_m};
  for (gsize k = 0; k < G_N_ELEMENTS(arrays); k++)
    *arrays[k] = g_new0(double, curve->points);
  for (gsize j = 0; j < curve->points; j++) {
    curve->speed_rpm[j] = 2000 + 100.0 * (double)j;
    curve->torque_n_m[j] = 300 * exp(level);
    curve->torque_se_n_m[j] = 0.3;
  }
  ew_method_defaults(&curve->method);
  curve->conditions = (struct ew_conditions){NAN, NAN, NAN, NULL, NULL, NULL, NAN,  NAN, NAN,
                                             NAN, NAN, NAN, NAN,  NAN,  NAN,  TRUE, TRUE};
  curve->columns = g_array_new(FALSE, FALSE, sizeof(struct ew_curve_column));
  curve->warnings = ew_messages_new();
  curve->low_rpm = 2000;
  curve->high_rpm = 7000;
  curve->knock_count = curve->tail_scatter = NAN;
  return curve;
}

static gboolean warns_of_blocks(const char *order, const double *today, struct ew_spread history) {
  struct ew_compared_pull pulls[MOST_PULLS] = {{0}};
  gsize n = strlen(order);
  for (gsize i = 0; i < n; i++)
    pulls[i] = (struct ew_compared_pull){level_curve(today[i]), NULL, order[i] == 'B', (double)i};
  struct ew_compare_options options = {.margin = 0.01,
                                       .history = &history,
                                       .band_low_rpm = NAN,
                                       .band_high_rpm = NAN,
                                       .drift_mean = NAN,
                                       .drift_sd = NAN,
                                       .minutes_a_pull = NAN,
                                       .litres_a_pull = NAN};
  struct ew_comparison *c = ew_compare(pulls, n, &options, NULL);
  gboolean warned = FALSE;
  for (guint i = 0; c && i < c->warnings->len; i++)
    warned |= strcmp(ew_message_id(g_ptr_array_index(c->warnings, i)), "judge.blocks") == 0;
  ew_comparison_free(c);
  for (gsize i = 0; i < n; i++)
    ew_curve_free((struct ew_curve *)pulls[i].curve);
  return warned;
}

static void blocks_rows(struct table *t) {
  gsl_rng *random = seeded(202);
  int hits = 0, blocks = 0, warned = 0, asked = 0, every = t->full ? 50 : 100;
  for (int trial = 0; trial < trials(t); trial++) {
    double today[6];
    struct ew_value day[6];
    struct ew_spread history = usual_history(random, 6);
    drifting_day(random, "AAABBB", DRIFT_LINEAR, 0.003, 0, today);
    gsize n = day_of("AAABBB", today, day);
    struct ew_difference d = ew_difference(day, n, history, &usual);
    hits += differs(ew_decide(&d, 0, 0).verdict);
    blocks += d.order == EW_ORDER_BLOCKS;
    if (trial % every == 0)
      asked++, warned += warns_of_blocks("AAABBB", today, history);
  }
  at_most(t, "AAABBB, drift 0.3 % a pull", hits, trials(t), 0.06);
  at_least(t, "AAABBB known for blocks", blocks, trials(t), 1);
  at_least(t, "AAABBB warned of, in whole comparisons", warned, asked, 1);
  gsl_rng_free(random);
}

static void line_drift(struct table *t) {
  begin_line(t, 2, "false gain or loss under drift");
  const char *const orders[] = {"ABA", "ABABA", "ABABAB"};
  for (gsize k = 0; k < G_N_ELEMENTS(orders); k++) {
    drift_row(t, orders[k], DRIFT_LINEAR, 0.001, 0.06);
    drift_row(t, orders[k], DRIFT_LINEAR, 0.003, 0.06);
    drift_row(t, orders[k], DRIFT_WARM_UP, 0.01, 0.065);
  }
  blocks_rows(t);
  end_line(t);
}

/* 3 ------------------------------------------------------------------------------------------- */

static int verdicts_in(struct table *t, unsigned long seed, const char *order, int groups,
                       double truth, double margin, const struct ew_difference_options *options,
                       gboolean same) {
  gsl_rng *random = seeded(seed);
  int hits = 0;
  for (int trial = 0; trial < trials(t); trial++) {
    double today[MOST_PULLS];
    struct ew_spread history = usual_history(random, groups);
    for (int i = 0; order[i]; i++)
      today[i] = PULL_SD * normal(random) + (order[i] == 'B' ? truth : 0);
    enum ew_verdict verdict = verdict_of(order, today, history, options, margin, 0);
    hits += same ? verdict == EW_VERDICT_SAME : verdict == EW_VERDICT_GAIN;
  }
  gsl_rng_free(random);
  return hits;
}

static void line_power(struct table *t) {
  static const struct {
    const char *what, *order;
    int groups;
    gboolean term;
    double least;
  } row[] = {
      {"ABABAB, no term", "ABABAB", 6, FALSE, 0.78},
      {"ABABAB, no term, 20 groups", "ABABAB", 20, FALSE, 0.80},
      {"ABABAB, no term, no history", "ABABAB", 0, FALSE, 0.60},
      {"ABABAB", "ABABAB", 6, TRUE, 0.73},
      {"ABA", "ABA", 6, TRUE, 0.40},
      {"AB, no term", "AB", 6, FALSE, 0.27},
  };
  begin_line(t, 3, "gain seen, B better by 1 %");
  for (gsize k = 0; k < G_N_ELEMENTS(row); k++)
    at_least(t, row[k].what,
             verdicts_in(t, 301, row[k].order, row[k].groups, 0.01, 0,
                         row[k].term ? &usual : &plain, FALSE),
             trials(t), row[k].least);
  for_the_reader(t, "AB, as it is (an unknown drift is allowed for)",
                 verdicts_in(t, 301, "AB", 6, 0.01, 0, &usual, FALSE), trials(t));
  for_the_reader(t, "AAABBB, as it is", verdicts_in(t, 301, "AAABBB", 6, 0.01, 0, &usual, FALSE),
                 trials(t));
  end_line(t);
}

/* 4 ------------------------------------------------------------------------------------------- */

#define POINTS     26 /* 2,000 to 7,000 rpm by 200 */
#define HALF_WIDTH 400.0

struct kernel { /* the smoother and the smooth part of what pulls differ by, on the grid */
  double speed[POINTS], weights[POINTS][SAMPLES], root[POINTS][POINTS], bump[POINTS],
      true_bump[POINTS];
  int first[POINTS], last[POINTS];
  double noise; /* standard error of a point in the middle */
};

static void fill_kernel(struct kernel *k) {
  double x[SAMPLES];
  for (int i = 0; i < SAMPLES; i++)
    x[i] = 2000 + 5000.0 * i / (SAMPLES - 1);
  for (int j = 0; j < POINTS; j++) {
    k->speed[j] = 2000 + 200 * j;
    g_assert(ew_smooth_weights(x, SAMPLES, k->speed[j], HALF_WIDTH, NULL, k->weights[j]));
    k->first[j] = SAMPLES, k->last[j] = 0;
    k->true_bump[j] = 0.01 * exp(-pow((k->speed[j] - 4500) / 300, 2) / 2);
    for (int i = 0; i < SAMPLES; i++)
      if (k->weights[j][i] != 0) {
        k->first[j] = MIN(k->first[j], i), k->last[j] = i + 1;
        k->bump[j] += k->weights[j][i] * 0.01 * exp(-pow((x[i] - 4500) / 300, 2) / 2);
      }
    for (int m = 0; m <= j; m++) { /* Cholesky factor of exp(-d^2/2), d in units of 600 rpm */
      double sum = exp(-pow((k->speed[j] - k->speed[m]) / 600, 2) / 2) + (m == j ? 1e-8 : 0);
      for (int l = 0; l < m; l++)
        sum -= k->root[j][l] * k->root[m][l];
      k->root[j][m] = m == j ? sqrt(sum) : sum / k->root[m][m];
    }
  }
  k->noise = SAMPLE_SD * sqrt(ew_autoregressive_variance(k->weights[POINTS / 2], SAMPLES, 0.8));
}

struct scatter { /* of whole pulls, relative */
  const char *name;
  double offset, tilt;
};
static const struct scatter middle = {"mid", 0.004, 0.0015}, high = {"high", 0.006, 0.001};

static void draw_curve(gsl_rng *random, const struct kernel *k, struct scatter s, double scale,
                       double tails, double *curve) {
  double sample[SAMPLES], z[POINTS];
  fill_noise(random, 0.8, sample);
  if (tails > 0) /* one scale for the whole pull, of mean square 1 */
    scale *= sqrt((tails - 2) / gsl_ran_chisq(random, tails));
  double offset = scale * s.offset * normal(random), tilt = scale * s.tilt * normal(random);
  for (int j = 0; j < POINTS; j++)
    z[j] = normal(random);
  for (int j = 0; j < POINTS; j++) {
    double smooth = 0, noise = 0;
    for (int m = 0; m <= j; m++)
      smooth += k->root[j][m] * z[m];
    for (int i = k->first[j]; i < k->last[j]; i++)
      noise += k->weights[j][i] * sample[i];
    curve[j] =
        offset + tilt * (2.0 * j / (POINTS - 1) - 1) + scale * 0.001 * smooth + SAMPLE_SD * noise;
  }
}

struct band_case {
  struct scatter scatter;
  int groups, each;
  gboolean wide, unequal;
  double tails, low, high, widest;
};

static void band_case(struct table *t, const struct kernel *k, const struct band_case *c,
                      unsigned long seed) {
  gsl_rng *random = seeded(seed);
  int n_trials = t->full ? 2000 : 120, covered = 0, past = 0;
  double width = 0;
  for (int g = 0; g < c->groups; g++)
    past += group_size(g);
  for (int trial = 0; trial < n_trials; trial++) {
    double curve[MOST_PULLS][POINTS];
    int group[MOST_PULLS], n = 0;
    for (int g = 0; g < c->groups; g++) {
      double scale = c->unequal ? 0.5 + gsl_rng_uniform(random) : 1;
      for (int i = 0; i < group_size(g); i++, n++) {
        draw_curve(random, k, c->scatter, scale, c->tails, curve[n]);
        group[n] = g + 2;
      }
    }
    double scale = c->unequal ? 0.5 + gsl_rng_uniform(random) : 1;
    for (int i = 0; i < 2 * c->each; i++, n++) {
      draw_curve(random, k, c->scatter, scale, c->tails, curve[n]);
      group[n] = i % 2;
      for (int j = 0; j < POINTS && i % 2; j++)
        curve[n][j] += k->bump[j];
    }
    double past_freedom = past - c->groups;
    struct ew_band_input input = {.points = POINTS,
                                  .speed_rpm = k->speed,
                                  .half_width_rpm = HALF_WIDTH,
                                  .curves = (gsize)n,
                                  .log_torque = curve[0],
                                  .group = group,
                                  .noise_relative = k->noise,
                                  .scale_freedom = ew_lent_freedom(past_freedom, c->each, c->each) +
                                                   2 * c->each - 2,
                                  .wide = c->wide};
    struct ew_band band;
    const struct ew_message_kind *why = NULL;
    if (!ew_band(&input, &band, &why))
      continue;
    gboolean inside = TRUE;
    for (int j = 0; j < POINTS; j++) {
      inside &= fabs(band.difference[j] - k->true_bump[j]) <= band.half_width[j];
      width += band.half_width[j] / (POINTS * n_trials);
    }
    covered += inside;
    ew_band_clear(&band);
  }
  char what[160];
  snprintf(what, sizeof what, "%s; %d groups, n = %d%s%s%s", c->scatter.name, c->groups, c->each,
           c->unequal ? ", spreads 3:1" : "", c->tails > 0 ? ", t5 tails" : "",
           c->wide ? ", wide form" : "");
  within(t, what, covered, n_trials, c->low, c->high);
  if (c->widest > 0) {
    strcat(what, ", mean half-width");
    value_at_most(t, what, 100 * width, c->widest, 3 * 0.35 * 100 * width / sqrt(n_trials), "%");
  }
  gsl_rng_free(random);
}

static void line_band(struct table *t) {
  struct kernel *k = g_new0(struct kernel, 1);
  fill_kernel(k);
  const struct band_case cases[] = {
      {middle, 3, 3, FALSE, FALSE, 0, 0.935, 0.965, 0},
      {middle, 6, 3, FALSE, FALSE, 0, 0.935, 0.965, 1.55},
      {middle, 20, 3, FALSE, FALSE, 0, 0.935, 0.965, 0},
      {high, 6, 3, FALSE, FALSE, 0, 0.935, 0.965, 0},
      {middle, 6, 1, FALSE, FALSE, 0, 0.935, 0.975, 0},
      {middle, 0, 3, FALSE, FALSE, 0, 0.935, 1, 0},
      {middle, 3, 1, FALSE, FALSE, 0, 0.935, 1, 3.0},
      {middle, 6, 3, FALSE, TRUE, 0, 0.90, 1, 0},
      {middle, 6, 3, FALSE, FALSE, 5, 0.90, 1, 0},
      {middle, 6, 1, TRUE, TRUE, 0, 0.935, 1, 0},
      {middle, 6, 1, TRUE, FALSE, 5, 0.935, 1, 0},
  };
  begin_line(t, 4, "the band holds the whole true difference (a bump of 1 %, 300 rpm)");
  for (gsize i = 0; i < G_N_ELEMENTS(cases); i++)
    band_case(t, k, &cases[i], 401 + i);
  g_free(k);
  end_line(t);
}

/* 5 ------------------------------------------------------------------------------------------- */

static void line_same(struct table *t) {
  begin_line(t, 5, "same, against a margin of 1 %");
  for (int each = 1; each <= 3; each++)
    for (int term = 0; term < 2; term++)
      for (int k = 0; k < 2; k++) {
        char what[100];
        snprintf(what, sizeof what, "said though B is %s better, n = %d%s", k ? "1.5 %" : "1 %",
                 each, term ? "" : ", no term");
        at_most(t, what,
                verdicts_in(t, 501, alternating[each], 6, k ? 0.015 : 0.01, 0.01,
                            term ? &usual : &plain, TRUE),
                trials(t), 0.06);
      }
  at_least(t, "said where nothing differs, n = 3, no term",
           verdicts_in(t, 502, "ABABAB", 6, 0, 0.01, &plain, TRUE), trials(t), 0.75);
  for_the_reader(t, "the same, as it is", verdicts_in(t, 502, "ABABAB", 6, 0, 0.01, &usual, TRUE),
                 trials(t));
  end_line(t);
}

/* 6 ------------------------------------------------------------------------------------------- */

enum looking { LOOK_COUNTED, LOOK_NAIVE };

/* A look after each of 2 to 8 pulls, A B A B...: did any say gain or loss (gain, when B is better)? */
static int looked_in(struct table *t, enum looking looking, double truth,
                     const struct ew_difference_options *options, int first_look) {
  gsl_rng *random = seeded(601);
  int hits = 0;
  for (int trial = 0; trial < trials(t); trial++) {
    double today[8];
    struct ew_spread history = usual_history(random, 6);
    for (int i = 0; i < 8; i++)
      today[i] = PULL_SD * normal(random) + (i % 2 ? truth : 0);
    gboolean said = FALSE;
    for (int pulls = first_look; pulls <= 8 && !said; pulls++) {
      char order[] = "ABABABAB";
      order[pulls] = 0;
      int before = looking == LOOK_NAIVE ? 0
                   : pulls == first_look ? EW_FIRST_OF_SEVERAL
                                         : pulls - first_look;
      enum ew_verdict verdict = verdict_of(order, today, history, options, 0, before);
      said = truth > 0 ? verdict == EW_VERDICT_GAIN : differs(verdict);
    }
    hits += said;
  }
  gsl_rng_free(random);
  return hits;
}

static void line_looks(struct table *t) {
  begin_line(t, 6, "a look after each of 2 to 8 pulls");
  at_most(t, "false, no term", looked_in(t, LOOK_COUNTED, 0, &plain, 2), trials(t), 0.06);
  at_most(t, "false", looked_in(t, LOOK_COUNTED, 0, &usual, 2), trials(t), 0.06);
  for (int first = 3; first <= 6; first++) {
    char what[60];
    snprintf(what, sizeof what, "false, the first look with %d pulls", first);
    at_most(t, what, looked_in(t, LOOK_COUNTED, 0, &usual, first), trials(t), 0.06);
  }
  at_least(t, "gain seen, B better by 1 %, no term", looked_in(t, LOOK_COUNTED, 0.01, &plain, 2),
           trials(t), 0.84);
  for_the_reader(t, "gain seen, B better by 1 %", looked_in(t, LOOK_COUNTED, 0.01, &usual, 2),
                 trials(t));
  at_least(t, "control: false, looks not counted, no term", looked_in(t, LOOK_NAIVE, 0, &plain, 2),
           trials(t), 0.12);
  end_line(t);
}

/* 7 ------------------------------------------------------------------------------------------- */

struct engine_spark {
  double best, loss; /* loss: a degree squared, 1 % at 5 degrees, 30 % between engines */
};

static struct ew_sweep *sweep_of(gsl_rng *random, struct engine_spark e, struct ew_spread history,
                                 struct ew_sweep_pull *pulls, int *n, int want, gboolean home) {
  for (; *n < want + home; ++*n) {
    double setting = *n < want ? 4.0 * *n : 0, away = setting - e.best;
    pulls[*n] = (struct ew_sweep_pull){.setting = setting,
                                       .log_mean = PULL_SD * normal(random) - e.loss * away * away,
                                       .position = *n,
                                       .knock = NAN};
  }
  struct ew_sweep_options options = {.setting = EW_SWEEP_SPARK,
                                     .margin = 0.005,
                                     .reserve = 2,
                                     .sd = history.sd,
                                     .freedom = history.freedom,
                                     .fit_drift = home};
  return ew_sweep(pulls, (gsize)*n, &options, NULL);
}

static struct engine_spark some_engine(gsl_rng *random, double best) {
  return (struct engine_spark){best, 0.01 / 25 * fmax(0.3, 1 + 0.3 * normal(random))};
}

static void sweep_rows(struct table *t) {
  gsl_rng *random = seeded(701);
  int covered = 0, given_away = 0, said = 0;
  double squares = 0;
  for (int trial = 0; trial < trials(t); trial++) {
    struct ew_sweep_pull pulls[16];
    int n = 0;
    struct engine_spark e = some_engine(random, 12);
    struct ew_sweep *s = sweep_of(random, e, usual_history(random, 6), pulls, &n, 5, TRUE);
    covered += s->best_low <= e.best && e.best <= s->best_high;
    squares += (s->best - e.best) * (s->best - e.best) / trials(t);
    double away = s->chosen - e.best;
    said += !isnan(s->chosen);
    given_away += !isnan(s->chosen) && e.loss * away * away > 0.005;
    ew_sweep_free(s);
  }
  within(t, "the interval holds the best spark (5 points of 4 deg and home)", covered, trials(t),
         0.93, 0.97);
  value_at_most(t, "rms error of the best spark", sqrt(squares), 1.0,
                3 * sqrt(squares) / sqrt(2.0 * trials(t)), "deg");
  at_most(t, "least advance gives away more than the margin", given_away, trials(t), 0.03);
  at_least(t, "least advance said at all", said, trials(t), 0.9);
  gsl_rng_free(random);
}

/* Stepping up by 4 deg from three settings, until the program proposes no next one. */
static void stop_row(struct table *t) {
  gsl_rng *random = seeded(702);
  int past = 0, short_of = 0, n_trials = t->full ? 10000 : 1000;
  for (int trial = 0; trial < n_trials; trial++) {
    struct ew_sweep_pull pulls[16];
    int n = 0;
    struct engine_spark e = some_engine(random, 8 + 12 * gsl_rng_uniform(random));
    struct ew_spread history = usual_history(random, 6);
    gboolean on = TRUE;
    for (int want = 3; on && want <= 12; want++) {
      struct ew_sweep *s = sweep_of(random, e, history, pulls, &n, want, FALSE);
      on = !isnan(s->next);
      ew_sweep_free(s);
    }
    double last = pulls[n - 1].setting - e.best;
    past += last > 2;
    short_of += last < 0 && e.loss * last * last > 0.003;
  }
  at_most(t, "stepping up goes past the best by more than half a step", past, n_trials, 0.10);
  for_the_reader(t, "it stops more than 0.3 % short of the best", short_of, n_trials);
  gsl_rng_free(random);
}

static void line_sweep(struct table *t) {
  begin_line(t, 7, "torque against spark");
  sweep_rows(t);
  stop_row(t);
  end_line(t);
}

/* 8 ------------------------------------------------------------------------------------------- */

static void promise_row(struct table *t, int each, double truth, double margin) {
  gsl_rng *random = seeded(801);
  int promised = 0, settled = 0;
  for (int trial = 0; trial < trials(t) / 2; trial++) {
    double today[MOST_PULLS];
    char order[MOST_PULLS] = "";
    struct ew_value day[MOST_PULLS];
    struct ew_spread history = usual_history(random, 6);
    for (int i = 0; i < 50; i++) {
      today[i] = PULL_SD * normal(random) + (i % 2 ? truth : 0);
      order[i] = i % 2 ? 'B' : 'A';
    }
    order[2 * each] = 0;
    gsize n = day_of(order, today, day);
    struct ew_difference d = ew_difference(day, n, history, &usual);
    if (ew_decide(&d, margin, 0).verdict != EW_VERDICT_UNDECIDED)
      continue;
    int more = ew_pulls_needed(&d, margin);
    if (more == 0)
      continue;
    promised++;
    for (int i = 2 * each; i < 2 * (each + more); i++)
      order[i] = i % 2 ? 'B' : 'A';
    order[2 * (each + more)] = 0;
    settled += verdict_of(order, today, history, &usual, margin, 0) != EW_VERDICT_UNDECIDED;
  }
  char what[120];
  snprintf(what, sizeof what, "as promised, n = %d, true %.1f %%, margin %.1f %% (%d promises)",
           each, 100 * truth, 100 * margin, promised);
  at_least(t, what, settled, promised, 0.70);
  gsl_rng_free(random);
}

static void no_history_row(struct table *t) {
  gsl_rng *random = seeded(802);
  int undecided = 0;
  for (int trial = 0; trial < trials(t); trial++) {
    struct ew_value day[2];
    double today[2] = {PULL_SD * normal(random), PULL_SD * normal(random) + 0.05};
    gsize n = day_of("AB", today, day);
    struct ew_difference d = ew_difference(day, n, usual_history(random, 0), &usual);
    struct ew_decision decision = ew_decide(&d, 0.01, 0);
    undecided += decision.verdict == EW_VERDICT_UNDECIDED && decision.reason &&
                 strcmp(decision.reason->id, "judge.scatter-unknown") == 0;
  }
  at_least(t, "AB without a history: undecided, and why is said", undecided, trials(t), 1);
  gsl_rng_free(random);
}

static void line_promise(struct table *t) {
  begin_line(t, 8, "the pulls said to be needed settle it");
  for (int each = 1; each <= 3; each++)
    for (int k = 0; k <= 2; k++)
      promise_row(t, each, 0.005 * k, 0.01);
  promise_row(t, 2, 0, 0.005);
  promise_row(t, 2, 0.005, 0.005);
  no_history_row(t);
  end_line(t);
}

/* 9 ------------------------------------------------------------------------------------------- */

#define RESTART_SD 0.003 /* pulls in a run scatter by 0.3 %, and each start adds 0.3 % */

/* A history of 6 days with 2 starts of 2 pulls each, and what it teaches at each level. */
static void restart_history(gsl_rng *random, struct ew_spread levels[EW_LEVELS_COUNT]) {
  struct ew_history_pull pull[24];
  gsize n = 0;
  for (int day = 0; day < 6; day++)
    for (int run = 0; run < 2; run++) {
      double start = RESTART_SD * normal(random);
      for (int i = 0; i < 2; i++)
        pull[n++] = (struct ew_history_pull){.kind = day,
                                             .day = day,
                                             .run = 2 * day + run,
                                             .position = i,
                                             .log_mean = start + RESTART_SD * normal(random)};
    }
  ew_learn_spread(pull, n, levels);
}

/* A part is changed between the sides, which needs a stop: every change of side is a restart. */
static void restart_day(gsl_rng *random, const char *order, double *today) {
  double start = 0;
  for (int i = 0; order[i]; i++) {
    if (i == 0 || order[i] != order[i - 1])
      start = RESTART_SD * normal(random);
    today[i] = start + RESTART_SD * normal(random);
  }
}

static void restart_rows(struct table *t, const char *order, gboolean term, gboolean control) {
  gsl_rng *random = seeded(901);
  int consecutive = 0, restart = 0, unsplit = 0;
  for (int trial = 0; trial < trials(t); trial++) {
    double today[MOST_PULLS];
    struct ew_spread levels[EW_LEVELS_COUNT];
    restart_history(random, levels);
    restart_day(random, order, today);
    struct ew_difference_options options = term ? usual : plain;
    consecutive += differs(verdict_of(order, today, levels[EW_LEVEL_CONSECUTIVE], &options, 0, 0));
    options.stop_between = TRUE;
    options.within = levels[EW_LEVEL_CONSECUTIVE];
    restart += differs(verdict_of(order, today, levels[EW_LEVEL_RESTART], &options, 0, 0));
    options.within = (struct ew_spread){0};
    unsplit += differs(verdict_of(order, today, levels[EW_LEVEL_RESTART], &options, 0, 0));
  }
  char what[120];
  snprintf(what, sizeof what, "%s%s, judged by restarts", order, term ? "" : ", no term");
  at_most(t, what, restart, trials(t), 0.06);
  snprintf(what, sizeof what, "%s%s, by restarts, spread within a run not known", order,
           term ? "" : ", no term");
  at_most(t, what, unsplit, trials(t), 0.06);
  snprintf(what, sizeof what, "%s%s, judged by consecutive pulls%s", order, term ? "" : ", no term",
           control ? " (control)" : "");
  if (control)
    at_least(t, what, consecutive, trials(t), 0.25);
  else
    for_the_reader(t, what, consecutive, trials(t));
  gsl_rng_free(random);
}

static void line_restart(struct table *t) {
  begin_line(t, 9, "false gain or loss when a part is changed with the engine stopped");
  restart_rows(t, "AAABBB", FALSE, TRUE);
  restart_rows(t, "AAABBB", TRUE, FALSE);
  restart_rows(t, "ABABAB", FALSE, FALSE);
  restart_rows(t, "ABABAB", TRUE, FALSE);
  restart_rows(t, "AB", TRUE, FALSE);
  end_line(t);
}

/* 10 ------------------------------------------------------------------------------------------ */

enum dropping { DROP_HIDDEN, DROP_COUNTED, DROP_KEPT };

/* Four pulls a side. While there is no gain the operator drops B's worst pull, down to two. A discarded
 * pull that is kept in the comparison leaves it right. One that is left out but counted as a look does
 * not quite: the level can not know that the worst was chosen; so that is held to 8 % only, and the
 * book keeps discarded pulls in. */
static int dropped_in(struct table *t, enum dropping dropping) {
  gsl_rng *random = seeded(1001);
  int hits = 0;
  for (int trial = 0; trial < trials(t); trial++) {
    struct ew_value day[8];
    struct ew_spread history = usual_history(random, 6);
    gsize n = 8;
    for (gsize i = 0; i < n; i++)
      day[i] = (struct ew_value){(int)i % 2, (double)i, PULL_SD * normal(random)};
    for (int dropped = 0;; dropped++) {
      struct ew_difference d = ew_difference(day, n, history, &usual);
      int looks = dropping != DROP_COUNTED ? 0 : dropped ? dropped : EW_FIRST_OF_SEVERAL;
      enum ew_verdict verdict = ew_decide(&d, 0, looks).verdict;
      hits += differs(verdict);
      if (differs(verdict) || dropping == DROP_KEPT || dropped == 2)
        break;
      gsize worst = 1;
      for (gsize i = 0; i < n; i++)
        if (day[i].side == 1 && (day[worst].side == 0 || day[i].log_mean < day[worst].log_mean))
          worst = i;
      memmove(day + worst, day + worst + 1, (n - worst - 1) * sizeof *day);
      n--;
    }
  }
  gsl_rng_free(random);
  return hits;
}

static void line_dropped(struct table *t) {
  begin_line(t, 10, "an operator who drops the worst pull of B until there is a gain");
  at_least(t, "control: false, dropped pulls hidden", dropped_in(t, DROP_HIDDEN), trials(t), 0.10);
  at_most(t, "false, discarded pulls kept in the comparison", dropped_in(t, DROP_KEPT), trials(t),
          0.06);
  at_most(t, "false, discarded pulls counted as looks", dropped_in(t, DROP_COUNTED), trials(t),
          0.08);
  end_line(t);
}

int main(int count, char **arguments) {
  struct table t = {0};
  int only = 0;
  for (int i = 1; i < count; i++) {
    t.full |= strcmp(arguments[i], "--full") == 0;
    if (strcmp(arguments[i], "--line") == 0 && i + 1 < count)
      only = atoi(arguments[i + 1]);
  }
  void (*const lines[])(struct table *) = {
      line_type_one, line_drift,   line_power,   line_band,    line_same,    line_looks,
      line_sweep,    line_promise, line_restart, line_dropped, line_leaning, line_narrowing};
  printf("| line | what | achieved | limit | |\n|---|---|---|---|---|\n");
  for (int k = 0; k < (int)G_N_ELEMENTS(lines); k++)
    if (only == 0 || only == k + 1)
      lines[k](&t);
  printf("[  PASSED  ] %d test(s).\n", t.lines_passed);
  if (t.lines_failed)
    printf("[  FAILED  ] %d test(s).\n", t.lines_failed);
  return t.lines_failed ? 1 : 0;
}
