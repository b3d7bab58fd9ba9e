/* States: what must hold is checked word by word; a lane kept as bytes comes back bit for bit, and bytes
 * that are damaged, forged or another plan's are refused and leave the lane as it was. */
#include "../../reference/cycle/engines.h"
#include "cycle/state.h"
#include "unit.h"

static struct engine engine; /* large: not on the stack */

struct fixture {
  struct ew_cycle_plan *plan;
  struct ew_cycle_laid *laid;
  struct ew_cycle_state *state;
};

static struct fixture begin(double ratio) {
  struct fixture f;
  struct ew_cycle_options options;
  ew_cycle_options_defaults(&options);
  options.cell_m = 0.04;
  engine_four(&engine, &engine_b);
  engine.cylinder[1].compression_ratio = ratio;
  f.plan = ew_cycle_plan_new(&engine.model, &options, NULL, NULL);
  assert_non_null(f.plan);
  f.laid = ew_cycle_laid_new(f.plan, EW_GRID_FINAL);
  f.state = ew_cycle_state_new(f.laid);
  for (int l = 0; l < EW_LANES; l++)
    ew_cycle_state_cold(f.state, l, f.laid, 2000 + 500 * l, 25);
  return f;
}

static void end(struct fixture *f) {
  ew_cycle_state_free(f->state);
  ew_cycle_laid_release(f->laid);
  ew_cycle_plan_free(f->plan);
}

static void what_must_hold(void **state) {
  (void)state;
  static const struct {
    const char *says;
    enum ew_state_group group;
    int word;
    double bad;
  } rows[] = {
      {"a cell without mass", EW_STATE_CELLS, EW_MASS, 0},
      {"a cell of negative mass", EW_STATE_CELLS, EW_MASS, -1e-9},
      {"mass that is no number", EW_STATE_CELLS, EW_MASS, NAN},
      {"endless energy", EW_STATE_CELLS, EW_ENERGY, INFINITY},
      {"a momentum that is no number", EW_STATE_CELLS, EW_MOMENTUM, NAN},
      {"gas colder than gas can be", EW_STATE_CELLS, EW_CELL_TEMPERATURE, 1},
      {"gas hotter than gas can be", EW_STATE_CELLS, EW_CELL_TEMPERATURE, 1e5},
      {"a wall at absolute zero", EW_STATE_CELLS, EW_CELL_WALL, 0},
      {"an end's memory lost", EW_STATE_ENDS, EW_ENDS_MEMORY, NAN},
      {"a node's pressure lost", EW_STATE_NODES, EW_NODES_PRESSURE, NAN},
      {"a junction's pressure lost", EW_STATE_JUNCTIONS, 0, INFINITY},
      {"an empty plenum", EW_STATE_VOLUMES, EW_VOLUMES_MASS, 0},
      {"an empty cylinder", EW_STATE_CYLINDERS, 0, 0},
      {"a stage that is none", EW_STATE_CYLINDERS, EW_STATE_STAGE, 4},
      {"half a stage", EW_STATE_CYLINDERS, EW_STATE_STAGE, 0.5},
      {"a stage that is no number", EW_STATE_CYLINDERS, EW_STATE_STAGE, NAN},
      {"beyond the end of the cycle", EW_STATE_RUN, EW_RUN_ANGLE_DEG, 720.1},
      {"before its beginning", EW_STATE_RUN, EW_RUN_ANGLE_DEG, -1e-9},
      {"no speed", EW_STATE_RUN, EW_RUN_SPEED_RPM, 0},
      {"half running", EW_STATE_RUN, EW_RUN_RUNNING, 0.5},
      {"half a step", EW_STATE_RUN, EW_RUN_STEPS, 1.5},
      {"fewer cycles than none", EW_STATE_RUN, EW_RUN_CYCLES, -1},
  };
  struct fixture f = begin(10);
  for (int l = 0; l < EW_LANES; l++)
    assert_true(ew_cycle_state_check(f.state, l, f.laid, NULL));
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GError) error = NULL;
    int part = rows[i].group == EW_STATE_CELLS ? ew_state_cell(f.state, 2, 1)
                                               : f.state->parts[rows[i].group] - 1;
    double *word = &ew_state_at(f.state, rows[i].group, rows[i].word, part)[3], was = *word;
    *word = rows[i].bad;
    expect(!ew_cycle_state_check(f.state, 3, f.laid, &error), rows[i].says, "it holds");
    expect_refused(error, "lane 4", rows[i].says);
    expect(ew_cycle_state_check(f.state, 2, f.laid, NULL), rows[i].says, "another lane is blamed");
    *word = was;
  }
  end(&f);
}

