/* Units of channels corrected: a row of the channel map each. What the map does not name yet is found by reading the recording as it is
 * understood now. */
#include "desk/amend_map.h"
#include "desk/units.h"
#include "base/error.h"
#include "base/number.h"
#include <math.h>
#include <string.h>

EW_MESSAGE(unit_was, "desk.amend-unit", EW_NOTE, "unit of {channel}: {before} → {after}");

#define NOT_FITTED "not fitted"

EW_MESSAGE(scale_was, "desk.amend-scale", EW_NOTE,
           "scale of {channel}: {before} times → {after} times what the file says");
EW_MESSAGE(left_out, "desk.amend-not-fitted", EW_NOTE,
           "{channel}: the recorded column is left out, as a sensor that is not fitted");

struct wanted {
  char *key, *unit; /* unit "": that of the file */
  double scale;     /* NaN: as it is */
  enum ew_channel channel;
  int index;
};

static void wanted_clear(struct wanted *w) {
  g_free(w->key);
  g_free(w->unit);
}

static gboolean is_ratio(const struct wanted *w) {
  return w->channel == EW_CHANNEL_LAMBDA && g_ascii_strcasecmp(w->unit, "afr") == 0;
}

static gboolean is_not_fitted(const struct wanted *w) {
  return strcmp(w->unit, NOT_FITTED) == 0;
}

/* "0.5 rpm": a figure of the file is so much of that unit. */
static gboolean read_scale(struct wanted *w, GError **error) {
  char *end = w->unit;
  double scale = g_ascii_strtod(w->unit, &end);
  if (end == w->unit || (*end != ' ' && *end != 0))
    return TRUE; /* "1/min" is a unit */
  if (!(fabs(scale) >= 1e-6 && fabs(scale) <= 1000))
    return ew_refuse(error,
                     "units %s: %g times is not between 0.000001 and 1,000 times what the file "
                     "says",
                     w->key, scale);
  g_assert(end > w->unit);
  g_autofree char *whole = w->unit;
  w->scale = scale;
  w->unit = g_strstrip(g_strdup(end));
  return TRUE;
}

/* "exhaust_temperature 2=degF", "speed=0.5 rpm", "barometer=not fitted" */
static gboolean read_wanted(const char *text, struct wanted *w, GError **error) {
  const char *equals = strchr(text, '=');
  struct ew_unit unit;
  if (!equals)
    return ew_refuse(error, "units '%s': write channel=unit, for example torque=lb-ft", text);
  w->key = g_strstrip(g_strndup(text, (gsize)(equals - text)));
  w->unit = g_strstrip(g_strdup(equals + 1));
  w->scale = NAN;
  g_autofree char *name = g_strdup(w->key);
  char *blank = strrchr(name, ' ');
  gint64 number = 0;
  if (blank && g_ascii_string_to_signed(blank + 1, 10, 1, 99, &number, NULL))
    *blank = 0;
  w->index = (int)number;
  w->channel = ew_channel_by_key(name);
  if (w->channel == EW_CHANNELS_COUNT)
    return ew_refuse(
        error,
        "units '%s': '%s' is not a channel; a channel is named by its key, for example torque, "
        "oil_pressure, exhaust_temperature 2",
        text, w->key);
  if (is_not_fitted(w) ||
      ew_unit_parse(w->key, w->unit, ew_channel_facts[w->channel].kind, &unit, NULL))
    return TRUE; /* "1" is a unit of a ratio, and no scale */
  return read_scale(w, error) &&
         (is_ratio(w) || (!*w->unit && !isnan(w->scale)) ||
          ew_unit_parse(w->key, w->unit, ew_channel_facts[w->channel].kind, &unit, error));
}

static struct ew_channel_map *map_of(const struct ew_recomputed *a, GError **error) {
  const char *yaml = a->recording.channel_map ? a->recording.channel_map : "{}";
  g_autoptr(ew_node) root = ew_node_parse("channel map", yaml, strlen(yaml), error);
  return root ? ew_channel_map_read(root, "channel map", error) : NULL;
}

static struct ew_channel_map_row *row_of(const struct ew_channel_map *map, const struct wanted *w) {
  for (guint i = 0; i < map->rows->len; i++) {
    struct ew_channel_map_row *row = g_ptr_array_index(map->rows, i);
    if ((row->channel == w->channel ||
         (w->channel == EW_CHANNEL_LAMBDA && row->channel == EW_CHANNEL_AIR_FUEL_RATIO)) &&
        (w->index == 0 || row->index == w->index))
      return row;
  }
  return NULL;
}

