/* Newton steps on element potentials with RP-1311's step control, until a step changes moles by less than 1e-12 of
 * them, 300 steps at most; FALSE when that isn't reached, never a half-done composition called whole. Start and
 * order are fixed, so the same input gives the same bits. */
#include "base/elementary.h"
#include "gas/equilibrium.h"
#include <math.h>
#include <string.h>

#define NS            EW_EQUILIBRIUM_SPECIES
#define NE            EW_ELEMENTS
#define ATMOSPHERE_PA 101325.0

/* Gauss elimination with row pivots; n <= NE + 1. FALSE when singular. */
static gboolean solve(int n, double a[NE + 1][NE + 2], double *x) {
  g_assert(n > 0);
  for (int k = 0; k < n; k++) {
    int best = k;
    for (int i = k + 1; i < n; i++)
      if (fabs(a[i][k]) > fabs(a[best][k]))
        best = i;
    if (!(fabs(a[best][k]) > 1e-300))
      return FALSE;
    for (int j = 0; j <= n; j++) {
      double swap = a[k][j];
      a[k][j] = a[best][j];
      a[best][j] = swap;
    }
    for (int i = k + 1; i < n; i++)
      for (int j = n; j >= k; j--)
        a[i][j] -= a[k][j] * a[i][k] / a[k][k];
  }
  for (int i = n - 1; i >= 0; i--) {
    x[i] = a[i][n];
    for (int j = i + 1; j < n; j++)
      x[i] -= a[i][j] * x[j];
    x[i] /= a[i][i];
  }
  return TRUE;
}

struct state {
  int element[NE], elements; /* those present */
  double need[NE];           /* mol/kg, by present element */
  double atoms[NS][NE];      /* by present element */
  gboolean usable[NS];       /* made of present elements only */
  double log_mole[NS], log_total;
};

static void begin(struct state *s, const double *element_mol_kg) {
  memset(s, 0, sizeof *s);
  double sum = 0;
  for (int e = 0; e < NE; e++)
    if (element_mol_kg[e] > 0) {
      s->need[s->elements] = element_mol_kg[e];
      s->element[s->elements++] = e;
      sum += element_mol_kg[e];
    }
  for (int j = 0; j < NS; j++) {
    s->usable[j] = TRUE;
    for (int e = 0; e < NE; e++)
      if (!(element_mol_kg[e] > 0) && ew_species_atoms(j, e))
        s->usable[j] = FALSE;
    for (int i = 0; i < s->elements; i++)
      s->atoms[j][i] = ew_species_atoms(j, s->element[i]);
    s->log_mole[j] = ew_log(0.05 * sum);
  }
  g_assert(s->elements <= NE);
  s->log_total = ew_log(0.5 * sum);
}

/* One Newton step; returns the largest change that matters, or a negative number when singular. */
static double step(struct state *s, const double *gibbs_rt, double log_pressure_atm) {
  double a[NE + 1][NE + 2] = {{0}}, x[NE + 1], mu[NS], mole[NS], total = ew_exp(s->log_total);
  int n = s->elements;
  double sum = 0, sum_mu = 0;
  for (int j = 0; j < NS; j++) {
    mole[j] = s->usable[j] ? ew_exp(s->log_mole[j]) : 0;
    mu[j] = gibbs_rt[j] + s->log_mole[j] - s->log_total + log_pressure_atm;
    sum += mole[j];
    sum_mu += mole[j] * mu[j];
    for (int k = 0; k < n; k++) {
      double part = s->atoms[j][k] * mole[j];
      for (int i = 0; i < n; i++)
        a[k][i] += part * s->atoms[j][i];
      a[k][n] += part;
      a[n][k] += part;
      a[k][n + 1] += part * mu[j] - part;
    }
  }
  for (int k = 0; k < n; k++)
    a[k][n + 1] += s->need[k];
  a[n][n] = sum - total;
  a[n][n + 1] = total - sum + sum_mu;
  if (!solve(n + 1, a, x))
    return -1;
  double change[NS], largest = 5 * fabs(x[n]), damp = 1, residual = total * fabs(x[n]);
  for (int j = 0; j < NS; j++) {
    change[j] = x[n] - mu[j];
    for (int i = 0; i < n; i++)
      change[j] += s->atoms[j][i] * x[i];
    if (!s->usable[j])
      change[j] = 0;
    double share = s->log_mole[j] - s->log_total;
    if (share > -18.420681)
      largest = fmax(largest, fabs(change[j]));
    else if (change[j] > 0) /* a trace may not jump above 1e-4 in one step (RP-1311, eq. 3.2) */
      damp = fmin(damp, fabs((-share - 9.2103404) / (change[j] - x[n] + 1e-300)));
    residual = fmax(residual, mole[j] * fabs(change[j]));
  }
  damp = fmin(damp, 2 / fmax(largest, 2));
  for (int j = 0; j < NS; j++)
    s->log_mole[j] = fmax(s->log_mole[j] + damp * change[j], -300);
  s->log_total += damp * x[n];
  return residual / total;
}

