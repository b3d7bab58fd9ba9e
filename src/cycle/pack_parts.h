/* What the files of a pack share: one lane's run, and the pack. Internal to src/cycle/pack*.c.
 * A lane is named by its number, 0 to EW_LANES - 1. */
#pragma once

#define EW_CONFIRM_MOST                                                                            \
  4 /* times that a spark that has settled is looked at again; then it stays */
#include "cycle/pack.h"
#include "cycle/spark.h"
#include "cycle/trace.h"
#include <math.h>

/* What a run needs beside its state: nothing here decides a bit of it that the state or plan does not. */
struct ew_lane {
  struct ew_cycle_laid *laid;      /* NULL until it is loaded */
  struct ew_cylinder_frame *frame; /* [cylinders] */
  struct ew_cylinder *cylinder;    /* [cylinders], gathered while a cycle is judged */
  gboolean finished;
  struct ew_cycle_result result; /* of the last whole cycle */
  struct ew_trace_log *log;      /* of this cycle; NULL unless asked for */
};

struct ew_pack {
  const struct ew_cycle_backend *backend;
  enum ew_plan_grid grid;
  struct ew_cycle_laid *shape;
  struct ew_cycle_work *work;
  struct ew_cycle_state *state;
  gboolean trace;
  double judged_s; /* seconds between cycles */
  struct ew_lane lane[EW_LANES];
};

/* One word of a lane's run, to read and write. */
static inline double *ew_pack_run(const struct ew_pack *pack, int lane, enum ew_state_run word) {
  return ew_state_run(pack->state, word) + lane;
}

/* What one cycle of the whole engine summed, J and kg; energies with formation. */
struct ew_sums {
  double work, pumping, heat, air, fuel, mass_in, energy_in, pipe_heat;
  double burned,
      energy_stored; /* burned gas formed; what the engine holds more than when the cycle began */
};

/* pack_energy.c: shares of the fuel's heat, all NaN where no fuel was burnt; and the reading of a thermocouple in the primaries, mean
 * of the cylinders, NaN where no pipe follows an exhaust valve or its heat is left out. */
struct ew_cycle_energy ew_energy_of(const struct ew_cycle_laid *laid, const struct ew_sums *sums,
                                    double friction_j);
double ew_exhaust_reading_k(const struct ew_pack *pack, int lane, double out_kg_s);

/* pack_cycle.c: what is summed over a cycle is cleared; at its end it is judged, and the lane begins the
 * next one or is finished. */
void ew_pack_begin_cycle(struct ew_pack *pack, int lane);
void ew_pack_end_cycle(struct ew_pack *pack, int lane);
/* The lane is finished without a steady cycle; the reason goes into its result. */
void ew_pack_give_up(struct ew_pack *pack, int lane, const struct ew_cycle_why *why);
