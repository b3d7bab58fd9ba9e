/* Air, fuel, pipes, and what the test stand must take. */
#include "engine/breathing.h"
#include "engine/check_parts.h"
#include "engine/compression.h"
#include "engine/fuelling.h"
#include "gas/fuel.h"
#include <math.h>

#define AIR   "Breathing"
#define FUEL  "Fuel"
#define STAND "Test stand"

static void add_air(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  double top = check->top_speed_rpm, speeds[12], flows[12];
  gsize count = 0;
  if (!ew_check_need(check, ew_air_flow_kg_s(e, top), "air demand", "size, and a limit of speed"))
    return;
  for (double speed = ceil(top / 12 / 500) * 500; speed <= top && count < 12;
       speed += ceil(top / 12 / 500) * 500) {
    speeds[count] = speed;
    flows[count++] = ew_air_flow_kg_s(e, speed);
  }
  ew_check_add(
      check, EW_FIGURE("air_flow_top", AIR, "air at top speed", MASS_FLOW, ESTIMATE, "air demand"),
      ew_air_flow_kg_s(e, top));
  ew_check_add_list(check,
                    EW_FIGURE("air_flow_speeds", AIR, "air demand, speeds", ROTATIONAL_SPEED,
                              ESTIMATE, "air demand"),
                    speeds, count);
  ew_check_add_list(
      check, EW_FIGURE("air_flow", AIR, "air demand by speed", MASS_FLOW, ESTIMATE, "air demand"),
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
    ew_check_need(check, NAN, "inlet Mach index", "inlet flow_lifts, flows and a lift curve");
    return;
  }
  double mean = ew_mean_flow_coefficient(&e->inlet, &check->motion[EW_INLET]);
  double index = ew_inlet_mach_index(e, mean, speed);
  if (!ew_check_need(check, index, "inlet Mach index", "bore, stroke, head_diameter, a speed"))
    return;
  ew_check_add(check,
               EW_FIGURE("inlet_mach_index", AIR, "inlet Mach index at power speed", NUMBER,
                         ESTIMATE, "Mach index"),
               index);
  if (index > 0.6)
    ew_check_warn(
        check, EW_NOTE, "inlet.head_diameter",
        "inlet Mach index %.2f at %.0f rpm: volumetric efficiency falls beyond 0.5 to 0.6 "
        "(after Taylor): larger or better flowing valves, longer duration, or less speed",
        index, speed);
}

static void add_throttle(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  const struct ew_engine_breathing *b = &e->breathing;
  double open = isnan(e->inlet.duration_deg) ? 240 : e->inlet.duration_deg;
  double least = ew_throttle_diameter_m(e, open, power_speed(check));
  ew_check_add(check,
               EW_FIGURE("throttle_diameter_needed", AIR, "throttle bore at least", LENGTH,
                         RULE_OF_THUMB, "throttle"),
               least);
  if (b->throttle_diameter_m < least)
    ew_check_warn(check, EW_NOTE, "breathing.throttle_diameter",
                  "throttle of %.1f mm: %.1f mm would keep the air at %.0f m/s",
                  b->throttle_diameter_m * 1e3, least * 1e3, b->throttle_speed_m_s);
  double demand = ew_air_flow_kg_s(e, power_speed(check)) / ew_inlet_density_kg_m3(e);
  double have = ew_flow_at_depression_m3_s(b->carburettor_flow_m3_s, b->carburettor_depression_pa,
                                           5079.58 /* 1.5 inHg */);
  ew_check_add(check,
               EW_FIGURE("air_volume_power_speed", AIR, "air at power speed", VOLUME_FLOW, ESTIMATE,
                         "air demand"),
               demand);
  if (have < demand)
    ew_check_warn(check, EW_NOTE, "breathing.carburettor_flow",
                  "carburettors flow %.0f l/s at 1.5 inHg, the engine asks for %.0f", have * 1e3,
                  demand * 1e3);
  if (b->throttles == 1 && e->cylinders > 1) {
    double displacement = ew_engine_displacement_m3(e);
    ew_check_add(
        check,
        EW_FIGURE("plenum_usual", AIR, "plenum, usual size", VOLUME, RULE_OF_THUMB, "throttle"),
        0.8 * displacement);
    if (b->plenum_m3 < 0.5 * displacement)
      ew_check_warn(check, EW_NOTE, "breathing.plenum",
                    "plenum of %.1f l is under half the displacement: pulses of neighbouring "
                    "cylinders rob each other (common practice, no source)",
                    b->plenum_m3 * 1e3);
  }
}

static void add_pipes(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  const struct ew_figure *ratio = ew_engine_check_find(check, "compression_ratio");
  double quarter = ew_runner_frequency_hz(e), orders[3];
  if (ratio)
    ew_check_add(check,
                 EW_FIGURE("inlet_tuned_speed", AIR, "inlet tract tuned for, about",
                           ROTATIONAL_SPEED, RULE_OF_THUMB, "tuned lengths"),
                 ew_inlet_tuned_speed_rpm(e, ratio->values[0]));
  for (int i = 0; i < 3; i++)
    orders[i] = 120 * quarter / (i + 3);
  ew_check_add_list(check,
                    EW_FIGURE("runner_wave_speeds", AIR, "3, 4, 5 waves a cycle at",
                              ROTATIONAL_SPEED, RULE_OF_THUMB, "tuned lengths"),
                    orders, 3);
  if (check->has_events[0])
    ew_check_add(check,
                 EW_FIGURE("primary_tuned_speed", AIR, "exhaust primary tuned for, about",
                           ROTATIONAL_SPEED, RULE_OF_THUMB, "tuned lengths"),
                 ew_primary_tuned_speed_rpm(e, check->events[0].exhaust_opens_bbdc_deg));
  ew_check_add(check,
               EW_FIGURE("primary_return", AIR, "  reflection after opening, power speed", ANGLE,
                         RULE_OF_THUMB, "tuned lengths"),
               ew_primary_return_deg(e, power_speed(check)));
}

