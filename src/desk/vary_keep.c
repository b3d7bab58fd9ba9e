/* An answer about a variant as a record of a kept file: seven figures, then the torques. */
#include "desk/vary_keep.h"
#include <string.h>

#define FIGURES 7 /* before the torques */

struct ew_kept_file *ew_vary_keep_open(const char *path, GError **error) {
  return ew_kept_file_open(path, "--keep", "# enginewright variants 1", error);
}

gboolean ew_vary_keep_find(struct ew_kept_file *keep, const char *key, int speeds,
                           struct ew_kept_answer *a) {
  g_assert(a->torque_n_m && speeds > 0);
  g_autofree double *f = g_new(double, FIGURES + (gsize)speeds);
  if (!ew_kept_file_find(keep, key, FIGURES + speeds, f))
    return FALSE;
  *a =
      (struct ew_kept_answer){f[0], f[1], f[2], f[3], f[4], f[5], f[6] == 1, speeds, a->torque_n_m};
  memcpy(a->torque_n_m, f + FIGURES, sizeof(double) * (gsize)speeds);
  return TRUE;
}

static double *figures_of(const struct ew_kept_answer *a) {
  const double first[FIGURES] = {a->lower,       a->upper,  a->lower_u,       a->upper_u,
                                 a->worst_knock, a->octane, a->converged != 0};
  double *figures = g_new(double, FIGURES + a->speeds);
  memcpy(figures, first, sizeof first);
  memcpy(figures + FIGURES, a->torque_n_m, sizeof(double) * (gsize)a->speeds);
  return figures;
}

gboolean ew_vary_keep_add(struct ew_kept_file *keep, const struct ew_kept_row *rows, int n,
                          GError **error) {
  g_autoptr(GPtrArray) figures = g_ptr_array_new_with_free_func(g_free);
  g_autofree struct ew_kept_line *lines = g_new(struct ew_kept_line, MAX(n, 1));
  for (int i = 0; i < n; i++) {
    g_ptr_array_add(figures, figures_of(&rows[i].answer));
    lines[i] = (struct ew_kept_line){rows[i].key, rows[i].text, g_ptr_array_index(figures, i),
                                     FIGURES + rows[i].answer.speeds};
  }
  return ew_kept_file_add(keep, lines, n, error);
}
