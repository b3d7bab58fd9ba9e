/* Component t. The spread of whole pulls is split into offset, tilt and a smooth rest, each with its
 * own variance from the contrasts within groups:
 *   1. p0 = 1/sqrt m, p1 = x/|x|, Q = I - p0 p0' - p1 p1';
 *   2. Helmert contrasts within each group: nu rows r;
 *   3. v0 = sum (p0'r)^2/nu, v1 = sum (p1'r)^2/nu, vr = sum |Qr|^2/(nu (m-2)) (m-2)/m;
 *   4. the rest's shape: R = Q (N + (0.1 %)^2 K600) Q scaled to mean variance 1; N is the covariance of
 *      smoothed sample noise, from the smoother's own weights; m_eff = (tr R)^2/tr R^2;
 *   5. 10,000 fixed-seed draws of Y give q, the 95 % quantile of max |Y|/sd;
 *   6. wide form: one common chi-square scale on all three. */
#include "judge/band.h"
#include "pull/smooth.h"
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define DRAWS 10000

struct work {
  gsize m;
  double *p1, *rows;
  gsize nu;
  double v0, v1, vr, effective;
  gsl_matrix *shape; /* R */
};

static void fill_tilt(struct work *w) {
  double squares = 0;
  g_assert(w->m >= 2);
  w->p1 = g_new(double, w->m);
  for (gsize j = 0; j < w->m; j++) {
    w->p1[j] = 2.0 * (double)j / (double)(w->m - 1) - 1;
    squares += w->p1[j] * w->p1[j];
  }
  for (gsize j = 0; j < w->m; j++)
    w->p1[j] /= sqrt(squares);
}

static void fill_contrasts(const struct ew_band_input *in, struct work *w) {
  w->rows = g_new0(double, in->curves * w->m + 1);
  g_autofree double *sum = g_new(double, w->m);
  for (gsize c = 0; c < in->curves; c++) {
    double before = 0;
    memset(sum, 0, w->m * sizeof *sum);
    for (gsize k = 0; k < c; k++)
      if (in->group[k] == in->group[c]) {
        before++;
        for (gsize j = 0; j < w->m; j++)
          sum[j] += in->log_torque[k * w->m + j];
      }
    if (before == 0)
      continue;
    double *row = w->rows + w->nu++ * w->m;
    for (gsize j = 0; j < w->m; j++)
      row[j] = (in->log_torque[c * w->m + j] - sum[j] / before) * sqrt(before / (before + 1));
  }
}

static void split_row(const struct work *w, const double *row, double *offset, double *tilt) {
  *offset = *tilt = 0;
  for (gsize j = 0; j < w->m; j++) {
    *offset += row[j] / sqrt((double)w->m);
    *tilt += row[j] * w->p1[j];
  }
}

static void fill_variances(struct work *w) {
  double rest = 0;
  for (gsize i = 0; i < w->nu; i++) {
    const double *row = w->rows + i * w->m;
    double offset, tilt, squares = 0;
    split_row(w, row, &offset, &tilt);
    for (gsize j = 0; j < w->m; j++)
      squares += row[j] * row[j];
    w->v0 += offset * offset / (double)w->nu;
    w->v1 += tilt * tilt / (double)w->nu;
    rest += fmax(squares - offset * offset - tilt * tilt, 0);
  }
  w->vr = rest / (double)(w->nu * w->m);
  g_assert(w->nu > 0 && !(w->v0 < 0) && !(w->v1 < 0) && !(w->vr < 0));
}

