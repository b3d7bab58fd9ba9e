#include "recording.h"
#include "pull/plausible.h"

/* What an invented engine on an invented dyno says, column by column; a row of a test changes one thing. */
struct shop {
  const char *heads; /* with units */
  double bore_m, stroke_m, limit_rpm, rotor_kg_m2, largest_n_m, elevation_m;
  int cylinders;
  const char *fuel;
  double low_rpm, high_rpm, torque_n_m, speed_scale, torque_scale;
  double baro, iat, humidity, oil, coolant, lambda, oil_pressure,
      extra;                     /* as the file writes them */
  const char *extra_name;        /* NULL: no such column */
  double rate_rpm_s;             /* 0: 400 */
  double extra_per_torque_speed; /* of extra: power, in W per N·m rad/s */
};

static const struct shop usual = {.bore_m = 0.086,
                                  .stroke_m = 0.086,
                                  .cylinders = 4,
                                  .limit_rpm = 7000,
                                  .rotor_kg_m2 = 0.1,
                                  .largest_n_m = 500,
                                  .elevation_m = NAN,
                                  .fuel = "petrol",
                                  .low_rpm = 2500,
                                  .high_rpm = 6500,
                                  .torque_n_m = 190,
                                  .speed_scale = 1,
                                  .torque_scale = 1,
                                  .baro = 990,
                                  .iat = 25,
                                  .humidity = 50,
                                  .oil = 92,
                                  .coolant = 81,
                                  .lambda = 0.88,
                                  .oil_pressure = 4.5};

#define HEADS                                                                                      \
  "Time [s],RPM,Torque,Throttle [%],Baro [hPa],IAT,Humidity [%],Oil Temp,Coolant Temp,Lambda,Oil " \
  "Pressure"

static char *file_of(const struct shop *s) {
  GString *text = g_string_new(s->heads ? s->heads : HEADS);
  if (s->extra_name)
    g_string_append_printf(text, ",%s", s->extra_name);
  g_string_append_c(text, '\n');
  double time = 0, rate = s->rate_rpm_s > 0 ? s->rate_rpm_s : 400;
  gsize sweep = (gsize)((s->high_rpm - s->low_rpm) / rate * 50);
  for (gsize i = 0; i < 100 + sweep + 75; i++, time += 0.02) {
    gboolean load = i >= 100 && i < 100 + sweep;
    double rpm =
        s->low_rpm + (load       ? (double)(i - 100) * rate / 50
                      : i >= 100 ? s->high_rpm - s->low_rpm - (double)(i - 100 - sweep) * 16
                                 : 0);
    double share = (rpm - s->low_rpm) / (s->high_rpm - s->low_rpm) - 0.5;
    double torque = s->torque_n_m * (1 - 0.3 * share * share) * (load ? 1 : 0.2);
    g_string_append_printf(text, "%.2f,%.1f,%.2f,%d,%.2f,%.2f,%.2f,%.2f,%.2f,%.4f,%.3f", time,
                           rpm * s->speed_scale, torque * s->torque_scale, load ? 100 : 20, s->baro,
                           s->iat, s->humidity, s->oil, s->coolant, s->lambda, s->oil_pressure);
    if (s->extra_name)
      g_string_append_printf(text, ",%.4f",
                             s->extra + s->extra_per_torque_speed * torque * rpm * G_PI / 30);
    g_string_append_c(text, '\n');
  }
  return g_string_free(text, FALSE);
}

struct asked {
  struct facts *facts;
  struct ew_processed *processed;
  struct ew_plausible p;
};

static struct asked ask_of(const struct shop *s, const char *says) {
  struct asked a = {facts_new(), NULL, ew_plausible_nothing()};
  a.facts->engine.bore_m = s->bore_m;
  a.facts->engine.stroke_m = s->stroke_m;
  a.facts->engine.cylinders = s->cylinders;
  a.facts->engine.valve_train_limit_rpm = s->limit_rpm;
  a.facts->engine.fuel = g_strdup(s->fuel);
  a.facts->bench.rotor_inertia_kg_m2 = s->rotor_kg_m2;
  a.facts->bench.largest_torque_n_m = s->largest_n_m;
  a.facts->bench.elevation_m = s->elevation_m;
  g_autofree char *text = file_of(s);
  a.processed = process_text(text, a.facts, says);
  a.p.series = a.processed->series;
  a.p.engine = &a.facts->engine;
  a.p.bench = &a.facts->bench;
  a.p.setup = &a.facts->setup;
  if (a.processed->curves->len) {
    a.p.segment = g_ptr_array_index(a.processed->segments, 0);
    a.p.curve = curve_of(a.processed, 0);
  }
  return a;
}

