/* Each figure's budget beside the law of propagation (JCGM 100:2008, 5.1.2) done by hand: partial derivatives written out here, where
 * the program goes by differences. */
#include "judge/figure_budget.h"
#include "gas/moist_air.h"
#include "unit.h"
#include <math.h>

#define TORQUE 400.0
#define SPEED  5000.0
#define FACTOR 1.05

struct day {
  struct ew_curve curve;
  struct ew_bench bench;
  ew_calibrated *calibration;
  double arrays[8][1];
};

static struct ew_curve_column *column(struct ew_curve *c, enum ew_channel channel, const char *key,
                                      enum ew_kind kind, double value, double se) {
  struct ew_curve_column one = {channel, 0, key, kind, g_new(double, 1), g_new(double, 1)};
  one.values[0] = value;
  one.se[0] = se;
  g_array_append_val(c->columns, one);
  return &g_array_index(c->columns, struct ew_curve_column, c->columns->len - 1);
}

static double speed_rad_s(void) {
  return SPEED * G_PI / 30;
}

/* A petrol engine of 4 litres at one point, weather recorded. */
static void begin(struct day *d) {
  double *at[] = {d->arrays[0], d->arrays[1], d->arrays[2], d->arrays[3],
                  d->arrays[4], d->arrays[5], d->arrays[6], d->arrays[7]};
  const double values[] = {SPEED, TORQUE, 0.5, TORQUE * speed_rad_s(), TORQUE / FACTOR, 4, 0, 30};
  for (int i = 0; i < 8; i++)
    at[i][0] = values[i];
  ew_bench_defaults(&d->bench);
  d->curve = (struct ew_curve){.points = 1,
                               .speed_rpm = at[0],
                               .torque_n_m = at[1],
                               .torque_se_n_m = at[2],
                               .power_w = at[3],
                               .observed_n_m = at[4],
                               .inertia_n_m = at[5],
                               .engine_inertia_n_m = at[6],
                               .samples = at[7],
                               .columns = g_array_new(FALSE, FALSE, sizeof(struct ew_curve_column)),
                               .factor = {.factor = FACTOR},
                               .conditions = {.pressure_pa = 95000,
                                              .temperature_k = 303.15,
                                              .pressure_from = "channel",
                                              .temperature_from = "channel",
                                              .humidity_from = "channel",
                                              .weather_age_s = NAN}};
  d->curve.conditions.vapour_pa = 0.4 * ew_saturation_pressure_pa(303.15);
  ew_method_defaults(&d->curve.method);
  d->calibration = ew_calibrated_new();
  column(&d->curve, EW_CHANNEL_FUEL_FLOW, "fuel_flow", EW_KIND_MASS_FLOW, 0.0166, 5e-5);
  column(&d->curve, EW_CHANNEL_AIR_FLOW, "air_flow", EW_KIND_MASS_FLOW, 0.21, 4e-4);
  column(&d->curve, EW_CHANNEL_LAMBDA, "lambda", EW_KIND_LAMBDA, 0.87, 0.001);
  column(&d->curve, EW_CHANNEL_OIL_PRESSURE, "oil_pressure", EW_KIND_PRESSURE_GAUGE, 4e5, 2e3);
  column(&d->curve, EW_CHANNELS_COUNT, "bsfc", EW_KIND_SPECIFIC_FUEL,
         0.0166 / (TORQUE / FACTOR * speed_rad_s()), NAN);
  column(&d->curve, EW_CHANNELS_COUNT, "ve", EW_KIND_RATIO, 1.02, NAN);
  column(&d->curve, EW_CHANNELS_COUNT, "bmep", EW_KIND_MEAN_EFFECTIVE_PRESSURE, 12.5e5, 2e3);
}

static void end(struct day *d) {
  for (guint i = 0; i < d->curve.columns->len; i++) {
    g_free(g_array_index(d->curve.columns, struct ew_curve_column, i).values);
    g_free(g_array_index(d->curve.columns, struct ew_curve_column, i).se);
  }
  g_array_unref(d->curve.columns);
  ew_calibrated_free(d->calibration);
}

static void calibrate(struct day *d, enum ew_channel channel, double gain, double gain_u,
                      double offset, double offset_u, double covariance) {
  ew_calibrated_add(d->calibration, (struct ew_calibrated_line){.channel = (int)channel,
                                                                .gain = gain,
                                                                .gain_u = gain_u,
                                                                .offset = offset,
                                                                .offset_u = offset_u,
                                                                .covariance = covariance,
                                                                .points = 8,
                                                                .zero_age_s = NAN,
                                                                .hysteresis = NAN});
}

