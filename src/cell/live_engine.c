#include "cell/live_engine.h"
#include "base/words.h"
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <string.h>

#define SUBSTEP_S 0.002
#define INERTIA   0.290 /* kg m2: rotor 0.105, shaft and coupling 0.030, engine 0.155 */
#define IDLE_RPM  1150.0
#define CYLINDERS 6
#define POINTS    10

/* An invented six; at best spark and mixture, in 25 degC and 990 hPa. */
static const double speeds_rpm[POINTS] = {2500, 3000, 3500, 4000, 4500,
                                          5000, 5500, 6000, 6500, 7000};
static const double torques_n_m[POINTS] = {226.8, 241.9, 246.9, 261.9, 281.0,
                                           298.1, 305.1, 302.1, 292.1, 267.0};
static const double oil_bar[POINTS] = {3.6, 4.0, 4.25, 4.5, 4.65, 4.8, 4.9, 5.0, 5.0, 5.0};

#define X(id, word, notice) word,
static const char *const fault_words[] = {EW_LIVE_FAULTS(X)};
#undef X
#define X(id, word, notice) notice,
static const char *const fault_notices[] = {EW_LIVE_FAULTS(X)};
#undef X

const char *const ew_live_engine_names[] = {"RPM",
                                            "Dyno speed",
                                            "Torque",
                                            "Throttle",
                                            "Lambda",
                                            "Fuel flow",
                                            "Air flow",
                                            "Oil pressure",
                                            "Oil temp",
                                            "Coolant temp",
                                            "Coolant pressure",
                                            "Fuel pressure",
                                            "Inlet air temp",
                                            "Baro",
                                            "Humidity",
                                            "Crankcase pressure",
                                            "Blow-by",
                                            "Knock count",
                                            "Spark advance",
                                            "EGT 1",
                                            "EGT 2",
                                            "EGT 3",
                                            "EGT 4",
                                            "EGT 5",
                                            "EGT 6",
                                            "Dyno water temp"};
const char *const ew_live_engine_units[] = {
    "rpm", "rpm", "N·m",  "%",     "", "kg/h", "kg/h", "bar", "°C", "°C", "bar", "bar", "°C",
    "hPa", "%",   "mbar", "l/min", "", "deg",  "°C",   "°C",  "°C", "°C", "°C",  "°C",  "°C"};
static const int decimals[] = {1, 1, 2, 2, 3, 2, 1, 3, 2, 2, 3, 3, 2,
                               2, 1, 2, 1, 0, 2, 1, 1, 1, 1, 1, 1, 2};
G_STATIC_ASSERT(G_N_ELEMENTS(decimals) == EW_LIVE_ENGINE_CHANNELS);

enum phase { STEADY, HOLD, OPEN, SWEEP, RUN_DOWN };

struct live_fault {
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
  enum phase phase;
  double speed_rpm, target_rpm, slope_rpm_s; /* of the controller */
  double from_rpm, to_rpm, rate_rpm_s;       /* of the sweep */
  double throttle_asked, throttle, absorber_n_m, valve_n_m, integral;
  double spark_deg, lambda, oil_c, coolant_c, inlet_c, baro_hpa, humidity, water_c;
  double egt_c[CYLINDERS], lambda_path[256];
  double run_bend, coolant_extra_bar, oil_share;
  struct live_fault faults[EW_LIVE_FAULTS_COUNT];
};

static double look_up(const double *table, double speed) {
  if (speed <= speeds_rpm[0])
    return table[0];
  for (int i = 1; i < POINTS; i++)
    if (speed <= speeds_rpm[i])
      return table[i - 1] + (table[i] - table[i - 1]) * (speed - speeds_rpm[i - 1]) /
                                (speeds_rpm[i] - speeds_rpm[i - 1]);
  return table[POINTS - 1] - 0.06 * (speed - speeds_rpm[POINTS - 1]);
}

static double noise(struct ew_live_engine *e, double sd) {
  return gsl_ran_gaussian_ziggurat(e->random, sd);
}

static gboolean has(const struct ew_live_engine *e, enum ew_live_fault fault) {
  return e->faults[fault].on;
}

struct ew_live_engine *ew_live_engine_new(guint seed, double rate_hz) {
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
  for (int i = 0; i < CYLINDERS; i++)
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
  return e->phase == STEADY && !e->cranking;
}

