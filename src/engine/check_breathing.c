/* Air, fuel, pipes, and what the test stand must take. */
#include "base/language.h"
#include "engine/breathing.h"
#include "engine/check_parts.h"
#include "engine/compression.h"
#include "engine/fuelling.h"
#include "gas/fuel.h"
#include <math.h>

#define AIR   EW_TEXT("Breathing")
#define FUEL  EW_TEXT("Fuel")
#define STAND EW_TEXT("Test stand")

EW_MESSAGE(
    mach_high, "engine.mach-high", EW_NOTE,
    "inlet Mach index {index} at {speed}: volumetric efficiency falls beyond 0.5 to 0.6 (after "
    "Taylor): larger or better-flowing valves, longer duration, or less speed");
EW_MESSAGE(throttle_small, "engine.throttle-small", EW_NOTE,
           "the throttle bore of {bore} is small: {needed} would keep the air at {air_speed}");
EW_MESSAGE(carburettors_small, "engine.carburettors-small", EW_NOTE,
           "the carburettors flow {have} at 1.5 inHg; the engine needs {need}");
EW_MESSAGE(
    plenum_small, "engine.plenum-small", EW_NOTE,
    "the plenum of {plenum} is under half the displacement: pulses of neighbouring cylinders rob "
    "each other (common practice, no source)");
EW_MESSAGE(
    injectors_over, "engine.injectors-over", EW_DANGER,
    "the injectors would have to be open for {duty} of the cycle, which cannot be: the engine "
    "runs lean at full power. Larger injectors, or more pressure across them");
EW_MESSAGE(
    injectors_near, "engine.injectors-near", EW_CAUTION,
    "the injectors would be open for {duty} of the cycle, more than {limit}: the engine runs lean "
    "at full power. Larger injectors, or more pressure across them");
EW_MESSAGE(
    pump_small, "engine.pump-small", EW_CAUTION,
    "the pump gives {have}; full power with reserve needs {need}: pressure falls, and the mixture "
    "leans out at the top");
EW_MESSAGE(fuel_unknown, "engine.fuel-unknown", EW_CAUTION,
           "'{fuel}' is not a fuel that the program knows ({known}): give one of these, or "
           "stoichiometric_ratio and fuel_system.density");
EW_MESSAGE(absorber_torque, "engine.absorber-torque", EW_DANGER,
           "the expected torque of {expected} is above the absorber's limit of {limit}");
EW_MESSAGE(absorber_power, "engine.absorber-power", EW_DANGER,
           "the expected power of {expected} is above the absorber's limit of {limit}");
EW_MESSAGE(absorber_speed, "engine.absorber-speed", EW_DANGER,
           "the top speed of {expected} is above the absorber's limit of {limit}");
EW_MESSAGE(
    bmep_high, "engine.bmep-high", EW_CAUTION,
    "{pressure} of mean effective pressure is more than an engine without supercharging gives: "
    "check power, torque, speeds and displacement");

EW_MESSAGE(needs_air, "engine.needs-air", EW_NOTE, "air demand: needs size and a speed limit");
EW_MESSAGE(needs_flow, "engine.needs-inlet-flow", EW_NOTE,
           "inlet Mach index: needs inlet flow_lifts, flows and a lift curve");
EW_MESSAGE(needs_head, "engine.needs-inlet-head", EW_NOTE,
           "inlet Mach index: needs bore, stroke, head_diameter and a speed");
EW_MESSAGE(needs_fuel, "engine.needs-fuel", EW_NOTE,
           "fuel flow, injectors and pump: need expected_power with specific_fuel; or power_speed, "
           "lambda_target and fuel");

