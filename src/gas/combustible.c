/* The table of fuels and mixtures by mass of them: properties by polynomials, flame speed by the fits that
 * combustible.h names. An unknown name gives NULL. */
#ifndef EW_ON_DEVICE /* what follows their end runs on devices too: cycle/backend/opencl.c */
#include "base/elementary.h"
#include "gas/combustible.h"
#include "base/labels.h"
#include "base/language.h"
#include "gas/fuel.h"
#include <math.h>

#define REFERENCE_K 298.15
/* mol of each element per kg, of a formula of one carbon-counted unit */
#define PER_KG(c, h, o)                                                                            \
  {                                                                                                \
    1000 * (c) / (12.011 * (c) + 1.008 * (h) + 15.999 * (o)),                                      \
        1000 * (h) / (12.011 * (c) + 1.008 * (h) + 15.999 * (o)),                                  \
        1000 * (o) / (12.011 * (c) + 1.008 * (h) + 15.999 * (o)), 0                                \
  }
/* petrol CH1.87 with a mass share w of ethanol */
#define PETROL_WITH_ETHANOL(w)                                                                     \
  {                                                                                                \
    (1 - (w)) * 1000 / 13.89596 + (w)*2000 / 46.069,                                               \
        (1 - (w)) * 1870 / 13.89596 + (w)*6000 / 46.069, (w)*1000 / 46.069, 0                      \
  }

static const struct ew_combustible fuels[] = {
    {EW_TEXT("petrol"), PER_KG(1, 1.87, 0), 0.105, 43.5e6, 350e3, 95, 85, {1, 0, 0}},
    {EW_TEXT("E10"),
     PETROL_WITH_ETHANOL(0.1055),
     0.0928,
     41.8e6,
     408e3,
     96,
     85.5,
     {0.8945, 0.1055, 0}},
    {EW_TEXT("E85"),
     PETROL_WITH_ETHANOL(0.8572),
     0.0502,
     29.1e6,
     825e3,
     106,
     89,
     {0.1428, 0.8572, 0}},
    {EW_TEXT("ethanol"), PER_KG(2, 6, 1), 0.046069, 26.81e6, 904e3, 108, 90, {0, 1, 0}},
    {EW_TEXT("methanol"), PER_KG(1, 4, 1), 0.032042, 19.92e6, 1168e3, 109, 89, {0, 0, 1}},
    {EW_TEXT("iso-octane"), PER_KG(8, 18, 0), 0.114232, 44.34e6, 308e3, 100, 100, {1, 0, 0}},
    {EW_TEXT("race petrol"), PER_KG(1, 1.87, 0), 0.105, 43.5e6, 340e3, 106, 98, {1, 0, 0}},
    {EW_TEXT("methane"), PER_KG(1, 4, 0), 0.016043, 50.03e6, 0, 120, 120, {1, 0, 0}},
    {EW_TEXT("propane"), PER_KG(3, 8, 0), 0.044096, 46.33e6, 0, 112, 97, {1, 0, 0}},
};

const struct ew_combustible *ew_combustible_find(const char *name) {
  const struct ew_fuel *known = ew_fuel_find(name);
  g_autofree char *put = name ? ew_labels_put(name, EW_LABELS_BRITISH) : NULL;
  const char *wanted = known ? known->name : put; /* "race gasoline" is race petrol */
  for (gsize i = 0; wanted && i < G_N_ELEMENTS(fuels); i++)
    if (g_ascii_strcasecmp(fuels[i].name, wanted) == 0) {
      const double *share = fuels[i].share; /* by mass, of all that it is made of */
      g_assert(fabs(share[0] + share[1] + share[2] - 1) < 1e-9);
      return &fuels[i];
    }
  return NULL;
}

const char *ew_combustible_names(void) {
  return "petrol, E10, E85, ethanol, methanol, iso-octane, race petrol, methane, propane";
}

static enum ew_species hydrocarbon(const struct ew_combustible *fuel) {
  return fuel->molar_mass_kg_mol < 0.02 ? EW_CH4 : EW_ISO_OCTANE;
}

double ew_combustible_cp_j_kg_k(const struct ew_combustible *fuel, double t) {
  enum ew_species part[] = {hydrocarbon(fuel), EW_ETHANOL, EW_METHANOL};
  double sum = 0;
  for (int i = 0; i < 3; i++)
    sum +=
        fuel->share[i] * ew_species_cp_j_mol_k(part[i], t) / ew_species_molar_mass_kg_mol(part[i]);
  return sum;
}

