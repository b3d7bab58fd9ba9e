/* What each fact of the table in comparable.h compares, and by how much what is not known may mislead. Each check hands what
 * it found to the gate, which knows what it means in this use.
 *
 * Bounds of what is not known (relative, of torque; common practice, no source, unless said):
 * - an absorber's rotor: at most 0.001 kg·m² for each N·m of torque, so a share of 0.001 alpha; differences of 5 % are let through;
 * - a recorder's lag: 0.3 s of speed against torque, the slope of the curve itself says what that does to its mean;
 * - air that nobody measured: 0.5 % an hour within a day; humidity alone 0.12 % an hour, and 0.6 % (5 hPa of vapour) another day. */
#include "judge/comparable_parts.h"
#include <math.h>
#include <string.h>

#define ROTOR_A_TORQUE_KG_M    0.001
#define ACCELERATIONS_APART    0.25
#define ACCELERATIONS_NO_ROTOR 0.05
#define LAG_UNKNOWN_S          0.3
#define LAG_MOST               0.01 /* what that may do, and still be a widening */
#define RATES_APART            1.5
#define AIR_AN_HOUR            0.005
#define HUMIDITY_AN_HOUR       0.0012
#define HUMIDITY_A_DAY         0.006
#define LEAST_HOURS            0.25
#define AIR_UNCORRECTED        0.005 /* difference of air that no factor takes out */

EW_MESSAGE(practice, "judge.practice-and-real", EW_CAUTION,
           "some of the pulls are of the practice cell, an invented engine");
EW_MESSAGE(held, "judge.held", EW_CAUTION,
           "a pull is held until its question is answered: {question}");
EW_MESSAGE(engines, "judge.engines", EW_CAUTION, "the engines differ: {one} and {other}");
EW_MESSAGE(nameless, "judge.nameless-engine", EW_NOTE, "an engine without a name");
EW_MESSAGE(builds, "judge.builds", EW_NOTE, "another build of the engine");
EW_MESSAGE(record_changed, "judge.engine-record", EW_NOTE, "engine: {changes}");
EW_MESSAGE(cells, "judge.cells", EW_CAUTION, "the cell's record differs: {changes}");
EW_MESSAGE(
    cells_wider, "judge.cells-wider", EW_CAUTION,
    "two cells: what cancels in one cell does not here, and the interval is wider by {share}");
EW_MESSAGE(cells_between, "judge.cells-between", EW_NOTE,
           "two cells: by the round of the reference engine they differ by {difference}; the "
           "interval is wider by {share} for it");
EW_MESSAGE(other_factors, "judge.other-factors", EW_CAUTION,
           "the curves were corrected by different factors or inertias");
EW_MESSAGE(other_smoothing, "judge.other-smoothing", EW_CAUTION,
           "the curves were smoothed differently: half widths {one} and {other}");
EW_MESSAGE(
    air_one_side, "judge.air-on-one-side", EW_CAUTION,
    "the air (pressure and temperature) is known for one of the pulls and not for the other: "
    "one is corrected, the other is not");
EW_MESSAGE(
    humidity_one_side, "judge.humidity-on-one-side", EW_CAUTION,
    "humidity is known for one of the pulls and not for the other, whose air is taken as dry");
EW_MESSAGE(air_other_day, "judge.air-of-another-day", EW_CAUTION,
           "the air is not known, and the pulls are of different days");
EW_MESSAGE(air_unknown, "judge.air-unknown", EW_CAUTION,
           "the air is not known on either side: the interval is wider by {share}");
EW_MESSAGE(humidity_unknown, "judge.humidity-unknown", EW_CAUTION,
           "humidity is not known on either side: the interval is wider by {share}");
EW_MESSAGE(other_air, "judge.other-air", EW_CAUTION,
           "no factor is applied, and the air itself makes {share} between the pulls");
EW_MESSAGE(other_air_wider, "judge.other-air-wider", EW_CAUTION,
           "no factor is applied: the interval is wider by {share} for the air");
