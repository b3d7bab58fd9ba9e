/* The steps of lobe_fit.h with the same numbers, on GSL matrices of 98 terms: O(readings x terms²) once, O(terms³)
 * for each weight of the grid. */
#include "base/elementary.h"
#include "engine/lobe_fit.h"
#include "base/error.h"
#include "base/statistics.h"
#include <gsl/gsl_blas.h>
#include <gsl/gsl_linalg.h>
#include <math.h>

#define RAD            (G_PI / 180)
#define ORDER          48 /* harmonics of the cam's turn: 15 crank degrees a wave */
#define TERMS          (2 * ORDER + 2)
#define OFFSET         (TERMS - 1) /* last column: the dial's reading on the base circle */
#define SPARSE         10.0
#define RAMPS_BELOW    0.06 /* of the lift */
#define NOSE_ABOVE     0.50
#define NOSE_STIFFNESS 100.0
#define CAUTION        1.7 /* each parameter counts for this many in the cross-validation */

struct readings {
  GArray *angle, *lift; /* of double, around the peak, base circle filled in */
  gsize given;          /* the first ones are the user's */
  double peak_deg;
};

static void add(struct readings *r, double angle, double lift) {
  g_array_append_val(r->angle, angle);
  g_array_append_val(r->lift, lift);
}

static double base_circle(const double *y, gsize count) {
  g_assert(count >= 2);
  const double ends[] = {y[0], y[1], y[count - 2], y[count - 1]};
  return ew_mean(ends, 4, EW_NONE_ABSENT);
}

static gboolean usable(const double *angle, const double *y, gsize count, gsize peak,
                       GError **error) {
  g_assert(peak < count);
  double height = y[peak] - base_circle(y, count), widest = 0;
  for (gsize i = 1; i < count; i++)
    widest = fmax(widest, angle[i] - angle[i - 1]);
  if (widest > SPARSE)
    return ew_refuse(error,
                     "lobe readings are up to %.1f crank degrees apart: read at least every "
                     "%.0f",
                     widest, SPARSE);
  if (angle[count - 1] - angle[0] >= 720)
    return ew_refuse(error, "lobe readings span more than one turn of the cam, 720 crank "
                            "degrees: give one turn");
  if (peak < 3 || peak > count - 4 || fabs(y[0] - y[count - 1]) > 0.03 * height)
    return ew_refuse(error,
                     "lobe readings must begin and end on the base circle: they begin with "
                     "%.2f and end with %.2f mm of %.2f",
                     y[0] * 1e3, y[count - 1] * 1e3, y[peak] * 1e3);
  return TRUE;
}

static void collect(struct readings *r, const double *angle, const double *y, gsize count,
                    gsize peak) {
  g_assert(peak < count && count >= 2);
  double base = base_circle(y, count), step = (angle[count - 1] - angle[0]) / (double)(count - 1);
  r->angle = g_array_new(FALSE, FALSE, sizeof(double));
  r->lift = g_array_new(FALSE, FALSE, sizeof(double));
  r->peak_deg = angle[peak];
  r->given = count;
  for (gsize i = 0; i < count; i++)
    add(r, angle[i] - r->peak_deg, y[i] - base);
  for (double at = angle[count - 1] + step; at < angle[0] + 720 - step / 2; at += step)
    add(r, at - r->peak_deg, 0);
}

/* Rows of the user's readings carry the dial's offset; filled-in ones are true zeros. */
static gsl_matrix *design_of(const struct readings *r) {
  gsl_matrix *a = gsl_matrix_alloc(r->angle->len, TERMS);
  for (gsize i = 0; i < r->angle->len; i++) {
    double half = g_array_index(r->angle, double, i) * RAD / 2;
    gsl_matrix_set(a, i, 0, 1);
    for (int k = 1; k <= ORDER; k++) {
      gsl_matrix_set(a, i, (gsize)(2 * k - 1), ew_cos(k * half));
      gsl_matrix_set(a, i, (gsize)(2 * k), ew_sin(k * half));
    }
    gsl_matrix_set(a, i, OFFSET, i < r->given ? 1 : 0);
  }
  return a;
}

/* How smooth the lobe has to be at a share of its lift: a hundred times more on the nose than on
 * ramps, where real lobes have their jerk. */
static double stiffness_at(double share) {
  double up = CLAMP((share - RAMPS_BELOW) / (NOSE_ABOVE - RAMPS_BELOW), 0, 1);
  return ew_pow(NOSE_STIFFNESS, up);
}

