/* One function a standard, each with its range, and the uncertainty of a factor by differences in what the weather
 * sensors may be off by. Constants as printed (273, 298), not as physics would have them. */
#include "base/elementary.h"
#include "pull/correct.h"
#include "gas/moist_air.h"
#include "pull/findings.h"
#include <math.h>
#include <string.h>

const char *const ew_standard_keys[] = {
#define X(id, key, title, reference, pressure) key,
    EW_STANDARDS(X)
#undef X
        NULL};
const char *const ew_standard_titles[] = {
#define X(id, key, title, reference, pressure) title,
    EW_STANDARDS(X)
#undef X
        NULL};
const char *const ew_standard_references[] = {
#define X(id, key, title, reference, pressure) reference,
    EW_STANDARDS(X)
#undef X
        NULL};
const char *const ew_charging_keys[] = {"natural",   "mechanical",  "turbo", "turbo-liquid",
                                        "turbo-r85", "compensated", NULL};

gboolean ew_standard_find(const char *name, enum ew_standard *standard) {
  static const struct {
    const char *alias;
    enum ew_standard standard;
  } aliases[] = {{"sae", EW_STANDARD_J1349},     {"std", EW_STANDARD_J607},
                 {"din", EW_STANDARD_DIN70020},  {"jis", EW_STANDARD_JISD1001},
                 {"observed", EW_STANDARD_NONE}, {"iso", EW_STANDARD_ISO1585},
                 {"r85", EW_STANDARD_ISO1585}};
  for (int i = 0; i < EW_STANDARDS_COUNT; i++)
    if (g_ascii_strcasecmp(name, ew_standard_keys[i]) == 0) {
      *standard = (enum ew_standard)i;
      return TRUE;
    }
  for (gsize i = 0; i < G_N_ELEMENTS(aliases); i++)
    if (g_ascii_strcasecmp(name, aliases[i].alias) == 0) {
      *standard = aliases[i].standard;
      return TRUE;
    }
  return FALSE;
}

/* X of J1349: printed with 273 and 298. */
static double j1349_x(double dry_pa, double temperature_k) {
  return 99000 / dry_pa * sqrt((temperature_k - 273.15 + 273) / 298);
}

double ew_correct_with_friction(double brake, double friction, struct ew_air air) {
  double dry = air.pressure_pa - (isnan(air.vapour_pa) ? 0 : air.vapour_pa);
  return (brake + friction) * 99000 / dry * sqrt(air.temperature_k / 298.15) - friction;
}

double ew_fuel_exponent(double qc, gboolean r85) {
  double low = r85 ? 40 : 37.2, least = r85 ? 0.3 : 0.2;
  if (qc < low)
    return least;
  return qc > 65 ? 1.2 : 0.036 * qc - 1.14;
}

EW_MESSAGE(outside_spark, "pull.outside-iso1585-spark", EW_CAUTION,
           "outside 288 to 308 K, 80 to 110 kPa dry, or 0.93 to 1.07");
EW_MESSAGE(outside_compression, "pull.outside-iso1585-compression", EW_CAUTION,
           "outside 283 to 313 K, 80 to 110 kPa dry, or 0.9 to 1.1");
EW_MESSAGE(outside_j1349, "pull.outside-j1349", EW_CAUTION,
           "outside 15 to 35 °C or 90 to 105 kPa dry (limits from memory)");
EW_MESSAGE_PUBLIC(ew_pull_needs_fuel_flow, "pull.factor-needs-fuel-flow", EW_CAUTION,
                  "the factor for compression ignition needs fuel flow and displacement, and for a "
                  "charged engine the manifold pressure: nothing was corrected");
EW_MESSAGE(compensated, "pull.engine-compensates", EW_CAUTION,
           "the engine itself compensates for the air: a correction would count it twice");
EW_MESSAGE(charged, "pull.factor-for-natural", EW_CAUTION,
           "the factor is meant for naturally aspirated engines");
EW_MESSAGE(humidity_unknown, "pull.humidity-unknown", EW_CAUTION,
           "humidity is not known: the air was taken as dry");

static struct ew_factor iso_spark(double dry, double t) {
  struct ew_factor f = {.factor = ew_pow(99000 / dry, 1.2) * ew_pow((t - 273.15 + 273) / 298, 0.6)};
  f.in_range =
      t >= 288 && t <= 308 && dry >= 80e3 && dry <= 110e3 && f.factor >= 0.93 && f.factor <= 1.07;
  f.why_not = f.in_range ? NULL : &outside_spark;
  return f;
}

