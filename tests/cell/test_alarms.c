/* Every alarm of the template: a pull in which it trips, in time, and one close by in which it does
 * not; the false alarms that drive a person mad; latching, locking, and the order of a shut-down.
 * The limits are the template's own; the trade's list of them is common practice, no source. */
#include "near.h"
#include "cell/alarm.h"
#include "cell/output_machine.h"
#include "cell/outputs.h"
#include <glib/gstdio.h>
#include <stdlib.h>

#define STEP     0.01
#define LOAD_S   2.0
#define SWEEP_S  3.2
#define END_S    16.5
#define PULL_END 16.9

struct scene {
  const char *says;
  enum ew_channel channel;
  int index;
  enum mode { NOTHING, SET, ADD, SCALE, GONE, FREEZE, BEATS, RUN_UP } mode;
  double value, from_s, for_s;
  gboolean dwell; /* a steady speed from 5 s on instead of a sweep */
};

static struct ew_alarm_table *template_table(const struct ew_alarm_context *context) {
  g_autofree char *path = g_build_filename(g_getenv("EW_EXAMPLES"), "alarms.yaml", NULL);
  g_autoptr(GError) error = NULL;
  g_autoptr(ew_node) root = ew_node_read(path, &error);
  struct ew_alarm_table *table = root ? ew_alarm_table_read(root, path, context, &error) : NULL;
  if (!table)
    fail_msg("%s", error->message);
  return table;
}

static const struct ew_alarm_context plate = {7000, 300, 400, 6800, 4e5};

static double speed_at(double t, gboolean dwell) {
  if (t < SWEEP_S)
    return 2500;
  if (dwell)
    t = MIN(t, 5);
  return t < END_S ? 2500 + 300 * (t - SWEEP_S)
                   : fmax(2500 + 300 * (END_S - SWEEP_S) - 900 * (t - END_S), 2000);
}

static double torque_at(double speed) {
  return 300 - 2.5e-6 * (speed - 5200) * (speed - 5200) * 4; /* past its peak it falls */
}

static void base(struct ew_alarms *a, double t, gboolean dwell) {
  double speed = speed_at(t, dwell), wobble = 0.002 * sin(997 * t);
  gboolean loaded = t > LOAD_S && t < END_S;
  double throttle = t < LOAD_S ? 0.1 : t < END_S ? fmin(0.1 + 5 * (t - LOAD_S), 1) : 0.04;
  ew_alarms_set(a, EW_CHANNEL_SPEED, 0, speed * (1 + wobble / 4));
  ew_alarms_set(a, EW_CHANNEL_THROTTLE, 0, throttle);
  ew_alarms_set(a, EW_CHANNEL_TORQUE, 0,
                loaded ? torque_at(speed) * (1 + 4 * wobble) : 15 + wobble);
  ew_alarms_set(a, EW_CHANNEL_OIL_PRESSURE, 0, fmin(2e5 + 60 * speed, 5e5) * (1 + wobble));
  ew_alarms_set(a, EW_CHANNEL_OIL_TEMPERATURE, 0, 363 + wobble);
  ew_alarms_set(a, EW_CHANNEL_COOLANT_TEMPERATURE, 0, 351); /* stands still, and may */
  ew_alarms_set(a, EW_CHANNEL_BAROMETER, 0, 99000);
  ew_alarms_set(a, EW_CHANNEL_COOLANT_PRESSURE, 0, 9e4 + 500 * wobble);
  ew_alarms_set(a, EW_CHANNEL_FUEL_PRESSURE, 0, 3.5e5 - (loaded ? 8000 : 0));
  /* lean at tip-in until the gas has come, and on the overrun */
  ew_alarms_set(a, EW_CHANNEL_LAMBDA, 0,
                t < LOAD_S         ? 1.0
                : t < LOAD_S + 0.5 ? 1.3
                : t < END_S        ? 0.88
                                   : 1.5);
  ew_alarms_set(a, EW_CHANNEL_LAMBDA_2, 0, t > LOAD_S + 0.5 && t < END_S ? 0.88 : 1.3);
  ew_alarms_set(a, EW_CHANNEL_KNOCK, 0, 0);
  ew_alarms_set(a, EW_CHANNEL_ABSORBER_WATER_TEMPERATURE, 0, 305);
  for (int i = 1; i <= 6; i++)
    ew_alarms_set(a, EW_CHANNEL_EXHAUST_TEMPERATURE, i, (loaded ? 960 : 800) + 6 * i + wobble);
}

