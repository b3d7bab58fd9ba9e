/* Steps, at each point of the grid: 1. over today's pulls, keeping what each left behind; 2. back over them (de Jong, Smoothing and
 * Interpolation with the State-Space Model, J. Am. Stat. Assoc. 84, 1989; from memory): u = v/F - K'r and D = 1/F + K'N K give a pull's distance
 * from all others, e = u/D with variance 1/D; r and N go back by L = I - K h'; 3. on the way, what the pull moves the difference by:
 * k = l'K, l = L'l from the end, where l picks the difference. If pull i scatters by b more, then
 *
 *   density times sqrt(V/(V + b²)) exp(e²/2 (1/V - 1/(V + b²))),  difference - k e (1 - V/(V + b²)),  variance + k² V (1 - V/(V + b²)),  V = 1/D
 *
 * by conditioning a normal vector on the pull with the larger variance; 4. all of these weighed into one list of normals.
 * Chance and size of a wrong pull: found by simulation, common practice, no source. Everything inside is in per cent. */
#include "judge/day_answer.h"
#include "base/elementary.h"
#include "judge/day_inside.h"
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

#define PER_CENT   100.0
#define STATES     EW_DAY_STATES
#define POINTS     EW_DAY_POINTS
#define WRONG      0.03 /* chance of a pull */
#define WRONG_BY   5.0  /* times s */
#define TOO_FAR    3.0  /* standard deviations: asked for again */
#define NEGLIGIBLE 1e-9 /* weight of an explanation */

/* Of a pull at one point: how far it lies from what all others say of it, and what it moves the difference by. */
struct apart {
  double shift, variance, moves; /* variance 0: not taken */
};

/* One explanation of today: this point of the grid, and this pull wrong (n: none). */
struct part {
  double weight, mean, variance; /* weight: its log until weighed */
  int point;
  gsize wrong;
};

struct ew_day_answer {
  struct ew_day_model *model; /* after all pulls */
  gsize n, parts;
  struct part *part;         /* parts, weights of sum 1 */
  struct ew_day_pull *pulls; /* n */
  double *apart, *wrong;     /* n */
  double log_weight[POINTS]; /* of the grid, as if all were sound; the largest is 0 */
  double point[POINTS];      /* weights of the grid, wrong pulls thought of */
};

void ew_day_answer_free(struct ew_day_answer *a) {
  if (!a)
    return;
  ew_day_model_free(a->model);
  g_free(a->part);
  g_free(a->pulls);
  g_free(a->apart);
  g_free(a->wrong);
  g_free(a);
}

/* One step back: u and D of this pull from r and N, which become those before it. */
static struct apart step_back(const struct ew_day_trail *t, int n, double *r,
                              double N[STATES][STATES], double *l) {
  double back = 0, square = 0, moves = 0, NK[STATES];
  for (int i = 0; i < n; i++) {
    back += t->gain[i] * r[i];
    moves += t->gain[i] * l[i];
    NK[i] = 0;
    for (int j = 0; j < n; j++)
      NK[i] += N[i][j] * t->gain[j];
  }
  for (int i = 0; i < n; i++)
    square += t->gain[i] * NK[i];
  double u = t->error / t->variance - back, D = 1 / t->variance + square;
  for (int i = 0; i < n; i++) {
    r[i] += t->h[i] * u;
    l[i] -= t->h[i] * moves;
    for (int j = 0; j < n; j++)
      N[i][j] += t->h[i] * t->h[j] * D - t->h[i] * NK[j] - NK[i] * t->h[j];
  }
  return (struct apart){.shift = u / D, .variance = 1 / D, .moves = moves};
}

/* 2, 3. at one point. */
static void walk_back(const struct ew_day_trail *trails, gsize n, int point, int states,
                      struct apart *out) {
  double r[STATES] = {0}, N[STATES][STATES] = {{0}}, l[STATES] = {[EW_DAY_SETUP] = 1};
  for (gsize i = n; i-- > 0;) {
    const struct ew_day_trail *t = &trails[i * POINTS + (gsize)point];
    out[i * POINTS + (gsize)point] =
        t->variance > 0 ? step_back(t, states, r, N, l) : (struct apart){0};
  }
}

