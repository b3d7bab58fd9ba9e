/* The gate, fact by fact: what a difference is in each use, what is not known on one side or on both, and that no figure that
 * is not a number passes for equal. */
#include "judge/comparable.h"
#include "../messages.h"
#include "unit.h"
#include <math.h>
#include <string.h>

/* One pull with everything that can be known of it. */
struct pull {
  struct ew_curve curve;
  struct ew_setup setup;
  struct ew_engine engine;
  struct ew_bench bench;
  struct ew_calibrated *calibration;
  struct ew_pull_facts facts;
  double speed[51], torque[51], observed[51], inertia[51], samples[51];
};

#define RATE 300.0 /* rpm/s */

static void make_curve(struct pull *p) {
  struct ew_curve *c = &p->curve;
  for (int j = 0; j < 51; j++) {
    p->speed[j] = 2000 + 100 * j;
    p->torque[j] = p->observed[j] = 300 * (1 - pow((p->speed[j] - 4600) / 6500, 2));
    p->inertia[j] = 0.135 * RATE * G_PI / 30;
    p->samples[j] = 2 * 400 / RATE * 100; /* 100 Hz */
  }
  *c = (struct ew_curve){.kind = EW_SEGMENT_SWEEP,
                         .points = 51,
                         .speed_rpm = p->speed,
                         .torque_n_m = p->torque,
                         .observed_n_m = p->observed,
                         .inertia_n_m = p->inertia,
                         .samples = p->samples,
                         .low_rpm = 2000,
                         .high_rpm = 7000,
                         .band_low_rpm = 4550,
                         .band_high_rpm = 7000,
                         .band_mean_se = 0.0005};
  ew_method_defaults(&c->method);
  c->conditions = (struct ew_conditions){.pressure_pa = 98500,
                                         .temperature_k = 298,
                                         .vapour_pa = 1500,
                                         .oil_start_k = 363,
                                         .oil_end_k = 370,
                                         .coolant_start_k = 353,
                                         .coolant_end_k = 358,
                                         .inlet_start_k = 298,
                                         .inlet_end_k = 299,
                                         .fuel_k = 295,
                                         .rest_s = 120,
                                         .acceleration_rpm_s = RATE,
                                         .throttle_known = TRUE,
                                         .full_throttle = TRUE};
}

static struct pull *pull_new(void) {
  struct pull *p = g_new0(struct pull, 1);
  make_curve(p);
  ew_setup_defaults(&p->setup);
  p->setup.spark_deg = 28;
  p->setup.lambda_target = 0.88;
  p->setup.oil = g_strdup("20W-50");
  ew_engine_defaults(&p->engine);
  p->engine.name = g_strdup("six");
  p->engine.fuel = g_strdup("petrol");
  p->engine.bore_m = 0.086;
  p->engine.inlet.duration_deg = 280;
  ew_bench_defaults(&p->bench);
  p->bench.name = g_strdup("cell 1");
  p->bench.rotor_inertia_kg_m2 = 0.105;
  p->bench.coupling_inertia_kg_m2 = 0.03;
  p->bench.arm_m = 0.4;
  p->facts = (struct ew_pull_facts){.curve = &p->curve,
                                    .setup = &p->setup,
                                    .engine = &p->engine,
                                    .bench = &p->bench,
                                    .engine_id = 1,
                                    .build_id = 4,
                                    .recorder = "box 1",
                                    .torque_lag_s = NAN,
                                    .speed_lag_s = NAN,
                                    .placed = TRUE,
                                    .mounting = 1,
                                    .run = 1,
                                    .day = "2026-11-30",
                                    .at_s = 1e9,
                                    .air_u = NAN};
  return p;
}

static void pull_free(struct pull *p) {
  ew_setup_clear(&p->setup);
  ew_engine_clear(&p->engine);
  ew_fields_clear(&ew_bench_fields, &p->bench);
  ew_calibrated_free(p->calibration);
  g_free(p);
}

