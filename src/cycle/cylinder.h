/* One cylinder between its piston, its valves and its walls: one zone while it exchanges gas, two zones
 * (unburned, burned) while it burns.
 *
 * Mass, energy (formation included) and volume of the whole cylinder are what is conserved; burning
 * changes composition only. Steps of ew_cylinder_advance, numbered as in docs/methods-cycle.md:
 *   1. volume at the new angle (slider-crank with pin offset)
 *   2. wall heat by Woschni (SAE 670931, in Heywood's form, exponent -0.55 of temperature)
 *   3. burned fraction (combustion.h of the model: Hires et al. integrated, or a fixed Wiebe curve)
 *   4. pressure: one zone in two passes; two zones by p <- p (V_u + V_b)/V, V_u from isentropic
 *      compression with heat, T_b from the energy that is left
 *   5. knock integral (Douaud and Eyzat; Livengood and Wu) of the unburned zone */
#pragma once
#include "cycle/model.h"
#include "gas/working_gas.h"

/* What does not change during a run. */
struct ew_cylinder_frame {
  const struct ew_working_gas *gas;
  struct ew_cycle_cylinder shape;
  struct ew_cycle_combustion combustion;
  double woschni_factor, speed_rpm;
  double bore_area_m2, clearance_m3, throw_m, top_m; /* top_m: crank to pin at top dead centre */
  double displacement_m3, piston_speed_m_s;
  double octane;
};

enum ew_cylinder_stage { EW_EXCHANGE, EW_COMPRESSION, EW_BURNING, EW_EXPANSION };

/* What one combustion was, taken when the exhaust valve opens. rise: steepest pressure rise of a step of half a degree or less. */
struct ew_burn_record {
  double peak_pa, peak_deg, rise_pa_deg, ca10_deg, ca50_deg, ca90_deg, knock, x;
  double trapped_kg, air_kg, residual, equivalence; /* when the valves had shut */
};

struct ew_cylinder {
  double mass_kg, energy_j, burned_kg, fuel_kg, volume_m3; /* conserved */
  double pressure_pa, temperature_k;
  enum ew_cylinder_stage stage;
  double spark_deg;                                       /* before top dead centre */
  double closed_pa, closed_k, closed_m3;                  /* when the valves had shut */
  double closed_kg, closed_burned, closed_fuel, delta, z; /* delta: flame development; z: burn */
  double x;                                               /* burned mass / charge */
  double burned_k, growth; /* burned zone, K; last ratio of pressures: where iterations begin */
  double unburned_k, unburned_burned, unburned_fuel; /* unburned zone: K, mass shares */
  double met;   /* share of the charge that finds its partner, of an even mixture's */
  double knock; /* integral for frame.octane */
  /* sums of this cycle; cleared by ew_cylinder_begin_cycle */
  double work_j, pumping_work_j,
      heat_j;                      /* pumping: intake and exhaust strokes; heat to the walls */
  struct ew_burn_record now, last; /* combustion under way, and the last one complete */
};

/* The frame keeps `gas`, which must outlive it. */
void ew_cylinder_frame_make(const struct ew_cycle_cylinder *shape,
                            const struct ew_cycle_combustion *combustion, double woschni_factor,
                            const struct ew_working_gas *gas, double speed_rpm,
                            struct ew_cylinder_frame *frame);
double ew_cylinder_volume_m3(const struct ew_cylinder_frame *frame, double deg);
/* Fill with gas at rest at an angle after firing top dead centre. */
void ew_cylinder_fill(const struct ew_cylinder_frame *frame, double deg, double pressure_pa,
                      double temperature_k, double burned, double fuel, struct ew_cylinder *c);
/* The valves have just shut: references of Woschni and of the knock integral. */
void ew_cylinder_shut(const struct ew_cylinder_frame *frame, struct ew_cylinder *c);
/* The exhaust valve is about to open: one zone again. */
void ew_cylinder_open(struct ew_cylinder *c);
void ew_cylinder_begin_cycle(struct ew_cylinder *c);
/* From angle to angle (degrees after firing TDC, to > from), with what came through the valves:
 * gained[EW_CONSERVED order: kg, -, J, kg, kg], or NULL. */
void ew_cylinder_advance(const struct ew_cylinder_frame *frame, struct ew_cylinder *c,
                         double from_deg, double to_deg, const double *gained);
/* Gas constant and gamma of the mean state. */
void ew_cylinder_gas(const struct ew_cylinder_frame *frame, const struct ew_cylinder *c, double *r,
                     double *gamma, double *enthalpy_j_kg);

/* Woschni's coefficient, W/(m2 K): SI except none. motored_pa NaN: gas exchange or compression. */
double ew_woschni_w_m2_k(double bore_m, double pressure_pa, double temperature_k,
                         double velocity_m_s);

/* The closed part of a cycle alone, from a cylinder just shut at from_deg to to_deg, in steps of
 * step_deg: for spark searches and tests. */
struct ew_cylinder ew_cylinder_closed(const struct ew_cylinder_frame *frame,
                                      const struct ew_cylinder *shut, double from_deg,
                                      double to_deg, double spark_deg, double step_deg);
