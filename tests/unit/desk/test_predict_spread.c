/* What a bare file is predicted with, and what of it is moved for the band. */
#include "desk/predict_spread.h"
#include "unit.h"

/* Bore, stroke, rod, compression, kind of head, a cam at 1 mm, primaries: nothing else. */
#define BARE                                                                                       \
  "name: bare\ncylinders: 1\nbore: 86 mm\nstroke: 86 mm\nhead: two valves, wedge\n"                \
  "geometry: {rod_length: 145 mm}\ncompression: {ratio: 10}\n"                                     \
  "inlet: {check_duration: 240 deg, check_lift: 1 mm}\n"                                           \
  "exhaust: {check_duration: 240 deg, check_lift: 1 mm}\n"                                         \
  "breathing: {primary_length: 800 mm, primary_diameter: 41 mm"

static struct ew_engine engine_of(const char *yaml) {
  struct ew_engine engine;
  g_autoptr(GError) error = NULL;
  g_autoptr(ew_node) root = ew_node_parse("engine", yaml, strlen(yaml), &error);
  expect(root && ew_engine_read(root, "engine", &engine, &error), "the engine", "%s",
         error ? error->message : "");
  return engine;
}

static struct ew_prediction_setup setup_of(const struct ew_engine *engine) {
  struct ew_prediction_setup s = {.engine = engine,
                                  .lambda = NAN,
                                  .pressure_pa = NAN,
                                  .temperature_k = NAN,
                                  .vapour_pa = NAN,
                                  .spark_deg = NAN};
  ew_fields_defaults(&ew_tune_fields, &s.tune);
  return s;
}

static int moved(const struct ew_prior *spread, const char *field) {
  int n = 0;
  for (int k = 0; k < spread->setups; k++)
    n += strcmp(spread->field[k], field) == 0;
  return n;
}

/* Common road cams: 214 degrees at 1.27 mm with 252 at 0.5 (as tests/rates/cycle has them). */
static void a_cam_given_in_part(void **state) {
  (void)state;
  struct ew_engine e =
      engine_of("name: x\ncylinders: 1\nbore: 86 mm\nstroke: 86 mm\ncompression: {ratio: 10}\n"
                "inlet: {check_duration: 214 deg}\nexhaust: {duration: 252 deg}\n");
  struct ew_prediction_setup s = setup_of(&e);
  g_autoptr(GError) error = NULL;
  g_autoptr(GArray) all = ew_predict_assumed(&s, &error);
  expect(all != NULL, "built", "%s", error ? error->message : "");
  double inlet = NAN, exhaust = NAN, lift = NAN, separation = NAN;
  for (guint i = 0; i < all->len; i++) {
    const struct ew_cycle_assumed *a = &g_array_index(all, struct ew_cycle_assumed, i);
    double *where = strcmp(a->field, "inlet.duration") == 0           ? &inlet
                    : strcmp(a->field, "exhaust.check_duration") == 0 ? &exhaust
                    : strcmp(a->field, "inlet.gross_lift") == 0       ? &lift
                    : strcmp(a->field, "cam.lobe_separation") == 0    ? &separation
                                                                      : NULL;
    if (where)
      *where = a->value;
  }
  expect_near(inlet, 252, 0.5, "the inlet's duration at 0.5 mm");
  expect_near(exhaust, 214, 0.5, "the exhaust's duration at 1.27 mm");
  expect(lift > 8e-3 && lift < 13e-3, "lift", "%g", lift);
  expect_near(separation, 110, 0, "lobe separation");
  ew_engine_clear(&e);
}

static void what_is_moved(void **state) {
  (void)state;
  struct ew_engine bare = engine_of(BARE "}\n"),
                   more = engine_of(BARE ", runner_length: 300 mm}\n");
  struct ew_prediction_setup s = setup_of(&bare), t = setup_of(&more);
  struct ew_prior spread, fewer;
  g_autoptr(GError) error = NULL;
  expect(ew_prior_make(&s, &spread, &error), "bare", "%s", error ? error->message : "");
  expect(ew_prior_make(&t, &fewer, &error), "more", "%s", error ? error->message : "");
  expect(moved(&spread, "breathing.runner_length") == 2, "a length goes both ways", "%d",
         moved(&spread, "breathing.runner_length"));
  expect(moved(&fewer, "breathing.runner_length") == 0, "what is given stays", "%d",
         moved(&fewer, "breathing.runner_length"));
  expect(moved(&spread, "breathing.primary_length") == 0, "primaries are given", "moved");
  expect(moved(&spread, "inlet.duration") == 1 && moved(&spread, "inlet.head_diameter") == 1,
         "the cam's second duration and the valve", "not moved once");
  expect(moved(&spread, "inlet.ramp_height") == 0, "a ramp is held", "moved");
  for (int k = 0; k < spread.setups; k++) {
    expect(spread.engine[k].inlet.duration_deg > 240, "a moved engine keeps what was taken", "%g",
           spread.engine[k].inlet.duration_deg);
    expect(isnan(bare.inlet.duration_deg), "the file's engine is not touched", "%s",
           spread.field[k]);
  }
  ew_prior_clear(&spread);
  ew_prior_clear(&fewer);
  s.tune.left = 0.02; /* fitted: what is left over holds all of it */
  expect(ew_prior_make(&s, &spread, &error) && spread.setups == 0, "after a fit", "%d",
         spread.setups);
  ew_engine_clear(&bare);
  ew_engine_clear(&more);
}

/* A band for a bare file is wider than for one that gives its runner, and says what would narrow it. */
static void the_band(void **state) {
  (void)state;
  static const double rpm[] = {3000, 5000};
  double u[2] = {0, 0};
  for (int i = 0; i < 2; i++) {
    struct ew_engine e =
        engine_of(i ? BARE ", runner_length: 300 mm, runner_diameter: 38 mm, runner_bends: 0.4}\n"
                    : BARE "}\n");
    struct ew_prediction_setup s = setup_of(&e);
    struct ew_cycle_options o;
    struct ew_cycle_result r[2];
    struct ew_doubt d;
    g_autoptr(GError) error = NULL;
    ew_cycle_options_defaults(&o);
    o.cell_m = 0.08;
    expect(ew_predict_doubt(&s, rpm, 2, &o, r, &d, NULL, NULL, &error), "doubt", "%s",
           error ? error->message : "");
    for (int k = 0; k < 2; k++) {
      double share = d.torque_u_n_m[k] / r[k].torque_n_m;
      expect(share > 0.05 && share < 0.3, "a band", "%g", share);
      u[i] += share;
      ew_cycle_result_clear(&r[k]);
    }
    expect(d.narrowings == EW_NARROW_MOST, "three measurements", "%d", d.narrowings);
    for (int k = 1; k < d.narrowings; k++)
      expect(d.narrow[k].variance_share <= d.narrow[k - 1].variance_share, "the most first", "%d",
             k);
    ew_doubt_clear(&d);
    ew_engine_clear(&e);
  }
  expect(u[1] < u[0], "more told, less doubt", "%g against %g", u[1], u[0]);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(a_cam_given_in_part),
                                     cmocka_unit_test(what_is_moved), cmocka_unit_test(the_band)};
  return cmocka_run_group_tests_name("desk predict_spread", tests, NULL, NULL);
}
