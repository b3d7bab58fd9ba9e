/* Stoichiometric air-fuel ratios from composition, with Heywood's air (3.773 mol of nitrogen of 28.16
 * g/mol to one of oxygen). Source of the second column: J. B. Heywood, Internal Combustion Engine
 * Fundamentals, table D.4, from memory (3 or 4 digits); the first was computed outside this program. */
#include "../near.h"
#include "gas/combustible.h"
#include "gas/fuel.h"

static const struct {
  const char *name;
  double c, h, o, n, computed, heywood;
} fuels[] = {
    {"methane", 1, 4, 0, 0, 17.234, 17.23},   {"propane", 3, 8, 0, 0, 15.675, 15.67},
    {"n-butane", 4, 10, 0, 0, 15.460, 15.46}, {"iso-octane", 8, 18, 0, 0, 15.128, 15.13},
    {"n-heptane", 7, 16, 0, 0, 15.176, NAN},  {"toluene", 7, 8, 0, 0, 13.503, 13.50},
    {"methanol", 1, 4, 1, 0, 6.472, 6.47},    {"ethanol", 2, 6, 1, 0, 9.003, 9.00},
    {"nitromethane", 1, 3, 2, 1, 1.699, NAN}, {"hydrogen", 0, 2, 0, 0, 34.287, 34.3},
    {"petrol", 1, 1.87, 0, 0, 14.600, 14.6},  {"CH1.85", 1, 1.85, 0, 0, 14.571, NAN},
    {"diesel", 1, 1.8, 0, 0, 14.499, 14.5},
};

static void ratios(void **state) {
  (void)state;
  int known = 0;
  for (gsize i = 0; i < G_N_ELEMENTS(fuels); i++) {
    double got = ew_stoichiometric_ratio(fuels[i].c, fuels[i].h, fuels[i].o, fuels[i].n);
    assert_near_says(got, fuels[i].computed, 0.51e-3, fuels[i].name);
    if (!isnan(fuels[i].heywood))
      assert_near_says(got, fuels[i].heywood, fuels[i].heywood > 30 ? 0.05 : 0.0065, fuels[i].name);
    const struct ew_fuel *fuel = ew_fuel_find(fuels[i].name);
    if (!fuel)
      continue;
    known++;
    assert_near_says(fuel->stoichiometric_ratio, fuels[i].computed, 0.51e-3, fuels[i].name);
  }
  assert_int_equal(known, 10); /* of the program's twelve; the two blends are below */
}

/* Blends by mass: air demand adds up. E85 of 85 % by volume (0.789 and 0.745 kg/l) has a mass share of
 * 0.85717 and 9.795 (with 8.994 and 14.6); E10 14.010 (computed). */
static void blends(void **state) {
  (void)state;
  double share = 0.85 * 0.789 / (0.85 * 0.789 + 0.15 * 0.745);
  assert_near(share, 0.85717, 0.6e-5);
  assert_near(ew_blended_stoichiometric_ratio(14.6, 8.994, share), 9.795, 0.6e-3);
  assert_near(ew_fuel_find("E85")->stoichiometric_ratio, 9.795, 0.6e-3);
  share = 0.10 * 0.789 / (0.10 * 0.789 + 0.90 * 0.745);
  assert_near(ew_blended_stoichiometric_ratio(14.6, 8.994, share), 14.010, 3e-3);
  assert_near(ew_fuel_find("E10")->stoichiometric_ratio, 14.010, 3e-3);
}

/* Lower heating values, MJ/kg, 298 K, from heats of formation (from memory) outside this program:
 * iso-octane 44.34 liquid, toluene 40.52, methanol 19.92, ethanol 26.81, nitromethane 10.54, methane
 * 50.03, propane 46.33 (gas), hydrogen 119.96; petrol and diesel vary by batch: 43 to 44, 42.5 to 43. */
static void heating_values(void **state) {
  (void)state;
  static const struct {
    const char *name;
    double low, high;
  } rows[] = {
      {"iso-octane", 44.34, 44.34}, {"toluene", 40.52, 40.52},      {"methanol", 19.92, 19.92},
      {"ethanol", 26.81, 26.81},    {"nitromethane", 10.54, 10.54}, {"methane", 50.03, 50.03},
      {"propane", 46.33, 46.33},    {"hydrogen", 119.96, 119.96},   {"petrol", 43, 44},
      {"diesel", 42.5, 43},         {"E85", 29.05, 29.15}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    double got = ew_fuel_find(rows[i].name)->lower_heating_value_j_kg / 1e6;
    assert_true_says(got > rows[i].low - 0.006 && got < rows[i].high + 0.006, rows[i].name);
  }
}

/* A fuel that an engine burns is found under its name in any letters, American ones too, and with its own figures: octane numbers and
 * latent heats (from memory of Heywood's table, as gas/combustible.h says) tell a neighbour's row. */
static void fuels_that_burn(void **state) {
  (void)state;
  static const struct {
    const char *name;
    double research, latent_kj;
  } rows[] = {{"petrol", 95, 350},       {"E10", 96, 408},        {"E85", 106, 825},
              {"ethanol", 108, 904},     {"methanol", 109, 1168}, {"iso-octane", 100, 308},
              {"race petrol", 106, 340}, {"methane", 120, 0},     {"propane", 112, 0}};
  g_auto(GStrv) names = g_strsplit(ew_combustible_names(), ", ", -1);
  assert_int_equal(g_strv_length(names), G_N_ELEMENTS(rows));
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autofree char *loud = g_ascii_strup(rows[i].name, -1);
    const struct ew_combustible *f = ew_combustible_find(rows[i].name);
    assert_true_says(f && strcmp(f->name, rows[i].name) == 0, rows[i].name);
    assert_true_says(ew_combustible_find(loud) == f, loud);
    assert_true_says(g_strv_contains((const char *const *)names, rows[i].name), rows[i].name);
    assert_near_says(f->research_octane, rows[i].research, 0.5, rows[i].name);
    assert_near_says(f->latent_heat_j_kg / 1e3, rows[i].latent_kj, 0.5, rows[i].name);
    assert_true_says(f->motor_octane <= f->research_octane, rows[i].name);
  }
  static const char *const none[] = {"diesel", "hydrogen", "toluene", "petrols",
                                     "petro",  "",         "lamp oil"};
  for (gsize i = 0; i < G_N_ELEMENTS(none); i++)
    assert_true_says(!ew_combustible_find(none[i]), none[i]);
  assert_null(ew_combustible_find(NULL));
  assert_ptr_equal(ew_combustible_find("race gasoline"), ew_combustible_find("race petrol"));
  assert_ptr_equal(ew_combustible_find("gasoline"), ew_combustible_find("petrol"));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(ratios), cmocka_unit_test(blends),
                                     cmocka_unit_test(fuels_that_burn),
                                     cmocka_unit_test(heating_values)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
