/* Alarms of a live session: the table in force, deciding on each row, what a trip asks for and tells. */
#include "base/error.h"
#include "desk/record_session.h"
#include <gio/gio.h>
#include <math.h>
#include <string.h>

#define AROUND_S 5.0 /* samples to look at around a trip */

/* The feed that brings what was watched; the one at hand when several do, or it does. */
static const struct ew_feed *whose(const struct ew_feed *at_hand,
                                   const struct ew_alarm_trip *trip) {
  enum ew_channel channel = trip->alarm->watch.channel;
  const struct ew_feed *found = NULL;
  for (guint i = 0; i < at_hand->live->feeds->len; i++) {
    const struct ew_feed *f = g_ptr_array_index(at_hand->live->feeds, i);
    for (guint c = 0; f->section && c < f->channels->len; c++)
      if (g_array_index(f->channels, struct ew_live_channel, c).channel == channel &&
          !g_array_index(f->channels, struct ew_live_channel, c).second)
        found = f == at_hand || !found ? f : found;
  }
  return found ? found : at_hand;
}

static void tell_trip(struct ew_feed *f, const struct ew_alarm_trip *trip) {
  const struct ew_alarm_spec *a = trip->alarm;
  const char *action = ew_alarm_action_names[a->action];
  struct ew_json json = ew_session_news(EW_RECORD_ALARM);
  ew_json_text(&json, "name", a->name);
  ew_json_text(&json, "action", action);
  ew_json_text(&json, "says", a->says);
  ew_json_text(&json, "watch", a->watch_text);
  ew_json_number(&json, "value", trip->value);
  ew_json_number(&json, "bound", trip->bound);
  ew_json_text(&json, "unit", ew_kind_si(a->watch.kind));
  const struct ew_feed *home = whose(f, trip);
  double time_s = trip->time_s - home->clock.offset_s;
  ew_json_number(&json, "time_s", time_s);
  ew_json_number(&json, "held_s", trip->held_s);
  ew_json_number(&json, "decided_after_s", ew_monotonic_s() - f->arrival_s);
  ew_json_text(&json, "source", home->source->url);
  ew_json_boolean(&json, "in_pull", ew_alarms_in_pull(f->live->alarms));
  g_autofree char *value = ew_quantity_format(a->watch.kind, EW_UNITS_SI, trip->value, 2);
  g_autofree char *bound = ew_quantity_format(a->watch.kind, EW_UNITS_SI, trip->bound, 2);
  g_autofree char *loud = g_ascii_strup(action, -1), *do_this = g_utf8_strup(a->says, -1);
  ew_session_post(f->live, EW_RECORD_ALARM, &json,
                  g_strdup_printf("%s: %s (%s: %s, limit %s, at %.2f s)", loud, do_this, a->name,
                                  value, bound, time_s));
}

static void take_trips(struct ew_feed *f) {
  struct ew_session *live = f->live;
  for (guint i = 0; i < live->trips->len; i++) {
    const struct ew_alarm_trip *trip = &g_array_index(live->trips, struct ew_alarm_trip, i);
    if (trip->alarm->action == EW_ALARM_SHUT_DOWN)
      ew_outputs_ask(live->outputs); /* before anything is said */
    const struct ew_feed *home = whose(f, trip);
    double time_s = trip->time_s - home->clock.offset_s; /* by the recording's own clock */
    struct ew_trip_row row = {.time_s = time_s,
                              .from_s = time_s - AROUND_S,
                              .to_s = time_s + AROUND_S,
                              .value = trip->value,
                              .bound = trip->bound,
                              .name = trip->alarm->name,
                              .action = ew_alarm_action_names[trip->alarm->action],
                              .says = trip->alarm->says};
    if (home->section)
      ew_store_trip(live->store, home->section, &row);
  }
  if (live->trips->len)
    ew_outputs_step(live->outputs, ew_alarms_table(live->alarms), ew_alarms_speed(live->alarms));
  for (guint i = 0; i < live->trips->len; i++)
    tell_trip(f, &g_array_index(live->trips, struct ew_alarm_trip, i));
  g_array_set_size(live->trips, 0);
}