/* Mean of stiffness x (third derivatives)^2 over the turn, in steps of a degree. */
static gsl_matrix *penalty_of(const struct readings *r) {
  gsl_matrix *d = gsl_matrix_calloc(TERMS, TERMS);
  gsl_vector *third = gsl_vector_calloc(TERMS);
  double height = 0, first = g_array_index(r->angle, double, 0);
  guint at = 0;
  for (guint i = 0; i < r->lift->len; i++)
    height = fmax(height, g_array_index(r->lift, double, i));
  for (int degree = 0; degree < 720; degree++) {
    double angle = first + degree;
    while (at + 1 < r->angle->len && g_array_index(r->angle, double, at + 1) <= angle)
      at++;
    double share = g_array_index(r->lift, double, at) / height;
    for (int k = 1; k <= ORDER; k++) {
      double turn = k * angle * RAD / 2, size = (double)k * k * k;
      gsl_vector_set(third, (gsize)(2 * k - 1), size * ew_sin(turn));
      gsl_vector_set(third, (gsize)(2 * k), -size * ew_cos(turn));
    }
    gsl_blas_dsyr(CblasLower, stiffness_at(share) / 360, third, d);
  }
  for (gsize i = 0; i < TERMS; i++)
    for (gsize j = i + 1; j < TERMS; j++)
      gsl_matrix_set(d, i, j, gsl_matrix_get(d, j, i));
  gsl_vector_free(third);
  return d;
}

struct system {
  gsl_matrix *design, *normal, *penalty, *inverse;
  gsl_vector *right, *solution, *residual, *y, *work;
  gsize given;
  gboolean base_known; /* the offset is held at zero */
  double base_sd_m;
};

static struct system system_of(const struct readings *r) {
  gsize rows = r->angle->len;
  struct system s = {design_of(r),
                     gsl_matrix_alloc(TERMS, TERMS),
                     penalty_of(r),
                     gsl_matrix_alloc(TERMS, TERMS),
                     gsl_vector_alloc(TERMS),
                     gsl_vector_alloc(TERMS),
                     gsl_vector_alloc(rows),
                     gsl_vector_alloc(rows),
                     gsl_vector_alloc(TERMS),
                     r->given,
                     FALSE,
                     0};
  for (gsize i = 0; i < rows; i++)
    gsl_vector_set(s.y, i, g_array_index(r->lift, double, i));
  gsl_blas_dgemm(CblasTrans, CblasNoTrans, 1, s.design, s.design, 0, s.normal);
  gsl_blas_dgemv(CblasTrans, 1, s.design, s.y, 0, s.right);
  return s;
}

static void system_free(struct system *s) {
  gsl_vector_free(s->work);
  gsl_vector_free(s->y);
  gsl_vector_free(s->residual);
  gsl_vector_free(s->solution);
  gsl_vector_free(s->right);
  gsl_matrix_free(s->inverse);
  gsl_matrix_free(s->penalty);
  gsl_matrix_free(s->normal);
  gsl_matrix_free(s->design);
}

/* a' inverse a, summed over the user's rows, with the offset's column or without. */
static double leverage(struct system *s, gboolean with_offset) {
  double sum = 0, one;
  gsize terms = with_offset ? TERMS : OFFSET;
  gsl_matrix_const_view inverse = gsl_matrix_const_submatrix(s->inverse, 0, 0, terms, terms);
  gsl_vector_view work = gsl_vector_subvector(s->work, 0, terms);
  for (gsize i = 0; i < s->given; i++) {
    gsl_vector_const_view row = gsl_matrix_const_subrow(s->design, i, 0, terms);
    gsl_blas_dsymv(CblasLower, 1, &inverse.matrix, &row.vector, 0, &work.vector);
    gsl_blas_ddot(&row.vector, &work.vector, &one);
    sum += one;
  }
  return sum;
}

/* Solve with one weight; residual sum of squares and parameters used, of the user's rows. The
 * penalty keeps the matrix positive definite even where there are fewer readings than terms. */
static double solve(struct system *s, double weight, double *freedom) {
  double squares = 0, rows = (double)s->y->size;
  gsl_matrix_memcpy(s->inverse, s->penalty);
  gsl_matrix_scale(s->inverse, rows * weight);
  gsl_matrix_add(s->inverse, s->normal);
  if (s->base_known)
    *gsl_matrix_ptr(s->inverse, OFFSET, OFFSET) += 1e12;
  gsl_linalg_cholesky_decomp1(s->inverse);
  gsl_linalg_cholesky_solve(s->inverse, s->right, s->solution);
  gsl_linalg_cholesky_invert(s->inverse);
  *freedom = leverage(s, TRUE);
  gsl_vector_memcpy(s->residual, s->y);
  gsl_blas_dgemv(CblasNoTrans, -1, s->design, s->solution, 1, s->residual);
  for (gsize i = 0; i < s->given; i++)
    squares += gsl_vector_get(s->residual, i) * gsl_vector_get(s->residual, i);
  return squares;
}

static double best_weight(struct system *s) {
  double best = NAN, least = INFINITY, rows = (double)s->given;
  for (double exponent = -16; exponent <= -4; exponent += 0.25) {
    double freedom, squares = solve(s, ew_pow(10, exponent), &freedom);
    double left = rows - CAUTION * freedom, score = rows * squares / (left * left);
    if (left > 0 && score < least) {
      least = score;
      best = ew_pow(10, exponent);
    }
  }
  return best;
}

/* Readings at both ends, up to the first where the curve has left the base circle by more than its
 * noise, are the base circle: their mean is the dial's zero. */