EW_MESSAGE(air_old, "judge.air-old", EW_CAUTION,
           "the weather is not of the time of the pull: the interval is wider by {share}");
EW_MESSAGE(other_kinds, "judge.other-kinds", EW_CAUTION,
           "a sweep is not compared with steady points");
EW_MESSAGE(part_throttle, "judge.part-throttle", EW_CAUTION,
           "one of the pulls never reached full throttle");
EW_MESSAGE(accelerations, "judge.accelerations", EW_CAUTION,
           "the accelerations differ: {one} and {other}");
EW_MESSAGE(acceleration_one_side, "judge.acceleration-on-one-side", EW_CAUTION,
           "the acceleration of one of the pulls is not known");
EW_MESSAGE(
    accelerations_no_rotor, "judge.accelerations-no-inertia", EW_CAUTION,
    "the accelerations differ ({one} and {other}), and the absorber's inertia is not stated: "
    "what its rotor takes cannot be told from the engine");
EW_MESSAGE(accelerations_wider, "judge.accelerations-wider", EW_CAUTION,
           "the accelerations differ a little: the interval is wider by {share}");
EW_MESSAGE(lags, "judge.lags", EW_CAUTION,
           "different lags of speed or torque were taken out of recordings of one recorder");
EW_MESSAGE(
    recorders, "judge.recorders", EW_CAUTION,
    "two recorders whose lags are not stated: a lag of {lag} would make {share} between them");
EW_MESSAGE(recorders_wider, "judge.recorders-wider", EW_CAUTION,
           "two recorders whose lags are not stated: the interval is wider by {share}");
EW_MESSAGE(
    rates_wider, "judge.rates-wider", EW_CAUTION,
    "the recordings have different rates: the slower one's scatter makes the interval wider by "
    "{share}");
EW_MESSAGE(calibrations_wider, "judge.calibrations-wider", EW_CAUTION,
           "two calibrations of torque: the interval is wider by {share}");
EW_MESSAGE(limits, "judge.limits", EW_CAUTION, "the pulls end at {one} and {other}");

static void widen(struct ew_gate *gate, enum ew_alike_fact fact, const struct ew_message_kind *kind,
                  double bias) {
  if (bias > 0)
    ew_gate_widen(gate, fact, bias * bias, ew_message(kind, ew_say_share("share", bias, 2)));
}

static gboolean is_sweep(const struct ew_pull_facts *f) {
  return f->curve->kind == EW_SEGMENT_SWEEP;
}

/* ---- engine and build ---- */

/* Fields of an engine's record that say nothing of the torque it makes: names, limits, wishes, the test stand. Fuel and
 * equipment are asked of the set-up. */
static gboolean is_aside(const char *group, const char *name) {
  static const char *const aside[] = {"name",
                                      "serial",
                                      "owner",
                                      "equipment",
                                      "fuel",
                                      "octane",
                                      "stoichiometric_ratio",
                                      "lambda_target",
                                      "lambda",
                                      "inertia",
                                      "idle_speed",
                                      "ratio_wanted",
                                      "expected_power",
                                      "power_speed",
                                      "expected_torque",
                                      "torque_speed",
                                      "volumetric_efficiency",
                                      "air_pressure",
                                      "air_temperature",
                                      "throttle_speed",
                                      NULL};
  static const char *const groups[] = {"torsion", "degree_in", "balance", "fuel_system", NULL};
  return g_strv_contains(aside, name) || g_str_has_suffix(name, "_limit") ||
         (group && g_strv_contains(groups, group));
}

/* Both state it, and not the same. What was only written down later does not count as a change. */
static void add_engine_change(GPtrArray *changes, const char *group, const struct ew_field *field,
                              const void *a, const void *b) {
  if (is_aside(group, field->name) || ew_field_same(field, a, b))
    return;
  g_autofree char *one = ew_field_typed(field, a), *other = ew_field_typed(field, b);
  if (one && other)
    ew_messages_add(changes, ew_field_change(field, a, b));
}