static void put(char **text, const char *value) {
  g_free(*text);
  *text = g_strdup(value);
}

static void calibrate(struct pull *p, double gain, const char *at) {
  ew_calibrated_free(p->calibration);
  p->calibration = ew_calibrated_new();
  ew_calibrated_add(p->calibration, (struct ew_calibrated_line){.channel = EW_CHANNEL_TORQUE,
                                                                .gain = gain,
                                                                .gain_u = 0.001,
                                                                .at = g_strdup(at)});
  p->facts.calibration = p->calibration;
}

/* What is done to the pulls; all fixed here, so that a row below is a sentence. */
#define CASES(X)                                                                                   \
  X(nothing, (void)0)                                                                              \
  X(b_held, b->facts.held = question)                                                              \
  X(a_held, a->facts.held = question)                                                              \
  X(b_practice, b->facts.invented = TRUE)                                                          \
  X(engine_id, b->facts.engine_id = 2)                                                             \
  X(engine_name, (a->facts.engine_id = 0, put(&b->engine.name, "four")))                           \
  X(engine_renamed, put(&b->engine.name, "four"))                                                  \
  X(no_engine, (b->facts.engine = NULL, b->facts.engine_id = 0))                                   \
  X(cam, b->engine.inlet.duration_deg = 292)                                                       \
  X(cam_written_later, a->engine.inlet.duration_deg = NAN)                                         \
  X(engine_limit, b->engine.agreed_limit_rpm = 8000)                                               \
  X(build, b->facts.build_id = 5)                                                                  \
  X(build_unknown, b->facts.build_id = 0)                                                          \
  X(cell_name, put(&b->bench.name, "cell 2"))                                                      \
  X(rotor, b->bench.rotor_inertia_kg_m2 = 1.05)                                                    \
  X(rotor_unknown_once, b->bench.rotor_inertia_kg_m2 = NAN)                                        \
  X(arm, b->bench.arm_m = 0.41)                                                                    \
  X(arm_unknown_once, b->bench.arm_m = NAN)                                                        \
  X(cell_doubt, b->bench.gain_uncertainty = 0.05)                                                  \
  X(no_cell, b->facts.bench = NULL)                                                                \
  X(rotor_of_steady,                                                                               \
    (a->curve.kind = b->curve.kind = EW_SEGMENT_STEPS, b->bench.rotor_inertia_kg_m2 = 1.05))       \
  X(standard, b->curve.method.standard = EW_STANDARD_NONE)                                         \
  X(charging, b->curve.method.charging = EW_COMPENSATED)                                           \
  X(smoothing, b->curve.method.half_width_rpm = 200)                                               \
  X(engine_inertia, b->curve.method.engine_inertia = TRUE)                                         \
  X(pressure_once, b->curve.conditions.pressure_pa = NAN)                                          \
  X(temperature_once, a->curve.conditions.temperature_k = NAN)                                     \
  X(humidity_once, b->curve.conditions.vapour_pa = NAN)                                            \
  X(humidity_never, a->curve.conditions.vapour_pa = b->curve.conditions.vapour_pa = NAN)           \
  X(air_never, a->curve.conditions.pressure_pa = b->curve.conditions.pressure_pa = NAN)            \
  X(air_never_other_day, (a->curve.conditions.pressure_pa = b->curve.conditions.pressure_pa = NAN, \
                          b->facts.day = "2026-12-01"))                                            \
  X(air_never_when, (a->curve.conditions.pressure_pa = b->curve.conditions.pressure_pa = NAN,      \
                     b->facts.at_s = NAN))                                                         \
  X(none_same_air, a->curve.method.standard = b->curve.method.standard = EW_STANDARD_NONE)         \
  X(none_near_air, (a->curve.method.standard = b->curve.method.standard = EW_STANDARD_NONE,        \
                    b->curve.conditions.pressure_pa += 200))                                       \
  X(none_other_air, (a->curve.method.standard = b->curve.method.standard = EW_STANDARD_NONE,       \
                     b->curve.conditions.pressure_pa += 1500))                                     \
  X(air_old, b->facts.air_u = 0.004)                                                               \
  X(spark, b->setup.spark_deg = 30)                                                                \
  X(spark_unknown_once, b->setup.spark_deg = NAN)                                                  \
  X(mixture, b->setup.lambda_target = 0.9)                                                         \
  X(jets, b->setup.main_jet_m = 0.0018)                                                            \
  X(oil, put(&b->setup.oil, "0W-20"))                                                              \
  X(fuel_by_engine, put(&b->setup.fuel, "petrol"))                                                 \
  X(fuel, put(&b->setup.fuel, "E85"))                                                              \
  X(equipment, put(&b->setup.equipment, "alternator"))                                             \
  X(remark, put(&b->setup.remark, "rain"))                                                         \
  X(no_setup, b->facts.setup = NULL)                                                               \
  X(steady, b->curve.kind = EW_SEGMENT_STEPS)                                                      \
  X(part_throttle, b->curve.conditions.full_throttle = FALSE)                                      \
  X(throttle_unknown,                                                                              \
    b->curve.conditions.full_throttle = b->curve.conditions.throttle_known = FALSE)                \
  X(faster, b->curve.conditions.acceleration_rpm_s = 1.2 * RATE)                                   \
  X(twice, b->curve.conditions.acceleration_rpm_s = 2 * RATE)                                      \
  X(rate_once, b->curve.conditions.acceleration_rpm_s = NAN)                                       \
  X(rate_never,                                                                                    \
    a->curve.conditions.acceleration_rpm_s = b->curve.conditions.acceleration_rpm_s = NAN)         \
  X(faster_no_rotor, (a->bench.rotor_inertia_kg_m2 = b->bench.rotor_inertia_kg_m2 = NAN,           \
                      b->curve.conditions.acceleration_rpm_s = 1.2 * RATE))                        \
  X(a_little_no_rotor, (a->bench.rotor_inertia_kg_m2 = b->bench.rotor_inertia_kg_m2 = NAN,         \
                        b->curve.conditions.acceleration_rpm_s = 1.03 * RATE))                     \
  X(other_recorder, b->facts.recorder = "box 2")                                                   \
  X(recorder_unknown_once, b->facts.recorder = NULL)                                               \
  X(other_recorder_stated,                                                                         \
    (b->facts.recorder = "box 2", a->facts.torque_lag_s = a->facts.speed_lag_s = 0.1,              \
     b->facts.torque_lag_s = b->facts.speed_lag_s = 0.3))                                          \
  X(lag_once, b->facts.speed_lag_s = 0.3)                                                          \
  X(other_recorder_fast,                                                                           \
    (b->facts.recorder = "box 2",                                                                  \
     a->curve.conditions.acceleration_rpm_s = b->curve.conditions.acceleration_rpm_s = 1200))      \
  X(slower_logging, (b->curve.band_mean_se = 0.002, slow(b)))                                      \
  X(one_calibration, (calibrate(a, 0.97, "2026-11-01"), calibrate(b, 0.97, "2026-11-01")))         \
  X(two_calibrations, (calibrate(a, 0.97, "2026-11-01"), calibrate(b, 0.971, "2026-11-20")))       \
  X(calibrated_once, calibrate(b, 0.99, "2026-11-20"))                                             \
  X(lower_limit, b->curve.high_rpm = 6500)                                                         \
  X(limit_unknown, b->curve.high_rpm = NAN)                                                        \
  X(oil_warm, b->curve.conditions.oil_start_k += 6)                                                \
  X(oil_hot, b->curve.conditions.oil_start_k += 15)                                                \
  X(oil_cold, b->curve.conditions.oil_start_k -= 15)                                               \
  X(oil_once, b->curve.conditions.oil_start_k = NAN)                                               \
  X(oil_never, a->curve.conditions.oil_start_k = b->curve.conditions.oil_start_k = NAN)            \
  X(coolant_hot, b->curve.conditions.coolant_start_k += 7)                                         \
  X(inlet_hot, b->curve.conditions.temperature_k += 10)                                            \
  X(fuel_hot, b->curve.conditions.fuel_k += 16)                                                    \
  X(no_rest, b->curve.conditions.rest_s = 3000)

