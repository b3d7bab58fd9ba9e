/* Fuel check. Sources: Douaud and Eyzat's delay (SAE 780080, from memory): ON 95, 30 atm, 750 K:
 * 7.26135 ms; 95, 50, 850: 1.67881; 100, 40, 800: 3.86259; 87, 30, 750: 5.38327 (independent
 * arithmetic). The integral's step: half the step changes it by little. Directions: by thermodynamics. */
#include "near.h"
#include "engine/fuel_check.h"

static const struct ew_fuel_case usual = {10.5,   8.6,  0.0434, 0.1485,      95,   99000,
                                          298.15, 0.95, 3000,   0.8 * 3.4e6, FALSE};

static void delay(void **state) {
  (void)state;
  static const double rows[][4] = {{95, 30, 750, 7.26135},
                                   {95, 50, 850, 1.67881},
                                   {100, 40, 800, 3.86259},
                                   {87, 30, 750, 5.38327}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++)
    assert_near(ew_ignition_delay_of_octane_s(rows[i][0], rows[i][1] * 101325, rows[i][2]) * 1e3,
                rows[i][3], 6e-6);
}

static void directions(void **state) {
  (void)state;
  double here = ew_knock_integral(&usual, 95);
  struct ew_fuel_case c = usual;
  assert_true(ew_knock_integral(&c, 98) < here);
  c.compression_ratio = 11.5, c.effective_ratio = 9.4;
  assert_true(ew_knock_integral(&c, 95) > here);
  c = usual, c.effective_ratio = 7.8;
  assert_true_says(ew_knock_integral(&c, 95) > 0, "later closing");
  c = usual, c.speed_rpm = 6000;
  assert_true(ew_knock_integral(&c, 95) < here);
  c = usual, c.air_cooled = TRUE;
  assert_true(ew_knock_integral(&c, 95) > here);
  c = usual, c.volumetric_efficiency = 0.8;
  assert_true(ew_knock_integral(&c, 95) < here);
}

/* The octane that the verdict names has the integral it says. */
static void octane_needed(void **state) {
  (void)state;
  struct ew_fuel_verdict v = ew_fuel_check(&usual);
  assert_near(ew_knock_integral(&usual, v.octane_needed), 0.85, 1e-6);
}

static void grades_rise_with_compression(void **state) {
  (void)state;
  int last = -1;
  for (double r = 7; r <= 16; r += 0.25) {
    struct ew_fuel_case c = usual;
    c.compression_ratio = r;
    c.effective_ratio = 1 + 0.8 * (r - 1);
    int grade = (int)ew_fuel_check(&c).grade;
    assert_true(grade >= last);
    last = grade;
  }
  assert_int_equal(last, EW_FUEL_TOO_MUCH);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(delay), cmocka_unit_test(directions),
                                     cmocka_unit_test(octane_needed),
                                     cmocka_unit_test(grades_rise_with_compression)};
  return cmocka_run_group_tests_name("fuel check", tests, NULL, NULL);
}
