/* One grid of a plan laid out for use: sections and walls of its cells, valve openings against crank
 * angle, its gas. Derived from the plan alone; made when a lane is loaded, shared by lanes with the same
 * plan, never changed. The plan must outlive it.
 *
 * Cost: linear in cells and in different valve tables (2881 openings each, some 0.2 ms); 46 kB a different
 * pair of tables. */
#pragma once
#include "cycle/plan.h"

#define EW_VALVE_TABLE 2881 /* every quarter degree of 720, and the end */

struct ew_cycle_laid {
  const struct ew_cycle_plan *plan;
  enum ew_plan_grid grid;
  struct ew_working_gas gas;
  int pipes, cells;                   /* cells of all pipes, without ghosts */
  int *count, *first;                 /* [pipes] cells, and the first of them in the arrays below */
  double *face_diameter_m;            /* [cells + pipes]; pipe i begins at first[i] + i */
  double *wall_k;                     /* [cells]; NaN: by heat balance */
  double *heat_factor;                /* [cells] */
  double *volume_m3, *wall_m2;        /* [cells], as ew_pipes_shape has them */
  int *table;                         /* [valves] which of the tables */
  double (*open_in)[EW_VALVE_TABLE];  /* effective area / pipe area, from cylinder to pipe */
  double (*open_out)[EW_VALVE_TABLE]; /* from pipe to cylinder */
};

/* g_atomic_rc_box; ew_cycle_laid_release. */
struct ew_cycle_laid *ew_cycle_laid_new(const struct ew_cycle_plan *plan, enum ew_plan_grid grid);
void ew_cycle_laid_release(struct ew_cycle_laid *laid);
