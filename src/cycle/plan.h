/* A model made ready to run: gas, cells, valve tables. Internal to src/cycle. */
#pragma once
#include "cycle/cylinder.h"
#include "cycle/model.h"

#define EW_VALVE_TABLE 2881 /* every quarter degree of 720, and the end */

struct ew_plan {
  const struct ew_cycle_model *model;
  struct ew_working_gas gas;
  double charge_k;                /* fresh charge at the intake mouth */
  double charge_fuel;             /* its share of fuel vapour */
  double ambient_kg_m3;           /* moist air */
  int *cells;                     /* [pipes] */
  double **face_diameter_m;       /* [pipes][cells + 1] */
  double **wall_k, **heat_factor; /* [pipes][cells]; wall NaN: by heat balance */
  double (
      *open_in)[EW_VALVE_TABLE]; /* [valves], effective area / pipe area, from cylinder to pipe */
  double (*open_out)[EW_VALVE_TABLE]; /* [valves], from pipe to cylinder */
  double *shut_from, *shut_to;        /* [cylinders] */
};

/* cells of `like` are used when it is not NULL (same layout, so that both can share a vector). */
struct ew_plan *ew_plan_new(const struct ew_cycle_model *model, double cell_m,
                            const struct ew_plan *like, GError **error);
void ew_plan_free(struct ew_plan *plan);
/* Same parts joined in the same way: numbers may differ. */
gboolean ew_plan_same_layout(const struct ew_cycle_model *a, const struct ew_cycle_model *b);
