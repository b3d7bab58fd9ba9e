/* Plans and states of the cycle simulation as bytes from anywhere. The first byte says how:
 *
 *   0  the rest is a plan
 *   1  a sound plan with words changed, sealed again: its digest is no help
 *   2  a sound state with words changed, sealed again; what is taken for sound is stepped on with
 *
 * A change is eleven bytes: which word (two), how (one), and with what (eight). What is read has to write the same bytes
 * again, can be laid out on each of its grids, and its state is sound from the beginning; what is not is refused in words. */
#include "cycle/backend/backend.h"
#include "cycle/from_engine.h"
#include "cycle/laid.h"
#include "cycle/plan_parts.h"
#include "cycle/state.h"
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define CHANGE  11
#define CHANGES 12
#define RPM     4500
#define SEAL    32 /* bytes of a digest */

static const char engine_text[] =
    "name: fuzzed\ncylinders: 2\nbore: 86 mm\nstroke: 80 mm\nfuel: petrol\noctane: 98\n"
    "lambda_target: 0.9\ngeometry:\n  rod_length: 140 mm\ncompression:\n  ratio: 10\n"
    "cam:\n  lifter: flat solid\n  lobe_separation: 108 deg\n  inlet_centreline: 106 deg\n"
    "inlet:\n  head_diameter: 40 mm\n  gross_lift: 10 mm\n  duration: 262 deg\n"
    "  duration_lift: 0.5 mm\n  check_duration: 226 deg\n  check_lift: 1.27 mm\n"
    "  ramp_height: 0.3 mm\n  ramp_length: 34 deg\n"
    "exhaust:\n  head_diameter: 34 mm\n  gross_lift: 10 mm\n  duration: 262 deg\n"
    "  duration_lift: 0.5 mm\n  check_duration: 226 deg\n  check_lift: 1.27 mm\n"
    "  ramp_height: 0.3 mm\n  ramp_length: 34 deg\n"
    "breathing:\n  throttles: 1\n  plenum: 1 L\n  runner_length: 300 mm\n  runner_diameter: 38 mm\n"
    "  primary_length: 600 mm\n  primary_diameter: 36 mm\n  power_speed: 6000 rpm\n";

static struct ew_cycle_plan *plan;
static struct ew_cycle_laid *laid;
static struct ew_cycle_state *cold;
static GBytes *plan_bytes, *state_bytes;

static void need(gboolean good) {
  if (!good)
    abort();
}

static void make(void) {
  struct ew_engine engine;
  struct ew_cycle_options options;
  g_autoptr(ew_node) root = ew_node_parse("engine", engine_text, strlen(engine_text), NULL);
  need(root && ew_engine_read(root, "engine", &engine, NULL));
  struct ew_cycle_build *build = ew_cycle_from_engine(&engine, NULL);
  ew_cycle_options_defaults(&options);
  options.cell_m = 0.1;
  need(build && (plan = ew_cycle_plan_new(&build->model, &options, NULL, NULL)));
  ew_cycle_build_free(build);
  ew_engine_clear(&engine);
  laid = ew_cycle_laid_new(plan, EW_GRID_FINAL);
  cold = ew_cycle_state_new(laid);
  ew_cycle_state_cold(cold, 0, laid, RPM, 28);
  plan_bytes = ew_cycle_plan_write(plan);
  state_bytes = ew_cycle_state_save(cold, 0, laid);
}

/* Words [first, last) of eight bytes. */
static void change(guint8 *bytes, gsize first, gsize last, const uint8_t *how) {
  static const double odd[] = {NAN, INFINITY, -INFINITY, 0, -0.0, -1, 1e308, 5e-324};
  gsize word = first + (gsize)(how[0] | how[1] << 8) % (last - first);
  guint64 bits;
  double value;
  memcpy(&bits, how + 3, sizeof bits);
  memcpy(&value, bytes + 8 * word, sizeof value);
  if (how[2] % 4 == 1) {
    value = odd[bits % G_N_ELEMENTS(odd)];
    memcpy(&bits, &value, sizeof bits);
  } else if (how[2] % 4 == 2) /* a whole number near by */
    bits = (guint64)(gint64)(gint8)bits;
  else if (how[2] % 4 == 3) { /* a figure near by */
    value *= 1 + (double)(gint8)bits / 100;
    memcpy(&bits, &value, sizeof bits);
  }
  memcpy(bytes + 8 * word, &bits, sizeof bits);
}