static GPtrArray *engine_changes(const struct ew_engine *a, const struct ew_engine *b) {
  GPtrArray *changes = ew_messages_new();
  for (gsize i = 0; i < ew_engine_fields.count; i++)
    add_engine_change(changes, NULL, &ew_engine_fields.fields[i], a, b);
  for (gsize g = 0; g < ew_engine_groups_count; g++) {
    const struct ew_engine_group *group = &ew_engine_groups[g];
    for (gsize i = 0; i < group->fields->count; i++)
      add_engine_change(changes, group->key, &group->fields->fields[i],
                        (const char *)a + group->offset, (const char *)b + group->offset);
  }
  return changes;
}

static const char *name_of(const struct ew_pull_facts *f) {
  return f->engine ? f->engine->name : NULL;
}

static struct ew_argument say_engine(const char *as, const struct ew_pull_facts *f) {
  const char *name = name_of(f);
  return name && *name ? ew_say_text(as, name) : ew_say_word(as, &nameless);
}

static void check_engine(struct ew_gate *gate, const struct ew_pull_facts *a,
                         const struct ew_pull_facts *b) {
  gboolean by_book = a->engine_id && b->engine_id;
  if (by_book ? a->engine_id != b->engine_id
              : name_of(a) && name_of(b) && strcmp(name_of(a), name_of(b)) != 0) {
    ew_gate_found(gate, EW_FACT_ENGINE,
                  ew_message(&engines, say_engine("one", a), say_engine("other", b)));
    return; /* what else their records differ in is of no use */
  }
  if (a->build_id && b->build_id && a->build_id != b->build_id)
    ew_gate_found(gate, EW_FACT_BUILD, ew_message_plain(&builds));
  g_autoptr(GPtrArray) changes =
      a->engine && b->engine ? engine_changes(a->engine, b->engine) : ew_messages_new();
  if (changes->len)
    ew_gate_found(gate, EW_FACT_BUILD,
                  ew_message(&record_changed, ew_say_messages("changes", changes)));
}

/* ---- the cell ---- */

/* Two cells that a reference engine ran in: how far they may differ was measured. */
static gboolean is_between(const struct ew_pull_facts *a, const struct ew_pull_facts *b) {
  return a->between && a->between == b->between && a->between_cell != b->between_cell &&
         !isnan(a->between->back);
}

static void widen_between(struct ew_gate *gate, const struct ew_pull_facts *a,
                          const struct ew_pull_facts *b) {
  const struct ew_between *r = a->between;
  double apart = r->cell[b->between_cell].mean - r->cell[a->between_cell].mean,
         variance = ew_between_variance(r, a->between_cell, b->between_cell);
  ew_gate_widen(gate, EW_FACT_CELL, variance,
                ew_message(&cells_between, ew_say_share_change("difference", expm1(apart), 2),
                           ew_say_share("share", sqrt(variance), 2)));
}

static void check_cell(struct ew_gate *gate, const struct ew_pull_facts *a,
                       const struct ew_pull_facts *b) {
  static const char *const always[] = {"name", "arm", NULL};
  static const char *const of_sweeps[] = {"rotor_inertia", "coupling_inertia", NULL};
  if (!a->bench || !b->bench)
    return;
  if (is_between(a, b)) {
    widen_between(gate, a, b);
    return;
  }
  g_autoptr(GPtrArray) changes = ew_messages_new();
  for (gsize i = 0; i < ew_bench_fields.count; i++) {
    const struct ew_field *field = &ew_bench_fields.fields[i];
    gboolean asked = g_strv_contains(always, field->name) ||
                     (is_sweep(a) && is_sweep(b) && g_strv_contains(of_sweeps, field->name));
    if (asked && !ew_field_same(field, a->bench, b->bench))
      ew_messages_add(changes, ew_field_change(field, a->bench, b->bench));
  }
  if (changes->len == 0)
    return;
  ew_gate_found(gate, EW_FACT_CELL, ew_message(&cells, ew_say_messages("changes", changes)));
  if (gate->despite >> EW_FACT_CELL & 1) {
    double u = 0;
    const struct ew_bench *bench[] = {a->bench, b->bench};
    for (int k = 0; k < 2; k++) {
      double arm = bench[k]->arm_uncertainty_m / bench[k]->arm_m;
      u += bench[k]->gain_uncertainty * bench[k]->gain_uncertainty + (isnan(arm) ? 0 : arm * arm);
    }
    widen(gate, EW_FACT_CELL, &cells_wider, sqrt(u));
  }
}

