/* The fit and the table of working_gas.h, made once an engine run (some hundred equilibria), then read by the
 * kernels. `fit` reports its largest error, and a gas whose table could not be made is refused. */
#ifndef EW_ON_DEVICE /* what stands outside runs on devices too: cycle/backend/opencl.c */
#include "base/elementary.h"
#include "gas/working_gas.h"
#include "base/error.h"
#include "gas/equilibrium.h"
#include <gsl/gsl_multifit.h>
#include <math.h>
#include <string.h>

#define FIT_POINTS                  56
#define FIT_FROM_K                  250.0
#define FIT_STEP_K                  50.0
#define REFERENCE_K                 298.15
#define NITROGEN_PER_OXYGEN         3.773
#define ATMOSPHERIC_NITROGEN_KG_MOL 28.16e-3
#define WATER_KG_MOL                18.015e-3

/* A composition in mol per kg; "atmospheric nitrogen" counts as N2 with its heavier mass. */
struct composition {
  double mole[EW_EQUILIBRIUM_SPECIES];
};

static struct composition moist_air(double humidity_ratio) {
  struct composition air = {{0}};
  double dry = 1 / (1 + humidity_ratio);
  double oxygen = dry / (31.998e-3 + NITROGEN_PER_OXYGEN * ATMOSPHERIC_NITROGEN_KG_MOL);
  air.mole[EW_O2] = oxygen;
  air.mole[EW_N2] = NITROGEN_PER_OXYGEN * oxygen;
  air.mole[EW_H2O] = humidity_ratio * dry / WATER_KG_MOL;
  return air;
}

static void charge_elements(const struct ew_working_gas *gas, const struct composition *air,
                            double *element_mol_kg) {
  for (int e = 0; e < EW_ELEMENTS; e++) {
    double from_air = 0;
    for (int j = 0; j < EW_EQUILIBRIUM_SPECIES; j++)
      from_air += air->mole[j] * ew_species_atoms(j, e);
    element_mol_kg[e] =
        (1 - gas->fuel_share) * from_air + gas->fuel_share * gas->fuel.element_mol_kg[e];
  }
}

static double moles(const struct composition *c) {
  double sum = 0;
  for (int j = 0; j < EW_EQUILIBRIUM_SPECIES; j++)
    sum += c->mole[j];
  return sum;
}

static double composition_cv(const struct composition *c, double t) {
  double sum = 0;
  for (int j = 0; j < EW_EQUILIBRIUM_SPECIES; j++)
    sum += c->mole[j] * (ew_species_cp_j_mol_k(j, t) - EW_GAS_CONSTANT_J_MOL_K);
  return sum;
}
#endif

static double polynomial(const double *c, double tau) {
  double sum = c[EW_GAS_TERMS - 1];
  for (int i = EW_GAS_TERMS - 2; i >= 0; i--)
    sum = sum * tau + c[i];
  return sum;
}

static double slope(const double *c, double tau) {
  double sum = (EW_GAS_TERMS - 1) * c[EW_GAS_TERMS - 1];
  for (int i = EW_GAS_TERMS - 2; i >= 1; i--)
    sum = sum * tau + i * c[i];
  return sum / 1000;
}

#ifndef EW_ON_DEVICE
/* cv sampled at 250, 300, ... 3,000 K -> energy coefficients; returns the largest relative error. */
static double fit(const double *cv, double energy_at_reference, double *energy) {
  int terms = EW_GAS_TERMS - 1;
  gsl_matrix *x = gsl_matrix_alloc(FIT_POINTS, terms), *cov = gsl_matrix_alloc(terms, terms);
  gsl_vector *y = gsl_vector_alloc(FIT_POINTS), *c = gsl_vector_alloc(terms);
  gsl_vector *weight = gsl_vector_alloc(FIT_POINTS);
  gsl_multifit_linear_workspace *work = gsl_multifit_linear_alloc(FIT_POINTS, terms);
  for (int i = 0; i < FIT_POINTS; i++) {
    double tau = (FIT_FROM_K + FIT_STEP_K * i) / 1000, power = 1 / cv[i];
    gsl_vector_set(y, i, 1);
    gsl_vector_set(weight, i, tau < 1.1 ? 1 : 0.1);
    for (int k = 0; k < terms; k++, power *= tau)
      gsl_matrix_set(x, i, k, power);
  }
  double chi, worst = 0;
  gsl_multifit_wlinear(x, weight, y, c, cov, &chi, work);
  energy[0] = 0;
  for (int k = 0; k < terms; k++)
    energy[k + 1] = 1000 * gsl_vector_get(c, k) / (k + 1);
  energy[0] = energy_at_reference - polynomial(energy, REFERENCE_K / 1000);
  for (int i = 0; i < FIT_POINTS; i++)
    worst = fmax(worst, fabs(slope(energy, (FIT_FROM_K + FIT_STEP_K * i) / 1000) / cv[i] - 1));
  gsl_multifit_linear_free(work);
  gsl_matrix_free(x);
  gsl_matrix_free(cov);
  gsl_vector_free(y);
  gsl_vector_free(weight);
  gsl_vector_free(c);
  return worst;
}

