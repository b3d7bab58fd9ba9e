/* One simulated pull as a logger's file: field table, torque and its bends, sensors with noise and lag. All figures
 * are invented; the generator's seed is the only source of chance, so the same fields give the same bytes. */
#include "cell/practice.h"
#include "base/language.h"
#include "base/error.h"
#include "gas/moist_air.h"
#include "pull/correct.h"
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stddef.h>

#define AT(member) offsetof(struct ew_practice, member)
#define Q(field, unit, member, low, high)                                                          \
  .name = field, .type = EW_FIELD_QUANTITY, .kind = EW_KIND_##unit, .offset = AT(member),          \
  .minimum = low, .maximum = high
#define LIST(field, unit, member)                                                                  \
  .name = field, .type = EW_FIELD_NUMBERS, .kind = EW_KIND_##unit, .offset = AT(member)

static const struct ew_field fields[] = {
    {LIST("speeds", ROTATIONAL_SPEED, speeds_rpm), .help = "speeds of the tables below"},
    {LIST("torques", TORQUE, torques_n_m), .help = "corrected torque at best spark and mixture"},
    {LIST("specific_fuel", SPECIFIC_FUEL, specific_fuel_kg_j), .help = "BSFC"},
    {LIST("oil_pressures", PRESSURE_GAUGE, oil_pressures_pa), .help = "oil pressure at 90 °C"},
    {Q("spark_best", ANGLE, spark_best_deg, 0, 60), .fallback = "33 deg",
     .help = "advance that gives most torque"},
    {Q("spark_loss", NUMBER, spark_loss, 0, 1), .fallback = "0.0004",
     .help = "relative loss per degree squared"},
    {Q("lambda_best", LAMBDA, lambda_best, 0.5, 1.5), .fallback = "0.88",
     .help = "mixture that gives most torque"},
    {Q("lambda_loss", NUMBER, lambda_loss, 0, 100), .fallback = "3.3",
     .help = "relative loss per lambda squared"},
    {Q("knock_from", ANGLE, knock_from_deg, 0, 90), .fallback = "31 deg",
     .help = "knock begins above this advance"},
    {Q("knock_hard", ANGLE, knock_hard_deg, 0, 90), .fallback = "33 deg",
     .help = "certain knock above this advance"},
    {Q("knock_speed", ROTATIONAL_SPEED, knock_rpm, 500, 20000), .fallback = "3500 rpm",
     .help = "speed at which it knocks first"},
    {Q("stoichiometric_ratio", AIR_FUEL_RATIO, stoichiometric_ratio, 1, 40), .fallback = "14.2 AFR",
     .help = "stoichiometric ratio of the fuel"},
    {Q("oil_fault_from", ROTATIONAL_SPEED, oil_fault_from_rpm, 500, 20000), .fallback = "6300 rpm",
     .help = "with low oil the pick-up draws air above this speed"},
    {Q("oil_fault_fall", NUMBER, oil_fault_pa_rpm, 0, 5000), .fallback = "250",
     .help = "pascals lost per rpm above that speed"},
    {Q("repeat_sd", RATIO, repeat_sd, 0, 0.1), .fallback = "0.28 %",
     .help = "spread of consecutive pulls"},
    {Q("restart_sd", RATIO, restart_sd, 0, 0.1), .fallback = "0.33 %",
     .help = "extra spread after a stop"},
    {Q("noise", TORQUE, noise_n_m, 0, 200), .fallback = "6 N·m", .help = "noise of the load cell"},
    {Q("hunting", TORQUE, hunting_n_m, 0, 200), .fallback = "2 N·m",
     .help = "swing of the absorber"},
    {Q("hunting_rate", FREQUENCY, hunting_hz, 0, 20), .fallback = "1.2 Hz",
     .help = "frequency of that swing"},
    {Q("speed_noise", ROTATIONAL_SPEED, speed_noise_rpm, 0, 100), .fallback = "3 rpm",
     .help = "noise on speed"},
    {Q("zero_drift", TORQUE_RATE, zero_drift_n_m_s, 0, 1), .fallback = "0.3 N·m/h",
     .help = "drift of the load cell's zero"},
    {Q("oil_effect", NUMBER, oil_effect, -0.01, 0.01), .fallback = "0.00035",
     .help = "torque per kelvin of oil"},
    {Q("coolant_effect", NUMBER, coolant_effect, -0.01, 0.01), .fallback = "-0.0005",
     .help = "torque per kelvin of coolant"},
    {Q("inlet_effect", NUMBER, inlet_effect, -0.01, 0.01), .fallback = "-0.0005",
     .help = "torque per kelvin of inlet air that the correction leaves"},
    {Q("first_pull_loss", RATIO, first_pull_loss, 0, 0.1), .fallback = "0.4 %",
     .help = "loss of the first pull after a stop"},
    {Q("break_in_gain", RATIO, break_in_gain, 0, 0.2), .fallback = "1.2 %",
     .help = "gain still to come while the engine is new"},
    {Q("break_in_pulls", COUNT, break_in_pulls, 0.1, 100), .fallback = "4",
     .help = "time until a third of that is left"},
    {Q("oil_start", TEMPERATURE, oil_start_k, 260, 420), .fallback = "88 degC",
     .help = "oil temperature at the start of a pull"},
    {Q("coolant_start", TEMPERATURE, coolant_start_k, 260, 400), .fallback = "78 degC",
     .help = "coolant temperature at the start of a pull"},
    {Q("sample_rate", FREQUENCY, rate_hz, 5, 2000), .fallback = "100 Hz",
     .help = "sample rate of the logger"},
    {.name = "seed",
     .type = EW_FIELD_INTEGER,
     .kind = EW_KIND_COUNT,
     .offset = AT(seed),
     .minimum = 1,
     .maximum = 1e9,
     .fallback = "1",
     .help = "the same seed gives the same day"},
};
const struct ew_fields ew_practice_fields = {EW_TEXT("a practice cell"), sizeof(struct ew_practice),
                                             fields, G_N_ELEMENTS(fields)};

