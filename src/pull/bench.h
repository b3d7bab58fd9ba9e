/* The cell: absorber, load cell, arm and weather sensors, with what their calibration says. */
#pragma once
#include "base/field.h"

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
};
extern const struct ew_fields ew_bench_fields;
void ew_bench_defaults(struct ew_bench *bench);
