/* Tabulated values of the 2017 ASHRAE Handbook, Fundamentals, chapter 1, each with the tolerance that
 * a public psychrometric library uses for the same value (data/ashrae-values.csv; seen in its tests).
 *
 * Six rows below freezing are saturation over ice. This program states vapour over liquid water, as
 * the power standards' dry-bulb sensors and dew-point mirrors above freezing need; below freezing it is
 * supercooled water, which is 5 % (at -5 C) to 22 % (at -20 C) above ice. They are skipped, counted, and
 * used the other way round: our value must lie above them.
 *
 * The saturation humidity ratios of table 2 hold the enhancement factor of real moist air (about
 * 0.45 %), which power standards leave out: hence their wide tolerances in the source too. */
#include "../near.h"
#include "gas/moist_air.h"
#include "gas/standard_atmosphere.h"

static double within(const char *tolerance, double expected) {
  double size = g_ascii_strtod(tolerance + 4, NULL);
  assert_true_says(size > 0, tolerance);
  return g_str_has_prefix(tolerance, "rel ") ? size * fabs(expected) : size;
}

/* What this program says to a row; NaN when the row is unknown. */
static double answer(const char *quantity, const char *inputs) {
  double t = named(inputs, "T") + 273.15, p = named(inputs, "p"), wet = named(inputs, "Twet"),
         height = named(inputs, "altitude"), w = named(inputs, "W");
  double vapour = isnan(wet) ? NAN : ew_vapour_from_wet_bulb_pa(p, t, wet + 273.15);
  if (strcmp(quantity, "saturation vapour pressure") == 0)
    return ew_saturation_pressure_pa(t);
  if (strcmp(quantity, "saturation humidity ratio") == 0)
    return ew_humidity_ratio(p, ew_saturation_pressure_pa(t));
  if (strcmp(quantity, "standard atmosphere pressure") == 0)
    return ew_standard_pressure_pa(height);
  if (strcmp(quantity, "standard atmosphere temperature") == 0)
    return ew_standard_temperature_k(height) - 273.15;
  if (strcmp(quantity, "dry air specific volume") == 0)
    return 1 / ew_moist_air_density_kg_m3(p, t, 0);
  if (strcmp(quantity, "humidity ratio") == 0)
    return ew_humidity_ratio(p, vapour);
  if (strcmp(quantity, "dew point") == 0)
    return ew_dew_point_k(vapour) - 273.15;
  if (strcmp(quantity, "relative humidity") == 0)
    return vapour / ew_saturation_pressure_pa(t);
  if (strcmp(quantity, "moist air specific volume") == 0) /* of a kilogram of dry air */
    return (1 + ew_humidity_ratio(p, vapour)) / ew_moist_air_density_kg_m3(p, t, vapour);
  if (strcmp(quantity, "moist air density") == 0)
    return ew_moist_air_density_kg_m3(p, t, p * w / (0.621945 + w));
  return NAN;
}

static void tables(void **state) {
  (void)state;
  g_auto(GStrv) lines = data_lines("ashrae-values.csv");
  int checked = 0, ice = 0;
  for (int i = 1; lines[i]; i++) {
    g_auto(GStrv) cells = cells_of(lines[i]);
    double expected = g_ascii_strtod(cells[3], NULL), got = answer(cells[1], cells[2]);
    assert_true_says(!isnan(got), lines[i]);
    if (g_str_has_prefix(cells[1], "saturation") && named(cells[2], "T") < 0) {
      ice++;
      assert_true_says(got > 1.03 * expected, lines[i]);
      continue;
    }
    assert_near_says(got, expected, within(cells[5], expected), lines[i]);
    checked++;
  }
  assert_int_equal(ice, 6);
  assert_int_equal(checked, 27);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(tables)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
