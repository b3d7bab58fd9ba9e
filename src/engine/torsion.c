/* The symmetric matrix of a row of inertias, its eigenvalues by GSL without the free turning, and the range that a
 * critical speed bars. No engine, coupling or absorber inertia: no frequencies. */
#include "engine/torsion.h"
#include <gsl/gsl_eigen.h>
#include <gsl/gsl_sort_vector.h>
#include <math.h>

/* J^-1/2 K J^-1/2 of a row of inertias. */
static gsl_matrix *chain(const double *inertia, const double *stiffness, gsize count) {
  gsl_matrix *a = gsl_matrix_calloc(count, count);
  for (gsize i = 0; i < count; i++) {
    double left = i ? stiffness[i - 1] : 0, right = i + 1 < count ? stiffness[i] : 0;
    gsl_matrix_set(a, i, i, (left + right) / inertia[i]);
    if (i + 1 < count) {
      double off = -right / sqrt(inertia[i] * inertia[i + 1]);
      gsl_matrix_set(a, i, i + 1, off);
      gsl_matrix_set(a, i + 1, i, off);
    }
  }
  return a;
}

void ew_torsion_frequencies_hz(const double *inertia, const double *stiffness, gsize count,
                               double *frequencies_hz) {
  g_assert(count >= 2 && count <= EW_TORSION_MAX);
  gsl_matrix *a = chain(inertia, stiffness, count);
  gsl_vector *squares = gsl_vector_alloc(count);
  gsl_eigen_symm_workspace *work = gsl_eigen_symm_alloc(count);
  gsl_eigen_symm(a, squares, work);
  gsl_sort_vector(squares);
  for (gsize i = 1; i < count; i++)
    frequencies_hz[i - 1] = sqrt(gsl_vector_get(squares, i)) / (2 * G_PI);
  gsl_eigen_symm_free(work);
  gsl_vector_free(squares);
  gsl_matrix_free(a);
}

gsize ew_torsion_of(const struct ew_engine *engine, double frequencies_hz[EW_TORSION_MAX]) {
  const struct ew_engine_torsion *t = &engine->torsion;
  if (isnan(engine->inertia_kg_m2) || isnan(t->coupling_stiffness_n_m_rad) ||
      isnan(t->absorber_inertia_kg_m2))
    return 0;
  double shaft = isnan(t->shaft_inertia_kg_m2) ? 0 : t->shaft_inertia_kg_m2;
  double stiffness[] = {t->coupling_stiffness_n_m_rad, t->shaft_stiffness_n_m_rad};
  gboolean three = shaft > 0 && !isnan(t->shaft_stiffness_n_m_rad);
  if (three) {
    double inertia[] = {engine->inertia_kg_m2, shaft, t->absorber_inertia_kg_m2};
    ew_torsion_frequencies_hz(inertia, stiffness, 3, frequencies_hz);
    return 2;
  }
  double inertia[] = {engine->inertia_kg_m2, shaft + t->absorber_inertia_kg_m2};
  ew_torsion_frequencies_hz(inertia, stiffness, 2, frequencies_hz);
  return 1;
}

struct ew_barred_range ew_barred_range_of(double frequency_hz, double order, double top_speed_rpm) {
  double critical = 60 * frequency_hz / order, ratio = critical / top_speed_rpm;
  return (struct ew_barred_range){order, critical, 16 * critical / (18 - ratio),
                                  (18 - ratio) * critical / 16, FALSE};
}

gsize ew_barred_ranges(const struct ew_engine *engine, const double *frequencies_hz, gsize count,
                       double top_speed_rpm, struct ew_barred_range *ranges, gsize room) {
  double step = ew_engine_cycles_per_turn(engine), main_order = engine->cylinders * step;
  gsize written = 0;
  for (gsize f = 0; f < count; f++)
    for (double order = step; order <= 2 * main_order && written < room; order += step) {
      struct ew_barred_range range = ew_barred_range_of(frequencies_hz[f], order, top_speed_rpm);
      range.strong = fmod(order, main_order) == 0 || order == main_order / 2;
      if (range.critical_rpm <= top_speed_rpm && range.critical_rpm >= top_speed_rpm / 10)
        ranges[written++] = range;
    }
  g_assert(written <= room);
  return written;
}