static void slow(struct pull *p) {
  for (int j = 0; j < 51; j++)
    p->samples[j] /= 10;
}

#define X(name, ...)                                                                               \
  static void case_##name(struct pull *a, struct pull *b, ew_message *question) {                  \
    (void)a, (void)b, (void)question;                                                              \
    __VA_ARGS__;                                                                                   \
  }
CASES(X)
#undef X

enum outcome { ALIKE, WIDER, CHANGED, NOT };
static const char *const outcomes[] = {"alike", "wider", "the change", "not comparable"};

static enum outcome outcome_of(const struct ew_alike *alike, const char *id) {
  const GPtrArray *lists[] = {alike->reasons, alike->changes, alike->widenings};
  static const enum outcome of[] = {NOT, CHANGED, WIDER};
  for (int k = 0; k < 3; k++)
    if (lists[k]->len) {
      expect(!id || strcmp(ew_message_id(lists[k]->pdata[0]), id) == 0, id ? id : "", "%s",
             ew_message_id(lists[k]->pdata[0]));
      return of[k];
    }
  expect(!(alike->added_variance > 0), "nothing is added where nothing is said", "%g",
         alike->added_variance);
  return ALIKE;
}

#define EACH_USE(repeat, side, question, spark, mixture, step)                                     \
  { repeat, side, question, spark, mixture, step }
