/* What is alive: time-outs learned from arrivals, topics and signals that die, what a broker retained,
 * and figures that are frozen, with how often sound ones are called so. */
#include "near.h"
#include "cell/bus_map.h"
#include "cell/freshness.h"
#include "cell/live_engine.h"
#include "cell/source_can.h"
#include "cell/source_mqtt.h"
#include "cell/stillness.h"
#include <glib/gstdio.h>
#include <linux/can.h>
#include <sys/socket.h>
#include <unistd.h>

/* ---- time-outs ---- */

static struct ew_freshness fresh(double fixed_s) {
  struct ew_freshness f;
  ew_freshness_begin(&f, fixed_s);
  return f;
}

static double steady(struct ew_freshness *f, double from_s, double every_s, int times) {
  for (int i = 0; i < times; i++, from_s += every_s)
    ew_freshness_heard(f, from_s);
  return from_s - every_s; /* the last one */
}

static void test_time_out_is_learned(void **state) {
  (void)state;
  struct ew_freshness f = fresh(NAN);
  assert_false(ew_freshness_live(&f, 0)); /* never heard */
  ew_freshness_heard(&f, 10);
  assert_true(ew_freshness_live(&f, 10.5));
  assert_false(ew_freshness_live(&f, 10.51));
  double last = steady(&f, 10.02, 0.02, 100);
  assert_near(ew_freshness_timeout_s(&f), 0.5, 0); /* the floor */
  last = steady(&f, last + 0.2, 0.2, 100);
  assert_near(ew_freshness_timeout_s(&f), 1.0, 1e-9); /* five intervals */
  assert_true(ew_freshness_live(&f, last + 0.99) && !ew_freshness_live(&f, last + 1.01));
  f = fresh(0.05);
  ew_freshness_heard(&f, 1);
  assert_true(ew_freshness_live(&f, 1.04) && !ew_freshness_live(&f, 1.06));
}

/* An outage is no rate: back at 50 a second, it is lost as soon as before. */
static void test_outages_are_not_learned(void **state) {
  (void)state;
  struct ew_freshness f = fresh(NAN);
  double last = steady(&f, 0, 0.02, 200);
  const double outages_s[] = {300, 2, 45, 7, 4000, 90};
  for (gsize i = 0; i < G_N_ELEMENTS(outages_s); i++) {
    last = steady(&f, last + outages_s[i], 0.02, 40);
    assert_near(ew_freshness_timeout_s(&f), 0.5, 0);
  }
  ew_freshness_lost(&f);
  assert_false(ew_freshness_live(&f, last));
}

/* Ten messages at once every two seconds; a barometer once a minute; a probe once a second, more or less. */
static void test_batches_and_slow_ones(void **state) {
  (void)state;
  struct ew_freshness f = fresh(NAN);
  for (int batch = 0; batch < 10; batch++)
    for (int i = 0; i < 10; i++) {
      if (batch > 3)
        assert_true(ew_freshness_live(&f, 2.0 * batch));
      ew_freshness_heard(&f, 2.0 * batch + 0.001 * i);
    }
  f = fresh(NAN);
  double last = steady(&f, 0, 60, 6);
  assert_true(ew_freshness_live(&f, last + 60) && !ew_freshness_live(&f, last + 125));
  g_autoptr(GRand) random = g_rand_new_with_seed(3);
  f = fresh(NAN);
  int absent = 0;
  double now = 0;
  for (int i = 0; i < 3600; i++, now += g_rand_double_range(random, 0.85, 1.15)) {
    absent += i > 3 && !ew_freshness_live(&f, now);
    ew_freshness_heard(&f, now);
  }
  assert_int_equal(absent, 0);
  /* faster again: the rhythm is forgotten */
  steady(&f, now, 0.05, 200);
  assert_near(ew_freshness_timeout_s(&f), 0.5, 0);
}

/* ---- topics ---- */

