/* The average of processes of surrogate.h: the likeliest lengths are sought, then a walk about them by likelihood and prior takes what
 * else the designs allow.
 *
 *   [standardise] -> likeliest (BOBYQA) -> walk, a share of it thrown away -> members -> each learned on all designs, and its trust
 *
 *   mean = average of the members' means;  band² = t² (average of band² + spread² of the means),  t² = (n - 1) / (n - 3)
 *
 * as s² is learned too (Student's t has that much more spread). */
#include "search/surrogate.h"
#include "base/elementary.h"
#include "base/error.h"
#include "search/process.h"
#include "search/space.h"
#include <math.h>
#include <nlopt.h>
#include <string.h>

#define LENGTH_LEAST 0.05
#define LENGTH_MOST  30.0
#define NOISE_LEAST  1e-7
#define NOISE_MOST   0.3
#define PRIOR_SPREAD 1.5
#define TRIALS_EACH  40
#define WALK         96 /* turns; a turn tries each length and the noise */
#define WALK_ON      32 /* the same where another walk is gone on from */
#define STEP         1.0
#define WORTH_LEAST  0.6
#define WORTH_MOST   2.5
#define WORTH_SPARE                                                                                \
  1.1 /* chosen on the 36 rows of docs/benchmarks-search.md, Bands: not independent of them */
#define GLANCE 4 /* every fourth member */

struct ew_surrogate {
  int n, dimensions;
  double mean, spread; /* of the figures as given; spread 0: all the same */
  double *likeliest;   /* logs of lengths and noise */
  double likelihood;   /* of those */
  double likely_noise; /* standard deviation */
  double t, worth;     /* worth: of the band, for people */
  int members;
  struct ew_process *member[EW_SURROGATE_MEMBERS];
};

static void take(struct ew_process *p, const double *logs) {
  for (int j = 0; j < p->dimensions; j++)
    p->lengths[j] = ew_exp(logs[j]);
  p->noise = ew_exp(logs[p->dimensions]);
}

static double least_of(const struct ew_process *p, int j) {
  return ew_log(j < p->dimensions ? LENGTH_LEAST : NOISE_LEAST);
}
static double most_of(const struct ew_process *p, int j) {
  return ew_log(j < p->dimensions ? LENGTH_MOST : NOISE_MOST);
}

/* Less is better: what NLopt is handed, */
static double unlikely(unsigned n, const double *logs, double *gradient, void *data) {
  struct ew_process *p = data;
  (void)gradient;
  g_assert(n == (unsigned)p->dimensions + 1);
  take(p, logs);
  double prior = 0;
  for (int j = 0; j < p->dimensions; j++)
    prior += logs[j] * logs[j] / (2 * PRIOR_SPREAD * PRIOR_SPREAD);
  return ew_process_learn(p) ? prior - p->likelihood : 1e10;
}

/* logs: where it begins, and then where it ended. */
static double seek(struct ew_process *p, double step, int trials, double *logs) {
  unsigned n = (unsigned)p->dimensions + 1;
  g_autofree double *low = g_new(double, n), *high = g_new(double, n);
  for (unsigned j = 0; j < n; j++) {
    low[j] = least_of(p, (int)j);
    high[j] = most_of(p, (int)j);
    logs[j] = CLAMP(logs[j], low[j], high[j]);
  }
  nlopt_opt opt = nlopt_create(NLOPT_LN_BOBYQA, n);
  nlopt_set_lower_bounds(opt, low);
  nlopt_set_upper_bounds(opt, high);
  nlopt_set_min_objective(opt, unlikely, p);
  nlopt_set_initial_step1(opt, step);
  nlopt_set_xtol_abs1(opt, 0.01);
  nlopt_set_ftol_abs(opt, 0.01);
  nlopt_set_maxeval(opt, trials);
  double least = 1e10;
  nlopt_optimize(opt, logs, &least); /* rounding may end it: the logs are its best all the same */
  nlopt_destroy(opt);
  return least;
}

static void start_at(const struct ew_process *p, double length, double noise, double *logs) {
  for (int j = 0; j <= p->dimensions; j++)
    logs[j] = ew_log(j < p->dimensions ? length : noise);
}