#define ALWAYS(x)   EACH_USE(x, x, x, x, x, x)
#define BUT_STEP(x) EACH_USE(x, x, x, x, x, ALIKE)
#define OF_SETUP    EACH_USE(NOT, NOT, CHANGED, NOT, NOT, ALIKE)
#define OF_START(x) EACH_USE(x, ALIKE, x, x, x, ALIKE)

static const struct {
  const char *says;
  void (*does)(struct pull *a, struct pull *b, ew_message *question);
  enum outcome want[EW_ALIKE_USES_COUNT];
  const char *id; /* of what is said; NULL: any */
} rows[] = {
    {"two pulls of which nothing differs", case_nothing, ALWAYS(ALIKE), NULL},
    {"a pull that is held is used by nothing", case_b_held, ALWAYS(NOT), "judge.held"},
    {"on the other side too", case_a_held, ALWAYS(NOT), "judge.held"},
    {"a practice pull proves nothing of a real engine", case_b_practice, ALWAYS(NOT), NULL},
    {"two engines of the book", case_engine_id, ALWAYS(NOT), "judge.engines"},
    {"a file against a pull of an engine of another name", case_engine_name, ALWAYS(NOT), NULL},
    {"an engine that was given another name", case_engine_renamed, ALWAYS(ALIKE), NULL},
    {"an engine that nobody stated", case_no_engine, ALWAYS(ALIKE), NULL},
    {"another cam in the same engine", case_cam, EACH_USE(NOT, NOT, CHANGED, NOT, NOT, NOT),
     "judge.engine-record"},
    {"a cam that was only written down later", case_cam_written_later, ALWAYS(ALIKE), NULL},
    {"another limit agreed", case_engine_limit, ALWAYS(ALIKE), NULL},
    {"another build", case_build, EACH_USE(NOT, NOT, CHANGED, NOT, NOT, NOT), "judge.builds"},
    {"a build that is not known", case_build_unknown, ALWAYS(ALIKE), NULL},
    {"another cell", case_cell_name, BUT_STEP(NOT), "judge.cells"},
    {"an inertia typed ten times too large", case_rotor, BUT_STEP(NOT), "judge.cells"},
    {"an inertia on one side only", case_rotor_unknown_once, BUT_STEP(NOT), "judge.cells"},
    {"another arm", case_arm, BUT_STEP(NOT), "judge.cells"},
    {"an arm on one side only", case_arm_unknown_once, BUT_STEP(NOT), "judge.cells"},
    {"another doubt of the same cell", case_cell_doubt, ALWAYS(ALIKE), NULL},
    {"a cell that nobody stated", case_no_cell, ALWAYS(ALIKE), NULL},
    {"inertias spin nothing in a step test", case_rotor_of_steady, ALWAYS(ALIKE), NULL},
    {"a factor on one side only", case_standard, BUT_STEP(NOT), "judge.other-factors"},
    {"another kind of charging", case_charging, BUT_STEP(NOT), "judge.other-factors"},
    {"another half width", case_smoothing, BUT_STEP(NOT), "judge.other-smoothing"},
    {"the engine's inertia on one side only", case_engine_inertia, BUT_STEP(NOT), NULL},
    {"no barometer on one side", case_pressure_once, BUT_STEP(NOT), "judge.air-on-one-side"},
    {"no inlet air on one side", case_temperature_once, BUT_STEP(NOT), "judge.air-on-one-side"},
    {"no humidity on one side", case_humidity_once, BUT_STEP(NOT), "judge.humidity-on-one-side"},
    {"no humidity on either side", case_humidity_never, BUT_STEP(WIDER), "judge.humidity-unknown"},
    {"no barometer on either side", case_air_never, BUT_STEP(WIDER), "judge.air-unknown"},
    {"none, on two days", case_air_never_other_day, BUT_STEP(NOT), "judge.air-of-another-day"},
    {"none, and nobody knows when", case_air_never_when, BUT_STEP(WIDER), "judge.air-unknown"},
    {"no factor in one air", case_none_same_air, ALWAYS(ALIKE), NULL},
    {"no factor, and 2 hPa apart", case_none_near_air, BUT_STEP(WIDER), "judge.other-air-wider"},
    {"no factor, and 15 hPa apart", case_none_other_air, BUT_STEP(NOT), "judge.other-air"},
    {"weather of an hour ago", case_air_old, BUT_STEP(WIDER), "judge.air-old"},
    {"another spark", case_spark, EACH_USE(NOT, NOT, CHANGED, ALIKE, NOT, ALIKE), NULL},
    {"a spark that was not stated", case_spark_unknown_once,
     EACH_USE(NOT, NOT, CHANGED, ALIKE, NOT, ALIKE), NULL},
    {"another mixture", case_mixture, EACH_USE(NOT, NOT, CHANGED, NOT, ALIKE, ALIKE), NULL},
    {"another jet turns the mixture", case_jets, EACH_USE(NOT, NOT, CHANGED, NOT, ALIKE, ALIKE),
     NULL},
    {"another oil", case_oil, EACH_USE(NOT, NOT, CHANGED, NOT, NOT, NOT), NULL},
    {"the engine's own fuel, written out", case_fuel_by_engine, ALWAYS(ALIKE), NULL},
    {"another fuel", case_fuel, OF_SETUP, NULL},
    {"equipment that drives", case_equipment, OF_SETUP, NULL},
    {"a remark", case_remark, ALWAYS(ALIKE), NULL},
    {"a set-up that nobody stated", case_no_setup, ALWAYS(ALIKE), NULL},
    {"a sweep and a step test", case_steady, BUT_STEP(NOT), "judge.other-kinds"},
    {"part throttle", case_part_throttle, BUT_STEP(NOT), "judge.part-throttle"},
    {"a throttle that was not recorded", case_throttle_unknown, ALWAYS(ALIKE), NULL},
    {"a fifth faster, inertias known", case_faster, BUT_STEP(ALIKE), NULL},
    {"twice as fast", case_twice, BUT_STEP(NOT), "judge.accelerations"},
    {"an acceleration that is not known, once", case_rate_once, BUT_STEP(NOT), NULL},
    {"accelerations that are not known", case_rate_never, ALWAYS(ALIKE), NULL},
    {"a fifth faster, no inertia stated", case_faster_no_rotor, BUT_STEP(NOT),
     "judge.accelerations-no-inertia"},
    {"a little faster, no inertia stated", case_a_little_no_rotor, BUT_STEP(WIDER),
     "judge.accelerations-wider"},
    {"another recorder", case_other_recorder, BUT_STEP(WIDER), "judge.recorders-wider"},
    {"a recorder that is not known", case_recorder_unknown_once, BUT_STEP(WIDER), NULL},
    {"two recorders whose lags are stated", case_other_recorder_stated, ALWAYS(ALIKE), NULL},
    {"a lag taken out on one side only", case_lag_once, BUT_STEP(NOT), "judge.lags"},
    {"another recorder and a fast sweep", case_other_recorder_fast, BUT_STEP(NOT),
     "judge.recorders"},
    {"ten samples a second against a hundred", case_slower_logging, BUT_STEP(WIDER),
     "judge.rates-wider"},
    {"one calibration", case_one_calibration, ALWAYS(ALIKE), NULL},
    {"two calibrations", case_two_calibrations, BUT_STEP(WIDER), "judge.calibrations-wider"},
    {"a calibration on one side only", case_calibrated_once, BUT_STEP(WIDER), NULL},
    {"a pull that ended earlier", case_lower_limit,
     EACH_USE(NOT, ALIKE, ALIKE, ALIKE, ALIKE, ALIKE), "judge.limits"},
    {"an end that is not known", case_limit_unknown,
     EACH_USE(NOT, ALIKE, ALIKE, ALIKE, ALIKE, ALIKE), "judge.limits"},
    {"oil six kelvin warmer", case_oil_warm, OF_START(WIDER), "judge.window-missed"},
    {"oil fifteen kelvin warmer", case_oil_hot, OF_START(NOT), "judge.window-far"},
    {"or colder", case_oil_cold, OF_START(NOT), "judge.window-far"},
    {"oil on one side only", case_oil_once, OF_START(WIDER), "judge.window-on-one-side"},
    {"no oil temperature anywhere", case_oil_never, ALWAYS(ALIKE), NULL},
    {"coolant far off", case_coolant_hot, OF_START(NOT), "judge.window-far"},
    {"inlet air far off", case_inlet_hot, OF_START(NOT), "judge.window-far"},
    {"fuel far off", case_fuel_hot, OF_START(NOT), "judge.window-far"},
    {"a long rest never makes it incomparable", case_no_rest, OF_START(WIDER), NULL},
};

