#include "recording.h"

static void a_sweep(void **state) {
  (void)state;
  struct facts *f = facts_new();
  struct recording r = recording_new(TRUE);
  sweep(&r, 2500, 6500, 400);
  struct ew_processed *p = process_text(r.text->str, f, "a sweep");
  assert_int_equal(p->segments->len, 1);
  const struct ew_segment *s = g_ptr_array_index(p->segments, 0);
  assert_int_equal(s->kind, EW_SEGMENT_SWEEP);
  assert_true(s->throttle_known && s->full_throttle);
  expect_near(s->acceleration_rpm_s, 400, 2, "acceleration");
  expect_near(s->high_rpm, 6500, 15, "top speed");
  assert_true(s->count_first > s->first && s->count_last == s->last);
  /* the settling after the load came on is left out, and all of the rest kept */
  expect_near(s->low_rpm, 2500 + f->method.after_load_rpm, 40, "where counting begins");
  ew_processed_free(p);
  recording_clear(&r);
  facts_free(f);
}

static void several_sweeps(void **state) {
  (void)state;
  struct facts *f = facts_new();
  struct recording r = recording_new(TRUE);
  for (int i = 0; i < 4; i++)
    sweep(&r, 2500 + 100 * i, 5500 + 250 * i, 300);
  struct ew_processed *p = process_text(r.text->str, f, "four sweeps");
  assert_int_equal(p->segments->len, 4);
  for (guint i = 0; i < 4; i++) {
    const struct ew_segment *s = g_ptr_array_index(p->segments, i);
    expect_near(s->high_rpm, 5500 + 250 * i, 15, "top speed of each, in order");
    if (i)
      assert_true(s->first >= ((struct ew_segment *)g_ptr_array_index(p->segments, i - 1))->last);
  }
  ew_processed_free(p);
  recording_clear(&r);
  facts_free(f);
}

static void a_step_test(void **state) {
  (void)state;
  struct facts *f = facts_new();
  struct recording r = recording_new(TRUE);
  r.noise_n_m = 0.3;
  for (int i = 0; i < 7; i++) {
    run(&r, 6, 3000 + 500 * i, 0, 1);
    run(&r, 1, 3000 + 500 * i, 500, 1);
  }
  struct ew_processed *p = process_text(r.text->str, f, "seven dwells");
  assert_int_equal(p->segments->len, 1);
  const struct ew_segment *s = g_ptr_array_index(p->segments, 0);
  assert_int_equal(s->kind, EW_SEGMENT_STEPS);
  assert_int_equal(s->dwells->len, 7);
  const struct ew_curve *c = curve_of(p, 0);
  assert_int_equal(c->points, 7);
  for (gsize i = 0; i < 7; i++) {
    expect_near(c->speed_rpm[i], 3000 + 500.0 * i, 1, "speed of a dwell");
    expect_near(c->observed_n_m[i], true_torque_n_m(c->speed_rpm[i]), 0.15, "torque of a dwell");
    assert_true(c->torque_se_n_m[i] > 0 && c->torque_se_n_m[i] < 0.2);
  }
  ew_processed_free(p);
  recording_clear(&r);
  facts_free(f);
}

static void a_table_of_points(void **state) {
  (void)state;
  struct facts *f = facts_new();
  const char *curve = "Speed [rpm],Torque [N·m]\n2000,150\n3000,170\n4000,180\n5000,175\n";
  struct ew_processed *p = process_text(curve, f, "a full-load curve");
  assert_int_equal(p->segments->len, 1);
  assert_int_equal(((struct ew_segment *)g_ptr_array_index(p->segments, 0))->kind,
                   EW_SEGMENT_POINTS);
  assert_int_equal(curve_of(p, 0)->points, 4);
  assert_true(says_so(curve_of(p, 0)->warnings, "steady points"));
  ew_processed_free(p);
  const char *map =
      "Speed [rpm],Torque [N·m],BSFC [g/kWh]\n2000,50,300\n2000,150,250\n3000,170,240\n"
      "3000,60,300\n4000,180,250\n4000,20,500\n";
  p = process_text(map, f, "an engine map");
  const struct ew_curve *c = curve_of(p, 0);
  assert_int_equal(c->points, 3);
  assert_true(c->observed_n_m[0] == 150 && c->observed_n_m[1] == 170 && c->observed_n_m[2] == 180);
  assert_true(says_so(c->warnings, "engine map of 6 points"));
  ew_processed_free(p);
  facts_free(f);
}

static void half_throttle(void **state) {
  (void)state;
  struct facts *f = facts_new();
  struct recording r = recording_new(TRUE);
  run(&r, 2, 2500, 0, 0.1);
  run(&r, 10, 2500, 400, 0.6);
  struct ew_processed *p = process_text(r.text->str, f, "a sweep at six tenths");
  assert_int_equal(p->curves->len, 1);
  assert_true(curve_of(p, 0)->conditions.throttle_known);
  assert_false(curve_of(p, 0)->conditions.full_throttle);
  assert_true(says_so(curve_of(p, 0)->warnings, "full throttle was never seen"));
  ew_processed_free(p);
  recording_clear(&r);
  facts_free(f);
}

static void no_throttle_channel(void **state) {
  (void)state;
  struct facts *f = facts_new();
  struct recording r = recording_new(FALSE);
  sweep(&r, 2500, 6500, 400);
  struct ew_processed *p = process_text(r.text->str, f, "no throttle");
  assert_int_equal(p->curves->len, 1);
  assert_false(curve_of(p, 0)->conditions.throttle_known);
  assert_true(says_so(curve_of(p, 0)->warnings, "no throttle position"));
  ew_processed_free(p);
  recording_clear(&r);
  facts_free(f);
}

static void no_pull(void **state) {
  (void)state;
  struct facts *f = facts_new();
  static const struct {
    const char *says;
    double seconds, rpm, rate, load;
    const char *why;
  } rows[] = {{"an engine at idle", 20, 900, 0, 0.05, "no steady acceleration"},
              {"a blip of 500 rpm", 1.2, 3000, 400, 1, "no steady acceleration"},
              {"a standing engine", 20, 0, 0, 0, "hardly turns"},
              {"one dwell only", 20, 4000, 0, 1, "no three dwells"},
              {"a slow creep", 60, 3000, 30, 1, "acceleration"}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct recording r = recording_new(TRUE);
    run(&r, rows[i].seconds, rows[i].rpm, rows[i].rate, rows[i].load);
    struct ew_processed *p = process_text(r.text->str, f, rows[i].says);
    expect(p->curves->len == 0, rows[i].says, "%u", p->curves->len);
    expect(p->why_none && strstr(p->why_none, rows[i].why), rows[i].says, "%s", p->why_none);
    ew_processed_free(p);
    recording_clear(&r);
  }
  const char *texts[][2] = {{"Time,RPM\n0,3000\n1,3100\n2,3200\n", "no torque"},
                            {"Time,Torque\n0,200\n1,201\n2,202\n", "no engine speed"},
                            {"a,b\n0,200\n1,201\n2,202\n", "neither"}};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++) {
    struct ew_processed *p = process_text(texts[i][0], f, texts[i][1]);
    expect(p->why_none && strstr(p->why_none, texts[i][1]), texts[i][1], "%s", p->why_none);
    ew_processed_free(p);
  }
  facts_free(f);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_sweep),       cmocka_unit_test(several_sweeps),
      cmocka_unit_test(a_step_test),   cmocka_unit_test(a_table_of_points),
      cmocka_unit_test(half_throttle), cmocka_unit_test(no_throttle_channel),
      cmocka_unit_test(no_pull)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
