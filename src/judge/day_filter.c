/* The filters of the day's model, all points of the grid at once. Steps: 1. between two pulls the level's variance grows by q² and,
 * after a stop or rest, J²; the noise keeps its memory's share of what it was and the rest is new, so that its variance stays s²; 2. a pull:
 * the foretelling h'm, h'Ph, and the update written out for one figure, P - K(h'P) - (Ph)K' + K S K' (Bucy and Joseph 1968; Anderson and
 * Moore, Optimal Filtering, 1979, 6.5), of which one half is kept; 3. a pull of an earlier day that may be wrong with a chance, and then
 * scatters by more: the two updates weighed by how well each foretold it, and one normal with the mean and the variance of both put in
 * their place (Bar-Shalom, Li and Kirubarajan, Estimation with Applications to Tracking and Navigation, 2001, 11.6.3; from memory); 4. the way
 * back (judge/day_answer.c, steps 2 and 3). */
#include "judge/day_inside.h"
#include "base/elementary.h"
#include <math.h>
#include <string.h>

#define POINTS EW_DAY_POINTS
#define STATES EW_DAY_STATES

static void times(double *restrict row, const double *restrict by) {
  for (int g = 0; g < POINTS; g++)
    row[g] *= by[g];
}

/* sum += a b. */
static void add_product(double *restrict sum, const double *restrict a, double b) {
  for (int g = 0; g < POINTS; g++)
    sum[g] += a[g] * b;
}

/* sum += a b, both rows. */
static void add_products(double *restrict sum, const double *restrict a, const double *restrict b) {
  for (int g = 0; g < POINTS; g++)
    sum[g] += a[g] * b[g];
}

/* 1. */
void ew_day_pass(struct ew_day_model *m, gboolean first, gboolean rested) {
  gboolean fresh = first || rested;
  double *level = m->covariance[ew_day_pair(EW_DAY_LEVEL, EW_DAY_LEVEL)],
         *noise = m->covariance[ew_day_pair(EW_DAY_NOISE, EW_DAY_NOISE)];
  for (int g = 0; g < POINTS && !first; g++)
    level[g] += m->q[g] * m->q[g] + (rested ? m->J[g] * m->J[g] : 0);
  for (int i = 0; i < m->states; i++) {
    double *with = m->covariance[ew_day_pair(EW_DAY_NOISE, i)];
    if (fresh)
      memset(with, 0, sizeof(ew_day_row));
    else
      times(with, m->memory);
  }
  for (int g = 0; g < POINTS; g++) {
    double kept = fresh ? 0 : m->memory[g];
    m->mean[EW_DAY_NOISE][g] *= kept;
    noise[g] = kept * noise[g] + m->s[g] * m->s[g] * (1 - kept * kept); /* times it once above */
  }
}

static void update_pair(double *restrict p, const double *restrict gain_i,
                        const double *restrict gain_j, const double *restrict ph_i,
                        const double *restrict ph_j, const double *restrict variance) {
  for (int g = 0; g < POINTS; g++)
    p[g] += gain_i[g] * gain_j[g] * variance[g] - gain_i[g] * ph_j[g] - ph_i[g] * gain_j[g];
}

/* Ph, h'm and h'Ph. */
static void foretell(const struct ew_day_model *m, const double *h, ew_day_row *ph,
                     double *foretold, double *variance) {
  memset(ph, 0, (gsize)m->states * sizeof *ph);
  memset(foretold, 0, sizeof(ew_day_row));
  memset(variance, 0, sizeof(ew_day_row));
  for (int j = 0; j < m->states; j++) {
    if (h[j] == 0)
      continue;
    for (int i = 0; i < m->states; i++)
      add_product(ph[i], m->covariance[ew_day_pair(i, j)], h[j]);
    add_product(foretold, m->mean[j], h[j]);
  }
  for (int i = 0; i < m->states; i++)
    if (h[i] != 0)
      add_product(variance, ph[i], h[i]);
}

/* 2. */
void ew_day_update(struct ew_day_model *m, const double *h, double y, ew_day_row error,
                   ew_day_row variance, struct ew_day_trail *trail) {
  ew_day_row ph[STATES], gain[STATES];
  int n = m->states;
  foretell(m, h, ph, error, variance);
  for (int g = 0; g < POINTS; g++)
    error[g] = y - error[g];
  for (int i = 0; i < n; i++) {
    for (int g = 0; g < POINTS; g++)
      gain[i][g] = ph[i][g] / variance[g];
    add_products(m->mean[i], gain[i], error);
  }
  for (int i = 0; i < n; i++)
    for (int j = 0; j <= i; j++)
      update_pair(m->covariance[ew_day_pair(i, j)], gain[i], gain[j], ph[i], ph[j], variance);
  if (!trail)
    return;
  trail->taken = TRUE;
  memcpy(trail->h, h, sizeof trail->h);
  memset(trail->gain, 0,
         sizeof trail->gain); /* a set-up that comes later in the day was not moved */
  memcpy(trail->gain, gain, (gsize)n * sizeof *gain);
  memcpy(trail->error, error, sizeof trail->error);
  memcpy(trail->variance, variance, sizeof trail->variance);
}