static double base_value(enum ew_channel channel, int index, double t, gboolean dwell) {
  double speed = speed_at(t, dwell), wobble = 0.002 * sin(997 * t);
  switch (channel) {
  case EW_CHANNEL_OIL_PRESSURE: return fmin(2e5 + 60 * speed, 5e5);
  case EW_CHANNEL_TORQUE: return torque_at(speed) * (1 + 4 * wobble);
  case EW_CHANNEL_SPEED: return speed;
  case EW_CHANNEL_COOLANT_PRESSURE: return 9e4;
  case EW_CHANNEL_FUEL_PRESSURE: return 3.42e5;
  case EW_CHANNEL_EXHAUST_TEMPERATURE: return 960 + 6 * index;
  default: return NAN;
  }
}

static void change(struct ew_alarms *a, const struct scene *s, double t) {
  if (s->mode == NOTHING || t < s->from_s - STEP / 2 || t >= s->from_s + s->for_s - STEP / 2)
    return;
  double was = base_value(s->channel, s->index, t, s->dwell), now = s->value;
  switch (s->mode) {
  case ADD: now = was + s->value; break;
  case SCALE: now = was * s->value; break;
  case GONE: now = NAN; break;
  case FREEZE: now = base_value(s->channel, s->index, s->from_s, s->dwell); break;
  case BEATS: now = fmod(t - s->from_s + STEP / 10, s->value) < STEP ? 1 : 0; break;
  case RUN_UP: now = was + s->value * (t - s->from_s); break;
  default: break;
  }
  ew_alarms_set(a, s->channel, s->index, now);
}

/* One pull; the trips are appended. */
static void pull(struct ew_alarms *a, const struct scene *s, GArray *trips, GArray *near) {
  static double offset; /* one pull after another on one clock */
  offset += 100;
  for (int step = -400; step < 2000; step++) {
    double t = step * STEP;
    if (fabs(t - LOAD_S - 0.35) < STEP / 2)
      ew_alarms_begin_pull(a, offset + t);
    if (fabs(t - PULL_END) < STEP / 2)
      ew_alarms_end_pull(a, TRUE, near);
    base(a, MAX(t, 0), s->dwell);
    change(a, s, t);
    guint before = trips->len;
    ew_alarms_step(a, offset + t, trips);
    for (guint i = before; i < trips->len; i++)
      g_array_index(trips, struct ew_alarm_trip, i).time_s -= offset;
  }
}

static const struct scene clean = {"nothing", 0, 0, NOTHING, 0, 0, 0, FALSE};

static GArray *trips_of(const struct scene *s, guint learned,
                        const struct ew_alarm_context *context) {
  g_autoptr(ew_own_curves) own = ew_own_curves_new();
  g_autoptr(ew_alarms) a = ew_alarms_new(template_table(context), own);
  GArray *trips = g_array_new(FALSE, FALSE, sizeof(struct ew_alarm_trip));
  for (guint i = 0; i < learned; i++)
    pull(a, &clean, trips, NULL);
  assert_int_equal(trips->len, 0);
  assert_int_equal(ew_own_curves_pulls(own), learned);
  pull(a, s, trips, NULL);
  /* names live in the table: keep the index of each alarm as what it is called */
  for (guint i = 0; i < trips->len; i++) {
    struct ew_alarm_trip *trip = &g_array_index(trips, struct ew_alarm_trip, i);
    trip->bound = trip->alarm->hold_s;
    trip->alarm = (const void *)g_intern_string(trip->alarm->name);
  }
  return trips;
}