static void seal_state(guint8 *bytes, gsize count) {
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  gsize size = SEAL;
  g_checksum_update(sum, bytes, (gssize)(count - SEAL));
  g_checksum_get_digest(sum, bytes + count - SEAL, &size);
}

/* Sizes in the header are believed only as far as the bytes reach. */
static void seal_plan(guint8 *bytes, gsize count) {
  struct ew_cycle_plan *p = (struct ew_cycle_plan *)(void *)bytes;
  if (p->bytes == (int64_t)count && p->text_bytes >= 0 &&
      p->text_bytes <= (int64_t)(count - sizeof *p))
    ew_plan_digest_of(p, p->digest);
}

static void read_plan(const void *bytes, gsize count) {
  g_autoptr(GError) error = NULL;
  struct ew_cycle_plan *read = ew_cycle_plan_read(bytes, count, &error);
  need((read == NULL) == (error != NULL));
  if (!read)
    return;
  g_autoptr(GBytes) again = ew_cycle_plan_write(read);
  need(g_bytes_get_size(again) == count &&
       memcmp(g_bytes_get_data(again, NULL), bytes, count) == 0);
  for (int grid = 0; grid < read->grids; grid++) {
    struct ew_cycle_laid *on = ew_cycle_laid_new(read, (enum ew_plan_grid)grid);
    if (on->cells < 5000) { /* memory */
      struct ew_cycle_state *state = ew_cycle_state_new(on);
      ew_cycle_state_cold(state, 0, on, RPM, 28);
      need(ew_cycle_state_check(state, 0, on, NULL));
      ew_cycle_state_free(state);
    }
    ew_cycle_laid_release(on);
  }
  ew_cycle_plan_free(read);
}

static void step_on(struct ew_cycle_state *state) {
  const struct ew_cycle_backend *backend = ew_cycle_backend_named("base");
  struct ew_cycle_work *work = backend->open(backend, laid);
  for (int l = 0; l < EW_LANES; l++) { /* the first runs, the others rest */
    if (l > 0)
      ew_cycle_state_copy(state, l, cold, 0);
    ew_state_run(state, EW_RUN_RUNNING)[l] = l == 0;
    backend->load(work, l, laid, ew_state_run(state, EW_RUN_SPEED_RPM)[l]);
  }
  if (!ew_cycle_ended(state, 0))
    backend->step(work, state, 20);
  backend->close(work);
}

static void read_state(const void *bytes, gsize count) {
  g_autoptr(GError) error = NULL;
  struct ew_cycle_state *state = ew_cycle_state_new(laid);
  ew_cycle_state_copy(state, 0, cold, 0);
  gboolean good = ew_cycle_state_load(state, 0, laid, bytes, count, &error);
  need(good == (error == NULL));
  g_autoptr(GBytes) now = ew_cycle_state_save(state, 0, laid);
  if (good) {
    need(g_bytes_get_size(now) == count && memcmp(g_bytes_get_data(now, NULL), bytes, count) == 0);
    step_on(state);
  } else
    need(g_bytes_equal(now, state_bytes)); /* the lane is as it was */
  ew_cycle_state_free(state);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  if (!plan)
    make();
  if (size < 1)
    return 0;
  if (data[0] % 3 == 0) {
    read_plan(data + 1, size - 1);
    return 0;
  }
  gboolean of_plan = data[0] % 3 == 1;
  gsize count, text = of_plan ? (gsize)plan->text_bytes : 0;
  const void *sound = g_bytes_get_data(of_plan ? plan_bytes : state_bytes, &count);
  g_autofree guint8 *bytes = g_memdup2(sound, count);
  for (gsize i = 1; i + CHANGE <= size && i < CHANGES * CHANGE; i += CHANGE)
    change(bytes, 1, (count - (of_plan ? text : SEAL)) / 8, data + i);
  if (of_plan) {
    seal_plan(bytes, count);
    read_plan(bytes, count);
  } else {
    seal_state(bytes, count);
    read_state(bytes, count);
  }
  return 0;
}
