/* Slopes b_i of runs of three like pulls or more, each known to v_i = s²/S_xx,i; b_i ~ N(m, tau² + v_i). What scatter makes of three
 * pulls' slope is several times what the engine drifts, so the plain spread of the b_i says little of tau. The likelihood of tau, m
 * integrated out (restricted: Patterson and Thompson, Biometrika 58, 1971; from memory), times a half-normal prior of 0.15 % a pull,
 * on a grid; tau² is its mean, and the variance of m is added, since both are open in the next run's slope. O(n²) in pulls. */
#include "base/elementary.h"
#include "judge/history.h"
#include <math.h>

#define LEAST_RUNS  4
#define LEAST_PULLS 3
#define PRIOR_SD    0.0015 /* common practice, no source; as in the day's model */
#define GRID        40
#define GRID_TO     (4 * PRIOR_SD)

static gboolean one_run(const struct ew_history_pull *a, const struct ew_history_pull *b) {
  return a->kind == b->kind && a->mounting == b->mounting && a->day == b->day && a->run == b->run;
}

static gboolean is_known(const struct ew_history_pull *p) {
  return isfinite(p->log_mean) && isfinite(p->position);
}

/* Slope of the run that pull `of` begins; FALSE: it begins none, or too short a one. */
static gboolean slope_of(const struct ew_history_pull *p, gsize n, gsize of, double *slope,
                         double *xx) {
  g_assert(of < n);
  double count = 0, x = 0, y = 0, xy = 0;
  *xx = 0;
  for (gsize j = 0; j < n; j++) {
    if (!one_run(&p[j], &p[of]) || !is_known(&p[j]))
      continue;
    if (j < of)
      return FALSE;
    count++, x += p[j].position, y += p[j].log_mean;
  }
  if (!is_known(&p[of]) || count < LEAST_PULLS)
    return FALSE;
  for (gsize j = of; j < n; j++)
    if (one_run(&p[j], &p[of]) && is_known(&p[j])) {
      double dx = p[j].position - x / count;
      *xx += dx * dx, xy += dx * (p[j].log_mean - y / count);
    }
  *slope = *xx > 0 ? xy / *xx : 0;
  return *xx > 0;
}

struct at_tau {
  double mean, variance, log_likelihood;
};

static struct at_tau at(const double *slope, const double *v, gsize runs, double tau) {
  double w = 0, wb = 0, logs = 0, squares = 0;
  for (gsize i = 0; i < runs; i++) {
    double total = tau * tau + v[i];
    w += 1 / total, wb += slope[i] / total, logs += ew_log(total);
  }
  for (gsize i = 0; i < runs; i++) {
    double away = slope[i] - wb / w;
    squares += away * away / (tau * tau + v[i]);
  }
  double z = tau / PRIOR_SD;
  return (struct at_tau){wb / w, 1 / w, -(logs + ew_log(w) + squares + z * z) / 2};
}

void ew_learn_drift(const struct ew_history_pull *pulls, gsize n, double sd, double *mean,
                    double *spread) {
  g_autofree double *slope = g_new(double, n + 1), *v = g_new(double, n + 1);
  gsize runs = 0;
  *mean = *spread = NAN;
  for (gsize i = 0; i < n; i++)
    if (slope_of(pulls, n, i, &slope[runs], &v[runs])) {
      v[runs] = sd * sd / v[runs];
      runs++;
    }
  if (runs < LEAST_RUNS || !(sd > 0) || !isfinite(sd))
    return;
  double most = -INFINITY, sum = 0, means = 0, squares = 0;
  for (int k = 0; k < GRID; k++)
    most = fmax(most, at(slope, v, runs, GRID_TO * k / GRID).log_likelihood);
  for (int k = 0; k < GRID; k++) {
    double tau = GRID_TO * k / GRID;
    struct at_tau a = at(slope, v, runs, tau);
    double weight = ew_exp(a.log_likelihood - most);
    sum += weight;
    means += weight * a.mean;
    squares += weight * (tau * tau + a.variance);
  }
  *mean = means / sum;
  *spread = sqrt(squares / sum);
  g_assert(*spread > 0);
}