static const struct {
  const char *alarm;
  struct scene trips, stays;
  guint learned;
  double late_s; /* of its hold; what the expression itself needs */
} cases[] = {
#define S(channel, index, mode, value, from, length)                                               \
  { "", EW_CHANNEL_##channel, index, mode, value, from, length, FALSE }
    {"oil pressure falling", S(OIL_PRESSURE, 0, SCALE, 0.77, 8, 1),
     S(OIL_PRESSURE, 0, SCALE, 0.83, 8, 1), 2, 0},
    {"oil pressure lost", S(OIL_PRESSURE, 0, SCALE, 0.6, 8, 0.2),
     S(OIL_PRESSURE, 0, SCALE, 0.6, 8, 0.1), 2, 0},
    {"oil pressure floor", S(OIL_PRESSURE, 0, SET, 1.9e5, 10, 0.3),
     S(OIL_PRESSURE, 0, SET, 2.1e5, 10, 1), 0, 0},
    {"oil pressure least", S(OIL_PRESSURE, 0, SET, 1.0e5, 8, 1),
     S(OIL_PRESSURE, 0, SET, 1.6e5, 8, 1), 0, 0},
    {"oil hot", S(OIL_TEMPERATURE, 0, SET, 394.15, 8, 2), S(OIL_TEMPERATURE, 0, SET, 392.15, 8, 4),
     0, 0},
    {"oil very hot", S(OIL_TEMPERATURE, 0, SET, 404.15, 8, 2),
     S(OIL_TEMPERATURE, 0, SET, 402.15, 8, 4), 0, 0},
    {"coolant hot", S(COOLANT_TEMPERATURE, 0, SET, 369.15, 8, 1),
     S(COOLANT_TEMPERATURE, 0, SET, 367.15, 8, 4), 0, 0},
    {"coolant very hot", S(COOLANT_TEMPERATURE, 0, SET, 379.15, 8, 1),
     S(COOLANT_TEMPERATURE, 0, SET, 377.15, 8, 4), 0, 0},
    {"coolant pressure rising", S(COOLANT_PRESSURE, 0, ADD, 3.5e4, 8, 1),
     S(COOLANT_PRESSURE, 0, ADD, 2.5e4, 8, 1), 0, 0},
    {"lean", S(LAMBDA, 0, SET, 0.97, 8, 1), S(LAMBDA, 0, SET, 0.94, 8, 1), 0, 0},
    {"very lean", S(LAMBDA, 0, SET, 1.04, 8, 1), S(LAMBDA, 0, SET, 1.0, 8, 1), 0, 0},
    {"second bank lean", S(LAMBDA_2, 0, SET, 0.97, 8, 1), S(LAMBDA_2, 0, SET, 0.97, 8, 0.2), 0, 0},
    {"second bank very lean", S(LAMBDA_2, 0, SET, 1.04, 8, 1), S(LAMBDA_2, 0, SET, 1.0, 8, 1), 0,
     0},
    {"fuel pressure falling", S(FUEL_PRESSURE, 0, SCALE, 0.88, 8, 1),
     S(FUEL_PRESSURE, 0, SCALE, 0.93, 8, 1), 0, 0},
    {"exhaust hot", S(EXHAUST_TEMPERATURE, 6, ADD, 90, 8, 3),
     S(EXHAUST_TEMPERATURE, 6, ADD, 70, 8, 3), 2, 0},
    {"exhaust uneven",
     {"", EW_CHANNEL_EXHAUST_TEMPERATURE, 3, ADD, 70, 9, 3, TRUE},
     {"", EW_CHANNEL_EXHAUST_TEMPERATURE, 6, ADD, 20, 9, 3, TRUE},
     0,
     0},
    {"knock", S(KNOCK, 0, BEATS, 0.2, 8, 0.6), S(KNOCK, 0, BEATS, 0.2, 8, 0.4), 0, 0.4},
    {"heavy knock", S(KNOCK, 0, BEATS, 0.1, 8, 0.8), S(KNOCK, 0, BEATS, 0.1, 8, 0.7), 0, 0.7},
    {"overspeed", S(SPEED, 0, SET, 7150, 12, 0.01), S(SPEED, 0, SET, 7100, 12, 0.01), 0, 0},
    {"torque falling", S(TORQUE, 0, SCALE, 0.92, 8, 0.5), S(TORQUE, 0, SCALE, 0.965, 8, 2), 1, 0},
    {"runaway", S(SPEED, 0, RUN_UP, 1200, 8, 0.4), S(SPEED, 0, RUN_UP, 400, 8, 0.4), 0, 0.12},
    {"absorber water hot", S(ABSORBER_WATER_TEMPERATURE, 0, SET, 335, 8, 2),
     S(ABSORBER_WATER_TEMPERATURE, 0, SET, 332, 8, 4), 0, 0},
    {"absorber torque", S(TORQUE, 0, SET, 410, 8, 0.5), S(TORQUE, 0, SET, 390, 8, 0.5), 0, 0},
    {"absorber speed", S(SPEED, 0, SET, 6850, 12, 0.01), S(SPEED, 0, SET, 6750, 12, 0.01), 0, 0},
    {"oil pressure sensor lost", S(OIL_PRESSURE, 0, GONE, 0, 8, 0.4),
     S(OIL_PRESSURE, 0, GONE, 0, 8, 0.15), 0, 0.03},
    {"speed sensor lost", S(SPEED, 0, GONE, 0, 8, 0.4), S(SPEED, 0, GONE, 0, 8, 0.15), 0, 0.03},
    {"torque sensor lost", S(TORQUE, 0, GONE, 0, 8, 0.5), S(TORQUE, 0, GONE, 0, 8, 0.2), 0, 0.03},
    {"lambda sensor lost", S(LAMBDA, 0, GONE, 0, 8, 0.5), S(LAMBDA, 0, GONE, 0, 8, 0.2), 0, 0.03},
    {"coolant sensor lost", S(COOLANT_TEMPERATURE, 0, GONE, 0, 8, 0.5),
     S(COOLANT_TEMPERATURE, 0, GONE, 0, 8, 0.2), 0, 0.03},
    {"throttle sensor lost", S(THROTTLE, 0, GONE, 0, 8, 0.5), S(THROTTLE, 0, GONE, 0, 8, 0.2), 0,
     0.03},
    {"oil pressure frozen", S(OIL_PRESSURE, 0, FREEZE, 0, 5, 2),
     S(OIL_PRESSURE, 0, FREEZE, 0, 5, 0.4), 0, 1.1},
    {"torque frozen", S(TORQUE, 0, FREEZE, 0, 5, 2), S(TORQUE, 0, FREEZE, 0, 5, 0.4), 0, 1.1},
};

static const struct ew_alarm_trip *find(const GArray *trips, const char *name) {
  for (guint i = 0; i < trips->len; i++)
    if (strcmp((const char *)g_array_index(trips, struct ew_alarm_trip, i).alarm, name) == 0)
      return &g_array_index(trips, struct ew_alarm_trip, i);
  return NULL;
}

static void test_each_trips_and_stays(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
    g_autoptr(GArray) trips = trips_of(&cases[i].trips, cases[i].learned, &plate);
    const struct ew_alarm_trip *trip = find(trips, cases[i].alarm);
    if (!trip)
      fail_msg("'%s' did not trip", cases[i].alarm);
    double late = trip->time_s - cases[i].trips.from_s - trip->bound - cases[i].late_s;
    if (!(late <= 2.5 * STEP))
      fail_msg("'%s' tripped %.3f s late", cases[i].alarm, late);
    g_autoptr(GArray) none = trips_of(&cases[i].stays, cases[i].learned, &plate);
    if (find(none, cases[i].alarm))
      fail_msg("'%s' tripped where it should have stayed quiet", cases[i].alarm);
  }
}

