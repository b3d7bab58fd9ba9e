/* Ideal-gas species: heat capacity, enthalpy and entropy from seven-coefficient NASA polynomials.
 *
 * Form and origin: NASA TM-4513 (McBride, Gordon, Reno 1993); coefficients as published with
 * GRI-Mech 3.0 (1999) except iso-octane (same NASA form) and ethanol (Marinov's mechanism, typed from
 * memory; its enthalpy and its continuity at 1,000 K are tested). Enthalpies contain the enthalpy of
 * formation, so that combustion is a change of composition and nothing else. Valid 200 K to 3,500 K;
 * outside, the end polynomials continue. */
#pragma once
#include <glib.h>

#define EW_GAS_CONSTANT_J_MOL_K 8.314462618

enum ew_species {
  EW_CO2,
  EW_H2O,
  EW_N2,
  EW_O2,
  EW_CO,
  EW_H2,
  EW_OH,
  EW_O,
  EW_H,
  EW_NO,
  EW_EQUILIBRIUM_SPECIES, /* the ten above take part in equilibrium */
  EW_CH4 = EW_EQUILIBRIUM_SPECIES,
  EW_ISO_OCTANE,
  EW_METHANOL,
  EW_ETHANOL,
  EW_SPECIES
};

enum ew_element { EW_CARBON, EW_HYDROGEN, EW_OXYGEN, EW_NITROGEN, EW_ELEMENTS };

const char *ew_species_name(enum ew_species species);
double ew_species_molar_mass_kg_mol(enum ew_species species);
/* Atoms of the element in one molecule. */
int ew_species_atoms(enum ew_species species, enum ew_element element);
double ew_species_cp_j_mol_k(enum ew_species species, double temperature_k);
double ew_species_enthalpy_j_mol(enum ew_species species, double temperature_k);
/* At one standard atmosphere. */
double ew_species_entropy_j_mol_k(enum ew_species species, double temperature_k);