/* ---- the control line ---- */

static gboolean figures(const char *line, double *a, double *b, double *c) {
  g_auto(GStrv) words = g_strsplit_set(line, " \t", 8);
  double *into[] = {a, b, c};
  guint count = 0;
  for (int i = 1; words[i]; i++) {
    if (!*words[i])
      continue;
    char *end;
    double value = g_ascii_strtod(words[i], &end);
    if (count >= 3 || !into[count] || *end || !isfinite(value))
      return FALSE;
    *into[count++] = value;
  }
  return (count >= 1) && (count == 3 || !into[count]);
}

static char *set_one(const char *line, const char *name, double low, double high, double *member,
                     double scale) {
  double value;
  if (!figures(line, &value, NULL, NULL) || !(value >= low && value <= high))
    return ew_words("refused: %s takes one figure from %g to %g", name, low, high);
  *member = value * scale;
  return ew_words("ok %s %g", name, value);
}

static char *command_sweep(struct ew_live_engine *e, const char *line) {
  double from, to, rate;
  if (!figures(line, &from, &to, &rate) || !(from >= 1500 && to > from && to <= 8500) ||
      !(rate >= 20 && rate <= 2000))
    return g_strdup("refused: sweep FROM TO RATE, 1500 to 8500 rpm, 20 to 2000 rpm/s");
  if (!e->running || e->phase != STEADY)
    return g_strdup(e->running ? "refused: a sweep is under way"
                               : "refused: the engine is stopped");
  e->from_rpm = from;
  e->to_rpm = to;
  e->rate_rpm_s = rate;
  e->phase = HOLD;
  e->shut = FALSE;
  e->phase_s = e->time_s;
  e->run_bend = noise(e, 0.0028);
  return ew_words("ok sweep %g to %g at %g rpm/s", from, to, rate);
}

static char *command_fault(struct ew_live_engine *e, const char *line) {
  g_auto(GStrv) words = g_strsplit(line, " ", 3);
  for (int i = 0; words[1] && i < EW_LIVE_FAULTS_COUNT; i++)
    if (strcmp(words[1], fault_words[i]) == 0) {
      e->faults[i] = (struct live_fault){TRUE, e->time_s, e->faults[i].times + 1};
      return g_strdup_printf("ok fault %s", words[1]);
    }
  g_autoptr(GString) known = g_string_new("refused: fault takes one of");
  for (int i = 0; i < EW_LIVE_FAULTS_COUNT; i++)
    g_string_append_printf(known, " %s", fault_words[i]);
  return g_strdup(known->str);
}

static char *command_clear(struct ew_live_engine *e) {
  for (int i = 0; i < EW_LIVE_FAULTS_COUNT; i++)
    e->faults[i].on = FALSE;
  e->coolant_extra_bar = 0;
  e->oil_share = 1;
  return g_strdup("ok clear");
}

/* Throttle shut, load kept on: the controller holds the absorber while speed comes down. */
static char *command_stop(struct ew_live_engine *e) {
  e->running = FALSE;
  e->throttle_asked = 0;
  e->phase = STEADY;
  e->target_rpm = 0;
  return g_strdup("ok stop");
}

static char *command_start(struct ew_live_engine *e) {
  if (e->running)
    return g_strdup("refused: the engine runs");
  e->cranking = TRUE;
  e->crank_s = e->time_s;
  return g_strdup("ok start");
}

/* What somebody does at the levers while a fault stands is his answer to it. */
static void note_answer(struct ew_live_engine *e, const char *line) {
  static const char *const acts[] = {"throttle ", "speed ", "stop", "spark ", "lambda "};
  gboolean act = FALSE;
  for (gsize i = 0; i < G_N_ELEMENTS(acts); i++)
    act |= g_str_has_prefix(line, acts[i]);
  for (int i = 0; act && i < EW_LIVE_FAULTS_COUNT; i++)
    if (e->faults[i].times && e->faults[i].answered_s == 0) {
      e->faults[i].answered_s = fmax(e->time_s, 1e-9);
      g_strlcpy(e->faults[i].answer, line, sizeof e->faults[i].answer);
    }
}

