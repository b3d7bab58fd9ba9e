/* Fuels by name and their other names, and stoichiometric ratios from composition. One table; NULL for a name that
 * isn't in it. */
#include "gas/fuel.h"
#include <math.h>
#include <string.h>

#define NAMES(...)                                                                                 \
  (const char *const[]) {                                                                          \
    __VA_ARGS__, NULL                                                                              \
  }

static struct ew_fuel fuels[] = {
    {"petrol", NAMES("gasoline", "pump fuel", "E0"), 1, 1.87, 0, 0, 0, 43.5e6, 745},
    {"E10", NAMES("petrol E10", "gasoline E10"), 0, 0, 0, 0, 14.010, 41.8e6, 750},
    {"E85", NAMES("E-85"), 0, 0, 0, 0, 9.795, 29.1e6, 782},
    {"ethanol", NAMES("E100"), 2, 6, 1, 0, 0, 26.81e6, 789},
    {"methanol", NAMES("M100"), 1, 4, 1, 0, 0, 19.92e6, 792},
    {"iso-octane", NAMES("isooctane"), 8, 18, 0, 0, 0, 44.34e6, 692},
    {"toluene", NAMES("methylbenzene"), 7, 8, 0, 0, 0, 40.52e6, 867},
    {"nitromethane", NAMES("nitro"), 1, 3, 2, 1, 0, 10.54e6, 1137},
    {"diesel", NAMES("light diesel"), 1, 1.8, 0, 0, 0, 42.8e6, 835},
    {"methane", NAMES("natural gas", "CNG"), 1, 4, 0, 0, 0, 50.03e6, NAN},
    {"propane", NAMES("LPG"), 3, 8, 0, 0, 0, 46.33e6, NAN},
    {"hydrogen", NAMES("H2"), 0, 2, 0, 0, 0, 119.96e6, NAN},
};

double ew_stoichiometric_ratio(double c, double h, double o, double n) {
  double oxygen_need = c + h / 4 - o / 2;
  double mass = 12.011 * c + 1.008 * h + 15.999 * o + 14.007 * n;
  return oxygen_need * (31.998 + 3.773 * 28.16) / mass;
}

double ew_blended_stoichiometric_ratio(double first, double second, double share) {
  return first * (1 - share) + second * share;
}

static gboolean called(const struct ew_fuel *fuel, const char *name) {
  if (g_ascii_strcasecmp(fuel->name, name) == 0)
    return TRUE;
  for (int i = 0; fuel->also[i]; i++)
    if (g_ascii_strcasecmp(fuel->also[i], name) == 0)
      return TRUE;
  return FALSE;
}

const struct ew_fuel *ew_fuel_find(const char *name) {
  static gsize once;
  if (g_once_init_enter(&once)) {
    for (gsize i = 0; i < G_N_ELEMENTS(fuels); i++)
      if (fuels[i].stoichiometric_ratio == 0)
        fuels[i].stoichiometric_ratio = ew_stoichiometric_ratio(fuels[i].carbon, fuels[i].hydrogen,
                                                                fuels[i].oxygen, fuels[i].nitrogen);
    g_once_init_leave(&once, 1);
  }
  for (gsize i = 0; name && i < G_N_ELEMENTS(fuels); i++)
    if (called(&fuels[i], name))
      return &fuels[i];
  return NULL;
}

const char *ew_fuel_names(void) {
  return "petrol, E10, E85, ethanol, methanol, iso-octane, toluene, nitromethane, diesel, methane, "
         "propane, hydrogen";
}
