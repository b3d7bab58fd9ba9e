/* The practice cell: a simulated engine, dyno and sensors, that writes what a real logger would write.
 *
 * Torque comes from a table, bent by spark, mixture, temperatures, weather and break-in; the absorber
 * holds a steady acceleration; rotor and coupling take their share of torque; sensors add noise, lag
 * and drift. Everything follows from the seed. */
#pragma once
#include "base/field.h"
#include "pull/bench.h"

struct ew_practice {
  GArray *speeds_rpm, *torques_n_m, *specific_fuel_kg_j, *oil_pressures_pa; /* at the speeds */
  double spark_best_deg, spark_loss, lambda_best, lambda_loss; /* loss a degree^2, a lambda^2 */
  double knock_from_deg, knock_hard_deg, knock_rpm;
  double stoichiometric_ratio;
  double oil_fault_from_rpm, oil_fault_pa_rpm; /* pick-up draws air above this speed */
  double repeat_sd, restart_sd, noise_n_m, hunting_n_m, hunting_hz, speed_noise_rpm;
  double zero_drift_n_m_s, oil_effect, coolant_effect, inlet_effect; /* relative a kelvin */
  double first_pull_loss, break_in_gain, break_in_pulls;
  double oil_start_k, coolant_start_k, rate_hz;
  int seed;
};
extern const struct ew_fields ew_practice_fields;
void ew_practice_clear(struct ew_practice *practice);
gboolean ew_practice_check(const struct ew_practice *practice, GError **error);

/* What one pull, or one run without load, is asked to do. */
struct ew_practice_pull {
  double from_rpm, to_rpm, rate_rpm_s, spark_deg, lambda;
  double pressure_pa, temperature_k, humidity;
  double oil_k, coolant_k; /* at the start; NaN: the usual */
  double hours;            /* since the zero was set */
  gboolean first_after_stop, oil_low;
  int run, number; /* which run between stops, which pull of the engine's life */
  double idle_s;   /* a run without load of this length instead of a pull; NaN: a pull */
};

/* A text table, as a logger writes it. */
GString *ew_practice_record(const struct ew_practice *practice, const struct ew_bench *bench,
                            const struct ew_practice_pull *pull);
