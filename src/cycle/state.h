/* Where up to EW_LANES runs are: everything that the next step depends on, and nothing else.
 *
 * Structure of arrays, cylinders included: the state is a matrix of doubles with one row for each
 * quantity of each part and one column for each lane. A lane's column may be taken out, kept, sent and put
 * into any lane of any state of the same plan: the run goes on with the same bits as if it had never
 * stopped. Whole numbers and yes or no are doubles too. Pure data: no pointers into anything else.
 *
 *   group       words a part                                      parts
 *   CELLS       amounts, temperature, wall, sums of the cycle     cells with ghosts, one more, two guards
 *   ENDS        last answer of each pipe end                      2 a pipe
 *   NODES       what pipe ends see of a node, and gave it         charge, air, volumes, cylinders
 *   JUNCTIONS   pressure                                          junctions
 *   VOLUMES     amounts, temperature                              volumes
 *   CYLINDERS   struct ew_cylinder                                cylinders
 *   SHUT        the same, as it was when the valves had shut      cylinders
 *   CLOSED      angle of that; charge of the cycle before         cylinders
 *   RUN         speed, angle, spark, counters, what is compared   1
 *
 * A row is found by ew_state_at(state, group, word, part). Cost: 2,200 rows for four cylinders on 40 mm
 * cells, 140 kB for eight lanes. */
#pragma once
#include "cycle/ends.h"
#include "cycle/laid.h"

#define EW_STATE_LAYOUT 2 /* raised when the order or meaning of the rows changes */
#define EW_STATE_GUARD  2 /* rows before and after each word of CELLS, that neighbours may be read */

enum ew_state_group {
  EW_STATE_CELLS,
  EW_STATE_ENDS,
  EW_STATE_NODES,
  EW_STATE_JUNCTIONS,
  EW_STATE_VOLUMES,
  EW_STATE_CYLINDERS,
  EW_STATE_SHUT,
  EW_STATE_CLOSED,
  EW_STATE_RUN,
  EW_STATE_GROUPS
};

/* The first EW_CONSERVED words are those of enum ew_conserved. */
enum ew_state_cell {
  EW_CELL_TEMPERATURE = EW_CONSERVED,
  EW_CELL_WALL,
  EW_CELL_HEAT,          /* J to the gas since the cycle began */
  EW_CELL_CONDUCTANCE,   /* J/K */
  EW_CELL_CONDUCTANCE_K, /* J */
  EW_CELL_WORDS
};
enum ew_state_end {
  EW_ENDS_MEMORY,
  EW_ENDS_FLOW,
  EW_ENDS_ENTHALPY,
  EW_ENDS_PRESSURE,
  EW_ENDS_WORDS
};
enum ew_state_node {
  EW_NODES_PRESSURE,
  EW_NODES_TEMPERATURE,
  EW_NODES_CONSTANT,
  EW_NODES_GAMMA,
  EW_NODES_ENTHALPY,
  EW_NODES_BURNED,
  EW_NODES_FUEL,
  EW_NODES_GAINED, /* EW_CONSERVED words */
  EW_NODES_WORDS = EW_NODES_GAINED + EW_CONSERVED
};
enum ew_state_volume {
  EW_VOLUMES_MASS,
  EW_VOLUMES_ENERGY,
  EW_VOLUMES_BURNED,
  EW_VOLUMES_FUEL,
  EW_VOLUMES_TEMPERATURE,
  EW_VOLUMES_WORDS
};
enum ew_state_closed { EW_CLOSED_DEG, EW_CLOSED_TRAPPED_BEFORE, EW_CLOSED_WORDS };