/* 3. At one point: the chance that the pull is wrong, the gain's and the covariance's factors of Ph, and the density of what came. */
static void weigh_stray(double error, double sound, double wrong, double log_odds, double *gain,
                        double *taken, double *log_density) {
  double square = error * error, odds = ew_log(sound / wrong) / 2 + log_odds;
  odds += square / 2 * (1 / sound - 1 / wrong);
  double less = ew_exp(-fabs(odds)), likelier = 1 / (1 + less),
         chance = odds > 0 ? likelier : 1 - likelier;
  double apart = 1 / sound - 1 / wrong;
  *gain = (1 - chance) / sound + chance / wrong;
  *taken = *gain - chance * (1 - chance) * square * apart * apart;
  *log_density = -(ew_log(2 * M_PI * sound) + square / sound) / 2 + fmax(odds, 0) +
                 ew_log(1 + less) - ew_log(1 + ew_exp(log_odds));
}

static void take_from_pair(double *restrict p, const double *restrict ph_i,
                           const double *restrict ph_j, const double *restrict taken) {
  for (int g = 0; g < POINTS; g++)
    p[g] -= ph_i[g] * ph_j[g] * taken[g];
}

void ew_day_update_stray(struct ew_day_model *m, const double *h, double y, double log_odds,
                         double times_s, ew_day_row error, ew_day_row variance,
                         ew_day_row log_density) {
  ew_day_row ph[STATES], moves, taken;
  foretell(m, h, ph, error, variance);
  for (int g = 0; g < POINTS; g++) {
    double more = times_s * m->s[g], gain;
    error[g] = y - error[g];
    weigh_stray(error[g], variance[g], variance[g] + more * more, log_odds, &gain, &taken[g],
                &log_density[g]);
    moves[g] = gain * error[g];
  }
  for (int i = 0; i < m->states; i++)
    add_products(m->mean[i], ph[i], moves);
  for (int i = 0; i < m->states; i++)
    for (int j = 0; j <= i; j++)
      take_from_pair(m->covariance[ew_day_pair(i, j)], ph[i], ph[j], taken);
}

/* What goes back: r, N (its kept half) and l. */
struct way_back {
  ew_day_row r[STATES], l[STATES], N[EW_DAY_PAIRS];
};

/* N K and K'N K. */
static void through_gain(const struct way_back *w, const struct ew_day_trail *t, int n,
                         ew_day_row *NK, double *square) {
  memset(NK, 0, (gsize)n * sizeof *NK);
  memset(square, 0, sizeof(ew_day_row));
  for (int i = 0; i < n; i++) {
    for (int j = 0; j < n; j++)
      add_products(NK[i], w->N[ew_day_pair(i, j)], t->gain[j]);
    add_products(square, NK[i], t->gain[i]);
  }
}

static void step_pair(double *restrict N, double h_i, double h_j, const double *restrict NK_i,
                      const double *restrict NK_j, const double *restrict D) {
  for (int g = 0; g < POINTS; g++)
    N[g] += h_i * h_j * D[g] - h_i * NK_j[g] - NK_i[g] * h_j;
}

/* One pull back: u and D from r and N, which become those before it. */
static void step_back(struct way_back *w, const struct ew_day_trail *t, int n,
                      struct ew_day_apart *out) {
  ew_day_row NK[STATES], u = {0}, D;
  memset(out->moves, 0, sizeof out->moves);
  through_gain(w, t, n, NK, D);
  for (int i = 0; i < n; i++) {
    add_products(u, t->gain[i], w->r[i]);
    add_products(out->moves, t->gain[i], w->l[i]);
  }
  for (int g = 0; g < POINTS; g++) {
    u[g] = t->error[g] / t->variance[g] - u[g];
    D[g] += 1 / t->variance[g];
    out->shift[g] = u[g] / D[g];
    out->variance[g] = 1 / D[g];
  }
  for (int i = 0; i < n; i++) {
    if (t->h[i] != 0) {
      add_product(w->r[i], u, t->h[i]);
      add_product(w->l[i], out->moves, -t->h[i]);
    }
    for (int j = 0; j <= i; j++)
      if (t->h[i] != 0 || t->h[j] != 0)
        step_pair(w->N[ew_day_pair(i, j)], t->h[i], t->h[j], NK[i], NK[j], D);
  }
  out->taken = TRUE;
}

/* Before the pull: what its noise kept of the one before goes back with its memory. */
static void pass_back(const struct ew_day_model *m, struct way_back *w, gboolean fresh) {
  ew_day_row kept = {0};
  if (!fresh)
    memcpy(kept, m->memory, sizeof kept);
  times(w->r[EW_DAY_NOISE], kept);
  times(w->l[EW_DAY_NOISE], kept);
  for (int i = 0; i < m->states; i++)
    times(w->N[ew_day_pair(EW_DAY_NOISE, i)], kept);
  times(w->N[ew_day_pair(EW_DAY_NOISE, EW_DAY_NOISE)], kept);
}

void ew_day_walk_back(const struct ew_day_model *m, const struct ew_day_trail *trails, gsize n,
                      struct ew_day_apart *apart) {
  struct way_back *w = g_new0(struct way_back, 1);
  for (int g = 0; g < POINTS; g++)
    w->l[EW_DAY_SETUP][g] = 1;
  for (gsize i = n; i-- > 0;) {
    apart[i].taken = FALSE;
    if (!trails[i].taken)
      continue;
    step_back(w, &trails[i], m->states, &apart[i]);
    pass_back(m, w, trails[i].fresh);
  }
  g_free(w);
}
