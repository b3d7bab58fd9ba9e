/* The pack itself: its memory, how its pipes are joined, one step of all its lanes. See pack.h. */
#include "cycle/pack_parts.h"
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define MOST_STEPS_A_CYCLE 400000

static const struct ew_cycle_model *model_of(const struct ew_pack *pack) {
  return pack->lead->model;
}

static int node_of(const struct ew_pack *pack, const struct ew_cycle_pipe *pipe,
                   const struct ew_cycle_end *end) {
  switch (end->kind) {
  case EW_END_VOLUME: return EW_NODE_FIRST + end->index;
  case EW_END_VALVE: return ew_pack_cylinder_node(pack, model_of(pack)->valve[end->index].cylinder);
  case EW_END_JUNCTION: return -1;
  case EW_END_CLOSED:
  case EW_END_ATMOSPHERE: break;
  }
  return pipe->exhaust ? EW_NODE_AIR : EW_NODE_CHARGE;
}

static void join(struct ew_pack *pack) {
  const struct ew_cycle_model *m = model_of(pack);
  for (int i = 0; i < m->pipes; i++)
    for (int side = 0; side < 2; side++) {
      int e = 2 * i + side;
      const struct ew_cycle_end *end = &m->pipe[i].end[side];
      pack->end[e].pipe = i;
      pack->end[e].side = side;
      pack->end[e].node = node_of(pack, &m->pipe[i], end);
      if (end->kind == EW_END_VALVE)
        pack->valve_end[end->index] = e;
    }
  int n = 0;
  for (int j = 0; j < m->junctions; j++) {
    pack->junction_first[j] = n;
    for (int e = 0; e < pack->ends; e++) {
      const struct ew_cycle_end *end = &m->pipe[e / 2].end[e % 2];
      if (end->kind == EW_END_JUNCTION && end->index == j)
        pack->junction_members[n++] = e;
    }
    pack->junction_count[j] = n - pack->junction_first[j];
  }
}

static void *zeroed(gsize size) {
  gsize all = (MAX(size, 1) + 63) / 64 * 64;
  return memset(aligned_alloc(64, all), 0, all);
}

struct ew_pack *ew_pack_new(const struct ew_kernel *kernel, const struct ew_plan *lead,
                            const struct ew_cycle_options *options, int in_a_row) {
  const struct ew_cycle_model *m = lead->model;
  struct ew_pack *pack = g_new0(struct ew_pack, 1);
  pack->kernel = kernel;
  pack->lead = lead;
  pack->options = options;
  pack->in_a_row = in_a_row;
  pack->pipes = ew_pipes_new(EW_LANES, m->pipes, lead->cells);
  pack->ends = 2 * m->pipes;
  pack->nodes = EW_NODE_FIRST + m->volumes + m->cylinders;
  pack->end = zeroed(sizeof *pack->end * pack->ends);
  pack->node = zeroed(sizeof *pack->node * pack->nodes);
  pack->valve_end = g_new0(int, MAX(m->valves, 1));
  pack->junction_members = g_new0(int, pack->ends);
  pack->junction_first = g_new0(int, m->junctions + 1);
  pack->junction_count = g_new0(int, m->junctions + 1);
  pack->junction_pa = zeroed(sizeof *pack->junction_pa * (m->junctions + 1));
  for (int l = 0; l < EW_LANES; l++) {
    pack->lane[l].cylinder = g_new0(struct ew_cylinder, m->cylinders);
    pack->lane[l].shut = g_new0(struct ew_cylinder, m->cylinders);
    pack->lane[l].frame = g_new0(struct ew_cylinder_frame, m->cylinders);
    pack->lane[l].shut_deg = g_new0(double, m->cylinders);
    pack->lane[l].volume = g_new0(struct ew_volume_state, m->volumes + 1);
    pack->lane[l].before.trapped = g_new0(double, m->cylinders);
    pack->lane[l].log = options->trace ? ew_trace_log_new(m) : NULL;
  }
  join(pack);
  return pack;
}

void ew_pack_free(struct ew_pack *pack) {
  if (!pack)
    return;
  for (int l = 0; l < EW_LANES; l++) {
    g_free(pack->lane[l].cylinder);
    g_free(pack->lane[l].shut);
    g_free(pack->lane[l].frame);
    g_free(pack->lane[l].shut_deg);
    g_free(pack->lane[l].volume);
    g_free(pack->lane[l].before.trapped);
    ew_trace_log_free(pack->lane[l].log);
    ew_cycle_result_clear(&pack->lane[l].result);
  }
  ew_pipes_free(pack->pipes);
  free(pack->end);
  free(pack->node);
  free(pack->junction_pa);
  g_free(pack->valve_end);
  g_free(pack->junction_members);
  g_free(pack->junction_first);
  g_free(pack->junction_count);
  g_free(pack);
}

