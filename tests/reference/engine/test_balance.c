/* Balance. Sources: J. P. Den Hartog, Mechanical Vibrations, ch. 5, and C. F. Taylor, The Internal-
 * Combustion Engine, vol. 2, ch. 8 (both from memory): in-line four 4 units of secondary force, six
 * none of anything, three a couple of sqrt(3) spacings, 90-degree V-twin a turning primary of one
 * unit and a secondary of sqrt(2), boxer four no force and a secondary couple of twice the stagger, cross-plane V8 a turning couple of sqrt(10)
 * spacings. Bobweight: a worked example of the trade (995 + 0.5 x 1540 = 1765 g). */
#include "near.h"
#include "engine/balance.h"

struct row {
  const char *says, *yaml;
  double primary, secondary, primary_moment, secondary_moment; /* spacing 0.1 m */
};

static const struct row rows[] = {
    {"a single shakes with both", "cylinders: 1\ngeometry:\n  bore_spacing: 100 mm\n", 1, 1, 0, 0},
    {"an in-line four has four secondaries",
     "cylinders: 4\ngeometry:\n  firing_order: [1, 3, 4, 2]\n  bore_spacing: 100 mm\n", 0, 4, 0, 0},
    {"an in-line six is still",
     "cylinders: 6\ngeometry:\n  firing_order: [1, 5, 3, 6, 2, 4]\n  bore_spacing: 100 mm\n", 0, 0,
     0, 0},
    {"an in-line three rocks",
     "cylinders: 3\ngeometry:\n  firing_order: [1, 3, 2]\n  bore_spacing: 100 mm\n", 0, 0,
     0.17320508, 0.17320508},
    {"a 90-degree twin turns its primary",
     "cylinders: 2\ngeometry:\n  layout: vee\n  bank_angle: 90 deg\n  firing_order: [1, 2]\n"
     "  firing_angles: [0 deg, 450 deg]\n  banks: [1, 2]\n  bore_spacing: 100 mm\n",
     1, M_SQRT2, 0, 0},
    {"a boxer four has no free force, but a secondary couple from its stagger",
     "cylinders: 4\ngeometry:\n  layout: flat\n  firing_order: [1, 4, 3, 2]\n  banks: [1, 1, 2, "
     "2]\n"
     "  bore_spacing: 100 mm\n  bank_stagger: 25 mm\n",
     0, 0, 0, 0.05},
    {"a cross-plane V8 has a turning couple",
     "cylinders: 8\ngeometry:\n  layout: vee\n  bank_angle: 90 deg\n"
     "  firing_order: [1, 8, 4, 3, 6, 5, 7, 2]\n  banks: [1, 2, 1, 2, 1, 2, 1, 2]\n"
     "  bore_spacing: 100 mm\n",
     0, 0, 0.31622777, 0},
};

static void shaking_of_known_layouts(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_engine engine = engine_of(rows[i].yaml);
    struct ew_cylinder_place places[EW_CYLINDERS_MAX];
    gboolean assumed;
    assert_true_says(ew_cylinder_places(&engine, places, &assumed), rows[i].says);
    struct ew_shaking s = ew_shaking_of(places, (gsize)engine.cylinders);
    print_message("%s\n", rows[i].says);
    assert_near(s.primary, rows[i].primary, 1e-7);
    assert_near(s.secondary, rows[i].secondary, 1e-7);
    assert_near(s.primary_moment_m, rows[i].primary_moment, 1e-7);
    assert_near(s.secondary_moment_m, rows[i].secondary_moment, 1e-7);
    ew_engine_clear(&engine);
  }
}

/* The greatest value over a turn, summed cylinder by cylinder, is the closed form's. */
static void closed_form_is_the_greatest(void **state) {
  (void)state;
  struct ew_engine engine =
      engine_of("cylinders: 6\ngeometry:\n  layout: vee\n  bank_angle: 60 deg\n"
                "  firing_order: [1, 4, 2, 5, 3, 6]\n  banks: [1, 1, 1, 2, 2, 2]\n"
                "  bore_spacing: 95 mm\n  bank_stagger: 20 mm\n"
                "  firing_angles: [0 deg, 150 deg, 240 deg, 390 deg, 480 deg, 630 deg]\n");
  struct ew_cylinder_place p[EW_CYLINDERS_MAX];
  gboolean assumed;
  assert_true(ew_cylinder_places(&engine, p, &assumed));
  struct ew_shaking s = ew_shaking_of(p, 6);
  for (int k = 1; k <= 2; k++) {
    double force = 0, moment = 0;
    for (double t = 0; t < 360; t += 0.05) {
      double x = 0, y = 0, mx = 0, my = 0;
      for (int i = 0; i < 6; i++) {
        double f = cos(k * (t - p[i].tdc_deg) * G_PI / 180), b = p[i].bank_deg * G_PI / 180;
        x += f * cos(b), y += f * sin(b);
        mx += p[i].along_m * f * cos(b), my += p[i].along_m * f * sin(b);
      }
      force = fmax(force, hypot(x, y));
      moment = fmax(moment, hypot(mx, my));
    }
    assert_near(k == 1 ? s.primary : s.secondary, force, 1e-5);
    assert_near(k == 1 ? s.primary_moment_m : s.secondary_moment_m, moment, 1e-5);
  }
  ew_engine_clear(&engine);
}

