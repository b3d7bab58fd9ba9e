/* 1. What each column is: by the channel map, else by its heading and its unit, or by its unit alone. */
#include "base/error.h"
#include "pull/series_parts.h"
#include <math.h>
#include <string.h>

EW_MESSAGE(by_map, "pull.by-map", EW_NOTE, "named in the channel map");
EW_MESSAGE(by_heading, "pull.by-heading", EW_NOTE, "recognised by its heading");
EW_MESSAGE(by_heading_and_unit, "pull.by-heading-and-unit", EW_NOTE,
           "recognised by its heading and its unit, {unit}");
EW_MESSAGE(by_unit, "pull.by-unit", EW_NOTE, "recognised by its unit alone, {unit}");
EW_MESSAGE(unknown_heading, "pull.unknown-heading", EW_NOTE, "the heading is not recognised");
EW_MESSAGE(unit_does_not_fit, "pull.unit-does-not-fit", EW_CAUTION,
           "the heading says {channel}, which the unit {unit} cannot measure");
EW_MESSAGE(left_out_by_map, "pull.left-out-by-map", EW_NOTE, "left out by the channel map");
EW_MESSAGE(spare_input, "pull.not-fitted", EW_NOTE, "left out: this sensor is named as not fitted");
EW_MESSAGE(empty_column, "pull.empty-column", EW_NOTE, "the column is empty");
EW_MESSAGE(words_column, "pull.words-column", EW_NOTE, "the column holds words");
EW_MESSAGE(times_column, "pull.times-column", EW_NOTE, "the column holds times of day or dates");

/* Times of day and dates are seconds whatever stands in the place of their unit ("h:m:s"). */
static gboolean is_clock(const struct ew_column *column) {
  return column->content == EW_CELL_CLOCK || column->content == EW_CELL_DATE;
}

static gboolean claim_by_map(struct ew_series_channel *one, const struct ew_column *column,
                             const struct ew_channel_map *map, struct ew_claim *claim,
                             GError **error) {
  const struct ew_channel_map_row *row = ew_channel_map_find(map, column->name);
  if (!row)
    return TRUE;
  one->channel = row->channel;
  one->index = row->index;
  ew_series_explain(one, ew_message_plain(&by_map));
  claim->strength = 1000;
  one->lag_stated = !isnan(row->lag_s);
  if (one->lag_stated)
    one->lag_s = row->lag_s;
  one->scale = isnan(row->scale) ? 1 : row->scale;
  const char *unit = row->unit ? row->unit : column->unit;
  if (!unit || is_clock(column))
    return TRUE;
  claim->has_unit = TRUE;
  g_free(one->unit);
  one->unit = g_strdup(unit);
  return ew_unit_parse(column->name, unit, ew_channel_facts[one->channel].kind, &claim->unit,
                       error);
}

/* A column with no telling name may still have a telling unit, or be named by nothing else ("Nm", "ms"). A unit of time in brackets
 * may be how long anything takes: only a heading that is one names the clock. */
static enum ew_channel by_unit_alone(const struct ew_column *column) {
  struct ew_unit unit;
  gsize size;
  g_autofree char *clock = column->unit ? NULL : ew_heading_unit(column->name, EW_KIND_TIME, &unit);
  if (g_strcmp0(clock, column->name) == 0)
    return EW_CHANNEL_TIME;
  const char *written = column->unit ? column->unit : column->name;
  ew_heading_factor(written, &size);
  g_autofree char *text = g_strndup(written, size);
  if (!ew_unit_recognise(text, &unit))
    return EW_CHANNELS_COUNT;
  if (unit.kind == EW_KIND_ROTATIONAL_SPEED)
    return EW_CHANNEL_SPEED;
  if (unit.kind == EW_KIND_TORQUE)
    return EW_CHANNEL_TORQUE;
  return EW_CHANNELS_COUNT;
}

/* A factor belongs to a tachometer only: of other figures nobody knows which way it was meant. */
static enum ew_channel named_channel(const struct ew_column *column, struct ew_claim *claim,
                                     struct ew_series_channel *one) {
  gsize size;
  double factor = ew_heading_factor(column->name, &size);
  g_autofree char *name = g_strndup(column->name, size);
  enum ew_channel channel = ew_channel_by_name(name, &claim->strength, &one->index);
  if (factor == 1 || channel == EW_CHANNEL_SPEED || channel == EW_CHANNEL_SPEED_2) {
    claim->factor = factor;
    return channel;
  }
  return ew_channel_by_name(column->name, &claim->strength, &one->index);
}

/* "Oil [C]", "Fuel psi": a heading that leaves to its unit whether a temperature or a pressure is meant. */
static void take_kind_of_unit(const struct ew_column *column, struct ew_series_channel *one,
                              struct ew_claim *claim) {
  static const struct {
    enum ew_kind kind;
    const char *word;
  } left_out[] = {{EW_KIND_TEMPERATURE, "temp"},
                  {EW_KIND_PRESSURE_GAUGE, "press"},
                  {EW_KIND_PRESSURE_ABSOLUTE, "press"}};
  for (gsize i = 0; one->channel < EW_CHANNELS_COUNT && i < G_N_ELEMENTS(left_out); i++)
    if (ew_channel_facts[one->channel].kind == left_out[i].kind)
      return; /* it says which */
  for (gsize i = 0; i < G_N_ELEMENTS(left_out); i++) {
    struct ew_unit unit;
    g_autofree char *behind =
        column->unit ? NULL : ew_heading_unit(column->name, left_out[i].kind, &unit);
    if (column->unit ? !ew_unit_parse(column->name, column->unit, left_out[i].kind, &unit, NULL)
                     : !behind || strcmp(behind, column->name) == 0)
      continue;
    g_autofree char *whole = g_strconcat(column->name, " ", left_out[i].word, NULL);
    int strength, index;
    enum ew_channel channel = ew_channel_by_name(whole, &strength, &index);
    if (channel == EW_CHANNELS_COUNT || ew_channel_facts[channel].kind != left_out[i].kind)
      continue;
    one->channel = channel;
    claim->strength = strength - 10; /* one that names it in full comes first */
    return;
  }
}

