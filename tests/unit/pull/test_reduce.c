#include "recording.h"
#include "pull/explain.h"

/* What went in comes out: the torque of the engine, with the torque that spins the absorber added back. */
static void known_torque_and_inertia(void **state) {
  (void)state;
  static const struct {
    const char *says;
    double rate, inertia, noise, within;
  } rows[] = {
      {"no noise, no inertia", 300, 0, 0, 0.15},
      {"no noise, inertia", 300, 0.105, 0, 0.15},
      {"fast, with much inertia", 600, 0.4, 0, 0.3},
      {"noise of 1 N·m", 300, 0.105, 1, 0.8},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct facts *f = facts_new();
    f->bench.rotor_inertia_kg_m2 = 0.8 * rows[i].inertia;
    f->bench.coupling_inertia_kg_m2 = 0.2 * rows[i].inertia;
    struct recording r = recording_new(TRUE);
    r.inertia_kg_m2 = rows[i].inertia;
    r.noise_n_m = rows[i].noise;
    sweep(&r, 2500, 6500, rows[i].rate);
    struct ew_processed *p = process_text(r.text->str, f, rows[i].says);
    expect(p->curves->len == 1, rows[i].says, "%u curves", p->curves->len);
    const struct ew_curve *c = curve_of(p, 0);
    expect(c->points > 30, rows[i].says, "%zu points", c->points);
    for (gsize j = 0; j < c->points; j++) {
      expect_near(c->observed_n_m[j], true_torque_n_m(c->speed_rpm[j]), rows[i].within,
                  rows[i].says);
      expect_near(c->inertia_n_m[j], rows[i].inertia * rows[i].rate * G_PI / 30,
                  0.02 * rows[i].inertia * rows[i].rate, rows[i].says);
      expect_near(c->torque_n_m[j], c->factor.factor * c->observed_n_m[j], 1e-12 * 200,
                  rows[i].says);
      expect_near(c->power_w[j], c->torque_n_m[j] * c->speed_rpm[j] * G_PI / 30, 1e-6,
                  rows[i].says);
    }
    ew_processed_free(p);
    recording_clear(&r);
    facts_free(f);
  }
}

static struct ew_processed *usual(struct facts *f, struct recording *r) {
  *r = recording_new(TRUE);
  r->noise_n_m = 0.5;
  r->inertia_kg_m2 = 0.1;
  f->bench.rotor_inertia_kg_m2 = 0.1;
  sweep(r, 2500, 6500, 400);
  return process_text(r->text->str, f, "the usual sweep");
}

static void the_engines_own_inertia(void **state) {
  (void)state;
  struct facts *f = facts_new();
  f->engine.inertia_kg_m2 = 0.2;
  struct recording r;
  struct ew_processed *p = usual(f, &r);
  f->method.engine_inertia = TRUE;
  struct ew_processed *q = process_text(r.text->str, f, "with the engine's own");
  const struct ew_curve *off = curve_of(p, 0), *on = curve_of(q, 0);
  for (gsize j = 0; j < off->points; j++) {
    expect_near(on->observed_n_m[j] - off->observed_n_m[j], off->engine_inertia_n_m[j], 1e-9,
                "only the method adds it");
    expect_near(off->engine_inertia_n_m[j], 0.2 * 400 * G_PI / 30, 0.2, "J times acceleration");
  }
  ew_processed_free(p);
  ew_processed_free(q);
  recording_clear(&r);
  facts_free(f);
}

/* After SAE J1349 (from memory): 1.18 (99 kPa / dry) sqrt((t + 273) / 298) - 0.18; vapour 0.5 x 3,169 Pa
 * at 25 °C (steam tables). */
static void the_factor_and_its_absence(void **state) {
  (void)state;
  struct facts *f = facts_new();
  struct recording r;
  struct ew_processed *p = usual(f, &r);
  const struct ew_curve *c = curve_of(p, 0);
  double dry = 99000 - 0.5 * 3169;
  expect_near(c->factor.factor, 1.18 * 99000 / dry - 0.18, 2e-4, "from the channels");
  assert_string_equal(c->conditions.pressure_from, "channel");
  ew_processed_free(p);
  const char *bare = "Time [s],RPM,Torque\n";
  GString *text = g_string_new(bare);
  for (int i = 0; i < 600; i++)
    g_string_append_printf(text, "%.2f,%d,%.3f\n", i / 50.0, 2500 + 8 * i,
                           true_torque_n_m(2500 + 8 * i));
  p = process_text(text->str, f, "no weather");
  c = curve_of(p, 0);
  assert_true(c->factor.factor == 1 && !c->factor.in_range);
  assert_string_equal(id_of(c->out_of_range), "pull.weather-unknown");
  assert_true(says_so(c->warnings, "pull.factor"));
  ew_processed_free(p);
  f->setup.pressure_pa = 95000;
  f->setup.temperature_k = 308.15;
  p = process_text(text->str, f, "weather from the set-up");
  c = curve_of(p, 0);
  expect_near(c->factor.factor, 1.18 * 99.0 / 95 * sqrt(308.15 / 298.15) - 0.18, 2e-4, "set-up");
  assert_string_equal(c->conditions.pressure_from, "set-up");
  ew_processed_free(p);
  f->setup.pressure_pa = 85000;
  p = process_text(text->str, f, "a mountain");
  c = curve_of(p, 0);
  assert_true(!c->factor.in_range && c->factor.factor > 1.1);
  assert_true(figure_of(message_of(c->warnings, "pull.factor"), "factor") > 1);
  ew_processed_free(p);
  g_string_free(text, TRUE);
  recording_clear(&r);
  facts_free(f);
}

