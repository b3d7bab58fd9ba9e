/* Humidity of 40 CFR part 1065.645, with its printed examples (data/examples.csv; US government text).
 * Its saturation line is the older one of Goff and Gratch, which lies 0.09 % under IAPWS at 10 to 20 C:
 * vapour pressures agree within 0.1 %; mole fractions made from the printed pressures in full. */
#include "../near.h"
#include "gas/moist_air.h"

static char **find(const char *section, const char *what) {
  g_auto(GStrv) lines = data_lines("examples.csv");
  for (int i = 1; lines[i]; i++) {
    char **cells = cells_of(lines[i]);
    if (g_str_has_prefix(cells[0], section) && g_str_has_prefix(cells[1], what))
      return cells;
    g_strfreev(cells);
  }
  assert_true_says(FALSE, what);
  return NULL;
}

static void vapour_pressure(void **state) {
  (void)state;
  g_auto(GStrv) dew = find("1065.645(b)", "vapour pressure");
  assert_relative(ew_vapour_from_dew_point_pa(273.15 + named(dew[2], "Tdew")) / 1000,
                  g_ascii_strtod(dew[3], NULL), 1e-3);
  g_auto(GStrv) ambient = find("1065.645(c)", "vapour pressure");
  assert_relative(ew_saturation_pressure_pa(273.15 + named(ambient[2], "Tamb")) / 1000,
                  g_ascii_strtod(ambient[3], NULL), 1e-3);
}

static void scaled_by_humidity(void **state) {
  (void)state;
  g_auto(GStrv) row = find("1065.645(d)", "scaled");
  double vapour = ew_vapour_from_relative_humidity_pa(named(row[2], "RH") / 100,
                                                      273.15 + named(row[2], "Tamb"));
  assert_relative(vapour, g_ascii_strtod(row[3], NULL), 1e-3);
}

/* Both routes to the same air: from the dew point and from relative humidity. */
static void mole_fraction(void **state) {
  (void)state;
  g_auto(GStrv) dew = find("1065.645(b)", "water mole fraction");
  g_auto(GStrv) humid = find("1065.645(c)", "water mole fraction");
  double by_dew = ew_vapour_from_dew_point_pa(273.15 + 9.5) / (99.980e3);
  double by_humidity = ew_vapour_from_relative_humidity_pa(named(humid[2], "RH") / 100,
                                                           273.15 + named(humid[2], "Tamb")) /
                       (1000 * named(humid[2], "pabs"));
  assert_relative(by_dew, g_ascii_strtod(dew[3], NULL), 1e-3);
  assert_relative(by_humidity, g_ascii_strtod(humid[3], NULL), 1e-3);
  assert_relative(by_dew, by_humidity, 1e-4); /* the line's own error cancels */
}

/* Molar mass of humid air, 28.7805 g/mol at x = 0.0169: from the density of moist air, R T rho / p.
 * Our gas constants give 28.9645 for dry air, the part prints 28.96559: 4e-5 apart. */
static void molar_mass(void **state) {
  (void)state;
  g_auto(GStrv) row = find("1065", "molar mass of humid air");
  double x = named(row[2], "xH2O"), p = 1e5, t = 300;
  double molar = 8.314462618 * t * ew_moist_air_density_kg_m3(p, t, x * p) / p * 1000;
  assert_relative(molar, g_ascii_strtod(row[3], NULL), 1e-4);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(vapour_pressure),
                                     cmocka_unit_test(scaled_by_humidity),
                                     cmocka_unit_test(mole_fraction), cmocka_unit_test(molar_mass)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
