/* One figure of a curve, walked back to the samples it came from. */
#pragma once
#include "pull/process.h"

struct ew_origin {
  double speed_rpm; /* the point of the curve nearest to what was asked */
  double torque_n_m, power_w, torque_se_n_m;
  double measured_n_m, inertia_n_m, engine_inertia_n_m, acceleration_rpm_s;
  gsize samples, touched; /* with weight; of them touched by cleaning */
  double first_s, last_s; /* of those samples, in the recording */
  double low_rpm, high_rpm;
};

gboolean ew_explain(const struct ew_processed *processed, guint pull,
                    const struct ew_reduce_facts *facts, double speed_rpm, struct ew_origin *origin,
                    GError **error);
