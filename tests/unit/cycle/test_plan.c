/* Plans: the same engine gives the same digest, every figure that matters another one; written and read
 * back; hostile bytes refused; planning grows with the number of engines and not faster. */
#include "../../reference/cycle/engines.h"
#include "cycle/from_engine.h"
#include "cycle/plan_parts.h"
#include "unit.h"

static struct engine engine; /* large: not on the stack */

static struct ew_cycle_plan *plan_of(const struct engine *e, const struct ew_cycle_options *given) {
  struct ew_cycle_options options;
  ew_cycle_options_defaults(&options);
  GError *error = NULL;
  struct ew_cycle_plan *plan = ew_cycle_plan_new(&e->model, given ? given : &options, NULL, &error);
  if (!plan)
    fail_msg("%s", error->message);
  return plan;
}

static gboolean same_digest(const struct ew_cycle_plan *a, const struct ew_cycle_plan *b) {
  return memcmp(a->digest, b->digest, sizeof a->digest) == 0;
}

/* Each of these is another engine, or another way to compute it. */
static const char *perturb(int which, struct engine *e, struct ew_cycle_options *o) {
  struct ew_cycle_model *m = &e->model;
  switch (which) {
  case 0: o->cell_m *= 1.001; return "cells";
  case 1: o->cfl = 0.8; return "CFL";
  case 2: o->most_cycles++; return "cycles";
  case 3: o->tolerance *= 2; return "tolerance";
  case 4: o->spark = EW_SPARK_MBT; return "spark";
  case 5: m->equivalence = 1.11; return "mixture";
  case 6: m->evaporated_from_gas = 0.41; return "evaporation";
  case 7: m->evaporated_per_k = 0.007; return "rise of evaporation";
  case 8: m->inlet_wall_k += 1; return "inlet wall";
  case 9: m->ambient_pa += 1; return "pressure";
  case 10: m->ambient_k += 0.01; return "temperature";
  case 11: m->vapour_pa += 1; return "humidity";
  case 12: m->exhaust_back_pa = m->ambient_pa + 1; return "back pressure";
  case 13: m->flow_factor *= 1.001; return "flow";
  case 14: m->woschni_factor *= 1.001; return "heat";
  case 15: m->pipe_friction *= 1.001; return "pipe friction";
  case 16: m->pipe_heat *= 1.001; return "pipe heat";
  case 17: m->combustion.development *= 1.001; return "development";
  case 18: m->combustion.duration *= 1.001; return "duration";
  case 19: m->combustion.turbulence *= 1.001; return "turbulence";
  case 20: m->combustion.spread += 0.001; return "spread";
  case 21: m->combustion.fixed_duration_deg = 50; return "fixed burn";
  case 22: m->combustion.octane = 95; return "octane";
  case 23: m->combustion.knock_limit += 0.01; return "knock limit";
  case 24: m->friction.constant_pa += 1; return "friction";
  case 25: m->friction.square_pa_s2_m2 += 1; return "friction with speed";
  case 26: m->delivery = EW_FUEL_PORT; return "delivery";
  case 27: m->fuel = ew_combustible_find("E10"); return "fuel";
  case 28: e->cylinder[0].bore_m += 1e-6; return "bore";
  case 29: e->cylinder[0].stroke_m += 1e-6; return "stroke";
  case 30: e->cylinder[0].compression_ratio += 0.01; return "compression";
  case 31: e->cylinder[0].firing_deg += 1; return "firing angle";
  case 32: e->cylinder[0].wall_k += 1; return "cylinder wall";
  case 33: e->valve[0].first_deg += 0.25; return "cam phase";
  case 34: e->valve[0].head_m += 1e-5; return "valve";
  case 35: e->valve[1].count++; return "number of valves";
  case 36: e->intake_lift[90] += 1e-5; return "lift";
  case 37: e->pipe[0].length_m += 1e-3; return "runner length";
  case 38: e->pipe[0].bend_loss += 0.1; return "bends";
  case 39: e->intake[0].diameter_m += 1e-4; return "runner diameter";
  case 40: e->exhaust[1].wall_k = 600; return "exhaust wall";
  case 41: e->pipe[0].end[0].opening = 0.9; return "opening";
  case 42: e->volume[0].volume_m3 += 1e-5; return "plenum";
  default: return NULL;
  }
}

