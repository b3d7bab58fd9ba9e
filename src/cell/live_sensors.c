/* The sensors of the live practice cell: names, units and decimals of its logger, and what each one reads of the machine, with
 * its noise, its lag and the faults that show in it. */
#include "base/words.h"
#include "cell/live_engine_parts.h"
#include <math.h>
#include <string.h>

static const double oil_bar[EW_LIVE_POINTS] = {3.6, 4.0, 4.25, 4.5, 4.65, 4.8, 4.9, 5.0, 5.0, 5.0};

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

static double oil_pressure(struct ew_live_engine *e) {
  if (e->speed_rpm < 50)
    return 0;
  double bar = e->speed_rpm < 2500 ? 1.2 + 2.4 * fmax(e->speed_rpm - 900, 0) / 1600
                                   : ew_live_look_up(oil_bar, e->speed_rpm);
  bar -= 0.025 * (e->oil_c - 90) * fmin(bar / 4, 1);
  if (ew_live_has(e, EW_LIVE_FAULT_OIL_AERATION))
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
  if (ew_live_has(e, EW_LIVE_FAULT_LEAN_CYLINDER) && e->throttle > 0.5)
    lambda += 0.015;
  if (ew_live_has(e, EW_LIVE_FAULT_FUEL_STARVATION) && e->throttle > 0.5)
    lambda += 0.25 * CLAMP((e->speed_rpm - 4500) / 2000, 0, 1);
  return lambda;
}

static double knock(struct ew_live_engine *e) {
  double safe = ew_live_has(e, EW_LIVE_FAULT_POOR_FUEL) ? 25 : 31.5, over = e->spark_deg - safe;
  if (e->throttle < 0.9 || over <= 0 || e->speed_rpm < 2800 || e->speed_rpm > 4800)
    return 0;
  return gsl_rng_uniform(e->random) < CLAMP(0.02 + 0.03 * over, 0, 0.4) * 100 / e->rate_hz;
}

static double read_speed(struct ew_live_engine *e) {
  if (ew_live_has(e, EW_LIVE_FAULT_LOST_CRANK) && fmod(e->time_s, 2) > 0.8)
    return NAN;
  return fmax(e->speed_rpm + ew_live_noise(e, 3), 0);
}

static double read_fuel_pressure(struct ew_live_engine *e) {
  double fall = ew_live_has(e, EW_LIVE_FAULT_FUEL_STARVATION)
                    ? 1.4 * e->throttle * CLAMP((e->speed_rpm - 4000) / 2500, 0, 1)
                    : 0;
  return 3.5 - 0.1 * e->throttle * e->speed_rpm / 7000 - fall + ew_live_noise(e, 0.006);
}

void ew_live_read_sensors(struct ew_live_engine *e, double *v) {
  double load = CLAMP(e->absorber_n_m / 300, 0, 1.2), full = e->throttle;
  double fuel = (fmax(e->absorber_n_m, 8) * e->speed_rpm * G_PI / 30) * 276e-3 / 1000 / e->lambda *
                0.88 * (e->running ? 1 : 0);
  double lambda = lambda_at_probe(e, mixture(e));
  double drift = 0.3 * e->time_s / 3600;
  if (ew_live_has(e, EW_LIVE_FAULT_CELL_DRIFT))
    drift += 0.15 * (e->time_s - e->faults[EW_LIVE_FAULT_CELL_DRIFT].since_s);
  double breath = ew_live_has(e, EW_LIVE_FAULT_VALVE_CONTACT) && e->speed_rpm > 6400 ? 12 : 0;
  double fixed[] = {
      read_speed(e),
      fmax(e->speed_rpm + ew_live_noise(e, 3), 0),
      e->absorber_n_m + 2 * load * sin(2 * G_PI * 1.2 * e->time_s) + drift + ew_live_noise(e, 6),
      100 * e->throttle + ew_live_noise(e, 0.15),
      lambda + ew_live_noise(e, 0.004),
      fuel * (1 + ew_live_noise(e, 0.006)),
      fuel * lambda * 14.2 * (1 + ew_live_noise(e, 0.006)),
      fmax(oil_pressure(e) + ew_live_noise(e, 0.03), 0),
      e->oil_c + ew_live_noise(e, 0.05),
      e->coolant_c + ew_live_noise(e, 0.05),
      0.9 + e->coolant_extra_bar + ew_live_noise(e, 0.004),
      read_fuel_pressure(e),
      e->inlet_c + ew_live_noise(e, 0.08),
      e->baro_hpa + ew_live_noise(e, 0.05),
      e->humidity + ew_live_noise(e, 0.2),
      3 + 5 * full * e->speed_rpm / 7000 + breath + ew_live_noise(e, 0.15),
      35 + 25 * full * e->speed_rpm / 7000 + 3 * breath + ew_live_noise(e, 0.8),
      knock(e),
      e->spark_deg + ew_live_noise(e, 0.1),
  };
  memcpy(v, fixed, sizeof fixed);
  for (int i = 0; i < EW_LIVE_CYLINDERS; i++)
    v[G_N_ELEMENTS(fixed) + (gsize)i] = e->egt_c[i] + ew_live_noise(e, 0.8);
  v[EW_LIVE_ENGINE_CHANNELS - 1] = e->water_c + ew_live_noise(e, 0.1);
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