static void add_air(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  double top = check->top_speed_rpm, speeds[12], flows[12];
  gsize count = 0;
  if (!ew_check_need(check, ew_air_flow_kg_s(e, top), &needs_air))
    return;
  for (double speed = ceil(top / 12 / 500) * 500; speed <= top && count < 12;
       speed += ceil(top / 12 / 500) * 500) {
    speeds[count] = speed;
    flows[count++] = ew_air_flow_kg_s(e, speed);
  }
  ew_check_add(check,
               EW_FIGURE("air_flow_top", AIR, "air at top speed", MASS_FLOW, ESTIMATE,
                         EW_TEXT("air demand")),
               ew_air_flow_kg_s(e, top));
  ew_check_add_list(check,
                    EW_FIGURE("air_flow_speeds", AIR, "air demand, speeds", ROTATIONAL_SPEED,
                              ESTIMATE, EW_TEXT("air demand")),
                    speeds, count);
  ew_check_add_list(
      check,
      EW_FIGURE("air_flow", AIR, "air demand by speed", MASS_FLOW, ESTIMATE, EW_TEXT("air demand")),
      flows, count);
}

static double power_speed(const struct ew_engine_check *check) {
  double speed = check->engine->breathing.power_speed_rpm;
  return isnan(speed) ? check->top_speed_rpm : speed;
}

static void add_mach(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  double speed = power_speed(check);
  if (!check->has_motion[EW_INLET] || !e->inlet.flows) {
    ew_check_need(check, NAN, &needs_flow);
    return;
  }
  double mean = ew_mean_flow_coefficient(&e->inlet, &check->motion[EW_INLET]);
  double index = ew_inlet_mach_index(e, mean, speed);
  if (!ew_check_need(check, index, &needs_head))
    return;
  ew_check_add(check,
               EW_FIGURE("inlet_mach_index", AIR, "inlet Mach index at power speed", NUMBER,
                         ESTIMATE, EW_TEXT("Mach index")),
               index);
  if (index > 0.6)
    ew_check_warn(
        check, "inlet.head_diameter",
        ew_message(&mach_high, ew_say_figure("index", index, 2), ew_say_rpm("speed", speed)));
}

static void add_throttle(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  const struct ew_engine_breathing *b = &e->breathing;
  double open = isnan(e->inlet.duration_deg) ? 240 : e->inlet.duration_deg;
  double least = ew_throttle_diameter_m(e, open, power_speed(check));
  ew_check_add(check,
               EW_FIGURE("throttle_diameter_needed", AIR, "throttle bore at least", LENGTH,
                         RULE_OF_THUMB, EW_TEXT("throttle")),
               least);
  if (b->throttle_diameter_m < least)
    ew_check_warn(
        check, "breathing.throttle_diameter",
        ew_message(&throttle_small,
                   ew_say_quantity("bore", EW_KIND_LENGTH, b->throttle_diameter_m, 1),
                   ew_say_quantity("needed", EW_KIND_LENGTH, least, 1),
                   ew_say_quantity("air_speed", EW_KIND_SPEED, b->throttle_speed_m_s, 0)));
  double demand = ew_air_flow_kg_s(e, power_speed(check)) / ew_inlet_density_kg_m3(e);
  double have = ew_flow_at_depression_m3_s(b->carburettor_flow_m3_s, b->carburettor_depression_pa,
                                           5079.58 /* 1.5 inHg */);
  ew_check_add(check,
               EW_FIGURE("air_volume_power_speed", AIR, "air at power speed", VOLUME_FLOW, ESTIMATE,
                         EW_TEXT("air demand")),
               demand);
  if (have < demand)
    ew_check_warn(check, "breathing.carburettor_flow",
                  ew_message(&carburettors_small,
                             ew_say_quantity("have", EW_KIND_VOLUME_FLOW, have, 0),
                             ew_say_quantity("need", EW_KIND_VOLUME_FLOW, demand, 0)));
  if (b->throttles == 1 && e->cylinders > 1) {
    double displacement = ew_engine_displacement_m3(e);
    ew_check_add(check,
                 EW_FIGURE("plenum_usual", AIR, "plenum, usual size", VOLUME, RULE_OF_THUMB,
                           EW_TEXT("throttle")),
                 0.8 * displacement);
    if (b->plenum_m3 < 0.5 * displacement)
      ew_check_warn(
          check, "breathing.plenum",
          ew_message(&plenum_small, ew_say_quantity("plenum", EW_KIND_VOLUME, b->plenum_m3, 0)));
  }
}