struct heard {
  guint rows, garbage;
  double values[3];
  GString *texts;
};
static void head(gpointer user, const struct ew_source_channels *channels) {
  (void)user, (void)channels;
}
static void frame(gpointer user, double time_s, double arrival_s, const double *values) {
  struct heard *h = user;
  (void)time_s, (void)arrival_s;
  h->rows++;
  memcpy(h->values, values, 2 * sizeof(double));
}
static void event(gpointer user, enum ew_source_event which, const ew_message *what) {
  struct heard *h = user;
  h->garbage += which == EW_SOURCE_GARBAGE;
  if (h->texts) {
    g_autofree char *written = ew_message_write(what);
    g_string_append_printf(h->texts, "%s\n", written);
  }
}

static struct ew_source *topics(const char *yaml, char **path) {
  *path = g_strdup_printf("%s/ew-alive-%d.yaml", g_get_tmp_dir(), (int)getpid());
  assert_true(g_file_set_contents(*path, yaml, -1, NULL));
  g_autofree char *url = g_strdup_printf("mqtt://127.0.0.1:1/?map=%s", *path);
  g_autoptr(GError) error = NULL;
  struct ew_source *source = ew_source_open(url, &error);
  if (!source)
    fail_msg("%s", error->message);
  return source;
}

static void say(struct ew_source *source, struct heard *h, const char *topic, const char *text,
                gboolean retained, double now_s) {
  struct ew_source_sink sink = {head, frame, event, h};
  ew_source_mqtt_message(source, topic, text, strlen(text), retained, now_s);
  ew_source_read(source, &sink, now_s);
}

/* Oil pressure stops coming while the speed goes on: its last figure does not live on. */
static void test_a_topic_that_dies(void **state) {
  (void)state;
  g_autofree char *path = NULL;
  struct heard h = {0};
  g_autoptr(ew_source) source = topics(
      "topics: [{name: RPM, topic: rpm}, {name: Oil pressure, unit: bar, topic: oil}]", &path);
  double now = 100;
  for (int i = 0; i < 100; i++, now += 0.02) {
    say(source, &h, "rpm", "3000", FALSE, now);
    say(source, &h, "oil", "4.9", FALSE, now + 0.001);
  }
  assert_near(h.values[1], 4.9, 0);
  double died = now;
  for (int i = 0; i < 100; i++, now += 0.02) {
    say(source, &h, "rpm", "3000", FALSE, now);
    assert_near(h.values[0], 3000, 0);
    if (now - died < 0.45)
      assert_near(h.values[1], 4.9, 0); /* within its time-out a late one is not lost */
    else if (now - died > 0.55)
      assert_true(isnan(h.values[1]));
  }
  say(source, &h, "oil", "4.8", FALSE, now);
  assert_near(h.values[1], 4.8, 0);
  g_unlink(path);
}

static void test_a_time_out_of_the_map(void **state) {
  (void)state;
  g_autofree char *path = NULL;
  struct heard h = {0};
  g_autoptr(ew_source) source = topics("topics: [{name: RPM, topic: rpm}, {name: Baro, unit: hPa, "
                                       "topic: baro, timeout: 3 min}]",
                                       &path);
  say(source, &h, "baro", "990", FALSE, 100);
  say(source, &h, "rpm", "3000", FALSE, 279);
  assert_near(h.values[1], 990, 0);
  say(source, &h, "rpm", "3000", FALSE, 281);
  assert_true(isnan(h.values[1]));
  g_unlink(path);
}

static void test_retained_is_not_live(void **state) {
  (void)state;
  g_autofree char *path = NULL;
  struct heard h = {.texts = g_string_new(NULL)};
  g_autoptr(ew_source) source = topics(
      "topics: [{name: RPM, topic: rpm}, {name: Oil pressure, unit: bar, topic: oil}]", &path);
  say(source, &h, "rpm", "3000", TRUE, 100);
  say(source, &h, "oil", "4.9", TRUE, 100);
  assert_int_equal(h.rows, 0);
  say(source, &h, "rpm", "3000", FALSE, 100.1);
  assert_int_equal(h.rows, 1);
  assert_true(isnan(h.values[1]));
  assert_non_null(strstr(h.texts->str,
                         "\"cell.message-retained\",\"arguments\":{\"topic\":{\"text\":\"rpm\"}}"));
  g_string_free(h.texts, TRUE);
  g_unlink(path);
}

