/* The backend on the processor: its memory, how the pipes of a shape are joined, and steps of all lanes.
 * See cpu.h. */
#include "cycle/backend/cpu.h"
#include "cycle/backend/pipes_single.h"
#include <stdlib.h>
#include <string.h>
#include <time.h>

/* ---- memory and joints ---- */

static int node_of(const struct ew_cycle_work *w, const struct ew_cycle_plan *plan, int pipe,
                   int side) {
  const struct ew_plan_pipe *p = &ew_plan_pipes(plan)[pipe];
  int index = (int)p->end[side].index;
  switch ((enum ew_end_kind)p->end[side].kind) {
  case EW_END_VOLUME: return EW_NODE_FIRST + index;
  case EW_END_VALVE: return ew_cpu_cylinder_node(w, (int)ew_plan_valves(plan)[index].cylinder);
  case EW_END_JUNCTION: return -1;
  case EW_END_CLOSED:
  case EW_END_ATMOSPHERE: break;
  }
  return p->exhaust ? EW_NODE_AIR : EW_NODE_CHARGE;
}

static void join(struct ew_cycle_work *w, const struct ew_cycle_plan *plan) {
  const struct ew_plan_pipe *pipe = ew_plan_pipes(plan);
  for (int e = 0; e < w->ends; e++) {
    w->end[e].pipe = e / 2;
    w->end[e].side = e % 2;
    w->end[e].node = node_of(w, plan, e / 2, e % 2);
    if (pipe[e / 2].end[e % 2].kind == EW_END_VALVE)
      w->valve_end[pipe[e / 2].end[e % 2].index] = e;
  }
  int n = 0;
  for (int j = 0; j < w->junctions; j++) {
    w->junction_first[j] = n;
    for (int e = 0; e < w->ends; e++)
      if (pipe[e / 2].end[e % 2].kind == EW_END_JUNCTION && pipe[e / 2].end[e % 2].index == j)
        w->junction_members[n++] = e;
    w->junction_count[j] = n - w->junction_first[j];
  }
}

static void *zeroed(gsize size) {
  gsize all = (MAX(size, 1) + 63) / 64 * 64;
  return memset(aligned_alloc(64, all), 0, all);
}

struct ew_cycle_work *ew_cpu_open(const struct ew_cycle_backend *self,
                                  const struct ew_cycle_laid *shape) {
  const struct ew_cycle_plan *plan = shape->plan;
  struct ew_cycle_work *w = g_new0(struct ew_cycle_work, 1);
  w->kernel = ew_kernel_named(self->name);
  g_assert(w->kernel);
  w->pipes = ew_pipes_new(EW_LANES, shape->pipes, shape->count);
  if (w->kernel->single)
    w->pipes->single = ew_pipes_single_new(w->pipes);
  w->ends = 2 * shape->pipes;
  w->volumes = ew_plan_count(plan, EW_PLAN_VOLUMES);
  w->cylinders = ew_plan_count(plan, EW_PLAN_CYLINDERS);
  w->valves = ew_plan_count(plan, EW_PLAN_VALVES);
  w->junctions = (int)plan->junctions;
  w->nodes = EW_NODE_FIRST + w->volumes + w->cylinders;
  w->ports = plan->delivery == EW_FUEL_PORT;
  w->friction = plan->pipe_friction;
  w->end = zeroed(sizeof *w->end * (gsize)w->ends);
  w->node = zeroed(sizeof *w->node * (gsize)w->nodes);
  w->valve_end = g_new0(int, MAX(w->valves, 1));
  w->junction_members = g_new0(int, w->ends);
  w->junction_first = g_new0(int, w->junctions + 1);
  w->junction_count = g_new0(int, w->junctions + 1);
  w->junction_pa = zeroed(sizeof *w->junction_pa * (gsize)(w->junctions + 1));
  for (int l = 0; l < EW_LANES; l++) {
    struct ew_cpu_lane *lane = &w->lane[l];
    lane->frame = g_new0(struct ew_cylinder_frame, w->cylinders);
    lane->cylinder = g_new0(struct ew_cylinder, w->cylinders);
    lane->shut = g_new0(struct ew_cylinder, w->cylinders);
    lane->shut_deg = g_new0(double, w->cylinders);
    lane->volume = g_new0(struct ew_volume_state, w->volumes + 1);
  }
  join(w, plan);
  return w;
}

void ew_cpu_close(struct ew_cycle_work *w) {
  for (int l = 0; l < EW_LANES; l++) {
    struct ew_cpu_lane *lane = &w->lane[l];
    g_free(lane->frame);
    g_free(lane->cylinder);
    g_free(lane->shut);
    g_free(lane->shut_deg);
    g_free(lane->volume);
    g_free(lane->aside);
  }
  ew_pipes_single_free(w->pipes->single);
  ew_pipes_free(w->pipes);
  free(w->end);
  free(w->node);
  free(w->junction_pa);
  g_free(w->valve_end);
  g_free(w->junction_members);
  g_free(w->junction_first);
  g_free(w->junction_count);
  g_free(w);
}

