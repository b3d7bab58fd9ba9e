/* What a cycle simulation needs to know of a fuel: vapour properties, latent heat, octane numbers and
 * laminar flame speed.
 *
 * A fuel is a mixture by mass of up to three vapours with known polynomials; petrol's vapour is taken
 * as iso-octane's heat capacity per kilogram with petrol's own elements and heating value, and so is propane's (1.67 against 1.65
 * kJ/(kg K) at 25 °C). Octane
 * numbers and latent heats are typical values from memory of Heywood's fuel table: a batch has its
 * own, so they are defaults to be replaced.
 *
 * Flame speed: Metghalchi and Keck 1982 (iso-octane, methanol) and Rhodes and Keck 1985 (petrol) as
 * tabulated by Heywood; alcohols other than methanol use methanol's fit, gases propane's, blends the mass mean. */
#pragma once
#include "gas/species.h"

enum ew_flame_fit { EW_FLAME_PETROL, EW_FLAME_ISO_OCTANE, EW_FLAME_METHANOL, EW_FLAME_PROPANE };

struct ew_combustible {
  const char *name;
  double element_mol_kg[EW_ELEMENTS];
  double molar_mass_kg_mol;
  double lower_heating_value_j_kg; /* of the liquid (of the gas for methane and propane), 25 °C */
  double latent_heat_j_kg;         /* 25 °C; 0 for gases */
  double research_octane, motor_octane;
  double share[3]; /* by mass: hydrocarbon, ethanol, methanol */
};

/* NULL when the name is not known. Names are those of gas/fuel.h that a spark-ignition engine burns:
 * petrol, E10, E85, ethanol, methanol, iso-octane, race petrol, methane, propane. */
const struct ew_combustible *ew_combustible_find(const char *name);
const char *ew_combustible_names(void);

/* Vapour, per kg; enthalpy contains formation, fixed so that burning at 25 °C gives the heating value. */
double ew_combustible_cp_j_kg_k(const struct ew_combustible *fuel, double temperature_k);
double ew_combustible_enthalpy_j_kg(const struct ew_combustible *fuel, double temperature_k);
/* kg of dry air per kg of fuel (Heywood's air, as ew_stoichiometric_ratio). */
double ew_combustible_stoichiometric_ratio(const struct ew_combustible *fuel);

/* m/s. equivalence 0.7 to 1.6 (fits: 0.8 to 1.5), 298 to 1,000 K (fits: to 700 K), mole fraction of
 * burned gas 0 to 0.3; never below 10 % of the undiluted speed. */
double ew_flame_speed_m_s(enum ew_flame_fit fit, double equivalence, double unburned_k,
                          double pressure_pa, double residual_mole_fraction);
double ew_combustible_flame_speed_m_s(const struct ew_combustible *fuel, double equivalence,
                                      double unburned_k, double pressure_pa,
                                      double residual_mole_fraction);

/* Ignition delay after Douaud and Eyzat, SAE 780080 (as in Heywood ch. 9): pressure in standard
 * atmospheres. Calibrated for octane numbers of about 80 to 100: outside, and for alcohols, a ranking. */
double ew_ignition_delay_s(double octane, double pressure_pa, double temperature_k);
