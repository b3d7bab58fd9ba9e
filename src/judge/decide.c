/* Intervals to a verdict, with the levels of repeated looks (alpha t^1.5 spending), and how many pulls it would
 * take, by draws with a fixed seed. The order of the rules is decide.h's. */
#include "judge/decide.h"
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>

const char *const ew_verdict_keys[] = {
#define X(id, key, words) key,
    EW_VERDICTS(X)
#undef X
        NULL};
const char *const ew_verdict_words[] = {
#define X(id, key, words) words,
    EW_VERDICTS(X)
#undef X
        NULL};

EW_MESSAGE(word_gain, "verdict.gain", EW_NOTE, "gain");
EW_MESSAGE(word_loss, "verdict.loss", EW_NOTE, "loss");
EW_MESSAGE(word_same, "verdict.same", EW_NOTE, "same");
EW_MESSAGE(word_undecided, "verdict.undecided", EW_NOTE, "can't tell yet");
EW_MESSAGE(word_not_comparable, "verdict.not-comparable", EW_NOTE, "not comparable");

const struct ew_message_kind *ew_verdict_word(enum ew_verdict verdict) {
  static const struct ew_message_kind *const words[] = {[EW_VERDICT_GAIN] = &word_gain,
                                                        [EW_VERDICT_LOSS] = &word_loss,
                                                        [EW_VERDICT_SAME] = &word_same,
                                                        [EW_VERDICT_UNDECIDED] = &word_undecided,
                                                        [EW_VERDICT_NOT_COMPARABLE] =
                                                            &word_not_comparable};
  g_assert(verdict < EW_VERDICTS_COUNT);
  return words[verdict];
}

EW_MESSAGE(scatter_unknown, "judge.scatter-unknown", EW_NOTE,
           "one pull a side and no earlier like pulls: how well this cell repeats is not known");
EW_MESSAGE(too_few_pulls, "judge.too-few-pulls", EW_NOTE,
           "no earlier like pulls and too few of today: how well this cell repeats is not known");
EW_MESSAGE(history_thin, "judge.history-thin", EW_NOTE,
           "one pull a side, and too few earlier like pulls to know how well this cell repeats");
EW_MESSAGE(eight_looked_at, "judge.eight-looked-at", EW_NOTE,
           "eight pulls were already looked at: start again with fresh pulls");
EW_MESSAGE(holds_both, "judge.interval-holds-both", EW_NOTE,
           "the interval includes both no change and more than the margin");

double ew_spending_level(int total) {
  static const double levels[] = {0, 0, .0063, .0059, .0114, .0126, .0183, .0207, .0270};
  return total >= 2 && total <= 8 ? levels[total] : 0;
}

static const struct ew_message_kind *why_undecided(const struct ew_difference *d) {
  if (d->freedom <= 0)
    return d->n_a == 1 && d->n_b == 1 ? &scatter_unknown : &too_few_pulls;
  if (d->uncertain_history)
    return &history_thin;
  return NULL;
}

/* A verdict is what its interval says, and nothing else. */
static void check_decision(const struct ew_decision *d, double margin) {
  g_assert(d->alpha > 0 && d->alpha < 1);
  g_assert(!(d->low > d->high) && !(d->same_low > d->same_high));
  g_assert(d->verdict != EW_VERDICT_GAIN || d->low > 0);
  g_assert(d->verdict != EW_VERDICT_LOSS || d->high < 0);
  g_assert(d->verdict != EW_VERDICT_SAME || margin > 0);
}

/* Pulls as the spending of looks counts them. A side that is far ahead (all pulls of a day that stand for A) adds little information, and
 * would spend what the other side's next pulls need. */
static int pulls_that_tell(const struct ew_difference *d) {
  return MIN(d->n_a + d->n_b, 2 * MIN(d->n_a, d->n_b) + 1);
}

struct ew_decision ew_decide(const struct ew_difference *d, double margin, int looks_before) {
  struct ew_decision decision = {.verdict = EW_VERDICT_UNDECIDED, .alpha = 0.05};
  gboolean again = looks_before != 0;
  g_assert(d->n_a > 0 && d->n_b > 0);
  if (looks_before == EW_FIRST_OF_SEVERAL)
    decision.alpha = 0.05 * pow(fmin(pulls_that_tell(d) / 8.0, 1), 1.5);
  else if (again)
    decision.alpha = ew_spending_level(pulls_that_tell(d));
  gboolean spent = again && decision.alpha == 0;
  if (spent)
    decision.alpha = ew_spending_level(8);
  double half = ew_half_width(d, decision.alpha);
  double same_half = ew_half_width(d, again ? 2 * decision.alpha : 0.10);
  decision.low = d->difference - half;
  decision.high = d->difference + half;
  decision.same_low = d->difference - same_half;
  decision.same_high = d->difference + same_half;
  decision.reason = why_undecided(d);
  if (decision.reason)
    return decision;
  gboolean differs = decision.low > 0 || decision.high < 0;
  if (margin > 0 && decision.same_low > -margin && decision.same_high < margin) {
    decision.verdict = EW_VERDICT_SAME;
    decision.real_but_small = differs;
  } else if (spent)
    decision.reason = &eight_looked_at;
  else if (differs)
    decision.verdict = d->difference > 0 ? EW_VERDICT_GAIN : EW_VERDICT_LOSS;
  else
    decision.reason = &holds_both;
  check_decision(&decision, margin);
  return decision;
}

static double margin_of(double sd, double freedom, int n_a, int n_b) {
  g_assert(n_a > 0 && n_b > 0 && freedom > 0);
  return (gsl_cdf_tdist_Pinv(.95, freedom) + gsl_cdf_tdist_Pinv(.90, freedom)) * sd *
         sqrt(1.0 / n_a + 1.0 / n_b);
}

int ew_pulls_needed(const struct ew_difference *d, double margin) {
  if (!(d->freedom > 0) || !(d->sd > 0))
    return 0;
  double i0 = 1 / (d->variance / (d->sd * d->sd));
  gsl_rng *random = gsl_rng_alloc(gsl_rng_mt19937);
  int answer = 0;
  for (int j = 1; j <= 15 && !answer; j++) {
    double a = d->n_a + j, b = d->n_b + j, i1 = a * b / (a + b), freedom = d->freedom + 2 * j;
    double gain = fmax(1 / i0 - 1 / i1, 0);
    double t_outside = gsl_cdf_tdist_Pinv(.975, freedom),
           t_inside = gsl_cdf_tdist_Pinv(.95, freedom);
    int settled = 0;
    gsl_rng_set(random, 20261);
    for (int k = 0; k < 2000; k++) {
      double sigma = d->sd * sqrt(d->freedom / gsl_ran_chisq(random, d->freedom));
      double future = d->difference + sigma * sqrt(gain) * gsl_ran_gaussian(random, 1);
      double se = sigma / sqrt(i1);
      settled +=
          fabs(future) > t_outside * se || (margin > 0 && fabs(future) + t_inside * se < margin);
    }
    if (settled >= 1600)
      answer = j;
  }
  gsl_rng_free(random);
  return answer;
}

double ew_smallest_margin(struct ew_spread history, int n_a, int n_b) {
  double freedom = ew_lent_freedom(history.freedom, n_a, n_b) + n_a + n_b - 2;
  return history.freedom > 0 && history.sd > 0 ? margin_of(history.sd, freedom, n_a, n_b)
                                               : (double)NAN;
}

double ew_smallest_margin_today(const struct ew_difference *d) {
  return d->freedom > 0 && d->sd > 0 ? margin_of(d->sd, d->freedom, d->n_a, d->n_b) : (double)NAN;
}
