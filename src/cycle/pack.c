/* The pack itself: its memory, lanes loaded and taken, steps handed to the backend. See pack.h. */
#include "cycle/pack_parts.h"
#include <string.h>
#include <time.h>

#define MOST_STEPS_A_CYCLE 400000
#define FIRST_SPARK_DEG    28 /* where a search for the best spark begins */

static struct ew_pack *without_work(const struct ew_cycle_backend *backend,
                                    const struct ew_cycle_plan *shape, enum ew_plan_grid grid,
                                    gboolean trace) {
  struct ew_pack *pack = g_new0(struct ew_pack, 1);
  pack->backend = backend;
  pack->grid = grid;
  pack->trace = trace;
  pack->shape = ew_cycle_laid_new(shape, grid);
  pack->state = ew_cycle_state_new(pack->shape);
  for (int l = 0; l < EW_LANES; l++) {
    pack->lane[l].frame = g_new0(struct ew_cylinder_frame, pack->state->cylinders);
    pack->lane[l].cylinder = g_new0(struct ew_cylinder, pack->state->cylinders);
    pack->lane[l].log = trace ? ew_trace_log_new(shape) : NULL;
  }
  return pack;
}

struct ew_pack *ew_pack_new(const struct ew_cycle_backend *backend,
                            const struct ew_cycle_plan *shape, enum ew_plan_grid grid,
                            gboolean trace) {
  struct ew_pack *pack = without_work(backend, shape, grid, trace);
  pack->work = backend->open(backend, pack->shape);
  return pack;
}

int ew_pack_new_many(const struct ew_cycle_backend *backend, const struct ew_cycle_plan *shape,
                     enum ew_plan_grid grid, int packs, struct ew_pack **pack) {
  struct ew_cycle_laid *laid = ew_cycle_laid_new(shape, grid);
  g_autofree struct ew_cycle_work **work = g_new0(struct ew_cycle_work *, packs);
  packs = backend->open_many(backend, laid, packs, work);
  for (int p = 0; p < packs; p++) {
    pack[p] = without_work(backend, shape, grid, FALSE);
    pack[p]->work = work[p];
  }
  ew_cycle_laid_release(laid);
  return packs;
}

void ew_pack_free(struct ew_pack *pack) {
  if (!pack)
    return;
  pack->backend->close(pack->work);
  for (int l = 0; l < EW_LANES; l++) {
    g_free(pack->lane[l].frame);
    g_free(pack->lane[l].cylinder);
    ew_trace_log_free(pack->lane[l].log);
    ew_cycle_result_clear(&pack->lane[l].result);
    ew_cycle_laid_release(pack->lane[l].laid);
  }
  ew_cycle_state_free(pack->state);
  ew_cycle_laid_release(pack->shape);
  g_free(pack);
}

/* Lanes with the same plan share what is laid out of it. */
static struct ew_cycle_laid *laid_of(struct ew_pack *pack, const struct ew_cycle_plan *plan) {
  if (pack->shape->plan == plan)
    return g_atomic_rc_box_acquire(pack->shape);
  for (int l = 0; l < EW_LANES; l++)
    if (pack->lane[l].laid && pack->lane[l].laid->plan == plan)
      return g_atomic_rc_box_acquire(pack->lane[l].laid);
  return ew_cycle_laid_new(plan, pack->grid);
}

void ew_pack_load(struct ew_pack *pack, int l, const struct ew_cycle_plan *plan, double speed_rpm,
                  double spark_deg, const struct ew_pack_start *start) {
  struct ew_lane *lane = &pack->lane[l];
  struct ew_cycle_laid *laid = laid_of(pack, plan);
  gboolean given = plan->spark == EW_SPARK_GIVEN;
  g_assert(l >= 0 && l < EW_LANES && laid->cells == pack->shape->cells);
  ew_cycle_laid_release(lane->laid);
  lane->laid = laid;
  ew_cycle_result_clear(&lane->result);
  lane->finished = FALSE;
  for (int i = 0; i < pack->state->cylinders; i++)
    ew_cycle_frame_of(laid, i, speed_rpm, &lane->frame[i]);
  ew_cycle_state_cold(pack->state, l, laid, speed_rpm, given ? spark_deg : FIRST_SPARK_DEG);
  if (start->of) {
    ew_cycle_state_follow(pack->state, l, laid, start->state, 0, start->of);
  } else if (start->state) {
    struct ew_cycle_laid *coarse = ew_cycle_laid_new(plan, EW_GRID_COARSE);
    ew_cycle_state_refine(pack->state, l, laid, start->state, 0, coarse);
    ew_cycle_laid_release(coarse);
  }
  *ew_pack_run(pack, l, EW_RUN_FROZEN) = given;
  *ew_pack_run(pack, l, EW_RUN_CONFIRMED) = given ? EW_CONFIRM_MOST : 0;
  *ew_pack_run(pack, l, EW_RUN_RUNNING) = 1;
  pack->backend->load(pack->work, l, laid, speed_rpm);
  ew_pack_begin_cycle(pack, l);
}

struct ew_cycle_state *ew_pack_keep(const struct ew_pack *pack, int l) {
  return ew_cycle_state_take(pack->state, l);
}

/* ---- steps ---- */

/* A lane is loaded, runs, and is finished; taken, it may be loaded again:
 *
 *   empty --load--> running --end of its last cycle, given up--> finished --take--> empty
 *
 * What is idle holds a sound state and does not run. */