/* At this time of the session's clock. */
void ew_session_decide(struct ew_feed *f, double session_s) {
  struct ew_session *live = f->live;
  for (guint i = 0; i < f->channels->len; i++) {
    const struct ew_live_channel *one = &g_array_index(f->channels, struct ew_live_channel, i);
    if (one->channel < EW_CHANNELS_COUNT && !one->second)
      ew_alarms_set(live->alarms, one->channel, one->index, f->inside[i]);
  }
  ew_alarms_step(live->alarms, session_s, live->trips);
  if (live->trips->len)
    take_trips(f);
  ew_outputs_step(live->outputs, ew_alarms_table(live->alarms), ew_alarms_speed(live->alarms));
}

static void output_says(const char *name, gboolean done, const char *why, gpointer user) {
  struct ew_json json = ew_session_news(EW_RECORD_REQUEST);
  ew_json_text(&json, "name", name);
  ew_json_boolean(&json, "done", done);
  ew_json_text(&json, "why", why);
  ew_session_post(user, EW_RECORD_REQUEST, &json,
                  done ? g_strdup_printf("asked for: %s", name)
                       : g_strdup_printf("COULD NOT ASK FOR: %s: %s", name, why));
}

static gboolean send_line(const char *line, gpointer user) {
  struct ew_session *live = user;
  gboolean sent = FALSE;
  for (guint i = 0; i < live->feeds->len; i++) {
    struct ew_source *source = ((struct ew_feed *)g_ptr_array_index(live->feeds, i))->source;
    sent |= ew_source_takes_requests(source) && ew_source_send(source, line);
  }
  return sent;
}

void ew_session_heartbeat(struct ew_session *live, double now_s) {
  const struct ew_alarm_table *table = live->alarms ? ew_alarms_table(live->alarms) : NULL;
  if (!table || isnan(table->heartbeat_s) || now_s < live->beat_s)
    return;
  send_line(table->heartbeat_line, live);
  live->beat_s = now_s + table->heartbeat_s;
}

void ew_session_clear_alarms(struct ew_session *live, const char *name) {
  const char *which = strcmp(name, "all") ? name : NULL;
  guint cleared = ew_session_clear_raised(live, which);
  cleared += live->alarms ? ew_alarms_clear(live->alarms, which) : 0;
  guint left = live->alarms ? ew_alarms_tripped(live->alarms) : 0;
  if (left == 0 && live->alarms)
    ew_outputs_reset(live->outputs);
  left += live->raised ? live->raised->len : 0;
  struct ew_json json = ew_session_news(EW_RECORD_ALARM);
  ew_json_text(&json, "action", "clear");
  ew_json_integer(&json, "cleared", cleared);
  ew_json_integer(&json, "standing", left);
  ew_session_post(
      live, EW_RECORD_ALARM, &json,
      g_strdup_printf("%u alarms cleared; %u stand, since what they watch is still beyond its "
                      "limit or they were not named",
                      cleared, left));
}

void ew_session_exchange_alarms(struct ew_session *live, const char *path) {
  g_autoptr(GError) problem = NULL;
  g_autoptr(ew_node) root = ew_node_read(path, &problem);
  struct ew_alarm_table *table =
      root ? ew_alarm_table_read(root, path, &live->context, &problem) : NULL;
  if (table && live->alarms && !ew_alarms_replace(live->alarms, table, &problem))
    ew_alarm_table_free(table);
  struct ew_json json = ew_session_news(EW_RECORD_ALARM);
  ew_json_text(&json, "action", "exchange");
  ew_json_text(&json, "why", problem ? problem->message : NULL);
  ew_session_post(live, EW_RECORD_ALARM, &json,
                  problem ? g_strdup_printf("limits are as they were: %s", problem->message)
                          : g_strdup("limits exchanged"));
}

char *ew_session_near_json(const GArray *near) {
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open_array(&json, NULL);
  for (guint i = 0; i < near->len; i++) {
    const struct ew_alarm_near *one = &g_array_index(near, struct ew_alarm_near, i);
    ew_json_open(&json, NULL);
    ew_json_text(&json, "name", one->alarm->name);
    ew_json_number(&json, "value", one->value);
    ew_json_number(&json, "bound", one->bound);
    ew_json_number(&json, "share", one->share);
    ew_json_number(&json, "time_s", one->time_s);
    ew_json_close(&json);
  }
  ew_json_close_array(&json);
  return g_string_free(json.text, FALSE);
}

