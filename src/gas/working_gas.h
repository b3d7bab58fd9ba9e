/* The gas of one engine run: moist air, fuel vapour and burned gas, as three pseudo-species.
 *
 * 1. Energies u_k(T) are polynomials of degree six in T/1000 K, fitted to the species' cv over 250 to
 *    3,000 K, below 1,100 K with ten times the weight, and tied to the exact enthalpy (formation included) at 25 °C.
 * 2. Burned gas is the equilibrium of the run's mixture at 1,700 K and 20 bar, frozen.
 * 3. Dissociation, wanted inside cylinders only, is a table of the departure of equilibrium from the
 *    frozen gas in energy and gas constant against T and ln p, blended in between 1,500 and 1,800 K.
 *
 * A mixture's energy and gas constant are linear in its mass shares. */
#pragma once
#include "gas/combustible.h"

#define EW_GAS_TERMS          7
#define EW_DISSOCIATION_ROWS  21 /* 1,500 K to 3,500 K in steps of 100 K */
#define EW_DISSOCIATION_STEPS 7  /* ln p from 0.3 bar in steps of a factor sqrt(10) */

enum ew_gas_part { EW_GAS_AIR, EW_GAS_FUEL, EW_GAS_BURNED, EW_GAS_PARTS };

struct ew_working_gas {
  struct ew_combustible fuel;
  double equivalence;
  double fuel_share;           /* kg of fuel in a kg of fresh charge at that equivalence */
  double stoichiometric_ratio; /* kg of moist air per kg of fuel at equivalence 1 */
  double humidity_ratio;       /* kg of water per kg of dry air */
  double gas_constant_j_kg_k[EW_GAS_PARTS];
  double energy_j_kg[EW_GAS_PARTS][EW_GAS_TERMS]; /* u = sum c_i (T/1000)^i */
  double energy_departure_j_kg[EW_DISSOCIATION_ROWS][EW_DISSOCIATION_STEPS];
  double constant_departure[EW_DISSOCIATION_ROWS][EW_DISSOCIATION_STEPS]; /* R = R_frozen (1 + d) */
  double coldest_k,
      hottest_k;            /* temperatures are held within these: a run that gets there is wrong */
  double largest_fit_error; /* of cv over the range, relative */
};

/* equivalence 0.5 to 2; humidity_ratio 0 to 0.1. */
gboolean ew_working_gas_make(const struct ew_combustible *fuel, double equivalence,
                             double humidity_ratio, struct ew_working_gas *gas, GError **error);
/* A gas of constant gamma and gas constant in all three parts, for tests against textbook cases. */
void ew_working_gas_make_perfect(double gamma, double gas_constant_j_kg_k,
                                 struct ew_working_gas *gas);

double ew_working_gas_constant(const struct ew_working_gas *gas, double burned, double fuel);
double ew_working_gas_energy(const struct ew_working_gas *gas, double burned, double fuel,
                             double temperature_k);
double ew_working_gas_cv(const struct ew_working_gas *gas, double burned, double fuel,
                         double temperature_k);
/* Departures of burned gas by dissociation; zero below 1,500 K. */
void ew_working_gas_departure(const struct ew_working_gas *gas, double temperature_k,
                              double pressure_pa, double *energy_j_kg, double *constant);

/* The same at ln p, with the slope of the energy departure by temperature. */
void ew_working_gas_departure_at(const struct ew_working_gas *gas, double temperature_k,
                                 double log_pressure, double *energy_j_kg, double *slope_j_kg_k,
                                 double *constant);

/* Fresh charge drawn from air at this temperature when the fuel enters as liquid and a share of it
 * evaporates from the gas's own heat (the rest from walls): temperature of the mixture. */
double ew_working_gas_mixture_temperature_k(const struct ew_working_gas *gas, double air_k,
                                            double evaporated_from_gas);