static void fit_composition(struct ew_working_gas *gas, enum ew_gas_part part,
                            const struct composition *c) {
  double cv[FIT_POINTS];
  for (int i = 0; i < FIT_POINTS; i++)
    cv[i] = composition_cv(c, FIT_FROM_K + FIT_STEP_K * i);
  gas->gas_constant_j_kg_k[part] = moles(c) * EW_GAS_CONSTANT_J_MOL_K;
  g_assert(gas->gas_constant_j_kg_k[part] > 0);
  double worst = fit(cv, ew_composition_energy_j_kg(c->mole, REFERENCE_K), gas->energy_j_kg[part]);
  gas->largest_fit_error = fmax(gas->largest_fit_error, worst);
}

static void fit_fuel(struct ew_working_gas *gas) {
  double cv[FIT_POINTS], constant = EW_GAS_CONSTANT_J_MOL_K / gas->fuel.molar_mass_kg_mol;
  for (int i = 0; i < FIT_POINTS; i++)
    cv[i] = ew_combustible_cp_j_kg_k(&gas->fuel, FIT_FROM_K + FIT_STEP_K * i) - constant;
  gas->gas_constant_j_kg_k[EW_GAS_FUEL] = constant;
  double at = ew_combustible_enthalpy_j_kg(&gas->fuel, REFERENCE_K) - constant * REFERENCE_K;
  gas->largest_fit_error = fmax(gas->largest_fit_error, fit(cv, at, gas->energy_j_kg[EW_GAS_FUEL]));
}

static double blend(double t) {
  double x = CLAMP((t - 1500) / 300, 0, 1);
  return x * x * (3 - 2 * x);
}

static gboolean tabulate(struct ew_working_gas *gas, const double *element_mol_kg) {
  for (int i = 0; i < EW_DISSOCIATION_ROWS; i++)
    for (int j = 0; j < EW_DISSOCIATION_STEPS; j++) {
      double t = 1500 + 100 * i, p = 0.3e5 * ew_pow(10, j / 2.0);
      struct composition c;
      if (!ew_equilibrium(element_mol_kg, t, p, c.mole))
        return FALSE;
      double frozen = polynomial(gas->energy_j_kg[EW_GAS_BURNED], t / 1000);
      double constant = moles(&c) * EW_GAS_CONSTANT_J_MOL_K;
      gas->energy_departure_j_kg[i][j] =
          blend(t) * (ew_composition_energy_j_kg(c.mole, t) - frozen);
      gas->constant_departure[i][j] =
          blend(t) * (constant / gas->gas_constant_j_kg_k[EW_GAS_BURNED] - 1);
    }
  return TRUE;
}

gboolean ew_working_gas_make(const struct ew_combustible *fuel, double equivalence,
                             double humidity_ratio, struct ew_working_gas *gas, GError **error) {
  memset(gas, 0, sizeof *gas);
  gas->fuel = *fuel;
  gas->coldest_k = 60;
  gas->hottest_k = 4000;
  gas->equivalence = equivalence;
  gas->humidity_ratio = humidity_ratio;
  if (!(equivalence >= 0.5 && equivalence <= 2))
    return ew_refuse(error, "equivalence ratio %g is outside 0.5 to 2 (lambda 0.5 to 2)",
                     equivalence);
  if (!(humidity_ratio >= 0 && humidity_ratio <= 0.1))
    return ew_refuse(error, "humidity ratio %g kg/kg is outside 0 to 0.1", humidity_ratio);
  double dry = ew_combustible_stoichiometric_ratio(fuel);
  if (!(dry > 0.5))
    return ew_refuse(error,
                     "fuel %s needs %g kg of air per kg: it does not burn in air as described",
                     fuel->name, dry);
  gas->stoichiometric_ratio = dry * (1 + humidity_ratio);
  gas->fuel_share = equivalence / (equivalence + gas->stoichiometric_ratio);
  struct composition air = moist_air(humidity_ratio), burned;
  double element[EW_ELEMENTS];
  charge_elements(gas, &air, element);
  if (!ew_equilibrium(element, 1700, 20e5, burned.mole))
    return ew_refuse(error,
                     "no equilibrium of burned gas for %s at equivalence ratio %g: too rich?",
                     fuel->name, equivalence);
  fit_composition(gas, EW_GAS_AIR, &air);
  fit_fuel(gas);
  fit_composition(gas, EW_GAS_BURNED, &burned);
  g_assert(gas->fuel_share > 0 && gas->fuel_share < 1);
  if (!tabulate(gas, element))
    return ew_refuse(error, "no table of dissociation for %s at equivalence ratio %g", fuel->name,
                     equivalence);
  return TRUE;
}