static void each_fact(void **state) {
  (void)state;
  g_autoptr(ew_message) question = ew_message_of_sentence("is this 84 °F?");
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++)
    for (int use = 0; use < EW_ALIKE_USES_COUNT; use++) {
      struct pull *a = pull_new(), *b = pull_new();
      rows[i].does(a, b, question);
      const struct ew_pull_facts *one = &a->facts, *other = &b->facts;
      g_autoptr(ew_alike) alike = ew_comparable(&one, 1, &other, 1, (enum ew_alike_use)use, 0);
      g_autoptr(ew_alike) swapped = ew_comparable(&other, 1, &one, 1, (enum ew_alike_use)use, 0);
      enum outcome got = outcome_of(alike, rows[i].want[use] == ALIKE ? NULL : rows[i].id);
      expect(got == rows[i].want[use], rows[i].says, "use %d: %s, and not %s", use, outcomes[got],
             outcomes[rows[i].want[use]]);
      expect(outcome_of(swapped, NULL) == got, rows[i].says, "use %d: not so the other way", use);
      assert_true(isfinite(alike->added_variance) && alike->added_variance >= 0);
      assert_true(fabs(alike->added_variance - swapped->added_variance) < 1e-12);
      pull_free(a);
      pull_free(b);
    }
}

static void one_on_purpose(const char *what, guint despite,
                           void (*does)(struct pull *, struct pull *, ew_message *),
                           enum ew_alike_use use, gboolean helps) {
  struct pull *a = pull_new(), *b = pull_new();
  g_autoptr(ew_message) question = ew_message_of_sentence("is this 84 °F?");
  does(a, b, question);
  const struct ew_pull_facts *one = &a->facts, *other = &b->facts;
  g_autoptr(ew_alike) alike = ew_comparable(&one, 1, &other, 1, use, despite);
  expect((alike->reasons->len == 0) == helps, what, "%u reasons", alike->reasons->len);
  expect((alike->despite->len > 0) == helps, what, "%u said", alike->despite->len);
  pull_free(a);
  pull_free(b);
}