/* What limits may be shares of: the lower of the agreed limit and the cell's own, unless today's was
 * given; the commanded rate, given or the cell's; the absorber's plate. */
static gboolean settle_context(struct ew_session *live, struct ew_book *book, GError **error) {
  struct ew_desk desk = {0};
  if (!ew_desk_open(&desk, book, error))
    return FALSE;
  const struct ew_record_options *o = live->options;
  live->context = (struct ew_alarm_context){
      o->limit_rpm > 0
          ? o->limit_rpm
          : fmin(desk.engine.agreed_limit_rpm, desk.bench.limit_rpm), /* NaN: the other */
      o->rate_rpm_s > 0 ? o->rate_rpm_s : desk.bench.rate_rpm_s, desk.bench.largest_torque_n_m,
      desk.bench.largest_speed_rpm, desk.bench.largest_power_w};
  ew_desk_clear(&desk);
  return TRUE;
}

gboolean ew_record_alarms(const char *book_path, const char *given, char **text, const char **name,
                          GError **error) {
  *text = NULL;
  *name = given ? given : "the book's alarms";
  if (given && strcmp(given, "none") == 0)
    return TRUE;
  g_autoptr(GError) problem = NULL;
  if (given)
    return g_file_get_contents(given, text, NULL, &problem) ||
           ew_refuse(error, "--alarms: %s", problem->message);
  g_autoptr(ew_book) book =
      g_file_test(book_path, G_FILE_TEST_EXISTS) ? ew_book_open(book_path, FALSE, error) : NULL;
  *text = book ? ew_setting_get(book, "alarms") : NULL;
  if (*text || (error && *error))
    return *text != NULL;
  *name = "the template";
  g_autoptr(GBytes) bytes = g_resources_lookup_data("/alarms.yaml", 0, error);
  *text = bytes ? g_strndup(g_bytes_get_data(bytes, NULL), g_bytes_get_size(bytes)) : NULL;
  return *text != NULL;
}

gboolean ew_session_open_alarms(struct ew_session *live, struct ew_book *book, GError **error) {
  const char *yaml = live->options->alarms_yaml, *name = live->options->alarms_name;
  g_autofree char *usual = NULL;
  if (!yaml && !name) {
    if (!ew_record_alarms(live->options->book_path, NULL, &usual, &name, error))
      return FALSE;
    yaml = usual;
  }
  if (!yaml)
    return TRUE;
  if (!settle_context(live, book, error))
    return FALSE;
  g_autoptr(ew_node) root = ew_node_parse(name, yaml, strlen(yaml), error);
  struct ew_alarm_table *table =
      root ? ew_alarm_table_read(root, name, &live->context, error) : NULL;
  if (!table)
    return FALSE;
  g_autofree char *key = ew_own_curves_key(live->engine_id);
  g_autofree char *known = ew_setting_get(book, key);
  live->own = ew_own_curves_new();
  if (known && !ew_own_curves_from_json(live->own, known)) {
    ew_own_curves_free(live->own); /* written by another version: learned anew */
    live->own = ew_own_curves_new();
  }
  live->alarms = ew_alarms_new(table, live->own);
  live->outputs = ew_outputs_new(send_line, output_says, live);
  return TRUE;
}

/* Alarms that cannot trip for want of a figure are told, not left to be found out. */
void ew_session_tell_asleep(struct ew_session *live) {
  const struct ew_alarm_table *t = live->alarms ? ew_alarms_table(live->alarms) : NULL;
  g_autoptr(GString) names = g_string_new(NULL);
  for (guint i = 0; t && i < t->alarms->len; i++) {
    const struct ew_alarm_spec *a = &g_array_index(t->alarms, struct ew_alarm_spec, i);
    if ((a->above_text && isnan(a->above)) || (a->below_text && isnan(a->below)))
      g_string_append_printf(names, "%s%s", names->len ? ", " : "", a->name);
  }
  if (t && !names->len)
    return;
  struct ew_json json = ew_session_news(EW_RECORD_ALARM);
  ew_json_text(&json, "action", "asleep");
  ew_json_text(&json, "names", t ? names->str : "all");
  ew_session_post(
      live, EW_RECORD_ALARM, &json,
      t ? g_strdup_printf("these alarms sleep, since the figure they stand against is not known "
                          "(--limit, --rate, the cell's plate): %s",
                          names->str)
        : g_strdup("no alarms are watched"));
}
