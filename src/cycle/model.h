/* A whole engine for the cycle simulation: plain structs, in SI and degrees of crank.
 *
 * The caller owns everything that is pointed to; it must outlive the calls that use the model.
 * Four-stroke, spark ignition. Angles of a cylinder count from its own firing top dead centre. */
#pragma once
#include "gas/combustible.h"

enum ew_end_kind {
  EW_END_CLOSED,
  EW_END_ATMOSPHERE, /* fresh charge for an intake pipe, plain air for an exhaust pipe */
  EW_END_VOLUME,
  EW_END_JUNCTION,
  EW_END_VALVE,
};

struct ew_cycle_end {
  enum ew_end_kind kind;
  int index; /* of the volume, junction or valve */
  double
      opening; /* atmosphere, volume: effective area / pipe area, 0 to 1 (throttle, plate); mouth 1 */
};

/* Along a pipe; values between stations are linear, beyond the first and last constant. */
struct ew_cycle_station {
  double at_m, diameter_m;
  double wall_k;      /* NaN: found from heat balance (exhaust), or the model's inlet_wall_k */
  double heat_factor; /* multiplies heat transfer; 1 plain, 2 to 3 in ports (common practice) */
};

struct ew_cycle_pipe {
  const char *name;
  double length_m;
  int stations; /* 1 or more */
  const struct ew_cycle_station *station;
  double bend_loss; /* sum of loss coefficients K of its bends */
  gboolean exhaust; /* starts hot and burned; its open end sees plain air */
  struct ew_cycle_end end[2];
};

struct ew_cycle_volume { /* plenum, airbox, silencer, collector box */
  const char *name;
  double volume_m3;
  gboolean exhaust;
};

/* One row of a flow-bench table: effective area / head area of one valve (pi/4 head_m^2). */
struct ew_cycle_flow {
  double lift_by_diameter;
  double forward; /* into the cylinder for an intake valve, out of it for an exhaust valve */
  double reverse;
};

struct ew_cycle_valve {
  const char *name;
  int cylinder;
  gboolean exhaust;
  int count; /* equal valves that share the pipe */
  double head_m;
  double first_deg; /* crank angle of lift_m[0] after the cylinder's firing top dead centre */
  double step_deg;
  int lifts;
  const double *lift_m; /* at the valve, lash taken off; 0 or less is shut */
  int flows;
  const struct ew_cycle_flow *flow; /* rising lift_by_diameter */
};

enum ew_fuel_delivery {
  EW_FUEL_MIXED, /* with the air at the intake mouth: carburettors far upstream */
  EW_FUEL_PORT,  /* into the cells before each intake valve, as much as their air wants */
};

struct ew_cycle_cylinder {
  double firing_deg; /* crank angle of its firing top dead centre, 0 to 720 */
  double bore_m, stroke_m, rod_m, pin_offset_m, compression_ratio;
  double head_area, piston_area; /* surface / bore area */
  double wall_k;                 /* one wall temperature */
};

/* Burn rate after Hires, Tabaczynski and Novak, SAE 780232, integrated along the cycle:
 * docs/methods-cycle.md. The three factors are the knobs of a fit. */
struct ew_cycle_combustion {
  double development, duration, turbulence;
  double path; /* the way of the flame over that from one plug: 1; 0.5 from two at opposite sides */
  double spread; /* standard deviation of the equivalence ratio within a charge; 0: even */
  double fixed_duration_deg; /* > 0: a Wiebe curve from the spark angle instead, exponent below */
  double fixed_exponent;     /* m + 1 */
  double octane;             /* for the knock integral; NaN: mean of research and motor numbers */
  double knock_limit; /* of the mean cycle's integral: 0.88 leaves room for the fast cycles */
};

struct ew_cycle_friction { /* fmep = constant + peak p_max + speed Sp + square Sp^2, Pa and m/s */
  double constant_pa, peak, speed_pa_s_m, square_pa_s2_m2;
};

/* Raised when the same engine gives other torque, by the simulation or by what is taken for what its file leaves out: fits made with an
 * earlier one are not used. */
#define EW_CYCLE_PHYSICS 5

struct ew_cycle_model {
  int cylinders, pipes, volumes, junctions, valves;
  const struct ew_cycle_cylinder *cylinder;
  const struct ew_cycle_pipe *pipe;
  const struct ew_cycle_volume *volume;
  const struct ew_cycle_valve *valve;
  const struct ew_combustible *fuel;
  enum ew_fuel_delivery delivery;
  double equivalence; /* 1 / lambda, trapped */
  /* share of the latent heat that the charge gives at 298.15 K and 1 bar, and its rise with the ambient temperature; kept within 0 to 1 */
  double evaporated_from_gas, evaporated_per_k;
  double inlet_wall_k; /* of inlet pipes, warm engine */
  /* how far walls follow the air's temperature from what is said of them at 298.15 K, K/K: 0 where a thermostat holds them. Inlet: pipes
   * without a wall temperature of their own; metal: cylinders, and inlet pipes with one (ports) */
  double inlet_follows, metal_follows;
  double ambient_pa, ambient_k, vapour_pa;
  double exhaust_back_pa; /* at exhaust pipe ends; NaN: ambient */
  double flow_factor;     /* multiplies the valves' effective areas */
  double woschni_factor, pipe_friction, pipe_heat;
  struct ew_cycle_combustion combustion;
  struct ew_cycle_friction friction;
};

/* Generic defaults of everything that is not geometry (docs/methods-cycle.md): editable figures of
 * common practice, petrol at equivalence 1.1, 1 bar, 298.15 K, dry. Counts are 0. */
void ew_cycle_model_defaults(struct ew_cycle_model *model);
/* Refuses impossible geometry, dangling ends, valves that never close, and figures out of range,
 * naming the part. */
gboolean ew_cycle_model_check(const struct ew_cycle_model *model, GError **error);

double ew_cycle_displacement_m3(const struct ew_cycle_model *model);
/* Crank angles after firing top dead centre between which all valves of a cylinder are shut:
 * closing before it (negative), opening after it. FALSE when there is no such interval around it. */
gboolean ew_cycle_shut_interval(const struct ew_cycle_model *model, int cylinder, double *from_deg,
                                double *to_deg);
/* Effective area of a valve (all that share its pipe) at a crank angle after firing TDC. */
double ew_cycle_valve_area_m2(const struct ew_cycle_valve *valve, double deg, gboolean forward);
/* Share of the latent heat that the charge gives at the model's ambient temperature and pressure. */
double ew_cycle_evaporated_from_gas(const struct ew_cycle_model *model);
