/* The cell: absorber, load cell, arm and weather sensors, with what their calibration says. */
#pragma once
#include "base/field.h"
#include "pull/channel.h"

struct ew_bench {
  char *name;
  double rotor_inertia_kg_m2, coupling_inertia_kg_m2;
  double largest_torque_n_m, largest_power_w, largest_speed_rpm;
  double barred_low_rpm, barred_high_rpm; /* no sweep may dwell here */
  double arm_m, arm_uncertainty_m;        /* standard uncertainties all below */
  double gain_uncertainty, hysteresis_n_m, zero_drift_n_m_s, speed_uncertainty_rpm;
  double inertia_uncertainty, pressure_uncertainty_pa, temperature_uncertainty_k,
      humidity_uncertainty;
  double remounting;
  double calibration_limit; /* a gain or check weight that moved by more holds pulls */
  double elevation_m;       /* above sea level: what makes a barometer plausible; NaN: not stated */
  double limit_rpm, rate_rpm_s; /* of sweeps in this cell; NaN: not stated */
  guint64 not_fitted; /* channels that this cell never records: bits, 1 << enum ew_channel */
};
extern const struct ew_fields ew_bench_fields;
void ew_bench_defaults(struct ew_bench *bench);
/* The cell's file says that this cell never records that channel: its absence is said once, there and
 * on the sheet, and is not news. */
gboolean ew_bench_lacks(const struct ew_bench *bench, enum ew_channel channel);