static void each_figure_counts(void **state) {
  (void)state;
  struct ew_cycle_options options;
  int cases = 0;
  engine_four(&engine, &engine_b);
  struct ew_cycle_plan *base = plan_of(&engine, NULL), *again = plan_of(&engine, NULL);
  assert_true(base->bytes == again->bytes && memcmp(base, again, (gsize)base->bytes) == 0);
  ew_cycle_plan_free(again);
  for (;; cases++) {
    engine_four(&engine, &engine_b);
    ew_cycle_options_defaults(&options);
    const char *says = perturb(cases, &engine, &options);
    if (!says)
      break;
    struct ew_cycle_plan *other = plan_of(&engine, &options);
    expect(!same_digest(base, other), says, "the digest stays");
    ew_cycle_plan_free(other);
  }
  assert_int_equal(cases, 43);
  ew_cycle_plan_free(base);
}

/* Walls that follow the air are as said at 298.15 K, and as much colder as they are told to be where the air is; exhaust pipes find their own. */
static void walls_follow_the_air(void **state) {
  (void)state;
  engine_four(&engine, &engine_b);
  engine.intake[2].wall_k = 370;
  engine.exhaust[0].wall_k = 700;
  struct ew_cycle_plan *plain = plan_of(&engine, NULL);
  engine.model.inlet_follows = 1;
  engine.model.metal_follows = 0.65;
  struct ew_cycle_plan *same = plan_of(&engine, NULL);
  assert_true(same_digest(plain, same));
  engine.model.ambient_k = 258.15;
  struct ew_cycle_plan *cold = plan_of(&engine, NULL);
  expect_near(cold->inlet_wall_k, 300, 1e-9, "wall");
  expect_near(ew_plan_cylinders(cold)[3].shape.wall_k, engine.cylinder[3].wall_k - 26, 1e-9,
              "wall");
  for (int i = 0; i < 2; i++) {
    const struct ew_cycle_station *s = ew_cycle_plan_section(cold, EW_PLAN_STATIONS);
    s += ew_plan_pipes(cold)[i].first_station;
    if (i == 0)
      expect_near(s[2].wall_k, 344, 1e-9, "wall");
    assert_true(i == 0 ? isnan(s[0].wall_k) : s[0].wall_k == 700);
  }
  ew_cycle_plan_free(plain);
  ew_cycle_plan_free(same);
  ew_cycle_plan_free(cold);
}

/* Thin air counts as warmer air for what evaporates: the same vapour over the same air. Against Clausius and Clapeyron's equation as it stands,
 * 1/T' = 1/T - R/L ln(1 bar/p) (any text on thermodynamics), of which the program takes the first term. */
static void thin_air_evaporates_more(void **state) {
  (void)state;
  engine_four(&engine, &engine_b);
  expect_near(ew_cycle_evaporated_from_gas(&engine.model), 0.4, 1e-15,
              "evaporated"); /* 1 bar, 298.15 K */
  static const double air[][2] = {{0.8e5, 298.15}, {0.5e5, 290}, {0.4e5, 280}, {1.2e5, 310}};
  for (int i = 0; i < 4; i++) {
    engine.model.ambient_pa = air[i][0];
    engine.model.ambient_k = air[i][1];
    double exact = 1 / (1 / air[i][1] - 8.314462618 / 35.1e3 * log(1e5 / air[i][0]));
    double counts = 298.15 + (ew_cycle_evaporated_from_gas(&engine.model) - 0.4) / 0.008;
    expect_near(counts, exact, 0.1 * fabs(exact - air[i][1]), "evaporated");
  }
  engine.model.ambient_k = 225;
  expect_near(ew_cycle_evaporated_from_gas(&engine.model), 0, 1e-15,
              "evaporated"); /* never less than nothing */
}

