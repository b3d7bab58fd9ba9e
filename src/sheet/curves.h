/* A plot of several torque curves on one page, each told by its own dash and a label at its end. */
#pragma once
#include "base/units.h"
#include "sheet/page.h"

struct ew_curves {
  const char *title, *caption;
  enum ew_unit_system units;
  gsize points, curves;
  const double *speed_rpm;
  const double *const *torque_n_m; /* curves arrays of `points` */
  const char *const *labels;
};
gboolean ew_curves_draw(const struct ew_curves *curves, const char *path, enum ew_format format,
                        enum ew_paper paper, const char *stamp, GError **error);
