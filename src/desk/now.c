/* One look: the recordings of the engine that are under way, the newest first; of each its last block, through its calibration and the
 * recorder's profile to channels. O(channels of those recordings). */
#include "desk/now.h"
#include "base/error.h"
#include "base/language.h"
#include "base/zone.h"
#include "book/ship.h"
#include "book/stream_now.h"
#include "cell/live_channels.h"
#include "desk/recorder.h"
#include <math.h>
#include <string.h>

const char *const ew_now_keys[] = {"none", "silent", "live", NULL};

/* How the rows of one recording become figures. */
struct reading {
  struct ew_sensors *sensors; /* NULL: the source sends figures */
  struct ew_sensor_plan plan;
  struct ew_source_channels raw, known;
  GArray *channels; /* struct ew_live_channel, one a column */
  struct ew_now *now;
};

static void reading_clear(struct reading *r) {
  ew_sensor_plan_clear(&r->plan);
  ew_source_channels_clear(&r->known);
  ew_source_channels_clear(&r->raw);
  ew_sensors_free(r->sensors);
  g_clear_pointer(&r->channels, g_array_unref);
}

static gboolean read_sensors(struct ew_book *book, gint64 id, struct ew_sensors **sensors,
                             GError **error) {
  g_autoptr(GArray) marks = ew_mark_list(book, id, error);
  const char *yaml = NULL;
  *sensors = NULL;
  for (guint i = 0; marks && i < marks->len; i++) {
    const struct ew_mark_row *mark = &g_array_index(marks, struct ew_mark_row, i);
    if (ew_mark_is_calibration(mark))
      yaml = mark->text + strlen(EW_MARK_SENSORS);
  }
  if (!marks || !yaml)
    return marks != NULL;
  g_autoptr(ew_node) root = ew_node_parse("sensors", yaml, strlen(yaml), error);
  *sensors = root ? ew_sensors_read(root, "sensors", error) : NULL;
  return *sensors != NULL;
}

static gboolean reading_open(struct ew_book *book, gint64 id, struct reading *r, GError **error) {
  struct ew_profiles *profiles = ew_profiles_read(book, error);
  gboolean good = profiles && ew_stream_channels(book, id, &r->raw, error) &&
                  read_sensors(book, id, &r->sensors, error);
  if (good) {
    ew_sensor_plan_make(r->sensors, &r->raw, &r->plan);
    ew_sensor_plan_channels(&r->plan, &r->raw, &r->known);
    r->channels =
        ew_live_channels(&r->known, ew_profiles_find(profiles, r->known.names, r->known.count));
  }
  if (profiles)
    ew_profiles_free(profiles);
  return good;
}

static void later(double *figure, double value) {
  *figure = isfinite(value) ? value : *figure;
}

/* Later rows go over earlier ones; what a later recording gave already stays. */
static gboolean take(const double *values, gsize rows, gsize columns, gpointer user) {
  struct reading *r = user;
  g_autofree double *figures = g_new(double, columns);
  double mine[EW_CHANNELS_COUNT];
  for (int k = 0; k < EW_CHANNELS_COUNT; k++)
    mine[k] = NAN;
  for (gsize row = 0; row < rows; row++) {
    ew_sensor_plan_apply(&r->plan, values + row * columns + 1, figures);
    for (guint i = 0; i < r->channels->len && i + 1 < columns; i++) {
      const struct ew_live_channel *one = &g_array_index(r->channels, struct ew_live_channel, i);
      if (one->channel < EW_CHANNELS_COUNT && one->index == 0)
        later(&mine[one->channel], ew_to_inside(one->unit, figures[i]));
    }
  }
  for (int k = 0; k < EW_CHANNELS_COUNT; k++)
    if (isnan(r->now->inside[k]))
      r->now->inside[k] = mine[k];
  return TRUE;
}

static gboolean fresh_for(struct ew_book *book, double *fresh_s, GError **error) {
  struct ew_ship_state state;
  if (!ew_ship_state(book, &state, error))
    return FALSE;
  *fresh_s = g_strcmp0(state.role, "reads") == 0 ? EW_NOW_FRESH_COPY_S : EW_NOW_FRESH_S;
  ew_ship_state_clear(&state);
  return TRUE;
}

