/* Quantities: kinds, units and the trade's spellings of them, on top of udunits2.
 *
 * A kind is finer than a dimension: torque is not energy, gauge pressure is not absolute pressure,
 * a temperature is not a difference of temperatures, lambda is not an air-fuel ratio. Inside, every
 * figure is SI, but for two that the trade and the field names give otherwise: rotational speed is
 * in revolutions a minute (names end in _rpm) and an angle of the crank in degrees (_deg).
 *
 * Sources of the factors: docs/methods.md, "Quantities". udunits2 is guarded by one mutex. */
#pragma once
#include <glib.h>

/* name, SI unit, key suffix, shown in SI, shown in US units, examples */
#define EW_KINDS(X)                                                                                \
  X(NUMBER, "1", "", "", "", "1.25")                                                               \
  X(RATIO, "1", "", "%", "%", "85 %, 0.85")                                                        \
  X(LENGTH, "m", "_m", "mm", "in", "86 mm, 3.386 in, 2 thou")                                      \
  X(AREA, "m2", "_m2", "cm2", "in2", "14.2 cm2, 2.2 in2")                                          \
  X(VOLUME, "m3", "_m3", "cc", "cid", "497 cc, 2.98 L, 350 cid, 1 US gal")                         \
  X(MASS, "kg", "_kg", "g", "lb", "430 g, 1.2 lb")                                                 \
  X(TIME, "s", "_s", "s", "s", "20 s, 3 min, 150 ms")                                              \
  X(ANGLE, "arcdeg", "_deg", "deg", "deg", "30 deg, 30 BTDC")                                      \
  X(ROTATIONAL_SPEED, "rpm", "_rpm", "rpm", "rpm", "6000 rpm, 100 rev/s, 628 rad/s")               \
  X(ROTATIONAL_ACCELERATION, "rpm/s", "_rpm_s", "rpm/s", "rpm/s", "300 rpm/s")                     \
  X(SPEED, "m/s", "_m_s", "m/s", "ft/min", "20 m/s, 4000 ft/min, 60 mph")                          \
  X(FORCE, "N", "_n", "N", "lbf", "480 N, 108 lbf")                                                \
  X(TORQUE, "N.m", "_n_m", "N·m", "lb-ft", "304 N·m, 224 lb-ft")                                   \
  X(ENERGY, "J", "_j", "J", "BTU", "1.2 kJ, 3 BTU, 2 kWh")                                         \
  X(POWER, "W", "_w", "kW", "hp", "198 kW, 266 hp, 270 PS")                                        \
  X(PRESSURE_ABSOLUTE, "Pa", "_pa", "hPa", "inHg", "985 hPa, 29.1 inHg, 14.3 psia")                \
  X(PRESSURE_GAUGE, "Pa", "_pa", "bar", "psi", "4.5 bar, 65 psi, 65 psig")                         \
  X(PRESSURE_DIFFERENCE, "Pa", "_pa", "kPa", "inH2O", "7 kPa, 28 inH2O, 1.5 inHg")                 \
  X(MEAN_EFFECTIVE_PRESSURE, "Pa", "_pa", "bar", "psi", "12.8 bar, 186 psi")                       \
  X(TEMPERATURE, "K", "_k", "°C", "°F", "25 degC, 77 °F, 298 K")                                   \
  X(TEMPERATURE_DIFFERENCE, "K", "_k", "K", "delta°F", "3 K, 5 delta°F")                           \
  X(MASS_FLOW, "kg/s", "_kg_s", "kg/h", "lb/hr", "595 kg/h, 120 lb/hr, 12 g/s")                    \
  X(VOLUME_FLOW, "m3/s", "_m3_s", "l/min", "cfm", "500 cfm, 88 l/s")                               \
  X(DENSITY, "kg/m3", "_kg_m3", "kg/m3", "lb/ft3", "745 kg/m3, 0.745 kg/l")                        \
  X(SPECIFIC_FUEL, "kg/J", "_kg_j", "g/kWh", "lb/hp-hr", "270 g/kWh, 0.45 lb/hp-hr")               \
  X(SPECIFIC_ENERGY, "J/kg", "_j_kg", "MJ/kg", "BTU/lb", "43 MJ/kg, 18500 BTU/lb")                 \
  X(INERTIA, "kg.m2", "_kg_m2", "kg·m2", "lb-ft2", "0.105 kg·m2, 2.5 lb-ft2")                      \
  X(STIFFNESS, "N/m", "_n_m", "N/mm", "lb/in", "62 N/mm, 354 lb/in")                               \
  X(TORSIONAL_STIFFNESS, "N.m/rad", "_n_m_rad", "N·m/rad", "N·m/rad", "2500 N·m/rad")              \
  X(LAMBDA, "1", "", "", "", "0.88, 0.88 lambda")                                                  \
  X(AIR_FUEL_RATIO, "1", "", "AFR", "AFR", "12.9 AFR, 12.9:1")                                     \
  X(FREQUENCY, "Hz", "_hz", "Hz", "Hz", "100 Hz")                                                  \
  X(VOLTAGE, "V", "_v", "V", "V", "13.8 V")                                                        \
  X(TORQUE_RATE, "N.m/s", "_n_m_s", "N·m/h", "N·m/h", "0.3 N·m/h")                                 \
  X(COUNT, "1", "", "", "", "3")

