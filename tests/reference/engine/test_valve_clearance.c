/* Valve to piston. Sources: the geometry itself. At top dead centre the clearance is the gap less the
 * lift; at the minimum the piston goes as fast as the valve; a brute search over both curves, the
 * piston's from its two-term series (a textbook form, within 1 % near top dead centre), agrees. */
#include "near.h"
#include "engine/slider_crank.h"
#include "engine/valve_clearance.h"

#define ENGINE                                                                                     \
  "bore: 85.4 mm\nstroke: 86.8 mm\ngeometry:\n  rod_length: 148.5 mm\n"                            \
  "cam:\n  lobe_separation: 108 deg\n  inlet_centreline: 104 deg\n"                                \
  "inlet:\n  lobe_lift: 7.55 mm\n  rocker_ratio: 1.55\n  lash: 0.40 mm\n  duration: 284 deg\n"     \
  "  check_duration: 248 deg\n  ramp_height: 0.32 mm\n  ramp_length: 34 deg\n"                     \
  "  piston_gap: 6.67 mm\n  valve_angle: 18 deg\n"                                                 \
  "exhaust:\n  lobe_lift: 7.40 mm\n  rocker_ratio: 1.55\n  lash: 0.45 mm\n  duration: 288 deg\n"   \
  "  check_duration: 252 deg\n  ramp_height: 0.36 mm\n  ramp_length: 36 deg\n"                     \
  "  piston_gap: 6.56 mm\n"

static void at_dead_centre_and_at_the_minimum(void **state) {
  (void)state;
  struct ew_engine e = engine_of(ENGINE);
  for (int side = EW_INLET; side <= EW_EXHAUST; side++) {
    const struct ew_engine_valves *v = ew_side_of(&e, side);
    struct ew_valve_motion m;
    assert_true(ew_valve_motion_of(&e, side, &m, NULL));
    double at_top = ew_valve_clearance_at_m(&e, side, &m, 0, v->lash_m);
    assert_near(at_top, v->piston_gap_m - ew_valve_lift_m(&m, 0), 1e-12);
    struct ew_valve_clearance c = ew_valve_clearance_of(&e, side, &m, v->lash_m);
    double slope = (ew_valve_lift_m(&m, c.at_deg + 0.05) - ew_valve_lift_m(&m, c.at_deg - 0.05)) -
                   cos(v->valve_angle_deg * G_PI / 180) *
                       (ew_piston_at(ew_slider_crank_of(&e), c.at_deg + 0.05, 0).travel_m -
                        ew_piston_at(ew_slider_crank_of(&e), c.at_deg - 0.05, 0).travel_m);
    assert_near(slope, 0, 1e-6); /* a tenth of a degree: the search's own step */
    assert_true(side == EW_INLET ? c.at_deg > 0 && c.at_deg < 25 : c.at_deg < 0 && c.at_deg > -25);
    struct ew_valve_clearance zero = ew_valve_clearance_of(&e, side, &m, 0);
    assert_near(c.minimum_m - zero.minimum_m, v->lash_m, 1e-6);
  }
  ew_engine_clear(&e);
}

static void agrees_with_a_brute_search(void **state) {
  (void)state;
  struct ew_engine e = engine_of(ENGINE);
  struct ew_valve_motion m;
  assert_true(ew_valve_motion_of(&e, EW_EXHAUST, &m, NULL));
  double least = 1;
  for (double t = -60; t <= 60; t += 0.01) {
    double r = t * G_PI / 180, R = 0.0434, L = 0.1485;
    double x = R * (1 - cos(r)) + R * R / (4 * L) * (1 - cos(2 * r));
    least = fmin(least, 6.56e-3 + x - ew_valve_lift_m(&m, t));
  }
  struct ew_valve_clearance c = ew_valve_clearance_of(&e, EW_EXHAUST, &m, m.lash_m);
  assert_near(c.minimum_m, least, 2e-6);
  ew_engine_clear(&e);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(at_dead_centre_and_at_the_minimum),
                                     cmocka_unit_test(agrees_with_a_brute_search)};
  return cmocka_run_group_tests_name("valve to piston", tests, NULL, NULL);
}
