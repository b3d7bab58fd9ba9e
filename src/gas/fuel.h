/* Fuels by name: what an air-fuel ratio needs to become lambda, and energy for efficiencies.
 *
 * Stoichiometric ratios are computed from composition with air of 3.773 mol of atmospheric nitrogen
 * (28.16 g/mol) per mol of oxygen (Heywood's convention); heating values as docs/methods.md says. */
#pragma once
#include <glib.h>

struct ew_fuel {
  const char *name;
  const char *const *also;                   /* other spellings, NULL-terminated */
  double carbon, hydrogen, oxygen, nitrogen; /* atoms, per molecule or per carbon atom */
  double stoichiometric_ratio;               /* filled by ew_fuel_find */
  double lower_heating_value_j_kg;           /* liquid, 25 °C; NaN when not stated */
  double density_kg_m3;                      /* 15 °C, typical: NaN when it varies too much */
};

/* NULL when the name is not known. */
const struct ew_fuel *ew_fuel_find(const char *name);
/* All names, for messages; NULL-terminated, static. */
const char *ew_fuel_names(void);
/* kg of air per kg of fuel, from its composition. */
double ew_stoichiometric_ratio(double carbon, double hydrogen, double oxygen, double nitrogen);
/* Blend by mass: air demand adds up, ratios' inverses do not. */
double ew_blended_stoichiometric_ratio(double first, double second, double mass_share_of_second);
