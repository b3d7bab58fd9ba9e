/* Fuelling and the stand. Sources: 500 hp at 0.50 lb/hp-hr through 8 injectors at 85 %: 36.765 lb/h,
 * 373.07 cm3/min at 0.745 kg/l; 152.21 l/h at the pump; 30 lb/h at 43.5 psi is 34.641 at 58; 300 kW
 * and 30 K: 2.38892 kg/s of water; 20 kW, 10 K, 1.2 kg/m3: 1.65673 m3/s of air (all exact
 * arithmetic from definitions, computed independently). */
#include "near.h"
#include "engine/fuelling.h"

static void injectors_and_pump(void **state) {
  (void)state;
  struct ew_engine e = engine_of(
      "cylinders: 8\nfuel: petrol\nbreathing:\n  expected_power: 500 hp\nfuel_system:\n"
      "  specific_fuel: 0.50 lb/hp-hr\n  density: 745 kg/m3\n  injectors: 8\n  duty_limit: 85 %\n"
      "  injector_flow: 373.07 ml/min\n  pump_reserve: 0\n");
  double flow = ew_fuel_flow_kg_s(&e);
  assert_relative(flow * 3600 / 0.45359237, 250, 1e-6);
  assert_relative(ew_injector_needed_m3_s(&e, flow) * 6e7, 373.07, 2e-5);
  assert_relative(ew_injector_duty(&e, flow), 0.85, 2e-5);
  assert_relative(ew_pump_needed_m3_s(&e, flow) * 3.6e6, 152.21, 2e-5);
  e.fuel_system.injector_pressure_pa = 43.5;
  e.fuel_system.fuel_pressure_pa = 58;
  assert_relative(ew_injector_needed_m3_s(&e, flow) * 6e7, 373.07 * 30 / 34.641, 3e-5);
  e.fuel_system.injectors = 0;
  assert_true(isnan(ew_injector_duty(&e, flow)));
  ew_engine_clear(&e);
}

/* Without consumption, fuel follows air; E85's and methanol's ratios come from their names. */
static void fuel_from_air(void **state) {
  (void)state;
  struct ew_engine e =
      engine_of("cylinders: 4\ndisplacement: 2 L\nfuel: methanol\nlambda_target: 0.85\nbreathing:\n"
                "  volumetric_efficiency: 1\n  air_pressure: 101325 Pa\n  power_speed: 6000 rpm\n");
  assert_relative(ew_fuel_flow_kg_s(&e), 0.118390 / (0.85 * 6.472), 1e-4);
  e.stoichiometric_ratio = 14.7;
  assert_relative(ew_fuel_flow_kg_s(&e), 0.118390 / (0.85 * 14.7), 1e-4);
  ew_engine_clear(&e);
}

/* Lambda goes with air over fuel, fuel with the jet's area. */
static void jets(void **state) {
  (void)state;
  double jet = ew_jet_diameter_m(1.50e-3, 0.92, 0.88);
  assert_relative(0.92 * (1.50e-3 * 1.50e-3) / (jet * jet), 0.88, 1e-12);
  assert_true(jet > 1.50e-3);
}

static void stand(void **state) {
  (void)state;
  assert_relative(ew_absorber_water_kg_s(300e3, 30), 2.38892, 3e-6);
  assert_relative(ew_cell_air_m3_s(20e3, 1.2, 10), 1.65673, 3e-6);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(injectors_and_pump),
                                     cmocka_unit_test(fuel_from_air), cmocka_unit_test(jets),
                                     cmocka_unit_test(stand)};
  return cmocka_run_group_tests_name("fuelling", tests, NULL, NULL);
}