/* Still gas at the ambient pressure: fresh and cool before the valves, burned and hot behind them, in pipes and in volumes. */
static void cold_is_fresh_before_and_burned_behind(void **state) {
  (void)state;
  struct fixture f;
  struct ew_cycle_options options;
  ew_cycle_options_defaults(&options);
  options.cell_m = 0.04;
  engine_four(&engine, &engine_b);
  engine.volume[1] = (struct ew_cycle_volume){"silencer", 0.008, TRUE};
  engine.model.volumes = 2;
  struct ew_cycle_pipe *tail = &engine.pipe[engine.model.pipes - 1];
  engine.pipe[engine.model.pipes++] = *tail; /* the tail pipe goes on behind a silencer */
  tail->end[1] = (struct ew_cycle_end){EW_END_VOLUME, 1, 1};
  tail[1].end[0] = (struct ew_cycle_end){EW_END_VOLUME, 1, 1};
  f.plan = ew_cycle_plan_new(&engine.model, &options, NULL, NULL);
  assert_non_null(f.plan);
  f.laid = ew_cycle_laid_new(f.plan, EW_GRID_FINAL);
  f.state = ew_cycle_state_new(f.laid);
  ew_cycle_state_cold(f.state, 2, f.laid, 3000, 25);
  int hot[2] = {0}, pipes[2] = {0};
  for (int v = 0; v < f.state->volumes; v++) {
    const struct ew_plan_volume *volume = &ew_plan_volumes(f.plan)[v];
    const double mass = ew_state_at(f.state, EW_STATE_VOLUMES, EW_VOLUMES_MASS, v)[2];
    const double burned = ew_state_at(f.state, EW_STATE_VOLUMES, EW_VOLUMES_BURNED, v)[2] / mass;
    const double t = ew_state_at(f.state, EW_STATE_VOLUMES, EW_VOLUMES_TEMPERATURE, v)[2];
    double r = ew_working_gas_constant(&f.laid->gas, burned, burned > 0 ? 0 : f.plan->charge_fuel);
    expect_near(burned, volume->exhaust ? 1 : 0, 1e-12, "burned gas of a volume");
    expect_near(t, volume->exhaust ? 850 : f.plan->charge_k, 1e-9, "temperature of a volume");
    expect_near(mass * r * t / volume->volume_m3, f.plan->ambient_pa, 1e-6 * f.plan->ambient_pa,
                "pressure of a volume");
    hot[volume->exhaust != 0]++;
  }
  for (int i = 0; i < f.laid->pipes; i++) {
    gboolean behind = ew_plan_pipes(f.plan)[i].exhaust != 0;
    for (int c = 0; c < f.laid->count[i]; c++) {
      int part = ew_state_cell(f.state, i, c);
      double mass = ew_state_at(f.state, EW_STATE_CELLS, EW_MASS, part)[2];
      expect_near(ew_state_at(f.state, EW_STATE_CELLS, EW_BURNED, part)[2] / mass, behind ? 1 : 0,
                  1e-12, "burned gas of a pipe");
      expect_near(ew_state_at(f.state, EW_STATE_CELLS, EW_MOMENTUM, part)[2], 0, 0, "still gas");
      expect_near(ew_state_at(f.state, EW_STATE_CELLS, EW_CELL_TEMPERATURE, part)[2],
                  behind ? 850 : f.plan->charge_k, 1e-9, "temperature of a pipe");
    }
    pipes[behind]++;
  }
  assert_true(hot[0] && hot[1] && pipes[0] && pipes[1]); /* both kinds were looked at */
  end(&f);
}

static void kept_and_back(void **state) {
  (void)state;
  struct fixture f = begin(10), other = begin(10.5);
  g_autoptr(GBytes) kept = ew_cycle_state_save(f.state, 5, f.laid);
  gsize count;
  const guint8 *bytes = g_bytes_get_data(kept, &count);
  assert_true(ew_cycle_state_load(f.state, 1, f.laid, bytes, count, NULL));
  for (gsize i = 0; i < f.state->rows; i++)
    assert_memory_equal(&f.state->value[i][1], &f.state->value[i][5], sizeof(double));
  print_message("%zu bytes\n", count);
  GError *error = NULL;
  assert_false(ew_cycle_state_load(other.state, 1, other.laid, bytes, count, &error));
  assert_non_null(strstr(error->message, "another plan"));
  g_clear_error(&error);
  end(&f);
  end(&other);
}

static void hostile_bytes(void **state) {
  (void)state;
  struct fixture f = begin(10);
  g_autoptr(GBytes) kept = ew_cycle_state_save(f.state, 5, f.laid);
  g_autoptr(GBytes) before = ew_cycle_state_save(f.state, 1, f.laid);
  gsize count;
  const guint8 *bytes = g_bytes_get_data(kept, &count);
  for (gsize i = 0; i < count; i += 1 + i / 128) {
    g_autofree guint8 *bad = g_memdup2(bytes, count);
    bad[i] ^= (guint8)(1 << i % 8);
    if (ew_cycle_state_load(f.state, 1, f.laid, bad, count, NULL))
      fail_msg("byte %zu changed, and taken", i);
    if (ew_cycle_state_load(f.state, 1, f.laid, bytes, i, NULL))
      fail_msg("%zu bytes of %zu taken", i, count);
  }
  /* The digest matches, and the state cannot be. */
  double *mass = &ew_state_at(f.state, EW_STATE_CELLS, EW_MASS, ew_state_cell(f.state, 0, 0))[5];
  *mass = -*mass;
  g_autoptr(GBytes) forged = ew_cycle_state_save(f.state, 5, f.laid);
  GError *error = NULL;
  assert_false(ew_cycle_state_load(f.state, 1, f.laid, g_bytes_get_data(forged, NULL),
                                   g_bytes_get_size(forged), &error));
  assert_non_null(strstr(error->message, "cannot be"));
  g_clear_error(&error);
  g_autoptr(GBytes) after = ew_cycle_state_save(f.state, 1, f.laid);
  assert_true(g_bytes_equal(before, after));
  end(&f);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(what_must_hold), cmocka_unit_test(cold_is_fresh_before_and_burned_behind),
      cmocka_unit_test(kept_and_back), cmocka_unit_test(hostile_bytes)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