/* Covariance of the smoother's output for white noise on even samples: N up to scale. */
static void smoother_covariance(const struct ew_band_input *in, gsl_matrix *n) {
  double low = in->speed_rpm[0], high = in->speed_rpm[in->points - 1],
         step = in->half_width_rpm / 20;
  gsize samples = (gsize)((high - low) / step) + 1;
  g_autofree double *x = g_new(double, samples), *l = g_new(double, samples * in->points);
  for (gsize i = 0; i < samples; i++)
    x[i] = low + step * (double)i;
  for (gsize j = 0; j < in->points; j++)
    ew_smooth_weights(x, samples, in->speed_rpm[j], in->half_width_rpm, NULL, l + j * samples);
  for (gsize a = 0; a < in->points; a++)
    for (gsize b = a; b < in->points; b++) {
      double sum = 0;
      for (gsize i = 0; i < samples; i++)
        sum += l[a * samples + i] * l[b * samples + i];
      gsl_matrix_set(n, a, b, sum);
      gsl_matrix_set(n, b, a, sum);
    }
}

static void project(const struct work *w, gsl_matrix *r) {
  for (int side = 0; side < 2; side++) { /* rows, then columns */
    for (gsize i = 0; i < w->m; i++) {
      double row[w->m], offset, tilt;
      for (gsize j = 0; j < w->m; j++)
        row[j] = gsl_matrix_get(r, i, j);
      split_row(w, row, &offset, &tilt);
      for (gsize j = 0; j < w->m; j++)
        gsl_matrix_set(r, i, j, row[j] - offset / sqrt((double)w->m) - tilt * w->p1[j]);
    }
    gsl_matrix_transpose(r);
  }
}

static void fill_shape(const struct ew_band_input *in, struct work *w) {
  gsl_matrix *r = gsl_matrix_alloc(w->m, w->m);
  smoother_covariance(in, r);
  double middle = gsl_matrix_get(r, w->m / 2, w->m / 2);
  double noise = in->noise_relative * in->noise_relative / middle;
  for (gsize i = 0; i < w->m; i++)
    for (gsize j = 0; j < w->m; j++) {
      double apart = (in->speed_rpm[i] - in->speed_rpm[j]) / 600;
      gsl_matrix_set(r, i, j, noise * gsl_matrix_get(r, i, j) + 1e-6 * exp(-apart * apart / 2));
    }
  project(w, r);
  double trace = 0, squares = 0;
  for (gsize i = 0; i < w->m; i++) {
    trace += gsl_matrix_get(r, i, i);
    for (gsize j = 0; j < w->m; j++)
      squares += gsl_matrix_get(r, i, j) * gsl_matrix_get(r, i, j);
  }
  w->effective = trace * trace / squares;
  g_assert(!(w->effective > (double)w->m * (1 + 1e-9))); /* Cauchy and Schwarz */
  gsl_matrix_scale(r, (double)w->m / trace);
  w->shape = r;
}

