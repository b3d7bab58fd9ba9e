/* Steps, at each point of the grid: 1. over today's pulls, keeping what each left behind; 2. back over them (de Jong, Smoothing and
 * Interpolation with the State-Space Model, J. Am. Stat. Assoc. 84, 1989; from memory): u = v/F - K'r and D = 1/F + K'N K give a pull's distance
 * from all others, e = u/D with variance 1/D; r and N go back by L = I - K h', and from pull to pull by what the noise keeps; 3. on the way, what the pull moves the difference by:
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

#define PER_CENT       100.0
#define STATES         EW_DAY_STATES
#define POINTS         EW_DAY_POINTS
#define WRONG          0.02  /* chance of a pull */
#define WRONG_BY       5.0   /* times s */
#define TOO_FAR        3.0   /* standard deviations: asked for again */
#define LOG_NEGLIGIBLE (-16) /* of the weight of an explanation, beside the likeliest: 1e-7 */

#define CLOSE 1e-10 /* standard deviations, of a quantile */

static double squared(double x) {
  return x * x;
}

/* One explanation of today: this point of the grid, and this pull wrong (n: none). */
struct part {
  double weight, mean, variance; /* weight: its log until weighed */
  int point;
  gsize wrong;
};

struct ew_day_answer {
  struct ew_day_model *model; /* after all pulls */
  gsize n, parts;
  double odds;               /* log of those of a wrong pull */
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

/* Log of how much better a shift of variance b² explains the pull than none: at most `at_most`, and less by `spread`. */
static double at_most(const struct ew_day_apart *p, int g, double b2) {
  double v = p->variance[g];
  return squared(p->shift[g]) / 2 * (1 / v - 1 / (v + b2));
}

static double spread(const struct ew_day_apart *p, int g, double b2) {
  return ew_log(1 + b2 / p->variance[g]) / 2;
}

/* How far a pull stands apart, in standard deviations: its shift has the prior of a set-up, and each point of the grid the weight that
 * it has once the pull is a set-up of its own. */
static double times_apart(const struct ew_day_answer *a, const struct ew_day_apart *apart) {
  double b2 = squared(EW_DAY_SETUP_SD), most = -INFINITY;
  double weight[POINTS], sum = 0, mean = 0, square = 0;
  for (int g = 0; g < a->model->points; g++) {
    weight[g] = a->log_weight[g] + at_most(apart, g, b2);
    most = fmax(most, weight[g]);
  }
  for (int g = 0; g < a->model->points; g++) {
    if (!(weight[g] - most > LOG_NEGLIGIBLE))
      continue;
    double v = apart->variance[g], share = b2 / (v + b2), shift = apart->shift[g] * share;
    double w = ew_exp(weight[g] - most - spread(apart, g, b2));
    sum += w, mean += w * shift, square += w * (v * share + squared(shift));
  }
  mean /= sum;
  return fabs(mean) / sqrt(square / sum - squared(mean));
}

static void add_part(struct ew_day_answer *a, struct part part) {
  g_assert(part.variance > 0 && part.wrong <= a->n);
  a->part[a->parts++] = part;
}

/* At this point pull i is wrong. */
static void explain_by(struct ew_day_answer *a, int g, const struct part *none, gsize i,
                       const struct ew_day_apart *p) {
  double variance = p->variance[g], moves = p->moves[g], b2 = squared(WRONG_BY * a->model->s[g]);
  double weight = none->weight + a->odds + at_most(p, g, b2), share = b2 / (variance + b2);
  if (weight < LOG_NEGLIGIBLE) /* beside the likeliest point without a wrong pull, whose log is 0 */
    return;
  add_part(a, (struct part){.weight = weight - spread(p, g, b2),
                            .mean = none->mean - moves * p->shift[g] * share,
                            .variance = none->variance + squared(moves) * variance * share,
                            .point = g,
                            .wrong = i});
}

/* Explanations at one point: none of the pulls is wrong, or this one. */
static void explain_at(struct ew_day_answer *a, int g, const struct ew_day_apart *apart) {
  struct part none = {.weight = a->log_weight[g], .point = g, .wrong = a->n};
  none.mean = ew_day_difference_at(a->model, g, 0, 1, &none.variance);
  if (!isfinite(none.weight))
    return;
  add_part(a, none);
  for (gsize i = 0; i < a->n && !a->model->options.all_sound; i++)
    if (apart[i].taken)
      explain_by(a, g, &none, i, &apart[i]);
}

/* 4. Those of next to no weight are left out of the list. */
static void weigh(struct ew_day_answer *a) {
  double most = -INFINITY, sum = 0;
  gsize kept = 0;
  for (gsize k = 0; k < a->parts; k++)
    most = fmax(most, a->part[k].weight);
  for (gsize k = 0; k < a->parts; k++)
    if (a->part[k].weight - most > LOG_NEGLIGIBLE) {
      a->part[kept] = a->part[k];
      sum += a->part[kept].weight = ew_exp(a->part[kept].weight - most);
      kept++;
    }
  a->parts = kept;
  g_assert(sum > 0);
  for (gsize k = 0; k < a->parts; k++) {
    struct part *p = &a->part[k];
    p->weight /= sum;
    a->point[p->point] += p->weight;
    if (p->wrong < a->n)
      a->wrong[p->wrong] += p->weight;
  }
}

/* Logs of the weights of the grid, after all pulls; of the likeliest point alone where only that counts. */
static void weigh_points(struct ew_day_answer *a) {
  double most = -INFINITY;
  for (int g = 0; g < a->model->points; g++) {
    a->log_weight[g] = a->model->log_prior[g] + a->model->log_evidence[g];
    most = fmax(most, a->log_weight[g]);
  }
  for (int g = 0; g < a->model->points; g++) {
    a->log_weight[g] -= most;
    if (a->model->options.plug_in && a->log_weight[g] < 0)
      a->log_weight[g] = -INFINITY;
  }
}

static void measure_apart(struct ew_day_answer *a, const struct ew_day_apart *apart) {
  gsize of[2] = {0, 0};
  for (gsize i = 0; i < a->n; i++)
    if (apart[i].taken && a->pulls[i].setup <= 1)
      of[a->pulls[i].setup]++;
  for (gsize i = 0; i < a->n; i++)
    if (apart[i].taken && a->pulls[i].setup <= 1 && of[a->pulls[i].setup] >= 2)
      a->apart[i] = times_apart(a, &apart[i]);
}

struct ew_day_answer *ew_day_answer_new(const struct ew_day_model *before,
                                        const struct ew_day_pull *pulls, gsize n) {
  struct ew_day_answer *a = g_new0(struct ew_day_answer, 1);
  g_autofree struct ew_day_trail *trails = g_new(struct ew_day_trail, n + 1);
  g_autofree struct ew_day_apart *apart = g_new(struct ew_day_apart, n + 1);
  a->model = ew_day_model_copy(before);
  a->n = n;
  a->odds = ew_log(WRONG / (1 - WRONG));
  a->pulls = g_memdup2(pulls, n * sizeof *pulls);
  a->apart = g_new0(double, n + 1);
  a->wrong = g_new0(double, n + 1);
  a->part = g_new(struct part, (n + 1) * POINTS);
  for (gsize i = 0; i < n; i++) { /* 1. */
    trails[i].taken = FALSE;
    ew_day_model_take(a->model, &pulls[i], &trails[i]);
  }
  weigh_points(a);
  ew_day_walk_back(a->model, trails, n, apart);
  for (int g = 0; g < a->model->points; g++)
    explain_at(a, g, apart);
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

static double density(const struct ew_day_answer *a, double x) {
  double sum = 0;
  for (gsize k = 0; k < a->parts; k++) {
    double z2 = squared(PER_CENT * x - a->part[k].mean) / a->part[k].variance;
    sum += a->part[k].weight * ew_exp(-z2 / 2) / sqrt(2 * M_PI * a->part[k].variance);
  }
  return PER_CENT * sum;
}

/* Newton's steps, halving where one would leave what is known to hold it. */
double ew_day_answer_quantile(const struct ew_day_answer *a, double p) {
  g_assert(p > 0 && p < 1);
  struct ew_day_belief d = ew_day_answer_believe(a);
  double low = d.mean - 20 * d.sd, high = d.mean + 20 * d.sd;
  double x = d.mean + gsl_cdf_ugaussian_Pinv(p) * d.sd;
  for (int i = 0; i < 100 && high - low > CLOSE * d.sd; i++) {
    double over = ew_day_answer_below(a, x) - p;
    over < 0 ? (low = x) : (high = x);
    double next = x - over / density(a, x);
    if (fabs(next - x) < CLOSE * d.sd)
      return next;
    x = next > low && next < high ? next : (low + high) / 2;
  }
  return x;
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
