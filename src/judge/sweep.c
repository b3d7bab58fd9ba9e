/* Steps: 1. augmented least squares y = b0 + b1 u + b2 u^2 + b3 u^3 + b4 position, u centred, with
 * rows that lend what is usual: (s/(0.35 c0)) (b2 + c0) = 0 the curvature, (s/(0.15 c0/shift)) b3 = 0
 * the lean, and (s/0.15 %) b4 = 0 the drift, unless the order of the pulls fits it. Without the cubic
 * row a curve that leans by 10 to 20 % is read as one that does not, and the interval is too short;
 * 2. the best and its interval from draws of the t posterior, each held to a curve that has a best;
 * 3. the least setting whose loss from the best is below the margin in 95 % of the draws, on a grid
 * inside the tested range; 4. the chance that one more step gains over 0.3 %; 5. where no step is worth it and the
 * interval is still wide: of the settings 6 degrees to either side of the best (4 from the tenth pull on; lambda 0.036
 * and 0.024) the one that takes more variance from the best, by one update of the covariance (optimal design by the
 * c-criterion: Pukelsheim, Optimal Design of Experiments, 1993, chapter 2; from memory). Never outside what was tested,
 * nor nearer than the reserve to any knock count. */
#include "judge/sweep_behind.h"
#include "base/message.h"
#include "base/error.h"
#include "base/statistics.h"
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>

#define DRAWS        4000
#define WORTH        0.003
#define CURVE_TERMS  4    /* b0 to b3; drift comes behind them */
#define CURVATURE_SD 0.35 /* of the usual curvature, between engines */
#define LEAN_SD      0.15 /* loss gained or spared by leaning at one shift, of the usual loss there */
#define DRIFT_SD     0.0015 /* a pull, where the order does not fit it */
#define TURNS        30     /* of the search for where the curve is measured from */
#define SETTLED      1e-9   /* shifts */
#define LEAST        0.2    /* of the usual curvature: no flatter best is believed */

static const struct {
  double curvature, shift, grid; /* usual loss a unit^2; loss at `shift` */
  double apart; /* settings nearer than this are the same one: common practice, no source */
  const char *unit;
  double wanted; /* half-width of the best that is good enough: common practice, no source */
} usual[] = {
    [EW_SWEEP_SPARK] = {0.01 / 25, 5, 0.5, 0.3, "deg", 1}, /* 1 % at 5 degrees */
    [EW_SWEEP_MIXTURE] = {0.003 / (0.03 * 0.03), 0.03, 0.005, 0.005, "lambda",
                          0.01}, /* 0.3 % at 0.03 */
};
#define WIDE_REACH 1.2 /* shifts from the best at which pulls tell most of it */
#define CLOSE_REACH                                                                                \
  0.8 /* from CLOSE_FROM pulls on: the lean is known by then, and less torque is given away */
#define CLOSE_FROM 10

double ew_sweep_apart(enum ew_sweep_setting setting) {
  g_assert((gsize)setting < G_N_ELEMENTS(usual));
  return usual[setting].apart;
}

void ew_sweep_free(struct ew_sweep *s) {
  if (!s)
    return;
  ew_message_free(s->reason);
  ew_message_free(s->narrow_says);
  g_free(s->setting);
  g_free(s->loss);
  g_free(s->loss_se);
  g_free(s->pull_setting);
  g_free(s->pull_loss);
  g_free(s->pull_moves);
  g_ptr_array_unref(s->assumed);
  g_ptr_array_unref(s->costs);
  g_ptr_array_unref(s->warnings);
  g_free(s);
}

EW_MESSAGE(next_step, "judge.sweep-next", EW_NOTE,
           "the next step to {setting} gains more than 0.3 % with a chance of {chance}");
EW_MESSAGE(stop_sure, "judge.sweep-stop-sure", EW_NOTE,
           "stop: the next step gains more than 0.3 % with a chance of less than 1 %");
EW_MESSAGE(stop_likely, "judge.sweep-stop", EW_NOTE,
           "stop: the next step gains more than 0.3 % with a chance of only {chance}");
EW_MESSAGE_MANY(
    narrow_by, "judge.sweep-narrow", EW_NOTE,
    "the best is known to ±{half}; to know it better, run {setting} next: about {pulls} "
    "more pull brings ±{wanted}",
    "the best is known to ±{half}; to know it better, run {setting} next: about {pulls} "
    "more pulls bring ±{wanted}");
EW_MESSAGE(narrow_far, "judge.sweep-narrow-far", EW_NOTE,
           "the best is known to ±{half}; to know it better, run {setting} next; ±{wanted} takes "
           "more than {pulls} pulls");