static int ascending(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static double simulate_q(const struct ew_band_input *in, const struct work *w, const double *sd) {
  gsl_matrix *root = gsl_matrix_alloc(w->m, w->m);
  gsl_matrix_memcpy(root, w->shape);
  for (gsize j = 0; j < w->m; j++)
    gsl_matrix_set(root, j, j, gsl_matrix_get(root, j, j) + 1e-9);
  gsl_linalg_cholesky_decomp1(root);
  gsl_rng *random = gsl_rng_alloc(gsl_rng_mt19937);
  gsl_rng_set(random, 7261);
  g_autofree double *most = g_new(double, DRAWS), *white = g_new(double, w->m);
  double nu = (double)w->nu, rest_freedom = nu * w->effective,
         scale_freedom = fmax(in->scale_freedom, 1);
  for (int d = 0; d < DRAWS; d++) {
    double offset, tilt, rest;
    if (in->wide) {
      double scale = sqrt(scale_freedom / gsl_ran_chisq(random, scale_freedom));
      offset = sqrt(w->v0) * gsl_ran_gaussian(random, 1) * scale;
      tilt = sqrt(w->v1) * gsl_ran_gaussian(random, 1) * scale;
      rest = sqrt(w->vr) * scale;
    } else {
      offset = sqrt(w->v0) * gsl_ran_tdist(random, nu);
      tilt = sqrt(w->v1) * gsl_ran_tdist(random, nu);
      rest = sqrt(w->vr * rest_freedom / gsl_ran_chisq(random, rest_freedom));
    }
    for (gsize j = 0; j < w->m; j++)
      white[j] = gsl_ran_gaussian_ziggurat(random, 1);
    most[d] = 0;
    for (gsize j = 0; j < w->m; j++) {
      double g = 0;
      const double *row = gsl_matrix_const_ptr(root, j, 0);
      for (gsize k = 0; k <= j; k++)
        g += row[k] * white[k];
      double y = offset / sqrt((double)w->m) + tilt * w->p1[j] + rest * g;
      most[d] = fmax(most[d], fabs(y) / sd[j]);
    }
  }
  qsort(most, DRAWS, sizeof *most, ascending);
  gsl_rng_free(random);
  gsl_matrix_free(root);
  return most[(int)(0.95 * DRAWS)];
}

static void side_means(const struct ew_band_input *in, struct ew_band *band, double *n_a,
                       double *n_b) {
  gsize m = in->points;
  g_autofree double *sum = g_new0(double, 2 * m);
  double count[2] = {0, 0};
  for (gsize c = 0; c < in->curves; c++)
    if (in->group[c] == 0 || in->group[c] == 1) {
      count[in->group[c]]++;
      for (gsize j = 0; j < m; j++)
        sum[(gsize)in->group[c] * m + j] += in->log_torque[c * m + j];
    }
  g_assert(count[0] > 0 && count[1] > 0);
  for (gsize j = 0; j < m; j++)
    band->difference[j] = sum[m + j] / count[1] - sum[j] / count[0];
  *n_a = count[0];
  *n_b = count[1];
}

EW_MESSAGE(narrow_range, "judge.narrow-range", EW_NOTE,
           "no band about the curve: the common range of speed is too narrow");
EW_MESSAGE(no_band, "judge.no-band", EW_NOTE, "no band about the curve: too few like pulls");

/* A curve that does not reach over the whole range is left out, and with it maybe the only one of its side. */
static gboolean has_both_sides(const struct ew_band_input *in) {
  gboolean a = FALSE, b = FALSE;
  for (gsize c = 0; c < in->curves; c++) {
    a |= in->group[c] == 0;
    b |= in->group[c] == 1;
  }
  return a && b;
}

gboolean ew_band(const struct ew_band_input *in, struct ew_band *band,
                 const struct ew_message_kind **why) {
  *band = (struct ew_band){.points = in->points};
  struct work w = {.m = in->points};
  if (in->points < 5 || in->points > 400) {
    *why = &narrow_range;
    return FALSE;
  }
  fill_tilt(&w);
  fill_contrasts(in, &w);
  gboolean good = w.nu >= 2 && has_both_sides(in);
  if (good) {
    fill_variances(&w);
    fill_shape(in, &w);
    double n_a, n_b;
    band->difference = g_new(double, w.m);
    band->half_width = g_new(double, w.m);
    side_means(in, band, &n_a, &n_b);
    g_autofree double *sd = g_new(double, w.m);
    for (gsize j = 0; j < w.m; j++)
      sd[j] = sqrt(w.v0 / (double)w.m + w.v1 * w.p1[j] * w.p1[j] +
                   w.vr * gsl_matrix_get(w.shape, j, j)) +
              1e-12;
    band->q = simulate_q(in, &w, sd);
    for (gsize j = 0; j < w.m; j++)
      band->half_width[j] = band->q * sd[j] * sqrt(1 / n_a + 1 / n_b);
    band->freedom = (double)w.nu;
    band->rough = w.nu < 4;
    gsl_matrix_free(w.shape);
  } else
    *why = &no_band;
  g_free(w.p1);
  g_free(w.rows);
  return good;
}

void ew_band_clear(struct ew_band *band) {
  g_free(band->difference);
  g_free(band->half_width);
  *band = (struct ew_band){0};
}
