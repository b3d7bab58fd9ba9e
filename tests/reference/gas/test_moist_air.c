/* Saturation pressure, dew point, wet bulb. Sources: IAPWS SR1-86(1992) and R7-97 (steam tables);
 * ASHRAE Handbook, Fundamentals, chapter 1, for the wet bulb. Where a source's own printed value is
 * used it is named and was typed from memory; the others were computed from the named equation
 * outside this program. */
#include "../near.h"
#include "gas/moist_air.h"

#define HPA 100.0

struct row {
  double celsius, wagner_pruss_hpa, if97_hpa, hyland_wexler_hpa; /* computed */
};

static const struct row table[] = {
    {0.01, 6.1166, 6.1166, NAN},        {5, 8.7253, 8.7257, 8.7249},
    {10, 12.2811, 12.2818, 12.2800},    {15, 17.0568, 17.0574, 17.0545},
    {20, 23.3919, 23.3921, 23.3880},    {25, 31.6982, 31.6975, 31.6922},
    {30, 42.4692, 42.4669, 42.4603},    {40, 73.8511, 73.8443, 73.8346},
    {50, 123.5248, 123.5127, 123.4986}, {100, 1014.1799, 1014.1798, 1014.1872},
};

/* The program's own equation to the last printed digit; the two others within what they differ. */
static void saturation_table(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(table); i++) {
    double got = ew_saturation_pressure_pa(273.15 + table[i].celsius) / HPA;
    assert_near(got, table[i].wagner_pruss_hpa, 0.51e-4);
    assert_relative(got, table[i].if97_hpa, 1.1e-4);
    if (!isnan(table[i].hyland_wexler_hpa))
      assert_relative(got, table[i].hyland_wexler_hpa, 2.3e-4);
  }
}

/* Printed in the releases themselves (from memory; the first and the last three agree with a
 * computation from the equation of the release). */
static void published_by_iapws(void **state) {
  (void)state;
  assert_near(ew_saturation_pressure_pa(273.16), 611.657, 1e-3);       /* SR1-86, triple point */
  assert_relative(ew_saturation_pressure_pa(373.1243), 101325, 2e-6);  /* SR1-86 */
  assert_relative(ew_saturation_pressure_pa(647.096), 22.064e6, 1e-9); /* critical point */
  /* R7-97, table 35, another equation for the same line: within 0.02 % */
  assert_relative(ew_saturation_pressure_pa(300), 0.353658941e4, 2e-4);
  assert_relative(ew_saturation_pressure_pa(500), 0.263889776e7, 2e-4);
  assert_relative(ew_saturation_pressure_pa(600), 0.123443146e8, 2e-4);
}

/* Over supercooled water, as the header states: Smithsonian Meteorological Tables (from memory) give
 * 2.8627 hPa at -10 and 1.2540 hPa at -20 C; over ice it would be 2.597 and 1.032. */
static void supercooled(void **state) {
  (void)state;
  assert_relative(ew_saturation_pressure_pa(263.15) / HPA, 2.8627, 2e-3);
  assert_relative(ew_saturation_pressure_pa(253.15) / HPA, 1.2540, 3e-3);
}

static void dew_point(void **state) {
  (void)state;
  double vapour = ew_vapour_from_relative_humidity_pa(0.5, 298.15);
  assert_near(vapour / HPA, 15.8491, 0.51e-4);                         /* computed */
  assert_near(ew_dew_point_k(vapour) - 273.15, 13.8650, 0.51e-4);      /* computed */
  assert_near(ew_humidity_ratio(101325, vapour), 0.0098830, 0.6e-7);   /* computed */
  assert_near(7000 * ew_humidity_ratio(101325, vapour), 69.181, 1e-3); /* grains a pound */
  for (double t = 253.15; t < 333; t += 2.5) {
    assert_near(ew_dew_point_k(ew_saturation_pressure_pa(t)), t, 1e-9);
    assert_relative(ew_vapour_from_dew_point_pa(t), ew_saturation_pressure_pa(t), 1e-15);
  }
}

/* ASHRAE's thermodynamic wet bulb (equation from memory), computed with Hyland and Wexler's
 * saturation: the two saturation equations differ by 0.02 %. The handbook's psychrometer forms, which
 * ask another question, lie up to 1.8 % lower and are not used. */
static void wet_bulb(void **state) {
  (void)state;
  double vapour = ew_vapour_from_wet_bulb_pa(101325, 298.15, 291.15);
  assert_relative(vapour / HPA, 16.0618, 4e-4);
  assert_relative(ew_humidity_ratio(101325, vapour), 0.0100177, 4e-4);
  assert_near(vapour / ew_saturation_pressure_pa(298.15), 0.50681, 2e-4);
  vapour = ew_vapour_from_wet_bulb_pa(101325, 303.15, 293.15);
  assert_relative(vapour / HPA, 16.8486, 4e-4);
  assert_relative(ew_humidity_ratio(101325, vapour), 0.0105167, 4e-4);
  assert_near(vapour / ew_saturation_pressure_pa(303.15), 0.39681, 2e-4);
  for (double t = 274.15; t < 320; t += 5) /* no depression: saturated */
    assert_relative(ew_vapour_from_wet_bulb_pa(98000, t, t), ew_saturation_pressure_pa(t), 1e-13);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(saturation_table), cmocka_unit_test(published_by_iapws),
      cmocka_unit_test(supercooled), cmocka_unit_test(dew_point), cmocka_unit_test(wet_bulb)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