/* ---- how it was computed ---- */

static void check_method(struct ew_gate *gate, const struct ew_pull_facts *a,
                         const struct ew_pull_facts *b) {
  const struct ew_method *x = &a->curve->method, *y = &b->curve->method;
  gboolean inertia = x->engine_inertia != y->engine_inertia ||
                     (x->engine_inertia && is_sweep(a) && a->engine && b->engine &&
                      !(a->engine->inertia_kg_m2 == b->engine->inertia_kg_m2) &&
                      !(isnan(a->engine->inertia_kg_m2) && isnan(b->engine->inertia_kg_m2)));
  if (x->standard != y->standard || x->charging != y->charging || inertia)
    ew_gate_found(gate, EW_FACT_METHOD, ew_message_plain(&other_factors));
  if (is_sweep(a) && is_sweep(b) && x->half_width_rpm != y->half_width_rpm)
    ew_gate_found(
        gate, EW_FACT_METHOD,
        ew_message(&other_smoothing,
                   ew_say_quantity("one", EW_KIND_ROTATIONAL_SPEED, x->half_width_rpm, 0),
                   ew_say_quantity("other", EW_KIND_ROTATIONAL_SPEED, y->half_width_rpm, 0)));
}

/* Known, and taken out where a factor was asked for. */
static gboolean air_is_known(const struct ew_pull_facts *f) {
  const struct ew_conditions *c = &f->curve->conditions;
  return !isnan(c->pressure_pa) && !isnan(c->temperature_k) &&
         ew_curve_corrected(f->curve) != EW_UNCORRECTED;
}

/* Relative effect of the air on a naturally aspirated engine, after J1349, when no factor takes it out. */
static double air_effect(const struct ew_pull_facts *f) {
  const struct ew_conditions *c = &f->curve->conditions;
  struct ew_air air = {c->pressure_pa, c->temperature_k, c->vapour_pa, NAN};
  return ew_correction_factor(EW_STANDARD_J1349, EW_NATURAL, air).factor;
}

static void check_uncorrected(struct ew_gate *gate, const struct ew_pull_facts *a,
                              const struct ew_pull_facts *b) {
  double bias = fabs(log(air_effect(a) / air_effect(b)));
  if (bias > AIR_UNCORRECTED || isnan(bias))
    ew_gate_found(gate, EW_FACT_AIR, ew_message(&other_air, ew_say_share("share", bias, 1)));
  else
    widen(gate, EW_FACT_AIR, &other_air_wider, bias);
}

