/* Alarms of a live session: the table in force, deciding on each row, what a trip asks for and tells.
 * Alarm and request as one machine: its table of events stands in cell/alarm.h. */
#include "base/error.h"
#include "base/words.h"
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
                  ew_words("%s: %s (%s: %s, limit %s, at %.2f s)", loud, do_this, a->name, value,
                           bound, time_s));
}

/* With its time on the clock of every source: the pull under way may be another one's. */
static void store_trip(struct ew_feed *home, double session_s, const struct ew_trip_row *row) {
  const GPtrArray *feeds = home->live->feeds;
  g_autofree struct ew_section **sections = g_new0(struct ew_section *, feeds->len + 1);
  g_autofree double *times_s = g_new0(double, feeds->len + 1);
  guint count = 0;
  for (guint i = 0; i <= feeds->len; i++) {
    struct ew_feed *f = i ? g_ptr_array_index(feeds, i - 1) : home;
    if (!f->section || (i && f == home))
      continue;
    sections[count] = f->section;
    times_s[count++] = session_s - f->clock.offset_s;
  }
  if (count) /* else nothing is recorded that it could belong to */
    ew_store_trip(home->live->store, sections, times_s, count, row);
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
    store_trip((struct ew_feed *)home, trip->time_s, &row);
  }
  if (live->trips->len) {
    ew_session_step_outputs(live, ew_monotonic_s());
    ew_session_write_standing(live);
  }
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
    if (one->channel == EW_CHANNEL_SPEED && isfinite(f->inside[i]))
      live->speed_arrival_s = f->arrival_s;
  }
  ew_alarms_step(live->alarms, session_s, live->trips);
  if (live->trips->len)
    take_trips(f);
  ew_session_step_outputs(live, ew_monotonic_s());
}

void ew_session_clear_alarms(struct ew_session *live, const char *name) {
  const char *which = strcmp(name, "all") ? name : NULL;
  g_autoptr(GString) names = g_string_new(NULL);
  guint cleared = ew_session_clear_raised(live, which);
  cleared += live->alarms ? ew_alarms_clear(live->alarms, which) : 0;
  guint left = live->alarms ? ew_alarms_standing(live->alarms, EW_ALARM_NOTICE, names) : 0;
  left += ew_session_raised(live, names);
  live->shut_by_hand &= which != NULL;
  if (live->stood && (!which || strcmp(which, live->stood) == 0)) {
    g_clear_pointer(&live->stood, g_free);
    cleared++;
  }
  if (live->stood) {
    left++;
    g_string_append_printf(names, "%s%s", names->len ? ", " : "", live->stood);
  }
  if (!live->shut_by_hand &&
      (!live->alarms || !ew_alarms_standing(live->alarms, EW_ALARM_SHUT_DOWN, NULL)))
    ew_outputs_withdraw(live->outputs);
  ew_session_check_request(live);
  ew_session_write_standing(live);
  struct ew_json json = ew_session_news(EW_RECORD_ALARM);
  ew_json_text(&json, "action", "clear");
  ew_json_integer(&json, "cleared", cleared);
  ew_json_integer(&json, "standing", left);
  ew_json_text(&json, "names", left ? names->str : NULL);
  ew_session_post(
      live, EW_RECORD_ALARM, &json,
      left ? g_strdup_printf("%u alarm%s cleared; not cleared, still beyond the limit or not "
                             "named: %s",
                             cleared, cleared == 1 ? "" : "s", names->str)
           : g_strdup_printf("%u alarm%s cleared; none remains", cleared, cleared == 1 ? "" : "s"));
}

/* A book from somebody else drives nothing here. */
static void tell_unused(struct ew_session *live, const struct ew_alarm_table *table) {
  if (!table->outputs->len && !table->heartbeat_line)
    return;
  struct ew_json json = ew_session_news(EW_RECORD_ALARM);
  ew_json_text(&json, "action", "outputs");
  ew_json_integer(&json, "unused", table->outputs->len);
  ew_session_post(
      live, EW_RECORD_ALARM, &json,
      g_strdup("the table's own outputs and heartbeat are not used: outputs belong to this "
               "machine ('enginewright cell outputs')"));
}

/* Takes the table when it returns TRUE. */
static gboolean put_in_force(struct ew_session *live, struct ew_alarm_table *table,
                             GError **error) {
  if (ew_session_in_pull(live))
    return ew_refuse(error, "a pull is under way: limits are locked until it is over");
  if (live->alarms && !ew_alarms_replace(live->alarms, table, error))
    return FALSE;
  if (!live->alarms)
    live->alarms = ew_alarms_new(table, live->own);
  tell_unused(live, table);
  ew_session_check_request(live);
  return TRUE;
}