/* The unit of its own column, or of a heading that is a unit, with its factor; refused, it is kept why. */
static gboolean claim_unit(struct ew_series_channel *one, const struct ew_column *column,
                           const char *written, struct ew_claim *claim) {
  gsize size;
  enum ew_kind kind = ew_channel_facts[one->channel].kind;
  double factor = kind == EW_KIND_ROTATIONAL_SPEED ? ew_heading_factor(written, &size) : 1;
  g_autofree char *unit = factor == 1 ? g_strdup(written) : g_strndup(written, size);
  claim->has_unit = ew_unit_parse(column->name, unit, kind, &claim->unit, &claim->problem);
  if (claim->has_unit && factor != 1)
    claim->factor = factor;
  if (claim->has_unit)
    return TRUE;
  claim->wrong_unit = TRUE;
  claim->meant = one->channel;
  ew_series_forget(one, ew_message(&unit_does_not_fit,
                                   ew_say_word("channel", ew_channel_word(claim->meant)),
                                   ew_say_text("unit", written)));
  return FALSE;
}

static void claim_by_name(struct ew_series_channel *one, const struct ew_column *column,
                          struct ew_claim *claim) {
  const struct ew_message_kind *excluded = ew_channel_excluded(column->name);
  if (excluded) {
    ew_series_explain(one, ew_message_plain(excluded));
    return;
  }
  one->channel = named_channel(column, claim, one);
  take_kind_of_unit(column, one, claim);
  gboolean named = one->channel < EW_CHANNELS_COUNT;
  if (!named) {
    one->channel = by_unit_alone(column);
    claim->strength = EW_CLAIM_BY_UNIT;
  }
  if (one->channel == EW_CHANNELS_COUNT) {
    ew_series_explain(one, ew_message_plain(&unknown_heading));
    return;
  }
  if (one->channel == EW_CHANNEL_LAMBDA && column->unit &&
      g_ascii_strcasecmp(column->unit, "afr") == 0)
    one->channel = EW_CHANNEL_AIR_FUEL_RATIO;
  const char *unit = column->unit ? column->unit : named ? NULL : column->name;
  g_autofree char *behind = NULL;
  if (!unit && !is_clock(column)) {
    gsize size;
    ew_heading_factor(column->name, &size);
    g_autofree char *own = g_strndup(column->name, claim->factor > 1 ? size : strlen(column->name));
    behind = ew_heading_unit(own, ew_channel_facts[one->channel].kind, &claim->unit);
    if ((claim->has_unit = behind != NULL)) {
      g_free(one->unit);
      one->unit = g_strdup(behind);
    }
  } else if (unit && !is_clock(column) && !claim_unit(one, column, unit, claim))
    return;
  unit = unit ? unit : behind;
  ew_series_explain(
      one, unit && !is_clock(column)
               ? ew_message(named ? &by_heading_and_unit : &by_unit, ew_say_text("unit", unit))
               : ew_message_plain(&by_heading));
}

static gboolean ignored(const struct ew_channel_map *map, const char *name) {
  for (guint i = 0; map && i < map->ignore->len; i++)
    if (strcmp(g_ptr_array_index(map->ignore, i), name) == 0)
      return TRUE;
  return FALSE;
}

gboolean ew_series_claim(struct ew_series *series, struct ew_table *table,
                         const struct ew_channel_map *map, struct ew_claim *claims,
                         GError **error) {
  for (guint c = 0; c < series->channels_count; c++) {
    const struct ew_column *column = g_ptr_array_index(table->layout->columns, c);
    struct ew_series_channel *one = &series->channels[c];
    one->channel = EW_CHANNELS_COUNT;
    one->scale = 1;
    one->name = g_strdup(column->name);
    one->unit = g_strdup(column->unit);
    if (!claim_by_map(one, column, map, &claims[c], error))
      return FALSE;
    if (one->channel == EW_CHANNELS_COUNT && ignored(map, column->name))
      ew_series_explain(one, ew_message_plain(&left_out_by_map));
    else if (one->channel == EW_CHANNELS_COUNT)
      claim_by_name(one, column, &claims[c]);
    if (one->channel < EW_CHANNELS_COUNT && ew_channel_map_lacks(map, one->channel))
      ew_series_forget(one, ew_message_plain(&spare_input));
    one->of_station = map && one->channel < EW_CHANNELS_COUNT && map->station[one->channel];
    if (one->channel < EW_CHANNELS_COUNT && column->values == 0)
      ew_series_forget(one, ew_message_plain(&empty_column));
    if (column->content == EW_CELL_TEXT && one->channel < EW_CHANNELS_COUNT)
      ew_series_forget(one, ew_message_plain(&words_column));
    if (is_clock(column) && one->channel != EW_CHANNEL_TIME && one->channel < EW_CHANNELS_COUNT)
      ew_series_forget(one, ew_message_plain(&times_column));
  }
  return TRUE;
}
