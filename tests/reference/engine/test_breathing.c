/* Breathing. Sources: 350 in3 at 6000 rpm breathe 607.639 cfm at VE 1 (exact: in3 rpm / 3456);
 * 2.0 l at 6000 rpm, VE 1, dry 101325 Pa, 25 C: 0.118390 kg/s; Taylor's Z: 0.50078 for b 86, D 46 mm,
 * s 17.2, C_i 0.35, c 343; quarter wave of 0.35 m, radius 22 mm, c 343.2: 236.043 Hz (Levine and
 * Schwinger's end); Engelman's form: 5912.97 rpm; air's sound speed 343.2 m/s at 20 C. */
#include "near.h"
#include "engine/breathing.h"
#include "engine/valve_area.h"

static void air_demand(void **state) {
  (void)state;
  struct ew_engine e =
      engine_of("cylinders: 4\ndisplacement: 2 L\nbreathing:\n  volumetric_efficiency: 100 %\n"
                "  air_pressure: 101325 Pa\n  air_temperature: 25 degC\n");
  assert_relative(ew_air_flow_kg_s(&e, 6000), 0.118390, 2e-5);
  ew_engine_clear(&e);
  struct ew_engine v = engine_of("cylinders: 8\ndisplacement: 350 in3\nbreathing:\n"
                                 "  volumetric_efficiency: 1\n");
  assert_relative(ew_air_flow_kg_s(&v, 6000) / ew_inlet_density_kg_m3(&v) / 4.719474432e-4, 607.639,
                  2e-6);
  assert_near(ew_flow_at_depression_m3_s(1, 5079.58, 2 * 5079.58), M_SQRT2, 1e-12);
  ew_engine_clear(&v);
}

static void mach_index(void **state) {
  (void)state;
  struct ew_engine e = engine_of("bore: 86 mm\nstroke: 86 mm\ninlet:\n  head_diameter: 46 mm\n"
                                 "breathing:\n  air_temperature: 20 degC\n");
  double c = ew_sound_speed_m_s(293.15, 1.4);
  assert_near(c, 343.2, 0.05);
  assert_near(ew_inlet_mach_index(&e, 0.35, 6000) * c / 343, 0.50078, 1e-5);
  e.inlet.head_diameter_m = 33e-3;
  e.inlet.count = 2;
  assert_near(ew_inlet_mach_index(&e, 0.35, 6000) * c / 343, 0.48653, 1e-5);
  ew_engine_clear(&e);
}

static void pipes(void **state) {
  (void)state;
  struct ew_engine e = engine_of("cylinders: 1\ndisplacement: 0.5 L\nbreathing:\n"
                                 "  runner_length: 350 mm\n  runner_diameter: 44 mm\n"
                                 "  air_temperature: 20 degC\n");
  double scale = 343.2 / ew_sound_speed_m_s(293.15, 1.4);
  assert_near(ew_runner_frequency_hz(&e) * scale, 236.043, 1e-3);
  assert_near(ew_inlet_tuned_speed_rpm(&e, 10.5) * scale, 5912.97, 1e-2);
  ew_engine_clear(&e);
}

/* Wave times: in the time of 12 L n / c degrees the wave goes to the collector and back. */
static void primary(void **state) {
  (void)state;
  struct ew_engine e = engine_of("breathing:\n  primary_length: 800 mm\n"
                                 "  exhaust_temperature: 700 degC\n");
  double c = sqrt(1.35 * 287 * 973.15);
  assert_near(c, 614.04, 0.01);
  assert_relative(ew_primary_return_deg(&e, 6000) / (6 * 6000), 2 * 0.8 / c, 1e-12);
  assert_near(ew_primary_tuned_speed_rpm(&e, 76), 850 * 256 / (0.8 / 0.0254 + 3), 1e-6);
  ew_engine_clear(&e);
}

/* A valve whose effective area grows straight with lift: the mean coefficient is the mean lift's. */
static void mean_coefficient(void **state) {
  (void)state;
  struct ew_engine e =
      engine_of("cam:\n  lobe_separation: 108 deg\n  inlet_centreline: 104 deg\n"
                "inlet:\n  head_diameter: 40 mm\n  lobe_lift: 10 mm\n  duration: 270 deg\n"
                "  check_duration: 236 deg\n  flow_lifts: [20 mm]\n  flows: [100 l/s]\n"
                "  flow_depression: 7 kPa\n");
  struct ew_valve_motion m;
  assert_true(ew_valve_motion_of(&e, EW_INLET, &m, NULL));
  double sum = 0;
  int open = 0;
  for (double a = -300; a < 300; a += 0.1)
    if (ew_valve_lift_m(&m, 104 + a) > 0) {
      sum += ew_valve_lift_m(&m, 104 + a);
      open++;
    }
  double full = ew_effective_area_m2(&e.inlet, 20e-3) / (G_PI / 4 * 1.6e-3);
  assert_relative(ew_mean_flow_coefficient(&e.inlet, &m), full * sum / open / 20e-3, 5e-3);
  ew_engine_clear(&e);
}

/* The throttle that is asked for has the wanted speed in it while its cylinder draws. */
static void throttle(void **state) {
  (void)state;
  struct ew_engine e = engine_of("cylinders: 6\nbore: 85.4 mm\nstroke: 86.8 mm\nbreathing:\n"
                                 "  throttles: 6\n  throttle_speed: 90 m/s\n"
                                 "  volumetric_efficiency: 100 %\n");
  double d = ew_throttle_diameter_m(&e, 240, 6000);
  double drawn = ew_engine_displacement_m3(&e) / 6, time = 240 / (6 * 6000.0);
  assert_relative(drawn / time / (G_PI / 4 * d * d), 90, 1e-9);
  ew_engine_clear(&e);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(air_demand), cmocka_unit_test(mach_index),       cmocka_unit_test(pipes),
      cmocka_unit_test(primary),    cmocka_unit_test(mean_coefficient), cmocka_unit_test(throttle)};
  return cmocka_run_group_tests_name("breathing", tests, NULL, NULL);
}