static void test_the_table_is_covered(void **state) {
  (void)state;
  g_autoptr(ew_alarm_table) table = template_table(&plate);
  assert_int_equal(table->alarms->len, G_N_ELEMENTS(cases));
  for (guint i = 0; i < table->alarms->len; i++) {
    gboolean found = FALSE;
    for (gsize k = 0; k < G_N_ELEMENTS(cases); k++)
      found |=
          strcmp(cases[k].alarm, g_array_index(table->alarms, struct ew_alarm_spec, i).name) == 0;
    if (!found)
      fail_msg("no case for '%s'", g_array_index(table->alarms, struct ew_alarm_spec, i).name);
  }
}

/* What must stay quiet within a pull; the clean pull itself holds more of them: torque past its peak,
 * lean at tip-in and on the overrun, a coolant and a barometer that stand still. */
static const struct scene quiet[] = {
    {"a clean pull", 0, 0, NOTHING, 0, 0, 0, FALSE},
    {"rate at load-up", EW_CHANNEL_SPEED, 0, RUN_UP, 1500, 2.3, 0.4, FALSE},
    {"exhaust spread in a sweep", EW_CHANNEL_EXHAUST_TEMPERATURE, 1, ADD, -80, 5, 6, FALSE},
    {"one lost sample of oil pressure", EW_CHANNEL_OIL_PRESSURE, 0, GONE, 0, 8, STEP, FALSE},
    {"one lost sample of speed", EW_CHANNEL_SPEED, 0, GONE, 0, 8, STEP, FALSE},
    {"one sample of oil pressure at nothing", EW_CHANNEL_OIL_PRESSURE, 0, SET, 0, 8, STEP, FALSE},
    {"a blink of lean", EW_CHANNEL_LAMBDA, 0, SET, 1.2, 8, 0.2, FALSE},
};

