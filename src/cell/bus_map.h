/* What stands where on a bus, in YAML: Modbus registers, CAN signals, MQTT topics.
 *
 * registers:
 *   - {name: RPM, unit: rpm, address: 0, kind: input, type: uint16, scale: 0.25}
 *   - {name: Oil pressure, unit: bar, address: 10, type: float32, order: cdab}
 * signals:
 *   - {name: RPM, unit: rpm, id: 256, start: 0, length: 16, order: little, scale: 0.25}
 * topics:
 *   - {name: RPM, unit: rpm, topic: cell/rpm}
 *   - {name: Baro, unit: hPa, topic: cell/baro, timeout: 3 min}
 *
 * A signal or a topic that was silent for its `timeout` is absent; without one the time-out is learned
 * from its own arrivals (cell/freshness). Registers are asked for, all of them each time: they need none.
 *
 * CAN bit numbers: with order little, `start` is the lowest bit, bit 0 the lowest of byte 0; with big it
 * is the highest bit, numbered 8 x byte + bit within it. A signal with `page` counts only in frames
 * whose byte 0 has that value. */
#pragma once
#include "base/field.h"
#include "cell/source.h"

enum ew_register_kind {
  EW_REGISTER_HOLDING,
  EW_REGISTER_INPUT,
  EW_REGISTER_COIL,
  EW_REGISTER_DISCRETE
};
enum ew_register_type {
  EW_REGISTER_INT16,
  EW_REGISTER_UINT16,
  EW_REGISTER_INT32,
  EW_REGISTER_UINT32,
  EW_REGISTER_FLOAT32
};
enum ew_word_order { EW_ORDER_ABCD, EW_ORDER_CDAB, EW_ORDER_BADC, EW_ORDER_DCBA };

struct ew_bus_row {
  char *name, *unit;
  double scale, offset;
  int address, kind, type, order;          /* Modbus */
  int id, start, length, byte_order, page; /* CAN; page -1: any */
  gboolean extended, is_signed;
  char *topic;      /* MQTT */
  double timeout_s; /* CAN, MQTT; NaN: learned */
};
struct ew_bus_map {
  GArray *rows;                       /* struct ew_bus_row */
  struct ew_source_channels channels; /* texts are the rows' */
};
typedef struct ew_bus_map ew_bus_map;
/* `list`: "registers", "signals" or "topics". */
struct ew_bus_map *ew_bus_map_read(const struct ew_node *root, const char *where, const char *list,
                                   GError **error);
struct ew_bus_map *ew_bus_map_file(const char *path, const char *list, GError **error);
void ew_bus_map_free(struct ew_bus_map *map);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_bus_map, ew_bus_map_free)

/* The fields of a row of that list; and what no field alone can tell of a row. */
const struct ew_fields *ew_bus_map_fields(const char *list);
gboolean ew_bus_map_check(const struct ew_bus_row *row, const char *list, GError **error);

/* A message's text, a number and nothing else, into a figure, scaled. FALSE: it is none, and NaN. */
gboolean ew_bus_topic_value(const struct ew_bus_row *row, const void *payload, gsize size,
                            double *value);
/* Two registers (one for the 16-bit types) into a figure, scaled; NaN when what
 * stands there is no finite number. */
double ew_bus_register_value(const struct ew_bus_row *row, const guint16 *registers);
/* FALSE when this frame does not carry the signal: another id or page, or cut too short for it. */
gboolean ew_bus_signal_value(const struct ew_bus_row *row, guint32 id, gboolean extended,
                             const guint8 *data, guint size, double *value);
/* Whether a frame of this id and page should carry it, be it long enough or not. */
gboolean ew_bus_signal_due(const struct ew_bus_row *row, guint32 id, gboolean extended,
                           const guint8 *data, guint size);
