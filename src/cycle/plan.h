/* One engine made ready to run, as one block of memory: what the solver needs to know, and nothing else.
 *
 * A plan is flat: it holds no pointers, it may be copied with memcpy, written to a file, sent to another
 * process or uploaded to a device. All of it is words of eight bytes (doubles and int64_t) but the text at
 * its end, which has the names of the parts for messages.
 *
 *   header (struct ew_cycle_plan) | cylinders | pipes | volumes | valves | stations | lifts | flows | text
 *
 * Written form: the same, words in little-endian order. The digest is SHA-256 over all words behind it in
 * that order, so it covers the layout, EW_CYCLE_PHYSICS, geometry, gas, cells and options; names are left
 * out, -0 is 0 and all NaN are one. Equal engines have equal digests however they were described; a
 * figure that the solver uses changes it. Equal tables (lifts, flows, stations) are held once.
 *
 * Cost: making a plan is linear in its parts and their tables, plus parts times different tables to find
 * the equal ones; the gas (some 0.1 ms to 1 ms) is taken from `like` where it is the same. A few
 * kilobytes: 10 for four cylinders. */
#pragma once
#include "cycle/cylinder.h"
#include "cycle/options.h"
#include <stdint.h>

#define EW_PLAN_LAYOUT      2     /* raised when the order or meaning of the words changes */
#define EW_PLAN_CELLS_MOST  20000 /* a pipe */
#define EW_PLAN_BYTES_MOST  (64 << 20)
#define EW_PLAN_GAS_NUMBERS (sizeof(struct ew_working_gas) / sizeof(double) - 1) /* less its name */

/* A run on fine cells begins on coarse ones, which are the second grid. */
enum ew_plan_grid { EW_GRID_FINAL, EW_GRID_COARSE, EW_PLAN_GRIDS };

enum ew_plan_section {
  EW_PLAN_CYLINDERS,
  EW_PLAN_PIPES,
  EW_PLAN_VOLUMES,
  EW_PLAN_VALVES,
  EW_PLAN_STATIONS,
  EW_PLAN_LIFTS,
  EW_PLAN_FLOWS,
  EW_PLAN_TEXT, /* bytes; its count is their number, a multiple of 8 */
  EW_PLAN_SECTIONS
};

struct ew_plan_cylinder {
  struct ew_cycle_cylinder shape;
  double shut_from_deg, shut_to_deg; /* all valves shut between; after its firing top dead centre */
};

struct ew_plan_pipe {
  double length_m, bend_loss;
  int64_t exhaust, first_station, stations;
  int64_t cells[EW_PLAN_GRIDS]; /* the second 0 when there is one grid */
  struct {
    int64_t kind, index; /* enum ew_end_kind */
    double opening;
  } end[2];
};

struct ew_plan_volume {
  double volume_m3;
  int64_t exhaust;
};

struct ew_plan_valve {
  int64_t cylinder, exhaust, count;
  double head_m, first_deg, step_deg;
  int64_t first_lift, lifts, first_flow, flows;
};

struct ew_cycle_plan {
  char magic[8];
  int64_t bytes; /* of the whole block */
  int64_t text_bytes;
  uint8_t digest[32];
  /* ---- the digest begins here */
  int64_t layout, physics;
  int64_t count[EW_PLAN_SECTIONS - 1];
  int64_t at[EW_PLAN_SECTIONS]; /* bytes from the beginning of the block; follow from the counts */
  int64_t junctions, grids, delivery; /* enum ew_fuel_delivery */
  int64_t spark, most_cycles;         /* enum ew_cycle_spark */
  double cell_m, cfl, tolerance;
  double equivalence, evaporated_from_gas, evaporated_per_k, inlet_wall_k;
  double ambient_pa, ambient_k, vapour_pa, exhaust_back_pa; /* the last never NaN */
  double flow_factor, woschni_factor, pipe_friction, pipe_heat;
  struct ew_cycle_combustion combustion;
  struct ew_cycle_friction friction;
  double charge_k, charge_fuel; /* fresh charge at the intake mouth: K, share of fuel vapour */
  double ambient_kg_m3;         /* moist air */
  double injected_j_kg;         /* enthalpy of fuel that enters at the ports */
  double gas[EW_PLAN_GAS_NUMBERS];
  /* ---- the sections follow */
};

/* NULL when the model or the options are refused. `like` may be NULL; where it is a plan of the same
 * layout (same parts joined in the same way), its numbers of cells are taken, so that both can share a
 * vector. Of `options` cells, CFL, cycles, tolerance and spark count. */
struct ew_cycle_plan *ew_cycle_plan_new(const struct ew_cycle_model *model,
                                        const struct ew_cycle_options *options,
                                        const struct ew_cycle_plan *like, GError **error);
void ew_cycle_plan_free(struct ew_cycle_plan *plan);

/* The written form; g_bytes_unref. */
GBytes *ew_cycle_plan_write(const struct ew_cycle_plan *plan);
/* NULL when the bytes are not a plan of this layout and physics, are damaged, or say something that does
 * not follow from the engine in them: the plan is made again from it and has to come out the same. */
struct ew_cycle_plan *ew_cycle_plan_read(const void *bytes, gsize count, GError **error);

#define EW_CYCLE_HEX 65 /* 64 hexadecimal digits and a NUL */
/* Equal for plans that may share a vector: same layout, cells, delivery and pipe friction. */
void ew_cycle_plan_shape(const struct ew_cycle_plan *plan, char hex[EW_CYCLE_HEX]);

/* The first of a section; struct of the section's name, struct ew_cycle_station, double (lifts), struct
 * ew_cycle_flow, char (text). */
static inline const void *ew_cycle_plan_section(const struct ew_cycle_plan *plan,
                                                enum ew_plan_section section) {
  return (const char *)plan + plan->at[section];
}
static inline const struct ew_plan_cylinder *ew_plan_cylinders(const struct ew_cycle_plan *p) {
  return ew_cycle_plan_section(p, EW_PLAN_CYLINDERS);
}
static inline const struct ew_plan_pipe *ew_plan_pipes(const struct ew_cycle_plan *p) {
  return ew_cycle_plan_section(p, EW_PLAN_PIPES);
}
static inline const struct ew_plan_volume *ew_plan_volumes(const struct ew_cycle_plan *p) {
  return ew_cycle_plan_section(p, EW_PLAN_VOLUMES);
}
static inline const struct ew_plan_valve *ew_plan_valves(const struct ew_cycle_plan *p) {
  return ew_cycle_plan_section(p, EW_PLAN_VALVES);
}
static inline int ew_plan_count(const struct ew_cycle_plan *p, enum ew_plan_section section) {
  return (int)p->count[section];
}
/* Name of a pipe, volume or valve, for messages. O of the parts. */
const char *ew_cycle_plan_name(const struct ew_cycle_plan *plan, enum ew_plan_section section,
                               int index);
double ew_cycle_plan_displacement_m3(const struct ew_cycle_plan *plan);
/* The gas of the plan as the solver's functions want it; its fuel has no name. */
void ew_cycle_plan_gas(const struct ew_cycle_plan *plan, struct ew_working_gas *gas);

/* A model that points into the plan (names too) and into itself, for what is asked of models. */
struct ew_cycle_view {
  struct ew_cycle_model model;
  struct ew_combustible fuel;
  GPtrArray *memory;
};
void ew_cycle_plan_view(const struct ew_cycle_plan *plan, struct ew_cycle_view *view);
void ew_cycle_view_clear(struct ew_cycle_view *view);