void ew_pack_load(struct ew_pack *pack, int l, const struct ew_plan *plan,
                  const struct ew_cycle_job *job, const struct ew_kept *start) {
  struct ew_lane *lane = &pack->lane[l];
  ew_cycle_result_clear(&lane->result);
  lane->plan = plan;
  lane->job = *job;
  lane->running = TRUE;
  lane->finished = lane->resumed = FALSE;
  lane->frozen = lane->confirmed = pack->options->spark == EW_SPARK_GIVEN;
  lane->spark = lane->frozen ? job->spark_deg : 28;
  lane->sought = (struct ew_spark_answer){.spark_deg = lane->spark, .mbt_deg = NAN};
  lane->cycles = lane->in_a_row = lane->steps = lane->cycles_before = lane->steps_before = 0;
  lane->before.work = lane->before.air = lane->before.residual = 0;
  memset(lane->before.trapped, 0, sizeof(double) * plan->model->cylinders);
  ew_pipes_set_gas(pack->pipes, l, &plan->gas);
  ew_pack_fill_cold(pack, l);
  if (start)
    ew_pack_resume(pack, l, start);
  ew_pack_begin_cycle(pack, l);
}

/* Half the vector when nobody runs in the upper lanes. */
static const struct ew_kernel *choose_width(struct ew_pack *pack) {
  gboolean upper = FALSE;
  for (int l = EW_LANES / 2; l < EW_LANES; l++)
    upper |= pack->lane[l].running;
  pack->pipes->lanes = upper ? EW_LANES : EW_LANES / 2;
  return !upper && pack->kernel->half ? pack->kernel->half : pack->kernel;
}

static double lap(struct timespec *since) {
  struct timespec now;
  clock_gettime(CLOCK_MONOTONIC, &now);
  double s = (double)(now.tv_sec - since->tv_sec) + 1e-9 * (double)(now.tv_nsec - since->tv_nsec);
  *since = now;
  return s;
}

static void finish_step(struct ew_pack *pack, int l) {
  struct ew_lane *lane = &pack->lane[l];
  ew_pack_gather(pack, l);
  if (lane->angle > 720 - 1e-9)
    ew_pack_end_cycle(pack, l);
  else if (++lane->steps_here > MOST_STEPS_A_CYCLE)
    ew_pack_give_up(lane, "the time step fell to %.2g s at crank angle %.1f", lane->step_s,
                    lane->angle);
}

gboolean ew_pack_step(struct ew_pack *pack) {
  const struct ew_kernel *k = choose_width(pack);
  const struct ew_cycle_model *m = model_of(pack);
  struct ew_pipe_physics physics = {m->pipe_friction, 1};
  double step_s[EW_LANES] __attribute__((aligned(64)));
  struct timespec clock;
  gboolean done = FALSE;
  clock_gettime(CLOCK_MONOTONIC, &clock);
  ew_pack_choose_steps(pack, k, step_s);
  pack->cells_s += lap(&clock);
  for (int l = 0; l < EW_LANES; l++)
    if (pack->lane[l].running)
      ew_pack_set_nodes(pack, l);
  pack->cylinders_s += lap(&clock);
  ew_pipes_fill_ghosts(pack->pipes);
  k->predict(pack->pipes, step_s);
  k->riemann(pack->pipes);
  pack->cells_s += lap(&clock);
  k->ends(pack->pipes, pack->end, pack->ends, pack->node, step_s);
  for (int j = 0; j < m->junctions; j++)
    k->junction(pack->pipes, pack->end, pack->junction_members + pack->junction_first[j],
                pack->junction_count[j], pack->junction_pa[j]);
  pack->ends_s += lap(&clock);
  k->update(pack->pipes, step_s, &physics);
  for (int l = 0; l < EW_LANES && m->delivery == EW_FUEL_PORT; l++)
    if (pack->lane[l].running)
      ew_pack_inject(pack, l);
  pack->cells_s += lap(&clock);
  for (int l = 0; l < EW_LANES; l++)
    if (pack->lane[l].running) {
      finish_step(pack, l);
      done |= pack->lane[l].finished;
    }
  pack->cylinders_s += lap(&clock);
  return done;
}

void ew_pack_effort(const struct ew_pack *pack, struct ew_cycle_effort *effort) {
  effort->cells_s += pack->cells_s;
  effort->ends_s += pack->ends_s;
  effort->cylinders_s += pack->cylinders_s;
}

gboolean ew_pack_finished(const struct ew_pack *pack, int l) {
  return pack->lane[l].finished;
}

void ew_pack_take(struct ew_pack *pack, int l, struct ew_cycle_result *result) {
  struct ew_lane *lane = &pack->lane[l];
  if (lane->log)
    lane->result.trace = ew_trace_log_grid(lane->log, lane->plan->model);
  *result = lane->result;
  memset(&lane->result, 0, sizeof lane->result);
  lane->finished = FALSE;
}

void ew_pack_idle(struct ew_pack *pack, int l) {
  pack->lane[l].running = FALSE;
}

int ew_pack_cells(const struct ew_pack *pack) {
  return pack->pipes->cells - 2 * pack->pipes->pipes;
}

int ew_pack_ends(const struct ew_pack *pack) {
  return pack->ends;
}