void ew_session_exchange_alarms(struct ew_session *live, const char *path) {
  g_autoptr(GError) problem = NULL;
  g_autoptr(ew_node) root = ew_node_read(path, &problem);
  struct ew_alarm_table *table =
      root ? ew_alarm_table_read(root, path, &live->context, &problem) : NULL;
  if (table && !put_in_force(live, table, &problem))
    g_clear_pointer(&table, ew_alarm_table_free);
  struct ew_json json = ew_session_news(EW_RECORD_ALARM);
  ew_json_text(&json, "action", "exchange");
  ew_json_text(&json, "why", problem ? problem->message : NULL);
  ew_json_integer(&json, "watched", table ? (gint64)table->alarms->len : -1);
  ew_session_post(
      live, EW_RECORD_ALARM, &json,
      problem ? g_strdup_printf("limits are as they were: %s", problem->message)
              : g_strdup_printf("limits exchanged: %u alarms are in force", table->alarms->len));
  if (table)
    ew_session_tell_asleep(live);
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
  live->not_fitted = desk.bench.not_fitted;
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

static void open_own_curves(struct ew_session *live, struct ew_book *book) {
  g_autofree char *key = ew_own_curves_key(live->engine_id);
  g_autofree char *known = ew_setting_get(book, key);
  live->own = ew_own_curves_new();
  if (known && !ew_own_curves_from_json(live->own, known)) {
    ew_own_curves_free(live->own); /* written by another version: they are learned again */
    live->own = ew_own_curves_new();
  }
}

gboolean ew_session_open_alarms(struct ew_session *live, struct ew_book *book, GError **error) {
  const char *yaml = live->options->alarms_yaml, *name = live->options->alarms_name;
  g_autofree char *usual = NULL;
  if (!yaml && !name) {
    if (!ew_record_alarms(live->options->book_path, NULL, &usual, &name, error))
      return FALSE;
    yaml = usual;
  }
  if (!settle_context(live, book, error))
    return FALSE;
  open_own_curves(live, book);
  if (!yaml)
    return TRUE; /* none watched; a table may be put in force later */
  g_autoptr(ew_node) root = ew_node_parse(name, yaml, strlen(yaml), error);
  struct ew_alarm_table *table =
      root ? ew_alarm_table_read(root, name, &live->context, error) : NULL;
  return table && put_in_force(live, table, error);
}

static const char *what_it_lacks(const struct ew_alarm_spec *a) {
  static const char *const figures[][2] = {{"of limit", "a limit: --limit"},
                                           {"of rate", "a rate: --rate"},
                                           {"of largest", "the absorber's plate: the cell's file"}};
  for (gsize i = 0; i < G_N_ELEMENTS(figures); i++)
    if ((a->above_text && strstr(a->above_text, figures[i][0])) ||
        (a->below_text && strstr(a->below_text, figures[i][0])))
      return figures[i][1];
  return "a figure";
}

char *ew_session_asleep(const struct ew_session *live) {
  const struct ew_alarm_table *t = live->alarms ? ew_alarms_table(live->alarms) : NULL;
  g_autoptr(GString) names = g_string_new(NULL);
  if (!t)
    return g_strdup("all: no alarms are in force");
  for (guint i = 0; i < t->alarms->len; i++) {
    const struct ew_alarm_spec *a = &g_array_index(t->alarms, struct ew_alarm_spec, i);
    if ((a->above_text && isnan(a->above)) || (a->below_text && isnan(a->below)))
      g_string_append_printf(names, "%s%s (wants %s)", names->len ? ", " : "", a->name,
                             what_it_lacks(a));
  }
  return names->len ? g_strdup(names->str) : NULL;
}

void ew_session_tell_asleep(struct ew_session *live) {
  g_autofree char *names = ew_session_asleep(live);
  if (!names)
    return;
  struct ew_json json = ew_session_news(EW_RECORD_ALARM);
  ew_json_text(&json, "action", "asleep");
  ew_json_text(&json, "names", live->alarms ? names : "all");
  ew_session_post(live, EW_RECORD_ALARM, &json,
                  live->alarms ? g_strdup_printf("these alarms sleep: %s", names)
                               : g_strdup("no alarms are watched"));
}