static void check_air(struct ew_gate *gate, const struct ew_pull_facts *a,
                      const struct ew_pull_facts *b) {
  double hours = isnan(gate->hours) ? 1 : fmax(gate->hours, LEAST_HOURS);
  gboolean other_day = a->placed && b->placed && g_strcmp0(a->day, b->day) != 0;
  double old =
      (isnan(a->air_u) ? 0 : a->air_u * a->air_u) + (isnan(b->air_u) ? 0 : b->air_u * b->air_u);
  if (air_is_known(a) != air_is_known(b))
    ew_gate_found(gate, EW_FACT_AIR, ew_message_plain(&air_one_side));
  else if (!air_is_known(a) && (other_day || hours > 24))
    ew_gate_found(gate, EW_FACT_AIR, ew_message_plain(&air_other_day));
  else if (!air_is_known(a))
    widen(gate, EW_FACT_AIR, &air_unknown, AIR_AN_HOUR * hours);
  else if (isnan(a->curve->conditions.vapour_pa) != isnan(b->curve->conditions.vapour_pa))
    ew_gate_found(gate, EW_FACT_AIR, ew_message_plain(&humidity_one_side));
  else {
    if (isnan(a->curve->conditions.vapour_pa))
      widen(gate, EW_FACT_AIR, &humidity_unknown,
            other_day ? HUMIDITY_A_DAY : fmin(HUMIDITY_AN_HOUR * hours, HUMIDITY_A_DAY));
    if (a->curve->method.standard == EW_STANDARD_NONE)
      check_uncorrected(gate, a, b);
    else
      widen(gate, EW_FACT_AIR, &air_old, sqrt(old));
  }
}

/* ---- set-up ---- */

static gboolean is_swept(enum ew_alike_use use, const char *name) {
  static const char *const spark[] = {"spark", "advance_curve", NULL};
  static const char *const mixture[] = {"lambda",  "jets",        "main_jet",
                                        "air_jet", "float_level", NULL};
  static const char *const trends[] = {"oil", "oil_level", NULL};
  return use == EW_ALIKE_SPARK_SWEEP     ? g_strv_contains(spark, name)
         : use == EW_ALIKE_MIXTURE_SWEEP ? g_strv_contains(mixture, name)
         : use == EW_ALIKE_STEP          ? !g_strv_contains(trends, name)
                                         : FALSE;
}

/* What a set-up leaves to its engine's record. */
static gboolean is_same_by_engine(const struct ew_pull_facts *a, const struct ew_pull_facts *b,
                                  const char *name) {
  const char *one = NULL, *other = NULL;
  if (strcmp(name, "fuel") == 0) {
    one = a->setup->fuel ? a->setup->fuel : a->engine ? a->engine->fuel : NULL;
    other = b->setup->fuel ? b->setup->fuel : b->engine ? b->engine->fuel : NULL;
  } else if (strcmp(name, "equipment") == 0) {
    one = a->setup->equipment ? a->setup->equipment : a->engine ? a->engine->equipment : NULL;
    other = b->setup->equipment ? b->setup->equipment : b->engine ? b->engine->equipment : NULL;
  }
  return one && other && strcmp(one, other) == 0;
}

static void check_setup(struct ew_gate *gate, const struct ew_pull_facts *a,
                        const struct ew_pull_facts *b) {
  for (gsize i = 0; a->setup && b->setup && i < ew_setup_fields.count; i++) {
    const struct ew_field *field = &ew_setup_fields.fields[i];
    if (ew_setup_is_condition(field) || is_swept(gate->use, field->name) ||
        ew_field_same(field, a->setup, b->setup) || is_same_by_engine(a, b, field->name))
      continue;
    ew_gate_found(gate, EW_FACT_SETUP, ew_field_change(field, a->setup, b->setup));
  }
}

/* ---- the sweep ---- */

#define SAY_RATE(as, rate) ew_say_quantity(as, EW_KIND_ROTATIONAL_ACCELERATION, rate, 0)

static gboolean rotor_is_known(const struct ew_pull_facts *f) {
  if (f->bench)
    return !isnan(f->bench->rotor_inertia_kg_m2);
  for (gsize j = 0; f->curve->inertia_n_m && j < f->curve->points; j++)
    if (f->curve->inertia_n_m[j] != 0)
      return TRUE;
  return FALSE;
}

