/* Valve areas and flow coefficients. Sources: Heywood's three stages (from memory) with values from
 * independent arithmetic; isentropic flow: 28 inH2O gives 140.53 cfm/in2 at 60 F and 141.61 at 68 F,
 * dry, 101325 Pa; the trade's 146 cfm/in2 is the incompressible figure at 60 F, 1/0.96242 higher;
 * 250 cfm at 28 inH2O through 2.02 in at 0.500 in: 0.53960 on that incompressible base. */
#include "near.h"
#include "engine/valve_area.h"

#define CFM  4.719474432e-4
#define IN2  6.4516e-4
#define IN28 6974.489

static void areas(void **state) {
  (void)state;
  assert_near(ew_curtain_area_m2(50.6e-3, 12.7e-3) * 1e6, 2018.851, 1e-3);
  struct ew_engine e = engine_of("inlet:\n  head_diameter: 40 mm\n  seat_width: 2 mm\n");
  assert_near(ew_valve_minimum_area_m2(&e.inlet, 2e-3) * 1e6, 164.3867, 1e-4);
  assert_near(ew_valve_minimum_area_m2(&e.inlet, 3.9999999e-3) * 1e6, 337.6591, 1e-4);
  assert_near(ew_valve_minimum_area_m2(&e.inlet, 4.0000001e-3) * 1e6, 337.6591, 1e-4);
  assert_near(ew_valve_minimum_area_m2(&e.inlet, 8e-3) * 1e6, 755.0287, 1e-4);
  e.inlet.throat_diameter_m = 36e-3;
  e.inlet.stem_diameter_m = 8e-3;
  assert_near(ew_throat_area_m2(&e.inlet) * 1e6, 967.6105, 1e-4);
  assert_near(ew_valve_minimum_area_m2(&e.inlet, 9.8546e-3) * 1e6, 967.6105, 1e-2);
  assert_near(ew_valve_minimum_area_m2(&e.inlet, 14e-3) * 1e6, 967.6105, 1e-4);
  ew_engine_clear(&e);
}

static void ideal_flow(void **state) {
  (void)state;
  double cold = ew_ideal_flow_m_s(101325, 288.70556, 101325 - IN28) * IN2 / CFM;
  double warm = ew_ideal_flow_m_s(101325, 293.15, 101325 - IN28) * IN2 / CFM;
  assert_near(cold, 140.53, 0.01);
  assert_near(warm, 141.61, 0.01);
  double incompressible = sqrt(2 * IN28 / (101325 / (287.05287 * 288.70556))) * IN2 / CFM;
  assert_near(incompressible, 146.01, 0.01);
  assert_near(cold / incompressible, 0.96242, 2e-5);
  /* choked: no more flow for less pressure behind (p* / p0 = 0.528282) */
  assert_near(ew_ideal_flow_m_s(1e5, 300, 5.2e4), ew_ideal_flow_m_s(1e5, 300, 2e4), 1e-9);
  assert_near(ew_ideal_flow_m_s(1e5, 300, 1e5), 0, 1e-9);
  /* 1e-4 m2, 100 to 90 kPa, 300 K, R 287: 0.01440152 kg/s, handbook value */
  assert_near(ew_ideal_flow_m_s(1e5, 300, 9e4) * 1e-4 * 1e5 / (287.05287 * 300), 0.01440152, 5e-6);
}

static void coefficients(void **state) {
  (void)state;
  struct ew_engine e = engine_of(
      "inlet:\n  head_diameter: 2.02 in\n  flow_lifts: [0.25 in, 0.500 in]\n"
      "  flows: [150 cfm, 250 cfm]\n  flow_depression: 28 inH2O\n  flow_temperature: 60 degF\n");
  struct ew_flow_coefficients c = ew_flow_coefficients_at(&e.inlet, 1);
  assert_near(c.on_curtain, 0.53960 / 0.96242, 2e-5);
  assert_near(c.on_head, c.on_curtain * 4 * 0.5 / 2.02, 1e-9);
  double half = ew_effective_area_m2(&e.inlet, 0.125 * 0.0254);
  assert_relative(half, ew_effective_area_m2(&e.inlet, 0.25 * 0.0254) / 2, 1e-9);
  assert_relative(ew_effective_area_m2(&e.inlet, 0.6 * 0.0254),
                  ew_effective_area_m2(&e.inlet, 0.5 * 0.0254), 1e-12);
  ew_engine_clear(&e);
}

/* A coefficient belongs to the valve, not to the bench: flow goes with the root of depression. */
static void coefficients_do_not_depend_on_the_bench(void **state) {
  (void)state;
  struct ew_engine e = engine_of("inlet:\n  head_diameter: 2.02 in\n  flow_lifts: [0.5 in]\n"
                                 "  flows: [250 cfm]\n  flow_depression: 28 inH2O\n");
  double at_28 = ew_flow_coefficients_at(&e.inlet, 0).on_curtain;
  g_array_index(e.inlet.flows, double, 0) /= 1.67332; /* sqrt(28/10) */
  e.inlet.flow_depression_pa = 2490.889;
  assert_relative(ew_flow_coefficients_at(&e.inlet, 0).on_curtain, at_28, 0.03);
  ew_engine_clear(&e);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(areas), cmocka_unit_test(ideal_flow),
                                     cmocka_unit_test(coefficients),
                                     cmocka_unit_test(coefficients_do_not_depend_on_the_bench)};
  return cmocka_run_group_tests_name("valve areas", tests, NULL, NULL);
}