enum ew_kind {
#define X(name, si, suffix, shown, us, examples) EW_KIND_##name,
  EW_KINDS(X)
#undef X
      EW_KINDS_COUNT
};

enum ew_unit_system { EW_UNITS_SI, EW_UNITS_US };

/* inside = scale * given + offset */
struct ew_unit {
  enum ew_kind kind;
  double scale, offset;
};

const char *ew_kind_name(enum ew_kind kind);   /* a key: "pressure gauge" */
const char *ew_kind_title(enum ew_kind kind);  /* for people, in their language: "gauge pressure" */
const char *ew_kind_si(enum ew_kind kind);     /* unit of the inside figure */
const char *ew_kind_suffix(enum ew_kind kind); /* "_pa": ends a JSON key */
const char *ew_kind_examples(enum ew_kind kind); /* "985 hPa, 29.1 inHg" */
/* For people, as their country writes it: "rpm", "1/min". Read back by ew_unit_parse. */
const char *ew_kind_shown(enum ew_kind kind, enum ew_unit_system system);

/* What stands between a figure and this unit: 30 deg, 30°, 0.95. */
const char *ew_unit_space(const char *unit);

/* The unit written in `text`, for a figure of kind `want`. Refuses, and says why and what would do:
 * an unknown or wrong unit, a gauge unit where absolute pressure is meant and the reverse, gallons
 * and ounces that do not say which, an air-fuel ratio without a fuel. An empty text is a unit only
 * for kinds without one. `field` names the figure in the message. */
gboolean ew_unit_parse(const char *field, const char *text, enum ew_kind want, struct ew_unit *unit,
                       GError **error);

/* Whether `text` is a unit at all, as a column heading may carry one ("rpm", "Nm", "°C"). When its
 * kind is plain from the spelling it is given, else the first kind of its dimension. */
gboolean ew_unit_recognise(const char *text, struct ew_unit *unit);

/* "985 hPa", "30 BTDC", "12.9:1", "3 3/8 in": a figure with its unit, to the inside unit. A second figure that
 * is not part of a fraction is refused. */
gboolean ew_quantity_parse(const char *field, const char *text, enum ew_kind kind, double *inside,
                           GError **error);

/* Finite, or NaN where the unit carries the figure beyond the range of a double. */
double ew_to_inside(struct ew_unit unit, double given);
/* An inside figure in the unit that the system shows for its kind. */
double ew_shown(enum ew_kind kind, enum ew_unit_system system, double inside);
/* The unit system in which the trade reads this figure: chambers, domes, gaskets and oil in cc and parts in grams
 * everywhere; only displacements in cubic inches, and only engines in pounds. */
enum ew_unit_system ew_units_usual(enum ew_kind kind, enum ew_unit_system system, double inside);
/* "198.1 kW" as the reader writes figures, `decimals` after the mark; "-" for what is not finite. */
char *ew_quantity_format(enum ew_kind kind, enum ew_unit_system system, double inside,
                         int decimals);
