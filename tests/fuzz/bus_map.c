/* Any bytes as a map of registers, signals or topics, and the rest as what a bus brings: refused, or every
 * figure is finite or NaN. The first byte says which list, the second how much of it is the map. */
#include "cell/bus_map.h"
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

static void read_row(const struct ew_bus_row *row, const uint8_t *data, size_t size) {
  double value = 0;
  guint16 registers[2] = {0, 0};
  memcpy(registers, data, MIN(size, sizeof registers));
  if (isinf(ew_bus_register_value(row, registers)))
    abort();
  guint8 frame[8] = {0};
  memcpy(frame, data, MIN(size, sizeof frame));
  if (ew_bus_signal_value(row, (guint32)row->id, row->extended, frame, (guint)MIN(size, 8),
                          &value) &&
      isinf(value))
    abort();
  if (ew_bus_topic_value(row, data, size, &value) != (isfinite(value) != 0))
    abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  static const char *const lists[] = {"registers", "signals", "topics"};
  if (size < 2)
    return 0;
  size_t tail = MIN(data[1] % 80u, size - 2), text = size - 2 - tail;
  g_autoptr(ew_node) root = ew_node_parse("map", (const char *)data + 2, text, NULL);
  g_autoptr(ew_bus_map) map = root ? ew_bus_map_read(root, "map", lists[data[0] % 3], NULL) : NULL;
  for (guint i = 0; map && i < map->rows->len; i++)
    read_row(&g_array_index(map->rows, struct ew_bus_row, i), data + 2 + text, tail);
  return 0;
}
