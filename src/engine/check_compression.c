/* Compression, quench, and whether the fuel stands it. */
#include "base/language.h"
#include "engine/balance.h"
#include "engine/breathing.h"
#include "engine/check_parts.h"
#include "engine/compression.h"
#include "engine/fuelling.h"
#include "base/statistics.h"
#include <math.h>

#define SECTION      EW_TEXT("Compression")
#define CHAMBER_SPAN 0.5e-6 /* m3: chambers further from their median are worth a grinder */
#define HEAT_KEPT    0.8    /* of the fuel's heat, the rest goes to the walls */

EW_MESSAGE(
    chamber_larger, "engine.chamber-larger", EW_CAUTION,
    "cylinder {cylinder}: its chamber of {chamber} is {off} larger than the others' {middle}: "
    "ratio {ratio} against {median}. Measure it again; then bring the chambers to within 0.5 cc "
    "of each other (common practice, no source)");
EW_MESSAGE(
    chamber_smaller, "engine.chamber-smaller", EW_CAUTION,
    "cylinder {cylinder}: its chamber of {chamber} is {off} smaller than the others' {middle}: "
    "ratio {ratio} against {median}. Measure it again; then bring the chambers to within 0.5 cc "
    "of each other (common practice, no source)");
EW_MESSAGE(
    quench_tight, "engine.quench-tight", EW_DANGER,
    "{gap} between piston and head: steel rods need about 0.9 mm or more, aluminium rods 1.3 mm, "
    "or the piston touches at speed (common practice, no source). Measure with soft wire before "
    "the engine runs");
EW_MESSAGE(
    quench_wide, "engine.quench-wide", EW_NOTE,
    "{gap} between piston and head does little to stir the charge; 0.9 to 1.15 mm is usual with "
    "steel rods (common practice, no source)");
EW_MESSAGE(
    ratio_contradicts, "engine.ratio-contradicts", EW_CAUTION,
    "the stated ratio of {stated} contradicts the volumes, which give {computed}; the volumes "
    "are used");
EW_MESSAGE(
    wanted_squeeze, "engine.wanted-ratio-quench", EW_NOTE,
    "gasket or deck alone would leave less than 0.8 mm of quench on the way to {ratio}: take it "
    "from the chamber or the piston crown");
#define FUEL_SAYS                                                                                  \
  EW_TEXT(                                                                                         \
      "fuel check: {grade}. Effective ratio {effective} (static {static}) with octane {octane} "   \
      "at "                                                                                        \
      "{speed}: knock integral {integral}, where 1 is the edge; about octane {easy} would be "     \
      "easy. "                                                                                     \
      "Later inlet closing, less compression, cooler air or later spark help. This only ranks "    \
      "combinations: take the first pulls with late spark, and listen")
EW_MESSAGE(fuel_over, "engine.fuel-over", EW_CAUTION, FUEL_SAYS);
EW_MESSAGE(fuel_edge, "engine.fuel-edge", EW_NOTE, FUEL_SAYS);
EW_MESSAGE(fuel_air_cooled, "engine.fuel-air-cooled", EW_NOTE,
           "fuel check: air-cooled chambers run hotter, which is allowed for");
EW_MESSAGE(word_fits, "engine.fuel-fits", EW_NOTE, "fits");
EW_MESSAGE(word_watch, "engine.fuel-watch", EW_NOTE, "watch");
EW_MESSAGE(word_near, "engine.fuel-near", EW_NOTE, "near the edge");
EW_MESSAGE(word_too_much, "engine.fuel-too-much", EW_NOTE, "too much");

EW_MESSAGE(
    needs_ratio, "engine.needs-compression", EW_NOTE,
    "compression: needs bore, stroke, chamber(s), gasket_bore and gasket_thickness; or ratio");
EW_MESSAGE(needs_effective, "engine.needs-effective-compression", EW_NOTE,
           "effective compression and cranking pressure: need rod_length, the inlet's duration, "
           "lobe_separation or centrelines, and volumes");
EW_MESSAGE(
    needs_octane, "engine.needs-octane", EW_NOTE,
    "fuel check: needs octane, a fuel with a known heating value, and effective compression");

static void warn_chambers(struct ew_engine_check *check, const double *ratio, double median) {
  const GArray *chambers = check->engine->compression.chambers;
  if (!chambers || chambers->len < 3)
    return;
  double middle = ew_median((const double *)(void *)chambers->data, chambers->len, EW_NONE_ABSENT);
  for (guint i = 0; i < chambers->len; i++) {
    double off = g_array_index(chambers, double, i) - middle;
    if (fabs(off) > CHAMBER_SPAN)
      ew_check_warn(
          check, "compression.chambers",
          ew_message(off > 0 ? &chamber_larger : &chamber_smaller, ew_say_count("cylinder", i + 1),
                     ew_say_quantity("chamber", EW_KIND_VOLUME, middle + off, 1),
                     ew_say_quantity("off", EW_KIND_VOLUME, fabs(off), 1),
                     ew_say_quantity("middle", EW_KIND_VOLUME, middle, 1),
                     ew_say_figure("ratio", ratio[i], 2), ew_say_figure("median", median, 2)));
  }
}