static void check_lane(const struct ew_pack *pack, int l) {
  const struct ew_lane *lane = &pack->lane[l];
  gboolean runs = *ew_pack_run(pack, l, EW_RUN_RUNNING) != 0;
  g_assert(!runs || (lane->laid && !lane->finished));
  g_assert(!lane->finished ||
           (lane->result.converged == (lane->result.why.failure == EW_CYCLE_STEADY)));
  g_assert(*ew_pack_run(pack, l, EW_RUN_CYCLES) >= 0 &&
           (!lane->laid ||
            *ew_pack_run(pack, l, EW_RUN_CYCLES) <= (double)lane->laid->plan->most_cycles));
}

static gboolean running(const struct ew_pack *pack, int l) {
  return *ew_pack_run(pack, l, EW_RUN_RUNNING) != 0;
}

/* Not beyond what a cycle may have in any lane, so that a run's end does not depend on its company. */
static int steps_left(const struct ew_pack *pack, int n) {
  for (int l = 0; l < EW_LANES; l++)
    if (running(pack, l))
      n = MIN(n, MOST_STEPS_A_CYCLE + 1 - (int)*ew_pack_run(pack, l, EW_RUN_STEPS_HERE));
  g_assert(n >= 1);
  return pack->trace ? 1 : n;
}

static void log_state(struct ew_pack *pack, int l) {
  const struct ew_cycle_state *s = pack->state;
  double *row = ew_trace_log_add(pack->lane[l].log, *ew_pack_run(pack, l, EW_RUN_ANGLE_DEG));
  for (int i = 0; i < s->cylinders; i++) {
    struct ew_cylinder c;
    ew_state_get_cylinder(s, EW_STATE_CYLINDERS, l, i, &c);
    *row++ = c.pressure_pa;
    *row++ = c.temperature_k;
    *row++ = c.volume_m3;
    *row++ = c.stage == EW_EXCHANGE ? 0 : c.x;
  }
  for (int v = 0; v < s->volumes; v++)
    *row++ = ew_state_at(s, EW_STATE_NODES, EW_NODES_PRESSURE, EW_NODE_FIRST + v)[l];
  for (int e = 0; e < s->parts[EW_STATE_ENDS]; e++) {
    *row++ = ew_state_at(s, EW_STATE_ENDS, EW_ENDS_PRESSURE, e)[l];
    *row++ = ew_state_at(s, EW_STATE_ENDS, EW_ENDS_FLOW, e)[l];
  }
}

static void judge(struct ew_pack *pack, int l) {
  double steps = *ew_pack_run(pack, l, EW_RUN_STEPS_HERE);
  if (ew_cycle_ended(pack->state, l)) {
    ew_pack_end_cycle(pack, l);
  } else if (steps > MOST_STEPS_A_CYCLE) {
    double angle = *ew_pack_run(pack, l, EW_RUN_ANGLE_DEG);
    double mean_s = angle / (6 * *ew_pack_run(pack, l, EW_RUN_SPEED_RPM)) / steps;
    ew_pack_give_up(pack, l,
                    &(struct ew_cycle_why){
                        .failure = EW_CYCLE_STEP_FELL, .figure = mean_s, .angle_deg = angle});
  }
}

gboolean ew_pack_step(struct ew_pack *pack, int n) {
  pack->backend->step(pack->work, pack->state, steps_left(pack, n));
  return ew_pack_judge(pack);
}

void ew_pack_step_many(struct ew_pack *const *pack, int packs, int n) {
  g_autofree struct ew_cycle_work **work = g_new(struct ew_cycle_work *, packs);
  g_autofree struct ew_cycle_state **state = g_new(struct ew_cycle_state *, packs);
  for (int p = 0; p < packs; p++) {
    work[p] = pack[p]->work;
    state[p] = pack[p]->state;
    n = steps_left(pack[p], n);
  }
  pack[0]->backend->step_many(work, state, packs, n);
}

gboolean ew_pack_judge(struct ew_pack *pack) {
  gboolean done = FALSE;
  struct timespec began, now;
  clock_gettime(CLOCK_MONOTONIC, &began);
  for (int l = 0; l < EW_LANES; l++)
    if (running(pack, l)) {
      if (pack->trace)
        log_state(pack, l);
      judge(pack, l);
      check_lane(pack, l);
      done |= pack->lane[l].finished;
    }
  clock_gettime(CLOCK_MONOTONIC, &now);
  pack->judged_s +=
      (double)(now.tv_sec - began.tv_sec) + 1e-9 * (double)(now.tv_nsec - began.tv_nsec);
  return done;
}

/* ---- what came of it ---- */

void ew_pack_effort(const struct ew_pack *pack, struct ew_cycle_effort *effort) {
  double seconds[3] = {effort->cells_s, effort->ends_s, effort->cylinders_s + pack->judged_s};
  pack->backend->effort(pack->work, seconds);
  effort->cells_s = seconds[0];
  effort->ends_s = seconds[1];
  effort->cylinders_s = seconds[2];
}

gboolean ew_pack_finished(const struct ew_pack *pack, int l) {
  g_assert(l >= 0 && l < EW_LANES);
  return pack->lane[l].finished;
}

void ew_pack_take(struct ew_pack *pack, int l, struct ew_cycle_result *result) {
  struct ew_lane *lane = &pack->lane[l];
  g_assert(lane->finished && lane->laid);
  if (lane->log)
    lane->result.trace = ew_trace_log_grid(lane->log, lane->laid->plan);
  *result = lane->result;
  memset(&lane->result, 0, sizeof lane->result);
  lane->finished = FALSE;
}

void ew_pack_idle(struct ew_pack *pack, int l) {
  *ew_pack_run(pack, l, EW_RUN_RUNNING) = 0;
}

int ew_pack_cells(const struct ew_pack *pack) {
  return pack->shape->cells;
}

int ew_pack_ends(const struct ew_pack *pack) {
  return 2 * pack->shape->pipes;
}