void ew_practice_clear(struct ew_practice *p) {
  ew_fields_clear(&ew_practice_fields, p);
}

gboolean ew_practice_check(const struct ew_practice *p, GError **error) {
  const struct {
    const char *name;
    const GArray *list;
  } lists[] = {{"torques", p->torques_n_m},
               {"specific_fuel", p->specific_fuel_kg_j},
               {"oil_pressures", p->oil_pressures_pa}};
  if (!p->speeds_rpm || p->speeds_rpm->len < 3)
    return ew_refuse(error, "practice: 'speeds' needs three values or more");
  for (guint i = 1; i < p->speeds_rpm->len; i++)
    if (g_array_index(p->speeds_rpm, double, i) <= g_array_index(p->speeds_rpm, double, i - 1))
      return ew_refuse(error, "practice: 'speeds' must rise");
  for (gsize i = 0; i < G_N_ELEMENTS(lists); i++)
    if (!lists[i].list || lists[i].list->len != p->speeds_rpm->len)
      return ew_refuse(error, "practice: '%s' needs one value for each of 'speeds'", lists[i].name);
  return TRUE;
}

/* Linear in the table, level beyond its ends. */
static double look_up(const struct ew_practice *p, const GArray *table, double speed) {
  const double *x = (const double *)(void *)p->speeds_rpm->data,
               *y = (const double *)(void *)table->data;
  guint n = p->speeds_rpm->len;
  if (speed <= x[0])
    return y[0];
  for (guint i = 1; i < n; i++)
    if (speed <= x[i])
      return y[i - 1] + (y[i] - y[i - 1]) * (speed - x[i - 1]) / (x[i] - x[i - 1]);
  return y[n - 1];
}

struct state {
  const struct ew_practice *p;
  const struct ew_bench *bench;
  const struct ew_practice_pull *pull;
  gsl_rng *random;
  double factor, bend, oil_k, coolant_k, egt_k[6], load, speed, acceleration;
  double gas[64]; /* lambda at the valves, the last 64 samples: the probe stands downstream */
  guint sample;
};

static double noise(struct state *s, double sd) {
  return gsl_ran_gaussian_ziggurat(s->random, sd);
}

/* All that bends this pull's torque as a whole. */
static double whole_bend(struct state *s) {
  const struct ew_practice *p = s->p;
  const struct ew_practice_pull *q = s->pull;
  gsl_rng *run = gsl_rng_alloc(gsl_rng_mt19937);
  gsl_rng_set(run, (unsigned long)(p->seed * 7919 + q->run));
  double restart = gsl_ran_gaussian(run, p->restart_sd);
  gsl_rng_free(run);
  double spark = q->spark_deg - p->spark_best_deg, mixture = q->lambda - p->lambda_best;
  return restart + noise(s, p->repeat_sd) - p->spark_loss * spark * spark -
         p->lambda_loss * mixture * mixture + p->oil_effect * (s->oil_k - p->oil_start_k) +
         p->coolant_effect * (s->coolant_k - p->coolant_start_k) +
         p->inlet_effect * (q->temperature_k - 298.15) -
         (q->first_after_stop ? p->first_pull_loss : 0) -
         p->break_in_gain * exp(-q->number / p->break_in_pulls);
}

