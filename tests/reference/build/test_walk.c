/* Crank positions for setting valves. Sources: the two-position list that service manuals print for
 * a V8 firing 1-8-4-3-6-5-7-2 (at number 1: exhaust 1 3 4 8, inlet 1 2 5 7; one turn on, at number 6:
 * exhaust 2 5 6 7, inlet 3 4 6 8; common knowledge, from memory); companions of an in-line six
 * 1-5-3-6-2-4 (1-6, 5-2, 3-4; the same); and the lift curve itself, which is nil at every stop. */
#include "../engine/near.h"
#include "build/walk.h"
#include "engine/valve_motion.h"

#define CAM                                                                                        \
  "bore: 4.0 in\nstroke: 3.5 in\ncam:\n  lobe_separation: 108 deg\n  inlet_centreline: 104 deg\n"  \
  "inlet:\n  lobe_lift: 0.312 in\n  rocker_ratio: 1.6\n  lash: 0.022 in\n  duration: 280 deg\n"    \
  "  duration_lift: 0.020 in\n  check_duration: 248 deg\n  check_lift: 0.050 in\n"                 \
  "exhaust:\n  lobe_lift: 0.314 in\n  rocker_ratio: 1.6\n  lash: 0.024 in\n  duration: 286 deg\n"  \
  "  duration_lift: 0.020 in\n  check_duration: 254 deg\n  check_lift: 0.050 in\n"

/* Bit c for valve of cylinder c. */
static unsigned set_of(const struct ew_walk_stop *stop, int side) {
  unsigned set = 0;
  for (int i = 0; i < stop->count; i++)
    if (stop->valves[i].side == side)
      set |= 1u << stop->valves[i].cylinder;
  return set;
}

static unsigned bits(const char *digits) {
  unsigned set = 0;
  for (; *digits; digits++)
    set |= 1u << (*digits - '0');
  return set;
}

static void the_two_positions_of_a_v8(void **state) {
  (void)state;
  struct ew_engine e = engine_of("cylinders: 8\ngeometry:\n  layout: vee\n  bank_angle: 90 deg\n"
                                 "  firing_order: [1, 8, 4, 3, 6, 5, 7, 2]\n" CAM);
  g_autoptr(GArray) stops = ew_walk(&e, TRUE, NULL);
  assert_non_null(stops);
  assert_int_equal(stops->len, 2);
  const struct ew_walk_stop *one = &g_array_index(stops, struct ew_walk_stop, 0), *two = one + 1;
  assert_int_equal(one->firing, 1);
  assert_int_equal(one->companion, 6);
  assert_int_equal(two->firing, 6);
  assert_near(two->turn_deg, 360, 1e-9);
  assert_int_equal(set_of(one, 0), bits("1257"));
  assert_int_equal(set_of(one, 1), bits("1348"));
  assert_int_equal(set_of(two, 0), bits("3468"));
  assert_int_equal(set_of(two, 1), bits("2567"));
  ew_engine_clear(&e);
}

static void companions(void **state) {
  (void)state;
  struct ew_engine six =
      engine_of("cylinders: 6\ngeometry:\n  firing_order: [1, 5, 3, 6, 2, 4]\n" CAM);
  static const int pairs[][2] = {{1, 6}, {5, 2}, {3, 4}};
  for (int k = 0; k < 3; k++) {
    assert_int_equal(ew_walk_companion(&six, pairs[k][0]), pairs[k][1]);
    assert_int_equal(ew_walk_companion(&six, pairs[k][1]), pairs[k][0]);
  }
  struct ew_engine three = engine_of("cylinders: 3\ngeometry:\n  firing_order: [1, 3, 2]\n" CAM);
  for (int c = 1; c <= 3; c++)
    assert_int_equal(ew_walk_companion(&three, c), 0);
  ew_engine_clear(&three);
  ew_engine_clear(&six);
}

static void check_walk(const struct ew_engine *e, gboolean fewest) {
  g_autoptr(GError) error = NULL;
  g_autoptr(GArray) stops = ew_walk(e, fewest, &error);
  assert_true_says(stops, error ? error->message : "");
  struct ew_valve_motion m[2];
  int seen[2][25] = {{0}};
  for (int side = 0; side < 2; side++)
    assert_true(ew_valve_motion_of(e, side, &m[side], NULL));
  for (guint i = 0; i < stops->len; i++) {
    const struct ew_walk_stop *s = &g_array_index(stops, struct ew_walk_stop, i);
    for (int k = 0; k < s->count; k++) {
      const struct ew_walk_valve *v = &s->valves[k];
      seen[v->side][v->cylinder]++;
      /* from the top dead centre of its gas exchange; over the whole margin, with no lash */
      double own = s->crank_deg - ew_walk_firing_deg(e, v->cylinder) - 360;
      for (double off = -EW_WALK_MARGIN_DEG; off <= EW_WALK_MARGIN_DEG; off += 5)
        assert_near(ew_valve_lift_with_m(&m[v->side], own + off, 0), 0, 1e-9);
    }
  }
  for (int c = 1; c <= e->cylinders; c++)
    assert_true(seen[0][c] == 1 && seen[1][c] == 1);
}

static void every_valve_once_and_shut(void **state) {
  (void)state;
  static const char *const engines[] = {
      "cylinders: 1\n" CAM,
      "cylinders: 2\ngeometry:\n  firing_order: [1, 2]\n  firing_angles: [0 deg, 270 deg]\n" CAM,
      "cylinders: 3\ngeometry:\n  firing_order: [1, 3, 2]\n" CAM,
      "cylinders: 4\ngeometry:\n  firing_order: [1, 3, 4, 2]\n" CAM,
      "cylinders: 5\ngeometry:\n  firing_order: [1, 2, 4, 5, 3]\n" CAM,
      "cylinders: 6\ngeometry:\n  firing_order: [1, 5, 3, 6, 2, 4]\n" CAM,
      "cylinders: 8\ngeometry:\n  layout: vee\n  firing_order: [1, 8, 4, 3, 6, 5, 7, 2]\n" CAM};
  for (gsize i = 0; i < G_N_ELEMENTS(engines); i++) {
    struct ew_engine e = engine_of(engines[i]);
    check_walk(&e, FALSE);
    check_walk(&e, TRUE);
    ew_engine_clear(&e);
  }
}

static void says_what_is_missing(void **state) {
  (void)state;
  static const struct {
    const char *yaml, *says;
  } rows[] = {
      {"cylinders: 4\n" CAM, "firing_order"},
      {"cylinders: 4\nbore: 80 mm\nstroke: 80 mm\ngeometry:\n  firing_order: [1, 3, 4, 2]\n",
       "lobe_separation"},
      {"strokes: 2\ncylinders: 1\n", "four-strokes"}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_engine e = engine_of(rows[i].yaml);
    g_autoptr(GError) error = NULL;
    assert_null(ew_walk(&e, FALSE, &error));
    assert_true_says(error && strstr(error->message, rows[i].says), rows[i].says);
    ew_engine_clear(&e);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_two_positions_of_a_v8), cmocka_unit_test(companions),
      cmocka_unit_test(every_valve_once_and_shut), cmocka_unit_test(says_what_is_missing)};
  return cmocka_run_group_tests_name("setting valves", tests, NULL, NULL);
}