EW_MESSAGE(not_bracketed, "judge.not-bracketed", EW_CAUTION,
           "the best is not bracketed: it is outside what was tested, and where it is is a guess");
EW_MESSAGE(drift_not_fitted, "judge.drift-not-fitted", EW_CAUTION,
           "drift is not fitted, and the interval is wider for it: repeat the first setting last");

struct range {
  double low, high, step;
};

static struct range tested_range(const struct ew_sweep_pull *pulls, gsize n, double least) {
  struct range r = {INFINITY, -INFINITY, INFINITY};
  for (gsize i = 0; i < n; i++) {
    r.low = fmin(r.low, pulls[i].setting);
    r.high = fmax(r.high, pulls[i].setting);
    for (gsize j = 0; j < n; j++) {
      double apart = fabs(pulls[i].setting - pulls[j].setting);
      if (apart >= least)
        r.step = fmin(r.step, apart);
    }
  }
  return r;
}

struct posterior {
  struct ew_fit fit;
  double centre, c0, shift;
  double pull_squares; /* residuals of the pulls, without those of the lent rows */
  double root[CURVE_TERMS * CURVE_TERMS]; /* Cholesky factor of the covariance of b0 to b3 */
  double freedom;
};

/* A curve with one best: b0 + b1 u + b2 u^2 + b3 u^3. */
struct lean_curve {
  double b[CURVE_TERMS];
  double best, bend; /* place of the best, and half the second derivative there, below 0 */
};

/* The rows behind those of the pulls: what is usual, weighted by the scatter of one pull. */
static gsize lend_rows(const struct ew_sweep_options *o, const struct posterior *p, double *design,
                       double *y, gsize terms) {
  double curvature = o->sd / (CURVATURE_SD * p->c0), lean = o->sd * p->shift / (LEAN_SD * p->c0);
  design[2] = curvature;
  y[0] = -curvature * p->c0;
  design[terms + 3] = lean;
  if (o->fit_drift)
    return 2;
  design[2 * terms + CURVE_TERMS] = o->sd / DRIFT_SD;
  return 3;
}

/* One fit with u measured from p->centre. */
static gboolean fit_about(const struct ew_sweep_pull *pulls, gsize n,
                          const struct ew_sweep_options *o, struct posterior *p, GError **error) {
  const gsize terms = CURVE_TERMS + 1;
  g_autofree double *design = g_new0(double, (n + 3) * terms), *y = g_new0(double, n + 3);
  double level = 0, middle = 0;
  for (gsize i = 0; i < n; i++) {
    level += pulls[i].log_mean / (double)n;
    middle += pulls[i].position / (double)n;
  }
  for (gsize i = 0; i < n; i++) {
    double u = pulls[i].setting - p->centre, *row = design + i * terms;
    row[0] = 1, row[1] = u, row[2] = u * u, row[3] = u * u * u;
    row[CURVE_TERMS] = pulls[i].position - middle;
    y[i] = pulls[i].log_mean - level;
  }
  gsize lent = lend_rows(o, p, design + n * terms, y + n, terms);
  if (!ew_fit_linear(design, y, n + lent, terms, &p->fit, error))
    return FALSE;
  p->pull_squares = 0;
  for (gsize i = 0; i < n; i++) {
    for (gsize j = 0; j < terms; j++)
      y[i] -= design[i * terms + j] * p->fit.coefficient[j];
    p->pull_squares += y[i] * y[i];
  }
  return TRUE;
}

static void factor_covariance(struct posterior *p) {
  const int w = CURVE_TERMS;
  for (int i = 0; i < w; i++)
    for (int j = 0; j <= i; j++) {
      double sum = p->fit.covariance[(gsize)i * p->fit.terms + (gsize)j];
      for (int k = 0; k < j; k++)
        sum -= p->root[i * w + k] * p->root[j * w + k];
      p->root[i * w + j] = i == j ? sqrt(fmax(sum, 1e-30)) : sum / p->root[j * w + j];
    }
}

/* Curvature is held at or below -0.2 c0, and the lean drawn back until the curve has a best that bends
 * at least as much. b1 + 2 b2 u + 3 b3 u^2 = 0 is solved in the form that b3 = 0 does not trouble. */
