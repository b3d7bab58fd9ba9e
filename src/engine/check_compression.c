/* Compression, quench, and whether the fuel stands it. */
#include "engine/balance.h"
#include "engine/breathing.h"
#include "engine/check_parts.h"
#include "engine/compression.h"
#include "engine/fuelling.h"
#include "base/statistics.h"
#include <math.h>

#define SECTION      "Compression"
#define CHAMBER_SPAN 0.5e-6 /* m3: chambers further from their median are worth a grinder */
#define HEAT_KEPT    0.8    /* of the fuel's heat, the rest goes to the walls */

static void warn_chambers(struct ew_engine_check *check, const double *ratio, double median) {
  const GArray *chambers = check->engine->compression.chambers;
  if (!chambers || chambers->len < 3)
    return;
  double middle = ew_median((const double *)(void *)chambers->data, chambers->len, EW_NONE_ABSENT);
  for (guint i = 0; i < chambers->len; i++) {
    double off = g_array_index(chambers, double, i) - middle;
    if (fabs(off) > CHAMBER_SPAN)
      ew_check_warn(
          check, EW_CAUTION, "compression.chambers",
          "cylinder %u: chamber %.1f cc is %.1f cc %s than the others' %.1f: ratio %.2f "
          "against %.2f. Measure it again; then bring the chambers together within 0.5 cc "
          "(common practice, no source)",
          i + 1, (middle + off) * 1e6, fabs(off) * 1e6, off > 0 ? "larger" : "smaller",
          middle * 1e6, ratio[i], median);
  }
}

static void warn_quench(struct ew_engine_check *check, double quench) {
  if (quench < EW_QUENCH_LOW_M)
    ew_check_warn(
        check, EW_DANGER, "compression.gasket_thickness",
        "%.2f mm between piston and head: steel rods want about 0.9 mm or more, aluminium "
        "ones 1.3, or the piston touches at speed (common practice, no source). Measure "
        "with soft wire before the engine runs",
        quench * 1e3);
  else if (quench > EW_QUENCH_HIGH_M)
    ew_check_warn(check, EW_NOTE, "compression.gasket_thickness",
                  "%.2f mm between piston and head does little to stir the charge; 0.9 to 1.15 mm "
                  "is usual with steel rods (common practice, no source)",
                  quench * 1e3);
}

static void add_static(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  double ratio[EW_CYLINDERS_MAX], volume[EW_CYLINDERS_MAX];
  gsize count = (gsize)e->cylinders;
  for (guint i = 0; i < count; i++) {
    ratio[i] = ew_compression_ratio(e, i);
    volume[i] = ew_clearance_volume_m3(e, i);
  }
  if (!ew_check_need(check, ratio[0], "compression",
                     "bore, stroke, chamber(s), gasket_bore, gasket_thickness; or ratio"))
    return;
  ew_check_add_list(
      check,
      EW_FIGURE("compression_ratio", SECTION, "compression ratio", NUMBER, EXACT, "compression"),
      ratio, count);
  ew_check_add_list(
      check, EW_FIGURE("clearance_volume", SECTION, "volume at TDC", VOLUME, EXACT, "compression"),
      volume, count);
  double low = ew_quantile(ratio, count, 0, EW_NONE_ABSENT),
         high = ew_quantile(ratio, count, 1, EW_NONE_ABSENT);
  ew_check_add(check,
               EW_FIGURE("compression_ratio_spread", SECTION, "spread, highest less lowest", NUMBER,
                         EXACT, "compression"),
               high - low);
  double median = ew_median(ratio, count, EW_NONE_ABSENT);
  warn_chambers(check, ratio, median);
  double quench = ew_quench_m(e);
  ew_check_add(check,
               EW_FIGURE("quench", SECTION, "quench (squish) gap", LENGTH, EXACT, "compression"),
               quench);
  warn_quench(check, quench);
  double stated = e->compression.ratio_stated;
  if (e->compression.chambers || !isnan(e->compression.chamber_m3))
    if (fabs(stated - median) > 0.2)
      ew_check_warn(check, EW_CAUTION, "compression.ratio",
                    "the stated ratio %.2f contradicts the volumes, which give %.2f; the volumes "
                    "are used",
                    stated, median);
}

