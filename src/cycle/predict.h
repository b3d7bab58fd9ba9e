/* Torque curves from a model: the whole engine run to a periodic state at each speed.
 *
 * Runs (one model at one speed) fill the lanes of the vector kernels; each lane has its own step and
 * angle and takes the next run when its own is done. Threads (OpenMP) take runs from one list. A run's
 * figures do not depend on lane, thread or vector level: same model, speed and options, same bits.
 *
 * No main loop, no files; the callbacks are called from one thread at a time. */
#pragma once
#include "cycle/model.h"

enum ew_cycle_spark {
  EW_SPARK_BEST,  /* least advance for best torque, or less where the knock limit says so */
  EW_SPARK_MBT,   /* least advance for best torque, knock or not */
  EW_SPARK_GIVEN, /* spark_deg of the run */
};

struct ew_cycle_options {
  double cell_m;    /* wanted cell length; 0.02 default, 0.04 for searches */
  double cfl;       /* 0.85 */
  int most_cycles;  /* 40 */
  double tolerance; /* 1e-3: change of work, air and charge from cycle to cycle, two in a row */
  int threads;      /* 0: as many as OpenMP gives */
  enum ew_cycle_spark spark;
  gboolean trace;
  void (*progress)(double share_done, gpointer data);
  gpointer data;
  const gint *cancel; /* stop soon after this becomes non-zero; may be NULL */
};

void ew_cycle_options_defaults(struct ew_cycle_options *options);

/* Values at every degree of crank, 0 to 719, of the last cycle; series are named. */
struct ew_cycle_trace {
  int series;
  char **name; /* e.g. "cylinder 1 pressure", "primary 3 end 1 flow" */
  char **unit; /* "Pa", "K", "kg/s", "m3", "1" */
  double (*value)[720];
};

struct ew_cycle_result {
  double speed_rpm;
  gboolean converged;
  char reason[160]; /* why not, and where; empty when converged */
  int cycles, steps;
  double torque_n_m, power_w, bmep_pa, imep_pa, pmep_pa, fmep_pa; /* imep net of pumping */
  double volumetric_efficiency; /* moist air through the intake / displacement at ambient density */
  double air_kg_s, fuel_kg_s, bsfc_kg_j;
  double residual_fraction, trapped_kg, trapped_equivalence; /* mean of cylinders */
  double peak_pressure_pa, peak_deg, ca10_deg, ca50_deg, ca90_deg;
  double exhaust_k;          /* mass mean of the gas as it leaves the cylinders */
  double heat_share;         /* heat to cylinder walls / heating value of the fuel */
  double spark_deg, mbt_deg; /* before top dead centre; mbt NaN when it was not sought */
  gboolean knock_limited;
  double knock;         /* integral of the mean cycle, worst cylinder; the limit is the model's */
  double octane_needed; /* for that integral to meet the limit; a ranking, never a permission */
  double imep_spread;   /* (largest - smallest) / mean of cylinders */
  double mass_residual, energy_residual; /* audit of the last cycle: mass / air, energy / work */
  double mass_drift, energy_drift;       /* stored at the end less at the start, same measures */
  double torque_residual;                /* change of work from the last cycle but one */
  struct ew_cycle_trace *trace;          /* NULL unless asked for */
};

/* One run. spark_deg counts for EW_SPARK_GIVEN: -40 to 90 before top dead centre. */
struct ew_cycle_job {
  const struct ew_cycle_model *model;
  double speed_rpm, spark_deg;
};

struct ew_cycle_effort { /* what the work was; any of it may be of interest */
  double wall_s;
  const char *simd; /* static */
  int threads, cells, ends;
  double steps; /* of all runs */
  double cells_s, ends_s,
      cylinders_s; /* where the threads' time went; spark searches in the last */
};

/* results[n], cleared here; free each with ew_cycle_result_clear. A run that does not converge is not
 * an error: its result says so. FALSE on bad input (model, speeds, options, ENGINEWRIGHT_SIMD), or
 * when cancelled. effort may be NULL. */
gboolean ew_cycle_predict_jobs(const struct ew_cycle_job *jobs, int n,
                               const struct ew_cycle_options *options,
                               struct ew_cycle_result *results, struct ew_cycle_effort *effort,
                               GError **error);
/* One model at n speeds; spark_deg[n] or NULL. */
gboolean ew_cycle_predict(const struct ew_cycle_model *model, const double *speed_rpm,
                          const double *spark_deg, int n, const struct ew_cycle_options *options,
                          struct ew_cycle_result *results, struct ew_cycle_effort *effort,
                          GError **error);
void ew_cycle_result_clear(struct ew_cycle_result *result);