/* One recording; what is not fresh gives nothing but its time. */
static gboolean add_one(struct ew_book *book, gint64 id, double unix_s, double fresh_s,
                        struct ew_now *now, GError **error) {
  struct reading r = {.now = now};
  struct ew_now aside = *now;
  g_autofree char *at = NULL;
  gboolean good =
      reading_open(book, id, &r, error) && ew_stream_last_block(book, id, &at, take, &r, error);
  reading_clear(&r);
  if (!good || !at)
    return good;
  gboolean fresh = fabs(unix_s - ew_instant(at)) <= fresh_s; /* NaN: not; from the future: not */
  if (!fresh)
    memcpy(now->inside, aside.inside, sizeof now->inside);
  else
    now->state = EW_NOW_LIVE;
  if (!now->at || strcmp(at, now->at) > 0) {
    g_free(now->at);
    now->at = g_steal_pointer(&at);
  }
  return TRUE;
}

static void add_power(struct ew_now *now) {
  double torque = now->inside[EW_CHANNEL_TORQUE], speed = now->inside[EW_CHANNEL_SPEED];
  if (isnan(now->inside[EW_CHANNEL_POWER]))
    now->inside[EW_CHANNEL_POWER] = torque * speed * G_PI / 30;
}

gboolean ew_now_read(struct ew_book *book, gint64 engine_id, double unix_s, struct ew_now *now,
                     GError **error) {
  double fresh_s;
  *now = (struct ew_now){.state = EW_NOW_NONE};
  for (int k = 0; k < EW_CHANNELS_COUNT; k++)
    now->inside[k] = NAN;
  g_autoptr(GArray) rows = ew_stream_under_way(book, engine_id, error);
  gboolean good = rows && fresh_for(book, &fresh_s, error);
  for (guint i = 0; good && i < rows->len; i++) {
    const struct ew_stream_now *row = &g_array_index(rows, struct ew_stream_now, i);
    if (g_str_has_prefix(row->source, "practice:"))
      continue;
    now->state = MAX(now->state, EW_NOW_SILENT);
    good = add_one(book, row->id, unix_s, fresh_s, now, error);
  }
  if (!good)
    ew_now_clear(now);
  else
    add_power(now);
  return good;
}

void ew_now_clear(struct ew_now *now) {
  g_clear_pointer(&now->at, g_free);
}

gboolean ew_now_channels(const char *option, const char *list, guint64 *set, GError **error) {
  g_auto(GStrv) keys = g_strsplit(list, ",", -1);
  *set = 0;
  for (char **key = keys; *key; key++) {
    enum ew_channel channel = ew_channel_by_key(*key);
    if (channel == EW_CHANNELS_COUNT || channel == EW_CHANNEL_TIME)
      return ew_refuse(error,
                       "%s '%.40s' is not a channel; write for example speed, torque, power, "
                       "oil_pressure, oil_temperature, coolant_temperature or lambda",
                       option, *key);
    if (*set & ((guint64)1 << channel))
      return ew_refuse(error, "%s '%.40s': named twice", option, *key);
    *set |= (guint64)1 << channel;
  }
  return TRUE;
}

void ew_now_write_json(const struct ew_now *now, guint64 set, enum ew_unit_system units,
                       struct ew_json *json) {
  ew_json_text(json, "state", ew_now_keys[now->state]);
  ew_json_text(json, "at", now->at);
  ew_json_open_array(json, "channels");
  for (int k = 0; k < EW_CHANNELS_COUNT; k++) {
    if (!(set & ((guint64)1 << k)))
      continue;
    const struct ew_channel_facts *facts = &ew_channel_facts[k];
    double shown = now->state == EW_NOW_LIVE ? ew_shown(facts->kind, units, now->inside[k]) : NAN;
    double step = fabs(shown) > 1000 ? 1
                  : fabs(shown) > 20 ? 0.1
                                     : 0.001; /* a look needs no more */
    ew_json_open(json, NULL);
    ew_json_text(json, "key", facts->key);
    ew_json_text(json, "name", ew_tr(facts->label));
    ew_json_number(json, "value", round(shown / step) * step);
    ew_json_text(json, "unit", ew_kind_shown(facts->kind, units));
    ew_json_close(json);
  }
  ew_json_close_array(json);
}