static void settle_base(struct system *s, double noise_m) {
  double sum = 0, offset = gsl_vector_get(s->solution, OFFSET);
  gsize count = 0;
  for (int end = 0; end < 2; end++)
    for (gsize i = 0; i < s->given; i++) {
      gsize row = end ? s->given - 1 - i : i;
      double curve = gsl_vector_get(s->y, row) - gsl_vector_get(s->residual, row) - offset;
      if (i >= 2 && fabs(curve) > 1.5 * noise_m)
        break;
      sum += gsl_vector_get(s->y, row);
      count++;
    }
  for (gsize i = 0; i < s->given; i++)
    *gsl_vector_ptr(s->y, i) -= sum / (double)count;
  gsl_blas_dgemv(CblasTrans, 1, s->design, s->y, 0, s->right);
  s->base_known = TRUE;
  s->base_sd_m = noise_m / sqrt((double)count);
}

static void set_lobe(struct ew_lobe *lobe, const gsl_vector *c) {
  *lobe = (struct ew_lobe){.kind = EW_LOBE_FITTED, .harmonics = ORDER, .reach_deg = 360};
  lobe->cosine[0] = gsl_vector_get(c, 0);
  for (int k = 1; k <= ORDER; k++) {
    lobe->cosine[k] = gsl_vector_get(c, (gsize)(2 * k - 1));
    lobe->sine[k] = gsl_vector_get(c, (gsize)(2 * k));
  }
}

/* Turn the harmonics so that zero lies `by` further on. */
static void turn(struct ew_lobe *lobe, double by_deg) {
  for (int k = 1; k <= lobe->harmonics; k++) {
    double c = ew_cos(k * by_deg * RAD / 2), s = ew_sin(k * by_deg * RAD / 2);
    double a = lobe->cosine[k], b = lobe->sine[k];
    lobe->cosine[k] = a * c + b * s;
    lobe->sine[k] = b * c - a * s;
  }
}

static double peak_of(const struct ew_lobe *lobe) {
  double best = 0;
  for (double angle = -40; angle <= 40; angle += 0.05)
    if (ew_lobe_at(lobe, angle).lift_m > ew_lobe_at(lobe, best).lift_m)
      best = angle;
  return best;
}

/* The flanks end where the curve, going outwards, first turns up again or is lower than a
 * hundredth of its noise above the base circle. */
static double reach_of(const struct ew_lobe *lobe, double quiet_m) {
  double reach = 0;
  for (int side = -1; side <= 1; side += 2) {
    double angle = 40;
    while (angle < 359 && ew_lobe_at(lobe, side * angle).lift_m > quiet_m)
      angle += 0.5;
    reach = fmax(reach, angle);
  }
  return fmin(360, reach + 5);
}

static void describe(struct ew_lobe_fit *fit, struct system *s, double squares) {
  double rows = (double)s->given;
  fit->residual_sd_m = sqrt(squares / (rows - fit->freedom));
  fit->lift_sd_m = ew_hypot(fit->residual_sd_m * sqrt(leverage(s, FALSE) / rows), s->base_sd_m);
  for (gsize i = 0; i < s->given; i++)
    if (fabs(gsl_vector_get(s->residual, i)) > fabs(fit->worst_m)) {
      fit->worst = i;
      fit->worst_m = gsl_vector_get(s->residual, i);
    }
}

static void centre(struct ew_lobe_fit *fit, double check_lift_m, double peak_deg) {
  double opens, closes, nose = peak_of(&fit->lobe);
  turn(&fit->lobe, nose);
  fit->lobe.peak_m = ew_lobe_at(&fit->lobe, 0).lift_m;
  ew_lobe_duration_deg(&fit->lobe, check_lift_m, &opens, &closes);
  double middle = isnan(opens) ? 0 : (opens + closes) / 2;
  fit->asymmetry_deg = 2 * middle;
  turn(&fit->lobe, middle);
  fit->lobe.centre_deg = peak_deg + nose + middle;
  fit->lobe.reach_deg = reach_of(&fit->lobe, fmax(fit->lift_sd_m, 1e-6));
}

gboolean ew_lobe_fit(const double *angles, const double *y, gsize count, double check_lift_m,
                     struct ew_lobe_fit *fit, GError **error) {
  if (count < 24)
    return ew_refuse(error, "%zu lobe readings are too few for a curve: take at least 24", count);
  gsize peak = 0;
  for (gsize i = 0; i < count; i++)
    if (y[i] > y[peak])
      peak = i;
  if (!usable(angles, y, count, peak, error))
    return FALSE;
  struct readings r;
  collect(&r, angles, y, count, peak);
  struct system s = system_of(&r);
  *fit = (struct ew_lobe_fit){0};
  double squares = solve(&s, best_weight(&s), &fit->freedom);
  settle_base(&s, sqrt(squares / ((double)count - fit->freedom)));
  squares = solve(&s, best_weight(&s), &fit->freedom);
  set_lobe(&fit->lobe, s.solution);
  describe(fit, &s, squares);
  centre(fit, check_lift_m, r.peak_deg);
  system_free(&s);
  g_array_unref(r.angle);
  g_array_unref(r.lift);
  return TRUE;
}