static void warn_quench(struct ew_engine_check *check, double quench) {
  if (quench < EW_QUENCH_LOW_M || quench > EW_QUENCH_HIGH_M)
    ew_check_warn(check, "compression.gasket_thickness",
                  ew_message(quench < EW_QUENCH_LOW_M ? &quench_tight : &quench_wide,
                             ew_say_quantity("gap", EW_KIND_LENGTH, quench, 2)));
}

static void add_static(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  double ratio[EW_CYLINDERS_MAX], volume[EW_CYLINDERS_MAX];
  gsize count = (gsize)e->cylinders;
  for (guint i = 0; i < count; i++) {
    ratio[i] = ew_compression_ratio(e, i);
    volume[i] = ew_clearance_volume_m3(e, i);
  }
  if (!ew_check_need(check, ratio[0], &needs_ratio))
    return;
  ew_check_add_list(check,
                    EW_FIGURE("compression_ratio", SECTION, "compression ratio", NUMBER, EXACT,
                              EW_TEXT("compression")),
                    ratio, count);
  ew_check_add_list(check,
                    EW_FIGURE("clearance_volume", SECTION, "volume at TDC", VOLUME, EXACT,
                              EW_TEXT("compression")),
                    volume, count);
  double low = ew_quantile(ratio, count, 0, EW_NONE_ABSENT),
         high = ew_quantile(ratio, count, 1, EW_NONE_ABSENT);
  ew_check_add(check,
               EW_FIGURE("compression_ratio_spread", SECTION, "spread, highest less lowest", NUMBER,
                         EXACT, EW_TEXT("compression")),
               high - low);
  double median = ew_median(ratio, count, EW_NONE_ABSENT);
  warn_chambers(check, ratio, median);
  double quench = ew_quench_m(e);
  ew_check_add(
      check,
      EW_FIGURE("quench", SECTION, "quench (squish) gap", LENGTH, EXACT, EW_TEXT("compression")),
      quench);
  warn_quench(check, quench);
  double stated = e->compression.ratio_stated;
  if (e->compression.chambers || !isnan(e->compression.chamber_m3))
    if (fabs(stated - median) > 0.2)
      ew_check_warn(check, "compression.ratio",
                    ew_message(&ratio_contradicts, ew_say_figure("stated", stated, 2),
                               ew_say_figure("computed", median, 2)));
}

static void add_answer(struct ew_engine_check *check) {
  struct ew_compression_answer answer = ew_compression_answer_of(check->engine);
  ew_check_add(check,
               EW_FIGURE("ratio_for_gasket_0_25_mm_thinner", SECTION, "0.25 mm thinner gasket adds",
                         NUMBER, EXACT, EW_TEXT("compression")),
               answer.gasket_thinner);
  ew_check_add(check,
               EW_FIGURE("ratio_for_piston_0_25_mm_higher", SECTION, "0.25 mm off the deck adds",
                         NUMBER, EXACT, EW_TEXT("compression")),
               answer.deck_higher);
  ew_check_add(check,
               EW_FIGURE("ratio_for_chamber_1_cc_smaller", SECTION, "1 cc off the chamber adds",
                         NUMBER, EXACT, EW_TEXT("compression")),
               answer.chamber_smaller);
}

static void add_ways(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  double wanted = e->compression.ratio_wanted;
  struct ew_compression_ways ways = ew_compression_ways_to(e, wanted);
  if (isnan(ways.change_m3))
    return;
  ew_check_add(check,
               EW_FIGURE("wanted_ratio_volume_change", SECTION,
                         "to the wanted ratio: chamber or dish by", VOLUME, EXACT,
                         EW_TEXT("compression")),
               ways.change_m3);
  ew_check_add(check,
               EW_FIGURE("wanted_ratio_gasket_change", SECTION, "  or gasket by", LENGTH, EXACT,
                         EW_TEXT("compression")),
               ways.gasket_m);
  ew_check_add(check,
               EW_FIGURE("wanted_ratio_gasket_quench", SECTION, "    which leaves a quench of",
                         LENGTH, EXACT, EW_TEXT("compression")),
               ways.gasket_quench_m);
  ew_check_add(check,
               EW_FIGURE("wanted_ratio_deck_change", SECTION, "  or deck clearance by", LENGTH,
                         EXACT, EW_TEXT("compression")),
               ways.deck_m);
  ew_check_add(check,
               EW_FIGURE("wanted_ratio_deck_quench", SECTION, "    which leaves a quench of",
                         LENGTH, EXACT, EW_TEXT("compression")),
               ways.deck_quench_m);
  if (ways.gasket_quench_m < EW_QUENCH_LOW_M && ways.deck_quench_m < EW_QUENCH_LOW_M)
    ew_check_warn(check, "compression.wanted_ratio",
                  ew_message(&wanted_squeeze, ew_say_figure("ratio", wanted, 2)));
}