static void add_pipes(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  const struct ew_figure *ratio = ew_engine_check_find(check, "compression_ratio");
  double quarter = ew_runner_frequency_hz(e), orders[3];
  ew_message *doubt = ew_primary_doubt(e);
  if (doubt)
    ew_check_warn(check, "breathing.primary_length", doubt);
  if (ratio)
    ew_check_add(check,
                 EW_FIGURE("inlet_tuned_speed", AIR, "inlet tract tuned for, about",
                           ROTATIONAL_SPEED, RULE_OF_THUMB, EW_TEXT("tuned lengths")),
                 ew_inlet_tuned_speed_rpm(e, ratio->values[0]));
  for (int i = 0; i < 3; i++)
    orders[i] = 120 * quarter / (i + 3);
  ew_check_add_list(check,
                    EW_FIGURE("runner_wave_speeds", AIR, "3, 4, 5 waves a cycle at",
                              ROTATIONAL_SPEED, RULE_OF_THUMB, EW_TEXT("tuned lengths")),
                    orders, 3);
  if (check->has_events[0])
    ew_check_add(check,
                 EW_FIGURE("primary_tuned_speed", AIR, "exhaust primary tuned for, about",
                           ROTATIONAL_SPEED, RULE_OF_THUMB, EW_TEXT("tuned lengths")),
                 ew_primary_tuned_speed_rpm(e, check->events[0].exhaust_opens_bbdc_deg));
  ew_check_add(check,
               EW_FIGURE("primary_return", AIR, "  reflection after opening, power speed", ANGLE,
                         RULE_OF_THUMB, EW_TEXT("tuned lengths")),
               ew_primary_return_deg(e, power_speed(check)));
}

static void warn_fuel_system(struct ew_engine_check *check, double duty, double pump_needed) {
  const struct ew_engine_fuel_system *f = &check->engine->fuel_system;
  struct ew_argument share = ew_say_share("duty", duty, 0);
  if (duty > f->duty_limit)
    ew_check_warn(
        check, "fuel_system.injector_flow",
        duty >= 1 ? ew_message(&injectors_over, share)
                  : ew_message(&injectors_near, share, ew_say_share("limit", f->duty_limit, 0)));
  if (f->pump_flow_m3_s < pump_needed)
    ew_check_warn(check, "fuel_system.pump_flow",
                  ew_message(&pump_small,
                             ew_say_quantity("have", EW_KIND_VOLUME_FLOW, f->pump_flow_m3_s, 2),
                             ew_say_quantity("need", EW_KIND_VOLUME_FLOW, pump_needed, 2)));
}

static void warn_fuel_name(struct ew_engine_check *check) {
  const char *fuel = check->engine->fuel;
  if (fuel && !ew_fuel_find(fuel))
    ew_check_warn(check, "fuel",
                  ew_message(&fuel_unknown, ew_say_text("fuel", fuel),
                             ew_say_text("known", ew_fuel_names())));
}

static void add_fuel(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  const struct ew_engine_fuel_system *f = &e->fuel_system;
  ew_check_add(check,
               EW_FIGURE("jet_diameter_wanted", FUEL, "jet for the wanted mixture", LENGTH,
                         ESTIMATE, EW_TEXT("fuelling")),
               ew_jet_diameter_m(f->jet_diameter_m, f->jet_lambda_now, f->jet_lambda_wanted));
  double flow = ew_fuel_flow_kg_s(e);
  if (!ew_check_need(check, flow, &needs_fuel))
    return;
  double duty = ew_injector_duty(e, flow), pump = ew_pump_needed_m3_s(e, flow);
  ew_check_add(check,
               EW_FIGURE("fuel_flow", FUEL, "fuel at expected power", MASS_FLOW, ESTIMATE,
                         EW_TEXT("fuelling")),
               flow);
  ew_check_add(check,
               EW_FIGURE("pump_needed", FUEL, "pump, with reserve", VOLUME_FLOW, ESTIMATE,
                         EW_TEXT("fuelling")),
               pump);
  ew_check_add(check,
               EW_FIGURE("injector_needed", FUEL, "injector, static flow", VOLUME_FLOW, ESTIMATE,
                         EW_TEXT("fuelling")),
               ew_injector_needed_m3_s(e, flow));
  ew_check_add(check,
               EW_FIGURE("injector_duty", FUEL, "injectors open at expected power", RATIO, ESTIMATE,
                         EW_TEXT("fuelling")),
               duty);
  warn_fuel_system(check, duty, pump);
}