/* What does not change the figures does not change the digest. */
/* Of what a plan is made, none may be a figure that no engine has: a plan from outside carries it to the pipes' ends. */
static void back_pressure_is_a_pressure(void **state) {
  (void)state;
  static const double wrong[] = {INFINITY, -INFINITY, 0, -1e5, 1e308, 2e4, 2e6};
  engine_four(&engine, &engine_b);
  for (guint i = 0; i < G_N_ELEMENTS(wrong); i++) {
    g_autoptr(GError) error = NULL;
    engine.model.exhaust_back_pa = wrong[i];
    assert_false(ew_cycle_model_check(&engine.model, &error));
    assert_non_null(strstr(error->message, "behind the exhaust"));
  }
  engine.model.exhaust_back_pa = 1.4e5;
  assert_true(ew_cycle_model_check(&engine.model, NULL));
}

static void nothing_else_counts(void **state) {
  (void)state;
  struct ew_cycle_options options;
  static struct ew_cycle_flow own_flow[G_N_ELEMENTS(engine_flow)];
  engine_four(&engine, &engine_b);
  struct ew_cycle_plan *base = plan_of(&engine, NULL);
  ew_cycle_options_defaults(&options);
  options.threads = 1;
  options.trace = TRUE;
  engine.pipe[0].name = "another name";
  engine.model.exhaust_back_pa = engine.model.ambient_pa; /* which is what NaN stands for */
  memcpy(own_flow, engine_flow, sizeof own_flow);
  engine.valve[3].flow = own_flow; /* a table of its own, and equal */
  engine.pipe[0].bend_loss = -0.0;
  struct ew_cycle_plan *other = plan_of(&engine, &options);
  assert_true(same_digest(base, other));
  assert_string_equal(ew_cycle_plan_name(other, EW_PLAN_PIPES, 0), "another name");
  assert_string_equal(ew_cycle_plan_name(other, EW_PLAN_VOLUMES, 0), "plenum");
  assert_string_equal(ew_cycle_plan_name(other, EW_PLAN_VALVES, 7), "exhaust");
  ew_cycle_plan_free(base);
  ew_cycle_plan_free(other);
}

static struct ew_cycle_plan *plan_of_text(const char *yaml) {
  struct ew_engine read;
  struct ew_cycle_options options;
  g_autoptr(GError) error = NULL;
  g_autoptr(ew_node) root = ew_node_parse("engine", yaml, strlen(yaml), &error);
  expect(root && ew_engine_read(root, "engine", &read, &error), "the engine", "%s",
         error ? error->message : "");
  struct ew_cycle_build *build = ew_cycle_from_engine(&read, &error);
  expect(build, "its model", "%s", error ? error->message : "");
  ew_cycle_options_defaults(&options);
  struct ew_cycle_plan *plan = ew_cycle_plan_new(&build->model, &options, NULL, NULL);
  ew_cycle_build_free(build);
  ew_engine_clear(&read);
  return plan;
}

/* The blocks of a file (a line that begins in the first column, and what is indented under it) backwards. */
static char *backwards(const char *yaml) {
  g_auto(GStrv) lines = g_strsplit(yaml, "\n", -1);
  GString *text = g_string_new(NULL), *block = g_string_new(NULL);
  for (int i = 0; lines[i]; i++) {
    if (*lines[i] && *lines[i] != ' ' && *lines[i] != '#') {
      g_string_prepend(text, block->str);
      g_string_truncate(block, 0);
    }
    g_string_append_printf(block, "%s\n", lines[i]);
  }
  g_string_prepend(text, block->str);
  g_string_free(block, TRUE);
  return g_string_free(text, FALSE);
}

static void order_of_a_file_does_not_count(void **state) {
  (void)state;
  static const char *const names[] = {"flat-four", "hill-climb-six", "v8-solid"};
  struct ew_cycle_plan *last = NULL;
  for (gsize i = 0; i < G_N_ELEMENTS(names); i++) {
    g_autofree char *text = NULL, *path = g_strdup_printf("%s/engines/%s.yaml",
                                                          g_getenv("EW_EXAMPLES"), names[i]);
    assert_true(g_file_get_contents(path, &text, NULL, NULL));
    g_autofree char *other = backwards(text);
    struct ew_cycle_plan *a = plan_of_text(text), *b = plan_of_text(other);
    expect(strcmp(text, other) != 0 && same_digest(a, b), names[i], "another digest");
    expect(!last || !same_digest(a, last), names[i], "the digest of another engine");
    ew_cycle_plan_free(last);
    ew_cycle_plan_free(b);
    last = a;
  }
  ew_cycle_plan_free(last);
}

