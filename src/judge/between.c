/* ISO 5725-2:2019, 7.4 (calculation of means and precision figures), 7.3 (Cochran's and Grubbs' tests); the critical values of both from the
 * F and t distributions, as the tables of that standard were made. */
#include "judge/between.h"
#include <gsl/gsl_cdf.h>
#include <math.h>

double ew_cochran_critical(gsize cells, gsize count, double level) {
  g_assert(cells >= 2 && count >= 2 && level > 0 && level < 1);
  double own = (double)count - 1, others = (double)cells - 1;
  double f = gsl_cdf_fdist_Qinv(level / (double)cells, own, others * own);
  return f / (f + others);
}

double ew_grubbs_critical(gsize cells, double level) {
  g_assert(cells >= 3 && level > 0 && level < 1);
  double p = (double)cells, t = gsl_cdf_tdist_Qinv(level / (2 * p), p - 2);
  return (p - 1) / sqrt(p) * sqrt(t * t / (p - 2 + t * t));
}

static struct ew_between_cell cell_of(struct ew_between_visit visit) {
  struct ew_between_cell cell = {.count = visit.count};
  double squares = 0;
  for (gsize i = 0; i < visit.count; i++) {
    g_assert(isfinite(visit.value[i]));
    cell.mean += visit.value[i] / (double)visit.count;
  }
  for (gsize i = 0; i < visit.count; i++)
    squares += (visit.value[i] - cell.mean) * (visit.value[i] - cell.mean);
  cell.sd = sqrt(squares / ((double)visit.count - 1));
  return cell;
}

/* Means, s_r, s_L, s_R. */
static void settle_layout(struct ew_between *b) {
  double n = 0, squares_n = 0, within = 0, between = 0;
  for (gsize i = 0; i < b->cells; i++) {
    double count = (double)b->cell[i].count;
    n += count;
    squares_n += count * count;
    b->mean += count * b->cell[i].mean;
    b->freedom_within += count - 1;
    within += (count - 1) * b->cell[i].sd * b->cell[i].sd;
  }
  b->mean /= n;
  for (gsize i = 0; i < b->cells; i++) {
    double off = b->cell[i].mean - b->mean;
    between += (double)b->cell[i].count * off * off / ((double)b->cells - 1);
  }
  b->count_mean = (n - squares_n / n) / ((double)b->cells - 1);
  within /= b->freedom_within;
  double variance = fmax((between - within) / b->count_mean, 0);
  b->sd_within = sqrt(within);
  b->sd_between = sqrt(variance);
  b->sd_all = sqrt(within + variance);
}

static void test_variances(struct ew_between *b) {
  double sum = 0, most = -1;
  b->cochran = b->cochran_5 = b->cochran_1 = NAN;
  for (gsize i = 0; i < b->cells; i++) {
    double variance = b->cell[i].sd * b->cell[i].sd;
    if (b->cell[i].count != b->cell[0].count)
      return;
    sum += variance;
    if (variance > most) {
      most = variance;
      b->cochran_cell = i;
    }
  }
  if (!(sum > 0))
    return;
  b->cochran = most / sum;
  b->cochran_5 = ew_cochran_critical(b->cells, b->cell[0].count, 0.05);
  b->cochran_1 = ew_cochran_critical(b->cells, b->cell[0].count, 0.01);
}

static void test_means(struct ew_between *b) {
  double mean = 0, squares = 0, most = -1;
  b->grubbs = b->grubbs_5 = b->grubbs_1 = NAN;
  if (b->cells < 3)
    return;
  for (gsize i = 0; i < b->cells; i++)
    mean += b->cell[i].mean / (double)b->cells;
  for (gsize i = 0; i < b->cells; i++) {
    double off = fabs(b->cell[i].mean - mean);
    squares += off * off;
    if (off > most) {
      most = off;
      b->grubbs_cell = i;
    }
  }
  if (!(squares > 0))
    return;
  b->grubbs = most / sqrt(squares / ((double)b->cells - 1));
  b->grubbs_5 = ew_grubbs_critical(b->cells, 0.05);
  b->grubbs_1 = ew_grubbs_critical(b->cells, 0.01);
}

struct ew_between ew_between(const struct ew_between_visit *visits, gsize cells,
                             struct ew_between_visit back) {
  struct ew_between b = {.cells = cells, .back = NAN, .back_sd = NAN};
  g_assert(cells >= 2 && cells <= EW_BETWEEN_CELLS_MOST);
  for (gsize i = 0; i < cells; i++) {
    g_assert(visits[i].count >= EW_BETWEEN_VISIT_LEAST);
    b.cell[i] = cell_of(visits[i]);
  }
  settle_layout(&b);
  test_variances(&b);
  test_means(&b);
  if (back.count >= EW_BETWEEN_VISIT_LEAST) {
    b.back = cell_of(back).mean - b.cell[0].mean;
    b.back_sd = b.sd_within * sqrt(1 / (double)back.count + 1 / (double)b.cell[0].count);
  }
  return b;
}

double ew_between_variance(const struct ew_between *b, gsize a, gsize other) {
  g_assert(a < b->cells && other < b->cells && a != other && isfinite(b->back));
  double apart = b->cell[a].mean - b->cell[other].mean,
         pulls = b->sd_within * b->sd_within *
                 (1 / (double)b->cell[a].count + 1 / (double)b->cell[other].count);
  return fmax(apart * apart, 2 * b->sd_between * b->sd_between) + pulls + b->back * b->back;
}

double ew_between_design(double sd, int pulls) {
  g_assert(pulls > 0 && !(sd < 0));
  return sd * sqrt(2.0 / pulls);
}
