/* The field table of a cell's file, and its defaults with where each comes from. Limits keep out slips of a decimal
 * point, not opinions. */
#include "pull/bench.h"
#include <stddef.h>

#define AT(member) offsetof(struct ew_bench, member)
#define COMMON     "common practice, no source"
#define Q(field, unit, member, low, high)                                                          \
  .name = field, .type = EW_FIELD_QUANTITY, .kind = EW_KIND_##unit, .offset = AT(member),          \
  .minimum = low, .maximum = high

static const struct ew_field fields[] = {
    {.name = "name",
     .type = EW_FIELD_TEXT,
     .offset = AT(name),
     .help = "what the shop calls this cell",
     .example = "\"cell 1\""},
    {Q("rotor_inertia", INERTIA, rotor_inertia_kg_m2, 0, 50),
     .help = "absorber rotor, from its maker; without it a sweep reads low",
     .example = "0.105 kg·m2"},
    {Q("coupling_inertia", INERTIA, coupling_inertia_kg_m2, 0, 20), .help = "shaft and coupling",
     .example = "0.030 kg·m2"},
    {Q("largest_torque", TORQUE, largest_torque_n_m, 1, 50000),
     .help = "the absorber's torque limit, from its plate", .example = "900 N·m"},
    {Q("largest_power", POWER, largest_power_w, 1000, 1e7),
     .help = "the absorber's power limit, from its plate", .example = "400 kW"},
    {Q("largest_speed", ROTATIONAL_SPEED, largest_speed_rpm, 500, 30000),
     .help = "the absorber's speed limit, from its plate", .example = "9000 rpm"},
    {Q("barred_low", ROTATIONAL_SPEED, barred_low_rpm, 100, 20000),
     .help = "below this the shaft is clear of its critical speed", .example = "1600 rpm"},
    {Q("barred_high", ROTATIONAL_SPEED, barred_high_rpm, 100, 20000),
     .help = "above this the shaft is clear of its critical speed", .example = "2000 rpm"},
    {Q("arm", LENGTH, arm_m, 0.05, 3), .help = "length of the torque arm", .example = "400 mm"},
    {Q("arm_uncertainty", LENGTH, arm_uncertainty_m, 0, 0.05), .fallback = "0.1 mm",
     .help = "standard uncertainty of the arm", .origin = COMMON},
    {Q("gain_uncertainty", RATIO, gain_uncertainty, 0, 0.1), .fallback = "0.3 %",
     .help = "standard uncertainty of the load cell's gain, from the last calibration",
     .origin = COMMON},
    {Q("hysteresis", TORQUE, hysteresis_n_m, 0, 100), .fallback = "0.4 N·m",
     .help = "largest difference between loading and unloading", .origin = COMMON},
    {Q("zero_drift", TORQUE_RATE, zero_drift_n_m_s, 0, 1), .fallback = "0.3 N·m/h",
     .help = "drift of the zero", .origin = COMMON},
    {Q("speed_uncertainty", ROTATIONAL_SPEED, speed_uncertainty_rpm, 0, 100), .fallback = "3 rpm",
     .help = "standard uncertainty of speed", .origin = COMMON},
    {Q("inertia_uncertainty", RATIO, inertia_uncertainty, 0, 1), .fallback = "5 %",
     .help = "standard uncertainty of the inertias", .origin = COMMON},
    {Q("pressure_uncertainty", PRESSURE_DIFFERENCE, pressure_uncertainty_pa, 0, 5000),
     .fallback = "100 Pa", .help = "standard uncertainty of the barometer", .origin = COMMON},
    {Q("temperature_uncertainty", TEMPERATURE_DIFFERENCE, temperature_uncertainty_k, 0, 10),
     .fallback = "0.5 K", .help = "standard uncertainty of the inlet air temperature",
     .origin = COMMON},
    {Q("humidity_uncertainty", RATIO, humidity_uncertainty, 0, 0.5), .fallback = "3 %",
     .help = "standard uncertainty of relative humidity", .origin = COMMON},
    {Q("remounting", RATIO, remounting, 0, 0.1), .fallback = "0.4 %",
     .help = "standard deviation added by taking the engine out and putting it back",
     .origin = COMMON},
    {Q("elevation", LENGTH, elevation_m, -430, 6000),
     .help = "the cell's height above sea level; a barometer reading that does not fit it is "
             "questioned",
     .example = "310 m"},
    {Q("calibration_limit", RATIO, calibration_limit, 0.0005, 0.1), .fallback = "1 %",
     .help = "a calibration or check weight of torque that moved by more holds the pulls since the "
             "last good one",
     .origin = "accuracy of torque after UN R85, from memory"},
    {Q("limit", ROTATIONAL_SPEED, limit_rpm, 500, 30000),
     .help =
         "highest engine speed allowed in this cell, for the overspeed alarm; the lower of this "
         "and the engine's agreed limit counts",
     .example = "7000 rpm"},
    {Q("rate", ROTATIONAL_ACCELERATION, rate_rpm_s, 1, 5000),
     .help = "commanded acceleration of sweeps, for the runaway alarm", .example = "300 rpm/s"},
    {.name = "not_fitted",
     .type = EW_FIELD_CHOICES,
     .offset = AT(not_fitted),
     .choices = ew_channel_keys,
     .help = "channels that this cell never records: named here once, their absence is not "
             "reported with every pull",
     .example = "[crankcase_pressure, blow_by]"},
};
const struct ew_fields ew_bench_fields = {"a cell", sizeof(struct ew_bench), fields,
                                          G_N_ELEMENTS(fields)};

void ew_bench_defaults(struct ew_bench *bench) {
  *bench = (struct ew_bench){0};
  ew_fields_defaults(&ew_bench_fields, bench);
}

gboolean ew_bench_lacks(const struct ew_bench *bench, enum ew_channel channel) {
  g_assert(channel < EW_CHANNELS_COUNT);
  return (bench->not_fitted >> channel & 1) != 0;
}
