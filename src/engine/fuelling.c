/* The formulas of fuelling.h, one function each; NaN where an input is missing. */
#include "engine/fuelling.h"
#include "engine/breathing.h"
#include "gas/fuel.h"
#include <math.h>

#define WATER_J_KG_K 4186.0
#define AIR_J_KG_K   1006.0

double ew_engine_stoichiometric_ratio(const struct ew_engine *engine) {
  const struct ew_fuel *fuel = ew_fuel_find(engine->fuel);
  if (!isnan(engine->stoichiometric_ratio))
    return engine->stoichiometric_ratio;
  return fuel ? fuel->stoichiometric_ratio : NAN;
}

static double fuel_density_kg_m3(const struct ew_engine *engine) {
  const struct ew_fuel *fuel = ew_fuel_find(engine->fuel);
  if (!isnan(engine->fuel_system.density_kg_m3))
    return engine->fuel_system.density_kg_m3;
  return fuel ? fuel->density_kg_m3 : NAN;
}

double ew_engine_heating_value_j_kg(const struct ew_engine *engine) {
  const struct ew_fuel *fuel = ew_fuel_find(engine->fuel);
  return fuel ? fuel->lower_heating_value_j_kg : NAN;
}

double ew_fuel_flow_kg_s(const struct ew_engine *engine) {
  double by_power = engine->breathing.expected_power_w * engine->fuel_system.specific_fuel_kg_j;
  if (!isnan(by_power))
    return by_power;
  return ew_air_flow_kg_s(engine, engine->breathing.power_speed_rpm) /
         (engine->lambda_target * ew_engine_stoichiometric_ratio(engine));
}

/* Flow grows with the root of the pressure across the injector. */
static double pressure_gain(const struct ew_engine_fuel_system *f) {
  return isnan(f->fuel_pressure_pa) ? 1 : sqrt(f->fuel_pressure_pa / f->injector_pressure_pa);
}

double ew_injector_needed_m3_s(const struct ew_engine *engine, double fuel_kg_s) {
  const struct ew_engine_fuel_system *f = &engine->fuel_system;
  if (f->injectors == 0)
    return NAN;
  return fuel_kg_s / fuel_density_kg_m3(engine) / (f->injectors * f->duty_limit) / pressure_gain(f);
}

double ew_injector_duty(const struct ew_engine *engine, double fuel_kg_s) {
  const struct ew_engine_fuel_system *f = &engine->fuel_system;
  if (f->injectors == 0)
    return NAN;
  return fuel_kg_s / fuel_density_kg_m3(engine) /
         (f->injectors * f->injector_flow_m3_s * pressure_gain(f));
}

double ew_pump_needed_m3_s(const struct ew_engine *engine, double fuel_kg_s) {
  return fuel_kg_s / fuel_density_kg_m3(engine) * (1 + engine->fuel_system.pump_reserve);
}

double ew_jet_diameter_m(double jet_m, double lambda_now, double lambda_wanted) {
  return jet_m * sqrt(lambda_now / lambda_wanted);
}

double ew_absorber_water_kg_s(double power_w, double rise_k) {
  return power_w / (WATER_J_KG_K * rise_k);
}

double ew_cell_air_m3_s(double heat_w, double density_kg_m3, double rise_k) {
  return heat_w / (density_kg_m3 * AIR_J_KG_K * rise_k);
}