static void asked_on_purpose(void **state) {
  (void)state;
  guint engine, cell, both;
  g_autoptr(GError) error = NULL;
  assert_true(ew_despite_read("engine", &engine, &error) && engine == 1u << EW_FACT_ENGINE);
  assert_true(ew_despite_read("cell", &cell, &error) &&
              ew_despite_read("engine, cell", &both, &error));
  assert_int_equal(both, engine | cell);
  one_on_purpose("two engines, on purpose", engine, case_engine_id, EW_ALIKE_QUESTION, TRUE);
  one_on_purpose("another thing on purpose", cell, case_engine_id, EW_ALIKE_QUESTION, FALSE);
  one_on_purpose("two engines teach nothing of how one repeats", engine, case_engine_id,
                 EW_ALIKE_REPEAT, FALSE);
  one_on_purpose("two cells, on purpose", cell, case_cell_name, EW_ALIKE_QUESTION, TRUE);
  one_on_purpose("what is held stays held", ~0u, case_b_held, EW_ALIKE_QUESTION, FALSE);
  one_on_purpose("unknown air stays unknown", ~0u, case_humidity_once, EW_ALIKE_QUESTION, FALSE);
  guint none;
  assert_false(ew_despite_read("held", &none, &error));
  expect_refused(error, "held", "what cannot be asked about on purpose");
  g_clear_error(&error);
  assert_false(ew_despite_read("", &none, &error));
  expect_refused(error, "engine, cell", "nothing named");
}