static struct lean_curve with_a_best(const double *b, double c0) {
  struct lean_curve c = {.b = {b[0], b[1], fmin(b[2], -LEAST * c0), b[3]}};
  double least = LEAST * c0, room = c.b[2] * c.b[2] - least * least;
  if (3 * c.b[1] * c.b[3] > room) /* both of one sign, neither is 0 */
    c.b[3] = room / (3 * c.b[1]);
  double root = sqrt(fmax(c.b[2] * c.b[2] - 3 * c.b[1] * c.b[3], least * least));
  c.best = c.b[1] / (root - c.b[2]);
  c.bend = -root;
  g_assert(!(c.bend > 0)); /* a best, not a worst */
  return c;
}

/* Today's scatter and the history's, pooled as for a comparison. The lent rows teach nothing about
 * scatter, so only residuals of pulls count, and only pulls beyond the terms as degrees of freedom. */
static void pool_scatter(struct posterior *p, gsize n, const struct ew_sweep_options *o) {
  gsize terms = p->fit.terms;
  double freedom = n > terms ? (double)(n - terms) : 0, lent = fmin(o->freedom, 12);
  double variance = (lent * o->sd * o->sd + p->pull_squares) / (lent + freedom);
  double seen = p->fit.residual_sd * p->fit.residual_sd, scale = seen > 0 ? variance / seen : 0;
  for (gsize i = 0; i < terms * terms; i++)
    p->fit.covariance[i] *= scale;
  p->freedom = lent + freedom;
  p->fit.residual_sd = sqrt(variance);
}

/* A leaning curve bends differently at each u, and the usual curvature is that at the best: u is
 * measured from there, found by fitting again, and from the nearest tested setting if it lies outside. */
static gboolean fit_curve(const struct ew_sweep_pull *pulls, gsize n,
                          const struct ew_sweep_options *o, struct range r, struct posterior *p,
                          GError **error) {
  p->centre = (r.low + r.high) / 2;
  for (int turn = 0; turn < TURNS; turn++) {
    if (!fit_about(pulls, n, o, p, error))
      return FALSE;
    struct lean_curve c = with_a_best(p->fit.coefficient, p->c0);
    double before = p->centre;
    p->centre = fmin(fmax(before + c.best, r.low), r.high);
    if (fabs(p->centre - before) < SETTLED * p->shift)
      break;
  }
  if (!fit_about(pulls, n, o, p, error))
    return FALSE;
  pool_scatter(p, n, o);
  return TRUE;
}

/* What is lost from the best at u. Beyond the place where a cubic would climb again it stays. */
static double loss_at(const struct lean_curve *c, double u) {
  double away = u - c->best, turn = -2 * c->bend / (3 * c->b[3]);
  if (turn > 0 ? away > turn : away < turn)
    away = turn;
  return -(c->bend + c->b[3] * away) * away * away;
}

static struct lean_curve draw(const struct posterior *p, gsl_rng *random) {
  double scale = sqrt(p->freedom / gsl_ran_chisq(random, p->freedom));
  double z[CURVE_TERMS], b[CURVE_TERMS];
  for (int i = 0; i < CURVE_TERMS; i++)
    z[i] = gsl_ran_gaussian(random, 1) * scale;
  for (int i = 0; i < CURVE_TERMS; i++) {
    b[i] = p->fit.coefficient[i];
    for (int k = 0; k <= i; k++)
      b[i] += p->root[i * CURVE_TERMS + k] * z[k];
  }
  return with_a_best(b, p->c0);
}

static void place_pulls(struct ew_sweep *s, const struct posterior *p,
                        const struct ew_sweep_pull *pulls, gsize n, const struct lean_curve *c) {
  g_assert(n > 0 && !s->pull_setting);
  s->pulls = n;
  s->pull_setting = g_new(double, n);
  s->pull_loss = g_new(double, n);
  s->pull_half_width = gsl_cdf_tdist_Pinv(0.975, p->freedom) * s->sd;
  double level = 0, middle = 0, v = c->best;
  for (gsize i = 0; i < n; i++) {
    level += pulls[i].log_mean / (double)n;
    middle += pulls[i].position / (double)n;
  }
  double best = level + c->b[0] + v * (c->b[1] + v * (c->b[2] + v * c->b[3]));
  for (gsize i = 0; i < n; i++) {
    s->pull_setting[i] = pulls[i].setting;
    s->pull_loss[i] = best + s->slope * (pulls[i].position - middle) - pulls[i].log_mean;
  }
}