/* logs[dimensions + 1]: the likeliest. */
static void fit(struct ew_process *p, const struct ew_surrogate *before, double *logs) {
  int trials = TRIALS_EACH * (p->dimensions + 2);
  if (before && before->likeliest) {
    memcpy(logs, before->likeliest, sizeof(double) * (gsize)(p->dimensions + 1));
    seek(p, 0.25, trials / 5, logs);
    return;
  }
  g_autofree double *other = g_new0(double, p->dimensions + 1);
  start_at(p, 0.5, 1e-3, logs);
  start_at(p, 2, 1e-5, other);
  double first = seek(p, 0.7, trials, logs), second = seek(p, 0.7, trials, other);
  if (second < first)
    memcpy(logs, other, sizeof(double) * (gsize)(p->dimensions + 1));
}

/* ---- the walk: Metropolis, one length after the other; steps grow and shrink until about two of five are taken ---- */

struct walk {
  struct ew_process *p;
  double *logs, *step, now;
  guint64 random;
};

static void walk_turn(struct walk *w) {
  for (int j = 0; j <= w->p->dimensions; j++) {
    double before = w->logs[j], draw = 0;
    for (int k = 0; k < 3; k++)
      draw += 2 * ew_random_share(&w->random) - 1; /* nearly normal, of spread 1 */
    double chance =
        ew_random_share(&w->random); /* drawn always: the sequence does not hang on rounding */
    w->logs[j] += w->step[j] * draw;
    gboolean inside = w->logs[j] >= least_of(w->p, j) && w->logs[j] <= most_of(w->p, j);
    double then = inside ? unlikely((unsigned)w->p->dimensions + 1, w->logs, NULL, w->p) : 1e10;
    if (chance < ew_exp(CLAMP(w->now - then, -50, 0))) {
      w->now = then;
      w->step[j] *= 1.2;
    } else {
      w->logs[j] = before;
      w->step[j] *= 0.9;
    }
  }
}

/* logs[members x (dimensions + 1)]: the likeliest first, then where the walk stood at even distances. */
static void walk(struct ew_process *p, const double *likeliest, int turns, int members,
                 double *logs) {
  int n = p->dimensions + 1;
  g_autofree double *at = g_memdup2(likeliest, sizeof(double) * (gsize)n);
  g_autofree double *step = g_new(double, n);
  struct walk w = {p, at, step, unlikely((unsigned)n, at, NULL, p), (guint64)p->n};
  for (int j = 0; j < n; j++)
    step[j] = j + 1 < n ? STEP : 2 * STEP;
  for (int m = 0; m < members; m++) {
    for (int turn = m * turns / members; turn < (m + 1) * turns / members; turn++)
      walk_turn(&w);
    memcpy(logs + m * n, at, sizeof(double) * (gsize)n);
  }
}

/* ---- learned ---- */

/* Every k-th design: those come in an order that fills the cube. */
static struct ew_process *thinned(const double *x, const double *y, int n, int dimensions) {
  int most = MIN(n, EW_SURROGATE_FIT_MOST);
  g_autofree double *points = g_new(double, (gsize)most *(gsize)dimensions);
  g_autofree double *figures = g_new(double, most);
  for (int i = 0; i < most; i++) {
    gsize from = (gsize)((gint64)i * n / most);
    memcpy(points + (gsize)i * (gsize)dimensions, x + from * (gsize)dimensions,
           sizeof(double) * (gsize)dimensions);
    figures[i] = y[from];
  }
  return ew_process_new(points, figures, most, dimensions);
}

static void spread_of(const double *y, int n, double *mean, double *spread) {
  g_assert(n > 0);
  double sum = 0, square = 0;
  for (int i = 0; i < n; i++)
    sum += y[i];
  *mean = sum / n;
  for (int i = 0; i < n; i++)
    square += (y[i] - *mean) * (y[i] - *mean);
  *spread = sqrt(square / (n - 1));
  if (!(*spread > 1e-12 * fabs(*mean)))
    *spread = 0;
}

static gboolean check(const double *y, int n, GError **error) {
  if (n < 4 || n > EW_SURROGATE_MOST)
    return ew_refuse(error, "%d designs: a surrogate is learned from 4 to %d", n,
                     EW_SURROGATE_MOST);
  for (int i = 0; i < n; i++)
    if (!isfinite(y[i]))
      return ew_refuse(error, "design %d has no figure: leave it out", i);
  return TRUE;
}

/* Figures as they are handled; g_free. */
static double *standardised(struct ew_surrogate *s, const double *y) {
  double *own = g_new(double, s->n);
  spread_of(y, s->n, &s->mean, &s->spread);
  for (int i = 0; i < s->n; i++)
    own[i] = s->spread > 0 ? (y[i] - s->mean) / s->spread : 0;
  return own;
}

