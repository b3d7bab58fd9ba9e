/* A channel map: a person's word about which column is what, in YAML.
 *
 *   channels:
 *     torque:  { column: "Load 1", unit: lb-ft }
 *     lambda:  { column: "O2", lag: 0.3 s }
 *     exhaust_temperature 2: { column: "TC 2", unit: degF }
 *   ignore: ["Spare 1"]
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
};

struct ew_channel_map {
  GPtrArray *rows;   /* struct ew_channel_map_row* */
  GPtrArray *ignore; /* char* */
};

struct ew_channel_map *ew_channel_map_read(const struct ew_node *root, const char *where,
                                           GError **error);
void ew_channel_map_free(struct ew_channel_map *map);
/* The lag that it states for a channel; NaN: none is stated. */
double ew_channel_map_lag_s(const struct ew_channel_map *map, enum ew_channel channel);
const struct ew_channel_map_row *ew_channel_map_find(const struct ew_channel_map *map,
                                                     const char *column);
