/* Alarms of a live session: the table in force, deciding on each row, what a trip asks for and reports.
 * Alarm and request as one machine: its table of events is in cell/alarm.h. */
#include "base/error.h"
#include "base/language.h"
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

EW_MESSAGE(notice, "desk.alarm-notice", EW_CAUTION,
           "NOTICE: {says} ({name}: {value}, limit {bound}, at {time})");
EW_MESSAGE(back_off, "desk.alarm-back-off", EW_DANGER,
           "BACK OFF: {says} ({name}: {value}, limit {bound}, at {time})");
EW_MESSAGE(shut_down, "desk.alarm-shut-down", EW_DANGER,
           "SHUT DOWN: {says} ({name}: {value}, limit {bound}, at {time})");
/* A reading that stays away: there is no limit that it passed. */
EW_MESSAGE(notice_lost, "desk.alarm-notice-lost", EW_CAUTION,
           "NOTICE: {says} ({name}: no reading for {value}, at {time})");
EW_MESSAGE(back_off_lost, "desk.alarm-back-off-lost", EW_DANGER,
           "BACK OFF: {says} ({name}: no reading for {value}, at {time})");
EW_MESSAGE(shut_down_lost, "desk.alarm-shut-down-lost", EW_DANGER,
           "SHUT DOWN: {says} ({name}: no reading for {value}, at {time})");
static const struct ew_message_kind *const lost_kinds[EW_ALARM_ACTIONS_COUNT] = {
    [EW_ALARM_NOTICE] = &notice_lost,
    [EW_ALARM_BACK_OFF] = &back_off_lost,
    [EW_ALARM_SHUT_DOWN] = &shut_down_lost};
static const struct ew_message_kind *const trip_kinds[EW_ALARM_ACTIONS_COUNT] = {
    [EW_ALARM_NOTICE] = &notice,
    [EW_ALARM_BACK_OFF] = &back_off,
    [EW_ALARM_SHUT_DOWN] = &shut_down};

/* As fine as a sensor in a cell can be believed, and fine enough to tell a figure from its limit. Common practice, no source. */
static int decimals_of(enum ew_kind kind) {
  return kind == EW_KIND_ROTATIONAL_SPEED                        ? 0
         : kind == EW_KIND_TEMPERATURE || kind == EW_KIND_TORQUE ? 1
                                                                 : 2;
}

static ew_message *trip_message(const struct ew_alarm_trip *trip, double time_s) {
  const struct ew_alarm_spec *a = trip->alarm;
  int decimals = decimals_of(a->watch.kind);
  if (a->watch.how == EW_WATCH_LOST)
    return ew_message(lost_kinds[a->action], ew_say_term("says", a->says),
                      ew_say_term("name", a->name),
                      ew_say_quantity("value", EW_KIND_TIME, trip->value, decimals),
                      ew_say_quantity("time", EW_KIND_TIME, time_s, 2));
  return ew_message(trip_kinds[a->action], ew_say_term("says", a->says),
                    ew_say_term("name", a->name),
                    ew_say_quantity("value", a->watch.kind, trip->value, decimals),
                    ew_say_quantity("bound", a->watch.kind, trip->bound, decimals),
                    ew_say_quantity("time", EW_KIND_TIME, time_s, 2));
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
  ew_session_post(f->live, EW_RECORD_ALARM, &json, trip_message(trip, time_s));
}