/* A header that was retained is words and may be old; a row that was is not taken. */
static void test_retained_lines(void **state) {
  (void)state;
  struct heard h = {0};
  g_autoptr(ew_source) source = ew_source_open("mqtt://127.0.0.1:1/cell", NULL);
  say(source, &h, "cell", "Time [s],RPM [rpm],EGT 1 [degC]", TRUE, 100);
  say(source, &h, "cell", "1,3000,700", TRUE, 100);
  assert_int_equal(h.rows, 0);
  say(source, &h, "cell", "2,3100,710", FALSE, 100);
  assert_int_equal(h.rows, 1);
  assert_near(h.values[0], 3100, 0);
}

/* ---- signals ---- */

static void send_frame(int fd, guint32 id, guint8 size, guint8 value) {
  struct can_frame f = {.can_id = id, .len = size, .data = {value, 0, value, 0}};
  assert_int_equal(write(fd, &f, sizeof f), sizeof f);
}

static void test_signals(void **state) {
  (void)state;
  int pair[2];
  assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET, 0, pair), 0);
  const char *yaml = "signals: [{name: A, id: 1, length: 8, timeout: 0.2 s}, "
                     "{name: B, id: 2, start: 16, length: 8, timeout: 0.2 s}]";
  g_autoptr(ew_node) root = ew_node_parse("t", yaml, strlen(yaml), NULL);
  g_autoptr(ew_source) source = ew_source_can(pair[0], ew_bus_map_read(root, "t", "signals", NULL));
  struct heard h = {0};
  struct ew_source_sink sink = {head, frame, event, &h};
  send_frame(pair[1], 2, 4, 7);
  send_frame(pair[1], 1, 4, 5);
  ew_source_read(source, &sink, 0);
  assert_near(h.values[0], 5, 0);
  assert_near(h.values[1], 7, 0);
  send_frame(pair[1], 2, 2, 7); /* cut: B stands in the third byte */
  send_frame(pair[1], 1, 4, 6);
  ew_source_read(source, &sink, 0);
  assert_near(h.values[0], 6, 0);
  assert_true(isnan(h.values[1]));
  assert_int_equal(h.garbage, 1);
  send_frame(pair[1], 2, 4, 8);
  ew_source_read(source, &sink, 0);
  g_usleep(600000); /* both are over */
  guint rows = h.rows;
  send_frame(pair[1], 2, 4, 9); /* A sets the pace no more: B's frames make rows */
  ew_source_read(source, &sink, 0);
  assert_int_equal(h.rows, rows + 1);
  assert_true(isnan(h.values[0]));
  assert_near(h.values[1], 9, 0);
  close(pair[1]);
}

/* ---- frozen ---- */