static struct ew_figure_budget of(struct day *d, const char *key) {
  const struct ew_curve_column *c = ew_curve_column(&d->curve, key, 0);
  assert_non_null(c);
  return ew_figure_budget(&d->bench, d->calibration, &d->curve, c, 0, 4);
}

/* u of a line at what it read (GUM H.3). */
static double line_u(double value, double gain, double gain_u, double offset, double offset_u,
                     double covariance) {
  double r = (value - offset) / gain;
  return sqrt(offset_u * offset_u + r * r * gain_u * gain_u + 2 * r * covariance);
}

static void a_measured_column(void **state) {
  (void)state;
  struct day d;
  begin(&d);
  struct ew_figure_budget b = of(&d, "lambda");
  assert_true(b.unknown == (guint64)1 << EW_CHANNEL_LAMBDA && isnan(b.expanded));
  assert_true(b.count == 1); /* the scatter is known all the same */
  calibrate(&d, EW_CHANNEL_LAMBDA, 1.01, 0.004, -0.02, 0.003, -1e-5);
  b = of(&d, "lambda");
  double u = hypot(line_u(0.87, 1.01, 0.004, -0.02, 0.003, -1e-5), 0.001);
  assert_true(b.unknown == 0);
  expect_near(b.standard, u, 1e-12, "calibration and scatter");
  expect_near(b.expanded / b.standard, ew_coverage_factor(0.95, b.freedom), 1e-12, "95 %");
  assert_true(b.freedom >= 6 && b.freedom < 36); /* eight points of a line, and the scatter's 30 */
  calibrate(&d, EW_CHANNEL_OIL_PRESSURE, 0.98, 0.002, 1e3, 800, -0.5);
  expect_near(of(&d, "oil_pressure").standard, hypot(line_u(4e5, 0.98, 0.002, 1e3, 800, -0.5), 2e3),
              1e-6, "a pressure");
  end(&d);
}

/* BSFC = q / (T w): (u/BSFC)^2 = (u_q/q)^2 + (u_T/T)^2. */
static void brake_specific_fuel(void **state) {
  (void)state;
  struct day d;
  begin(&d);
  assert_true(isnan(of(&d, "bsfc").expanded)); /* the flow meter was never calibrated */
  calibrate(&d, EW_CHANNEL_FUEL_FLOW, 1.02, 0.005, 1e-4, 6e-5, -2e-7);
  struct ew_figure_budget b = of(&d, "bsfc");
  struct ew_budget torque =
      ew_budget(&d.bench, d.calibration, &d.curve, TORQUE, 4, 0.5, (struct ew_spread){0}, 4);
  double squares = 0; /* observed torque: without what comes through the factor */
  for (gsize i = 0; i < torque.count; i++)
    if (!strstr(torque.rows[i].from, "factor"))
      squares += torque.rows[i].standard_n_m * torque.rows[i].standard_n_m;
  double u_q = hypot(line_u(0.0166, 1.02, 0.005, 1e-4, 6e-5, -2e-7), 5e-5);
  double bsfc = 0.0166 / (TORQUE / FACTOR * speed_rad_s());
  double by_hand = bsfc * hypot(u_q / 0.0166, sqrt(squares) / TORQUE);
  expect_near(b.standard / by_hand, 1, 1e-12, "by hand");
  assert_true(b.unknown == 0 && b.expanded > b.standard);
  /* the barometer is no part of it */
  d.bench.pressure_uncertainty_pa = 5000;
  expect_near(of(&d, "bsfc").standard / by_hand, 1, 1e-12, "no factor");
  end(&d);
}