static double oil_pressure(struct state *s) {
  double pressure = look_up(s->p, s->p->oil_pressures_pa, s->speed) - 2500 * (s->oil_k - 363.15);
  if (s->pull->oil_low && s->speed > s->p->oil_fault_from_rpm)
    pressure -= s->p->oil_fault_pa_rpm * (s->speed - s->p->oil_fault_from_rpm);
  return fmax(pressure, 0) + noise(s, 3000);
}

static int knock_counts(struct state *s) {
  double near = fabs(s->speed - s->p->knock_rpm), chance = 0;
  if (s->load > 0.9 && s->pull->spark_deg > s->p->knock_from_deg && near < 60)
    chance = s->pull->spark_deg > s->p->knock_hard_deg ? 0.16 : 0.025;
  return gsl_rng_uniform(s->random) < chance;
}

static void write_head(GString *out) {
  g_string_append(
      out, "Practice cell recording\nTime [s],RPM [rpm],Dyno speed [rpm],Torque [N·m],Throttle "
           "[%],Lambda,"
           "Fuel flow [kg/h],Air flow [kg/h],Oil pressure [bar],Oil temp [°C],Coolant temp [°C],"
           "Coolant pressure [bar],Fuel pressure [bar],Inlet air temp [°C],Baro [hPa],Humidity [%],"
           "Crankcase pressure [mbar],Blow-by [l/min],Knock count,Spark advance [deg]");
  for (int i = 1; i <= 6; i++)
    g_string_append_printf(out, ",EGT %d [°C]", i);
  g_string_append_c(out, '\n');
}

static void cell(GString *out, double value, int decimals) {
  char format[8], buffer[40];
  g_snprintf(format, sizeof format, ",%%.%df", decimals);
  /* the C locale is in force: the decimal mark is a point */
  g_snprintf(buffer, sizeof buffer, format, value);
  g_string_append(out, buffer);
}

/* Transport takes 0.35 s at 2,500 rpm and 0.15 s at 7,000 rpm. */
static double lambda_at_probe(struct state *s, double lambda) {
  double delay = 0.15 + 0.2 * CLAMP((7000 - s->speed) / 4500, 0, 1);
  guint back = MIN((guint)(delay * s->p->rate_hz + 0.5), 63);
  s->gas[s->sample % 64] = lambda;
  double old = s->gas[(s->sample + 64 - back) % 64];
  s->sample++;
  return old;
}

static void write_sample(struct state *s, double time, GString *out) {
  const struct ew_practice *p = s->p;
  const struct ew_practice_pull *q = s->pull;
  double share = s->load;
  double torque = look_up(p, p->torques_n_m, s->speed) * (1 + s->bend) / s->factor * share;
  double inertia = 0;
  if (!isnan(s->bench->rotor_inertia_kg_m2))
    inertia += s->bench->rotor_inertia_kg_m2;
  if (!isnan(s->bench->coupling_inertia_kg_m2))
    inertia += s->bench->coupling_inertia_kg_m2;
  double power = fmax(torque, 5) * s->speed * G_PI / 30;
  double fuel = look_up(p, p->specific_fuel_kg_j, s->speed) * power;
  double lambda = share > 0.5 ? q->lambda : 0.98;
  double at_probe = lambda_at_probe(s, lambda);
  double read = torque - inertia * s->acceleration * G_PI / 30 +
                p->zero_drift_n_m_s * 3600 * q->hours +
                p->hunting_n_m * share * sin(2 * G_PI * p->hunting_hz * time + q->number) +
                noise(s, p->noise_n_m);
  char head[40];
  g_snprintf(head, sizeof head, "%.3f", time);
  g_string_append(out, head);
  cell(out, s->speed + noise(s, p->speed_noise_rpm), 1);
  cell(out, s->speed + noise(s, p->speed_noise_rpm), 1);
  cell(out, read, 2);
  cell(out, 100 * (share > 0.9 ? 1.0 : 0.12 + 0.88 * share) + noise(s, 0.15), 2);
  cell(out, at_probe + noise(s, 0.004), 3);
  cell(out, fuel * 3600 * (1 + noise(s, 0.006)), 2);
  cell(out, fuel * lambda * p->stoichiometric_ratio * 3600 * (1 + noise(s, 0.006)), 1);
  cell(out, oil_pressure(s) / 1e5, 3);
  cell(out, s->oil_k - 273.15 + noise(s, 0.05), 2);
  cell(out, s->coolant_k - 273.15 + noise(s, 0.05), 2);
  cell(out, 0.9 + noise(s, 0.004), 3);
  cell(out, 3.5 - 0.1 * share * s->speed / 7000 + noise(s, 0.006), 3);
  cell(out, q->temperature_k - 273.15 + 0.08 * time * share / 2 + noise(s, 0.08), 2);
  cell(out, q->pressure_pa / 100 + noise(s, 0.05), 2);
  cell(out, 100 * q->humidity + noise(s, 0.2), 1);
  cell(out, 3 + 5 * share * s->speed / 7000 + noise(s, 0.15), 2);
  cell(out, 35 + 25 * share * s->speed / 7000 + noise(s, 0.8), 1);
  g_string_append_printf(out, ",%d", knock_counts(s));
  cell(out, q->spark_deg + noise(s, 0.1), 2);
  for (int i = 0; i < 6; i++) {
    double target = share > 0.5 ? 963 + 32 * (s->speed - 4500) / 1000 + 6 * (i - 2.5) : 800;
    s->egt_k[i] += (target - s->egt_k[i]) / (1.6 * p->rate_hz);
    cell(out, s->egt_k[i] - 273.15 + noise(s, 0.8), 1);
  }
  g_string_append_c(out, '\n');
}