/* A channel at a speed that goes up and down as in pulls, with the steps of its display. */
struct stream {
  const char *says;
  enum ew_channel channel;
  double noise, step, slope, drift; /* step: of the display; slope: a rpm; drift: amplitude, slow */
  int hold;                         /* samples that the same reading is given */
};
static const struct stream sound[] = {
    {"torque, much noise", EW_CHANNEL_TORQUE, 2.0, 0.1, 0.02, 0, 1},
    {"torque in whole figures", EW_CHANNEL_TORQUE, 0.3, 1, 0.02, 0, 1},
    {"torque, filtered, ten a second", EW_CHANNEL_TORQUE, 0.5, 0.1, 0.02, 0, 10},
    {"oil pressure in tenths, with a relief valve", EW_CHANNEL_OIL_PRESSURE, 0.01, 0.1, 0.0005, 0,
     1},
    {"oil pressure, fine", EW_CHANNEL_OIL_PRESSURE, 0.02, 0.001, 0.0005, 0, 1},
    {"coolant in whole degrees", EW_CHANNEL_COOLANT_TEMPERATURE, 0.05, 1, 0, 2, 1},
    {"coolant in tenths at the edge of a step", EW_CHANNEL_COOLANT_TEMPERATURE, 0.03, 0.1, 0, 1, 5},
    {"a barometer", EW_CHANNEL_BAROMETER, 0.02, 0.1, 0, 0.5, 1},
    {"a barometer that never moves", EW_CHANNEL_BAROMETER, 0, 1, 0, 0, 1},
    {"a level in steps of five", EW_CHANNEL_HUMIDITY, 1, 5, 0, 3, 20},
    {"exhaust temperature, once a second", EW_CHANNEL_EXHAUST_TEMPERATURE, 3, 1, 0.05, 5, 100},
    {"fuel flow, noise of a step", EW_CHANNEL_FUEL_FLOW, 0.1, 0.1, 0.008, 0, 1},
};

static double gauss(GRand *random) {
  return sqrt(-2 * log(1 - g_rand_double(random))) * cos(2 * G_PI * g_rand_double(random));
}

static double speed_at(double t, GRand *random) {
  double phase = fmod(t, 60);
  double speed = phase < 2    ? 3000 - 500 * phase
                 : phase < 25 ? 2000
                 : phase < 40 ? 2000 + 300 * (phase - 25)
                 : phase < 50 ? fmax(6500 - 900 * (phase - 40), 2000)
                 : phase < 52 ? 2000 + 500 * (phase - 50)
                              : 3000;
  return speed + 3 * gauss(random);
}

static double sample(const struct stream *s, double t, double speed_rpm, GRand *random) {
  double held = s->channel == EW_CHANNEL_OIL_PRESSURE ? fmin(speed_rpm, 5200) : speed_rpm;
  double value = 5 + s->slope * held + s->drift * sin(t / 97) + s->noise * gauss(random);
  return s->step * rint(value / s->step);
}

/* Half an hour of each at 100 a second: how often one of them is called frozen for over half a second, the
 * least that the template asks for; and the practice engine for an hour. */
static void test_sound_streams(void **state) {
  (void)state;
  g_autoptr(GRand) random = g_rand_new_with_seed(20261201);
  guint calls = 0;
  for (gsize k = 0; k < G_N_ELEMENTS(sound); k++) {
    struct ew_stillness s;
    ew_stillness_begin(&s);
    double value = 0;
    guint mine = 0;
    gboolean was = FALSE;
    for (int i = 0; i < 180000; i++) {
      double t = 0.01 * i, speed = speed_at(t, random);
      if (i % sound[k].hold == 0)
        value = sample(&sound[k], t, speed, random);
      ew_stillness_step(&s, value, t, speed);
      gboolean is = ew_stillness_frozen_s(&s, sound[k].channel, t, speed) > 0.5;
      mine += is && !was;
      was = is;
    }
    if (mine)
      print_message("%s: called frozen %u times in half an hour\n", sound[k].says, mine);
    calls += mine;
  }
  assert_int_equal(calls, 0);
}