static void test_false_alarms_in_pulls(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(quiet); i++)
    for (guint learned = 0; learned <= 3; learned += 3) {
      g_autoptr(GArray) trips = trips_of(&quiet[i], learned, &plate);
      if (trips->len)
        fail_msg("%s: '%s' tripped", quiet[i].says,
                 (const char *)g_array_index(trips, struct ew_alarm_trip, 0).alarm);
    }
}

/* What may stand still through a whole pull is not frozen for it. */
static void test_still_is_not_frozen(void **state) {
  (void)state;
  const char *yaml =
      "alarms:\n"
      "  - {name: c, watch: frozen(coolant_temperature), says: a b c d, above: 0.5 s}\n"
      "  - {name: b, watch: frozen(barometer), says: a b c d, above: 0.5 s}\n"
      "  - {name: w, watch: frozen(absorber_water_temperature), says: a b c d, "
      "above: 0.5 s}\n";
  g_autoptr(ew_node) root = ew_node_parse("t", yaml, strlen(yaml), NULL);
  g_autoptr(ew_alarms) a = ew_alarms_new(ew_alarm_table_read(root, "t", &plate, NULL), NULL);
  g_autoptr(GArray) trips = g_array_new(FALSE, FALSE, sizeof(struct ew_alarm_trip));
  pull(a, &clean, trips, NULL);
  assert_int_equal(trips->len, 0);
}

static void test_hot_idle_cranking_and_stopping(void **state) {
  (void)state;
  g_autoptr(ew_own_curves) own = ew_own_curves_new();
  g_autoptr(ew_alarms) a = ew_alarms_new(template_table(&plate), own);
  g_autoptr(GArray) trips = g_array_new(FALSE, FALSE, sizeof(struct ew_alarm_trip));
  for (int i = 0; i < 2; i++)
    pull(a, &clean, trips, NULL);
  double t = 10000;
  for (int i = 0; i < 6000; i++, t += STEP) {
    /* standing, cranking with the throttle open, starting, hot idle at 900 rpm, stopping */
    double speed = i < 500 ? 0 : i < 1000 ? 250 : i < 5000 ? 900 : fmax(900 - (i - 5000), 0);
    base(a, 0, FALSE);
    ew_alarms_set(a, EW_CHANNEL_SPEED, 0, speed);
    ew_alarms_set(a, EW_CHANNEL_THROTTLE, 0, i < 1000 ? 0.95 : 0.03);
    ew_alarms_set(a, EW_CHANNEL_OIL_PRESSURE, 0, i < 1000 ? 0 : 0.7e5);
    ew_alarms_set(a, EW_CHANNEL_OIL_TEMPERATURE, 0, 385);
    ew_alarms_set(a, EW_CHANNEL_LAMBDA, 0, 2);
    ew_alarms_set(a, EW_CHANNEL_FUEL_PRESSURE, 0, i < 600 ? 0 : 3.5e5);
    ew_alarms_step(a, t, trips);
  }
  assert_int_equal(trips->len, 0);
}

/* Valves closing sound like two knocks a second; once that is known, four are not three too many. */
static void test_knock_background(void **state) {
  (void)state;
  const struct scene background = {"", EW_CHANNEL_KNOCK, 0, BEATS, 0.5, 2.4, 14, FALSE},
                     more = {"", EW_CHANNEL_KNOCK, 0, BEATS, 0.25, 8, 4, FALSE};
  g_autoptr(ew_own_curves) own = ew_own_curves_new();
  g_autoptr(ew_alarms) a = ew_alarms_new(template_table(&plate), own);
  g_autoptr(GArray) trips = g_array_new(FALSE, FALSE, sizeof(struct ew_alarm_trip));
  for (int i = 0; i < 2; i++)
    pull(a, &background, trips, NULL);
  pull(a, &more, trips, NULL);
  assert_int_equal(trips->len, 0);
  g_autoptr(GArray) unlearned = trips_of(&more, 0, &plate);
  assert_non_null(find(unlearned, "knock"));
}

