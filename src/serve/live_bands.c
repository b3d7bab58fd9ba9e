/* A picture of the alarms, taken 20 times a second at most from the recorder's thread, and written as JSON from the
 * main thread under live.c's mutex. Names and channels are sent once a table, numbers at every frame. */
#include "serve/live_bands.h"
#include <math.h>
#include <string.h>

#define PICTURE_S 0.05

/* channel, ends of the scale in inside units: how long a bar is, and no limit of anything */
#define GAUGES(X)                                                                                  \
  X(LAMBDA, 0.7, 1.1)                                                                              \
  X(OIL_PRESSURE, 0, 8e5)                                                                          \
  X(OIL_TEMPERATURE, 293.15, 423.15)                                                               \
  X(COOLANT_TEMPERATURE, 293.15, 393.15)                                                           \
  X(FUEL_PRESSURE, 0, 6e5)                                                                         \
  X(INLET_AIR_TEMPERATURE, 263.15, 333.15)                                                         \
  X(EXHAUST_TEMPERATURE, 293.15, 1273.15)                                                          \
  X(COOLANT_PRESSURE, 0, 2.5e5)                                                                    \
  X(CRANKCASE_PRESSURE, -2e3, 1e4)                                                                 \
  X(ABSORBER_WATER_TEMPERATURE, 273.15, 363.15)                                                    \
  X(KNOCK, 0, 10)

static const struct {
  enum ew_channel channel;
  double scale_low, scale_high;
} gauges[] = {
#define X(id, scale_low, scale_high) {EW_CHANNEL_##id, scale_low, scale_high},
    GAUGES(X)
#undef X
};

/* at rest, in force, beyond its limit, latched: the page's words for them are in screen_live.tsx */
enum told_state { NOT_IN_FORCE, IN_FORCE, BEYOND, TRIPPED };

struct told {
  char *name, *watch, *says; /* copies: the table may be exchanged */
  int action, index;
  enum ew_channel channel;
  enum ew_kind kind;
  gboolean of_reading;
  enum told_state state;
  double low, high, value;
};

struct ew_live_bands {
  GArray *told;  /* struct told */
  GArray *bands; /* struct ew_alarm_band, filled again each time */
  guint table;   /* one more with each table */
  gboolean watched, in_pull;
  double taken_s;
};

static void told_clear(gpointer data) {
  struct told *t = data;
  g_free(t->name);
  g_free(t->watch);
  g_free(t->says);
}

struct ew_live_bands *ew_live_bands_new(void) {
  struct ew_live_bands *b = g_new0(struct ew_live_bands, 1);
  b->told = g_array_new(FALSE, TRUE, sizeof(struct told));
  g_array_set_clear_func(b->told, told_clear);
  b->bands = g_array_new(FALSE, FALSE, sizeof(struct ew_alarm_band));
  b->taken_s = NAN;
  return b;
}

void ew_live_bands_free(struct ew_live_bands *b) {
  g_array_unref(b->told);
  g_array_unref(b->bands);
  g_free(b);
}

void ew_live_bands_reset(struct ew_live_bands *b) {
  g_array_set_size(b->told, 0);
  b->watched = b->in_pull = FALSE;
  b->taken_s = NAN;
  b->table++;
}

gboolean ew_live_bands_due(const struct ew_live_bands *b, double session_s) {
  return !(session_s >= b->taken_s && session_s < b->taken_s + PICTURE_S);
}

static gboolean same_table(const struct ew_live_bands *b) {
  if (b->told->len != b->bands->len)
    return FALSE;
  for (guint i = 0; i < b->told->len; i++) {
    const struct told *t = &g_array_index(b->told, struct told, i);
    const struct ew_alarm_band *band = &g_array_index(b->bands, struct ew_alarm_band, i);
    if (strcmp(t->name, band->alarm->name) != 0 || t->action != band->alarm->action ||
        strcmp(t->watch, band->alarm->watch_text) != 0 || t->index != band->index)
      return FALSE;
  }
  return TRUE;
}

