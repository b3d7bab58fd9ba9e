/* The state machines of the cell under anything at all: random readings, times that stand still, go back, jump or are not
 * there. Their invariants are asserted in the code; here they are reached, and the order of what is told is checked. The
 * seeds are fixed and printed. */
#include "near.h"
#include "cell/alarm.h"
#include "cell/bus_queue.h"
#include "cell/pull_watch.h"
#include "cell/session_clock.h"
#include "cell/own_curves.h"
#include <pthread.h>

#define SAMPLES 200000

/* Mostly a hundredth of a second on; now and then nothing, back, far ahead, or no time. */
static double next_time(GRand *random, double now_s) {
  switch (g_rand_int_range(random, 0, 400)) {
  case 0: return NAN;
  case 1: return INFINITY;
  case 2: return now_s - g_rand_double_range(random, 0, 10);
  case 3: return now_s + g_rand_double_range(random, 0, 400);
  case 4: return now_s;
  default: return now_s + 0.01;
  }
}

static double anything(GRand *random, double low, double high) {
  static const double odd[] = {NAN, INFINITY, -INFINITY, 0, -1, 1e308, -1e308};
  return g_rand_int_range(random, 0, 50) ? g_rand_double_range(random, low, high)
                                         : odd[g_rand_int_range(random, 0, G_N_ELEMENTS(odd))];
}

static void pulls_begin_before_they_end(void **state) {
  (void)state;
  print_message("seed 20261201\n");
  g_autoptr(GRand) random = g_rand_new_with_seed(20261201);
  struct ew_pull_watch watch = {0};
  ew_pull_watch_reset(&watch);
  double now_s = 0;
  guint began = 0, over = 0;
  gboolean loaded = FALSE;
  for (int i = 0; i < SAMPLES; i++) {
    double time_s = next_time(random, now_s);
    now_s = isfinite(time_s) ? time_s : now_s;
    if (g_rand_int_range(random, 0, 100) == 0)
      loaded = !loaded;
    enum ew_pull_news news =
        ew_pull_watch_step(&watch, time_s, anything(random, 500, 8000),
                           loaded ? 1 : anything(random, 0, 1), anything(random, -10, 400));
    began += news == EW_PULL_BEGAN;
    over += news == EW_PULL_ENDED || news == EW_PULL_DROPPED;
    assert_int_equal(began - over, watch.in_pull);
  }
  assert_true(began > 100 && over > 100);
}

static void a_sample_without_a_time_is_none(void **state) {
  (void)state;
  struct ew_pull_watch watch = {0};
  ew_pull_watch_reset(&watch);
  for (int i = 0; i < 100; i++)
    ew_pull_watch_step(&watch, i * 0.01, 5000, 1, 300);
  assert_true(watch.in_pull);
  struct ew_pull_watch before = watch;
  assert_int_equal(ew_pull_watch_step(&watch, NAN, 5000, 0, 0), EW_PULL_NOTHING);
  assert_int_equal(ew_pull_watch_step(&watch, INFINITY, 5000, 0, 0), EW_PULL_NOTHING);
  assert_memory_equal(&watch, &before, sizeof watch);
}

static struct ew_alarm_table *table_of(const char *yaml) {
  g_autoptr(GError) error = NULL;
  static const struct ew_alarm_context context = {7000, 300, 400, 6800, 4e5};
  g_autoptr(ew_node) root = ew_node_parse("alarms", yaml, strlen(yaml), &error);
  struct ew_alarm_table *table =
      root ? ew_alarm_table_read(root, "alarms", &context, &error) : NULL;
  if (!table)
    fail_msg("%s", error->message);
  return table;
}

#define OVERSPEED                                                                                  \
  "alarms:\n  - {name: over, watch: speed, action: shut down, above: 6000 rpm, hold: 0.5 s, "      \
  "says: shut throttle keep load}\n"

