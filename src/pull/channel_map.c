/* The map from YAML, row by row, and the row of a column by its heading. Channels and units are checked here, so
 * that a map that was taken can be followed without another refusal. */
#include "pull/channel_map.h"
#include "base/language.h"
#include "base/error.h"
#include "base/field.h"
#include "base/suggest.h"
#include <math.h>
#include <string.h>

struct row_fields {
  char *column, *unit;
  double lag_s;
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
};
static const struct ew_fields table = {EW_TEXT("a channel map"), sizeof(struct row_fields), fields,
                                       G_N_ELEMENTS(fields)};

static void row_free(struct ew_channel_map_row *row) {
  g_free(row->column);
  g_free(row->unit);
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

static gboolean read_row(struct ew_channel_map *map, const struct ew_node *node, const char *where,
                         GError **error) {
  enum ew_channel channel;
  int index;
  struct row_fields given;
  if (!find_channel(node, where, &channel, &index, error) ||
      !ew_fields_read(&table, node, where, NULL, &given, error))
    return FALSE;
  struct ew_unit unit;
  gboolean good = TRUE;
  if (!given.column)
    good = ew_refuse(error, "%s, line %u: %s needs 'column: NAME'", where, node->line, node->key);
  else if (given.unit)
    good = ew_unit_parse(node->key, given.unit, ew_channel_facts[channel].kind, &unit, error);
  if (good) {
    struct ew_channel_map_row *row = g_new0(struct ew_channel_map_row, 1);
    *row = (struct ew_channel_map_row){channel, index, g_strdup(given.column), g_strdup(given.unit),
                                       given.lag_s};
    g_ptr_array_add(map->rows, row);
  }
  ew_fields_clear(&table, &given);
  return good;
}

struct ew_channel_map *ew_channel_map_read(const struct ew_node *root, const char *where,
                                           GError **error) {
  struct ew_channel_map *map = g_new0(struct ew_channel_map, 1);
  map->rows = g_ptr_array_new_with_free_func((GDestroyNotify)row_free);
  map->ignore = g_ptr_array_new_with_free_func(g_free);
  gboolean good = root->kind == EW_NODE_MAP;
  if (!good)
    ew_refuse(error, "%s: a channel map is written as 'channels:' with one line a channel", where);
  for (guint i = 0; good && i < root->children->len; i++) {
    const struct ew_node *part = g_ptr_array_index(root->children, i);
    gboolean channels = strcmp(part->key, "channels") == 0 && part->kind == EW_NODE_MAP;
    gboolean ignore = strcmp(part->key, "ignore") == 0 && part->kind == EW_NODE_LIST;
    if (!channels && !ignore)
      good = ew_refuse(error, "%s, line %u: '%s' is neither 'channels:' nor 'ignore: [...]'", where,
                       part->line, part->key);
    for (guint j = 0; good && j < part->children->len; j++) {
      const struct ew_node *child = g_ptr_array_index(part->children, j);
      if (channels)
        good = read_row(map, child, where, error);
      else if (child->text)
        g_ptr_array_add(map->ignore, g_strdup(child->text));
    }
  }
  if (good)
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
