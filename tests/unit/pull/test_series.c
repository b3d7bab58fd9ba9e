#include "recording.h"

static struct ew_series *series_of(const char *text, const char *map_yaml, double stoichiometric,
                                   GError **error) {
  struct ew_channel_map *map = NULL;
  if (map_yaml) {
    g_autoptr(ew_node) root = ew_node_parse("map", map_yaml, strlen(map_yaml), error);
    map = root ? ew_channel_map_read(root, "map", error) : NULL;
    if (!map)
      return NULL;
  }
  struct ew_table *table = ew_table_read_bytes(text, strlen(text), "run.csv", error);
  struct ew_series *series =
      table ? ew_series_from_table(table, "run.csv", map, stoichiometric, error) : NULL;
  ew_table_free(table);
  ew_channel_map_free(map);
  return series;
}

/* One channel of the first row: what is read, in inside units. */
static void units_and_guesses(void **state) {
  (void)state;
  static const struct {
    const char *says, *heading, *value;
    enum ew_channel channel;
    double want, within;
  } rows[] = {
      {"a unit in the heading", "Oil Pressure [psi]", "65", EW_CHANNEL_OIL_PRESSURE, 448159.2, 0.2},
      {"oil pressure without a unit is bar", "Oil Pressure", "4.5", EW_CHANNEL_OIL_PRESSURE, 4.5e5,
       1},
      {"or kilopascal when bar can not be", "Oil Pressure", "450", EW_CHANNEL_OIL_PRESSURE, 4.5e5,
       1},
      {"a temperature without a unit is Celsius", "Oil Temp", "90", EW_CHANNEL_OIL_TEMPERATURE,
       363.15, 1e-6},
      {"or kelvin when Celsius can not be", "Oil Temp", "363", EW_CHANNEL_OIL_TEMPERATURE, 363,
       1e-6},
      {"Fahrenheit by its unit", "Oil Temp [°F]", "194", EW_CHANNEL_OIL_TEMPERATURE, 363.15, 1e-6},
      {"a barometer in hectopascal", "Baro", "990", EW_CHANNEL_BAROMETER, 99000, 1e-6},
      {"in kilopascal", "Baro", "99", EW_CHANNEL_BAROMETER, 99000, 1e-6},
      {"in inches of mercury", "Baro", "29.2", EW_CHANNEL_BAROMETER, 98882.5, 1},
      {"throttle in per cent", "TPS", "98", EW_CHANNEL_THROTTLE, 0.98, 1e-9},
      {"throttle as a share", "TPS", "0.98", EW_CHANNEL_THROTTLE, 0.98, 1e-9},
      {"torque in lb-ft", "Torque [lb-ft]", "100", EW_CHANNEL_TORQUE, 135.5818, 1e-4},
      {"torque without a unit is N·m", "Torque", "100", EW_CHANNEL_TORQUE, 100, 1e-9},
      {"speed in revolutions a second", "Engine Speed [rev/s]", "50", EW_CHANNEL_SPEED, 3000, 1e-6},
      {"a unit alone tells torque", "Channel 7 [N·m]", "100", EW_CHANNEL_TORQUE, 100, 1e-9},
      {"lambda without dimension", "Lambda [-]", "0.88", EW_CHANNEL_LAMBDA, 0.88, 1e-12},
      {"lambda of unit 1", "Lambda [1]", "0.88", EW_CHANNEL_LAMBDA, 0.88, 1e-12},
      {"a heading that is a unit of torque", "Nm", "100", EW_CHANNEL_TORQUE, 100, 1e-9},
      {"a heading that is another", "lb-ft", "100", EW_CHANNEL_TORQUE, 135.5818, 1e-4},
      {"a unit behind a blank", "Oil P psi", "65", EW_CHANNEL_OIL_PRESSURE, 448159.2, 0.2},
      {"of two words", "Torque lb ft", "100", EW_CHANNEL_TORQUE, 135.5818, 1e-4},
      {"a heading that is a unit of power", "hp", "400", EW_CHANNEL_POWER, 298279.9, 0.1},
      {"German horsepower", "Leistung PS", "400", EW_CHANNEL_POWER, 294199.5, 0.1},
      {"F behind a temperature", "Oil Temp F", "194", EW_CHANNEL_OIL_TEMPERATURE, 363.15, 1e-6},
      {"'In' is not inches", "Water Temp In", "90", EW_CHANNEL_COOLANT_TEMPERATURE, 363.15, 1e-6},
      {"'min' is not minutes", "Oil Pressure min", "4.5", EW_CHANNEL_OIL_PRESSURE, 4.5e5, 1},
      {"per minute", "Engine Speed 1/min", "3000", EW_CHANNEL_SPEED, 3000, 1e-6},
      {"German turns", "Drehzahl U/min", "3000", EW_CHANNEL_SPEED, 3000, 1e-6},
      {"a stroke of the unit's own", "Fuel Flow lb/hr", "100", EW_CHANNEL_FUEL_FLOW, 0.01259979,
       1e-8},
      {"a tachometer's thousands", "RPM x1000", "3.2", EW_CHANNEL_SPEED, 3200, 1e-6},
      {"and in brackets", "Engine Speed (rpm x 1000)", "3.2", EW_CHANNEL_SPEED, 3200, 1e-6},
      {"and by a stroke", "rpm/1000", "3.2", EW_CHANNEL_SPEED, 3200, 1e-6},
      {"but not of whole speeds", "RPM x1000", "3200", EW_CHANNEL_SPEED, 3200, 1e-6},
      {"torque as it is often written", "Torque [ft/lbs]", "100", EW_CHANNEL_TORQUE, 135.5818,
       1e-4},
      {"what cannot be Celsius is asked about in Celsius", "Water Temp", "185",
       EW_CHANNEL_COOLANT_TEMPERATURE, 458.15, 1e-6},
      {"a unit says which of oil's two", "Oil [C]", "90", EW_CHANNEL_OIL_TEMPERATURE, 363.15, 1e-6},
      {"and the other", "Oil [bar]", "4.5", EW_CHANNEL_OIL_PRESSURE, 4.5e5, 1},
      {"behind a blank", "Oil psi", "65", EW_CHANNEL_OIL_PRESSURE, 448159.2, 0.2},
      {"fuel in bar does not flow", "Fuel [bar]", "3.5", EW_CHANNEL_FUEL_PRESSURE, 3.5e5, 1},
      {"fuel in kg/h does", "Fuel [kg/h]", "36", EW_CHANNEL_FUEL_FLOW, 0.01, 1e-9},
      {"an exhaust in degrees", "Exhaust 3 [°C]", "700", EW_CHANNEL_EXHAUST_TEMPERATURE, 973.15,
       1e-6},
      {"a psychrometer's dry bulb is the air", "Dry bulb [°C]", "19",
       EW_CHANNEL_INLET_AIR_TEMPERATURE, 292.15, 1e-6},
      {"fuel in lb/hr", "Fuel Flow [lb/hr]", "100", EW_CHANNEL_FUEL_FLOW, 0.01259979, 1e-8},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autofree char *text =
        g_strdup_printf("Time [s],Spare,%s\n0,1,%s\n0.1,1,%s\n0.2,1,%s\n", rows[i].heading,
                        rows[i].value, rows[i].value, rows[i].value);
    g_autoptr(GError) error = NULL;
    struct ew_series *s = series_of(text, NULL, NAN, &error);
    expect(s != NULL, rows[i].says, "%s", error ? error->message : "");
    const double *values = ew_series_values(s, rows[i].channel);
    expect(values != NULL, rows[i].says, "%s", id_of(s->channels[2].why));
    expect_near(values[0], rows[i].want, rows[i].within, rows[i].says);
    expect(s->channels[2].why, rows[i].says, "no reason");
    ew_series_free(s);
  }
}