static void choose(struct ew_sweep *s, const struct posterior *p, const struct ew_sweep_options *o,
                   struct range r, gsl_rng *random) {
  double grid = usual[o->setting].grid;
  s->points = (gsize)((r.high - r.low) / grid + 1.5);
  s->setting = g_new(double, s->points);
  s->loss = g_new0(double, s->points);
  s->loss_se = g_new0(double, s->points);
  g_autofree guint *below = g_new0(guint, s->points);
  g_autofree double *best = g_new(double, DRAWS);
  for (gsize j = 0; j < s->points; j++)
    s->setting[j] = r.low + grid * (double)j;
  guint gains = 0;
  for (int d = 0; d < DRAWS; d++) {
    struct lean_curve c = draw(p, random);
    best[d] = c.best + p->centre;
    for (gsize j = 0; j < s->points; j++) {
      double loss = loss_at(&c, s->setting[j] - p->centre);
      below[j] += loss <= o->margin;
      s->loss[j] += loss / DRAWS;
      s->loss_se[j] += loss * loss / DRAWS;
    }
    double here = r.high - p->centre;
    gains += loss_at(&c, here) - loss_at(&c, here + r.step) > WORTH;
  }
  s->best_low = ew_quantile(best, DRAWS, 0.025, EW_NONE_ABSENT);
  s->best_high = ew_quantile(best, DRAWS, 0.975, EW_NONE_ABSENT);
  s->next_probability = (double)gains / DRAWS;
  s->chosen = s->chosen_loss = NAN;
  for (gsize j = 0; j < s->points; j++) {
    s->loss_se[j] = sqrt(fmax(s->loss_se[j] - s->loss[j] * s->loss[j], 0));
    if (isnan(s->chosen) && below[j] >= 0.95 * DRAWS) {
      s->chosen = s->setting[j];
      s->chosen_loss = s->loss[j];
    }
  }
}

/* How much variance one pull at u takes from the best, which is at u = 0, in the covariance of the fit (by the
 * variance of one pull); the covariance is what it is after that pull when `take`. */
static double taken_by(double *covariance, double u, double position, double variance,
                       gboolean take) {
  const gsize terms = CURVE_TERMS + 1;
  double row[CURVE_TERMS + 1] = {1, u, u * u, u * u * u, position}, c[CURVE_TERMS + 1],
                           whole = variance;
  for (gsize i = 0; i < terms; i++) {
    c[i] = 0;
    for (gsize j = 0; j < terms; j++)
      c[i] += covariance[i * terms + j] * row[j];
  }
  for (gsize i = 0; i < terms; i++)
    whole += row[i] * c[i];
  for (gsize i = 0; take && i < terms; i++)
    for (gsize j = 0; j < terms; j++)
      covariance[i * terms + j] -= c[i] * c[j] / whole;
  return c[1] * c[1] / whole;
}

/* Where pulls may be put: what was tested, less the reserve below any knock count. */
static struct range allowed_range(const struct ew_sweep_pull *pulls, gsize n,
                                  const struct ew_sweep_options *o, struct range r) {
  for (gsize i = 0; i < n; i++)
    if (o->setting == EW_SWEEP_SPARK && pulls[i].knock >= 1) /* not measured: FALSE */
      r.high = fmin(r.high, pulls[i].setting - o->reserve);
  return r;
}

/* The better of the two sides of the best, on the grid and inside the range. */
static double narrowing(const double *covariance, const struct posterior *p, gsize pulls,
                        double position, const struct ew_sweep_options *o, struct range r) {
  const gsize terms = CURVE_TERMS + 1;
  double reach = (pulls >= CLOSE_FROM ? CLOSE_REACH : WIDE_REACH) * p->shift,
         grid = usual[o->setting].grid;
  double most = -1, best = NAN, variance = p->fit.residual_sd * p->fit.residual_sd;
  for (int side = -1; side <= 1; side += 2) {
    double at = fmin(fmax(round((p->centre + side * reach) / grid) * grid, r.low), r.high);
    g_autofree double *copy = g_memdup2(covariance, terms * terms * sizeof *copy);
    double taken = taken_by(copy, at - p->centre, position, variance, FALSE);
    if (taken > most)
      most = taken, best = at;
  }
  return best;
}