/* With its time on the clock of every source: the pull under way may be another one's. */
static void store_trip(const struct ew_feed *home, double session_s,
                       const struct ew_trip_row *row) {
  const GPtrArray *feeds = home->live->feeds;
  g_autofree struct ew_section **sections = g_new0(struct ew_section *, feeds->len + 1);
  g_autofree double *times_s = g_new0(double, feeds->len + 1);
  guint count = 0;
  for (guint i = 0; i <= feeds->len; i++) {
    const struct ew_feed *f = i ? g_ptr_array_index(feeds, i - 1) : home;
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
    store_trip(home, trip->time_s, &row);
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

EW_MESSAGE_MANY(cleared_all, "desk.alarms-cleared", EW_NOTE, "{count} alarm cleared; none is left",
                "{count} alarms cleared; none is left");
EW_MESSAGE_MANY(cleared_some, "desk.alarms-left", EW_CAUTION,
                "{count} alarm cleared; not cleared, because still beyond the limit or not named: "
                "{names}",
                "{count} alarms cleared; not cleared, because still beyond the limit or not named: "
                "{names}");

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
  ew_session_post(live, EW_RECORD_ALARM, &json,
                  left ? ew_message(&cleared_some, ew_say_count("count", cleared),
                                    ew_say_text("names", names->str))
                       : ew_message(&cleared_all, ew_say_count("count", cleared)));
}

EW_MESSAGE(outputs_unused, "desk.table-outputs-unused", EW_CAUTION,
           "the table's own outputs and heartbeat are not used: outputs belong to this machine");
EW_MESSAGE(not_exchanged, "desk.limits-kept", EW_CAUTION, "limits are unchanged: {error}");
EW_MESSAGE_MANY(exchanged, "desk.limits-exchanged", EW_NOTE,
                "limits exchanged: {alarms} alarm is in force",
                "limits exchanged: {alarms} alarms are in force");
EW_MESSAGE(error_text, "desk.error", EW_CAUTION, "{error}");

/* A book from somebody else drives nothing here. */
static void tell_unused(struct ew_session *live, const struct ew_alarm_table *table) {
  if (!table->outputs->len && !table->heartbeat_line)
    return;
  struct ew_json json = ew_session_news(EW_RECORD_ALARM);
  ew_json_text(&json, "action", "outputs");
  ew_json_integer(&json, "unused", table->outputs->len);
  ew_session_post(live, EW_RECORD_ALARM, &json, ew_message_plain(&outputs_unused));
}

/* Takes the table when it returns TRUE. */
static gboolean put_in_force(struct ew_session *live, struct ew_alarm_table *table,
                             GError **error) {
  if (ew_session_in_pull(live))
    return ew_refuse(error, "a pull is under way: limits are locked until it ends");
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
  g_autoptr(ew_message) why =
      problem ? ew_message(&error_text, ew_say_text("error", problem->message)) : NULL;
  ew_session_write_fact(&json, "why", why);
  ew_json_integer(&json, "watched", table ? (gint64)table->alarms->len : -1);
  ew_session_post(live, EW_RECORD_ALARM, &json,
                  problem ? ew_message(&not_exchanged, ew_say_text("error", problem->message))
                          : ew_message(&exchanged, ew_say_count("alarms", table->alarms->len)));
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

gboolean ew_record_limit_rpm(struct ew_book *book, double *limit_rpm, GError **error) {
  struct ew_desk desk = {0};
  if (!ew_desk_open(&desk, book, error))
    return FALSE;
  *limit_rpm = fmin(desk.engine.agreed_limit_rpm, desk.bench.limit_rpm); /* NaN: the other */
  ew_desk_clear(&desk);
  return TRUE;
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

char *ew_record_alarms_template(const char **name, GError **error) {
  *name = ew_tr(EW_TEXT("the template"));
  g_autoptr(GBytes) bytes = g_resources_lookup_data("/alarms.yaml", 0, error);
  return bytes ? g_strndup(g_bytes_get_data(bytes, NULL), g_bytes_get_size(bytes)) : NULL;
}

gboolean ew_record_alarms_check(const char *text, const char *name, GError **error) {
  struct ew_alarm_context unknown = {NAN, NAN, NAN, NAN, NAN};
  g_autoptr(ew_node) root = ew_node_parse(name, text, strlen(text), error);
  g_autoptr(ew_alarm_table) table = root ? ew_alarm_table_read(root, name, &unknown, error) : NULL;
  return table != NULL;
}

gboolean ew_record_alarms(const char *book_path, const char *given, char **text, const char **name,
                          GError **error) {
  *text = NULL;
  *name = given ? given : ew_tr(EW_TEXT("the book's alarms"));
  if (given && strcmp(given, "none") == 0)
    return TRUE;
  g_autoptr(GError) problem = NULL;
  if (given)
    return g_file_get_contents(given, text, NULL, &problem) ||
           ew_refuse(error, "--alarms: %s", problem->message);
  g_autoptr(ew_book) book =
      g_file_test(book_path, G_FILE_TEST_EXISTS) ? ew_book_open(book_path, FALSE, error) : NULL;
  if ((!book && g_file_test(book_path, G_FILE_TEST_EXISTS)) ||
      (book && !ew_setting_get(book, "alarms", text, error)))
    return FALSE;
  if (*text)
    return TRUE;
  *text = ew_record_alarms_template(name, error);
  return *text != NULL;
}

static gboolean open_own_curves(struct ew_session *live, struct ew_book *book, GError **error) {
  g_autofree char *key = ew_own_curves_key(live->engine_id);
  g_autofree char *known = NULL;
  if (!ew_setting_get(book, key, &known, error))
    return FALSE;
  live->own = ew_own_curves_new();
  if (known && !ew_own_curves_from_json(live->own, known)) {
    ew_own_curves_free(live->own); /* written by another version: they are learned again */
    live->own = ew_own_curves_new();
  }
  return TRUE;
}

gboolean ew_session_open_alarms(struct ew_session *live, struct ew_book *book, GError **error) {
  const char *yaml = live->options->alarms_yaml, *name = live->options->alarms_name;
  g_autofree char *usual = NULL;
  if (!yaml && !name) {
    if (!ew_record_alarms(live->options->book_path, NULL, &usual, &name, error))
      return FALSE;
    yaml = usual;
  }
  if (!settle_context(live, book, error) || !open_own_curves(live, book, error))
    return FALSE;
  if (!yaml)
    return TRUE; /* none watched; a table may be put in force later */
  g_autoptr(ew_node) root = ew_node_parse(name, yaml, strlen(yaml), error);
  struct ew_alarm_table *table =
      root ? ew_alarm_table_read(root, name, &live->context, error) : NULL;
  return table && put_in_force(live, table, error);
}

EW_MESSAGE(needs_limit, "desk.needs-limit", EW_CAUTION, "the speed limit of the session");
EW_MESSAGE(needs_rate, "desk.needs-rate", EW_CAUTION, "the rate of the sweeps");
EW_MESSAGE(needs_rating, "desk.needs-rating", EW_CAUTION, "the absorber's rating: the cell's file");
static const struct ew_message_kind *const needs[EW_ALARM_SHARES_END] = {
    [EW_ALARM_OF_LIMIT] = &needs_limit,
    [EW_ALARM_OF_RATE] = &needs_rate,
    [EW_ALARM_OF_LARGEST_TORQUE] = &needs_rating,
    [EW_ALARM_OF_LARGEST_SPEED] = &needs_rating,
    [EW_ALARM_OF_LARGEST_POWER] = &needs_rating};
EW_MESSAGE(asleep, "desk.alarm-asleep", EW_CAUTION, "{name} (needs {needs})");
EW_MESSAGE(no_alarms, "desk.no-alarms", EW_CAUTION, "all: no alarms are in force");
EW_MESSAGE(these_sleep, "desk.alarms-asleep", EW_CAUTION, "these alarms are not active: {alarms}");
EW_MESSAGE(nothing_watched, "desk.nothing-watched", EW_CAUTION, "no alarms are watched");

GPtrArray *ew_session_asleep(const struct ew_session *live) {
  const struct ew_alarm_table *t = live->alarms ? ew_alarms_table(live->alarms) : NULL;
  GPtrArray *list = ew_messages_new();
  if (!t)
    ew_messages_add(list, ew_message_plain(&no_alarms));
  for (guint i = 0; t && i < t->alarms->len; i++) {
    const struct ew_alarm_spec *a = &g_array_index(t->alarms, struct ew_alarm_spec, i);
    if (a->lacks != EW_ALARM_OF_NOTHING)
      ew_messages_add(list, ew_message(&asleep, ew_say_term("name", a->name),
                                       ew_say_word("needs", needs[a->lacks])));
  }
  return list;
}

void ew_session_tell_asleep(struct ew_session *live) {
  g_autoptr(GPtrArray) list = ew_session_asleep(live);
  if (list->len == 0)
    return;
  struct ew_json json = ew_session_news(EW_RECORD_ALARM);
  ew_json_text(&json, "action", "asleep");
  ew_messages_write_json(list, "asleep", EW_UNITS_SI, &json);
  ew_session_post(live, EW_RECORD_ALARM, &json,
                  live->alarms ? ew_message(&these_sleep, ew_say_messages("alarms", list))
                               : ew_message_plain(&nothing_watched));
}