/* Words of a cylinder: member of struct ew_cylinder, and what must hold of it. The stage is the last. */
/* clang-format off */
#define EW_STATE_CYLINDER_WORDS(X) \
  X(mass_kg, POSITIVE) X(energy_j, FINITE) X(burned_kg, FINITE) X(fuel_kg, FINITE) \
  X(volume_m3, POSITIVE) X(pressure_pa, POSITIVE) X(temperature_k, POSITIVE) \
  X(spark_deg, FINITE) X(closed_pa, FINITE) X(closed_k, FINITE) X(closed_m3, FINITE) \
  X(closed_kg, FINITE) X(closed_burned, FINITE) X(closed_fuel, FINITE) X(delta, FINITE) \
  X(z, FINITE) X(x, FINITE) X(burned_k, FINITE) X(growth, FINITE) X(unburned_k, FINITE) \
  X(unburned_burned, FINITE) X(unburned_fuel, FINITE) X(met, FINITE) X(knock, FINITE) \
  X(work_j, FINITE) X(pumping_work_j, FINITE) X(heat_j, FINITE) X(now.peak_pa, FINITE) \
  X(now.peak_deg, FINITE) X(now.rise_pa_deg, FINITE) X(now.ca10_deg, OR_NAN) X(now.ca50_deg, OR_NAN) \
  X(now.ca90_deg, OR_NAN) X(now.knock, FINITE) X(now.x, FINITE) X(now.trapped_kg, FINITE) \
  X(now.air_kg, FINITE) X(now.residual, FINITE) X(now.equivalence, FINITE) \
  X(last.peak_pa, FINITE) X(last.peak_deg, FINITE) X(last.rise_pa_deg, FINITE) X(last.ca10_deg, OR_NAN) \
  X(last.ca50_deg, OR_NAN) X(last.ca90_deg, OR_NAN) X(last.knock, FINITE) X(last.x, FINITE) \
  X(last.trapped_kg, FINITE) X(last.air_kg, FINITE) X(last.residual, FINITE) \
  X(last.equivalence, FINITE)
/* clang-format on */
#define EW_STATE_COUNT(member, rule) +1
#define EW_STATE_STAGE               (0 EW_STATE_CYLINDER_WORDS(EW_STATE_COUNT))
#define EW_STATE_CYLINDER            (EW_STATE_STAGE + 1)

/* Words of a run, and what must hold of them. */
/* clang-format off */
#define EW_STATE_RUN_WORDS(X) \
  X(SPEED_RPM, POSITIVE) X(RUNNING, YES_NO) X(ANGLE_DEG, ANGLE) X(SPARK_DEG, FINITE) \
  X(STEPS, COUNT) X(STEPS_HERE, COUNT) X(OUT_KG, FINITE) X(OUT_KG_K, FINITE) \
  X(INJECTED_KG, FINITE) X(INJECTED_J, FINITE) X(MASS_START, FINITE) X(ENERGY_START, FINITE) \
  X(BURNED_START, FINITE) X(WORK_BEFORE, FINITE) X(AIR_BEFORE, FINITE) X(RESIDUAL_BEFORE, FINITE) X(CYCLES, COUNT) \
  X(IN_A_ROW, COUNT) X(CYCLES_BEFORE, COUNT) X(STEPS_BEFORE, COUNT) X(RESUMED, YES_NO) \
  X(FROZEN, YES_NO) X(CONFIRMED, COUNT) X(SOUGHT_DEG, FINITE) X(MBT_DEG, OR_NAN) \
  X(KNOCK_LIMITED, YES_NO)
/* clang-format on */
enum ew_state_run {
#define X(id, rule) EW_RUN_##id,
  EW_STATE_RUN_WORDS(X)
#undef X
      EW_RUN_WORDS
};

enum { EW_NODE_CHARGE, EW_NODE_AIR, EW_NODE_FIRST }; /* then volumes, then cylinders */

struct ew_cycle_state {
  int pipes, cells; /* cells with two ghosts a pipe */
  int cylinders, volumes;
  int *first;                         /* [pipes] first real cell, as in struct ew_pipes */
  int parts[EW_STATE_GROUPS];         /* as ew_state_at takes them */
  gsize row[EW_STATE_GROUPS];         /* of word 0, part 0 */
  gsize pitch[EW_STATE_GROUPS], rows; /* rows from word to word */
  double (*value)[EW_LANES];          /* [rows], on a boundary of 64 bytes */
};