/* 5. */
static void settle_narrow(struct ew_sweep *s, const struct posterior *p,
                          const struct ew_sweep_pull *pulls, gsize n,
                          const struct ew_sweep_options *o, struct range tested) {
  const gsize terms = CURVE_TERMS + 1;
  struct range r = allowed_range(pulls, n, o, tested);
  double now = (s->best_high - s->best_low) / 2, middle = 0, wanted = usual[o->setting].wanted;
  s->wanted_half = wanted;
  s->narrow = NAN;
  if (s->ended || !isnan(s->next) || !s->bracketed || !(now > wanted) || !(r.low < r.high))
    return;
  for (gsize i = 0; i < n; i++)
    middle += pulls[i].position / (double)n;
  g_autofree double *c = g_memdup2(p->fit.covariance, terms * terms * sizeof *c);
  double start = c[terms + 1], variance = p->fit.residual_sd * p->fit.residual_sd;
  s->narrow = narrowing(c, p, n, pulls[n - 1].position + 1 - middle, o, r);
  for (guint k = 1; k <= EW_SWEEP_NARROW_MOST && !s->narrow_pulls; k++) {
    double position = pulls[n - 1].position + k - middle;
    double at = narrowing(c, p, n + k - 1, position, o, r);
    taken_by(c, at - p->centre, position, variance, TRUE);
    if (now * sqrt(fmax(c[terms + 1], 0) / start) <= wanted)
      s->narrow_pulls = k;
  }
  s->narrow_says = ew_message(
      s->narrow_pulls ? &narrow_by : &narrow_far, ew_sweep_say_setting("half", now, o->setting),
      ew_sweep_say_setting("setting", s->narrow, o->setting),
      ew_say_count("pulls", s->narrow_pulls ? s->narrow_pulls : EW_SWEEP_NARROW_MOST),
      ew_sweep_say_setting("wanted", wanted, o->setting));
}

static void settle_next(struct ew_sweep *s, const struct ew_sweep_options *o, struct range r) {
  s->next = NAN;
  s->bracketed = s->best <= r.high && s->best >= r.low;
  if (!s->bracketed)
    ew_messages_add(s->warnings, ew_message_plain(&not_bracketed));
  struct ew_argument chance = ew_say_share("chance", s->next_probability, 0);
  if (s->next_probability >= 0.5) {
    s->next = r.high + r.step;
    ew_sweep_settle(
        s, ew_message(&next_step, ew_sweep_say_setting("setting", s->next, o->setting), chance));
  } else
    ew_sweep_settle(s, s->next_probability < 0.01 ? ew_message_plain(&stop_sure)
                                                  : ew_message(&stop_likely, chance));
}

struct ew_sweep *ew_sweep(const struct ew_sweep_pull *pulls, gsize n,
                          const struct ew_sweep_options *o, GError **error) {
  struct range r = tested_range(pulls, n, usual[o->setting].apart);
  struct posterior p = {.c0 = usual[o->setting].curvature, .shift = usual[o->setting].shift};
  gsize different = 0;
  for (gsize i = 0; i < n; i++) {
    gboolean seen = FALSE;
    for (gsize j = 0; j < i; j++)
      seen |= fabs(pulls[i].setting - pulls[j].setting) < usual[o->setting].apart;
    different += !seen;
  }
  if (different < 3) {
    ew_refuse(
        error,
        "a sweep needs at least three different settings, %g %s or more apart, and has %zu: run "
        "another step",
        usual[o->setting].apart, usual[o->setting].unit, different);
    return NULL;
  }
  if (!(o->sd > 0)) {
    ew_refuse_with(error, EW_REMEDY_MORE_PULLS, "the scatter of this cell is not known");
    return NULL;
  }
  if (!fit_curve(pulls, n, o, r, &p, error))
    return NULL;
  factor_covariance(&p);
  struct ew_sweep *s = g_new0(struct ew_sweep, 1);
  s->warnings = ew_messages_new();
  s->assumed = ew_messages_new();
  s->costs = ew_messages_new();
  struct lean_curve c = with_a_best(p.fit.coefficient, p.c0);
  s->best = c.best + p.centre;
  s->curvature = -c.bend;
  s->sd = p.fit.residual_sd;
  s->freedom = p.freedom;
  s->slope = p.fit.coefficient[CURVE_TERMS];
  place_pulls(s, &p, pulls, n, &c);
  gsl_rng *random = gsl_rng_alloc(gsl_rng_mt19937);
  gsl_rng_set(random, 4021);
  choose(s, &p, o, r, random);
  gsl_rng_free(random);
  settle_next(s, o, r);
  if (!o->fit_drift)
    ew_messages_add(s->warnings, ew_message_plain(&drift_not_fitted));
  ew_sweep_heed_signs(s, pulls, n, o);
  ew_sweep_heed_trip(s, o);
  if (s->ended)
    s->next = NAN;
  settle_narrow(s, &p, pulls, n, o, r);
  ew_sweep_weigh(s, &p.fit, p.centre, pulls, n);
  ew_sweep_cost(s, o);
  ew_sweep_assume(s, o,
                  &(struct ew_sweep_lent){.curvature = p.c0,
                                          .curvature_share = CURVATURE_SD,
                                          .lean_share = LEAN_SD,
                                          .drift_sd = DRIFT_SD,
                                          .shift = p.shift});
  return s;
}
