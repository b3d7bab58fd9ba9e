/* Chemical equilibrium of combustion products: CO2 H2O N2 O2 CO H2 OH O H NO, ideal gas.
 *
 * Method: minimised Gibbs energy by element potentials, the Newton iteration of Gordon and McBride,
 * NASA RP-1311 (1994), section 2, with its step control. */
#pragma once
#include "gas/species.h"

/* element_mol_kg[EW_ELEMENTS] (mol per kg of mixture) -> mole_mol_kg[EW_EQUILIBRIUM_SPECIES].
 * FALSE when the iteration did not converge (250 to 5,000 K and any mixture that holds hydrogen or
 * carbon, oxygen and nitrogen does; a mixture so rich that it would soot does not belong here). */
gboolean ew_equilibrium(const double *element_mol_kg, double temperature_k, double pressure_pa,
                        double *mole_mol_kg);

/* Internal energy of such a composition, J per kg of mixture, formation included. */
double ew_composition_energy_j_kg(const double *mole_mol_kg, double temperature_k);

/* Temperature of the products that have this enthalpy at this pressure; NaN without an answer. */
double ew_flame_temperature_k(const double *element_mol_kg, double enthalpy_j_kg,
                              double pressure_pa);
/* The same at constant volume: given energy and volume per kg; the pressure is returned if asked. */
double ew_flame_temperature_at_volume_k(const double *element_mol_kg, double energy_j_kg,
                                        double volume_m3_kg, double *pressure_pa);