char *ew_live_engine_command(struct ew_live_engine *e, const char *given) {
  g_autofree char *line = g_strstrip(g_strndup(given, 200));
  note_answer(e, line);
  if (g_str_has_prefix(line, "speed "))
    return set_one(line, "speed", 0, 8500, &e->target_rpm, 1);
  if (g_str_has_prefix(line, "throttle ")) {
    if (e->phase != STEADY) {
      e->phase = RUN_DOWN; /* a hand on the lever ends the sweep */
      e->shut = TRUE;
    }
    return set_one(line, "throttle", 0, 100, &e->throttle_asked, 0.01);
  }
  if (g_str_has_prefix(line, "spark "))
    return set_one(line, "spark", 0, 60, &e->spark_deg, 1);
  if (g_str_has_prefix(line, "lambda "))
    return set_one(line, "lambda", 0.6, 1.3, &e->lambda, 1);
  if (g_str_has_prefix(line, "oil "))
    return set_one(line, "oil", 10, 150, &e->oil_c, 1);
  if (g_str_has_prefix(line, "coolant "))
    return set_one(line, "coolant", 10, 120, &e->coolant_c, 1);
  if (g_str_has_prefix(line, "sweep "))
    return command_sweep(e, line);
  if (g_str_has_prefix(line, "fault "))
    return command_fault(e, line);
  if (strcmp(line, "clear") == 0)
    return command_clear(e);
  if (strcmp(line, "stop") == 0)
    return command_stop(e);
  if (strcmp(line, "start") == 0)
    return command_start(e);
  return g_strdup("refused: write start, stop, speed N, sweep FROM TO RATE, throttle N, spark N, "
                  "lambda X, oil N, coolant N, fault NAME or clear");
}

/* ---- the machine ---- */

static void follow_phase(struct ew_live_engine *e) {
  double since = e->time_s - e->phase_s, low;
  e->slope_rpm_s = 0;
  switch (e->phase) {
  case STEADY: break;
  case HOLD:
    e->target_rpm = e->from_rpm;
    e->throttle_asked = 0.15;
    if (since > 2 && fabs(e->speed_rpm - e->from_rpm) < 60) {
      e->phase = OPEN;
      e->phase_s = e->time_s;
    } else if (since > 20)
      e->phase = STEADY;
    break;
  case OPEN:
    e->throttle_asked = 1;
    if (since > 1.0) {
      e->phase = SWEEP;
      e->phase_s = e->time_s;
    }
    break;
  case SWEEP:
    e->target_rpm = fmin(e->from_rpm + e->rate_rpm_s * since, e->to_rpm);
    e->slope_rpm_s = e->target_rpm < e->to_rpm ? e->rate_rpm_s : 0;
    if (e->target_rpm >= e->to_rpm) {
      e->phase = RUN_DOWN;
      e->phase_s = e->time_s;
    }
    break;
  case RUN_DOWN:
    low = e->shut ? 1200 : 2000;
    e->throttle_asked = e->shut ? e->throttle_asked : 0.04;
    e->target_rpm = fmax(e->target_rpm - 900 / e->rate_hz, low);
    if (e->target_rpm <= low && e->speed_rpm < low + 100) {
      e->throttle_asked = e->shut ? e->throttle_asked : 0.1;
      e->phase = STEADY;
    }
  }
}

static double bend(const struct ew_live_engine *e) {
  double spark = e->spark_deg - 33, mixture = e->lambda - 0.88;
  double sum = e->run_bend - 0.0004 * spark * spark - 3.3 * mixture * mixture +
               0.00035 * (e->oil_c - 88) - 0.0005 * (e->coolant_c - 78);
  if (has(e, EW_LIVE_FAULT_LEAN_CYLINDER))
    sum -= 0.02;
  if (has(e, EW_LIVE_FAULT_VALVE_CONTACT) && e->speed_rpm > 6400)
    sum -= 0.10;
  if (has(e, EW_LIVE_FAULT_FUEL_STARVATION))
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
  double full = look_up(torques_n_m, e->speed_rpm) * bend(e) * fmin(e->speed_rpm / 2500, 1);
  return share * (full + friction) - friction;
}