/* Log of how much better a shift of variance b² explains the pull than none. */
static double better_by(const struct apart *p, double b2) {
  double v = p->variance, wide = v + b2;
  return ew_log(v / wide) / 2 + p->shift * p->shift / 2 * (1 / v - 1 / wide);
}

/* How far a pull stands apart, in standard deviations: its shift has the prior of a set-up, and each point of the grid the weight that
 * it has once the pull is a set-up of its own. */
static double times_apart(const struct ew_day_answer *a, const struct apart *apart) {
  double b2 = EW_DAY_SETUP_SD * EW_DAY_SETUP_SD, most = -INFINITY;
  double weight[POINTS], sum = 0, mean = 0, square = 0;
  for (int g = 0; g < a->model->points; g++) {
    weight[g] =
        apart[g].variance > 0 ? a->log_weight[g] + better_by(&apart[g], b2) : (double)-INFINITY;
    most = fmax(most, weight[g]);
  }
  for (int g = 0; g < a->model->points && isfinite(most); g++) {
    double v = apart[g].variance, share = b2 / (v + b2), shift = apart[g].shift * share;
    double w = isfinite(weight[g]) ? ew_exp(weight[g] - most) : 0;
    sum += w, mean += w * shift, square += w * (v * share + shift * shift);
  }
  if (!(sum > 0))
    return 0;
  mean /= sum;
  return fabs(mean) / sqrt(square / sum - mean * mean);
}

static void add_part(struct ew_day_answer *a, struct part part) {
  g_assert(part.variance > 0 && part.wrong <= a->n);
  a->part[a->parts++] = part;
}

/* Explanations at one point: none of the pulls is wrong, or this one. */
static void explain_at(struct ew_day_answer *a, int g, const struct apart *apart) {
  const struct ew_day_filter *f = &a->model->filter[g];
  if (!isfinite(a->log_weight[g]))
    return;
  double b2 = WRONG_BY * WRONG_BY * f->s * f->s, odds = ew_log(WRONG / (1 - WRONG));
  struct part none = {.weight = a->log_weight[g], .point = g, .wrong = a->n};
  none.mean = ew_day_difference_at(f, 0, 1, &none.variance);
  add_part(a, none);
  for (gsize i = 0; i < a->n && !a->model->options.all_sound; i++) {
    const struct apart *p = &apart[i * POINTS + (gsize)g];
    if (!(p->variance > 0))
      continue;
    double share = b2 / (p->variance + b2);
    struct part wrong = {.weight = none.weight + odds + better_by(p, b2),
                         .mean = none.mean - p->moves * p->shift * share,
                         .variance = none.variance + p->moves * p->moves * p->variance * share,
                         .point = g,
                         .wrong = i};
    add_part(a, wrong);
  }
}

/* 4. Those of next to no weight are left out of the list. */
static void weigh(struct ew_day_answer *a) {
  double most = -INFINITY, sum = 0;
  gsize kept = 0;
  for (gsize k = 0; k < a->parts; k++)
    most = fmax(most, a->part[k].weight);
  for (gsize k = 0; k < a->parts; k++)
    sum += a->part[k].weight = ew_exp(a->part[k].weight - most);
  g_assert(sum > 0);
  for (gsize k = 0; k < a->parts; k++) {
    struct part *p = &a->part[k];
    p->weight /= sum;
    a->point[p->point] += p->weight;
    if (p->wrong < a->n)
      a->wrong[p->wrong] += p->weight;
    if (p->weight > NEGLIGIBLE)
      a->part[kept++] = *p;
  }
  a->parts = kept;
}

/* Logs of the weights of the grid, after all pulls; of the likeliest point alone where only that counts. */
static void weigh_points(struct ew_day_answer *a) {
  double most = -INFINITY;
  for (int g = 0; g < a->model->points; g++) {
    a->log_weight[g] = a->model->filter[g].log_prior + a->model->filter[g].log_evidence;
    most = fmax(most, a->log_weight[g]);
  }
  for (int g = 0; g < a->model->points; g++) {
    a->log_weight[g] -= most;
    if (a->model->options.plug_in && a->log_weight[g] < 0)
      a->log_weight[g] = -INFINITY;
  }
}