/* One member more, of lengths and noise. */
static gboolean add_member(struct ew_surrogate *s, const double *x, const double *y,
                           const double *lengths, double noise, GError **error) {
  struct ew_process *p = ew_process_new(x, y, s->n, s->dimensions);
  g_assert(s->members < EW_SURROGATE_MEMBERS);
  memcpy(p->lengths, lengths, sizeof(double) * (gsize)s->dimensions);
  p->noise = noise;
  s->member[s->members++] = p;
  while (!ew_process_learn(p)) { /* designs so alike that they cannot be told apart */
    p->noise = MAX(10 * p->noise, NOISE_LEAST);
    if (p->noise > 1)
      return ew_fail(error, "the surrogate could not be learned from %d designs", s->n);
  }
  return TRUE;
}

static struct ew_surrogate *begun(int n, int dimensions) {
  struct ew_surrogate *s = g_new0(struct ew_surrogate, 1);
  *s = (struct ew_surrogate){.n = n, .dimensions = dimensions, .t = 1, .worth = 1};
  return s;
}

static void remember(struct ew_surrogate *s, const struct ew_process *p) {
  s->likelihood = p->likelihood;
  s->likely_noise = s->spread * sqrt(p->s2 * p->noise);
}

struct ew_surrogate *ew_surrogate_given(const double *x, const double *y, int n, int dimensions,
                                        const double *lengths, double noise, GError **error) {
  if (!check(y, n, error))
    return NULL;
  g_autoptr(ew_surrogate) s = begun(n, dimensions);
  g_autofree double *own = standardised(s, y);
  if (s->spread > 0 && !add_member(s, x, own, lengths, noise, error))
    return NULL;
  s->likeliest = g_new0(double, dimensions + 1);
  for (int j = 0; j <= dimensions; j++)
    s->likeliest[j] = ew_log(j < dimensions ? lengths[j] : noise);
  if (s->members > 0)
    remember(s, s->member[0]);
  return g_steal_pointer(&s);
}

/* Many designs leave little doubt of the lengths, and a member each of them would cost memory: no more in all than
 * EW_SURROGATE_MEMBERS of EW_SURROGATE_FIT_MOST designs have, or one. */
static int members_for(int n) {
  double share = (double)EW_SURROGATE_FIT_MOST * EW_SURROGATE_FIT_MOST / ((double)n * n);
  return (int)CLAMP(EW_SURROGATE_MEMBERS * share, 1, EW_SURROGATE_MEMBERS);
}

static gboolean learn_members(struct ew_surrogate *s, const double *x, const double *y,
                              const struct ew_surrogate *before, GError **error) {
  int n = s->dimensions + 1, most = members_for(s->n);
  struct ew_process *p = thinned(x, y, s->n, s->dimensions);
  g_autofree double *logs = g_new(double, EW_SURROGATE_MEMBERS *(gsize)n);
  gboolean gone_on = before && before->likeliest;
  s->likeliest = g_new(double, n);
  fit(p, before, s->likeliest);
  unlikely((unsigned)n, s->likeliest, NULL, p);
  remember(s, p);
  memcpy(logs, s->likeliest, sizeof(double) * (gsize)n);
  if (most > 1)
    walk(p, s->likeliest, gone_on ? WALK_ON : WALK, most, logs);
  gboolean good = TRUE;
  for (int m = 0; good && m < most; m++) {
    take(p, logs + m * n);
    good = add_member(s, x, y, p->lengths, p->noise, error);
    if (good)
      s->member[m]->trust = ew_process_trust(s->member[m]);
  }
  ew_process_free(p);
  return good;
}

struct ew_surrogate *ew_surrogate_new(const double *x, const double *y, int n, int dimensions,
                                      const struct ew_surrogate *before, GError **error) {
  g_assert(!before || before->dimensions == dimensions);
  if (!check(y, n, error))
    return NULL;
  g_autoptr(ew_surrogate) s = begun(n, dimensions);
  g_autofree double *own = standardised(s, y);
  s->t = sqrt((n - 1.0) / (n - 3.0));
  if (s->spread > 0 && !learn_members(s, x, own, before, error))
    return NULL;
  return g_steal_pointer(&s);
}

void ew_surrogate_free(struct ew_surrogate *s) {
  if (!s)
    return;
  for (int m = 0; m < s->members; m++)
    ew_process_free(s->member[m]);
  g_free(s->likeliest);
  g_free(s);
}

/* ---- what a band is worth ---- */