static inline double *ew_state_at(const struct ew_cycle_state *s, enum ew_state_group group,
                                  int word, int part) {
  return s->value[s->row[group] + s->pitch[group] * (gsize)word + (gsize)part];
}
static inline double *ew_state_run(const struct ew_cycle_state *s, enum ew_state_run word) {
  return ew_state_at(s, EW_STATE_RUN, (int)word, 0);
}
/* The real cell c of a pipe, as a part of CELLS. */
static inline int ew_state_cell(const struct ew_cycle_state *s, int pipe, int c) {
  return s->first[pipe] + c;
}

/* Of the shape of a plan and grid; all lanes at rest and not running. Caller frees. */
struct ew_cycle_state *ew_cycle_state_new(const struct ew_cycle_laid *shape);
void ew_cycle_state_free(struct ew_cycle_state *state);

/* A lane at the beginning of a run, from nothing: still gas in pipes and volumes, cylinders by their phase.
 * spark_deg is the first cycle's. */
void ew_cycle_state_cold(struct ew_cycle_state *state, int lane, const struct ew_cycle_laid *laid,
                         double speed_rpm, double spark_deg);
/* The same lane after a run on the coarse grid of its plan: each fine cell takes the state of the coarse
 * cell that holds its middle. `from` is a lane of a state of `coarse`. */
void ew_cycle_state_refine(struct ew_cycle_state *state, int lane, const struct ew_cycle_laid *laid,
                           const struct ew_cycle_state *from, int from_lane,
                           const struct ew_cycle_laid *coarse);

/* The same lane after a steady run of another plan with the same parts and gas (cycle/warm.h): pipes by the share of their length; cylinders
 * and volumes keep pressure and temperature in the room that they have now, and a cylinder whose valves are not where they were begins
 * from still gas. What the former run counted is left behind. */
void ew_cycle_state_follow(struct ew_cycle_state *state, int lane, const struct ew_cycle_laid *laid,
                           const struct ew_cycle_state *from, int from_lane,
                           const struct ew_cycle_laid *before);

/* One lane's column, packed into lane 0 of a state of its own; ew_cycle_state_free. */
struct ew_cycle_state *ew_cycle_state_take(const struct ew_cycle_state *state, int lane);
/* All of one lane into another, of this state or of another of the same shape. */
void ew_cycle_state_copy(struct ew_cycle_state *to, int to_lane, const struct ew_cycle_state *from,
                         int from_lane);

/* A lane as bytes: little-endian words, with the digest of its plan and one of its own; g_bytes_unref. */
GBytes *ew_cycle_state_save(const struct ew_cycle_state *state, int lane,
                            const struct ew_cycle_laid *laid);
/* Refuses bytes that are damaged, of another plan, grid, physics or layout, or that break
 * ew_cycle_state_check; the lane is then as it was. */
gboolean ew_cycle_state_load(struct ew_cycle_state *state, int lane,
                             const struct ew_cycle_laid *laid, const void *bytes, gsize count,
                             GError **error);

/* What must hold of a lane between steps: finite figures (NaN only where a burn has not got that far),
 * positive masses, volumes, pressures, densities; temperatures within the gas's range; stages, yes and no,
 * counters and the angle within theirs. The error names what does not. O of the rows. */
gboolean ew_cycle_state_check(const struct ew_cycle_state *state, int lane,
                              const struct ew_cycle_laid *laid, GError **error);

/* A cylinder gathered from its rows, and put back. group: CYLINDERS or SHUT. */
void ew_state_get_cylinder(const struct ew_cycle_state *state, enum ew_state_group group, int lane,
                           int cylinder, struct ew_cylinder *c);
void ew_state_put_cylinder(struct ew_cycle_state *state, enum ew_state_group group, int lane,
                           int cylinder, const struct ew_cylinder *c);

/* A cylinder's own crank angle, over -360 to 360 with 0, its firing top dead centre. */
double ew_cycle_local_angle(const struct ew_cycle_plan *plan, int cylinder, double angle_deg);
void ew_cycle_frame_of(const struct ew_cycle_laid *laid, int cylinder, double speed_rpm,
                       struct ew_cylinder_frame *frame);
