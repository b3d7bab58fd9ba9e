/* Step tests in a speed that the brake hunts about: all dwells are found, at up to 15 rpm of scatter, 5 to 100 Hz,
 * white and slow; what is left out is said. */
#include "recording.h"
#include <stdio.h>

struct steps {
  double hz, scatter_rpm, hunting_s; /* hunting_s: period of a sine; 0: white noise */
  double dwell_s, ramp_s;
  int count;
};

static double noise_of(GRand *random) {
  double sum = -6;
  for (int i = 0; i < 12; i++)
    sum += g_rand_double(random);
  return sum; /* of variance 1 */
}

static void row(GString *text, GRand *random, const struct steps *s, double *time, double speed,
                double load) {
  double away = s->hunting_s > 0 ? s->scatter_rpm * sqrt(2) * sin(2 * G_PI * *time / s->hunting_s)
                                 : s->scatter_rpm * noise_of(random);
  g_string_append_printf(text, "%.4f,%.2f,%.3f,%.2f\n", *time, speed + away,
                         load * true_torque_n_m(speed) + noise_of(random), 100 * load);
  *time += 1 / s->hz;
}

static char *step_test(const struct steps *s, guint seed) {
  g_autoptr(GRand) random = g_rand_new_with_seed(seed);
  GString *text = g_string_new("Time [s],RPM,Torque [N·m],TPS [%]\n");
  double time = 0;
  for (int i = 0; i < s->count; i++) {
    for (int k = 0; k < (int)lround(s->dwell_s * s->hz); k++)
      row(text, random, s, &time, 2500 + 500 * i, 1);
    for (int k = 0; i + 1 < s->count && k < (int)lround(s->ramp_s * s->hz); k++)
      row(text, random, s, &time, 2500 + 500 * i + 500 * (k + 1) / (s->ramp_s * s->hz), 1);
  }
  return g_string_free(text, FALSE);
}

static void all_found(const struct steps *s, guint seed) {
  struct facts *f = facts_new();
  g_autofree char *text = step_test(s, seed);
  g_autofree char *says = g_strdup_printf(
      "%d dwells of %g s, %g rpm %s (%g s), %g Hz, ramps of %g s, seed %u", s->count, s->dwell_s,
      s->scatter_rpm, s->hunting_s > 0 ? "hunting" : "white", s->hunting_s, s->hz, s->ramp_s, seed);
  struct ew_processed *p = process_text(text, f, says);
  expect(p->curves->len == 1, says, "%u pulls: %s", p->curves->len, id_of(p->why_none));
  const struct ew_curve *c = curve_of(p, 0);
  expect(c->kind == EW_SEGMENT_STEPS && c->points == (gsize)s->count, says, "%zu points",
         c->points);
  double spread = s->scatter_rpm + 3; /* of a mean over the last three fifths, generously */
  for (gsize j = 0; j < c->points; j++) {
    expect_near(c->speed_rpm[j], 2500 + 500.0 * (double)j, spread, says);
    expect_near(c->observed_n_m[j], true_torque_n_m(2500 + 500.0 * (double)j), 1.5, says);
  }
  ew_processed_free(p);
  facts_free(f);
}

static void every_dwell_in_any_hunting(void **state) {
  (void)state;
  static const double rates[] = {5, 10, 20, 50, 100}, scatters[] = {0, 1, 3, 6, 10, 15},
                      periods[] = {0, 0.7, 1.5, 2, 3, 5};
  guint seed = 1;
  for (gsize r = 0; r < G_N_ELEMENTS(rates); r++)
    for (gsize s = 0; s < G_N_ELEMENTS(scatters); s++)
      for (gsize h = 0; h < G_N_ELEMENTS(periods); h++, seed++)
        all_found(&(struct steps){rates[r], scatters[s], periods[h], 7, 1, 9}, seed);
}

static void short_dwells_and_slow_ramps(void **state) {
  (void)state;
  for (guint seed = 1; seed <= 4; seed++) {
    all_found(&(struct steps){50, 2, 0, 2.5, 1, 7}, seed);
    all_found(&(struct steps){20, 2, 0, 3, 3, 7}, seed);
    all_found(&(struct steps){10, 6, 0, 4, 1, 7}, seed);
    all_found(&(struct steps){10, 6, 0, 7, 4, 7}, seed);
    all_found(&(struct steps){100, 15, 0, 4, 2, 7}, seed);
  }
}

