/* How a curve is computed: everything that a person may choose, in one record that is stored with
 * the curve, so that the same raw bytes and the same method give the same bytes again. */
#pragma once
#include "base/field.h"
#include "pull/correct.h"

struct ew_method {
  int standard;               /* enum ew_standard */
  int charging;               /* enum ew_charging, for compression-ignition factors */
  double grid_step_rpm;       /* distance of the points of a curve */
  double half_width_rpm;      /* of the local regression: finer detail is smoothed */
  double after_load_rpm;      /* left out after the load comes on */
  double band_low, band_high; /* of the headline, as shares of the top speed */
  double spike_limit;         /* of the Hampel filter, in scaled median deviations */
  double longest_fill_s;      /* gaps up to this are filled */
  double weather_age_s;       /* weather that was typed for an earlier pull holds so long */
  gboolean engine_inertia;    /* add the engine's own inertia too */
};

extern const struct ew_fields ew_method_fields;
void ew_method_defaults(struct ew_method *method);