/* Enthalpy above 25 °C, without formation. */
static double sensible(const struct ew_combustible *fuel, double t) {
  enum ew_species part[] = {hydrocarbon(fuel), EW_ETHANOL, EW_METHANOL};
  double sum = 0;
  for (int i = 0; i < 3; i++)
    sum +=
        fuel->share[i] *
        (ew_species_enthalpy_j_mol(part[i], t) - ew_species_enthalpy_j_mol(part[i], REFERENCE_K)) /
        ew_species_molar_mass_kg_mol(part[i]);
  return sum;
}

double ew_combustible_enthalpy_j_kg(const struct ew_combustible *fuel, double t) {
  const double *n = fuel->element_mol_kg;
  double oxygen = n[EW_CARBON] + n[EW_HYDROGEN] / 4 - n[EW_OXYGEN] / 2;
  double formation = n[EW_CARBON] * ew_species_enthalpy_j_mol(EW_CO2, REFERENCE_K) +
                     n[EW_HYDROGEN] / 2 * ew_species_enthalpy_j_mol(EW_H2O, REFERENCE_K) -
                     oxygen * ew_species_enthalpy_j_mol(EW_O2, REFERENCE_K) +
                     fuel->lower_heating_value_j_kg + fuel->latent_heat_j_kg;
  return formation + sensible(fuel, t);
}

double ew_combustible_stoichiometric_ratio(const struct ew_combustible *fuel) {
  const double *n = fuel->element_mol_kg;
  double oxygen = n[EW_CARBON] + n[EW_HYDROGEN] / 4 - n[EW_OXYGEN] / 2;
  return oxygen * (31.998 + 3.773 * 28.16) / 1000;
}
#endif

double ew_flame_speed_m_s(enum ew_flame_fit fit, double phi, double unburned_k, double pressure_pa,
                          double residual) {
  static const struct {
    double best, curve, at;
  } fits[] = {[EW_FLAME_PETROL] = {0.305, -0.549, 1.21},
              [EW_FLAME_ISO_OCTANE] = {0.263, -0.847, 1.13},
              [EW_FLAME_METHANOL] = {0.369, -1.405, 1.11},
              [EW_FLAME_PROPANE] = {0.342, -1.387, 1.08}};
  g_assert((gsize)fit < G_N_ELEMENTS(fits));
  double off = phi - fits[fit].at;
  double speed = fmax(fits[fit].best + fits[fit].curve * off * off, 0.03);
  gboolean petrol = fit == EW_FLAME_PETROL;
  double alpha = petrol ? 2.4 - 0.271 * ew_pow(phi, 3.51) : 2.18 - 0.8 * (phi - 1);
  double beta = petrol ? -0.357 + 0.14 * ew_pow(phi, 2.77) : -0.16 + 0.22 * (phi - 1);
  double dilution = fmax(1 - 2.06 * ew_pow(fmax(residual, 0), 0.77), 0.1);
  return speed * ew_pow(unburned_k / 298, alpha) * ew_pow(pressure_pa / 101325, beta) * dilution;
}

double ew_combustible_flame_speed_m_s(const struct ew_combustible *fuel, double phi,
                                      double unburned_k, double pressure_pa, double residual) {
  double alcohol = fuel->share[1] + fuel->share[2], sum = 0;
  gboolean pure = fuel->research_octane == 100 && fuel->motor_octane == 100;
  enum ew_flame_fit rest = fuel->latent_heat_j_kg == 0 ? EW_FLAME_PROPANE
                           : pure                      ? EW_FLAME_ISO_OCTANE
                                                       : EW_FLAME_PETROL;
  if (alcohol < 1)
    sum += (1 - alcohol) * ew_flame_speed_m_s(rest, phi, unburned_k, pressure_pa, residual);
  if (alcohol > 0)
    sum += alcohol * ew_flame_speed_m_s(EW_FLAME_METHANOL, phi, unburned_k, pressure_pa, residual);
  return sum;
}

double ew_ignition_delay_s(double octane, double pressure_pa, double temperature_k) {
  return 17.68e-3 * ew_pow(octane / 100, 3.402) * ew_pow(pressure_pa / 101325, -1.7) *
         ew_exp(3800 / temperature_k);
}