static void asked_clear(struct asked *a) {
  ew_processed_free(a->processed);
  facts_free(a->facts);
}

static char *ids_of(const GPtrArray *doubts) {
  GString *ids = g_string_new(NULL);
  for (guint i = 0; i < doubts->len; i++)
    g_string_append_printf(ids, "%s%s", i ? " " : "", ew_message_id(doubts->pdata[i]));
  return g_string_free(ids, FALSE);
}

#define WITH(...) ((struct shop){__VA_ARGS__})

/* One thing is wrong, one doubt is said, and its command names the pull. */
static void one_wrong_fact(void **state) {
  (void)state;
  struct row {
    const char *says, *want, *mend;
    struct shop shop;
  } rows[60];
  gsize n = 0;
#define ROW(what, id, command, change)                                                             \
  do {                                                                                             \
    struct shop s = usual;                                                                         \
    change;                                                                                        \
    rows[n++] = (struct row){what, id, command, s};                                                \
  } while (0)
  ROW("nothing is wrong", "", NULL, (void)0);
  ROW("coolant in °F read as °C", "pull.doubt-other-unit",
      "pull amend 7 --units coolant_temperature=degF", s.coolant = 180);
  ROW("oil in K without a unit is understood", "", NULL, s.oil = 365);
  ROW("inlet air in °F, without a unit", "pull.doubt-other-unit",
      "pull amend 7 --units inlet_air_temperature=degF", s.iat = 62);
  ROW("a hot shop's 42 °C is believed", "", NULL, s.iat = 42);
  ROW("oil pressure in psi read as bar", "pull.doubt-other-unit",
      "pull amend 7 --units oil_pressure=psi", s.oil_pressure = 62;
      s.heads = HEADS " [bar]");
  ROW("a coolant that no engine has", "pull.doubt-reading",
      "pull amend 7 --units coolant_temperature=UNIT", s.coolant = 900);
  ROW("an air-fuel ratio as lambda", "pull.doubt-ratio-as-lambda",
      "pull amend 7 --units lambda=AFR", s.lambda = 12.6);
  ROW("a lambda of nothing", "pull.doubt-reading", "pull amend 7 --units lambda=UNIT",
      s.lambda = 0.3);
  ROW("a sea-level pressure at 1,600 m", "pull.doubt-pressure-span",
      "pull amend 7 --units \"barometer=not fitted\" --set \"pressure=... hPa\"",
      s.elevation_m = 1600;
      s.baro = 1015);
  ROW("833 hPa at 1,600 m", "", NULL, s.elevation_m = 1600; s.baro = 833);
  ROW("0.5 % of humidity", "pull.doubt-humidity-low",
      "pull amend 7 --units \"humidity=not fitted\" --set \"humidity=... %\"", s.humidity = 0.5);
  ROW("a desert's 6 %", "", NULL, s.humidity = 6);
  ROW("torque 1.4 times too large for the engine", "pull.doubt-bmep-high",
      "pull amend 7 --engine NAME", s.torque_scale = 1.5);
  ROW("another engine in the cell", "pull.doubt-bmep-low", "pull amend 7 --engine NAME",
      s.bore_m = 0.25;
      s.stroke_m = 0.1);
  ROW("two pulses a turn for one", "pull.doubt-piston-speed",
      "pull amend 7 --units \"speed=FACTOR rpm\"", s.speed_scale = 2);
  ROW("beyond what the valve train stands", "pull.doubt-speed-limit",
      "pull amend 7 --units \"speed=FACTOR rpm\"", s.limit_rpm = 4000);
  ROW("torque far above the absorber's plate", "pull.doubt-absorber",
      "pull amend 7 --units torque=UNIT", s.largest_n_m = 100;
      s.rotor_kg_m2 = 0.05);
  ROW("an inertia ten times too large", "pull.doubt-inertia-share",
      "cell amend --set \"rotor_inertia=... kg·m2\"", s.rotor_kg_m2 = 2.2;
      s.torque_n_m = 120);
  ROW("an inertia that no such absorber has", "pull.doubt-inertia-large",
      "cell amend --set \"rotor_inertia=... kg·m2\"", s.rotor_kg_m2 = 0.85;
      s.rate_rpm_s = 150; s.largest_n_m = 200);
  ROW("power that is torque times speed", "", NULL, s.extra_name = "Power [kW]";
      s.extra_per_torque_speed = 1e-3);
  ROW("power in PS that says hp is 1.4 % off, and believed", "", NULL, s.extra_name = "Power [hp]";
      s.extra_per_torque_speed = 1 / 735.5);
  ROW("lb-ft and hp without units, as the trade writes them", "pull.doubt-power-units",
      "pull amend 7 --units torque=lb-ft", s.torque_scale = 1 / 1.3558;
      s.extra_name = "Power"; s.extra_per_torque_speed = 1 / 745.7);
  ROW("power of half the pulses", "pull.doubt-power", "pull amend 7 --map MAP.yaml",
      s.extra_name = "Power [kW]";
      s.extra_per_torque_speed = 0.5e-3);
  ROW("fuel flow that gives more work than heat", "pull.doubt-fuel-flow",
      "pull amend 7 --units fuel_flow=UNIT", s.extra_name = "Fuel Flow [kg/h]";
      s.extra = 7);
  ROW("fuel flow as engines have", "", NULL, s.extra_name = "Fuel Flow [kg/h]";
      s.extra_per_torque_speed = 0.29e-3);
  ROW("air flow of a larger engine", "pull.doubt-air-flow", "pull amend 7 --units air_flow=UNIT",
      s.extra_name = "Air Flow [kg/h]";
      s.extra_per_torque_speed = 7e-3);
  ROW("air flow as engines have", "", NULL, s.extra_name = "Air Flow [kg/h]";
      s.extra_per_torque_speed = 3.9e-3);
  ROW("a second speed of half the pulses", "pull.doubt-second-speed",
      "pull amend 7 --units \"speed=FACTOR rpm\"",
      s.heads = "Time [s],RPM,Torque,Throttle [%],Baro [hPa],IAT,Humidity [%],Dyno Speed,Coolant "
                "Temp,Lambda,Oil Pressure";
      s.oil = 2312);
  ROW("swapped: inlet air and coolant", "pull.doubt-other-unit",
      "pull amend 7 --units inlet_air_temperature=degF", s.iat = 81;
      s.coolant = 25);
  ROW("an air-fuel ratio that is not of this fuel", "pull.doubt-lambda-ratio",
      "pull amend 7 --set \"fuel=NAME\"", s.extra_name = "AFR";
      s.extra = 8.6);
  ROW("an air-fuel ratio of this fuel", "", NULL, s.extra_name = "AFR"; s.extra = 12.8);
  for (gsize i = 0; i < n; i++) {
    struct asked a = ask_of(&rows[i].shop, rows[i].says);
    expect(a.p.curve != NULL, rows[i].says, "no pull");
    g_autoptr(GPtrArray) doubts = ew_implausible(&a.p);
    g_autofree char *ids = ids_of(doubts);
    expect(strcmp(ids, rows[i].want) == 0, rows[i].says, "'%s', wanted '%s'", ids, rows[i].want);
    if (doubts->len) {
      g_autofree char *mend = ew_plausible_mend(doubts->pdata[0], 7);
      expect(g_strcmp0(mend, rows[i].mend) == 0, rows[i].says, "%s", mend);
    }
    asked_clear(&a);
  }
}

