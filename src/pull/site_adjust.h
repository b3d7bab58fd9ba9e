/* Power at a site from power at reference conditions, after ISO 3046-1 (formulas from memory).
 * It runs the other way round from the factors in correct.h. */
#pragma once
#include <glib.h>

#define EW_SITE_ENGINES(X)                                                                         \
  X(DIESEL_AIR, "diesel-air", "naturally aspirated diesel, limited by air", 1, 1, 0.75, 0)         \
  X(DIESEL_HEAT, "diesel-heat", "naturally aspirated diesel, limited by heat", 0, 1, 1, 0)         \
  X(DIESEL_TURBO, "diesel-turbo", "turbocharged diesel without charge cooling", 0, 0.7, 2.0, 0)    \
  X(DIESEL_COOLED, "diesel-cooled", "turbocharged diesel with charge cooling", 0, 0.7, 1.2, 1)     \
  X(SPARK, "spark", "naturally aspirated spark ignition", 1, 1, 0.5, 0)

enum ew_site_engine {
#define X(id, key, title, a, m, n, s) EW_SITE_##id,
  EW_SITE_ENGINES(X)
#undef X
      EW_SITE_ENGINES_COUNT
};
extern const char *const ew_site_engine_keys[];

struct ew_site {
  double pressure_pa, temperature_k, relative_humidity,
      coolant_k; /* coolant_k NaN: not asked for */
  double mechanical_efficiency;
};
struct ew_site_adjustment {
  double k, power_ratio, consumption_ratio; /* site over reference */
};
struct ew_site_adjustment ew_site_adjust(enum ew_site_engine engine, struct ew_site site);