/* The average's own miss of one design, and the square of its band, as ask_members has them. at: by members, n apart. */
static void left_out_of_all(const struct ew_surrogate *s, const double *miss, const double *band2,
                            double *own, double *square) {
  *own = *square = 0;
  for (int m = 0; m < s->members; m++)
    *own += miss[m * s->n] / s->members;
  for (int m = 0; m < s->members; m++) {
    double trust = s->member[m]->trust, apart = miss[m * s->n] - *own;
    *square += (apart * apart + trust * trust * band2[m * s->n]) / s->members;
  }
}

void ew_surrogate_weigh(struct ew_surrogate *s, int even) {
  gsize n = (gsize)s->n, most = MAX(n * (gsize)s->members, 1);
  g_autofree double *miss = g_new(double, most), *band2 = g_new(double, most);
  double missed = 0, band = 0;
  for (gsize m = 0; m < (gsize)s->members; m++)
    ew_process_left_out(s->member[m], miss + m * n, band2 + m * n);
  for (int i = 0; i < MIN(even, s->n); i++) {
    double mean, square;
    left_out_of_all(s, miss + i, band2 + i, &mean, &square);
    if (square > 0) {
      missed += mean * mean / square;
      band += 1;
    }
  }
  double worth = band > 0 ? CLAMP(sqrt(missed / band) / s->t, WORTH_LEAST, WORTH_MOST) : 1;
  s->worth = WORTH_SPARE * (even < s->n ? fmax(worth, 1) : worth);
}

/* ---- asked ---- */

typedef double (*width_of)(const struct ew_process *p, const double *x);

/* Of every step-th member; width NULL: none asked for, and *wide is 0. */
static void ask_members(const struct ew_surrogate *s, const double *x, int step, double *mean,
                        width_of width, double *wide) {
  double own[EW_SURROGATE_MEMBERS], average = 0, square = 0;
  int n = (s->members + step - 1) / step;
  for (int m = 0; m < n; m++) {
    const struct ew_process *p = s->member[m * step];
    own[m] = ew_process_mean(p, x);
    average += own[m] / n;
    double w = width ? width(p, x) : 0;
    square += w * w / n;
  }
  for (int m = 0; m < n; m++)
    square += (own[m] - average) * (own[m] - average) / n;
  *mean = s->mean + s->spread * average;
  *wide = width ? s->t * s->spread * sqrt(square) : 0;
}

double ew_surrogate_mean(const struct ew_surrogate *s, const double *x) {
  double mean, none;
  ask_members(s, x, 1, &mean, NULL, &none);
  return mean;
}

double ew_surrogate_band(const struct ew_surrogate *s, const double *x) {
  double mean, band;
  ask_members(s, x, 1, &mean, ew_process_band, &band);
  return band;
}

double ew_surrogate_doubt(const struct ew_surrogate *s, const double *x) {
  double mean, doubt;
  ask_members(s, x, 1, &mean, ew_process_doubt, &doubt);
  return doubt;
}

double ew_surrogate_told(const struct ew_surrogate *s, const double *x) {
  return s->worth * ew_surrogate_band(s, x);
}

void ew_surrogate_glance(const struct ew_surrogate *s, const double *x, double *mean,
                         double *band) {
  double none;
  ask_members(s, x, GLANCE, mean, band ? ew_process_band : NULL, band ? band : &none);
}

struct ew_surrogate *ew_surrogate_believing(const struct ew_surrogate *s, const double *x) {
  struct ew_surrogate *q = g_memdup2(s, sizeof *s);
  double y = s->spread > 0 ? (ew_surrogate_mean(s, x) - s->mean) / s->spread : 0;
  q->n++;
  if (s->likeliest)
    q->likeliest = g_memdup2(s->likeliest, sizeof(double) * (gsize)(s->dimensions + 1));
  for (int m = 0; m < s->members; m++)
    q->member[m] = ew_process_with(s->member[m], x, y);
  return q;
}

double ew_surrogate_length(const struct ew_surrogate *s, int dimension) {
  g_assert(dimension >= 0 && dimension < s->dimensions);
  return s->likeliest ? ew_exp(s->likeliest[dimension]) : 1;
}

double ew_surrogate_noise(const struct ew_surrogate *s) {
  return s->likely_noise;
}

double ew_surrogate_likelihood(const struct ew_surrogate *s) {
  return s->spread > 0 ? s->likelihood - (s->n - 1) * ew_log(s->spread) : INFINITY;
}
