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

/* A recorder that runs only while the load is on: nothing stands between the pulls but time. Each gap in seconds; below the one second that
 * may go unseen the speed itself drops. */
static void pulls_without_anything_between(void **state) {
  (void)state;
  static const double gaps_s[] = {600, 8, 2};
  for (gsize k = 0; k < G_N_ELEMENTS(gaps_s); k++) {
    struct facts *f = facts_new();
    struct recording r = recording_new(FALSE);
    for (int i = 0; i < 3; i++) {
      run(&r, 10, 2500, 400, 1);
      r.time_s += gaps_s[k];
    }
    struct ew_processed *p = process_text(r.text->str, f, "pulls cut out by the recorder");
    assert_int_equal(p->segments->len, 3);
    for (guint i = 0; i < 3; i++) {
      const struct ew_segment *s = g_ptr_array_index(p->segments, i);
      expect_near(s->high_rpm, 6492, 15, "top speed of each");
      assert_true(p->series->time_s[s->last - 1] - p->series->time_s[s->first] < 10.1);
    }
    ew_processed_free(p);
    recording_clear(&r);
    facts_free(f);
  }
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

/* The same speed before and after a recorder that was stopped is two dwells. */
static void dwells_without_anything_between(void **state) {
  (void)state;
  struct facts *f = facts_new();
  struct recording r = recording_new(TRUE);
  for (int i = 0; i < 8; i++) {
    run(&r, 6, 3000 + 500 * (i / 2), 0, 1);
    r.time_s += i % 2 ? 0 : 40;
    if (i % 2)
      run(&r, 1, 3000 + 500 * (i / 2), 500, 1);
  }
  struct ew_processed *p = process_text(r.text->str, f, "dwells cut by the recorder");
  for (guint i = 0; i < p->segments->len; i++) {
    const struct ew_segment *s = g_ptr_array_index(p->segments, i);
    for (guint d = 0; s->dwells && d < s->dwells->len; d++) {
      const struct ew_dwell *one = &g_array_index(s->dwells, struct ew_dwell, d);
      assert_true(p->series->time_s[one->last - 1] - p->series->time_s[one->first] < 7);
    }
  }
  assert_true(p->segments->len > 0);
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
  assert_true(says_so(curve_of(p, 0)->warnings, "pull.table-of-points"));
  ew_processed_free(p);
  const char *map =
      "Speed [rpm],Torque [N·m],BSFC [g/kWh]\n2000,50,300\n2000,150,250\n3000,170,240\n"
      "3000,60,300\n4000,180,250\n4000,20,500\n";
  p = process_text(map, f, "an engine map");
  const struct ew_curve *c = curve_of(p, 0);
  assert_int_equal(c->points, 3);
  assert_true(c->observed_n_m[0] == 150 && c->observed_n_m[1] == 170 && c->observed_n_m[2] == 180);
  assert_true(says_so(c->warnings, "pull.engine-map"));
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
  assert_true(says_so(curve_of(p, 0)->warnings, "pull.no-full-throttle"));
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
  assert_true(says_so(curve_of(p, 0)->warnings, "pull.no-throttle"));
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
  } rows[] = {{"an engine at idle", 20, 900, 0, 0.05, "pull.no-pull"},
              {"a blip of 500 rpm", 1.2, 3000, 400, 1, "pull.no-pull"},
              {"a standing engine", 20, 0, 0, 0, "pull.not-turning"},
              {"one dwell only", 20, 4000, 0, 1, "pull.no-pull"},
              {"a slow creep", 60, 3000, 30, 1, "pull.no-pull"}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct recording r = recording_new(TRUE);
    run(&r, rows[i].seconds, rows[i].rpm, rows[i].rate, rows[i].load);
    struct ew_processed *p = process_text(r.text->str, f, rows[i].says);
    expect(p->curves->len == 0, rows[i].says, "%u", p->curves->len);
    expect(strcmp(id_of(p->why_none), rows[i].why) == 0, rows[i].says, "%s", id_of(p->why_none));
    ew_processed_free(p);
    recording_clear(&r);
  }
  const char *texts[][2] = {{"Time,RPM\n0,3000\n1,3100\n2,3200\n", "pull.no-torque"},
                            {"Time,Torque\n0,200\n1,201\n2,202\n", "pull.no-speed"},
                            {"a,b\n0,200\n1,201\n2,202\n", "pull.no-speed-no-torque"}};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++) {
    struct ew_processed *p = process_text(texts[i][0], f, texts[i][1]);
    expect(strcmp(id_of(p->why_none), texts[i][1]) == 0, texts[i][1], "%s", id_of(p->why_none));
    ew_processed_free(p);
  }
  facts_free(f);
}