static void copy_table(struct ew_live_bands *b) {
  g_array_set_size(b->told, 0);
  for (guint i = 0; i < b->bands->len; i++) {
    const struct ew_alarm_band *band = &g_array_index(b->bands, struct ew_alarm_band, i);
    struct told one = {.name = g_strdup(band->alarm->name),
                       .watch = g_strdup(band->alarm->watch_text),
                       .says = g_strdup(band->alarm->says),
                       .action = band->alarm->action,
                       .index = band->index,
                       .channel = band->alarm->watch.channel,
                       .kind = band->alarm->watch.kind,
                       .of_reading = band->of_reading};
    g_array_append_val(b->told, one);
  }
  b->table++;
}

void ew_live_bands_take(struct ew_live_bands *b, struct ew_alarms *alarms, double session_s) {
  b->taken_s = session_s;
  b->watched = alarms != NULL;
  if (!alarms)
    return;
  b->in_pull = ew_alarms_in_pull(alarms);
  ew_alarms_bands(alarms, b->bands);
  if (!same_table(b))
    copy_table(b);
  g_assert(b->told->len == b->bands->len);
  for (guint i = 0; i < b->told->len; i++) {
    struct told *t = &g_array_index(b->told, struct told, i);
    const struct ew_alarm_band *band = &g_array_index(b->bands, struct ew_alarm_band, i);
    t->low = band->low;
    t->high = band->high;
    t->value = band->value;
    t->state = band->tripped    ? TRIPPED
               : band->beyond   ? BEYOND
               : band->in_force ? IN_FORCE
                                : NOT_IN_FORCE;
  }
}

enum ew_latched ew_live_bands_latched(const struct ew_live_bands *b, const char *name) {
  enum ew_latched latched = EW_LATCHED_UNKNOWN;
  for (guint i = 0; i < b->told->len; i++) {
    const struct told *t = &g_array_index(b->told, struct told, i);
    if (strcmp(t->name, name) == 0)
      latched = MAX(latched, t->state == TRIPPED ? EW_LATCHED_YES : EW_LATCHED_NO);
  }
  return latched;
}

void ew_live_bands_write_frame(const struct ew_live_bands *b, struct ew_json *json) {
  ew_json_integer(json, "table", b->table);
  ew_json_boolean(json, "in_pull", b->in_pull);
  ew_json_open_array(json, "bands");
  for (guint i = 0; i < b->told->len; i++) {
    const struct told *t = &g_array_index(b->told, struct told, i);
    ew_json_open_array(json, NULL);
    ew_json_integer(json, NULL, t->state);
    ew_json_number(json, NULL, t->low);
    ew_json_number(json, NULL, t->high);
    ew_json_number(json, NULL, t->of_reading ? (double)NAN : t->value);
    ew_json_close_array(json);
  }
  ew_json_close_array(json);
}

static void write_told(const void *row, struct ew_json *json) {
  const struct told *t = row;
  g_assert(t->name && t->action < EW_ALARM_ACTIONS_COUNT && t->channel < EW_CHANNELS_COUNT);
  ew_json_text(json, "name", t->name);
  ew_json_text(json, "watch", t->watch);
  ew_json_text(json, "action", ew_alarm_action_names[t->action]);
  ew_json_text(json, "says", t->says);
  ew_json_text(json, "channel", ew_channel_facts[t->channel].key);
  ew_json_integer(json, "index", t->index);
  ew_json_text(json, "kind", ew_kind_name(t->kind));
  ew_json_boolean(json, "of_reading", t->of_reading);
}

void ew_live_bands_write_table(const struct ew_live_bands *b, struct ew_json *json) {
  ew_json_integer(json, "table", b->table);
  ew_json_boolean(json, "watched", b->watched);
  ew_json_rows(json, "alarms", b->told, write_told);
}

void ew_live_gauges_write_json(struct ew_json *json) {
  ew_json_open_array(json, "gauges");
  for (gsize i = 0; i < G_N_ELEMENTS(gauges); i++) {
    const struct ew_channel_facts *facts = &ew_channel_facts[gauges[i].channel];
    ew_json_open(json, NULL);
    ew_json_text(json, "key", facts->key);
    ew_json_text(json, "label", facts->label);
    ew_json_text(json, "kind", ew_kind_name(facts->kind));
    ew_json_number(json, "scale_low", gauges[i].scale_low);
    ew_json_number(json, "scale_high", gauges[i].scale_high);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}