void ew_cpu_load(struct ew_cycle_work *w, int l, const struct ew_cycle_laid *laid,
                 double speed_rpm) {
  struct ew_cpu_lane *lane = &w->lane[l];
  const struct ew_plan_pipe *pipe = ew_plan_pipes(laid->plan);
  g_assert(l >= 0 && l < EW_LANES && laid->pipes == w->pipes->pipes);
  lane->laid = laid;
  lane->speed_rpm = speed_rpm;
  ew_pipes_set_gas(w->pipes, l, &laid->gas);
  for (int i = 0; i < laid->pipes; i++) {
    int first = laid->first[i];
    g_autofree double *factor = g_new(double, laid->count[i]);
    for (int c = 0; c < laid->count[i]; c++)
      factor[c] = laid->heat_factor[first + c] * laid->plan->pipe_heat;
    ew_pipes_shape(w->pipes, i, l, pipe[i].length_m, laid->face_diameter_m + first + i,
                   pipe[i].bend_loss, laid->wall_k + first, factor);
  }
  if (w->pipes->single)
    ew_pipes_single_take(w->pipes, l);
  for (int i = 0; i < w->cylinders; i++)
    ew_cycle_frame_of(laid, i, speed_rpm, &lane->frame[i]);
  for (int e = 0; e < w->ends; e++) {
    enum ew_end_kind kind = (enum ew_end_kind)pipe[e / 2].end[e % 2].kind;
    gboolean mouth = kind == EW_END_ATMOSPHERE || kind == EW_END_VOLUME;
    w->end[e].open_in[l] = w->end[e].open_out[l] = mouth ? pipe[e / 2].end[e % 2].opening : 0;
  }
}

/* ---- steps ---- */

/* Half the vector when nobody runs in the upper lanes. */
static const struct ew_kernel *choose_width(struct ew_cycle_work *w) {
  gboolean upper = FALSE;
  for (int l = EW_LANES / 2; l < EW_LANES; l++)
    upper |= w->lane[l].running;
  w->pipes->lanes = upper ? EW_LANES : EW_LANES / 2;
  return !upper && w->kernel->half ? w->kernel->half : w->kernel;
}

static double lap(struct timespec *since) {
  struct timespec now;
  clock_gettime(CLOCK_MONOTONIC, &now);
  double s = (double)(now.tv_sec - since->tv_sec) + 1e-9 * (double)(now.tv_nsec - since->tv_nsec);
  *since = now;
  return s;
}

/* All running lanes by one step. TRUE when a lane's cycle has ended with it. */
static gboolean step_once(struct ew_cycle_work *w, const struct ew_kernel *k) {
  struct ew_pipe_physics physics = {w->friction, 1};
  double step_s[EW_LANES] __attribute__((aligned(64)));
  struct timespec clock;
  gboolean ended = FALSE;
  clock_gettime(CLOCK_MONOTONIC, &clock);
  ew_cpu_choose_steps(w, k, step_s);
  w->seconds[0] += lap(&clock);
  for (int l = 0; l < EW_LANES; l++)
    if (w->lane[l].running)
      ew_cpu_set_nodes(w, l);
  w->seconds[2] += lap(&clock);
  if (!k->single)
    ew_pipes_fill_ghosts(w->pipes);
  k->predict(w->pipes, step_s);
  k->riemann(w->pipes);
  w->seconds[0] += lap(&clock);
  k->ends(w->pipes, w->end, w->ends, w->node, step_s);
  for (int j = 0; j < w->junctions; j++)
    k->junction(w->pipes, w->end, w->junction_members + w->junction_first[j], w->junction_count[j],
                w->junction_pa[j]);
  w->seconds[1] += lap(&clock);
  k->update(w->pipes, step_s, &physics);
  for (int l = 0; l < EW_LANES && w->ports; l++)
    if (w->lane[l].running)
      ew_cpu_inject(w, l);
  w->seconds[0] += lap(&clock);
  for (int l = 0; l < EW_LANES; l++)
    if (w->lane[l].running) {
      ew_cpu_gather(w, l);
      ended |= w->lane[l].angle > 720 - 1e-9;
    }
  w->seconds[2] += lap(&clock);
  return ended;
}

void ew_cpu_step(struct ew_cycle_work *w, struct ew_cycle_state *state, int n) {
  g_assert(n >= 1);
  ew_cpu_take_in(w, state);
  const struct ew_kernel *kernel = choose_width(w);
  gboolean any = FALSE;
  for (int l = 0; l < EW_LANES; l++)
    any |= w->lane[l].running;
  while (any && n-- > 0 && !step_once(w, kernel))
    ;
  ew_cpu_put_back(w, state);
}

void ew_cpu_effort(const struct ew_cycle_work *w, double seconds[3]) {
  for (int i = 0; i < 3; i++)
    seconds[i] += w->seconds[i];
}
