/* Torque curves from a model: the whole engine run to a periodic state at each speed.
 *
 * Models become plans (plan.h); runs (one plan at one speed) fill the lanes of a backend
 * (backend/backend.h); each lane has its own step and angle and takes the next run when its own is done.
 * Threads (OpenMP) take runs from one list. A run's figures depend on its plan, speed and given spark
 * alone: same digest, same bits, whatever the lane, thread or vector level.
 *
 * Cost beside the runs themselves: one plan a different model and one look-up a run; memory for all plans
 * and results at once, so a long search hands over some hundred runs at a time.
 *
 * No main loop, no files; the callbacks are called from one thread at a time. */
#pragma once
#include "cycle/model.h"
#include "base/message.h"
#include "cycle/options.h"

struct ew_cycle_plan;

/* Values at every degree of crank, 0 to 719, of the last cycle; series are named. */
/* Names are keys: "runner 3 end 1 pressure" is a column of the trace's file, whatever the reader's language. */
struct ew_cycle_trace {
  int cylinders, vessels,
      pipes;          /* of the engine, in the order of its plan; vessels: plenum, silencers */
  double *firing_deg; /* [cylinders] crank angle of each one's firing top dead centre */
  int series;
  char **name; /* e.g. "cylinder 1 pressure", "primary 3 end 1 flow" */
  char **unit; /* "Pa", "K", "kg/s", "m3", "1" */
  double (*value)[720];
};

/* What a series is of. Cylinders have all but flow, vessels pressure, pipe ends pressure and flow into the
 * pipe (kg/s); the end of a pipe is 2 * pipe + side. */
enum ew_trace_part { EW_TRACE_CYLINDER, EW_TRACE_VESSEL, EW_TRACE_PIPE_END };
enum ew_trace_what {
  EW_TRACE_PRESSURE,
  EW_TRACE_TEMPERATURE,
  EW_TRACE_VOLUME,
  EW_TRACE_BURNED, /* share of the charge, 0 while valves are open */
  EW_TRACE_FLOW
};
/* 720 values to draw, against crank angle or (pressure over volume) as a loop that closes from the last to the
 * first; the trace's own. NULL where there is no such part or figure. O(1). */
const double *ew_cycle_trace_of(const struct ew_cycle_trace *trace, enum ew_trace_part part,
                                int index, enum ew_trace_what what);
/* Work on the piston: the area of that loop, J; NaN when there is no such cylinder. A check of a drawing: the
 * result's figures are summed step by step, and differ by what whole degrees cut off. */
double ew_cycle_trace_work_j(const struct ew_cycle_trace *trace, int cylinder);

/* Shares of the fuel's heating value; their sum is 1 less `unexplained`, which is what the balance missed. */
struct ew_cycle_energy {
  double brake, friction, pumping, walls, unburned, exhaust, unexplained;
};

/* Why a run did not become steady, and where. */
enum ew_cycle_failure {
  EW_CYCLE_STEADY,           /* it did */
  EW_CYCLE_STEP_FELL,        /* figure: the mean time step, s; angle_deg: how far the cycle got */
  EW_CYCLE_PIPE_UNSOUND,     /* cycle, pipe */
  EW_CYCLE_CYLINDER_UNSOUND, /* cycle */
  EW_CYCLE_UNSTEADY          /* cycle; figure: change of work from cycle to cycle, relative */
};
struct ew_cycle_why {
  enum ew_cycle_failure failure;
  int cycle;
  double figure, angle_deg;
  char pipe[48];
};

struct ew_cycle_result {
  double speed_rpm;
  gboolean converged;
  struct ew_cycle_why why; /* EW_CYCLE_STEADY when converged */
  int cycles, steps;
  double torque_n_m, power_w, bmep_pa, imep_pa, pmep_pa, fmep_pa; /* imep net of pumping */
  double volumetric_efficiency; /* moist air through the intake / displacement at ambient density */
  double air_kg_s, fuel_kg_s, bsfc_kg_j;
  double residual_fraction, trapped_kg, trapped_equivalence; /* mean of cylinders */
  double peak_pressure_pa, peak_deg, ca10_deg, ca50_deg, ca90_deg;
  double exhaust_k;            /* mass mean of the gas as it leaves the cylinders */
  double exhaust_reading_k;    /* of a thermocouple 0.1 m after the valve, mean of cylinders */
  double pressure_rise_pa_deg; /* steepest, mean of cylinders */
  struct ew_cycle_energy energy;
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

/* One run. spark_deg counts where the plan says EW_SPARK_GIVEN: -40 to 90 before top dead centre. */
struct ew_cycle_task {
  const struct ew_cycle_plan *plan;
  double speed_rpm, spark_deg;
};
struct ew_cycle_job { /* the same, of a model */
  const struct ew_cycle_model *model;
  double speed_rpm, spark_deg;
};

struct ew_cycle_effort { /* what the work was; any of it may be of interest */
  double wall_s;
  const char *simd; /* static */
  int threads, cells, ends;
  double steps;           /* of all runs */
  gint64 plans, look_ups; /* made; in tables of models and shapes: grows as the runs do */
  double cells_s, ends_s,
      cylinders_s; /* where the threads' time went; spark searches in the last */
};

/* results[n], cleared here; free each with ew_cycle_result_clear. A run that does not converge is not
 * an error: its result says so. FALSE on bad input (speeds, ENGINEWRIGHT_SIMD), or when cancelled. Of the
 * options those count that are not part of a plan. effort may be NULL. */
gboolean ew_cycle_run(const struct ew_cycle_task *tasks, int n,
                      const struct ew_cycle_options *options, struct ew_cycle_result *results,
                      struct ew_cycle_effort *effort, GError **error);
/* Models planned and run; those of the first one's layout get its numbers of cells. FALSE also when a
 * model or the options are refused. */
gboolean ew_cycle_predict_jobs(const struct ew_cycle_job *jobs, int n,
                               const struct ew_cycle_options *options,
                               struct ew_cycle_result *results, struct ew_cycle_effort *effort,
                               GError **error);
/* One model at n speeds; spark_deg[n] or NULL. */
gboolean ew_cycle_predict(const struct ew_cycle_model *model, const double *speed_rpm,
                          const double *spark_deg, int n, const struct ew_cycle_options *options,
                          struct ew_cycle_result *results, struct ew_cycle_effort *effort,
                          GError **error);
/* What a result depends on: the plan's digest, the speed, and the spark where it is given. Hexadecimal,
 * EW_CYCLE_HEX bytes of plan.h. The same for all backends that give the same bits; the one chosen, when it has a tolerance, has its own. */
void ew_cycle_task_digest(const struct ew_cycle_task *task, char *hex);
void ew_cycle_result_clear(struct ew_cycle_result *result);
/* Why it did not converge; NULL when it did. The caller frees it. */
ew_message *ew_cycle_why_not(const struct ew_cycle_result *result);