static void test_practice_is_never_frozen(void **state) {
  (void)state;
  g_autoptr(ew_live_engine) engine = ew_live_engine_new(11, 100);
  struct ew_stillness s[EW_LIVE_ENGINE_CHANNELS];
  double v[EW_LIVE_ENGINE_CHANNELS];
  static const enum ew_channel as[EW_LIVE_ENGINE_CHANNELS] = {
      EW_CHANNEL_SPEED,           EW_CHANNEL_SPEED_2,
      EW_CHANNEL_TORQUE,          EW_CHANNEL_THROTTLE,
      EW_CHANNEL_LAMBDA,          EW_CHANNEL_FUEL_FLOW,
      EW_CHANNEL_AIR_FLOW,        EW_CHANNEL_OIL_PRESSURE,
      EW_CHANNEL_OIL_TEMPERATURE, EW_CHANNEL_COOLANT_TEMPERATURE};
  for (int c = 0; c < EW_LIVE_ENGINE_CHANNELS; c++)
    ew_stillness_begin(&s[c]);
  guint calls = 0;
  for (int i = 0; i < 180000; i++) {
    if (i % 6000 == 0)
      ew_message_free(ew_live_engine_command(engine, "sweep 2500 6500 300"));
    ew_live_engine_step(engine, v);
    for (int c = 0; c < 10; c++) {
      ew_stillness_step(&s[c], v[c], 0.01 * i, v[0]);
      calls += ew_stillness_frozen_s(&s[c], as[c], 0.01 * i, v[0]) > 0.5;
    }
  }
  assert_int_equal(calls, 0);
}

/* And what is frozen is found: by its noise alone at a steady speed, by the speed that goes on else. */
static double found_after_s(const struct stream *what, double from_s) {
  g_autoptr(GRand) random = g_rand_new_with_seed(7);
  struct ew_stillness s;
  ew_stillness_begin(&s);
  double value = 0;
  for (int i = 0; i < 100 * 200; i++) {
    double t = 0.01 * i, speed = speed_at(t, random);
    if (i % what->hold == 0 && t < from_s)
      value = sample(what, t, speed, random);
    ew_stillness_step(&s, value, t, speed);
    if (t > from_s && ew_stillness_frozen_s(&s, what->channel, t, speed) > 0.5)
      return t - from_s;
  }
  return INFINITY;
}

static void test_frozen_is_found(void **state) {
  (void)state;
  const struct {
    int stream;
    double from_s, within_s;
  } cases[] = {
      {0, 130, 0.7},                                /* noise alone, speed steady */
      {0, 148, 0.7},                                /* within a pull */
      {4, 130, 0.7},  {4, 148, 0.7}, {2, 140, 5.0}, /* ten readings a second */
      {11, 148, 1.5}, {1, 148, 4.0},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
    double after_s = found_after_s(&sound[cases[i].stream], cases[i].from_s);
    print_message("%s, frozen at %.0f s: found after %.2f s\n", sound[cases[i].stream].says,
                  cases[i].from_s, after_s);
    assert_true(after_s <= cases[i].within_s);
  }
}

static void test_a_row_that_repeats(void **state) {
  (void)state;
  struct ew_row_stillness s = {.since_s = NAN};
  double t = 0;
  for (int i = 0; i < 3000; i++, t += 0.01) /* standing: still for half a minute, and may be */
    assert_false(ew_row_stillness_step(&s, i > 0, FALSE, t));
  for (int i = 0; i < 3000; i++, t += 0.01)
    assert_false(ew_row_stillness_step(&s, i % 7 != 0, TRUE, t));
  double stuck = t;
  while (!ew_row_stillness_step(&s, TRUE, TRUE, t) && t < stuck + 10)
    t += 0.01;
  assert_true(t - stuck < 2);
  assert_false(ew_row_stillness_step(&s, FALSE, TRUE, t));
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_time_out_is_learned),   cmocka_unit_test(test_outages_are_not_learned),
      cmocka_unit_test(test_batches_and_slow_ones), cmocka_unit_test(test_a_topic_that_dies),
      cmocka_unit_test(test_a_time_out_of_the_map), cmocka_unit_test(test_retained_is_not_live),
      cmocka_unit_test(test_retained_lines),        cmocka_unit_test(test_signals),
      cmocka_unit_test(test_sound_streams),         cmocka_unit_test(test_practice_is_never_frozen),
      cmocka_unit_test(test_frozen_is_found),       cmocka_unit_test(test_a_row_that_repeats)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