static void warn_fuel_system(struct ew_engine_check *check, double duty, double pump_needed) {
  const struct ew_engine_fuel_system *f = &check->engine->fuel_system;
  if (duty > f->duty_limit)
    ew_check_warn(
        check, duty >= 1 ? EW_DANGER : EW_CAUTION, "fuel_system.injector_flow",
        "injectors would be open %.0f %% of the cycle, more than %.0f %%: the engine runs "
        "lean at full power. Larger injectors, or more pressure across them",
        duty * 100, f->duty_limit * 100);
  if (f->pump_flow_m3_s < pump_needed)
    ew_check_warn(check, EW_CAUTION, "fuel_system.pump_flow",
                  "the pump gives %.0f l/h, full power with reserve asks for %.0f: pressure falls "
                  "and the mixture leans at the top",
                  f->pump_flow_m3_s * 3.6e6, pump_needed * 3.6e6);
}

static void warn_fuel_name(struct ew_engine_check *check) {
  const char *fuel = check->engine->fuel;
  if (fuel && !ew_fuel_find(fuel))
    ew_check_warn(check, EW_CAUTION, "fuel",
                  "the program knows no fuel called '%s'; it knows %s. Give one of these, or "
                  "stoichiometric_ratio and fuel_system.density",
                  fuel, ew_fuel_names());
}

static void add_fuel(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  const struct ew_engine_fuel_system *f = &e->fuel_system;
  ew_check_add(check,
               EW_FIGURE("jet_diameter_wanted", FUEL, "jet for the wanted mixture", LENGTH,
                         ESTIMATE, "fuelling"),
               ew_jet_diameter_m(f->jet_diameter_m, f->jet_lambda_now, f->jet_lambda_wanted));
  double flow = ew_fuel_flow_kg_s(e);
  if (!ew_check_need(check, flow, "fuel flow, injectors and pump",
                     "expected_power with specific_fuel; or power_speed, lambda_target and fuel"))
    return;
  double duty = ew_injector_duty(e, flow), pump = ew_pump_needed_m3_s(e, flow);
  ew_check_add(
      check,
      EW_FIGURE("fuel_flow", FUEL, "fuel at expected power", MASS_FLOW, ESTIMATE, "fuelling"),
      flow);
  ew_check_add(
      check,
      EW_FIGURE("pump_needed", FUEL, "pump, with reserve", VOLUME_FLOW, ESTIMATE, "fuelling"),
      pump);
  ew_check_add(check,
               EW_FIGURE("injector_needed", FUEL, "injector, static flow", VOLUME_FLOW, ESTIMATE,
                         "fuelling"),
               ew_injector_needed_m3_s(e, flow));
  ew_check_add(check,
               EW_FIGURE("injector_duty", FUEL, "injectors open at expected power", RATIO, ESTIMATE,
                         "fuelling"),
               duty);
  warn_fuel_system(check, duty, pump);
}

static void warn_absorber(struct ew_engine_check *check, double torque, double power) {
  const struct ew_engine_torsion *t = &check->engine->torsion;
  double top = check->top_speed_rpm;
  if (torque > t->absorber_torque_n_m)
    ew_check_warn(check, EW_DANGER, "torsion.absorber_torque",
                  "expected torque %.0f N m is more than the absorber's limit of %.0f", torque,
                  t->absorber_torque_n_m);
  if (power > t->absorber_power_w)
    ew_check_warn(check, EW_DANGER, "torsion.absorber_power",
                  "expected power %.0f kW is more than the absorber's limit of %.0f", power / 1e3,
                  t->absorber_power_w / 1e3);
  if (top > t->absorber_speed_rpm)
    ew_check_warn(check, EW_DANGER, "torsion.absorber_speed",
                  "top speed %.0f rpm is more than the absorber's limit of %.0f", top,
                  t->absorber_speed_rpm);
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
                         "mean effective pressure"),
               at_power);
  ew_check_add(check,
               EW_FIGURE("bmep_at_power", STAND, "mean effective pressure there",
                         MEAN_EFFECTIVE_PRESSURE, EXACT, "mean effective pressure"),
               pressure);
  ew_check_add(check,
               EW_FIGURE("bmep_greatest", STAND, "mean effective pressure at best torque",
                         MEAN_EFFECTIVE_PRESSURE, EXACT, "mean effective pressure"),
               best);
  if (fmax(pressure, best) > 15e5 && b->volumetric_efficiency < 1.2)
    ew_check_warn(check, EW_CAUTION, "breathing.expected_power",
                  "%.1f bar of mean effective pressure is more than an engine without "
                  "supercharging gives: check power, torque, speeds and displacement",
                  fmax(pressure, best) / 1e5);
  double torque = fmax(at_power, b->expected_torque_n_m);
  warn_absorber(check, torque, b->expected_power_w);
}

static void add_stand(struct ew_engine_check *check) {
  const struct ew_engine *e = check->engine;
  const struct ew_engine_torsion *t = &e->torsion;
  double power = e->breathing.expected_power_w;
  double heat = ew_fuel_flow_kg_s(e) * ew_engine_heating_value_j_kg(e) * t->heat_to_air;
  ew_check_add(
      check,
      EW_FIGURE("absorber_water", STAND, "water for the absorber", MASS_FLOW, EXACT, "test stand"),
      ew_absorber_water_kg_s(power, t->water_rise_k));
  ew_check_add(check,
               EW_FIGURE("cell_air", STAND, "air through the cell", VOLUME_FLOW, RULE_OF_THUMB,
                         "test stand"),
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