/* ---- bytes ---- */

static void written_and_read(void **state) {
  (void)state;
  for (int i = 0; i < 2; i++) {
    struct ew_cycle_options options;
    GError *error = NULL;
    ew_cycle_options_defaults(&options);
    options.cell_m = i ? 0.04 : 0.01;
    if (i)
      engine_single(&engine, &engine_a);
    else
      engine_four(&engine, &engine_b);
    struct ew_cycle_plan *plan = plan_of(&engine, &options);
    g_autoptr(GBytes) bytes = ew_cycle_plan_write(plan);
    gsize count;
    const void *data = g_bytes_get_data(bytes, &count);
    struct ew_cycle_plan *back = ew_cycle_plan_read(data, count, &error);
    if (!back)
      fail_msg("%s", error->message);
    assert_true(back->bytes == plan->bytes && memcmp(back, plan, (gsize)plan->bytes) == 0);
    print_message("%zu bytes\n", count);
    ew_cycle_plan_free(plan);
    ew_cycle_plan_free(back);
  }
}

/* A plan of other cells than its own lengths give (those of the one it shares a vector with) is whole. */
static void cells_of_another(void **state) {
  (void)state;
  struct ew_cycle_options options;
  ew_cycle_options_defaults(&options);
  engine_single(&engine, &engine_a);
  struct ew_cycle_plan *first = plan_of(&engine, NULL);
  engine.pipe[0].length_m *= 1.4;
  struct ew_cycle_plan *own = plan_of(&engine, NULL);
  struct ew_cycle_plan *like = ew_cycle_plan_new(&engine.model, &options, first, NULL);
  char a[EW_CYCLE_HEX], b[EW_CYCLE_HEX];
  ew_cycle_plan_shape(first, a);
  ew_cycle_plan_shape(like, b);
  assert_string_equal(a, b);
  assert_false(same_digest(own, like));
  g_autoptr(GBytes) bytes = ew_cycle_plan_write(like);
  struct ew_cycle_plan *back =
      ew_cycle_plan_read(g_bytes_get_data(bytes, NULL), g_bytes_get_size(bytes), NULL);
  assert_true(back && same_digest(back, like));
  struct ew_cycle_plan *all[] = {first, own, like, back};
  for (int i = 0; i < 4; i++)
    ew_cycle_plan_free(all[i]);
}

static void damaged_bytes(void **state) {
  (void)state;
  engine_single(&engine, &engine_a);
  struct ew_cycle_plan *plan = plan_of(&engine, NULL);
  g_autoptr(GBytes) bytes = ew_cycle_plan_write(plan);
  gsize count, text = (gsize)plan->text_bytes;
  const guint8 *data = g_bytes_get_data(bytes, &count);
  for (gsize i = 0; i < count;
       i += 1 + i / 512) { /* a bit somewhere; names are not in the digest */
    g_autofree guint8 *bad = g_memdup2(data, count);
    g_autoptr(GError) error = NULL;
    bad[i] ^= (guint8)(1 << i % 8);
    struct ew_cycle_plan *read = ew_cycle_plan_read(bad, count, &error);
    if (read && i < count - text)
      fail_msg("byte %zu changed, and read", i);
    if (!read && !error)
      fail_msg("byte %zu changed: refused without a word", i);
    ew_cycle_plan_free(read);
  }
  for (gsize length = 0; length < count; length += 1 + length / 16) {
    g_autofree guint8 *shorter = g_memdup2(data, MAX(length, 1));
    assert_null(ew_cycle_plan_read(shorter, length, NULL));
  }
  ew_cycle_plan_free(plan);
}