static void intervals_and_throws(void **state) {
  (void)state;
  struct ew_engine engine =
      engine_of("cylinders: 2\ngeometry:\n  layout: vee\n  bank_angle: 90 deg\n"
                "  firing_order: [1, 2]\n  firing_angles: [0 deg, 450 deg]\n  banks: [1, 2]\n");
  struct ew_cylinder_place p[EW_CYLINDERS_MAX];
  gboolean assumed;
  double intervals[2];
  assert_true(ew_cylinder_places(&engine, p, &assumed));
  ew_firing_intervals(&engine, p, intervals);
  assert_near(intervals[0], 450, 1e-9);
  assert_near(intervals[1], 270, 1e-9);
  assert_near(ew_throw_deg(p[0]), ew_throw_deg(p[1]), 1e-9); /* both rods on one pin */
  assert_false(assumed);
  ew_engine_clear(&engine);
}

/* Which cylinders share a pin is known of these engines (common practice, no source): pairs along the crank, whichever
 * bank is called 1 and whichever cylinders stand in it. Degrees by which the pair's pins are split. */
static void pins(void **state) {
  (void)state;
  static const struct {
    const char *says, *order, *angles, *banks;
    int cylinders, vee_deg;
    double split_deg;
    int first_pair[2];
  } known[] = {
      {"odd cylinders ahead in turning",
       "[1, 8, 4, 3, 6, 5, 7, 2]",
       NULL,
       "[1, 2, 1, 2, 1, 2, 1, 2]",
       8,
       90,
       0,
       {1, 2}},
      {"the same, banks called the other way",
       "[1, 8, 4, 3, 6, 5, 7, 2]",
       NULL,
       "[2, 1, 2, 1, 2, 1, 2, 1]",
       8,
       90,
       0,
       {1, 2}},
      {"the same, banks not given", "[1, 8, 4, 3, 6, 5, 7, 2]", NULL, NULL, 8, 90, 0, {1, 2}},
      {"numbered along each bank",
       "[1, 5, 4, 2, 6, 3, 7, 8]",
       NULL,
       "[1, 1, 1, 1, 2, 2, 2, 2]",
       8,
       90,
       0,
       {1, 5}},
      {"numbered along each bank, another order",
       "[1, 3, 7, 2, 6, 5, 4, 8]",
       NULL,
       "[1, 1, 1, 1, 2, 2, 2, 2]",
       8,
       90,
       0,
       {1, 5}},
      {"a flat crank in a vee of 90",
       "[1, 8, 3, 6, 4, 5, 2, 7]",
       NULL,
       "[1, 1, 1, 1, 2, 2, 2, 2]",
       8,
       90,
       0,
       {1, 5}},
      {"a six of 60 with split pins",
       "[1, 2, 3, 4, 5, 6]",
       NULL,
       "[1, 2, 1, 2, 1, 2]",
       6,
       60,
       60,
       {1, 2}},
      {"a six of 90 with split pins",
       "[1, 6, 5, 4, 3, 2]",
       NULL,
       "[1, 2, 1, 2, 1, 2]",
       6,
       90,
       30,
       {1, 2}},
      {"a twin of 45 that waits 405 degrees",
       "[1, 2]",
       "[0 deg, 405 deg]",
       "[1, 2]",
       2,
       45,
       0,
       {1, 2}},
      {"a twin of 45 that waits 315 degrees",
       "[1, 2]",
       "[0 deg, 315 deg]",
       "[1, 2]",
       2,
       45,
       0,
       {1, 2}},
      {"a twelve of 60",
       "[1, 7, 5, 11, 3, 9, 6, 12, 2, 8, 4, 10]",
       NULL,
       "[1, 1, 1, 1, 1, 1, 2, 2, 2, 2, 2, 2]",
       12,
       60,
       0,
       {1, 7}},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(known); i++) {
    g_autofree char *angles =
        known[i].angles ? g_strdup_printf("  firing_angles: %s\n", known[i].angles) : g_strdup("");
    g_autofree char *banks =
        known[i].banks ? g_strdup_printf("  banks: %s\n", known[i].banks) : g_strdup("");
    g_autofree char *yaml =
        g_strdup_printf("cylinders: %d\ngeometry:\n  layout: vee\n  bank_angle: %d deg\n"
                        "  firing_order: %s\n%s%s",
                        known[i].cylinders, known[i].vee_deg, known[i].order, angles, banks);
    struct ew_engine engine = engine_of(yaml);
    struct ew_cylinder_place p[EW_CYLINDERS_MAX];
    gboolean assumed;
    assert_true_says(ew_cylinder_places(&engine, p, &assumed), known[i].says);
    int pairs = known[i].cylinders / 2, a = known[i].first_pair[0] - 1,
        b = known[i].first_pair[1] - 1;
    int step = b - a == 1 ? 2 : 1;
    for (int row = 0; row < pairs; row++) {
      double split = fabs(ew_throw_deg(p[a + row * step]) - ew_throw_deg(p[b + row * step]));
      print_message("%s, row %d: split by %.0f\n", known[i].says, row + 1,
                    fmin(split, 360 - split));
      assert_near(fmin(split, 360 - split), known[i].split_deg, 1e-9);
    }
    ew_engine_clear(&engine);
  }
}

static void bobweight(void **state) {
  (void)state;
  struct ew_engine engine = engine_of(
      "cylinders: 8\nbalance:\n  rod_big_end: 450 g\n  bearing: 45 g\n  oil: 5 g\n  piston: 430 g\n"
      "  pin: 120 g\n  rings: 45 g\n  locks: 5 g\n  rod_small_end: 170 g\n  rods_a_pin: 2\n");
  assert_near(ew_bobweight_kg(&engine.balance) * 1e3, 1765.0, 1e-6);
  assert_near(ew_reciprocating_kg(&engine.balance) * 1e3, 770, 1e-6);
  ew_engine_clear(&engine);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(shaking_of_known_layouts), cmocka_unit_test(closed_form_is_the_greatest),
      cmocka_unit_test(intervals_and_throws), cmocka_unit_test(pins), cmocka_unit_test(bobweight)};
  return cmocka_run_group_tests_name("balance", tests, NULL, NULL);
}
