/* From what a wire brings to an inside unit, the whole way: a bus map or a line's header, a table of sensors, what the columns measure
 * and in which unit. Every figure at the end is finite or absent (NaN), whatever the tables say and the wire brings. Input: which kind of
 * source (1 byte), then three texts apart by a line "--": the sensors, the map (or, for a line source, its header and rows), the bytes. */
#include "cell/bus_map.h"
#include "cell/line_parser.h"
#include "cell/live_channels.h"
#include "pull/sensor.h"
#include <math.h>
#include <stdint.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

struct feed {
  const struct ew_sensors *sensors; /* or NULL */
  struct ew_sensor_plan plan;
  struct ew_source_channels known;
  GArray *live;
  double *figures;
};

static void let_go(struct feed *f) {
  ew_sensor_plan_clear(&f->plan);
  ew_source_channels_clear(&f->known);
  g_clear_pointer(&f->live, g_array_unref);
  g_clear_pointer(&f->figures, g_free);
}

static void head(gpointer user, const struct ew_source_channels *channels) {
  struct feed *f = user;
  let_go(f);
  ew_sensor_plan_make(f->sensors, channels, &f->plan);
  ew_sensor_plan_channels(&f->plan, channels, &f->known);
  f->live = ew_live_channels(&f->known, NULL);
  f->figures = g_new0(double, channels->count + 1);
}

static void frame(gpointer user, double time_s, double arrival_s, const double *values) {
  struct feed *f = user;
  (void)arrival_s;
  g_assert(isfinite(time_s));
  ew_sensor_plan_apply(&f->plan, values, f->figures);
  for (guint i = 0; i < f->live->len; i++) {
    const struct ew_live_channel *one = &g_array_index(f->live, struct ew_live_channel, i);
    double inside = ew_to_inside(one->unit, f->figures[i]);
    if (isinf(values[i]) || isinf(f->figures[i]) || isinf(inside))
      g_error("%s [%s]: raw %g, calibrated %g, inside %g", f->known.names[i], f->known.units[i],
              values[i], f->figures[i], inside);
  }
}

static double value_of(const struct ew_bus_row *row, int list, const char *bytes, gsize size) {
  guint8 can[8] = {0};
  guint16 registers[2] = {0};
  double value = NAN;
  memcpy(can, bytes, MIN(size, sizeof can));
  memcpy(registers, can, sizeof registers);
  if (list == 0)
    return ew_bus_register_value(row, registers);
  if (list == 1)
    return ew_bus_signal_value(row, (guint32)row->id, row->extended, can, 8, &value) ? value
                                                                                     : (double)NAN;
  ew_bus_topic_value(row, bytes, size, &value);
  return value;
}

/* Row after row of the map gets the next eight bytes; a topic the next line. */
static void bus(struct feed *f, int list, const char *map_text, const char *bytes) {
  static const char *const lists[] = {"registers", "signals", "topics"};
  g_autoptr(ew_node) root = ew_node_parse("map", map_text, strlen(map_text), NULL);
  g_autoptr(ew_bus_map) map = root ? ew_bus_map_read(root, "map", lists[list], NULL) : NULL;
  if (!map)
    return;
  g_autofree double *values = g_new0(double, map->rows->len + 1);
  for (guint i = 0; i < map->rows->len; i++) {
    gsize length = list == 2 ? strcspn(bytes, "\n") : MIN(strlen(bytes), 8);
    values[i] = value_of(&g_array_index(map->rows, struct ew_bus_row, i), list, bytes, length);
    bytes += length + (bytes[length] == '\n');
  }
  head(f, &map->channels);
  frame(f, 0, 0, values);
}

static void lines(struct feed *f, const char *text) {
  struct ew_source_sink sink = {head, frame, NULL, f};
  g_autoptr(ew_line_parser) parser = ew_line_parser_new();
  ew_line_parser_feed(parser, text, strlen(text), 0, &sink);
  ew_line_parser_end(parser, 0, &sink);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  if (size < 2)
    return -1;
  g_autofree char *text = g_strndup((const char *)data + 1, size - 1);
  g_auto(GStrv) parts = g_strsplit(text, "\n--\n", 3);
  guint count = g_strv_length(parts);
  if (count < 2)
    return -1;
  g_autoptr(ew_node) root = ew_node_parse("sensors", parts[0], strlen(parts[0]), NULL);
  g_autoptr(ew_sensors) sensors = root ? ew_sensors_read(root, "sensors", NULL) : NULL;
  struct feed f = {.sensors = sensors};
  if (data[0] % 4 == 3)
    lines(&f, parts[1]);
  else
    bus(&f, data[0] % 4, parts[1], count > 2 ? parts[2] : "");
  let_go(&f);
  return 0;
}

/* udunits2 leaks a few bytes on a bad parse. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void) {
  return "leak:libudunits2\n";
}
