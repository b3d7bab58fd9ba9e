/* A simultaneous band for the difference of two curves, with the run as the unit. */
#pragma once
#include "base/message.h"
#include <glib.h>

struct ew_band_input {
  gsize points;            /* of the common grid, at least 5 */
  const double *speed_rpm; /* of them, rising evenly */
  double half_width_rpm;   /* of the smoother */
  gsize curves;
  const double *log_torque; /* curves x points, row-major */
  const int *group;         /* per curve; 0: A of today, 1: B of today, others: history */
  double noise_relative; /* typical standard error of a point in the middle, for the rest's shape */
  double scale_freedom;  /* nu0 + nu_p of the headline, for the wide form */
  gboolean wide;         /* one common scale: for one pull a side, or tails */
};

struct ew_band {
  gsize points;
  double *difference, *half_width; /* log, per point; NULL when there is no band */
  double freedom, q;
  gboolean rough; /* fewer than 4 degrees of freedom */
};

/* FALSE when no band can be drawn (one degree of freedom or less, or a side without a curve over all of the grid); *why then
 * says it. */
gboolean ew_band(const struct ew_band_input *input, struct ew_band *band,
                 const struct ew_message_kind **why);
void ew_band_clear(struct ew_band *band);