/* Rows of text, of which some cells are blanked: what a logger writes when a channel drops out or comes slowly. */
static char *blanked(const char *text, int column, gsize first, gsize last, gsize keep_every) {
  g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
  for (gsize i = 0; lines[i]; i++) {
    if (i < first + 1 || i >= last + 1 || !*lines[i] || (keep_every && (i - 1) % keep_every == 0))
      continue;
    g_auto(GStrv) cells = g_strsplit(lines[i], ",", -1);
    g_free(cells[column]);
    cells[column] = g_strdup("");
    g_free(lines[i]);
    lines[i] = g_strjoinv(",", cells);
  }
  return g_strjoinv("\n", lines);
}

/* Columns of the recordings of this room: 1 is speed, 2 torque, 6 throttle. */
static void holes_and_slow_channels(void **state) {
  (void)state;
  static const struct {
    const char *says;
    double hz;
    int column;
    gsize first, last, keep_every; /* rows; a sweep of 10 s begins after 2 s */
    double low_rpm, high_rpm;
  } rows[] = {
      {"speed missing where the sweep begins", 50, 1, 99, 116, 0, 2900, 6490},
      {"speed missing where the sweep ends", 50, 1, 594, 606, 0, 2770, 6430},
      {"torque missing where the sweep ends", 50, 2, 594, 606, 0, 2770, 6430},
      {"throttle missing for 0.6 s in the middle", 50, 6, 300, 330, 0, 2770, 6490},
      {"throttle four times a second", 50, 6, 0, 10000, 12, 2770, 6490},
      {"speed three times a second", 100, 1, 0, 10000, 33, 2790, 6440},
      {"speed, torque and throttle missing for half a second", 50, 1, 300, 325, 0, 2770, 6490},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct facts *f = facts_new();
    struct recording r = recording_new(TRUE);
    r.hz = rows[i].hz;
    r.noise_n_m = 0.5;
    sweep(&r, 2500, 6500, 400);
    g_autofree char *text =
        blanked(r.text->str, rows[i].column, rows[i].first, rows[i].last, rows[i].keep_every);
    struct ew_processed *p = process_text(text, f, rows[i].says);
    expect(p->curves->len == 1, rows[i].says, "%u pulls: %s", p->curves->len, id_of(p->why_none));
    const struct ew_curve *c = curve_of(p, 0);
    expect(c->kind == EW_SEGMENT_SWEEP && c->conditions.full_throttle, rows[i].says, "kind %d",
           c->kind);
    expect(c->low_rpm < rows[i].low_rpm + 30 && c->high_rpm > rows[i].high_rpm - 30, rows[i].says,
           "%.0f to %.0f rpm", c->low_rpm, c->high_rpm);
    for (gsize j = 0; j < c->points; j++)
      expect_near(c->observed_n_m[j], true_torque_n_m(c->speed_rpm[j]), 1.5, rows[i].says);
    ew_processed_free(p);
    recording_clear(&r);
    facts_free(f);
  }
}