/* The floor of 2.0 bar gives way to the engine's own curve of 2.2: 1.9 is 86 % of it. */
static void test_template_gives_way(void **state) {
  (void)state;
  const struct scene own_way = {"", EW_CHANNEL_OIL_PRESSURE, 0, SET, 2.2e5, 2, 15, FALSE},
                     lower = {"", EW_CHANNEL_OIL_PRESSURE, 0, SET, 1.9e5, 9, 3, FALSE};
  g_autoptr(ew_own_curves) own = ew_own_curves_new();
  g_autoptr(ew_alarms) a = ew_alarms_new(template_table(&plate), own);
  g_autoptr(GArray) trips = g_array_new(FALSE, FALSE, sizeof(struct ew_alarm_trip));
  for (int i = 0; i < 2; i++)
    pull(a, &own_way, trips, NULL);
  g_array_set_size(trips, 0); /* a constant reading was called frozen, rightly */
  for (double t = 0; t < 3; t += STEP) {
    base(a, 10, TRUE);
    ew_alarms_set(a, EW_CHANNEL_SPEED, 0, 5000);
    ew_alarms_set(a, EW_CHANNEL_OIL_PRESSURE, 0, 1.9e5);
    ew_alarms_step(a, 90000 + t, trips);
  }
  assert_int_equal(trips->len, 0);
  g_autoptr(GArray) unlearned = trips_of(&lower, 0, &plate);
  assert_non_null(find(unlearned, "oil pressure floor"));
}

static void test_latch_lock_and_clear(void **state) {
  (void)state;
  g_autoptr(ew_alarms) a = ew_alarms_new(template_table(&plate), NULL);
  g_autoptr(GArray) trips = g_array_new(FALSE, FALSE, sizeof(struct ew_alarm_trip));
  g_autoptr(GError) error = NULL;
  double t = 0;
  for (int k = 0; k < 5; k++) /* hot, cool, hot, cool: told once */
    for (int i = 0; i < 600; i++, t += STEP) {
      base(a, 0, FALSE);
      ew_alarms_set(a, EW_CHANNEL_OIL_TEMPERATURE, 0, i < 300 ? 395 : 380);
      ew_alarms_step(a, t, trips);
    }
  assert_int_equal(trips->len, 1);
  assert_int_equal(ew_alarms_tripped(a), 1);
  assert_int_equal(ew_alarms_clear(a, "lean"), 0);
  assert_int_equal(ew_alarms_clear(a, "oil hot"), 1);
  for (int i = 0; i < 300; i++, t += STEP) {
    ew_alarms_set(a, EW_CHANNEL_OIL_TEMPERATURE, 0, 395);
    ew_alarms_step(a, t, trips);
  }
  assert_int_equal(trips->len, 2);
  assert_int_equal(ew_alarms_clear(a, NULL), 0); /* it is still hot */
  ew_alarms_begin_pull(a, t);
  struct ew_alarm_table *table = template_table(&plate);
  assert_false(ew_alarms_replace(a, table, &error));
  assert_non_null(strstr(error->message, "locked"));
  ew_alarms_end_pull(a, FALSE, NULL);
  assert_true(ew_alarms_replace(a, table, NULL));
}

static void test_near_trips(void **state) {
  (void)state;
  const struct scene nearly = {"", EW_CHANNEL_LAMBDA, 0, SET, 0.97, 8, 0.2, FALSE};
  g_autoptr(ew_alarms) a = ew_alarms_new(template_table(&plate), NULL);
  g_autoptr(GArray) trips = g_array_new(FALSE, FALSE, sizeof(struct ew_alarm_trip));
  g_autoptr(GArray) near = g_array_new(FALSE, FALSE, sizeof(struct ew_alarm_near));
  pull(a, &nearly, trips, near);
  assert_int_equal(trips->len, 0);
  if (near->len != 1)
    fail_msg("%u near trips, the first of them '%s'", near->len,
             near->len ? g_array_index(near, struct ew_alarm_near, 0).alarm->name : "");
  const struct ew_alarm_near *one = &g_array_index(near, struct ew_alarm_near, 0);
  assert_string_equal(one->alarm->name, "lean");
  assert_near(one->share, 0.2 / 0.3, 0.05);
}