/* A hold is counted in time that passed: a row whose time cannot be read is no time. */
static void no_time_passes_without_a_time(void **state) {
  (void)state;
  g_autoptr(ew_alarms) alarms = ew_alarms_new(table_of(OVERSPEED), NULL);
  g_autoptr(GArray) trips = g_array_new(FALSE, FALSE, sizeof(struct ew_alarm_trip));
  for (int i = 0; i < 400; i++) {
    ew_alarms_set(alarms, EW_CHANNEL_SPEED, 0, 3000);
    ew_alarms_step(alarms, i * 0.01, trips);
  }
  ew_alarms_set(alarms, EW_CHANNEL_SPEED, 0, 7000);
  ew_alarms_step(alarms, 4.00, trips);
  ew_alarms_set(alarms, EW_CHANNEL_SPEED, 0, 7000);
  ew_alarms_step(alarms, NAN, trips);
  assert_int_equal(trips->len, 0);
  for (int i = 401; i <= 450; i++) {
    ew_alarms_set(alarms, EW_CHANNEL_SPEED, 0, 7000);
    ew_alarms_step(alarms, i * 0.01, trips);
  }
  assert_int_equal(trips->len, 1);
  assert_float_equal(g_array_index(trips, struct ew_alarm_trip, 0).time_s, 4.5, 1e-6);
}

#define SEVERAL                                                                                    \
  OVERSPEED                                                                                        \
  "  - {name: oil, watch: oil_pressure, action: back off, below: 2 bar, hold: 0.15 s, "            \
  "speed_above: 3000 rpm, hysteresis: 0.1 bar, says: back off and look}\n"                         \
  "  - {name: hot, watch: max(exhaust_temperature), action: notice, above: 900 degC, in_pull: "    \
  "yes, says: look at the gauge}\n"                                                                \
  "  - {name: gone, watch: lost(oil_pressure), action: shut down, above: 0 s, hold: 0.2 s, says: " \
  "shut throttle keep load}\n"

/* Trips are told once until they are cleared, whatever comes. */
static void alarms_under_anything(void **state) {
  (void)state;
  print_message("seed 7\n");
  g_autoptr(GRand) random = g_rand_new_with_seed(7);
  g_autoptr(ew_alarms) alarms = ew_alarms_new(table_of(SEVERAL), NULL);
  g_autoptr(GArray) trips = g_array_new(FALSE, FALSE, sizeof(struct ew_alarm_trip));
  double now_s = 0;
  guint told = 0;
  for (int i = 0; i < SAMPLES; i++) {
    double time_s = next_time(random, now_s);
    now_s = isfinite(time_s) ? time_s : now_s;
    ew_alarms_set(alarms, EW_CHANNEL_SPEED, 0, anything(random, 2000, 6600));
    ew_alarms_set(alarms, EW_CHANNEL_OIL_PRESSURE, 0, anything(random, 1.9e5, 5e5));
    ew_alarms_set(alarms, EW_CHANNEL_EXHAUST_TEMPERATURE, g_rand_int_range(random, 0, 8),
                  anything(random, 800, 1200));
    guint before = ew_alarms_tripped(alarms);
    g_array_set_size(trips, 0);
    ew_alarms_step(alarms, time_s, trips);
    assert_int_equal(ew_alarms_tripped(alarms), before + trips->len);
    told += trips->len;
    int act = g_rand_int_range(random, 0, 3000);
    if (act == 0 && !ew_alarms_in_pull(alarms))
      ew_alarms_begin_pull(alarms, now_s);
    else if (act < 3)
      ew_alarms_end_pull(alarms, act == 1, NULL);
    else if (act < 20)
      ew_alarms_clear(alarms, NULL);
    else if (act == 20) {
      struct ew_alarm_table *other = table_of(SEVERAL);
      if (!ew_alarms_replace(alarms, other, NULL))
        ew_alarm_table_free(other);
    }
  }
  assert_true(told > 20);
}