static void times(void **state) {
  (void)state;
  static const struct {
    const char *says, *heading, *times[4];
    double second, interval, start;
    gsize rows;
    const char *note;
  } rows[] = {
      {"seconds", "Time [s]", {"5", "5.5", "6", "6.5"}, 0.5, 0.5, NAN, 4, NULL},
      {"a clock whose unit says how it is written",
       "Time [h:m:s]",
       {"0:00:05", "0:00:06", "0:00:07", "0:00:08"},
       1,
       1,
       NAN,
       4,
       NULL},
      {"a clock with a comma in a file of decimal points",
       "Time [h:m:s]",
       {"\"0:00:05,0\"", "\"0:00:05,5\"", "\"0:00:06,0\"", "\"0:00:06,5\""},
       0.5,
       0.5,
       NAN,
       4,
       NULL},
      {"a clock whose unit is seconds",
       "Time [s]",
       {"0:00:05", "0:00:06", "0:00:07", "0:00:08"},
       1,
       1,
       NAN,
       4,
       NULL},
      {"milliseconds by the unit", "Time [ms]", {"0", "20", "40", "60"}, 0.02, 0.02, NAN, 4, NULL},
      {"milliseconds by their steps",
       "Time",
       {"0", "20", "40", "60"},
       0.02,
       0.02,
       NAN,
       4,
       "pull.milliseconds-assumed"},
      {"milliseconds by the name", "time_ms", {"0", "2", "4", "6"}, 0.002, 0.002, NAN, 4, NULL},
      {"a heading that is a unit of time",
       "ms",
       {"418250", "418270", "418290", "418310"},
       0.02,
       0.02,
       NAN,
       4,
       NULL},
      {"seconds alone", "s", {"5", "5.5", "6", "6.5"}, 0.5, 0.5, NAN, 4, NULL},
      {"minutes by the unit", "Time [min]", {"0", "1", "2", "3"}, 60, 60, NAN, 4, NULL},
      {"a clock",
       "Time",
       {"14:00:00.0", "14:00:00.5", "14:00:01.0", "14:00:01.5"},
       0.5,
       0.5,
       NAN,
       4,
       NULL},
      {"a clock over midnight",
       "Time",
       {"23:59:59.0", "23:59:59.5", "00:00:00.0", "00:00:00.5"},
       0.5,
       0.5,
       NAN,
       4,
       NULL},
      {"a clock over midnight, where a time is missing",
       "Time",
       {"23:59:59.0", "", "00:00:00.0", "00:00:01.0"},
       1,
       1,
       NAN,
       3,
       "pull.rows-without-time"},
      {"ISO 8601",
       "Time",
       {"2026-06-12T14:00:00Z", "2026-06-12T14:00:01Z", "2026-06-12T14:00:02Z",
        "2026-06-12T14:00:03Z"},
       1,
       1,
       1781272800,
       4,
       NULL},
      {"two rows changed places",
       "Time [s]",
       {"0", "2", "1", "3"},
       1,
       1,
       NAN,
       4,
       "pull.rows-sorted"},
      {"all backwards", "Time [s]", {"3", "2", "1", "0"}, 1, 1, NAN, 4, "pull.rows-sorted"},
      {"a time that stands twice",
       "Time [s]",
       {"0", "1", "1", "2"},
       1,
       1,
       NAN,
       3,
       "pull.rows-repeated"},
      {"a row without a time",
       "Time [s]",
       {"0", "1", "", "2"},
       1,
       1,
       NAN,
       3,
       "pull.rows-without-time"},
      {"no time", "Spare", {"7", "7", "7", "7"}, 1, NAN, NAN, 4, NULL},
      {"T is a temperature when it falls", "T", {"20", "19", "21", "18"}, 1, NAN, NAN, 4, NULL},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    GString *text = g_string_new(NULL);
    g_string_append_printf(text, "%s,RPM,Torque\n", rows[i].heading);
    for (int k = 0; k < 4; k++)
      g_string_append_printf(text, "%s,%d,%d\n", rows[i].times[k], 3000 + k, 200);
    g_autoptr(GError) error = NULL;
    struct ew_series *s = series_of(text->str, NULL, NAN, &error);
    expect(s != NULL, rows[i].says, "%s", error ? error->message : "");
    expect(s->rows == rows[i].rows, rows[i].says, "%zu", s->rows);
    expect_near(s->time_s[0], 0, 0, rows[i].says);
    expect_near(s->time_s[1], rows[i].second, 1e-6, rows[i].says);
    expect_near(s->interval_s, rows[i].interval, 1e-6, rows[i].says);
    expect_near(s->start_unix_s, rows[i].start, 1e-6, rows[i].says);
    expect(s->timed == !isnan(rows[i].interval), rows[i].says, "%d", s->timed);
    expect(!rows[i].note || says_so(s->notes, rows[i].note), rows[i].says, "%u notes",
           s->notes->len);
    if (strstr(rows[i].says, "backwards")) /* rows move together */
      assert_true(ew_series_values(s, EW_CHANNEL_SPEED)[0] == 3003);
    ew_series_free(s);
    g_string_free(text, TRUE);
  }
}

