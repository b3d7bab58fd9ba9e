/* The map from YAML, row by row, and the row of a column by its heading. Channels and units are checked here, so
 * that a map that was taken can be followed without another refusal. */
#include "pull/channel_map.h"
#include "base/language.h"
#include "base/error.h"
#include "base/field.h"
#include "base/suggest.h"
#include "gas/fuel.h"
#include <math.h>
#include <string.h>

#define SCALE_LEAST 1e-6

struct row_fields {
  char *column, *unit, *fuel;
  double lag_s, scale;
};
struct map_fields {
  double rate_hz;
};

static const struct ew_field fields[] = {
    {.name = "column",
     .type = EW_FIELD_TEXT,
     .offset = offsetof(struct row_fields, column),
     .help = "heading of the column in the file"},
    {.name = "unit",
     .type = EW_FIELD_TEXT,
     .offset = offsetof(struct row_fields, unit),
     .help = "unit of the column"},
    {.name = "lag",
     .type = EW_FIELD_QUANTITY,
     .kind = EW_KIND_TIME,
     .offset = offsetof(struct row_fields, lag_s),
     .minimum = 0,
     .maximum = 10,
     .help = "how far the sensor lags behind the engine"},
    {.name = "scale",
     .type = EW_FIELD_QUANTITY,
     .kind = EW_KIND_NUMBER,
     .offset = offsetof(struct row_fields, scale),
     .minimum = -1000,
     .maximum = 1000,
     .help = "what the figures of the file are multiplied by, before their unit"},
    {.name = "fuel",
     .type = EW_FIELD_TEXT,
     .offset = offsetof(struct row_fields, fuel),
     .help = "of an air-fuel ratio: the fuel that the gauge is scaled for"},
};
static const struct ew_fields table = {EW_TEXT("a channel map"), sizeof(struct row_fields), fields,
                                       G_N_ELEMENTS(fields)};

/* Slower is a log sheet, faster an oscilloscope; common practice, no source. */
static const struct ew_field rate_field = {.name = "rate",
                                           .type = EW_FIELD_QUANTITY,
                                           .kind = EW_KIND_FREQUENCY,
                                           .offset = offsetof(struct map_fields, rate_hz),
                                           .minimum = 0.1,
                                           .maximum = 100000,
                                           .help = "rows a second"};
static const struct ew_fields rate_table = {EW_TEXT("a channel map"), sizeof(struct map_fields),
                                            &rate_field, 1};

static void row_free(struct ew_channel_map_row *row) {
  g_free(row->column);
  g_free(row->unit);
  g_free(row->fuel);
  g_free(row);
}

void ew_channel_map_free(struct ew_channel_map *map) {
  if (!map)
    return;
  g_ptr_array_unref(map->rows);
  g_ptr_array_unref(map->ignore);
  g_free(map);
}

static gboolean find_channel(const struct ew_node *node, const char *where,
                             enum ew_channel *channel, int *index, GError **error) {
  g_autofree char *key = g_strdup(node->key);
  char *blank = strchr(key, ' ');
  *index = 0;
  *channel = EW_CHANNELS_COUNT;
  if (blank) {
    gint64 number;
    if (!g_ascii_string_to_signed(blank + 1, 10, 1, 99, &number, NULL))
      return ew_refuse(
          error,
          "%s, line %u: '%s': after a channel comes its number, 1 to 99 (exhaust_temperature 2)",
          where, node->line, node->key);
    *index = (int)number;
    *blank = 0;
  }
  *channel = ew_channel_by_key(key);
  if (*channel < EW_CHANNELS_COUNT)
    return TRUE;
  const char *keys[EW_CHANNELS_COUNT];
  for (int i = 0; i < EW_CHANNELS_COUNT; i++)
    keys[i] = ew_channel_facts[i].key;
  const char *near = ew_suggest(key, keys, EW_CHANNELS_COUNT);
  if (near)
    return ew_refuse(error, "%s, line %u: '%s' is not a channel; did you mean '%s'?", where,
                     node->line, node->key, near);
  return ew_refuse(error,
                   "%s, line %u: '%s' is not a channel: write for example torque, oil_pressure",
                   where, node->line, node->key);
}

static gboolean is_row_good(const struct row_fields *given, enum ew_channel channel,
                            const struct ew_node *node, const char *where, GError **error) {
  g_assert(channel < EW_CHANNELS_COUNT);
  struct ew_unit unit;
  if (!given->column)
    return ew_refuse(error, "%s, line %u: %s needs 'column: NAME'", where, node->line, node->key);
  if (given->unit &&
      !ew_unit_parse(node->key, given->unit, ew_channel_facts[channel].kind, &unit, error))
    return FALSE;
  if (fabs(given->scale) < SCALE_LEAST)
    return ew_refuse(error, "%s, line %u: scale of %s: %g is too near 0; write for example 0.5",
                     where, node->line, node->key, given->scale);
  if (given->fuel && channel != EW_CHANNEL_AIR_FUEL_RATIO)
    return ew_refuse(error,
                     "%s, line %u: fuel stands with air_fuel_ratio only, as the fuel that its "
                     "gauge is scaled for",
                     where, node->line);
  return !given->fuel || ew_fuel_find(given->fuel) ||
         ew_refuse(error, "%s, line %u: '%s' is not a known fuel; write for example petrol, E85",
                   where, node->line, given->fuel);
}

