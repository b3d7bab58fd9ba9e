/* The car against closed forms, all from Newton's law:
 *   constant force, nothing else:  t = m v / F
 *   constant force against air:    t = (m / sqrt(F k)) artanh(v sqrt(k / F)), x = (m / 2k) ln(F / (F - k v^2)), k = rho/2 c_d A
 *   torque a - b w, two gears:     shift at w = a i_1 / (b (i_1 + i_2))
 *   constant power:                the same force in every gear
 *   t = m v r / (T i eta):         relative uncertainties add in quadrature (JCGM 100, 5.1.6) */
#include "unit.h"
#include "engine/car.h"

static const double wide_rpm[] = {1, 100000}, even_n_m[] = {200, 200};
static const struct ew_car_engine even = {2, wide_rpm, even_n_m, 100000, 0};

static const char plain[] = "name: test\nmass: 1000 kg\ngears: [4, 2]\nfinal_drive: 5\n"
                            "tyre_radius: 300 mm\ndrag_area: 0.01 m2\nrolling_resistance: 0.1 %\n"
                            "efficiency: 100 %\ngrip: 500 %\ndriven_share: 100 %\n"
                            "shift_time: 0 s\n";

static struct ew_car car_of(const char *text) {
  g_autoptr(GError) error = NULL;
  struct ew_car car = {0};
  struct ew_node *root = ew_node_parse("test", text, strlen(text), &error);
  expect(root && ew_car_read(root, "test", &car, &error), text, "%s", error ? error->message : "");
  ew_node_free(root);
  return car;
}

/* With nothing in its way. */
static struct ew_car free_car(double gear) {
  struct ew_car car = car_of(plain);
  g_array_set_size(car.gears, 1);
  g_array_index(car.gears, double, 0) = gear;
  car.drag_area_m2 = car.rolling_resistance = 0;
  return car;
}

static void constant_force(void **state) {
  (void)state;
  struct ew_car car = free_car(4);
  struct ew_car_result r;
  car.wheel_inertia_kg_m2 = 4.5; /* 50 kg at 300 mm */
  const struct ew_car_run run = {0, 20, 100};
  double force = 200 * 20 / 0.3, mass = 1050;
  ew_car_run(&car, &even, &run, &r);
  expect_near(r.speed_time_s, mass * 20 / force, 1e-6, "m v / F");
  expect_near(r.distance_time_s, sqrt(2 * 100 * mass / force), 1e-6, "root of 2 x m / F");
  expect_near(r.distance_speed_m_s, sqrt(2 * 100 * force / mass), 0.02, "root of 2 x F / m");
  ew_car_clear(&car);
}

static void against_air(void **state) {
  (void)state;
  struct ew_car car = free_car(1);
  struct ew_car_result r;
  car.drag_area_m2 = 0.8;
  double force = 200 * 5 / 0.3, k = 0.5 * car.air_density_kg_m3 * 0.8, v = 50;
  const struct ew_car_run run = {0, v, 1000 / (2 * k) * log(force / (force - k * v * v))};
  ew_car_run(&car, &even, &run, &r);
  double t = 1000 / sqrt(force * k) * atanh(v * sqrt(k / force));
  expect_near(r.speed_time_s, t, 1e-5, "artanh");
  expect_near(r.distance_time_s, t, 1e-5, "there at the same time");
  expect_near(r.distance_speed_m_s, v, 0.005, "as fast");
  expect_near(r.top_m_s, sqrt(force / k), sqrt(force / k) / 500, "where both are equal");
  ew_car_clear(&car);
}

static void uphill(void **state) {
  (void)state;
  struct ew_car car = free_car(1);
  car.rolling_resistance = 0.02;
  expect_near(ew_car_resistance_n(&car, 10, 0.75), 1000 * 9.80665 * (0.02 * 0.8 + 0.6), 1e-9,
              "3, 4, 5");
  expect_near(ew_car_resistance_n(&car, 0, -0.75), 1000 * 9.80665 * (0.02 * 0.8 - 0.6), 1e-9,
              "downhill");
  ew_car_clear(&car);
}

static void shifts(void **state) {
  (void)state;
  struct ew_car car = car_of(plain);
  const double speeds[] = {0, 10000, 20000}, falls[] = {300, 150, 0}; /* 300 - 0.015 n */
  const struct ew_car_engine falling = {3, speeds, falls, 20000, 0},
                             held = {3, speeds, falls, 9000, 0};
  expect_near(ew_car_shift_rpm(&car, &falling, 0), 300 * 4 / (0.015 * 6), 0.01,
              "a i1 / b (i1 + i2)");
  expect_near(ew_car_shift_rpm(&car, &held, 0), 9000, 0, "the limit comes first");
  expect_near(ew_car_shift_rpm(&car, &falling, 1), 20000, 0, "no gear comes after the last");
  ew_car_clear(&car);
}

static void constant_power(void **state) {
  (void)state;
  enum { N = 200 };
  struct ew_car car = car_of(plain);
  double speeds[N], torques[N];
  for (int i = 0; i < N; i++) {
    speeds[i] = 1000 + 40 * i;
    torques[i] = 1e5 / (speeds[i] * G_PI / 30);
  }
  const struct ew_car_engine e = {N, speeds, torques, speeds[N - 1], 0};
  double v = ew_car_speed_m_s(&car, 0, 6000);
  expect_near(ew_car_force_n(&car, &e, 0, v), 1e5 / v, 1, "P / v");
  expect_near(ew_car_force_n(&car, &e, 1, v), 1e5 / v, 1, "in the next gear as well");
  assert_true(ew_car_force_n(&car, &e, 0, ew_car_speed_m_s(&car, 0, speeds[N - 1] + 1)) == 0);
  ew_car_clear(&car);
}