/* A new row for the column that is taken for this channel now. */
static struct ew_channel_map_row *find_column(struct ew_channel_map *map,
                                              const struct ew_series *series,
                                              const struct wanted *w, GError **error) {
  const struct ew_series_channel *c = ew_series_find(series, w->channel, w->index);
  if (!c && w->channel == EW_CHANNEL_LAMBDA)
    c = ew_series_find(series, EW_CHANNEL_AIR_FUEL_RATIO, w->index);
  if (!c) {
    ew_refuse_with(error, EW_REMEDY_LOOK, "units %s: the recording has no such channel", w->key);
    return NULL;
  }
  struct ew_channel_map_row *row = g_new0(struct ew_channel_map_row, 1);
  *row = (struct ew_channel_map_row){.channel = c->channel,
                                     .index = c->index,
                                     .column = g_strdup(c->name),
                                     .unit = g_strdup(c->unit),
                                     .lag_s = c->lag_stated ? c->lag_s : (double)NAN,
                                     .scale = NAN};
  g_ptr_array_add(map->rows, row);
  return row;
}

/* However it is spelled. */
static gboolean is_same_unit(const char *before, const struct wanted *w) {
  enum ew_kind kind = ew_channel_facts[w->channel].kind;
  struct ew_unit a, b;
  if (g_strcmp0(before, w->unit) == 0 || is_ratio(w))
    return TRUE;
  return before && ew_unit_parse(w->key, before, kind, &a, NULL) &&
         ew_unit_parse(w->key, w->unit, kind, &b, NULL) && a.scale == b.scale &&
         a.offset == b.offset;
}

static gboolean put_not_fitted(struct ew_channel_map *map, const struct wanted *w,
                               GPtrArray *changes) {
  if (map->not_fitted[w->channel])
    return TRUE;
  for (guint i = map->rows->len; i-- > 0;)
    if (((struct ew_channel_map_row *)map->rows->pdata[i])->channel == w->channel)
      g_ptr_array_remove_index(map->rows, i);
  map->not_fitted[w->channel] = TRUE;
  ew_messages_add(changes, ew_message(&left_out, ew_say_text("channel", w->key)));
  return TRUE;
}

static void put_scale(struct ew_channel_map_row *row, const struct wanted *w, GPtrArray *changes) {
  double before = isnan(row->scale) ? 1 : row->scale, after = isnan(w->scale) ? before : w->scale;
  if (before == after)
    return;
  row->scale = after;
  ew_messages_add(changes,
                  ew_message(&scale_was, ew_say_text("channel", w->key),
                             ew_say_figure("before", before, 4), ew_say_figure("after", after, 4)));
}

/* A row whose unit is the file's own says none. */
static gboolean put_unit(struct ew_channel_map *map, const struct ew_series *series,
                         const struct wanted *w, GPtrArray *changes, GError **error) {
  if (is_not_fitted(w))
    return put_not_fitted(map, w, changes);
  struct ew_channel_map_row *row = row_of(map, w);
  if (!row && !(row = find_column(map, series, w, error)))
    return FALSE;
  g_assert(row->column);
  put_scale(row, w, changes);
  if (!*w->unit)
    return TRUE;
  enum ew_channel channel = is_ratio(w)                                 ? EW_CHANNEL_AIR_FUEL_RATIO
                            : row->channel == EW_CHANNEL_AIR_FUEL_RATIO ? w->channel
                                                                        : row->channel;
  if (row->channel == channel && is_same_unit(row->unit, w))
    return TRUE;
  const char *before = row->channel == EW_CHANNEL_AIR_FUEL_RATIO ? "AFR" : row->unit;
  ew_messages_add(changes, ew_message(&unit_was, ew_say_text("channel", w->key),
                                      ew_say_text("before", before && *before ? before : "-"),
                                      ew_say_text("after", w->unit)));
  row->channel = channel;
  g_free(row->unit);
  row->unit = is_ratio(w) ? NULL : g_strdup(w->unit);
  return TRUE;
}

static void append_quoted(GString *text, const char *words) {
  g_string_append_c(text, '"');
  for (const char *c = words; *c; c++) {
    if (*c == '"' || *c == '\\')
      g_string_append_c(text, '\\');
    g_string_append_c(text, *c);
  }
  g_string_append_c(text, '"');
}