static void measure_apart(struct ew_day_answer *a, const struct apart *apart) {
  gsize of[2] = {0, 0};
  for (gsize i = 0; i < a->n; i++)
    if (apart[i * POINTS].variance > 0 && a->pulls[i].setup <= 1)
      of[a->pulls[i].setup]++;
  for (gsize i = 0; i < a->n; i++)
    if (apart[i * POINTS].variance > 0 && a->pulls[i].setup <= 1 && of[a->pulls[i].setup] >= 2)
      a->apart[i] = times_apart(a, &apart[i * POINTS]);
}

struct ew_day_answer *ew_day_answer_new(const struct ew_day_model *before,
                                        const struct ew_day_pull *pulls, gsize n) {
  struct ew_day_answer *a = g_new0(struct ew_day_answer, 1);
  g_autofree struct ew_day_trail *trails = g_new0(struct ew_day_trail, (n + 1) * POINTS);
  g_autofree struct apart *apart = g_new0(struct apart, (n + 1) * POINTS);
  a->model = ew_day_model_copy(before);
  a->n = n;
  a->pulls = g_memdup2(pulls, n * sizeof *pulls);
  a->apart = g_new0(double, n + 1);
  a->wrong = g_new0(double, n + 1);
  a->part = g_new(struct part, (n + 1) * POINTS);
  for (gsize i = 0; i < n; i++) /* 1. */
    ew_day_model_take(a->model, &pulls[i], &trails[i * POINTS]);
  weigh_points(a);
  for (int g = 0; g < a->model->points; g++) {
    walk_back(trails, n, g, a->model->states, apart);
    explain_at(a, g, apart);
  }
  weigh(a);
  measure_apart(a, apart);
  return a;
}

double ew_day_answer_below(const struct ew_day_answer *a, double x) {
  double below = 0;
  for (gsize k = 0; k < a->parts; k++)
    below += a->part[k].weight *
             gsl_cdf_ugaussian_P((PER_CENT * x - a->part[k].mean) / sqrt(a->part[k].variance));
  return below;
}

struct ew_day_belief ew_day_answer_believe(const struct ew_day_answer *a) {
  double mean = 0, square = 0;
  for (gsize k = 0; k < a->parts; k++) {
    const struct part *p = &a->part[k];
    mean += p->weight * p->mean;
    square += p->weight * (p->variance + p->mean * p->mean);
  }
  struct ew_day_belief d = ew_day_believe_weighed(a->model, 0, 1, a->point);
  d.mean = mean / PER_CENT;
  d.sd = sqrt(fmax(square - mean * mean, 0)) / PER_CENT;
  return d;
}

double ew_day_answer_quantile(const struct ew_day_answer *a, double p) {
  g_assert(p > 0 && p < 1);
  struct ew_day_belief d = ew_day_answer_believe(a);
  double low = d.mean - 20 * d.sd, high = d.mean + 20 * d.sd;
  for (int i = 0; i < 50; i++) {
    double middle = (low + high) / 2;
    if (ew_day_answer_below(a, middle) < p)
      low = middle;
    else
      high = middle;
  }
  return (low + high) / 2;
}

double ew_day_answer_apart(const struct ew_day_answer *a, gsize i) {
  g_assert(i < a->n);
  return a->apart[i];
}

double ew_day_answer_wrong(const struct ew_day_answer *a, gsize i) {
  g_assert(i < a->n);
  return a->wrong[i];
}

gsize ew_day_answer_repeat(const struct ew_day_answer *a) {
  gsize farthest = a->n, last[2] = {0, 0};
  for (gsize i = 0; i < a->n; i++)
    if (a->pulls[i].setup >= 0 && a->pulls[i].setup <= 1 && isfinite(a->pulls[i].log_mean))
      last[a->pulls[i].setup] = i;
  for (gsize i = 0; i < a->n; i++)
    if (a->apart[i] > TOO_FAR && last[a->pulls[i].setup] == i &&
        (farthest == a->n || a->apart[i] > a->apart[farthest]))
      farthest = i;
  return farthest;
}
