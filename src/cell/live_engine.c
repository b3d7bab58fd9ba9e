/* The machine of the live practice cell: engine, absorber, controller and heat, stepped in time (equations: live_engine.h). An
 * invented six; nothing here is measured, and everything follows from the seed. */
#include "cell/live_engine_parts.h"
#include <gsl/gsl_randist.h>
#include <math.h>

#define SUBSTEP_S 0.002
#define INERTIA   0.290 /* kg m2: rotor 0.105, shaft and coupling 0.030, engine 0.155 */
#define IDLE_RPM  1150.0

/* An invented six; at best spark and mixture, in 25 degC and 990 hPa. */
const double ew_live_speeds_rpm[EW_LIVE_POINTS] = {2500, 3000, 3500, 4000, 4500,
                                                   5000, 5500, 6000, 6500, 7000};
static const double torques_n_m[EW_LIVE_POINTS] = {226.8, 241.9, 246.9, 261.9, 281.0,
                                                   298.1, 305.1, 302.1, 292.1, 267.0};

double ew_live_look_up(const double *table, double speed) {
  if (speed <= ew_live_speeds_rpm[0])
    return table[0];
  for (int i = 1; i < EW_LIVE_POINTS; i++)
    if (speed <= ew_live_speeds_rpm[i])
      return table[i - 1] + (table[i] - table[i - 1]) * (speed - ew_live_speeds_rpm[i - 1]) /
                                (ew_live_speeds_rpm[i] - ew_live_speeds_rpm[i - 1]);
  return table[EW_LIVE_POINTS - 1] - 0.06 * (speed - ew_live_speeds_rpm[EW_LIVE_POINTS - 1]);
}

double ew_live_noise(struct ew_live_engine *e, double sd) {
  return gsl_ran_gaussian_ziggurat(e->random, sd);
}

gboolean ew_live_has(const struct ew_live_engine *e, enum ew_live_fault fault) {
  g_assert(fault < EW_LIVE_FAULTS_COUNT);
  return e->faults[fault].on;
}

struct ew_live_engine *ew_live_engine_new(guint seed, double rate_hz) {
  g_assert(rate_hz > 0);
  struct ew_live_engine *e = g_new0(struct ew_live_engine, 1);
  e->random = gsl_rng_alloc(gsl_rng_mt19937);
  gsl_rng_set(e->random, seed);
  e->rate_hz = rate_hz;
  e->running = TRUE;
  e->speed_rpm = e->target_rpm = 2000;
  e->throttle = e->throttle_asked = 0.1;
  e->spark_deg = 28;
  e->lambda = 0.88;
  e->oil_c = 88;
  e->coolant_c = 78;
  e->inlet_c = 25;
  e->baro_hpa = 990;
  e->humidity = 45;
  e->water_c = 22;
  e->oil_share = 1;
  for (int i = 0; i < EW_LIVE_CYLINDERS; i++)
    e->egt_c[i] = 520;
  for (gsize i = 0; i < G_N_ELEMENTS(e->lambda_path); i++)
    e->lambda_path[i] = 0.98;
  return e;
}

void ew_live_engine_free(struct ew_live_engine *e) {
  if (!e)
    return;
  gsl_rng_free(e->random);
  g_free(e);
}

double ew_live_engine_time_s(const struct ew_live_engine *e) {
  return e->time_s;
}

gboolean ew_live_engine_ready(const struct ew_live_engine *e) {
  return e->phase == EW_LIVE_STEADY && !e->cranking;
}

static void follow_phase(struct ew_live_engine *e) {
  double since = e->time_s - e->phase_s, low;
  e->slope_rpm_s = 0;
  switch (e->phase) {
  case EW_LIVE_STEADY: break;
  case EW_LIVE_HOLD:
    e->target_rpm = e->from_rpm;
    e->throttle_asked = 0.15;
    if (since > 2 && fabs(e->speed_rpm - e->from_rpm) < 60) {
      e->phase = EW_LIVE_OPEN;
      e->phase_s = e->time_s;
    } else if (since > 20)
      e->phase = EW_LIVE_STEADY;
    break;
  case EW_LIVE_OPEN:
    e->throttle_asked = 1;
    if (since > 1.0) {
      e->phase = EW_LIVE_SWEEP;
      e->phase_s = e->time_s;
    }
    break;
  case EW_LIVE_SWEEP:
    g_assert(e->rate_rpm_s > 0 && e->to_rpm > e->from_rpm);
    e->target_rpm = fmin(e->from_rpm + e->rate_rpm_s * since, e->to_rpm);
    e->slope_rpm_s = e->target_rpm < e->to_rpm ? e->rate_rpm_s : 0;
    if (e->target_rpm >= e->to_rpm) {
      e->phase = EW_LIVE_RUN_DOWN;
      e->phase_s = e->time_s;
    }
    break;
  case EW_LIVE_RUN_DOWN:
    low = e->shut ? 1200 : 2000;
    e->throttle_asked = e->shut ? e->throttle_asked : 0.04;
    e->target_rpm = fmax(e->target_rpm - 900 / e->rate_hz, low);
    if (e->target_rpm <= low && e->speed_rpm < low + 100) {
      e->throttle_asked = e->shut ? e->throttle_asked : 0.1;
      e->phase = EW_LIVE_STEADY;
    }
  }
}