static void a_coarse_clock(void **state) {
  (void)state;
  GString *text = g_string_new("Time,RPM,Torque\n");
  for (int i = 0; i < 100; i++)
    g_string_append_printf(text, "14:00:%02d,%d,200\n", i / 10, 3000 + i);
  struct ew_series *s = series_of(text->str, NULL, NAN, NULL);
  assert_int_equal(s->rows, 100);
  for (gsize i = 0; i < 100; i++)
    expect_near(s->time_s[i], 0.1 * (double)i, 1e-9, "rows of one second are spread");
  assert_true(says_so(s->notes, "pull.coarse-clock"));
  ew_series_free(s);
  g_string_free(text, TRUE);
}

static void lambda_and_air_fuel_ratio(void **state) {
  (void)state;
  const char *text = "Time,RPM,Torque,AFR\n0,3000,200,12.9\n1,3100,201,12.9\n2,3200,202,12.9\n";
  struct ew_series *s = series_of(text, NULL, 14.7, NULL);
  expect_near(ew_series_values(s, EW_CHANNEL_LAMBDA)[0], 12.9 / 14.7, 1e-12, "through the fuel");
  assert_string_equal(id_of(s->channels[3].why), "pull.lambda-from-ratio");
  expect_near(figure_of(s->channels[3].why, "ratio"), 14.7, 0, "of the fuel");
  ew_series_free(s);
  s = series_of(text, NULL, NAN, NULL);
  assert_null(ew_series_values(s, EW_CHANNEL_LAMBDA));
  assert_non_null(ew_series_values(s, EW_CHANNEL_AIR_FUEL_RATIO));
  assert_true(says_so(s->notes, "pull.ratio-without-fuel"));
  ew_series_free(s);
  const char *both = "Time,RPM,Torque,Lambda [AFR]\n0,3000,200,12.9\n1,3100,201,12.9\n2,3,2,12.9\n";
  s = series_of(both, NULL, 14.7, NULL);
  expect_near(ew_series_values(s, EW_CHANNEL_LAMBDA)[0], 12.9 / 14.7, 1e-12,
              "a lambda in AFR is a ratio");
  ew_series_free(s);
}