/* One dwell of seven is short, one creeps: five are found, and the two are named. */
static void what_is_left_out_is_said(void **state) {
  (void)state;
  g_autoptr(GRand) random = g_rand_new_with_seed(3);
  struct facts *f = facts_new();
  struct steps s = {20, 3, 0, 0, 0, 0};
  GString *text = g_string_new("Time [s],RPM,Torque [N·m],TPS [%]\n");
  double time = 0;
  for (int i = 0; i < 7; i++) {
    double from = 2500 + 500 * i, seconds = i == 2 ? 1.4 : 6, creep = i == 4 ? 36 : 0;
    for (int k = 0; k < (int)lround(seconds * 20); k++)
      row(text, random, &s, &time, from + creep * k / 20, 1);
    for (int k = 1; k <= 20; k++)
      row(text, random, &s, &time, from + creep * seconds + (500 - creep * seconds) * k / 20, 1);
  }
  struct ew_processed *p = process_text(text->str, f, "a short one and one that creeps");
  assert_int_equal(p->curves->len, 1);
  assert_int_equal(curve_of(p, 0)->points, 5);
  const ew_message *left = message_of(p->series->notes, "pull.short-dwell");
  expect(left != NULL, "the short one", "%u notes", p->series->notes->len);
  expect_near(figure_of(left, "speed"), 3500, 5, "the short one");
  expect_near(figure_of(left, "length"), 1.5, 0.5, "the short one");
  ew_processed_free(p);
  g_string_free(text, TRUE);
  facts_free(f);
}

static void two_dwells_are_no_step_test(void **state) {
  (void)state;
  struct facts *f = facts_new();
  g_autofree char *text = step_test(&(struct steps){20, 3, 0, 7, 1, 2}, 5);
  struct ew_processed *p = process_text(text, f, "two dwells");
  assert_int_equal(p->curves->len, 0);
  const ew_message *first = message_of(p->series->notes, "pull.too-few-speeds");
  expect_near(figure_of(first, "speed"), 2500, 2, "the first dwell");
  expect_near(figure_of(first, "speeds"), 2, 0, "two speeds");
  ew_processed_free(p);
  facts_free(f);
}

/* Four loads at 1,600 rpm: with throttle, without, and as a table. Kept, and understood for what it is. */
static void loads_at_one_speed(void **state) {
  (void)state;
  g_autoptr(GRand) random = g_rand_new_with_seed(4);
  struct facts *f = facts_new();
  for (int form = 0; form < 3; form++) {
    GString *text = g_string_new(form == 0   ? "Time [s],RPM,Torque [N·m],TPS [%]\n"
                                 : form == 1 ? "Time [s],RPM,Torque [N·m]\n"
                                             : "RPM,Torque [N·m]\n");
    for (int i = 0; i < 4; i++)
      for (int k = 0; k < (form == 2 ? 1 : 100); k++) {
        double speed = 1600 + 3 * noise_of(random), torque = 35 * (i + 1) + 0.5 * noise_of(random);
        if (form < 2)
          g_string_append_printf(text, "%.2f,", (i * 100 + k) / 10.0);
        g_string_append_printf(text, "%.2f,%.2f", speed, torque);
        g_string_append_printf(text, form == 0 ? ",%d\n" : "\n", 25 * (i + 1));
      }
    struct ew_processed *p = process_text(text->str, f, "four loads at one speed");
    expect(p->curves->len == 0, "four loads at one speed", "%u pulls in form %d", p->curves->len,
           form);
    expect(strcmp(id_of(p->why_none), "pull.load-sweep") == 0, "four loads", "%s",
           id_of(p->why_none));
    expect_near(figure_of(p->why_none, "loads"), 4, 0, "four loads");
    expect_near(figure_of(p->why_none, "least"), 35, 2, "from 35 N·m on");
    ew_processed_free(p);
    g_string_free(text, TRUE);
  }
  facts_free(f);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_dwell_in_any_hunting), cmocka_unit_test(short_dwells_and_slow_ramps),
      cmocka_unit_test(what_is_left_out_is_said), cmocka_unit_test(two_dwells_are_no_step_test),
      cmocka_unit_test(loads_at_one_speed)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