/* Two cells on purpose: what cancels in one does not in two. */
static void two_cells_are_wider(void **state) {
  (void)state;
  struct pull *a = pull_new(), *b = pull_new();
  put(&b->bench.name, "cell 2");
  const struct ew_pull_facts *one = &a->facts, *other = &b->facts;
  g_autoptr(ew_alike) alike =
      ew_comparable(&one, 1, &other, 1, EW_ALIKE_QUESTION, 1u << EW_FACT_CELL);
  /* 0.3 % of gain on each side, 0.1 mm of 400 mm */
  expect_near(sqrt(alike->added_variance), sqrt(2 * (0.003 * 0.003 + 0.00025 * 0.00025)), 1e-9,
              "gains and arms of both");
  pull_free(a);
  pull_free(b);
}

/* The pulls of one side have to be alike, but for where they end; windows go by the means. */
static void within_a_side(void **state) {
  (void)state;
  struct pull *p[4] = {pull_new(), pull_new(), pull_new(), pull_new()};
  const struct ew_pull_facts *a[] = {&p[0]->facts, &p[1]->facts},
                             *b[] = {&p[2]->facts, &p[3]->facts};
  p[2]->setup.spark_deg = p[3]->setup.spark_deg = 30;
  g_autoptr(ew_alike) good = ew_comparable(a, 2, b, 2, EW_ALIKE_QUESTION, 0);
  assert_true(good->reasons->len == 0 && good->changes->len == 1);
  p[1]->curve.conditions.oil_start_k += 12; /* the mean is 6 K off */
  g_autoptr(ew_alike) warm = ew_comparable(a, 2, b, 2, EW_ALIKE_QUESTION, 0);
  assert_true(warm->reasons->len == 0 && warm->widenings->len == 1);
  expect_near(sqrt(warm->added_variance), 3 * 0.0005, 1e-12, "3 K beyond the window");
  p[3]->setup.spark_deg = 32;
  g_autoptr(ew_alike) mixed = ew_comparable(a, 2, b, 2, EW_ALIKE_QUESTION, 0);
  assert_true(mixed->reasons->len == 1);
  assert_string_equal(ew_message_id(mixed->reasons->pdata[0]), "judge.within-side");
  p[3]->setup.spark_deg = 30;
  p[3]->facts.engine_id = 7;
  g_autoptr(ew_alike) engines = ew_comparable(a, 2, b, 2, EW_ALIKE_QUESTION, 1u << EW_FACT_ENGINE);
  assert_true(engines->reasons->len == 1); /* between the sides on purpose, never within one */
  for (int i = 0; i < 4; i++)
    pull_free(p[i]);
}

