/* Compression against cam and fuel. Sources: the effective ratios of test_compression.c (7.92624 at 66 degrees, computed independently);
 * a variable-compression single's gross efficiencies (reference/data/measured-engines): 32.96 % at 8 and 36.24 % at 12 on methane, 35.73 %
 * at 8 and 38.25 % at 10 on propane. */
#include "near.h"
#include "engine/compression.h"
#include "engine/compression_advice.h"

#define EIGHT "cylinders: 8\nbore: 4.000 in\nstroke: 3.480 in\ngeometry:\n  rod_length: 5.700 in\n"

static const struct ew_fuel_case usual = {10.01446, 7.92624, 0.0442, 0.14478, 98,   99000,
                                          298.15,   0.95,    3000,   2.6e6,   FALSE};

/* What comes out, put in again, gives what was asked for. */
static void answers_agree_with_definitions(void **state) {
  (void)state;
  struct ew_engine e = engine_of(EIGHT "compression:\n  ratio: 10.01446\n");
  struct ew_compression_advice a = ew_compression_advice_of(&e, 0, 66, &usual);
  assert_near(ew_effective_compression_ratio(&e, 0, a.closes_early_deg), 8.5, 1e-6);
  assert_near(ew_effective_compression_ratio(&e, 0, a.closes_late_deg), 7.5, 1e-6);
  assert_true_says(a.closes_early_deg < 66 && a.closes_late_deg > 66, "7.93 lies between");
  e.compression.ratio_stated = a.cam_low_ratio;
  assert_near(ew_effective_compression_ratio(&e, 0, 66), 7.5, 1e-6);
  e.compression.ratio_stated = a.cam_high_ratio;
  assert_near(ew_effective_compression_ratio(&e, 0, 66), 8.5, 1e-6);
  struct ew_fuel_case edge = usual;
  edge.compression_ratio = e.compression.ratio_stated = a.fuel_edge_ratio;
  edge.effective_ratio = ew_effective_compression_ratio(&e, 0, 66);
  assert_near(ew_knock_integral(&edge, 98), 1, 1e-3);
  assert_true_says(a.fuel_easy_ratio < a.fuel_edge_ratio, "easily is less than the edge");
  ew_engine_clear(&e);
}

static void poor_fuel_limits_what_is_wanted(void **state) {
  (void)state;
  struct ew_engine e = engine_of(EIGHT "compression:\n  ratio: 8\n");
  struct ew_fuel_case poor = usual;
  poor.compression_ratio = 8;
  poor.effective_ratio = ew_effective_compression_ratio(&e, 0, 66);
  poor.octane = 80;
  struct ew_compression_advice a = ew_compression_advice_of(&e, 0, 66, &poor),
                               none = ew_compression_advice_of(&e, 0, 66, NULL);
  assert_true(a.wanted_ratio == a.fuel_easy_ratio && a.wanted_ratio < none.wanted_ratio);
  assert_true(isnan(none.fuel_edge_ratio));
  assert_near(none.wanted_ratio, (none.cam_low_ratio + none.cam_high_ratio) / 2, 1e-9);
  poor.octane = NAN;
  a = ew_compression_advice_of(&e, 0, 66, &poor);
  assert_true_says(isnan(a.fuel_edge_ratio) && a.wanted_ratio == none.wanted_ratio,
                   "a fuel without octane says nothing");
  ew_engine_clear(&e);
}

static void says_nothing_of_what_is_not_known(void **state) {
  (void)state;
  struct ew_engine e = engine_of(EIGHT);
  struct ew_compression_advice a = ew_compression_advice_of(&e, 0, 66, &usual);
  assert_true(isnan(a.cam_low_ratio) && isnan(a.wanted_ratio) && isnan(a.torque_gain));
  ew_engine_clear(&e);
  e = engine_of(EIGHT "compression:\n  ratio: 10\n");
  a = ew_compression_advice_of(&e, 0, NAN, &usual);
  assert_true(isnan(a.cam_low_ratio) && isnan(a.wanted_ratio));
  ew_engine_clear(&e);
}

static void gains_as_measured(void **state) {
  (void)state;
  double methane = 36.24 / 32.96 - 1, propane = 38.25 / 35.73 - 1;
  assert_true(fabs(ew_compression_gain(8, 12) - methane) < 0.5 * methane);
  assert_true(fabs(ew_compression_gain(8, 10) - propane) < 0.5 * propane);
  assert_near(ew_compression_gain(9, 9), 0, 1e-12);
  assert_true_says(ew_compression_gain(10, 8) < 0, "less gives less");
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(answers_agree_with_definitions),
                                     cmocka_unit_test(poor_fuel_limits_what_is_wanted),
                                     cmocka_unit_test(says_nothing_of_what_is_not_known),
                                     cmocka_unit_test(gains_as_measured)};
  return cmocka_run_group_tests_name("compression advice", tests, NULL, NULL);
}