/* A speed controller with feed-forward, through a water valve and the absorber's own lag. */
static void step_machine(struct ew_live_engine *e, double dt) {
  double radians = G_PI / 30, torque = engine_torque(e);
  double error = (e->speed_rpm - e->target_rpm) * radians;
  double lag_s = has(e, EW_LIVE_FAULT_STICKING_ABSORBER) ? 0.3 : 0.06;
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
  for (int i = 0; i < CYLINDERS; i++) {
    double target = full ? 690 + 32 * (e->speed_rpm - 4500) / 1000 + 6 * (i - 2.5) +
                               450 * (e->lambda - 0.88) - 2.2 * (e->spark_deg - 28)
                    : e->running ? 520
                                 : 60;
    if (i == 3 && full && has(e, EW_LIVE_FAULT_LEAN_CYLINDER))
      target += 110;
    e->egt_c[i] += (target - e->egt_c[i]) * dt / 1.6;
  }
  if (has(e, EW_LIVE_FAULT_HEAD_GASKET) && e->throttle > 0.8)
    e->coolant_extra_bar = fmin(e->coolant_extra_bar + 0.08 * dt, 0.9);
  if (has(e, EW_LIVE_FAULT_OIL_PUMP))
    e->oil_share = fmax(e->oil_share - 1.5 * dt, 0.02);
}

/* ---- the sensors ---- */

static double oil_pressure(struct ew_live_engine *e) {
  if (e->speed_rpm < 50)
    return 0;
  double bar = e->speed_rpm < 2500 ? 1.2 + 2.4 * fmax(e->speed_rpm - 900, 0) / 1600
                                   : look_up(oil_bar, e->speed_rpm);
  bar -= 0.025 * (e->oil_c - 90) * fmin(bar / 4, 1);
  if (has(e, EW_LIVE_FAULT_OIL_AERATION))
    bar -= 0.0025 * fmax(e->speed_rpm - 6300, 0);
  return fmin(fmax(bar, 0), 6.2) * e->oil_share;
}

static double lambda_at_probe(struct ew_live_engine *e, double lambda) {
  double delay = 0.15 + 0.2 * CLAMP((7000 - e->speed_rpm) / 4500, 0, 1);
  guint size = G_N_ELEMENTS(e->lambda_path),
        back = MIN((guint)(delay * e->rate_hz + 0.5), size - 1);
  e->lambda_path[e->samples % size] = lambda;
  return e->lambda_path[(e->samples + size - back) % size];
}

static double mixture(struct ew_live_engine *e) {
  if (!e->running)
    return 2.0; /* air */
  double lambda = e->throttle > 0.5 ? e->lambda : e->throttle < 0.06 ? 1.25 : 0.98;
  if (has(e, EW_LIVE_FAULT_LEAN_CYLINDER) && e->throttle > 0.5)
    lambda += 0.015;
  if (has(e, EW_LIVE_FAULT_FUEL_STARVATION) && e->throttle > 0.5)
    lambda += 0.25 * CLAMP((e->speed_rpm - 4500) / 2000, 0, 1);
  return lambda;
}

static double knock(struct ew_live_engine *e) {
  double safe = has(e, EW_LIVE_FAULT_POOR_FUEL) ? 25 : 31.5, over = e->spark_deg - safe;
  if (e->throttle < 0.9 || over <= 0 || e->speed_rpm < 2800 || e->speed_rpm > 4800)
    return 0;
  return gsl_rng_uniform(e->random) < CLAMP(0.02 + 0.03 * over, 0, 0.4) * 100 / e->rate_hz;
}

static double read_speed(struct ew_live_engine *e) {
  if (has(e, EW_LIVE_FAULT_LOST_CRANK) && fmod(e->time_s, 2) > 0.8)
    return NAN;
  return fmax(e->speed_rpm + noise(e, 3), 0);
}

static double read_fuel_pressure(struct ew_live_engine *e) {
  double fall = has(e, EW_LIVE_FAULT_FUEL_STARVATION)
                    ? 1.4 * e->throttle * CLAMP((e->speed_rpm - 4000) / 2500, 0, 1)
                    : 0;
  return 3.5 - 0.1 * e->throttle * e->speed_rpm / 7000 - fall + noise(e, 0.006);
}