static gboolean read_row(struct ew_channel_map *map, const struct ew_node *node, const char *where,
                         GError **error) {
  enum ew_channel channel;
  int index;
  struct row_fields given;
  if (!find_channel(node, where, &channel, &index, error) ||
      !ew_fields_read(&table, node, where, NULL, &given, error))
    return FALSE;
  gboolean good = is_row_good(&given, channel, node, where, error);
  if (good) {
    struct ew_channel_map_row *row = g_new0(struct ew_channel_map_row, 1);
    *row = (struct ew_channel_map_row){.channel = channel,
                                       .index = index,
                                       .column = g_strdup(given.column),
                                       .unit = g_strdup(given.unit),
                                       .lag_s = given.lag_s,
                                       .scale = given.scale,
                                       .fuel = g_strdup(given.fuel)};
    g_ptr_array_add(map->rows, row);
  }
  ew_fields_clear(&table, &given);
  return good;
}

static gboolean read_rows(struct ew_channel_map *map, const struct ew_node *part, const char *where,
                          GError **error) {
  for (guint i = 0; i < part->children->len; i++)
    if (!read_row(map, g_ptr_array_index(part->children, i), where, error))
      return FALSE;
  return TRUE;
}

/* A list of keys of channels. */
static gboolean read_marks(gboolean *marks, const struct ew_node *part, const char *where,
                           GError **error) {
  for (guint i = 0; i < part->children->len; i++) {
    const struct ew_node *child = g_ptr_array_index(part->children, i);
    enum ew_channel channel = child->text ? ew_channel_by_key(child->text) : EW_CHANNELS_COUNT;
    if (channel == EW_CHANNELS_COUNT)
      return ew_refuse(error,
                       "%s, line %u: %s: '%s' is not a channel: write for example oil_pressure, "
                       "barometer",
                       where, child->line, part->key, child->text ? child->text : "");
    marks[channel] = TRUE;
  }
  return TRUE;
}

static gboolean is_part(const struct ew_node *part, const char *key, enum ew_node_kind kind) {
  return strcmp(part->key, key) == 0 && part->kind == kind;
}

static gboolean read_part(struct ew_channel_map *map, const struct ew_node *part, const char *where,
                          GError **error) {
  if (is_part(part, "channels", EW_NODE_MAP))
    return read_rows(map, part, where, error);
  if (is_part(part, "not_fitted", EW_NODE_LIST))
    return read_marks(map->not_fitted, part, where, error);
  if (is_part(part, "station", EW_NODE_LIST))
    return read_marks(map->station, part, where, error);
  if (is_part(part, "rate", EW_NODE_SCALAR)) {
    struct map_fields given = {NAN};
    gboolean good = ew_field_set(&rate_table, &given, "rate", part->text, error);
    map->rate_hz = given.rate_hz;
    return good;
  }
  if (!is_part(part, "ignore", EW_NODE_LIST))
    return ew_refuse(error,
                     "%s, line %u: '%s' is not one of 'channels:', 'ignore: [...]', "
                     "'not_fitted: [...]', 'station: [...]', 'rate: 50 Hz'",
                     where, part->line, part->key);
  for (guint i = 0; i < part->children->len; i++) {
    const struct ew_node *child = g_ptr_array_index(part->children, i);
    if (child->text)
      g_ptr_array_add(map->ignore, g_strdup(child->text));
  }
  return TRUE;
}

/* A sensor that is not fitted has no column. */
static gboolean is_of_one_mind(const struct ew_channel_map *map, const char *where,
                               GError **error) {
  for (guint i = 0; i < map->rows->len; i++) {
    const struct ew_channel_map_row *row = g_ptr_array_index(map->rows, i);
    if (map->not_fitted[row->channel])
      return ew_refuse(error, "%s: %s has the column '%s' and is named as not fitted: one of both",
                       where, ew_channel_facts[row->channel].key, row->column);
  }
  return TRUE;
}

struct ew_channel_map *ew_channel_map_read(const struct ew_node *root, const char *where,
                                           GError **error) {
  struct ew_channel_map *map = g_new0(struct ew_channel_map, 1);
  map->rows = g_ptr_array_new_with_free_func((GDestroyNotify)row_free);
  map->ignore = g_ptr_array_new_with_free_func(g_free);
  map->rate_hz = NAN;
  gboolean good = root->kind == EW_NODE_MAP;
  if (!good)
    ew_refuse(error, "%s: a channel map is written as 'channels:' with one line a channel", where);
  for (guint i = 0; good && i < root->children->len; i++)
    good = read_part(map, g_ptr_array_index(root->children, i), where, error);
  if (good && is_of_one_mind(map, where, error))
    return map;
  ew_channel_map_free(map);
  return NULL;
}

double ew_channel_map_lag_s(const struct ew_channel_map *map, enum ew_channel channel) {
  for (guint i = 0; map && i < map->rows->len; i++) {
    const struct ew_channel_map_row *row = g_ptr_array_index(map->rows, i);
    if (row->channel == channel)
      return row->lag_s;
  }
  return NAN;
}

const struct ew_channel_map_row *ew_channel_map_find(const struct ew_channel_map *map,
                                                     const char *column) {
  for (guint i = 0; map && i < map->rows->len; i++) {
    const struct ew_channel_map_row *row = g_ptr_array_index(map->rows, i);
    if (strcmp(row->column, column) == 0)
      return row;
  }
  return NULL;
}

gboolean ew_channel_map_lacks(const struct ew_channel_map *map, enum ew_channel channel) {
  g_assert(channel < EW_CHANNELS_COUNT);
  return map && map->not_fitted[channel];
}