static void levels(void **state) {
  (void)state;
  static const struct {
    const char *says;
    int mounting, run;
    const char *day;
    gboolean placed;
    gint64 engine;
    enum ew_level want;
  } want[] = {
      {"the same run", 1, 1, "2026-11-30", TRUE, 1, EW_LEVEL_CONSECUTIVE},
      {"a stop", 1, 2, "2026-11-30", TRUE, 1, EW_LEVEL_RESTART},
      {"a night", 1, 2, "2026-12-01", TRUE, 1, EW_LEVEL_DAY},
      {"out and in", 2, 3, "2026-12-01", TRUE, 1, EW_LEVEL_REMOUNT},
      {"another engine, whatever it counts", 1, 1, "2026-11-30", TRUE, 2, EW_LEVEL_REMOUNT},
      {"a file", 0, 0, NULL, FALSE, 0, EW_LEVEL_CONSECUTIVE},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(want); i++) {
    struct pull *a = pull_new(), *b = pull_new();
    b->facts.mounting = want[i].mounting;
    b->facts.run = want[i].run;
    b->facts.day = want[i].day;
    b->facts.placed = want[i].placed;
    b->facts.engine_id = want[i].engine;
    const struct ew_pull_facts *one = &a->facts, *other = &b->facts;
    enum ew_level got = ew_level_between(&one, 1, &other, 1);
    expect(got == want[i].want, want[i].says, "%s", ew_level_names[got]);
    pull_free(a);
    pull_free(b);
  }
}

static void one_limit(void **state) {
  (void)state;
  static const struct {
    const char *says;
    double a, b;
    gboolean want;
  } limits[] = {{"the same", 6500, 6500, TRUE},
                {"a little apart", 6500, 6649, TRUE},
                {"the other way", 6649, 6500, TRUE},
                {"by the whole width", 6500, 6650, FALSE},
                {"one that is not known", 6500, NAN, FALSE},
                {"neither known", NAN, NAN, FALSE}};
  for (gsize i = 0; i < G_N_ELEMENTS(limits); i++)
    expect(ew_is_same_limit(limits[i].a, limits[i].b) == limits[i].want, limits[i].says,
           "%g and %g", limits[i].a, limits[i].b);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(each_fact),
                                     cmocka_unit_test(asked_on_purpose),
                                     cmocka_unit_test(two_cells_are_wider),
                                     cmocka_unit_test(within_a_side),
                                     cmocka_unit_test(levels),
                                     cmocka_unit_test(one_limit)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
