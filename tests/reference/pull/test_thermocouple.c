/* Thermocouples against the published tables of NIST Monograph 175 (ITS-90; the same figures stand in
 * IEC 60584-1), which give millivolts to three decimals: half a step of tolerance, and a little for
 * the figure's own rounding. The table figures below were written from memory, apart from the
 * coefficients, which they hold. Sensor calibration rides along. */
#include "../near.h"
#include "pull/sensor.h"
#include "pull/thermocouple.h"

#define HALF_STEP 0.00051

static const struct {
  enum ew_thermocouple type;
  double celsius, mv;
} table[] = {
#define V(type, celsius, mv)                                                                       \
  { EW_THERMOCOUPLE_##type, celsius, mv }
    V(K, -200, -5.891), V(K, -100, -3.554), V(K, 0, 0),         V(K, 100, 4.096),
    V(K, 200, 8.138),   V(K, 300, 12.209),  V(K, 400, 16.397),  V(K, 500, 20.644),
    V(K, 600, 24.905),  V(K, 700, 29.129),  V(K, 800, 33.275),  V(K, 900, 37.326),
    V(K, 1000, 41.276), V(K, 1100, 45.119), V(K, 1200, 48.838), V(K, 1300, 52.410),
    V(J, -200, -7.890), V(J, -100, -4.633), V(J, 100, 5.269),   V(J, 200, 10.779),
    V(J, 300, 16.327),  V(J, 400, 21.848),  V(J, 500, 27.393),  V(J, 600, 33.102),
    V(J, 700, 39.132),  V(J, 800, 45.494),  V(J, 900, 51.877),  V(J, 1000, 57.953),
    V(T, -200, -5.603), V(T, -100, -3.379), V(T, 100, 4.279),   V(T, 200, 9.288),
    V(T, 300, 14.862),  V(T, 400, 20.872),  V(N, -200, -3.990), V(N, -100, -2.407),
    V(N, 100, 2.774),   V(N, 200, 5.913),   V(N, 500, 16.748),  V(N, 1000, 36.256),
    V(N, 1300, 47.513), V(E, -200, -8.825), V(E, -100, -5.237), V(E, 100, 6.319),
    V(E, 200, 13.421),  V(E, 500, 37.005),  V(E, 1000, 76.373), V(S, 100, 0.646),
    V(S, 500, 4.233),   V(S, 1000, 9.587),  V(S, 1500, 15.582), V(R, 100, 0.647),
    V(R, 500, 4.471),   V(R, 1000, 10.506), V(R, 1500, 17.451), V(B, 500, 1.242),
    V(B, 1000, 4.834),  V(B, 1500, 10.099), V(B, 1800, 13.591),
};

static void test_tables(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(table); i++) {
    double got = ew_thermocouple_mv(table[i].type, table[i].celsius);
    if (!(fabs(got - table[i].mv) <= HALF_STEP))
      fail_msg("type %s at %g: %.5f mV, the table has %.3f", ew_thermocouple_names[table[i].type],
               table[i].celsius, got, table[i].mv);
  }
}

/* The pieces of one type meet, and the inverse gives back what went in. */
static void test_pieces_meet_and_inverse(void **state) {
  (void)state;
  static const struct {
    enum ew_thermocouple type;
    double at;
  } joints[] = {{EW_THERMOCOUPLE_B, 630.615}, {EW_THERMOCOUPLE_E, 0},
                {EW_THERMOCOUPLE_J, 760},     {EW_THERMOCOUPLE_K, 0},
                {EW_THERMOCOUPLE_N, 0},       {EW_THERMOCOUPLE_R, 1064.18},
                {EW_THERMOCOUPLE_R, 1664.5},  {EW_THERMOCOUPLE_S, 1064.18},
                {EW_THERMOCOUPLE_S, 1664.5},  {EW_THERMOCOUPLE_T, 0}};
  for (gsize i = 0; i < G_N_ELEMENTS(joints); i++)
    assert_near(ew_thermocouple_mv(joints[i].type, joints[i].at + 1e-7),
                ew_thermocouple_mv(joints[i].type, joints[i].at - 1e-7), 1e-5);
  for (int type = 0; type < EW_THERMOCOUPLES_COUNT; type++) {
    double low, high;
    ew_thermocouple_range((enum ew_thermocouple)type, &low, &high);
    low = type == EW_THERMOCOUPLE_B ? 60 : fmax(low, -200);
    for (double c = low; c <= high; c += (high - low) / 257)
      assert_near(ew_thermocouple_celsius((enum ew_thermocouple)type,
                                          ew_thermocouple_mv((enum ew_thermocouple)type, c)),
                  c, 1e-6);
    assert_true(isnan(ew_thermocouple_celsius((enum ew_thermocouple)type, 1e3)));
  }
}

