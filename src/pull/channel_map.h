/* A channel map: a person's word about which column is what, in YAML.
 *
 *   channels:
 *     torque:  { column: "Load 1", unit: lb-ft }
 *     speed:   { column: "Pickup", scale: 0.5 }         # figures of the file times this, before their unit
 *     air_fuel_ratio: { column: "O2", lag: 0.3 s, fuel: petrol } # for which fuel the gauge is scaled
 *     exhaust_temperature 2: { column: "TC 2", unit: degF }
 *   ignore: ["Spare 1"]
 *   not_fitted: [oil_pressure]  # no sensor: a column of that name is a spare input
 *   station: [barometer]        # of the cell's own weather station
 *   rate: 50 Hz                 # of the rows: their time where the file has none
 *
 * It overrides what the program would understand by itself, column by column. */
#pragma once
#include "base/node.h"
#include "pull/channel.h"

struct ew_channel_map_row {
  enum ew_channel channel;
  int index;
  char *column;
  char *unit;   /* NULL: as the file says */
  double lag_s; /* NaN: not stated, and none is taken */
  double scale; /* not 0; NaN: 1 */
  char *fuel;   /* of an air-fuel ratio; NULL: the engine's own */
};

struct ew_channel_map {
  GPtrArray *rows;   /* struct ew_channel_map_row* */
  GPtrArray *ignore; /* char* */
  gboolean not_fitted[EW_CHANNELS_COUNT], station[EW_CHANNELS_COUNT];
  double rate_hz; /* NaN: not stated */
};

struct ew_channel_map *ew_channel_map_read(const struct ew_node *root, const char *where,
                                           GError **error);
void ew_channel_map_free(struct ew_channel_map *map);
/* The lag that it states for a channel; NaN: none is stated. */
double ew_channel_map_lag_s(const struct ew_channel_map *map, enum ew_channel channel);
const struct ew_channel_map_row *ew_channel_map_find(const struct ew_channel_map *map,
                                                     const char *column);
/* FALSE of NULL. */
gboolean ew_channel_map_lacks(const struct ew_channel_map *map, enum ew_channel channel);