static double worst_effective(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  double ratio[EW_CYLINDERS_MAX], most = NAN;
  gsize count = (gsize)e->cylinders;
  double closes = check->events[0].inlet_closes_abdc_deg;
  for (guint i = 0; i < count; i++) {
    ratio[i] = check->has_events[0] ? ew_effective_compression_ratio(e, i, closes) : NAN;
    most = fmax(most, ratio[i]);
  }
  if (!ew_check_need(check, ratio[0], &needs_effective))
    return NAN;
  ew_check_add_list(check,
                    EW_FIGURE("effective_compression_ratio", SECTION,
                              "effective ratio from inlet closing", NUMBER, EXACT,
                              EW_TEXT("effective compression")),
                    ratio, count);
  ew_check_add(check,
               EW_FIGURE("effective_closing", SECTION, "  closing after BDC", ANGLE, EXACT,
                         EW_TEXT("effective compression")),
               closes);
  ew_check_add(check,
               EW_FIGURE("effective_closing_lift", SECTION, "  at a lobe lift of", LENGTH, EXACT,
                         EW_TEXT("effective compression")),
               check->events[0].lift_m);
  return most;
}

static void add_cranking(struct ew_engine_check *check, double effective) {
  double air = check->engine->breathing.air_pressure_pa;
  const double exponents[] = {EW_CRANKING_EXPONENT_LOW, EW_CRANKING_EXPONENT_HIGH};
  double range[2];
  for (int i = 0; i < 2; i++)
    range[i] = ew_cranking_pressure_pa(air, effective, exponents[i]);
  ew_check_add(check,
               EW_FIGURE("cranking_pressure", SECTION, "cranking pressure, about", PRESSURE_GAUGE,
                         ESTIMATE, EW_TEXT("cranking pressure")),
               ew_cranking_pressure_pa(air, effective, EW_CRANKING_EXPONENT));
  ew_check_add_list(check,
                    EW_FIGURE("cranking_pressure_range", SECTION, "  between", PRESSURE_GAUGE,
                              ESTIMATE, EW_TEXT("cranking pressure")),
                    range, 2);
}

/* Heat in 1 m3 of air with its fuel; beyond lambda 1 air is over, below it oxygen is short. */
static double heat_of_charge(const struct ew_engine *e) {
  double lambda = isnan(e->lambda_target) ? 1 : fmax(1, e->lambda_target);
  return HEAT_KEPT * ew_inlet_density_kg_m3(e) * ew_engine_heating_value_j_kg(e) /
         (ew_engine_stoichiometric_ratio(e) * lambda);
}

static double low_full_load_speed(const struct ew_engine *e) {
  double torque = e->breathing.torque_speed_rpm;
  return isnan(torque) ? 3000 : fmax(2000, 0.6 * torque);
}

static void warn_fuel(struct ew_engine_check *check, const struct ew_fuel_case *c) {
  const struct ew_fuel_verdict *v = &check->fuel;
  if (v->grade == EW_FUEL_FITS)
    return;
  static const struct ew_message_kind *const words[] = {&word_fits, &word_watch, &word_near,
                                                        &word_too_much};
  ew_check_warn(check, "octane",
                ew_message(v->grade == EW_FUEL_TOO_MUCH ? &fuel_over : &fuel_edge,
                           ew_say_word("grade", words[v->grade]),
                           ew_say_figure("effective", c->effective_ratio, 2),
                           ew_say_figure("static", c->compression_ratio, 2),
                           ew_say_figure("octane", c->octane, 0), ew_say_rpm("speed", c->speed_rpm),
                           ew_say_figure("integral", v->integral, 2),
                           ew_say_figure("easy", v->octane_needed, 0)));
  if (c->air_cooled)
    ew_check_warn(check, "octane", ew_message_plain(&fuel_air_cooled));
}

static void add_fuel_check(struct ew_engine_check *check, double effective) {
  const struct ew_engine *e = check->engine;
  const struct ew_figure *ratios = ew_engine_check_find(check, "compression_ratio");
  struct ew_fuel_case c = {ratios ? ew_quantile(ratios->values, ratios->count, 1, EW_NONE_ABSENT)
                                  : NAN,
                           effective,
                           e->stroke_m / 2,
                           e->geometry.rod_length_m,
                           e->octane,
                           e->breathing.air_pressure_pa,
                           e->breathing.air_temperature_k,
                           e->breathing.volumetric_efficiency,
                           low_full_load_speed(e),
                           heat_of_charge(e),
                           e->cooling == 1};
  if (!ew_check_need(check, c.octane + c.heat_j_m3 + effective, &needs_octane)) {
    ew_check_advice(check, NULL);
    return;
  }
  check->fuel = ew_fuel_check(&c);
  check->has_fuel_verdict = TRUE;
  ew_check_add(check,
               EW_FIGURE("knock_integral", SECTION, "knock integral, for ranking only", NUMBER,
                         RULE_OF_THUMB, EW_TEXT("fuel check")),
               check->fuel.integral);
  warn_fuel(check, &c);
  ew_check_advice(check, &c);
}

void ew_check_compression(struct ew_engine_check *check) {
  add_static(check);
  add_answer(check);
  add_ways(check);
  double effective = worst_effective(check);
  if (!isnan(effective))
    add_cranking(check, effective);
  add_fuel_check(check, effective);
}