static void test_curves_survive_their_text(void **state) {
  (void)state;
  g_autoptr(ew_own_curves) own = ew_own_curves_new(), again = ew_own_curves_new();
  for (int k = 0; k < 3; k++) {
    for (double speed = 2500; speed < 6500; speed += 7)
      ew_own_curves_take(own, "oil_pressure", speed, 4e5 + 10 * speed + 1000 * k);
    ew_own_curves_end(own, 363, TRUE);
  }
  g_autofree char *text = ew_own_curves_to_json(own);
  assert_true(ew_own_curves_from_json(again, text));
  double mean, scatter, mean_2, scatter_2;
  ew_own_curves_at(own, "oil_pressure", 4321, 363, FALSE, &mean, &scatter);
  ew_own_curves_at(again, "oil_pressure", 4321, 363, FALSE, &mean_2, &scatter_2);
  assert_near(mean, 4e5 + 43210 + 1000, 50);
  assert_near(mean_2, mean, 0);
  assert_near(scatter_2, scatter, 0);
  ew_own_curves_at(own, "oil_pressure", 4321, 380, FALSE, &mean, &scatter);
  assert_true(isnan(mean)); /* other oil */
  assert_false(ew_own_curves_from_json(again, "{\"no\": 1}"));
}

static gboolean send_to(const char *line, gpointer user) {
  g_string_append_printf(user, "%s;", line);
  return TRUE;
}
static void says(const char *name, gboolean done, const ew_message *why, gpointer user) {
  (void)name, (void)why, (void)user;
  assert_true(done);
}

static void test_shut_down_order(void **state) {
  (void)state;
  g_autoptr(GString) sent = g_string_new(NULL);
  g_autoptr(ew_alarm_table) table = ew_outputs_parse(ew_outputs_usual, "usual", NULL);
  struct ew_outputs *o = ew_outputs_new(send_to, says, sent);
  ew_outputs_use(o, table->outputs);
  ew_outputs_step(o, 0, 5000);
  assert_string_equal(sent->str, ""); /* nobody asked */
  ew_outputs_ask(o);
  ew_outputs_step(o, 0, 5000);
  assert_string_equal(sent->str, "throttle 0;");
  ew_outputs_step(o, 0, NAN); /* a speed that is not known is not down */
  ew_outputs_step(o, 0, 1600);
  assert_string_equal(sent->str, "throttle 0;");
  ew_outputs_step(o, 0, 1400);
  ew_outputs_step(o, 0, 1400);
  assert_string_equal(sent->str, "throttle 0;stop;");
  ew_outputs_free(o);
}