static void doubts(void **state) {
  (void)state;
  struct ew_car car = free_car(4);
  struct ew_car_worth w;
  struct ew_car_difference d;
  car.mass_doubt = 0.01, car.efficiency_doubt = 0.02, car.radius_doubt = 0.015;
  const struct ew_car_run run = {0, 20, 100};
  ew_car_worth(&car, &even, 0.005, &run, &w);
  double relative = sqrt(0.005 * 0.005 + 0.01 * 0.01 + 0.02 * 0.02 + 0.015 * 0.015);
  expect_near(w.speed_expanded_s / w.at.speed_time_s, 2 * relative, 2e-5, "in quadrature");
  expect_near(w.distance_expanded_s / w.at.distance_time_s, relative, 2e-5, "half of it");
  assert_true(w.speed_time_s[EW_CAR_DOUBT_TORQUE] < 0 && w.speed_time_s[EW_CAR_DOUBT_MASS] > 0);
  ew_car_difference(&car, &even, 0.004, &even, 0.003, &run, &d);
  expect_near(d.speed_time_s, 0, 0, "the same");
  expect_near(d.speed_expanded_s, 2 * 0.005 * w.at.speed_time_s, 1e-5, "the car's doubts cancel");
  ew_car_clear(&car);
}

/* Grip holds it, shares sum to one, what is never reached is not a number, a shift costs its time. */
static void bounds(void **state) {
  (void)state;
  struct ew_car car = free_car(4);
  struct ew_car_result r;
  car.grip = 0.5;
  const struct ew_car_run run = {0, 20, 100}, steep = {1.5, 20, 100};
  ew_car_run(&car, &even, &run, &r);
  expect_near(r.speed_time_s, 20 / (0.5 * 9.80665), 1e-6, "grip");
  double sum = 0;
  for (int i = 0; i < EW_CAR_SHARES; i++)
    sum += r.share[i];
  expect_near(sum, 1, 1e-12, "shares");
  ew_car_run(&car, &even, &steep, &r);
  assert_true(isnan(r.speed_time_s) && isnan(r.distance_time_s) && r.top_m_s == 0);
  ew_car_clear(&car);
}

static void a_shift_costs_its_time(void **state) {
  (void)state;
  struct ew_car car = car_of(plain);
  struct ew_car_result quick, slow;
  const struct ew_car_engine e = {2, (const double[]){500, 6000}, even_n_m, 6000, 0};
  car.drag_area_m2 = car.rolling_resistance = 0; /* it loses no speed meanwhile */
  const struct ew_car_run run = {0, ew_car_speed_m_s(&car, 1, 4000), 1000};
  ew_car_run(&car, &e, &run, &quick);
  car.shift_s = 0.4;
  ew_car_run(&car, &e, &run, &slow);
  expect_near(slow.speed_time_s - quick.speed_time_s, 0.4, 0.0011, "one shift");
  ew_car_clear(&car);
}

static void refusals(void **state) {
  (void)state;
  static const struct {
    const char *says, *from, *to, *words;
  } rows[] = {
      {"a mass without a unit", "mass: 1000 kg", "mass: 1000", "mass|unit"},
      {"a mass in newtons", "mass: 1000 kg", "mass: 1000 N", "mass"},
      {"gears out of order", "gears: [4, 2]", "gears: [2, 4]", "gears|not lower|gear 2"},
      {"a gear twice", "gears: [4, 2]", "gears: [4, 4]", "gears|not lower"},
      {"no gears", "gears: [4, 2]\n", "", "gears|not given"},
      {"eleven gears", "[4, 2]", "[11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1]", "gears|at most 10"},
      {"a gear of nothing", "gears: [4, 2]", "gears: [4, 0]", "gears"},
      {"no mass", "mass: 1000 kg\n", "", "mass|not given"},
      {"a rolling circumference for a radius", "300 mm", "1.9 m", "tyre_radius"},
      {"an unknown word", "final_drive", "final_driv", "final_driv"},
      {"words for numbers", "efficiency: 100 %", "efficiency: good", "efficiency"},
      {"more than all", "efficiency: 100 %", "efficiency: 110 %", "efficiency"},
      {"not a number", "mass: 1000 kg", "mass: nan kg", "mass"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GError) error = NULL;
    struct ew_car car = {0};
    g_auto(GStrv) parts = g_strsplit(plain, rows[i].from, 2);
    g_autofree char *text = g_strjoinv(rows[i].to, parts);
    struct ew_node *root = ew_node_parse("test", text, strlen(text), &error);
    expect(root && !ew_car_read(root, "test", &car, &error), rows[i].says, "it was read");
    refused_says(error, rows[i].words, rows[i].says, __FILE__, __LINE__);
    ew_node_free(root);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(constant_force), cmocka_unit_test(against_air),
      cmocka_unit_test(uphill),         cmocka_unit_test(shifts),
      cmocka_unit_test(constant_power), cmocka_unit_test(doubts),
      cmocka_unit_test(bounds),         cmocka_unit_test(a_shift_costs_its_time),
      cmocka_unit_test(refusals)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
