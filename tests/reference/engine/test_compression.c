/* Compression. Sources: a university textbook's example (six of 80 x 100 mm, 70 cm3 clearance:
 * 8.18078); a worked example of 4.000 x 3.480 in with 64 cm3 chambers, computed independently in
 * 60-digit arithmetic (10.01446 with a 5 cm3 dish, 11.31156 with a dome; 7.92624 effective at 66
 * degrees ABDC), and 86 x 86 mm with 143 mm rods, 10.5 static, 9.22804 at 50 degrees. */
#include "near.h"
#include "engine/compression.h"

#define SMALL                                                                                      \
  "cylinders: 8\nbore: 4.000 in\nstroke: 3.480 in\ngeometry:\n  rod_length: 5.700 in\n"            \
  "compression:\n  chamber: 64 cc\n  gasket_bore: 4.100 in\n  gasket_thickness: 0.039 in\n"        \
  "  deck: 0.010 in\n"

static void static_ratio(void **state) {
  (void)state;
  struct ew_engine dish = engine_of(SMALL "  dish: 5.0 cc\n");
  struct ew_engine dome = engine_of(SMALL "  dome: 5.0 cc\n");
  assert_near(ew_gasket_volume_m3(&dish) * 1e6, 8.437686, 1e-6);
  assert_near(ew_clearance_volume_m3(&dish, 0) * 1e6, 79.496945, 1e-6);
  struct ew_clearance_parts parts = ew_clearance_parts_of(&dish, 7);
  assert_near(parts.chamber_m3 * 1e6, 64, 1e-9);
  assert_near(parts.deck_m3 * 1e6, 2.059259, 1e-6); /* pi/4 16 in2 x 0.010 in x 16.387064 */
  assert_near(parts.dish_m3 * 1e6, 5, 1e-9);
  assert_near(parts.dome_m3, 0, 1e-15);
  assert_near(ew_compression_ratio(&dish, 0), 10.01446, 5e-6);
  assert_near(ew_compression_ratio(&dome, 0), 11.31156, 5e-6);
  assert_near(ew_engine_displacement_m3(&dish) * 1e6, 5732.978, 1e-3);
  ew_engine_clear(&dish);
  ew_engine_clear(&dome);
}

static void textbook_ratio(void **state) {
  (void)state;
  struct ew_engine e = engine_of("cylinders: 6\nbore: 80 mm\nstroke: 100 mm\ncompression:\n"
                                 "  chamber: 70 cc\n  gasket_volume: 0 cc\n");
  assert_near(ew_compression_ratio(&e, 5), 8.18078, 5e-6);
  ew_engine_clear(&e);
}

static void effective_ratio(void **state) {
  (void)state;
  struct ew_engine a = engine_of(SMALL "  dish: 5.0 cc\n");
  assert_near(ew_effective_compression_ratio(&a, 0, 66), 7.92624, 5e-6);
  assert_near(ew_effective_compression_ratio(&a, 0, 0), ew_compression_ratio(&a, 0), 1e-9);
  ew_engine_clear(&a);
  struct ew_engine b = engine_of("bore: 86 mm\nstroke: 86 mm\ngeometry:\n  rod_length: 143 mm\n"
                                 "compression:\n  ratio: 10.5\n");
  assert_near(ew_effective_compression_ratio(&b, 0, 50), 9.22804, 5e-6);
  ew_engine_clear(&b);
}

/* Doing what a way says reaches the ratio. */
static void ways_lead_there(void **state) {
  (void)state;
  struct ew_engine e = engine_of(SMALL "  dish: 5.0 cc\n");
  struct ew_compression_ways ways = ew_compression_ways_to(&e, 10.8);
  e.compression.gasket_thickness_m += ways.gasket_m;
  assert_near(ew_compression_ratio(&e, 0), 10.8, 1e-9);
  assert_near(ew_quench_m(&e), ways.gasket_quench_m, 1e-12);
  e.compression.gasket_thickness_m -= ways.gasket_m;
  e.compression.deck_m += ways.deck_m;
  assert_near(ew_compression_ratio(&e, 0), 10.8, 1e-9);
  e.compression.deck_m -= ways.deck_m;
  e.compression.chamber_m3 += ways.change_m3;
  assert_near(ew_compression_ratio(&e, 0), 10.8, 1e-9);
  ew_engine_clear(&e);
}

static void answers_are_differences(void **state) {
  (void)state;
  struct ew_engine e = engine_of(SMALL "  dish: 5.0 cc\n");
  struct ew_compression_answer answer = ew_compression_answer_of(&e);
  double before = ew_compression_ratio(&e, 0);
  e.compression.gasket_thickness_m -= 0.25e-3;
  assert_near(ew_compression_ratio(&e, 0) - before, answer.gasket_thinner, 1e-9);
  e.compression.gasket_thickness_m += 0.25e-3;
  e.compression.deck_m -= 0.25e-3;
  assert_near(ew_compression_ratio(&e, 0) - before, answer.deck_higher, 1e-9);
  e.compression.deck_m += 0.25e-3;
  e.compression.chamber_m3 -= 1e-6;
  assert_near(ew_compression_ratio(&e, 0) - before, answer.chamber_smaller, 1e-9);
  ew_engine_clear(&e);
}

/* p V^n from the closing volume: the ratio of volumes to the power of n, by hand. */
static void cranking(void **state) {
  (void)state;
  assert_relative(ew_cranking_pressure_pa(101325, 8, 1.22), 101325 * (exp(1.22 * log(8)) - 1),
                  1e-12);
  double usual = ew_cranking_pressure_pa(99000, 8.81, EW_CRANKING_EXPONENT);
  assert_true(usual > 12e5 && usual < 14.5e5);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(static_ratio),
                                     cmocka_unit_test(textbook_ratio),
                                     cmocka_unit_test(effective_ratio),
                                     cmocka_unit_test(ways_lead_there),
                                     cmocka_unit_test(answers_are_differences),
                                     cmocka_unit_test(cranking)};
  return cmocka_run_group_tests_name("compression", tests, NULL, NULL);
}