void ew_working_gas_make_perfect(double gamma, double gas_constant, struct ew_working_gas *gas) {
  memset(gas, 0, sizeof *gas);
  gas->equivalence = 1;
  gas->coldest_k = 1e-9;
  gas->hottest_k = 1e12;
  for (int k = 0; k < EW_GAS_PARTS; k++) {
    gas->gas_constant_j_kg_k[k] = gas_constant;
    gas->energy_j_kg[k][1] = 1000 * gas_constant / (gamma - 1);
  }
}
#endif

double ew_working_gas_constant(const struct ew_working_gas *gas, double burned, double fuel) {
  double air = gas->gas_constant_j_kg_k[EW_GAS_AIR];
  return air + burned * (gas->gas_constant_j_kg_k[EW_GAS_BURNED] - air) +
         fuel * (gas->gas_constant_j_kg_k[EW_GAS_FUEL] - air);
}

static void mix(const struct ew_working_gas *gas, double burned, double fuel, double *c) {
  for (int i = 0; i < EW_GAS_TERMS; i++) {
    double air = gas->energy_j_kg[EW_GAS_AIR][i];
    c[i] = air + burned * (gas->energy_j_kg[EW_GAS_BURNED][i] - air) +
           fuel * (gas->energy_j_kg[EW_GAS_FUEL][i] - air);
  }
}

double ew_working_gas_energy(const struct ew_working_gas *gas, double burned, double fuel,
                             double t) {
  double c[EW_GAS_TERMS];
  mix(gas, burned, fuel, c);
  return polynomial(c, t / 1000);
}

double ew_working_gas_cv(const struct ew_working_gas *gas, double burned, double fuel, double t) {
  double c[EW_GAS_TERMS];
  mix(gas, burned, fuel, c);
  return slope(c, t / 1000);
}

void ew_working_gas_departure_at(const struct ew_working_gas *gas, double t, double log_pressure,
                                 double *energy_j_kg, double *slope_j_kg_k, double *constant) {
  *energy_j_kg = *slope_j_kg_k = *constant = 0;
  if (!(t > 1500) || isnan(log_pressure))
    return;
  double x = fmin((t - 1500) / 100, EW_DISSOCIATION_ROWS - 1.001);
  double y = CLAMP((log_pressure - 10.308952660644293) / 1.151292546497023, 0,
                   EW_DISSOCIATION_STEPS - 1.001); /* ln 0.3e5; ln sqrt(10) */
  int i = (int)x, j = (int)y;
  g_assert(i >= 0 && i + 1 < EW_DISSOCIATION_ROWS && j >= 0 && j + 1 < EW_DISSOCIATION_STEPS);
  x -= i;
  y -= j;
  double cool =
      (1 - y) * gas->energy_departure_j_kg[i][j] + y * gas->energy_departure_j_kg[i][j + 1];
  double warm =
      (1 - y) * gas->energy_departure_j_kg[i + 1][j] + y * gas->energy_departure_j_kg[i + 1][j + 1];
  *energy_j_kg = (1 - x) * cool + x * warm;
  *slope_j_kg_k = (warm - cool) / 100;
  *constant =
      (1 - x) * ((1 - y) * gas->constant_departure[i][j] + y * gas->constant_departure[i][j + 1]) +
      x * ((1 - y) * gas->constant_departure[i + 1][j] + y * gas->constant_departure[i + 1][j + 1]);
}

void ew_working_gas_departure(const struct ew_working_gas *gas, double t, double pressure_pa,
                              double *energy_j_kg, double *constant) {
  double slope;
  ew_working_gas_departure_at(gas, t, t > 1500 ? ew_log(pressure_pa) : 0, energy_j_kg, &slope,
                              constant);
}

#ifndef EW_ON_DEVICE
double ew_working_gas_mixture_temperature_k(const struct ew_working_gas *gas, double air_k,
                                            double evaporated_from_gas) {
  double z = gas->fuel_share, t = air_k;
  double air = ew_working_gas_energy(gas, 0, 0, air_k) + gas->gas_constant_j_kg_k[0] * air_k;
  double vapour = ew_working_gas_energy(gas, 0, 1, air_k) + gas->gas_constant_j_kg_k[1] * air_k;
  double wanted = (1 - z) * air + z * (vapour - evaporated_from_gas * gas->fuel.latent_heat_j_kg);
  double r = ew_working_gas_constant(gas, 0, z);
  for (int i = 0; i < 20; i++)
    t -= (ew_working_gas_energy(gas, 0, z, t) + r * t - wanted) /
         (ew_working_gas_cv(gas, 0, z, t) + r);
  return t;
}
#endif