/* VE = m R T / ((p - phi ps(T)) V n): d/dp, d/dT, d/dphi written out; ps' by a central difference. */
static void volumetric_efficiency(void **state) {
  (void)state;
  struct day d;
  begin(&d);
  calibrate(&d, EW_CHANNEL_AIR_FLOW, 0.97, 0.006, 0, 5e-4, -1e-6);
  calibrate(&d, EW_CHANNEL_BAROMETER, 1, 1e-6, -300, 40, 0);
  calibrate(&d, EW_CHANNEL_INLET_AIR_TEMPERATURE, 1, 1e-6, 1.5, 0.6, 0);
  calibrate(&d, EW_CHANNEL_HUMIDITY, 1, 1e-6, 0, 0.02, 0);
  struct ew_figure_budget b = of(&d, "ve");
  double p = 95000, t = 303.15, ps = ew_saturation_pressure_pa(t), dry = p - 0.4 * ps;
  double slope = (ew_saturation_pressure_pa(t + 0.01) - ew_saturation_pressure_pa(t - 0.01)) / 0.02;
  double u_m = hypot(line_u(0.21, 0.97, 0.006, 0, 5e-4, -1e-6), 4e-4);
  double by_m = u_m / 0.21, by_p = 40 / dry, by_t = 0.6 * (1 / t + 0.4 * slope / dry),
         by_h = 0.02 * ps / dry;
  double by_hand = 1.02 * sqrt(by_m * by_m + by_p * by_p + by_t * by_t + by_h * by_h);
  expect_near(b.standard / by_hand, 1, 2e-3, "by hand"); /* differences of u against derivatives */
  /* typed half an hour ago: 0.235 hPa, 0.48 K and 2 % more (docs/methods.md, the age of the weather) */
  d.curve.conditions.pressure_from = d.curve.conditions.temperature_from =
      d.curve.conditions.humidity_from = "set-up";
  d.curve.conditions.weather_age_s = 1800;
  struct ew_figure_budget aged = of(&d, "ve");
  d.curve.conditions.weather_age_s = NAN;
  struct ew_figure_budget fresh = of(&d, "ve");
  double more =
      pow(23.5 / dry, 2) + pow(0.48 * (1 / t + 0.4 * slope / dry), 2) + pow(0.02 * ps / dry, 2);
  expect_near((aged.standard * aged.standard - fresh.standard * fresh.standard) /
                  (1.02 * 1.02 * more),
              1, 0.02, "its age");
  end(&d);
}

static void mean_effective_pressure(void **state) {
  (void)state;
  struct day d;
  begin(&d);
  struct ew_budget torque =
      ew_budget(&d.bench, d.calibration, &d.curve, TORQUE, 4, 0.5, (struct ew_spread){0}, 4);
  expect_near(of(&d, "bmep").standard / 12.5e5, torque.absolute_n_m / TORQUE, 1e-12,
              "in proportion to torque");
  end(&d);
}

/* A diesel by ISO 1585: f = fa^fm(qc), so df/dqc = f ln(fa) 0.036 between 37.2 and 65 mg/(l cycle). */
static void fuel_through_the_factor(void **state) {
  (void)state;
  struct day d;
  begin(&d);
  d.curve.method.standard = EW_STANDARD_ISO1585_CI;
  d.curve.method.charging = EW_NATURAL;
  /* displacement 4 l: BMEP = 2 pi T / (0.5 V); fuel for qc = 50 */
  for (guint i = 0; i < d.curve.columns->len; i++) {
    struct ew_curve_column *c = &g_array_index(d.curve.columns, struct ew_curve_column, i);
    if (strcmp(c->key, "bmep") == 0)
      c->values[0] = 2 * G_PI * TORQUE / (0.5 * 4e-3);
    if (strcmp(c->key, "fuel_flow") == 0)
      c->values[0] = 50e-6 * 4 * 0.5 * SPEED / 60;
  }
  double flow = 50e-6 * 4 * 0.5 * SPEED / 60;
  double fa = 99000 / (95000 - d.curve.conditions.vapour_pa) * pow(303.0 / 298, 0.7);
  double fm = 0.036 * 50 - 1.14;
  d.curve.factor.factor = pow(fa, fm);
  calibrate(&d, EW_CHANNEL_FUEL_FLOW, 1, 0.01, 0, 1e-9, 0);
  struct ew_budget b =
      ew_budget(&d.bench, d.calibration, &d.curve, TORQUE, 4, 0.5, (struct ew_spread){0}, 4);
  double by_fuel = 0, by_air = 0;
  for (gsize i = 0; i < b.count; i++) {
    if (strstr(b.rows[i].from, "fuel flow"))
      by_fuel = b.rows[i].standard_n_m;
    if (strstr(b.rows[i].from, "weather sensors"))
      by_air = b.rows[i].standard_n_m;
  }
  double u_q = line_u(flow, 1, 0.01, 0, 1e-9, 0) / flow * 50;
  expect_near(by_fuel / (TORQUE * log(fa) * 0.036 * u_q), 1, 1e-2, "fuel flow");
  /* df/f = fm dp/dry + fm 0.7 dT/T + fm ps dphi/dry */
  double ps = ew_saturation_pressure_pa(303.15), dry = 95000 - d.curve.conditions.vapour_pa;
  double air = TORQUE * fm *
               sqrt(pow(d.bench.pressure_uncertainty_pa / dry, 2) +
                    pow(0.7 * d.bench.temperature_uncertainty_k / 303.0, 2) +
                    pow(ps * d.bench.humidity_uncertainty / dry, 2));
  expect_near(by_air / air, 1, 2e-2, "and the air of a diesel, which had no part");
  end(&d);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_measured_column), cmocka_unit_test(brake_specific_fuel),
      cmocka_unit_test(volumetric_efficiency), cmocka_unit_test(mean_effective_pressure),
      cmocka_unit_test(fuel_through_the_factor)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