static void the_same_every_time(void **state) {
  (void)state;
  struct facts *f = facts_new();
  struct recording r;
  struct ew_processed *p = usual(f, &r), *q = process_text(r.text->str, f, "again");
  const struct ew_curve *a = curve_of(p, 0), *b = curve_of(q, 0);
  assert_int_equal(a->points, b->points);
  gsize size = a->points * sizeof(double);
  assert_memory_equal(a->torque_n_m, b->torque_n_m, size);
  assert_memory_equal(a->torque_se_n_m, b->torque_se_n_m, size);
  assert_memory_equal(&a->band_mean_n_m, &b->band_mean_n_m, sizeof(double));
  ew_processed_free(p);
  ew_processed_free(q);
  recording_clear(&r);
  facts_free(f);
}

/* Mean effective pressure of a four-stroke: 4 pi T / V (definition). */
static void mean_effective_pressure(void **state) {
  (void)state;
  struct facts *f = facts_new();
  f->engine.bore_m = 0.086;
  f->engine.stroke_m = 0.086;
  f->engine.cylinders = 4;
  struct recording r;
  struct ew_processed *p = usual(f, &r);
  const struct ew_curve *c = curve_of(p, 0);
  const struct ew_curve_column *bmep = ew_curve_column(c, "bmep", 0);
  assert_non_null(bmep);
  double volume = G_PI / 4 * pow(0.086, 3) * 4;
  for (gsize j = 0; j < c->points; j++)
    expect_near(bmep->values[j], 4 * G_PI * c->torque_n_m[j] / volume, 1e-3, "bmep");
  ew_processed_free(p);
  recording_clear(&r);
  facts_free(f);
}

static void one_figure_walked_back(void **state) {
  (void)state;
  struct facts *f = facts_new();
  struct recording r;
  struct ew_processed *p = usual(f, &r);
  const struct ew_curve *c = curve_of(p, 0);
  struct ew_origin o;
  for (double speed = 3000; speed < 6400; speed += 500) {
    assert_true(ew_explain(p, 0, &f->reduce, speed, &o, NULL));
    expect_near((o.measured_n_m + o.inertia_n_m) * c->factor.factor, o.torque_n_m, 1e-9, "adds up");
    expect_near(o.torque_n_m, ew_curve_at(c, c->torque_n_m, speed), 1e-9, "is the curve's");
    assert_true(o.samples > 20 && o.first_s < o.last_s && o.low_rpm < speed && o.high_rpm > speed);
  }
  g_autoptr(GError) error = NULL;
  assert_false(ew_explain(p, 0, &f->reduce, 9000, &o, &error));
  expect_refused(error, "9,000 rpm|outside", "a speed outside the pull");
  ew_processed_free(p);
  recording_clear(&r);
  facts_free(f);
}

/* The band's mean is the mean of the log over the band: of a flat curve, its height. */
static void the_headline(void **state) {
  (void)state;
  struct facts *f = facts_new();
  f->method.standard = EW_STANDARD_NONE;
  GString *text = g_string_new("Time [s],RPM,Torque\n");
  for (int i = 0; i < 600; i++)
    g_string_append_printf(text, "%.2f,%d,%.3f\n", i / 50.0, 2500 + 8 * i, 180 + 0.001 * (i % 2));
  struct ew_processed *p = process_text(text->str, f, "flat");
  const struct ew_curve *c = curve_of(p, 0);
  expect_near(c->band_mean_n_m, 180, 0.01, "the headline of a flat curve");
  expect_near(c->band_low_rpm, 0.65 * c->high_rpm, 1, "65 % of the top");
  assert_true(isnan(ew_curve_band_log(c, 1000, 2000)));
  ew_processed_free(p);
  g_string_free(text, TRUE);
  facts_free(f);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(known_torque_and_inertia),
                                     cmocka_unit_test(the_engines_own_inertia),
                                     cmocka_unit_test(the_factor_and_its_absence),
                                     cmocka_unit_test(the_same_every_time),
                                     cmocka_unit_test(mean_effective_pressure),
                                     cmocka_unit_test(one_figure_walked_back),
                                     cmocka_unit_test(the_headline)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
