/* Jobs that nobody waits for any more, while one that takes long holds the lane: they are let go, and never run. */
#include "../unit.h"
#include "serve/predictor.h"
#include <string.h>

#define MOVES 1000
#define HELD  33 /* of the last answers, and the one that is begun */

static gint alive, ran, open_gate;

static gboolean waits(gpointer data, const struct ew_job_run *run, struct ew_json *json,
                      GError **error) {
  (void)data, (void)run, (void)json, (void)error;
  while (!g_atomic_int_get(&open_gate))
    g_usleep(1000);
  return TRUE;
}

static gboolean counts(gpointer data, const struct ew_job_run *run, struct ew_json *json,
                       GError **error) {
  (void)data, (void)run, (void)error;
  g_atomic_int_inc(&ran);
  ew_json_integer(json, "figure", 1);
  return TRUE;
}

static void done_with(gpointer data) {
  (void)data;
  g_atomic_int_add(&alive, -1);
}

static gint64 start(struct ew_predictor *p, const char *page,
                    gboolean (*run)(gpointer, const struct ew_job_run *, struct ew_json *,
                                    GError **)) {
  const struct ew_job_work work = {
      .kind = "predict", .lane = EW_LANE_QUICK, .run = run, .free = done_with};
  g_autoptr(GError) error = NULL;
  g_atomic_int_inc(&alive);
  gint64 id = ew_predictor_start(p, "device", page, &work, &error);
  expect(id > 0, page, "%s", error ? error->message : "");
  return id;
}

static gboolean is(struct ew_predictor *p, gint64 id, const char *state) {
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  assert_true(ew_predictor_write_json(p, id, &json, NULL));
  ew_json_close(&json);
  g_autofree char *text = g_string_free(json.text, FALSE);
  return strstr(text, state) != NULL;
}

static void test_moves(void **state) {
  (void)state;
  struct ew_predictor *p = ew_predictor_new(NULL); /* no main loop here: nobody is told */
  gint64 first = start(p, "first", waits), last = 0;
  while (!is(p, first, "\"running\""))
    g_usleep(1000);
  for (int i = 0; i < MOVES; i++) {
    last = start(p, "slider", counts);
    assert_true(g_atomic_int_get(&alive) <= HELD + 1);
  }
  for (int i = 0; i < MOVES; i++) { /* and cancelled by hand */
    gint64 id = start(p, "other", counts);
    assert_true(ew_predictor_cancel(p, id, "device", NULL) && is(p, id, "\"cancelled\""));
    assert_true(g_atomic_int_get(&alive) <= HELD + 1);
  }
  assert_true(is(p, first, "\"running\"") && is(p, last, "\"waiting\""));
  g_atomic_int_set(&open_gate, 1);
  for (int i = 0; i < 10000 && !is(p, last, "\"figure\":1"); i++)
    g_usleep(1000);
  assert_true(is(p, first, "\"done\"") && is(p, last, "\"figure\":1"));
  assert_int_equal(g_atomic_int_get(&ran), 1);
  gint64 again = start(p, "slider", counts); /* the lane had gone to rest */
  for (int i = 0; i < 10000 && !is(p, again, "\"figure\":1"); i++)
    g_usleep(1000);
  assert_int_equal(g_atomic_int_get(&ran), 2);
  ew_predictor_free(p);
  assert_int_equal(alive, 0);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_moves)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