static void rivals(void **state) {
  (void)state;
  const char *text =
      "Time,RPM,Engine Speed [rpm],Torque,Target Torque,EGT,EGT,Lambda Target,Lambda 1\n"
      "0,3000,3001,200,999,700,710,0.8,0.9\n1,3100,3101,201,999,701,711,0.8,0.9\n";
  struct ew_series *s = series_of(text, NULL, NAN, NULL);
  assert_non_null(s);
  guint speeds = 0;
  for (guint i = 0; i < s->channels_count; i++)
    speeds += s->channels[i].channel == EW_CHANNEL_SPEED;
  assert_int_equal(speeds, 1);
  expect_near(ew_series_values(s, EW_CHANNEL_TORQUE)[0], 200, 0, "a target is no torque");
  expect_near(ew_series_values(s, EW_CHANNEL_LAMBDA)[0], 0.9, 0, "a target is no lambda");
  assert_non_null(ew_series_find(s, EW_CHANNEL_EXHAUST_TEMPERATURE, 0));
  ew_series_free(s);
}

static void a_channel_map(void **state) {
  (void)state;
  const char *text =
      "Time,RPM,Load 1,Torque,O2\n0,3000,100,5,0.9\n1,3100,101,5,0.9\n2,3200,102,5,0.9\n";
  const char *map = "channels:\n  torque: { column: Load 1, unit: lb-ft }\n"
                    "  lambda: { column: O2, lag: 0.3 s }\nignore: [Torque]\n";
  g_autoptr(GError) error = NULL;
  struct ew_series *s = series_of(text, map, NAN, &error);
  expect(s != NULL, "a map", "%s", error ? error->message : "");
  expect_near(ew_series_values(s, EW_CHANNEL_TORQUE)[0], 135.58179, 1e-4, "by the map");
  expect_near(ew_series_find(s, EW_CHANNEL_LAMBDA, 0)->lag_s, 0.3, 1e-12, "with its lag");
  assert_string_equal(id_of(s->channels[3].why), "pull.left-out-by-map");
  ew_series_free(s);
}

