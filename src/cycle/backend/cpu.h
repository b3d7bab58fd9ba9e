/* The backend on the processor's vectors: eight lanes, one kernel set a level (kernel.h). Internal to
 * src/cycle/backend.
 *
 * One step (numbers of docs/methods-cycle.md): 1 primitives and step size, at most one degree, the cycle
 * ends at exactly 720; 2 stages of cylinders and valve openings at the middle of the step; 3 ghosts,
 * slopes, fluxes; 4 ends and junctions; 5 pipes; 6 cylinders and volumes with what the ends gave them.
 *
 * The kernels work on the state's own rows of cells. Ends, nodes, volumes and cylinders are gathered when
 * a call of step begins and put back when it ends. */
#pragma once
#include "cycle/backend/backend.h"
#include "cycle/backend/kernel.h"

struct ew_volume_state { /* a volume: amounts and its temperature */
  double mass, energy, burned, fuel, temperature;
};

struct ew_cpu_lane {
  const struct ew_cycle_laid *laid;
  struct ew_cylinder_frame *frame; /* [cylinders] */
  struct ew_cylinder *cylinder, *shut;
  double *shut_deg;
  struct ew_volume_state *volume;
  double speed_rpm;
  /* of the run, while a call of step lasts */
  gboolean running;
  double angle, spark, step_s, steps, steps_here;
  double out_kg, out_kg_k; /* through exhaust valves, and times temperature */
  double injected_kg, injected_j;
  double *aside; /* its cells while it rests: the kernels step by 0, which is not quite nothing */
};

struct ew_cycle_work {
  const struct ew_kernel *kernel;
  struct ew_pipes *pipes;  /* its state arrays are those of the state in a call of step */
  struct ew_pipes unbound; /* as it is outside of one */
  struct ew_end *end;      /* [ends], 64-byte blocks of lanes */
  struct ew_end_node *node;
  int ends, nodes, cylinders, volumes, junctions, valves;
  int *valve_end; /* [valves] */
  int *junction_members, *junction_first, *junction_count;
  double (*junction_pa)[EW_LANES];
  gboolean ports; /* fuel enters there */
  double friction;
  double seconds[3]; /* cells, ends, cylinders */
  struct ew_cpu_lane lane[EW_LANES];
};

struct ew_cycle_work *ew_cpu_open(const struct ew_cycle_backend *self,
                                  const struct ew_cycle_laid *shape);
void ew_cpu_load(struct ew_cycle_work *work, int lane, const struct ew_cycle_laid *laid,
                 double speed_rpm);
void ew_cpu_step(struct ew_cycle_work *work, struct ew_cycle_state *state, int n);
void ew_cpu_effort(const struct ew_cycle_work *work, double seconds[3]);
void ew_cpu_close(struct ew_cycle_work *work);

static inline int ew_cpu_cylinder_node(const struct ew_cycle_work *work, int cylinder) {
  return EW_NODE_FIRST + work->volumes + cylinder;
}

/* cpu_exchange.c: the state's rows bound, gathered and put back. */
void ew_cpu_take_in(struct ew_cycle_work *work, struct ew_cycle_state *state);
void ew_cpu_put_back(struct ew_cycle_work *work, struct ew_cycle_state *state);

/* cpu_advance.c: what one step does outside the kernels; numbers as above. */
void ew_cpu_choose_steps(struct ew_cycle_work *work, const struct ew_kernel *kernel,
                         double *step_s);                    /* 1 */
void ew_cpu_set_nodes(struct ew_cycle_work *work, int lane); /* 2 */
void ew_cpu_inject(struct ew_cycle_work *work, int lane);    /* 5, port injection */
void ew_cpu_gather(struct ew_cycle_work *work, int lane);    /* 6; the lane's angle moves on */