/* 2 s at the starting speed with the throttle nearly shut, the sweep, 4 s of run-down. */
static void record_pull(struct state *s, GString *out) {
  const struct ew_practice_pull *q = s->pull;
  double step = 1 / s->p->rate_hz, sweep = (q->to_rpm - q->from_rpm) / q->rate_rpm_s,
         top = 2.4 + sweep;
  for (guint i = 0; (double)i * step < top + 4; i++) {
    double time = (double)i * step;
    s->load = time < 2 ? 0.1 : time < 2.4 ? 0.1 + 0.9 * (time - 2) / 0.4 : time < top ? 1 : 0;
    s->acceleration = time < 2.4 ? 0 : time < top ? q->rate_rpm_s : -900;
    s->speed = fmax(time < 2.4   ? q->from_rpm
                    : time < top ? q->from_rpm + q->rate_rpm_s * (time - 2.4)
                                 : q->to_rpm - 900 * (time - top),
                    1150);
    if (s->load > 0.9) {
      s->oil_k += 4.0 / sweep * step;
      s->coolant_k += 5.0 / sweep * step;
    }
    write_sample(s, time, out);
  }
}

static void record_idle(struct state *s, GString *out) {
  double step = 0.1;
  for (guint i = 0; (double)i * step < s->pull->idle_s; i++) {
    double time = (double)i * step;
    s->load = 0.05;
    s->acceleration = 0;
    s->speed = (s->pull->from_rpm + s->pull->to_rpm) / 2 +
               (s->pull->to_rpm - s->pull->from_rpm) / 2 * sin(2 * G_PI * time / 60);
    double warm = 1 - exp(-time / 240);
    s->oil_k = s->pull->oil_k + (355 - s->pull->oil_k) * warm;
    s->coolant_k = s->pull->coolant_k + (350 - s->pull->coolant_k) * warm;
    write_sample(s, time, out);
  }
}

GString *ew_practice_record(const struct ew_practice *p, const struct ew_bench *bench,
                            const struct ew_practice_pull *pull) {
  struct state s = {
      .p = p,
      .bench = bench,
      .pull = pull,
      .random = gsl_rng_alloc(gsl_rng_mt19937),
  };
  for (int i = 0; i < 64; i++)
    s.gas[i] = 0.98;
  gsl_rng_set(s.random, (unsigned long)(p->seed * 104729 + pull->number));
  s.oil_k = isnan(pull->oil_k) ? p->oil_start_k + noise(&s, 0.8) : pull->oil_k;
  s.coolant_k = isnan(pull->coolant_k) ? p->coolant_start_k + noise(&s, 0.6) : pull->coolant_k;
  double vapour = ew_vapour_from_relative_humidity_pa(pull->humidity, pull->temperature_k);
  struct ew_air air = {pull->pressure_pa, pull->temperature_k, vapour, NAN};
  s.factor = ew_correction_factor(EW_STANDARD_J1349, EW_NATURAL, air).factor;
  s.bend = whole_bend(&s);
  for (int i = 0; i < 6; i++)
    s.egt_k[i] = 800;
  GString *out = g_string_sized_new(512 * 1024);
  write_head(out);
  if (isnan(pull->idle_s))
    record_pull(&s, out);
  else
    record_idle(&s, out);
  gsl_rng_free(s.random);
  return out;
}