/* Share of torque that was added back for rotor and coupling, at the middle of the band. */
static double inertia_share(const struct ew_pull_facts *f) {
  const struct ew_curve *c = f->curve;
  double middle = (c->band_low_rpm + c->band_high_rpm) / 2;
  double share = c->inertia_n_m ? ew_curve_at(c, c->inertia_n_m, middle) /
                                      ew_curve_at(c, c->observed_n_m, middle)
                                : 0;
  return isfinite(share) ? share : 0;
}

static void check_acceleration(struct ew_gate *gate, const struct ew_pull_facts *a,
                               const struct ew_pull_facts *b) {
  double x = a->curve->conditions.acceleration_rpm_s, y = b->curve->conditions.acceleration_rpm_s;
  if (!is_sweep(a) || !is_sweep(b) || (isnan(x) && isnan(y)))
    return;
  double apart = fabs(x - y) / fmax(fabs(x), fabs(y));
  gboolean rotor = rotor_is_known(a) && rotor_is_known(b);
  if (isnan(x) || isnan(y))
    ew_gate_found(gate, EW_FACT_ACCELERATION, ew_message_plain(&acceleration_one_side));
  else if (apart > ACCELERATIONS_APART)
    ew_gate_found(gate, EW_FACT_ACCELERATION,
                  ew_message(&accelerations, SAY_RATE("one", x), SAY_RATE("other", y)));
  else if (!rotor && apart > ACCELERATIONS_NO_ROTOR)
    ew_gate_found(gate, EW_FACT_ACCELERATION,
                  ew_message(&accelerations_no_rotor, SAY_RATE("one", x), SAY_RATE("other", y)));
  else if (!rotor)
    widen(gate, EW_FACT_ACCELERATION, &accelerations_wider,
          ROTOR_A_TORQUE_KG_M * fabs(x - y) * G_PI / 30);
  else if (a->bench && apart > ACCELERATIONS_NO_ROTOR)
    widen(gate, EW_FACT_ACCELERATION, &accelerations_wider,
          a->bench->inertia_uncertainty * fabs(inertia_share(a) - inertia_share(b)));
}

/* What a lag of speed against torque does to the mean over the band: the curve moved along by it. */
static double effect_of_lag(const struct ew_curve *c, double lag_s) {
  double shift =
      fmin(c->conditions.acceleration_rpm_s * lag_s, (c->band_high_rpm - c->band_low_rpm) / 4);
  double here = ew_curve_band_log(c, c->band_low_rpm + shift, c->band_high_rpm - shift);
  double up = ew_curve_band_log(c, c->band_low_rpm + 2 * shift, c->band_high_rpm);
  double down = ew_curve_band_log(c, c->band_low_rpm, c->band_high_rpm - 2 * shift);
  double most = fmax(fabs(up - here), fabs(here - down));
  return shift > 0 && isfinite(most) ? most : 0;
}

static gboolean lags_are_stated(const struct ew_pull_facts *f) {
  return !isnan(f->torque_lag_s) && !isnan(f->speed_lag_s);
}

static gboolean lags_are_same(const struct ew_pull_facts *a, const struct ew_pull_facts *b) {
  double torque_a = isnan(a->torque_lag_s) ? 0 : a->torque_lag_s,
         torque_b = isnan(b->torque_lag_s) ? 0 : b->torque_lag_s,
         speed_a = isnan(a->speed_lag_s) ? 0 : a->speed_lag_s,
         speed_b = isnan(b->speed_lag_s) ? 0 : b->speed_lag_s;
  return torque_a == torque_b && speed_a == speed_b;
}

/* Samples a second: those with weight at the middle of the curve, over the time that its window took. */
static double rate_hz(const struct ew_curve *c) {
  double seconds = 2 * c->method.half_width_rpm / c->conditions.acceleration_rpm_s;
  return c->samples && c->points ? c->samples[c->points / 2] / seconds : (double)NAN;
}

