/* Names and units of a source's columns to channels: a map that was given goes first, then pull/channel's names. A
 * channel that is named twice counts once, the first; an unknown unit makes the column unknown rather than wrong. */
#include "cell/live_channels.h"
#include <math.h>
#include <string.h>

/* The usual unit of a trade that gives none; common practice, no source. */
static const char *usual_unit(enum ew_kind kind) {
  static const char *const usual[EW_KINDS_COUNT] = {
      [EW_KIND_RATIO] = "%",
      [EW_KIND_TEMPERATURE] = "degC",
      [EW_KIND_PRESSURE_GAUGE] = "bar",
      [EW_KIND_PRESSURE_ABSOLUTE] = "hPa",
      [EW_KIND_POWER] = "kW",
      [EW_KIND_MASS_FLOW] = "kg/h",
      [EW_KIND_VOLUME_FLOW] = "l/min",
      [EW_KIND_TORQUE] = "N·m",
  };
  g_assert(kind < EW_KINDS_COUNT);
  return usual[kind];
}

static struct ew_live_channel recognise(const char *name, const char *unit,
                                        const struct ew_channel_map *map) {
  struct ew_live_channel one = {.channel = EW_CHANNELS_COUNT, .unit = {EW_KIND_NUMBER, 1, 0}};
  const struct ew_channel_map_row *row = map ? ew_channel_map_find(map, name) : NULL;
  int strength;
  if (row) {
    one.channel = row->channel;
    one.index = row->index;
    if (row->unit)
      unit = row->unit;
  } else
    one.channel = ew_channel_by_name(name, &strength, &one.index);
  if (one.channel == EW_CHANNELS_COUNT)
    return one;
  if (one.channel == EW_CHANNEL_LAMBDA && g_ascii_strcasecmp(unit, "afr") == 0)
    one.channel = EW_CHANNEL_AIR_FUEL_RATIO;
  enum ew_kind kind = ew_channel_facts[one.channel].kind;
  one.unit = (struct ew_unit){kind, 1, 0};
  if (!*unit) {
    unit = usual_unit(kind);
    one.guessed = unit != NULL;
  }
  if ((unit && !ew_unit_parse(name, unit, kind, &one.unit, NULL)) ||
      ew_channel_map_lacks(map, one.channel))
    one.channel = EW_CHANNELS_COUNT;
  if (row && !isnan(row->scale))
    one.unit.scale *= row->scale;
  return one;
}

int ew_live_find(const GArray *live, enum ew_channel channel, int index) {
  for (guint i = 0; i < live->len; i++) {
    const struct ew_live_channel *one = &g_array_index(live, struct ew_live_channel, i);
    if (one->channel == channel && (index == 0 || one->index == index))
      return (int)i;
  }
  return -1;
}

GArray *ew_live_channels(const struct ew_source_channels *channels,
                         const struct ew_channel_map *map) {
  GArray *live = g_array_new(FALSE, FALSE, sizeof(struct ew_live_channel));
  for (guint i = 0; i < channels->count; i++) {
    struct ew_live_channel one = recognise(channels->names[i], channels->units[i], map);
    for (guint j = 0; one.channel < EW_CHANNELS_COUNT && j < live->len; j++) {
      const struct ew_live_channel *other = &g_array_index(live, struct ew_live_channel, j);
      if (other->channel == one.channel && other->index == one.index)
        one.channel = EW_CHANNELS_COUNT;
    }
    g_array_append_val(live, one);
  }
  g_assert(live->len == channels->count);
  return live;
}

struct ew_argument ew_live_say_channel(const char *name, enum ew_channel channel) {
  return ew_say_word(name, ew_channel_word(channel));
}