static void add_answer(struct ew_engine_check *check) {
  struct ew_compression_answer answer = ew_compression_answer_of(check->engine);
  ew_check_add(check,
               EW_FIGURE("ratio_for_gasket_0_25_mm_thinner", SECTION, "0.25 mm thinner gasket adds",
                         NUMBER, EXACT, "compression"),
               answer.gasket_thinner);
  ew_check_add(check,
               EW_FIGURE("ratio_for_piston_0_25_mm_higher", SECTION, "0.25 mm off the deck adds",
                         NUMBER, EXACT, "compression"),
               answer.deck_higher);
  ew_check_add(check,
               EW_FIGURE("ratio_for_chamber_1_cc_smaller", SECTION, "1 cc off the chamber adds",
                         NUMBER, EXACT, "compression"),
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
                         "to the wanted ratio: chamber or dish by", VOLUME, EXACT, "compression"),
               ways.change_m3);
  ew_check_add(check,
               EW_FIGURE("wanted_ratio_gasket_change", SECTION, "  or gasket by", LENGTH, EXACT,
                         "compression"),
               ways.gasket_m);
  ew_check_add(check,
               EW_FIGURE("wanted_ratio_gasket_quench", SECTION, "    which leaves a quench of",
                         LENGTH, EXACT, "compression"),
               ways.gasket_quench_m);
  ew_check_add(check,
               EW_FIGURE("wanted_ratio_deck_change", SECTION, "  or deck clearance by", LENGTH,
                         EXACT, "compression"),
               ways.deck_m);
  ew_check_add(check,
               EW_FIGURE("wanted_ratio_deck_quench", SECTION, "    which leaves a quench of",
                         LENGTH, EXACT, "compression"),
               ways.deck_quench_m);
  if (ways.gasket_quench_m < EW_QUENCH_LOW_M && ways.deck_quench_m < EW_QUENCH_LOW_M)
    ew_check_warn(check, EW_NOTE, "compression.wanted_ratio",
                  "gasket or deck alone would leave less than 0.8 mm of quench on the way to %.2f: "
                  "take it from the chamber or the piston's crown",
                  wanted);
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
  if (!ew_check_need(
          check, ratio[0], "effective compression and cranking pressure",
          "rod_length, the inlet's duration, lobe_separation or centrelines, and volumes"))
    return NAN;
  ew_check_add_list(check,
                    EW_FIGURE("effective_compression_ratio", SECTION,
                              "effective ratio from inlet closing", NUMBER, EXACT,
                              "effective compression"),
                    ratio, count);
  ew_check_add(check,
               EW_FIGURE("effective_closing", SECTION, "  closing after BDC", ANGLE, EXACT,
                         "effective compression"),
               closes);
  ew_check_add(check,
               EW_FIGURE("effective_closing_lift", SECTION, "  at a lobe lift of", LENGTH, EXACT,
                         "effective compression"),
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
                         ESTIMATE, "cranking pressure"),
               ew_cranking_pressure_pa(air, effective, EW_CRANKING_EXPONENT));
  ew_check_add_list(check,
                    EW_FIGURE("cranking_pressure_range", SECTION, "  between", PRESSURE_GAUGE,
                              ESTIMATE, "cranking pressure"),
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
  ew_check_warn(check, v->grade == EW_FUEL_TOO_MUCH ? EW_CAUTION : EW_NOTE, "octane",
                "fuel check: %s. Effective ratio %.2f (static %.2f) with octane %.0f at %.0f rpm: "
                "knock integral %.2f, where 1 is the edge; about octane %.0f would be easy. %s"
                "Later inlet closing, less compression, cooler air or later spark help. This ranks "
                "combinations only: take the first pulls with late spark and listen",
                ew_fuel_grade_name(v->grade), c->effective_ratio, c->compression_ratio, c->octane,
                c->speed_rpm, v->integral, v->octane_needed,
                c->air_cooled ? "Air-cooled chambers run hotter. " : "");
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
  if (!ew_check_need(check, c.octane + c.heat_j_m3 + effective, "fuel check",
                     "octane, a fuel with a known heating value, and effective compression"))
    return;
  check->fuel = ew_fuel_check(&c);
  check->has_fuel_verdict = TRUE;
  ew_check_add(check,
               EW_FIGURE("knock_integral", SECTION, "knock integral, for ranking only", NUMBER,
                         RULE_OF_THUMB, "fuel check"),
               check->fuel.integral);
  warn_fuel(check, &c);
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