static struct ew_factor iso_compression(double dry, double t, double qc,
                                        enum ew_charging charging) {
  static const double exponents[][2] = {
      [EW_NATURAL] = {1, 0.7},        [EW_MECHANICAL] = {1, 0.7},  [EW_TURBO] = {0.7, 1.2},
      [EW_TURBO_LIQUID] = {0.7, 0.7}, [EW_TURBO_R85] = {0.7, 1.5}, [EW_COMPENSATED] = {0, 0}};
  g_assert((gsize)charging < G_N_ELEMENTS(exponents));
  double fa = ew_pow(99000 / dry, exponents[charging][0]) *
              ew_pow((t - 273.15 + 273) / 298, exponents[charging][1]);
  if (isnan(qc))
    return (struct ew_factor){1, dry, FALSE, &ew_pull_needs_fuel_flow};
  struct ew_factor f = {.factor = ew_pow(fa, ew_fuel_exponent(qc, charging == EW_TURBO_R85))};
  f.in_range =
      t >= 283 && t <= 313 && dry >= 80e3 && dry <= 110e3 && f.factor >= 0.9 && f.factor <= 1.1;
  f.why_not = f.in_range ? NULL : &outside_compression;
  return f;
}

static struct ew_factor j1349(double dry, double t) {
  double celsius = t - 273.15;
  struct ew_factor f = {.factor = 1.180 * j1349_x(dry, t) - 0.180};
  f.in_range = celsius >= 15 - 1e-9 && celsius <= 35 + 1e-9 && dry >= 90e3 && dry <= 105e3;
  f.why_not = f.in_range ? NULL : &outside_j1349;
  return f;
}

static struct ew_factor plain(double factor) {
  return (struct ew_factor){.factor = factor, .in_range = TRUE};
}

static struct ew_factor factor_for(enum ew_standard standard, enum ew_charging charging,
                                   struct ew_air air, double dry) {
  double t = air.temperature_k;
  switch (standard) {
  case EW_STANDARD_J1349: return j1349(dry, t);
  case EW_STANDARD_J607: return plain(29.92 * 3386.38864034 / dry * sqrt(t * 1.8 / 519.67));
  case EW_STANDARD_JISD1001:
  case EW_STANDARD_ISO1585: return iso_spark(dry, t);
  case EW_STANDARD_ISO1585_CI: return iso_compression(dry, t, air.fuel_mg_per_l_cycle, charging);
  case EW_STANDARD_DIN70020:
    return plain(101300 / air.pressure_pa * sqrt((t - 273.15 + 273) / 293));
  case EW_STANDARD_NONE:
  case EW_STANDARDS_COUNT: break;
  }
  return plain(1);
}

struct ew_factor ew_correction_factor(enum ew_standard standard, enum ew_charging charging,
                                      struct ew_air air) {
  double dry = air.pressure_pa - (isnan(air.vapour_pa) ? 0 : air.vapour_pa);
  struct ew_factor f;
  if (charging == EW_COMPENSATED && standard != EW_STANDARD_NONE) {
    f = (struct ew_factor){1, dry, FALSE, &compensated};
  } else {
    f = factor_for(standard, charging, air, dry);
    if (charging != EW_NATURAL && standard != EW_STANDARD_ISO1585_CI &&
        standard != EW_STANDARD_NONE) {
      f.in_range = FALSE;
      f.why_not = &charged;
    }
  }
  if (isnan(air.vapour_pa) && standard != EW_STANDARD_NONE && standard != EW_STANDARD_DIN70020 &&
      f.in_range) {
    f.in_range = FALSE;
    f.why_not = &humidity_unknown;
  }
  f.dry_pressure_pa = dry;
  return f;
}

double ew_factor_uncertainty(enum ew_standard standard, enum ew_charging charging,
                             struct ew_air air, double pressure_u_pa, double temperature_u_k,
                             double humidity_u) {
  double here = ew_correction_factor(standard, charging, air).factor;
  struct ew_air other = air;
  other.pressure_pa += pressure_u_pa;
  double by_pressure = ew_correction_factor(standard, charging, other).factor - here;
  other = air;
  other.temperature_k += temperature_u_k;
  double by_temperature = ew_correction_factor(standard, charging, other).factor - here;
  other = air;
  if (!isnan(air.vapour_pa))
    other.vapour_pa += humidity_u * ew_saturation_pressure_pa(air.temperature_k);
  double by_humidity = ew_correction_factor(standard, charging, other).factor - here;
  return sqrt(by_pressure * by_pressure + by_temperature * by_temperature +
              by_humidity * by_humidity);
}
