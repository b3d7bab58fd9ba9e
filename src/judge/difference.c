/* Method: judging rules found by simulation (docs/methods.md, "Verdicts"), checked again by
 * tests/rates:
 * 1. an order in which a side came back carries a linear drift term; in two blocks the slope is that
 *    within the blocks, drawn towards the history's by what is known of each (the same as one augmented
 *    least-squares row); where today's lies further from it than F(.99) of the two, history's spread is taken
 *    as no less than what today shows beyond its own error; a pair has the history's only, and both get its variance;
 * 2. s^2 = (nu0 s_h^2 + SS)/(nu0 + nu_p), nu0 capped; no less than a load cell's reading is fine, or two pulls that are alike by
 *    chance would claim a cell that repeats to nothing;
 * 3. when today is rougher than F(.99) of history, the larger of s^2 and today's is taken;
 * 4. what a stop adds is shared by all pulls of one run and does not average out within it: a stretch of
 *    one side is one run, and counts once. */
#include "judge/difference.h"
#include <gsl/gsl_cdf.h>
#include <math.h>

#define FREEDOM_CAP      12.0
#define UNKNOWN_DRIFT_SD 0.003 /* a pull */
#define FINEST_SD        2e-4 /* one part in 5,000 of a load cell's range; common practice, no source */
#define NOT_BY_CHANCE    0.99 /* of F: today scatters, or drifts, more than history allows */

double ew_lent_freedom(double freedom, int n_a, int n_b) {
  if (n_a == 1 && n_b == 1)
    return fmin(FREEDOM_CAP, 2 * freedom / 3);
  return fmin(FREEDOM_CAP, freedom);
}

static enum ew_order order_of(const struct ew_value *v, gsize n) {
  int changes = 0;
  for (gsize i = 1; i < n; i++)
    changes += v[i].side != v[i - 1].side;
  return n == 2 ? EW_ORDER_PAIR : changes >= 2 ? EW_ORDER_INTERLEAVED : EW_ORDER_BLOCKS;
}

struct sums {
  double n[2], y[2], x[2];
};

static struct sums means_of(const struct ew_value *v, gsize n) {
  struct sums s = {0};
  for (gsize i = 0; i < n; i++)
    g_assert(v[i].side == 0 || v[i].side == 1);
  for (gsize i = 0; i < n; i++)
    s.n[v[i].side]++, s.y[v[i].side] += v[i].log_mean, s.x[v[i].side] += v[i].position;
  for (int k = 0; k < 2; k++)
    s.y[k] /= s.n[k], s.x[k] /= s.n[k];
  return s;
}

/* Least squares of side means and a common slope: within-side sums of products. */
static void fit(const struct ew_value *v, gsize n, gboolean with_slope, struct ew_difference *d,
                double *squares, double *freedom) {
  struct sums s = means_of(v, n);
  double xx = 0, xy = 0, yy = 0;
  for (gsize i = 0; i < n; i++) {
    double x = v[i].position - s.x[v[i].side], y = v[i].log_mean - s.y[v[i].side];
    xx += x * x, xy += x * y, yy += y * y;
  }
  double gap = s.x[1] - s.x[0];
  d->difference = s.y[1] - s.y[0];
  double unit_variance = 1 / s.n[0] + 1 / s.n[1];
  *squares = yy;
  *freedom = (double)n - 2;
  if (with_slope && xx > 0) {
    d->slope = xy / xx;
    d->slope_share = 1;
    d->difference -= d->slope * gap;
    unit_variance += gap * gap / xx;
    *squares = fmax(yy - xy * xy / xx, 0);
    *freedom -= 1;
  }
  d->information = 1 / unit_variance;
}

static void pool(struct ew_difference *d, struct ew_spread history, double squares, double nu_p) {
  g_assert(nu_p >= 0 && !(squares < 0) && d->information > 0);
  double nu0 = history.freedom > 0 ? ew_lent_freedom(history.freedom, d->n_a, d->n_b) : 0;
  double h2 = nu0 > 0 ? history.sd * history.sd : 0;
  double total = nu0 + nu_p, variance = total > 0 ? (nu0 * h2 + squares) / total : (double)NAN;
  if (nu_p >= 1 && nu0 > 0 &&
      squares / nu_p > gsl_cdf_fdist_Pinv(NOT_BY_CHANCE, nu_p, history.freedom) * h2) {
    variance = fmax(variance, squares / nu_p);
    d->rough_today = TRUE;
  }
  variance = variance < FINEST_SD * FINEST_SD ? FINEST_SD * FINEST_SD : variance; /* NaN stays */
  d->sd = sqrt(variance);
  d->sd_freedom = total;
  d->variance = variance / d->information;
  d->freedom = total;
}

static void add_variance(struct ew_difference *d, double added) {
  if (!(added > 0) || d->freedom <= 0)
    return;
  double total = d->variance + added;
  d->freedom = d->variance > 0 ? total * total / (d->variance * d->variance / d->freedom) : 1e6;
  d->variance = total;
}

static double last_less_first(const struct ew_value *v, gsize n) {
  gsize first = n, last = n;
  for (gsize i = 0; i < n; i++)
    if (v[i].side == 0) {
      if (first == n)
        first = i;
      last = i;
    }
  return first < n && last > first + 1 ? v[last].log_mean - v[first].log_mean : (double)NAN;
}