static void read_sensors(struct ew_live_engine *e, double *v) {
  double load = CLAMP(e->absorber_n_m / 300, 0, 1.2), full = e->throttle;
  double fuel = (fmax(e->absorber_n_m, 8) * e->speed_rpm * G_PI / 30) * 276e-3 / 1000 / e->lambda *
                0.88 * (e->running ? 1 : 0);
  double lambda = lambda_at_probe(e, mixture(e));
  double drift = 0.3 * e->time_s / 3600;
  if (has(e, EW_LIVE_FAULT_CELL_DRIFT))
    drift += 0.15 * (e->time_s - e->faults[EW_LIVE_FAULT_CELL_DRIFT].since_s);
  double breath = has(e, EW_LIVE_FAULT_VALVE_CONTACT) && e->speed_rpm > 6400 ? 12 : 0;
  double fixed[] = {
      read_speed(e),
      fmax(e->speed_rpm + noise(e, 3), 0),
      e->absorber_n_m + 2 * load * sin(2 * G_PI * 1.2 * e->time_s) + drift + noise(e, 6),
      100 * e->throttle + noise(e, 0.15),
      lambda + noise(e, 0.004),
      fuel * (1 + noise(e, 0.006)),
      fuel * lambda * 14.2 * (1 + noise(e, 0.006)),
      fmax(oil_pressure(e) + noise(e, 0.03), 0),
      e->oil_c + noise(e, 0.05),
      e->coolant_c + noise(e, 0.05),
      0.9 + e->coolant_extra_bar + noise(e, 0.004),
      read_fuel_pressure(e),
      e->inlet_c + noise(e, 0.08),
      e->baro_hpa + noise(e, 0.05),
      e->humidity + noise(e, 0.2),
      3 + 5 * full * e->speed_rpm / 7000 + breath + noise(e, 0.15),
      35 + 25 * full * e->speed_rpm / 7000 + 3 * breath + noise(e, 0.8),
      knock(e),
      e->spark_deg + noise(e, 0.1),
  };
  memcpy(v, fixed, sizeof fixed);
  for (int i = 0; i < CYLINDERS; i++)
    v[G_N_ELEMENTS(fixed) + (gsize)i] = e->egt_c[i] + noise(e, 0.8);
  v[EW_LIVE_ENGINE_CHANNELS - 1] = e->water_c + noise(e, 0.1);
}

void ew_live_engine_step(struct ew_live_engine *e, double *values) {
  double step = 1 / e->rate_hz;
  int parts = MAX(1, (int)ceil(step / SUBSTEP_S));
  follow_phase(e);
  for (int i = 0; i < parts; i++)
    step_machine(e, step / parts);
  step_heat(e, step);
  read_sensors(e, values);
  e->samples++;
  e->time_s = (double)e->samples / e->rate_hz;
}

void ew_live_engine_header(GString *text) {
  g_string_append(text, "Time [s]");
  for (int i = 0; i < EW_LIVE_ENGINE_CHANNELS; i++)
    g_string_append_printf(text, *ew_live_engine_units[i] ? ",%s [%s]" : ",%s",
                           ew_live_engine_names[i], ew_live_engine_units[i]);
  g_string_append_c(text, '\n');
}

void ew_live_engine_row(double time_s, const double *values, GString *text) {
  char format[8], buffer[40];
  ew_words_append(text, "%.4f", time_s);
  for (int i = 0; i < EW_LIVE_ENGINE_CHANNELS; i++) {
    g_snprintf(format, sizeof format, ",%%.%df", decimals[i]);
    g_snprintf(buffer, sizeof buffer, format, values[i]);
    g_string_append(text, isnan(values[i]) ? "," : buffer);
  }
  g_string_append_c(text, '\n');
}

GPtrArray *ew_live_engine_lesson(const struct ew_live_engine *e) {
  GPtrArray *lines = g_ptr_array_new_with_free_func(g_free);
  for (int i = 0; i < EW_LIVE_FAULTS_COUNT; i++)
    if (e->faults[i].times) {
      const struct live_fault *f = &e->faults[i];
      g_autofree char *answer = f->answered_s > 0 ? ew_words("answered after %.1f s by '%s'",
                                                             f->answered_s - f->since_s, f->answer)
                                                  : g_strdup("MISSED: nothing was done about it");
      g_ptr_array_add(lines, ew_words("from %.0f s: %s: %s; %s", f->since_s, fault_words[i],
                                      fault_notices[i], answer));
    }
  return lines;
}
