/* engine predict --plot: the curve over a measured one, and one cylinder over one cycle, on two pages (sheet/inside_sheet.h). What was asked
 * is read, and refused, before the engine runs. */
#pragma once
#include "cli/command.h"
#include "desk/predict.h"
#include "sheet/page.h"

struct ew_predict_plot {
  const char *path; /* NULL: not asked for */
  enum ew_format format;
  enum ew_paper paper;
  double at_rpm;       /* NaN: the speed of highest power */
  GPtrArray *measured; /* of struct ew_loaded *, the first counts; NULL: none */
};
/* --plot, --at, --measured, --paper. Clear it whatever came. */
gboolean ew_predict_plot_read(const struct ew_call *call, struct ew_predict_plot *plot,
                              GError **error);
void ew_predict_plot_clear(struct ew_predict_plot *plot);

struct ew_predict_drawn {
  const struct ew_prediction_setup *setup;
  const struct ew_cycle_options *options; /* of the curve: the cycle's run has the same cells */
  const struct ew_cycle_result *results;
  const double *speed_rpm;
  int count;
  const struct ew_doubt *doubt; /* its uncertainty NULL: no band */
  const GPtrArray *notes;
};
gboolean ew_predict_plot_draw(const struct ew_predict_plot *plot,
                              const struct ew_predict_drawn *drawn, enum ew_unit_system units,
                              GError **error);
