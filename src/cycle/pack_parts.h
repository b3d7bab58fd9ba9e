/* What the files of a pack share: one lane's run, the pack, and the part each file has in it.
 * Internal to src/cycle/pack*.c. A lane is named by its number, 0 to EW_LANES - 1. */
#pragma once
#include "cycle/pack.h"
#include "cycle/spark.h"
#include "cycle/trace.h"
#include <math.h>

enum { EW_NODE_CHARGE, EW_NODE_AIR, EW_NODE_FIRST }; /* then volumes, then cylinders */

struct ew_volume_state { /* a volume: amounts and its temperature */
  double mass, energy, burned, fuel, temperature;
};

struct ew_steady { /* what is compared from cycle to cycle */
  double work, air, residual, *trapped;
};

struct ew_lane {
  const struct ew_plan *plan;
  struct ew_cycle_job job;
  gboolean running, finished, resumed;
  gboolean frozen, confirmed; /* the spark stays; it was sought again once the charge had settled */
  double angle, spark, step_s;
  struct ew_spark_answer sought;
  struct ew_cylinder *cylinder, *shut; /* shut: as it was when the valves had shut */
  struct ew_cylinder_frame *frame;
  double *shut_deg;
  struct ew_volume_state *volume;
  struct ew_steady before;
  int cycles, in_a_row, steps, steps_here, cycles_before, steps_before;
  double mass_start, energy_start; /* stored when the cycle began */
  double out_kg, out_kg_k;         /* through exhaust valves, and times temperature */
  struct ew_cycle_result result;
  struct ew_trace_log *log;
  double injected_kg, injected_j; /* this cycle */
};

struct ew_pack {
  const struct ew_kernel *kernel;
  const struct ew_plan *lead;
  const struct ew_cycle_options *options;
  struct ew_pipes *pipes;
  struct ew_end *end; /* [ends], 64-byte blocks of lanes */
  struct ew_node *node;
  int ends, nodes, in_a_row;
  int *valve_end; /* [valves] */
  int *junction_members, *junction_first, *junction_count;
  double (*junction_pa)[EW_LANES];
  double cells_s, ends_s, cylinders_s; /* where the time went */
  struct ew_lane lane[EW_LANES];
};

static inline int ew_pack_cylinder_node(const struct ew_pack *pack, int cylinder) {
  return EW_NODE_FIRST + pack->lead->model->volumes + cylinder;
}

/* A cylinder's own crank angle, -360 to 360 with 0, its firing top dead centre. */
static inline double ew_pack_local_angle(const struct ew_lane *lane, int cylinder, double angle) {
  double deg = fmod(angle - lane->plan->model->cylinder[cylinder].firing_deg, 720);
  return deg > 360 ? deg - 720 : deg <= -360 ? deg + 720 : deg;
}

static inline void ew_node_set(struct ew_node *n, int l, double p, double t, double r, double gamma,
                               double h, double yb, double yf) {
  n->pressure_pa[l] = p;
  n->temperature_k[l] = t;
  n->gas_constant[l] = r;
  n->gamma[l] = gamma;
  n->enthalpy_j_kg[l] = h;
  n->burned[l] = yb;
  n->fuel[l] = yf;
}

/* pack_fill.c: pipes, volumes, cylinders and ends of a lane whose plan and job are set. */
void ew_pack_fill_cold(struct ew_pack *pack, int lane);

/* pack_keep.c: the kept state takes the cold one's place. */
void ew_pack_resume(struct ew_pack *pack, int lane, const struct ew_kept *kept);

/* pack_advance.c: what one step does outside the kernels; numbers of pack.h. */
void ew_pack_choose_steps(struct ew_pack *pack, const struct ew_kernel *kernel,
                          double *step_s);              /* 1 */
void ew_pack_set_nodes(struct ew_pack *pack, int lane); /* 2 */
void ew_pack_inject(struct ew_pack *pack, int lane);    /* 5, port injection */
void ew_pack_gather(struct ew_pack *pack, int lane);    /* 6; the lane's angle moves on */

/* pack_cycle.c: what is summed over a cycle is cleared; at its end it is judged, and the lane begins
 * the next one or is finished. */
void ew_pack_begin_cycle(struct ew_pack *pack, int lane);
void ew_pack_end_cycle(struct ew_pack *pack, int lane);
/* The lane is finished without a steady cycle; the reason goes into its result. */
void ew_pack_give_up(struct ew_lane *lane, const char *format, ...) G_GNUC_PRINTF(2, 3);