/* Altered on purpose, with a digest that matches: never a crash, and what is read is whole. */
static void forged_bytes(void **state) {
  (void)state;
  static const guint64 words[] = {0,
                                  G_GUINT64_CONSTANT(0xffffffffffffffff), /* -1, and NaN */
                                  G_GUINT64_CONSTANT(0x7fffffffffffffff), /* most, and NaN */
                                  G_GUINT64_CONSTANT(0x7fefffffffffffff), /* the largest double */
                                  1,
                                  4000};
  engine_single(&engine, &engine_a);
  struct ew_cycle_plan *plan = plan_of(&engine, NULL);
  gsize count = (gsize)plan->bytes, gas = offsetof(struct ew_cycle_plan, gas) / 8;
  int taken = 0, refused = 0;
  for (gsize i = 1; i < count / 8; i++) {
    if (i > gas + 4 && i < gas + EW_PLAN_GAS_NUMBERS - 4)
      continue; /* one of the gas is as good as another */
    g_autofree guint64 *bad = g_memdup2(plan, count);
    struct ew_cycle_plan *forged = (struct ew_cycle_plan *)(void *)bad;
    bad[i] = words[i % G_N_ELEMENTS(words)];
    if (forged->bytes == plan->bytes && forged->text_bytes == plan->text_bytes)
      ew_plan_digest_of(forged, forged->digest);
    struct ew_cycle_plan *read = ew_cycle_plan_read(bad, count, NULL);
    if (read) {
      g_autoptr(GBytes) again = ew_cycle_plan_write(read);
      assert_true(memcmp(g_bytes_get_data(again, NULL), bad, count) == 0);
    }
    *(read ? &taken : &refused) += 1;
    ew_cycle_plan_free(read);
  }
  print_message("%d forged plans refused; %d are other engines\n", refused, taken);
  assert_true(refused > 300);
  ew_cycle_plan_free(plan);
}

static void other_physics(void **state) {
  (void)state;
  GError *error = NULL;
  engine_single(&engine, &engine_a);
  struct ew_cycle_plan *plan = plan_of(&engine, NULL);
  plan->physics = EW_CYCLE_PHYSICS - 1;
  ew_plan_digest_of(plan, plan->digest);
  assert_null(ew_cycle_plan_read(plan, (gsize)plan->bytes, &error));
  assert_non_null(strstr(error->message, "physics"));
  g_clear_error(&error);
  ew_cycle_plan_free(plan);
}

/* ---- growth ---- */

/* Operations, not time: planning n engines looks up three times an engine, and makes n plans. */
static void planning_is_linear(void **state) {
  (void)state;
  enum { MOST = 10000 };
  static struct ew_cycle_cylinder cylinder[MOST];
  static const gint cancel = 1; /* planned and grouped, and not run */
  struct ew_cycle_options options;
  ew_cycle_options_defaults(&options);
  options.cancel = &cancel;
  engine_single(&engine, &engine_a);
  struct ew_cycle_model *model = g_new(struct ew_cycle_model, MOST);
  struct ew_cycle_job *jobs = g_new(struct ew_cycle_job, MOST);
  struct ew_cycle_result *results = g_new(struct ew_cycle_result, MOST);
  for (int i = 0; i < MOST; i++) {
    cylinder[i] = engine.cylinder[0];
    cylinder[i].compression_ratio = 8 + 4.0 * i / MOST;
    model[i] = engine.model;
    model[i].cylinder = &cylinder[i];
    jobs[i] = (struct ew_cycle_job){&model[i], 3000, NAN};
  }
  for (int n = 100; n <= MOST; n *= 10) {
    struct ew_cycle_effort effort;
    g_autoptr(GError) error = NULL;
    assert_false(ew_cycle_predict_jobs(jobs, n, &options, results, &effort, &error));
    assert_non_null(strstr(error->message, "cancelled"));
    assert_int_equal(effort.plans, n);
    assert_int_equal(effort.look_ups, 3 * n);
  }
  g_free(model);
  g_free(jobs);
  g_free(results);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(each_figure_counts),
      cmocka_unit_test(back_pressure_is_a_pressure),
      cmocka_unit_test(nothing_else_counts),
      cmocka_unit_test(walls_follow_the_air),
      cmocka_unit_test(thin_air_evaporates_more),
      cmocka_unit_test(order_of_a_file_does_not_count),
      cmocka_unit_test(written_and_read),
      cmocka_unit_test(cells_of_another),
      cmocka_unit_test(damaged_bytes),
      cmocka_unit_test(forged_bytes),
      cmocka_unit_test(other_physics),
      cmocka_unit_test(planning_is_linear),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
