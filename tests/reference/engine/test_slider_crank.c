/* Piston motion. Sources: the closed forms differentiated numerically (reference: finite differences
 * of the travel alone); a published textbook problem on a 3-litre V6 (B = S, rod 17.2 cm, 3000 rpm,
 * 20 degrees: mean speed 8.60 m/s, speed 5.71 m/s, travel 0.32 cm); table of R 43, L 143 mm at 6000
 * rpm computed independently of this program in 60-digit arithmetic. */
#include "near.h"
#include "engine/slider_crank.h"

static const struct ew_slider_crank crank = {0.043, 0.143, 0};

static void follows_the_table(void **state) {
  (void)state;
  static const double rows[][4] = {
      {0, 0, 0, 22080.31},
      {30, 7.38640, 17.0672, 17372.61},
      {60, 26.43389, 27.0416, 5940.51},
      {90, 49.61818, 27.0177, -5352.30},
      {120, 69.43389, 19.7544, -11035.21},
      {180, 86, 0, -11871.13},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_piston p = ew_piston_at(crank, rows[i][0], 6000);
    assert_near(p.travel_m * 1e3, rows[i][1], 6e-6);
    assert_near(p.velocity_m_s, rows[i][2], 6e-5);
    assert_near(p.acceleration_m_s2, rows[i][3], 6e-3);
  }
  double at, peak = ew_peak_piston_speed_m_s(crank, 6000, &at);
  assert_near(peak, 28.2210, 6e-5);
  assert_near(at, 74.500, 6e-4);
  assert_near(peak / ew_mean_piston_speed_m_s(0.086, 6000), 1.64076, 6e-6);
}

static void follows_a_published_problem(void **state) {
  (void)state;
  double bore = cbrt(4 / G_PI * 3e-3 / 6); /* 3 l, six cylinders, bore = stroke */
  struct ew_slider_crank v6 = {bore / 2, 0.172, 0};
  struct ew_piston p = ew_piston_at(v6, 20, 3000);
  assert_near(bore * 100, 8.60, 0.005);
  assert_near(ew_mean_piston_speed_m_s(bore, 3000), 8.60, 0.005);
  assert_near(p.velocity_m_s, 5.71, 0.01);
  assert_near(p.travel_m * 100, 0.32, 0.005);
  double clearance = 0.5e-3 / 8; /* ratio 9 */
  assert_near((clearance + G_PI / 4 * bore * bore * p.travel_m) * 1e6, 81.24, 0.15);
}

/* Each derivative against the central difference of the one before, with and without offset. */
static void derivatives_fit_each_other(void **state) {
  (void)state;
  const double step = 0.01, seconds = step / (6 * 5000.0);
  for (double offset = -0.001; offset <= 0.0015; offset += 0.0005)
    for (double angle = -175; angle < 360; angle += 13) {
      struct ew_slider_crank c = {0.0434, 0.1485, offset};
      struct ew_piston before = ew_piston_at(c, angle - step, 5000);
      struct ew_piston here = ew_piston_at(c, angle, 5000);
      struct ew_piston after = ew_piston_at(c, angle + step, 5000);
      double v = (after.travel_m - before.travel_m) / (2 * seconds);
      double a = (after.velocity_m_s - before.velocity_m_s) / (2 * seconds);
      double j = (after.acceleration_m_s2 - before.acceleration_m_s2) / (2 * seconds);
      assert_near(here.velocity_m_s, v, 1e-5 * 24);
      assert_near(here.acceleration_m_s2, a, 1e-5 * 15000);
      assert_near(here.jerk_m_s3, j, 1e-5 * 1.2e7);
    }
}

static void offset_moves_dead_centres(void **state) {
  (void)state;
  struct ew_slider_crank c = {0.0434, 0.1485, 0.001};
  assert_near(ew_slider_crank_tdc_deg(c), asin(0.001 / 0.1919) * 180 / G_PI, 1e-12);
  struct ew_piston top = ew_piston_at(c, 0, 5000);
  assert_near(top.travel_m, 0, 1e-12);
  assert_near(top.velocity_m_s, 0, 1e-9);
  double longest = 0;
  for (double angle = 170; angle < 190; angle += 0.01)
    longest = fmax(longest, ew_piston_at(c, angle, 0).travel_m);
  assert_near(longest, ew_slider_crank_stroke_m(c), 1e-9);
  assert_true(longest > 0.0868);
}

/* 3.480 in at 6500 rpm: 19.1516 m/s, 3770.0 ft/min (exact conversions). */
static void mean_speed(void **state) {
  (void)state;
  double speed = ew_mean_piston_speed_m_s(3.480 * 0.0254, 6500);
  assert_near(speed, 19.1516, 6e-5);
  assert_near(speed / 0.00508, 3770.0, 0.05);
}

/* At TDC a = R w^2 (1 + R/L) exactly, so tension has a closed form. */
static void rod_tension(void **state) {
  (void)state;
  double w = 7000 * G_PI / 30;
  double want = 0.6 * 0.043 * w * w * (1 + 0.043 / 0.143) + (0.45 - 0.17) * 0.043 * w * w;
  assert_relative(ew_rod_tension_n(crank, 0.6, 0.45, 0.17, 7000), want, 1e-12);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(follows_the_table),
      cmocka_unit_test(follows_a_published_problem),
      cmocka_unit_test(derivatives_fit_each_other),
      cmocka_unit_test(offset_moves_dead_centres),
      cmocka_unit_test(mean_speed),
      cmocka_unit_test(rod_tension),
  };
  return cmocka_run_group_tests_name("slider-crank", tests, NULL, NULL);
}