static void session_time_never_goes_back(void **state) {
  (void)state;
  print_message("seed 11\n");
  g_autoptr(GRand) random = g_rand_new_with_seed(11);
  struct ew_session_clock session = {0};
  struct ew_sender_clock senders[3] = {{0}};
  double own[3] = {0, 1e6, -50}, arrival_s = 0, last_s = -INFINITY;
  for (int i = 0; i < SAMPLES; i++) {
    int k = g_rand_int_range(random, 0, 3);
    double time_s = next_time(random, own[k]);
    own[k] = isfinite(time_s) ? time_s : own[k];
    arrival_s += g_rand_double_range(random, 0, 0.01);
    double now_s = ew_session_clock_step(&session, &senders[k], own[k], arrival_s,
                                         g_rand_int_range(random, 0, 5000) == 0);
    assert_true(isfinite(now_s) && now_s >= last_s);
    last_s = now_s;
  }
}

/* A client library ends its thread by pthread_cancel(3), which strikes at the next call that may wait: write(2), say. */
static void *cancelled_writer(void *user) {
  static const double values[] = {1, 2};
  pthread_setcancelstate(PTHREAD_CANCEL_DISABLE, NULL);
  pthread_cancel(pthread_self()); /* waits until it may */
  pthread_setcancelstate(PTHREAD_CANCEL_ENABLE, NULL);
  ew_bus_queue_row(user, 0, 0, values);
  pthread_testcancel();
  return NULL;
}

static void count_row(gpointer user, double time_s, double arrival_s, const double *values) {
  (void)time_s, (void)arrival_s, (void)values;
  ++*(guint *)user;
}

static void a_cancelled_writer_leaves_the_queue_open(void **state) {
  (void)state;
  guint rows = 0;
  struct ew_source_sink sink = {.frame = count_row, .user = &rows};
  struct ew_bus_queue *queue = ew_bus_queue_new(2, 10);
  pthread_t thread;
  void *how;
  assert_int_equal(pthread_create(&thread, NULL, cancelled_writer, queue), 0);
  assert_int_equal(pthread_join(thread, &how), 0);
  assert_ptr_equal(how, PTHREAD_CANCELED);
  alarm(10); /* where it is locked for good, this would wait for ever */
  ew_bus_queue_drain(queue, &sink);
  alarm(0);
  assert_int_equal(rows, 1);
  ew_bus_queue_free(queue);
}

/* A speed that is none, or of no engine, has no bin: nothing is learned of it and nothing known. */
static void own_curves_at_odd_speeds(void **state) {
  static const double odd[] = {NAN, INFINITY, -INFINITY, 1e308, -1, 12000, 12001, 1e12};
  (void)state;
  struct ew_own_curves *own = ew_own_curves_new();
  for (int pull = 0; pull < 3; pull++) {
    for (gsize i = 0; i < G_N_ELEMENTS(odd); i++)
      ew_own_curves_take(own, "oil_pressure", odd[i], 4e5);
    ew_own_curves_take(own, "oil_pressure", 3000, 4e5);
    ew_own_curves_end(own, 360, TRUE);
  }
  for (gsize i = 0; i < G_N_ELEMENTS(odd); i++) {
    double mean, scatter;
    ew_own_curves_at(own, "oil_pressure", odd[i], 360, FALSE, &mean, &scatter);
    assert_true(isnan(mean) && isnan(scatter));
  }
  double mean, scatter;
  ew_own_curves_at(own, "oil_pressure", 3000, 360, FALSE, &mean, &scatter);
  assert_true(mean == 4e5);
  ew_own_curves_free(own);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(pulls_begin_before_they_end),
      cmocka_unit_test(a_sample_without_a_time_is_none),
      cmocka_unit_test(no_time_passes_without_a_time),
      cmocka_unit_test(alarms_under_anything),
      cmocka_unit_test(session_time_never_goes_back),
      cmocka_unit_test(a_cancelled_writer_leaves_the_queue_open),
      cmocka_unit_test(own_curves_at_odd_speeds),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
