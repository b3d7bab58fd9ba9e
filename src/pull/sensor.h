/* Sensor calibration: what a raw reading means. Applied after raw was stored, so that a better
 * calibration can be applied again.
 *
 * sensors:
 *   - {channel: AI 3, name: Oil pressure, unit: bar, kind: linear, gain: 2.5, offset: -1.25}
 *   - {channel: AI 4, name: Oil temp, unit: degC, kind: table, raw: [0.2, 1.1, 2.9], values: [140, 90, 20]}
 *   - {channel: AI 5, name: Flow, unit: kg/h, kind: polynomial, coefficients: [0, 12.1, 0.4]}
 *   - {channel: TC 1, name: EGT 1, unit: degC, kind: thermocouple, type: K, junction: Terminal temp}
 *
 * `doubt` (95 %, in the same unit) says how far it may be off: two sources of one channel are held against
 * each other by it.
 *
 * A table is linear between its points and NaN outside: it knows nothing there. A thermocouple's raw
 * is in millivolts; `junction` names the channel (°C) of its cold junction, `junction_celsius` a
 * fixed one; without either the raw is against 0 °C. */
#pragma once
#include "base/field.h"

/* What a live source calls its columns, beside the time. */
struct ew_source_channels {
  guint count;
  char **names, **units; /* unit: "" when the source gives none */
};

enum ew_sensor_kind {
  EW_SENSOR_LINEAR,
  EW_SENSOR_TABLE,
  EW_SENSOR_POLYNOMIAL,
  EW_SENSOR_THERMOCOUPLE
};

struct ew_sensor {
  char *channel, *name, *unit, *junction; /* name NULL: as the source has it */
  int kind, type;
  double gain, offset, junction_celsius;
  double doubt; /* 95 %, in the calibrated unit; NaN: the usual one of its kind */
  GArray *raw, *values, *coefficients; /* double */
};

struct ew_sensors {
  GArray *sensors; /* struct ew_sensor */
};
typedef struct ew_sensors ew_sensors;
struct ew_sensors *ew_sensors_read(const struct ew_node *root, const char *where, GError **error);
void ew_sensors_free(struct ew_sensors *sensors);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_sensors, ew_sensors_free)

/* Which channels of a source are calibrated, and how: made once a header. */
struct ew_sensor_plan {
  guint count;
  const struct ew_sensor **sensors; /* a channel; NULL: as it is */
  int *junctions;                   /* column of the cold junction, -1 */
};
void ew_sensor_plan_make(const struct ew_sensors *sensors, const struct ew_source_channels *raw,
                         struct ew_sensor_plan *plan);
void ew_sensor_plan_clear(struct ew_sensor_plan *plan);
/* Raw to values, each finite or NaN: what a constant carries beyond a double's range is not a figure. The two may be the same array only without thermocouples. */
void ew_sensor_plan_apply(const struct ew_sensor_plan *plan, const double *raw, double *values);
/* Channels with their calibrated names and units; free with ew_source_channels_clear. */
void ew_sensor_plan_channels(const struct ew_sensor_plan *plan,
                             const struct ew_source_channels *raw,
                             struct ew_source_channels *channels);
void ew_source_channels_clear(struct ew_source_channels *channels);