static void test_refusals(void **state) {
  (void)state;
  static const struct {
    const char *yaml, *word;
  } refused[] = {
      {"alarms: [{name: a, watch: oil, above: 1 bar, says: a b c d}]", "not a channel"},
      {"alarms: [{name: a, watch: oil_pressure, above: 3 degC, says: a b c d}]", "above"},
      {"alarms: [{name: a, watch: oil_pressure, above: 3 bar, says: three words only}]",
       "four words"},
      {"alarms: [{name: a, watch: oil_pressure, says: a b c d}]", "limit is missing"},
      {"alarms: [{name: a, watch: rate(torque), above: 3 rpm/s, says: a b c d}]", "speed only"},
      {"alarms: [{name: a, watch: speed - torque, above: 3 rpm, says: a b c d}]", "different kind"},
      {"alarms: [{name: a, watch: oil_pressure, speeds: [1000 rpm], limits: \"1 bar, 2 bar\", "
       "says: a b c d}]",
       "one each"},
      {"alarms: [{name: a, watch: oil_pressure, speeds: [2000 rpm, 1000 rpm], limits: \"1 bar, 2 "
       "bar\", "
       "says: a b c d}]",
       "must rise"},
      {"alarms: [{name: a, watch: oil_pressure, speeds: [1000 rpm, 1000 rpm, 3000 rpm], "
       "limits: \"1 bar, 2 bar, 3 bar\", says: a b c d}]",
       "must rise"},
      {"alarms: [{name: a, watch: oil_pressure, speeds: [1000 rpm, 3000 rpm, 2999 rpm], "
       "limits: \"1 bar, 2 bar, 3 bar\", says: a b c d}]",
       "must rise"},
      {"alarms: [{name: a, watch: speed, above: 102 % of nothing, says: a b c d}]",
       "can't be used"},
      {"alarms: [{name: a, watch: oil_pressure, below_per_1000_rpm: 0 bar, says: a b c d}]",
       "above 0"},
      {"alarms: [{name: a, watch: speed, below_per_1000_rpm: 10 rpm, says: a b c d}]",
       "gauge pressure"},
      {"alarms: [{name: a, watch: speed, above: 9 rpm, says: a b c d}, {name: a, watch: speed, "
       "above: 9 rpm, says: a b c d}]",
       "its own name"},
      {"alarms: [{name: a, watch: exhaust_temperature 17, above: 900 degC, says: a b c d}]",
       "1 to 16"},
      {"alarms: [{name: a, watch: torque - torque 20, above: 9 Nm, says: a b c d}]", "1 to 16"},
      {"outputs: [{name: off, line: load 0, releases_load: yes}]", "speed_below"},
      {"heartbeat: {every: 1 ms, line: x}", "50 ms"},
      {"nonsense: 1", "not known"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(refused); i++) {
    g_autoptr(GError) error = NULL;
    g_autoptr(ew_node) root = ew_node_parse("t", refused[i].yaml, strlen(refused[i].yaml), NULL);
    g_autoptr(ew_alarm_table) table = ew_alarm_table_read(root, "t", &plate, &error);
    if (table || !strstr(error->message, refused[i].word))
      fail_msg("'%s': %s", refused[i].yaml, table ? "accepted" : error->message);
  }
}

/* What is kept for the outputs of this machine is read back, up to 64 kB; longer, it is refused before it takes the former's place: the
 * program would not read it any more, and nothing would be asked for in a shut-down. */
static void test_outputs_are_kept_as_far_as_they_are_read(void **state) {
  (void)state;
  g_autofree char *folder = g_dir_make_tmp("ew-outputs-XXXXXX", NULL),
                  *house = g_build_filename(folder, "enginewright", NULL);
  g_setenv("XDG_CONFIG_HOME", folder, TRUE);
  for (gsize size = 65535; size <= 65537; size++) {
    g_autofree char *filling = g_strnfill(size - strlen(ew_outputs_usual) - 2, 'x'),
                    *text = g_strconcat(ew_outputs_usual, "#", filling, "\n", NULL), *from = NULL;
    assert_int_equal(strlen(text), size);
    g_autoptr(GError) error = NULL;
    gboolean kept = ew_outputs_keep(text, &error);
    if (kept != (size <= 65536) || (!kept && !strstr(error->message, "64 kB")))
      fail_msg("%zu bytes: %s", size, error ? error->message : "kept");
    g_clear_error(&error);
    g_autoptr(ew_alarm_table) table = ew_outputs_of_machine(&from, &error);
    if (!table || table->outputs->len != 2)
      fail_msg("%zu bytes kept or refused, and then: %s", size, error ? error->message : "none");
  }
  assert_false(ew_outputs_keep("outputs: [", NULL));
  assert_false(
      ew_outputs_keep("alarms: [{name: a, watch: speed, above: 9 rpm, says: a b c d}]", NULL));
  assert_true(ew_outputs_forget(NULL) && ew_outputs_forget(NULL)); /* the second time, too */
  g_rmdir(house);
  g_rmdir(folder);
  g_unsetenv("XDG_CONFIG_HOME");
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_each_trips_and_stays),
      cmocka_unit_test(test_the_table_is_covered),
      cmocka_unit_test(test_false_alarms_in_pulls),
      cmocka_unit_test(test_still_is_not_frozen),
      cmocka_unit_test(test_hot_idle_cranking_and_stopping),
      cmocka_unit_test(test_knock_background),
      cmocka_unit_test(test_template_gives_way),
      cmocka_unit_test(test_latch_lock_and_clear),
      cmocka_unit_test(test_near_trips),
      cmocka_unit_test(test_curves_survive_their_text),
      cmocka_unit_test(test_shut_down_order),
      cmocka_unit_test(test_refusals),
      cmocka_unit_test(test_outputs_are_kept_as_far_as_they_are_read),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