static void append_row(GString *text, const struct ew_channel_map_row *row) {
  g_assert(row->channel < EW_CHANNELS_COUNT && row->column);
  char number[EW_NUMBER_SIZE];
  g_string_append_printf(text, "  %s", ew_channel_facts[row->channel].key);
  if (row->index)
    g_string_append_printf(text, " %d", row->index);
  g_string_append(text, ":\n    column: ");
  append_quoted(text, row->column);
  if (row->unit) {
    g_string_append(text, "\n    unit: ");
    append_quoted(text, row->unit);
  }
  if (isfinite(row->lag_s))
    g_string_append_printf(text, "\n    lag: %s s", ew_number_write(row->lag_s, number));
  if (isfinite(row->scale))
    g_string_append_printf(text, "\n    scale: %s", ew_number_write(row->scale, number));
  if (row->fuel && row->channel == EW_CHANNEL_AIR_FUEL_RATIO) {
    g_string_append(text, "\n    fuel: ");
    append_quoted(text, row->fuel);
  }
  g_string_append_c(text, '\n');
}

static void append_marks(GString *text, const char *name, const gboolean *marks) {
  const char *before = "";
  for (int i = 0; i < EW_CHANNELS_COUNT; i++) {
    if (!marks[i])
      continue;
    g_string_append_printf(text, "%s%s", *before ? before : name, ew_channel_facts[i].key);
    before = ", ";
  }
  if (*before)
    g_string_append(text, "]\n");
}

static char *write_map(const struct ew_channel_map *map) {
  char number[EW_NUMBER_SIZE];
  GString *text = g_string_new(map->rows->len ? "channels:\n" : NULL);
  for (guint i = 0; i < map->rows->len; i++)
    append_row(text, g_ptr_array_index(map->rows, i));
  if (map->ignore->len)
    g_string_append(text, "ignore:\n");
  for (guint i = 0; i < map->ignore->len; i++) {
    g_string_append(text, "  - ");
    append_quoted(text, g_ptr_array_index(map->ignore, i));
    g_string_append_c(text, '\n');
  }
  append_marks(text, "not_fitted: [", map->not_fitted);
  append_marks(text, "station: [", map->station);
  if (isfinite(map->rate_hz))
    g_string_append_printf(text, "rate: %s Hz\n", ew_number_write(map->rate_hz, number));
  return g_string_free(text, FALSE);
}

static gboolean put_us_units(struct ew_channel_map *map, const struct ew_series *series,
                             GPtrArray *changes, GError **error) {
  guint before = changes->len;
  for (guint c = 0; c < series->channels_count; c++) {
    const struct ew_series_channel *one = &series->channels[c];
    const char *unit = ew_us_unit_of(series, one);
    if (!unit)
      continue;
    const char *key = ew_channel_facts[one->channel].key;
    struct wanted w = {.key =
                           one->index ? g_strdup_printf("%s %d", key, one->index) : g_strdup(key),
                       .unit = g_strdup(unit),
                       .scale = NAN,
                       .channel = one->channel,
                       .index = one->index};
    gboolean good = put_unit(map, series, &w, changes, error);
    wanted_clear(&w);
    if (!good)
      return FALSE;
  }
  return changes->len > before ||
         ew_refuse(error, "units all=us: no column is left whose unit nobody named and whose "
                          "figures US units would make plausible");
}

char *ew_map_with_units(const struct ew_recomputed *a, const char *const *units, GPtrArray *changes,
                        GError **error) {
  struct ew_channel_map *map = map_of(a, error);
  struct ew_reduce_facts facts = ew_recomputed_facts(a);
  struct ew_processed *p = map ? ew_recording_process(&a->recording, map, &facts, error) : NULL;
  gboolean good = p != NULL;
  for (guint i = 0; good && units[i]; i++) {
    struct wanted w = {0};
    if (strcmp(units[i], EW_ALL_US) == 0) {
      good = put_us_units(map, p->series, changes, error);
      continue;
    }
    good = read_wanted(units[i], &w, error) && put_unit(map, p->series, &w, changes, error);
    wanted_clear(&w);
  }
  char *text = good ? write_map(map) : NULL;
  ew_processed_free(p);
  ew_channel_map_free(map);
  return text;
}
