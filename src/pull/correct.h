/* Correction of full-load torque and power to standard air.
 *
 * The factors are written after the standards named, whose texts were not all in hand: see
 * docs/methods.md for what is from memory. A factor applies to full throttle only, once only, and does
 * not make a test to that standard. Outside its range it is still computed, and `in_range` says so. */
#pragma once
#include "base/language.h"
#include "base/message.h"

/* id, key, title, reference conditions, pressure used */
#define EW_STANDARDS(X)                                                                            \
  X(J1349, "j1349", EW_TEXT("SAE J1349 correction"), EW_TEXT("25 °C, 99 kPa dry"), "dry")          \
  X(J607, "j607", EW_TEXT("SAE J607 (STD) correction"), EW_TEXT("60 °F, 29.92 inHg dry"), "dry")   \
  X(ISO1585, "iso1585", EW_TEXT("ISO 1585 / UN R85 correction, spark ignition"),                   \
    EW_TEXT("25 °C, 99 kPa dry"), "dry")                                                           \
  X(ISO1585_CI, "iso1585ci", EW_TEXT("ISO 1585 / UN R85 correction, compression ignition"),        \
    EW_TEXT("25 °C, 99 kPa dry"), "dry")                                                           \
  X(DIN70020, "din70020", EW_TEXT("DIN 70020 correction"), EW_TEXT("20 °C, 1013 mbar total"),      \
    "total")                                                                                       \
  X(JISD1001, "jisd1001", EW_TEXT("JIS D 1001 correction"), EW_TEXT("25 °C, 99 kPa dry"), "dry")   \
  X(NONE, "none", EW_TEXT("observed, not corrected"), EW_TEXT("as measured"), "none")

enum ew_standard {
#define X(id, key, title, reference, pressure) EW_STANDARD_##id,
  EW_STANDARDS(X)
#undef X
      EW_STANDARDS_COUNT
};
extern const char *const ew_standard_keys[]; /* NULL-terminated */
extern const char *const ew_standard_titles[];
extern const char *const ew_standard_references[];

/* By key or by what the trade calls it (sae, std, din, jis, observed). */
gboolean ew_standard_find(const char *name, enum ew_standard *standard);

/* How a compression-ignition engine is charged; "r85" is the older wording for turbocharged. */
enum ew_charging {
  EW_NATURAL,
  EW_MECHANICAL,
  EW_TURBO,
  EW_TURBO_LIQUID,
  EW_TURBO_R85,
  EW_COMPENSATED
};
extern const char *const ew_charging_keys[];

struct ew_air {
  double pressure_pa;         /* total, at the station */
  double temperature_k;       /* of the inlet air */
  double vapour_pa;           /* NaN when humidity is not known: taken as dry, and said */
  double fuel_mg_per_l_cycle; /* qc of ISO 1585 for compression ignition; NaN otherwise */
};

struct ew_factor {
  double factor;
  double dry_pressure_pa;
  gboolean in_range;
  const struct ew_message_kind *why_not; /* when out of range, or when no factor is defined */
};

/* A spark-ignition engine that is charged and compensates by itself gets 1 and `why_not`. */
struct ew_factor ew_correction_factor(enum ew_standard standard, enum ew_charging charging,
                                      struct ew_air air);

/* The older form after J1349 with friction power measured: corrected brake torque or power. */
double ew_correct_with_friction(double brake, double friction, struct ew_air air);

/* ISO 1585, fm of the fuel parameter: newer clamps (37.2 -> 0.2) or those of R85 (40 -> 0.3). */
double ew_fuel_exponent(double fuel_mg_per_l_cycle, gboolean r85);

/* Standard uncertainty of the factor from those of pressure, temperature and relative humidity. */
double ew_factor_uncertainty(enum ew_standard standard, enum ew_charging charging,
                             struct ew_air air, double pressure_u_pa, double temperature_u_k,
                             double humidity_u);