/* sum over runs of (pulls of the run / pulls of its side)^2, both sides. */
static double run_shares(const struct ew_value *v, gsize n, const struct ew_difference *d) {
  double shares = 0, length = 0;
  for (gsize i = 0; i < n; i++) {
    length++;
    if (i + 1 == n || v[i + 1].side != v[i].side) {
      double share = length / (v[i].side ? d->n_b : d->n_a);
      shares += share * share;
      length = 0;
    }
  }
  g_assert(length == 0 && shares > 0 && shares <= 2 + 1e-9); /* one run a side at most */
  return shares;
}

static double squared(double x) {
  return x * x;
}

/* What stops add to the variance of the difference beyond what s^2 already holds. In blocks s^2 is that
 * within runs when it is known; else s^2 holds the whole level for each pull. */
static void add_stops(const struct ew_value *v, gsize n, struct ew_spread history,
                      const struct ew_difference_options *o, struct ew_difference *d) {
  if (!o->stop_between || !(history.freedom > 0) || d->freedom <= 0)
    return;
  gboolean known = o->within.freedom > 0, split = known && d->order == EW_ORDER_BLOCKS;
  g_assert(d->n_a > 0 && d->n_b > 0);
  double level = squared(history.sd);
  double extra = known ? fmax(level - squared(o->within.sd), 0) : level;
  double held = split ? 0 : 1.0 / d->n_a + 1.0 / d->n_b;
  double added = extra * (run_shares(v, n, d) - held);
  if (!(added > 1e-12 * d->variance))
    return;
  double freedom = history.freedom * squared(extra / level), total = d->variance + added;
  d->freedom =
      squared(total) / (squared(d->variance) / d->freedom + squared(added) / fmax(freedom, 1));
  d->variance = total;
}

/* A pair or two blocks: drift can not be told from the change by order alone. */
static void allow_for_drift(const struct ew_value *v, gsize n,
                            const struct ew_difference_options *o, struct ew_difference *d) {
  struct sums s = means_of(v, n);
  double gap = s.x[1] - s.x[0], xx = 0, xy = 0;
  double mean = isnan(o->drift_mean) ? 0 : o->drift_mean;
  double prior = squared(isnan(o->drift_sd) ? UNKNOWN_DRIFT_SD : o->drift_sd);
  for (gsize i = 0; i < n; i++) {
    double x = v[i].position - s.x[v[i].side];
    xx += x * x, xy += x * (v[i].log_mean - s.y[v[i].side]);
  }
  d->slope = mean;
  d->slope_share = 0;
  if (xx > 0 && d->freedom > 0) {
    double own = squared(d->sd) / xx, away = squared(xy / xx - mean);
    d->drift_today =
        away > gsl_cdf_fdist_Pinv(NOT_BY_CHANCE, 1, fmin(d->freedom, 1e6)) * (prior + own);
    if (d->drift_today) /* a day like no day before: its own pulls tell its drift */
      prior = fmax(prior, away - own);
    double weight = prior + own > 0 ? prior / (prior + own) : 0;
    d->slope += weight * (xy / xx - mean);
    d->slope_share = weight;
    d->variance += squared(gap) * weight * own; /* as uncertain as s itself */
  } else
    add_variance(d, squared(gap) * prior);
  d->difference -= d->slope * gap;
}

struct ew_difference ew_difference(const struct ew_value *v, gsize n, struct ew_spread history,
                                   const struct ew_difference_options *options) {
  struct ew_difference d = {0};
  for (gsize i = 0; i < n; i++)
    v[i].side ? d.n_b++ : d.n_a++;
  g_assert(d.n_a > 0 && d.n_b > 0);
  d.order = order_of(v, n);
  d.first_to_last = last_less_first(v, n);
  gboolean drift = !options->no_drift_term;
  gboolean within =
      options->stop_between && d.order == EW_ORDER_BLOCKS && options->within.freedom > 0;
  double squares, nu_p;
  fit(v, n, drift && d.order != EW_ORDER_PAIR, &d, &squares, &nu_p);
  if (drift && d.order == EW_ORDER_BLOCKS) { /* the scatter about the slope, but not the slope */
    double about = squares, left = nu_p;
    fit(v, n, FALSE, &d, &squares, &nu_p);
    squares = about, nu_p = left;
  }
  pool(&d, within ? options->within : history, squares, nu_p);
  if (drift && d.order != EW_ORDER_INTERLEAVED)
    allow_for_drift(v, n, options, &d);
  add_stops(v, n, history, options, &d);
  add_variance(&d, options->added_variance);
  g_assert(d.information > 0 && !(d.variance < 0) && !(d.freedom < 0));
  d.uncertain_history = d.n_a == 1 && d.n_b == 1 && history.freedom < 3;
  return d;
}

void ew_difference_weights(const struct ew_value *v, gsize n, const struct ew_difference *d,
                           double *weight) {
  struct sums s = means_of(v, n);
  double xx = 0;
  g_assert(s.n[0] > 0 && s.n[1] > 0);
  for (gsize i = 0; i < n; i++)
    xx += squared(v[i].position - s.x[v[i].side]);
  for (gsize i = 0; i < n; i++) {
    double by_slope = xx > 0 ? (v[i].position - s.x[v[i].side]) * (s.x[1] - s.x[0]) / xx : 0;
    weight[i] = (v[i].side ? 1 : -1) / s.n[v[i].side] - d->slope_share * by_slope;
  }
}

double ew_half_width(const struct ew_difference *d, double alpha) {
  g_assert(alpha > 0 && alpha < 1);
  if (!(d->freedom > 0) || isnan(d->variance))
    return INFINITY;
  return gsl_cdf_tdist_Pinv(1 - alpha / 2, fmin(d->freedom, 1e6)) * sqrt(d->variance);
}