static void refusals(void **state) {
  (void)state;
  static const struct {
    const char *says, *text, *map, *words;
  } rows[] = {
      {"a column that is not there", "Time,RPM\n0,3000\n1,3100\n",
       "channels: {torque: {column: L}}", "run.csv|'L'"},
      {"no channel of that name", "Time,RPM\n0,3\n1,3\n", "channels: {torq: {column: RPM}}",
       "torq|torque"},
      {"a unit that is none of torque", "Time,RPM\n0,3\n1,3\n",
       "channels: {torque: {column: RPM, unit: bar}}", "torque|'bar'"},
      {"no column", "Time,RPM\n0,3\n1,3\n", "channels: {torque: {unit: N·m}}", "column"},
      {"a number with a typo behind a channel", "Time,RPM\n0,3\n1,3\n",
       "channels: {lambda 2x: {column: RPM}}", "lambda 2x|number"},
      {"a word behind a channel", "Time,RPM\n0,3\n1,3\n", "channels: {torque x: {column: RPM}}",
       "torque x|number"},
      {"a number that is none", "Time,RPM\n0,3\n1,3\n", "channels: {torque -1: {column: RPM}}",
       "torque -1|number"},
      {"an unknown word in a map", "Time,RPM\n0,3\n1,3\n", "channels: {torque: {colum: RPM}}",
       "colum|column"},
      {"neither channels nor ignore", "Time,RPM\n0,3\n1,3\n", "chanels: {}", "chanels"},
      {"a list for a map", "Time,RPM\n0,3\n1,3\n", "[1]", "channels:"},
      {"one row", "Time,RPM,Torque\n0,3000,200\n", NULL, "run.csv|one row"},
      {"one time on all rows", "Time,RPM,Torque\n1,3000,200\n1,3000,200\n1,3,2\n", NULL, "one row"},
      {"torque in bar", "Time,RPM,Torque [bar]\n0,3000,200\n1,3100,201\n", NULL,
       "Torque|'bar'|--map"},
      {"time in volts", "Time [V],RPM,Torque\n0,3000,200\n1,3100,201\n", NULL, "Time|'V'"},
      {"speed below nothing", "Time,RPM,Torque\n0,-3000,200\n1,-3100,201\n", NULL, "RPM|above 0"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GError) error = NULL;
    struct ew_series *s = series_of(rows[i].text, rows[i].map, NAN, &error);
    expect(s == NULL, rows[i].says, "%zu rows", s->rows);
    expect_refused(error, rows[i].words, rows[i].says);
  }
}

static void told(void **state) {
  (void)state;
  static const struct {
    const char *says, *text, *note;
  } rows[] = {
      {"reduced to sea level", "Time,RPM,QNH [hPa]\n0,3000,1013\n1,3100,1013\n",
       "pull.sea-level-pressure"},
      {"implausible in the middle", "Time,RPM,Oil Temp [°C]\n0,3000,900\n1,3100,900\n2,3,900\n",
       "pull.implausible"},
      {"a clock that jumps", "Time,RPM\n0,3\n1,3\n2,3\n30,3\n31,3\n", "pull.clock-jumps"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_series *s = series_of(rows[i].text, NULL, NAN, NULL);
    expect(s && says_so(s->notes, rows[i].note), rows[i].says, "not told");
    assert_null(ew_series_values(s, EW_CHANNEL_BAROMETER));
    ew_series_free(s);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(units_and_guesses),
                                     cmocka_unit_test(times),
                                     cmocka_unit_test(a_coarse_clock),
                                     cmocka_unit_test(lambda_and_air_fuel_ratio),
                                     cmocka_unit_test(rivals),
                                     cmocka_unit_test(a_channel_map),
                                     cmocka_unit_test(refusals),
                                     cmocka_unit_test(told)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