static void test_cold_junction(void **state) {
  (void)state;
  /* 700 °C, meter at 25 °C: 29.129 - 1.000 mV by the table of type K */
  assert_near(ew_thermocouple_compensated(EW_THERMOCOUPLE_K, 29.129 - 1.000, 25), 700, 0.03);
}

static struct ew_sensors *sensors_of(const char *yaml, GError **error) {
  g_autoptr(ew_node) root = ew_node_parse("t", yaml, strlen(yaml), error);
  return root ? ew_sensors_read(root, "t", error) : NULL;
}

/* A constant that is out of all reason, or a wire that brings rubbish: no figure, never an endless one. */
static void what_overflows_is_absent(void **state) {
  (void)state;
  g_autoptr(GError) error = NULL;
  g_autoptr(ew_sensors) all = sensors_of(
      "sensors:\n"
      "  - {channel: A, unit: bar, kind: linear, gain: 1e300}\n"
      "  - {channel: B, unit: bar, kind: table, raw: [0, 1e-300], values: [-1e308, 1e308]}\n"
      "  - {channel: C, unit: bar, kind: polynomial, coefficients: [0, 1, 1e300]}\n",
      &error);
  if (!all)
    fail_msg("%s", error->message);
  char *names[] = {(char *)"A", (char *)"B", (char *)"C"};
  char *units[] = {(char *)"V", (char *)"V", (char *)"V"};
  struct ew_source_channels raw = {3, names, units};
  struct ew_sensor_plan plan;
  ew_sensor_plan_make(all, &raw, &plan);
  const double in[] = {1e10, 5e-301, -1e10};
  double out[3];
  ew_sensor_plan_apply(&plan, in, out);
  for (int i = 0; i < 3; i++)
    if (!isnan(out[i]))
      fail_msg("sensor %s gives %g", names[i], out[i]);
  ew_sensor_plan_clear(&plan);
}

static void test_sensors(void **state) {
  (void)state;
  g_autoptr(GError) error = NULL;
  g_autoptr(ew_sensors) all = sensors_of(
      "sensors:\n"
      "  - {channel: AI 1, name: Oil pressure, unit: bar, kind: linear, gain: 2.5, offset: -1.25}\n"
      "  - {channel: AI 2, name: Oil temp, unit: degC, kind: table, raw: [0.2, 1.1, 2.9], values: "
      "[140, 90, 20]}\n"
      "  - {channel: AI 3, unit: kg/h, kind: polynomial, coefficients: [1, 2, 3]}\n"
      "  - {channel: TC 1, name: EGT 1, kind: thermocouple, type: K, junction: Terminal}\n",
      &error);
  if (!all)
    fail_msg("%s", error->message);
  char *names[] = {(char *)"TC 1", (char *)"AI 1", (char *)"Terminal", (char *)"AI 2",
                   (char *)"AI 3"};
  char *units[] = {(char *)"mV", (char *)"V", (char *)"degC", (char *)"V", (char *)""};
  struct ew_source_channels raw = {5, names, units}, now;
  struct ew_sensor_plan plan;
  ew_sensor_plan_make(all, &raw, &plan);
  ew_sensor_plan_channels(&plan, &raw, &now);
  assert_string_equal(now.names[0], "EGT 1");
  assert_string_equal(now.units[0], "degC");
  assert_string_equal(now.names[4], "AI 3");
  const double in[] = {28.129, 2, 25, 2, 2};
  double out[5];
  ew_sensor_plan_apply(&plan, in, out);
  assert_near(out[0], 700, 0.03);
  assert_near(out[1], 3.75, 1e-12);
  assert_near(out[2], 25, 0);
  assert_near(out[3], 90 - 70 * 0.5, 1e-12);
  assert_near(out[4], 1 + 4 + 12, 1e-12);
  const double beyond[] = {NAN, 2, NAN, 3.5, 2};
  ew_sensor_plan_apply(&plan, beyond, out);
  assert_true(isnan(out[0]) && isnan(out[3])); /* no junction; outside the table */
  ew_source_channels_clear(&now);
  ew_sensor_plan_clear(&plan);
  static const char *const refused[] = {
      "sensors: [{channel: a, kind: table, raw: [1, 1], values: [1, 2]}]",
      "sensors: [{channel: a, kind: table, raw: [1, 2], values: [1]}]",
      "sensors: [{kind: linear}]",
      "sensors: [{channel: a, kind: thermocouple, type: X}]",
      "sensors: [{channel: a, kind: thermocouple, unit: degF}]",
      "gauges: []"};
  for (gsize i = 0; i < G_N_ELEMENTS(refused); i++)
    assert_null(sensors_of(refused[i], NULL));
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_tables), cmocka_unit_test(test_pieces_meet_and_inverse),
      cmocka_unit_test(test_cold_junction), cmocka_unit_test(test_sensors),
      cmocka_unit_test(what_overflows_is_absent)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