static void warn_absorber(struct ew_engine_check *check, double torque, double power) {
  const struct ew_engine_torsion *t = &check->engine->torsion;
  double top = check->top_speed_rpm;
  if (torque > t->absorber_torque_n_m)
    ew_check_warn(check, "torsion.absorber_torque",
                  ew_message(&absorber_torque,
                             ew_say_quantity("expected", EW_KIND_TORQUE, torque, 0),
                             ew_say_quantity("limit", EW_KIND_TORQUE, t->absorber_torque_n_m, 0)));
  if (power > t->absorber_power_w)
    ew_check_warn(check, "torsion.absorber_power",
                  ew_message(&absorber_power, ew_say_quantity("expected", EW_KIND_POWER, power, 0),
                             ew_say_quantity("limit", EW_KIND_POWER, t->absorber_power_w, 0)));
  if (top > t->absorber_speed_rpm)
    ew_check_warn(check, "torsion.absorber_speed",
                  ew_message(&absorber_speed, ew_say_rpm("expected", top),
                             ew_say_rpm("limit", t->absorber_speed_rpm)));
}

/* 4 pi T / V for a four-stroke: mean effective pressure that this torque means. */
static double bmep(const struct ew_engine *e, double torque_n_m) {
  return 2 * G_PI * torque_n_m / (ew_engine_displacement_m3(e) * ew_engine_cycles_per_turn(e));
}

static void add_expected(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  const struct ew_engine_breathing *b = &e->breathing;
  double at_power = b->expected_power_w / (b->power_speed_rpm * G_PI / 30);
  double pressure = bmep(e, at_power), best = bmep(e, b->expected_torque_n_m);
  ew_check_add(check,
               EW_FIGURE("torque_at_power", STAND, "torque at expected power", TORQUE, EXACT,
                         EW_TEXT("mean effective pressure")),
               at_power);
  ew_check_add(check,
               EW_FIGURE("bmep_at_power", STAND, "mean effective pressure there",
                         MEAN_EFFECTIVE_PRESSURE, EXACT, EW_TEXT("mean effective pressure")),
               pressure);
  ew_check_add(check,
               EW_FIGURE("bmep_greatest", STAND, "mean effective pressure at best torque",
                         MEAN_EFFECTIVE_PRESSURE, EXACT, EW_TEXT("mean effective pressure")),
               best);
  if (fmax(pressure, best) > 15e5 && b->volumetric_efficiency < 1.2)
    ew_check_warn(
        check, "breathing.expected_power",
        ew_message(&bmep_high, ew_say_quantity("pressure", EW_KIND_MEAN_EFFECTIVE_PRESSURE,
                                               fmax(pressure, best), 1)));
  double torque = fmax(at_power, b->expected_torque_n_m);
  warn_absorber(check, torque, b->expected_power_w);
}

static void add_stand(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  const struct ew_engine_torsion *t = &e->torsion;
  double power = e->breathing.expected_power_w;
  double heat = ew_fuel_flow_kg_s(e) * ew_engine_heating_value_j_kg(e) * t->heat_to_air;
  ew_check_add(check,
               EW_FIGURE("absorber_water", STAND, "water for the absorber", MASS_FLOW, EXACT,
                         EW_TEXT("test stand")),
               ew_absorber_water_kg_s(power, t->water_rise_k));
  ew_check_add(check,
               EW_FIGURE("cell_air", STAND, "air through the cell", VOLUME_FLOW, RULE_OF_THUMB,
                         EW_TEXT("test stand")),
               ew_cell_air_m3_s(heat, ew_inlet_density_kg_m3(e), t->air_rise_k));
}

void ew_check_breathing(struct ew_engine_check *check) {
  add_air(check);
  add_mach(check);
  add_throttle(check);
  add_pipes(check);
  warn_fuel_name(check);
  add_fuel(check);
  add_expected(check);
  add_stand(check);
}
