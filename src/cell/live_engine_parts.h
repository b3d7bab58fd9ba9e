/* What the files of the live practice engine share (live_engine.c, live_command.c, live_sensors.c); nobody else includes it. */
#pragma once
#include "cell/live_engine.h"
#include <gsl/gsl_rng.h>

#define EW_LIVE_CYLINDERS 6
#define EW_LIVE_POINTS    10

/* A sweep by the control line, and the machine's own way back. Who moves where: ew_live_engine_command (sweep, throttle,
 * stop) and follow_phase, sample by sample.
 *
 *   STEADY --sweep--> HOLD --first speed held 2 s--> OPEN --1 s--> SWEEP --last speed--> RUN_DOWN --slow--> STEADY
 *                     HOLD --not held in 20 s--> STEADY
 *   HOLD, OPEN, SWEEP --throttle moved by hand--> RUN_DOWN        any --stop--> STEADY
 */
enum ew_live_phase { EW_LIVE_STEADY, EW_LIVE_HOLD, EW_LIVE_OPEN, EW_LIVE_SWEEP, EW_LIVE_RUN_DOWN };

struct ew_live_fault_state {
  gboolean on;
  double since_s;
  guint times;
  double answered_s; /* first act of a hand or of an output since; 0: none */
  char answer[24];
};

struct ew_live_engine {
  gsl_rng *random;
  double rate_hz, time_s, phase_s;
  guint64 samples;
  gboolean running, cranking, shut; /* shut: a hand on the lever ended the sweep */
  double crank_s;
  enum ew_live_phase phase;
  double speed_rpm, target_rpm, slope_rpm_s; /* of the controller */
  double from_rpm, to_rpm, rate_rpm_s;       /* of the sweep */
  double throttle_asked, throttle, absorber_n_m, valve_n_m, integral;
  double spark_deg, lambda, oil_c, coolant_c, inlet_c, baro_hpa, humidity, water_c;
  double egt_c[EW_LIVE_CYLINDERS], lambda_path[256];
  double run_bend, coolant_extra_bar, oil_share;
  struct ew_live_fault_state faults[EW_LIVE_FAULTS_COUNT];
};

extern const double
    ew_live_speeds_rpm[EW_LIVE_POINTS]; /* at which the tables of the invented engine stand */
/* A table of it at a speed: linear between, level below, falling above. */
double ew_live_look_up(const double *table, double speed_rpm);
double ew_live_noise(struct ew_live_engine *engine, double standard_deviation);
gboolean ew_live_has(const struct ew_live_engine *engine, enum ew_live_fault fault);
/* One reading of every sensor: EW_LIVE_ENGINE_CHANNELS values. */
void ew_live_read_sensors(struct ew_live_engine *engine, double *values);