/* Without a throttle a run-up at 40 % torque is no pull, whether it stops before the pull or runs into it. */
static void a_run_up_without_throttle(void **state) {
  (void)state;
  for (int through = 0; through < 2; through++) {
    struct facts *f = facts_new();
    struct recording r = recording_new(FALSE);
    r.noise_n_m = 0.8;
    run(&r, 2.5, 1600, 400, 0.42);
    if (!through)
      run(&r, 3, 2600, 0, 0.42);
    run(&r, 9.75, 2600, 400, 1);
    run(&r, 0.1, 6500, -200, 0.7); /* torque falls within a tenth of a second */
    run(&r, 1.5, 6480, -800, 0.05);
    const char *says =
        through ? "a run-up that runs into the pull" : "a run-up that stops before the pull";
    struct ew_processed *p = process_text(r.text->str, f, says);
    expect(p->curves->len == 1, says, "%u pulls", p->curves->len);
    const struct ew_curve *c = curve_of(p, 0);
    expect(c->low_rpm > 2700 && c->high_rpm > 6450, says, "%.0f to %.0f rpm", c->low_rpm,
           c->high_rpm);
    for (gsize j = 0; j < c->points; j++)
      expect_near(c->observed_n_m[j], true_torque_n_m(c->speed_rpm[j]), 1.5, says);
    expect(says_so(p->series->notes, "pull.load-on") ||
               says_so(p->series->notes, "pull.part-load-run"),
           says, "%u notes", p->series->notes->len);
    ew_processed_free(p);
    recording_clear(&r);
    facts_free(f);
  }
}

/* Two pulls, and two run-ups at part load: two pulls. A pull that ends early, as low as the other there, is one too. */
static void part_load_beside_pulls(void **state) {
  (void)state;
  struct facts *f = facts_new();
  struct recording r = recording_new(FALSE);
  r.noise_n_m = 0.8;
  for (int i = 0; i < 2; i++) {
    run(&r, 2.5, 1600, 400, 0.42);
    run(&r, 2, 2600, 0, 0.2);
    run(&r, 9.75, 2600, 400, 1);
    run(&r, 2, 6500, -1200, 0.05);
  }
  struct ew_processed *p = process_text(r.text->str, f, "two pulls with run-ups");
  assert_int_equal(p->curves->len, 2);
  for (guint i = 0; i < 2; i++)
    assert_true(curve_of(p, i)->high_rpm > 6400);
  ew_processed_free(p);
  recording_clear(&r);
  facts_free(f);
}

/* Ten seconds of pull in an hour of idling are a pull at full throttle. */
static void a_pull_in_an_hour(void **state) {
  (void)state;
  struct facts *f = facts_new();
  struct recording r = recording_new(TRUE);
  r.hz = 10;
  r.noise_n_m = 0.5;
  run(&r, 3000, 900, 0, 0.05);
  sweep(&r, 2500, 6500, 400);
  run(&r, 600, 900, 0, 0.05);
  struct ew_processed *p = process_text(r.text->str, f, "a pull in an hour");
  assert_int_equal(p->curves->len, 1);
  assert_true(curve_of(p, 0)->conditions.full_throttle);
  ew_processed_free(p);
  recording_clear(&r);
  facts_free(f);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(a_sweep),
                                     cmocka_unit_test(several_sweeps),
                                     cmocka_unit_test(pulls_without_anything_between),
                                     cmocka_unit_test(a_step_test),
                                     cmocka_unit_test(dwells_without_anything_between),
                                     cmocka_unit_test(a_table_of_points),
                                     cmocka_unit_test(half_throttle),
                                     cmocka_unit_test(no_throttle_channel),
                                     cmocka_unit_test(no_pull),
                                     cmocka_unit_test(holes_and_slow_channels),
                                     cmocka_unit_test(a_run_up_without_throttle),
                                     cmocka_unit_test(part_load_beside_pulls),
                                     cmocka_unit_test(a_pull_in_an_hour)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