/* What was typed, and what the pull before says: no file changes, the facts beside it do. */
static void beside_the_file(void **state) {
  (void)state;
  struct shop without = usual;
  without.heads =
      "Time [s],RPM,Torque,Throttle [%],A,B,C,Oil Temp,Coolant Temp,Lambda,Oil Pressure";
  static const struct {
    const char *says, *set, *value, *want;
  } rows[] = {
      {"no weather at all is not doubted", NULL, NULL, ""},
      {"station pressure in the valley", "pressure", "985 hPa", ""},
      {"a pressure of the mountains, asked once", "pressure", "701 hPa",
       "pull.doubt-pressure-high-up"},
      {"a temperature no inlet has", "temperature", "62 degC", "pull.doubt-air-temperature"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct asked a = ask_of(&without, rows[i].says);
    struct ew_curve *curve = g_ptr_array_index(a.processed->curves, 0);
    if (rows[i].set)
      assert_true(
          ew_field_set(&ew_setup_fields, &a.facts->setup, rows[i].set, rows[i].value, NULL));
    curve->conditions.pressure_pa = a.facts->setup.pressure_pa;
    curve->conditions.temperature_k = a.facts->setup.temperature_k;
    g_autoptr(GPtrArray) doubts = ew_implausible(&a.p);
    g_autofree char *ids = ids_of(doubts);
    expect(strcmp(ids, rows[i].want) == 0, rows[i].says, "'%s'", ids);
    asked_clear(&a);
  }
}

/* Against the pull before: the second changes one thing. */
static void against_the_pull_before(void **state) {
  (void)state;
  static const struct {
    const char *says, *want;
    double torque, speed, rotor, pressure_hpa, hours, spark;
  } rows[] = {
      {"the same again", "", 1, 1, 0.1, 990, 1, 28},
      {"eight per cent more after new heads", "", 1.08, 1, 0.1, 990, 100, 30},
      {"lb-ft for N·m", "pull.doubt-torque-unit", 0.7376, 1, 0.1, 990, 1, 28},
      {"a third less", "pull.doubt-torque-before", 0.66, 1, 0.1, 990, 1, 28},
      {"half the pulses", "pull.doubt-speed-before", 1, 0.5, 0.1, 990, 1, 28},
      {"an inertia ten times as large", "pull.doubt-inertia-share pull.doubt-cell-changed", 1, 1,
       1.0, 990, 1, 28},
      {"a front passes: 9 hPa in three hours", "", 1, 1, 0.1, 981, 3, 28},
      {"sea-level pressure after station pressure", "pull.doubt-pressure-jump", 1, 1, 0.1, 1012, 1,
       28},
      {"3 degrees for 30", "pull.doubt-spark-step", 1, 1, 0.1, 990, 1, 3},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct shop first = usual, second = usual;
    second.torque_scale = rows[i].torque;
    second.speed_scale = rows[i].speed;
    second.rotor_kg_m2 = rows[i].rotor;
    second.baro = rows[i].pressure_hpa;
    struct asked a = ask_of(&first, rows[i].says), b = ask_of(&second, rows[i].says);
    a.facts->setup.spark_deg = 28;
    b.facts->setup.spark_deg = rows[i].spark;
    b.p.before = a.p.curve;
    b.p.bench_before = a.p.bench;
    b.p.setup_before = a.p.setup;
    b.p.known_pressure_pa = 99000;
    b.p.known_pressure_age_s = rows[i].hours * 3600;
    g_autoptr(GPtrArray) doubts = ew_implausible(&b.p);
    g_autofree char *ids = ids_of(doubts);
    expect(strcmp(ids, rows[i].want) == 0, rows[i].says, "'%s'", ids);
    asked_clear(&a);
    asked_clear(&b);
  }
}

/* Every figure in turn is not known: nothing is doubted for it, and nothing crashes. */
static void nothing_known(void **state) {
  (void)state;
  struct asked a = ask_of(&usual, "absent");
  struct ew_curve *curve = g_ptr_array_index(a.processed->curves, 0);
  double *figures[] = {&curve->conditions.pressure_pa,
                       &curve->conditions.temperature_k,
                       &curve->conditions.vapour_pa,
                       &curve->high_rpm,
                       &curve->low_rpm,
                       &curve->factor.factor,
                       &a.facts->engine.bore_m,
                       &a.facts->engine.stroke_m,
                       &a.facts->bench.largest_torque_n_m,
                       &a.facts->bench.rotor_inertia_kg_m2};
  for (gsize i = 0; i < G_N_ELEMENTS(figures); i++) {
    double was = *figures[i];
    *figures[i] = NAN;
    g_autoptr(GPtrArray) doubts = ew_implausible(&a.p);
    g_autofree char *ids = ids_of(doubts);
    expect(doubts->len == 0, "absent", "%zu: %s", i, ids);
    *figures[i] = was;
  }
  for (guint c = 0; c < a.processed->series->channels_count; c++) {
    struct ew_series_channel *one = &a.processed->series->channels[c];
    for (gsize i = 0; one->values && i < a.processed->series->rows; i++)
      one->values[i] = NAN;
  }
  for (gsize j = 0; j < curve->points; j++)
    curve->observed_n_m[j] = curve->torque_n_m[j] = curve->power_w[j] = NAN;
  g_autoptr(GPtrArray) doubts = ew_implausible(&a.p);
  assert_int_equal(doubts->len, 0);
  struct ew_plausible nothing = ew_plausible_nothing();
  g_autoptr(GPtrArray) none = ew_implausible(&nothing);
  assert_int_equal(none->len, 0);
  nothing.curve = curve; /* a stored curve alone: samples are not at hand */
  g_autoptr(GPtrArray) alone = ew_implausible(&nothing);
  assert_int_equal(alone->len, 0);
  asked_clear(&a);
}

/* A recording in which no pull is found because the load cell's sign is wrong. */
static void negative_torque(void **state) {
  (void)state;
  struct shop s = usual;
  s.torque_scale = -1;
  struct asked a = ask_of(&s, "negative");
  g_autoptr(GPtrArray) doubts = ew_implausible(&a.p);
  g_autofree char *ids = ids_of(doubts);
  assert_string_equal(ids, "pull.doubt-torque-sign");
  a.p.segment = NULL;
  a.p.curve = NULL; /* as where no pull is found */
  g_autoptr(GPtrArray) again = ew_implausible(&a.p);
  assert_true(says_so(again, "pull.doubt-torque-sign"));
  asked_clear(&a);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(one_wrong_fact),          cmocka_unit_test(beside_the_file),
      cmocka_unit_test(against_the_pull_before), cmocka_unit_test(nothing_known),
      cmocka_unit_test(negative_torque),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