/* Reactions make and lose no atoms: to a millionth of all of them. */
static void check_elements(const double *element_mol_kg, const double *mole_mol_kg) {
  double all = 0;
  for (int e = 0; e < NE; e++)
    all += element_mol_kg[e];
  for (int e = 0; e < NE; e++) {
    double sum = 0;
    for (int j = 0; j < NS; j++)
      sum += ew_species_atoms(j, e) * mole_mol_kg[j];
    g_assert(!(fabs(sum - element_mol_kg[e]) > 1e-6 * all));
  }
}

gboolean ew_equilibrium(const double *element_mol_kg, double t, double pressure_pa,
                        double *mole_mol_kg) {
  struct state s;
  double gibbs_rt[NS], log_p = ew_log(pressure_pa / ATMOSPHERE_PA), change = 1;
  for (int j = 0; j < NS; j++)
    gibbs_rt[j] = (ew_species_enthalpy_j_mol(j, t) / t - ew_species_entropy_j_mol_k(j, t)) /
                  EW_GAS_CONSTANT_J_MOL_K;
  begin(&s, element_mol_kg);
  int passes = 0;
  for (; passes < 300 && change > 1e-12 && change >= 0; passes++)
    change = step(&s, gibbs_rt, log_p);
  for (int j = 0; j < NS; j++)
    mole_mol_kg[j] = s.usable[j] ? ew_exp(s.log_mole[j]) : 0;
  gboolean good = change >= 0 && change <= 1e-12;
  if (good)
    check_elements(element_mol_kg, mole_mol_kg);
  return good;
}

static double composition_enthalpy_j_kg(const double *mole_mol_kg, double t) {
  double sum = 0;
  for (int j = 0; j < NS; j++)
    sum += mole_mol_kg[j] * ew_species_enthalpy_j_mol(j, t);
  return sum;
}

double ew_composition_energy_j_kg(const double *mole_mol_kg, double t) {
  double sum = 0;
  for (int j = 0; j < NS; j++)
    sum += mole_mol_kg[j] * (ew_species_enthalpy_j_mol(j, t) - EW_GAS_CONSTANT_J_MOL_K * t);
  return sum;
}

double ew_flame_temperature_k(const double *element_mol_kg, double enthalpy_j_kg,
                              double pressure_pa) {
  double low = 300, high = 5000, mole[NS];
  for (int i = 0; i < 60; i++) {
    double t = (low + high) / 2;
    if (!ew_equilibrium(element_mol_kg, t, pressure_pa, mole))
      return NAN;
    if (composition_enthalpy_j_kg(mole, t) < enthalpy_j_kg)
      low = t;
    else
      high = t;
  }
  return high < 4999 ? (low + high) / 2 : NAN;
}

/* Pressure at which the equilibrium mixture fills the volume: moles depend on it only weakly. */
static gboolean fill(const double *element_mol_kg, double t, double volume_m3_kg, double *mole,
                     double *pressure_pa) {
  for (int i = 0; i < 40; i++) {
    if (!ew_equilibrium(element_mol_kg, t, *pressure_pa, mole))
      return FALSE;
    double n = 0;
    for (int j = 0; j < NS; j++)
      n += mole[j];
    *pressure_pa = n * EW_GAS_CONSTANT_J_MOL_K * t / volume_m3_kg;
  }
  return TRUE;
}

double ew_flame_temperature_at_volume_k(const double *element_mol_kg, double energy_j_kg,
                                        double volume_m3_kg, double *pressure_pa) {
  double low = 300, high = 5000, mole[NS], pressure = ATMOSPHERE_PA;
  for (int i = 0; i < 60; i++) {
    double t = (low + high) / 2;
    if (!fill(element_mol_kg, t, volume_m3_kg, mole, &pressure))
      return NAN;
    if (ew_composition_energy_j_kg(mole, t) < energy_j_kg)
      low = t;
    else
      high = t;
  }
  if (pressure_pa)
    *pressure_pa = pressure;
  return high < 4999 ? (low + high) / 2 : NAN;
}