static double bend(const struct ew_live_engine *e) {
  double spark = e->spark_deg - 33, mixture = e->lambda - 0.88;
  double sum = e->run_bend - 0.0004 * spark * spark - 3.3 * mixture * mixture +
               0.00035 * (e->oil_c - 88) - 0.0005 * (e->coolant_c - 78);
  if (ew_live_has(e, EW_LIVE_FAULT_LEAN_CYLINDER))
    sum -= 0.02;
  if (ew_live_has(e, EW_LIVE_FAULT_VALVE_CONTACT) && e->speed_rpm > 6400)
    sum -= 0.10;
  if (ew_live_has(e, EW_LIVE_FAULT_FUEL_STARVATION))
    sum -= 0.05 * fmax(e->speed_rpm - 4500, 0) / 2500;
  return 1 + sum;
}

static double engine_torque(struct ew_live_engine *e) {
  double friction = 22 + 0.0062 * e->speed_rpm;
  if (!e->running)
    return e->speed_rpm > 30 ? -friction : 0;
  double governor = CLAMP((IDLE_RPM - e->speed_rpm) / 400, 0, 0.35);
  double open = CLAMP(e->throttle + governor, 0, 1);
  double share = 1 - pow(1 - open, 1.6 + 2500 / fmax(e->speed_rpm, 800));
  double full = ew_live_look_up(torques_n_m, e->speed_rpm) * bend(e) * fmin(e->speed_rpm / 2500, 1);
  return share * (full + friction) - friction;
}

/* A speed controller with feed-forward, through a water valve and the absorber's own lag. */
static void step_machine(struct ew_live_engine *e, double dt) {
  double radians = G_PI / 30, torque = engine_torque(e);
  double error = (e->speed_rpm - e->target_rpm) * radians;
  double lag_s = ew_live_has(e, EW_LIVE_FAULT_STICKING_ABSORBER) ? 0.3 : 0.06;
  e->integral = CLAMP(e->integral + 6 * error * dt, -60, 60);
  double want = torque - INERTIA * e->slope_rpm_s * radians + 4 * error + e->integral;
  e->valve_n_m += (CLAMP(want, 0, 900) - e->valve_n_m) * dt / lag_s;
  e->absorber_n_m += (e->valve_n_m - e->absorber_n_m) * dt / 0.03;
  e->throttle += (e->throttle_asked - e->throttle) * dt / 0.08;
  if (e->cranking) {
    e->speed_rpm = 220;
    e->running = e->time_s > e->crank_s + 0.8;
    e->cranking = !e->running;
    e->target_rpm = 2000;
    e->throttle_asked = 0.1;
    return;
  }
  double turn = (torque - e->absorber_n_m * fmin(e->speed_rpm / 300, 1)) / INERTIA / radians;
  e->speed_rpm = fmax(e->speed_rpm + turn * dt, 0);
}

static void step_heat(struct ew_live_engine *e, double dt) {
  double load = fmax(e->absorber_n_m, 0) * e->speed_rpm / (300.0 * 6000);
  e->oil_c += dt * (e->running ? 0.45 * load - (e->oil_c - 86) / 240 : -(e->oil_c - 25) / 1800);
  e->coolant_c +=
      dt * (e->running ? 0.55 * load - (e->coolant_c - 77) / 90 : -(e->coolant_c - 25) / 1200);
  e->inlet_c += dt * (0.08 * load - (e->inlet_c - 25) / 300);
  e->water_c += dt * (1.6 * load - (e->water_c - 22) / 8);
  double full = e->throttle > 0.5 && e->running;
  for (int i = 0; i < EW_LIVE_CYLINDERS; i++) {
    double target = full ? 690 + 32 * (e->speed_rpm - 4500) / 1000 + 6 * (i - 2.5) +
                               450 * (e->lambda - 0.88) - 2.2 * (e->spark_deg - 28)
                    : e->running ? 520
                                 : 60;
    if (i == 3 && full && ew_live_has(e, EW_LIVE_FAULT_LEAN_CYLINDER))
      target += 110;
    e->egt_c[i] += (target - e->egt_c[i]) * dt / 1.6;
  }
  if (ew_live_has(e, EW_LIVE_FAULT_HEAD_GASKET) && e->throttle > 0.8)
    e->coolant_extra_bar = fmin(e->coolant_extra_bar + 0.08 * dt, 0.9);
  if (ew_live_has(e, EW_LIVE_FAULT_OIL_PUMP))
    e->oil_share = fmax(e->oil_share - 1.5 * dt, 0.02);
}

void ew_live_engine_step(struct ew_live_engine *e, double *values) {
  double step = 1 / e->rate_hz;
  int parts = MAX(1, (int)ceil(step / SUBSTEP_S));
  follow_phase(e);
  for (int i = 0; i < parts; i++)
    step_machine(e, step / parts);
  step_heat(e, step);
  g_assert(isfinite(e->absorber_n_m) && isfinite(e->speed_rpm) && e->speed_rpm >= 0);
  ew_live_read_sensors(e, values);
  e->samples++;
  e->time_s = (double)e->samples / e->rate_hz;
}