static void check_rate(struct ew_gate *gate, const struct ew_pull_facts *a,
                       const struct ew_pull_facts *b) {
  double x = rate_hz(a->curve), y = rate_hz(b->curve);
  if (!(fmax(x, y) > RATES_APART * fmin(x, y)))
    return;
  double one = a->curve->band_mean_se, other = b->curve->band_mean_se;
  double excess = fabs(one * one - other * other);
  widen(gate, EW_FACT_RECORDER, &rates_wider, isfinite(excess) ? sqrt(excess) : 0);
}

static void check_recorder(struct ew_gate *gate, const struct ew_pull_facts *a,
                           const struct ew_pull_facts *b) {
  if (!is_sweep(a) || !is_sweep(b))
    return;
  check_rate(gate, a, b);
  gboolean one = g_strcmp0(a->recorder, b->recorder) == 0;
  if (one && !lags_are_same(a, b))
    ew_gate_found(gate, EW_FACT_RECORDER, ew_message_plain(&lags));
  if (one || (lags_are_stated(a) && lags_are_stated(b)))
    return;
  double bias =
      fmax(effect_of_lag(a->curve, LAG_UNKNOWN_S), effect_of_lag(b->curve, LAG_UNKNOWN_S));
  if (bias > LAG_MOST)
    ew_gate_found(gate, EW_FACT_RECORDER,
                  ew_message(&recorders, ew_say_quantity("lag", EW_KIND_TIME, LAG_UNKNOWN_S, 1),
                             ew_say_share("share", bias, 1)));
  else
    widen(gate, EW_FACT_RECORDER, &recorders_wider, bias);
}

/* ---- calibration of torque ---- */

static void check_calibration(struct ew_gate *gate, const struct ew_pull_facts *a,
                              const struct ew_pull_facts *b) {
  const struct ew_calibrated_line *x = ew_calibrated_find(a->calibration, EW_CHANNEL_TORQUE),
                                  *y = ew_calibrated_find(b->calibration, EW_CHANNEL_TORQUE);
  if ((!x && !y) || (x && y && g_strcmp0(x->at, y->at) == 0 && x->gain == y->gain))
    return;
  double u = 0; /* without one: what the other found is what it may be off by */
  u += x ? x->gain_u * x->gain_u : 0;
  u += y ? y->gain_u * y->gain_u : 0;
  if (!x || !y)
    u += ((x ? x : y)->gain - 1) * ((x ? x : y)->gain - 1);
  widen(gate, EW_FACT_CALIBRATION, &calibrations_wider, sqrt(u));
}

void ew_gate_alone(struct ew_gate *gate, const struct ew_pull_facts *f) {
  if (f->held)
    ew_gate_found(gate, EW_FACT_HELD, ew_message(&held, ew_say_message("question", f->held)));
  if (f->curve->conditions.throttle_known && !f->curve->conditions.full_throttle)
    ew_gate_found(gate, EW_FACT_THROTTLE, ew_message_plain(&part_throttle));
}

void ew_gate_pair(struct ew_gate *gate, const struct ew_pull_facts *a,
                  const struct ew_pull_facts *b) {
  if (a->invented != b->invented)
    ew_gate_found(gate, EW_FACT_PRACTICE, ew_message_plain(&practice));
  check_engine(gate, a, b);
  check_cell(gate, a, b);
  check_method(gate, a, b);
  if (a->curve->kind != b->curve->kind)
    ew_gate_found(gate, EW_FACT_KIND, ew_message_plain(&other_kinds));
  check_acceleration(gate, a, b);
  check_air(gate, a, b);
  check_recorder(gate, a, b);
  check_calibration(gate, a, b);
  check_setup(gate, a, b);
  if (!ew_is_same_limit(a->curve->high_rpm, b->curve->high_rpm))
    ew_gate_found(
        gate, EW_FACT_LIMIT,
        ew_message(&limits, ew_say_quantity("one", EW_KIND_ROTATIONAL_SPEED, a->curve->high_rpm, 0),
                   ew_say_quantity("other", EW_KIND_ROTATIONAL_SPEED, b->curve->high_rpm, 0)));
}
