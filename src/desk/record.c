#include "desk/record.h"
#include "base/error.h"
#include "cell/alarm.h"
#include "cell/live_channels.h"
#include "cell/outputs.h"
#include "cell/pull_watch.h"
#include "cell/sensor.h"
#include "cell/session_clock.h"
#include "desk/record_gate.h"
#include "desk/record_pulls.h"
#include "desk/record_store.h"
#include <errno.h>
#include <gio/gio.h>
#include <fcntl.h>
#include <math.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/resource.h>
#include <unistd.h>

#define SILENT_S  0.2  /* in a pull: no sample for so long, and all of the source counts as lost */
#define AROUND_S  5.0  /* samples to look at around a trip */
#define LEAD_S    4.0  /* kept before a pull */
#define LOOK_S    0.05 /* the longest sleep of the live thread */
#define RING_MOST (32u << 20) /* doubles of one pull under way */
#define DECISIONS 65536u
#define NEWS_MOST 20000

static const char *const event_names[] = {
#define X(name, says) says,
    EW_RECORD_NEWS(X)
#undef X
};

struct live;

/* One source and what is known of it now. */
struct feed {
  struct live *live;
  struct ew_source *source;
  struct ew_section *section; /* NULL before the first header */
  struct ew_sensor_plan plan;
  struct ew_source_channels known; /* with calibrated names and units */
  double *figures;                 /* of the row at hand, calibrated */
  GArray *channels;                /* struct ew_live_channel */
  int speed, throttle, torque, oil_pressure, oil_temperature, coolant, manifold;
  struct ew_pull_watch watch;
  gboolean by_hand; /* a pull was begun by hand */
  char *not_armed;  /* of the pull under way */
  gsize ring_old;   /* rows at its begin that no cut needs */
  guint64 rows;
  GArray *ring; /* double: the last rows, for the next cut */
  double last_s, period_s;
  double arrival_s, burst_s; /* burst: longest wait for news */
  struct ew_sender_clock clock;
  gboolean anew;  /* its channels are new: its clock may be another one */
  double *inside; /* of the row at hand, in inside units */
};

struct live {
  const struct ew_record_options *options;
  ew_record_says says;
  gpointer user;
  GPtrArray *feeds;
  struct ew_store *store;
  struct ew_pull_shop *shop;
  struct ew_gate *gate;
  GAsyncQueue *news; /* struct posted*; one without text ends the thread */
  GThread *printer;
  GArray *decisions; /* seconds from arrival to the end of the decision */
  guint next_decision;
  GString *control;
  gboolean control_ended; /* nobody writes there any more */
  gboolean stop;
  struct ew_alarms *alarms; /* NULL: none */
  struct ew_own_curves *own;
  struct ew_outputs *outputs;
  struct ew_alarm_context context;
  struct ew_sensors *sensors; /* NULL: none */
  gint64 engine_id;
  GArray *trips, *near;
  struct ew_session_clock clock; /* the alarms go by it */
  double beat_s;
};

/* ---- news ---- */

struct posted {
  enum ew_record_event event;
  char *json, *text;
};

static gpointer print_news(gpointer user) {
  struct live *live = user;
  for (;;) {
    struct posted *one = g_async_queue_pop(live->news);
    gboolean last = !one->json;
    if (!last)
      live->says(&(struct ew_record_news){one->event, one->json, one->text}, live->user);
    g_free(one->json);
    g_free(one->text);
    g_free(one);
    if (last)
      return NULL;
  }
}

static struct ew_json begin_news(enum ew_record_event event) {
  struct ew_json json = {.text = g_string_new(NULL)};
  g_autofree char *now = ew_time_now();
  ew_json_open(&json, NULL);
  ew_json_text(&json, "event", event_names[event]);
  ew_json_text(&json, "at", now);
  return json;
}

/* A reader that has fallen far behind: what later news tell again is left out, and rubbish is not
 * heaped up; alarms, pulls, gaps and storage are always told. */
static gboolean may_be_left_out(const struct live *live, enum ew_record_event event) {
  return (event == EW_RECORD_COMMIT || event == EW_RECORD_SOURCE) &&
         g_async_queue_length(live->news) > NEWS_MOST;
}

/* Takes the JSON and the text. */
static void post(struct live *live, enum ew_record_event event, struct ew_json *json, char *text) {
  ew_json_close(json);
  if (may_be_left_out(live, event)) {
    g_string_free(json->text, TRUE);
    g_free(text);
    return;
  }
  struct posted *one = g_new0(struct posted, 1);
  one->event = event;
  one->json = g_string_free(json->text, FALSE);
  one->text = text;
  g_async_queue_push(live->news, one);
}

static void store_says(enum ew_store_news news, const struct ew_section *s, const char *why,
                       gpointer user) {
  struct live *live = user;
  enum ew_record_event event = news == EW_STORE_COMMIT ? EW_RECORD_COMMIT : EW_RECORD_STORAGE;
  struct ew_json json = begin_news(event);
  char *text = NULL;
  if (s) {
    ew_json_text(&json, "source", s->source);
    ew_json_integer(&json, "recording", s->recording_id);
    ew_json_integer(&json, "stored_rows", s->stored_rows);
    ew_json_number(&json, "last_good_s", s->stored_s);
  }
  if (event == EW_RECORD_STORAGE) {
    ew_json_boolean(&json, "good", news == EW_STORE_GOOD_AGAIN || news == EW_STORE_FAST_AGAIN);
    ew_json_text(&json, "state", ew_store_news_words[news]);
    ew_json_text(&json, "why", why);
    text = news == EW_STORE_GOOD_AGAIN ? g_strdup("storing again; nothing that was waiting is lost")
           : news == EW_STORE_FAST_AGAIN ? g_strdup_printf("the disk keeps up again; %s", why)
           : news == EW_STORE_SLOW       ? g_strdup_printf("NOT STORED YET: %s", why)
                                         : g_strdup_printf("NOT STORED: %s", why);
  }
  post(live, event, &json, text);
}

static void pull_says(const struct ew_pull_result *r, gpointer user) {
  struct live *live = user;
  struct ew_json json = begin_news(EW_RECORD_PULL);
  ew_json_integer(&json, "recording", r->cut->recording_id);
  ew_json_number(&json, "from_s", r->cut->from_s);
  ew_json_number(&json, "to_s", r->cut->to_s);
  ew_json_boolean(&json, "found", r->pull_id != 0);
  ew_json_boolean(&json, "armed", r->cut->not_armed == NULL);
  GString *text = g_string_new(NULL);
  if (r->curve) {
    gsize peak = ew_curve_peak(r->curve, r->curve->torque_n_m);
    ew_json_integer(&json, "pull", r->pull_id);
    ew_json_number(&json, "low_rpm", r->curve->low_rpm);
    ew_json_number(&json, "high_rpm", r->curve->high_rpm);
    ew_json_number(&json, "band_mean_n_m", r->curve->band_mean_n_m);
    ew_json_number(&json, "most_torque_n_m", r->curve->torque_n_m[peak]);
    g_string_append_printf(text, "pull %" G_GINT64_FORMAT ": %.0f to %.0f rpm, mean %.1f N·m",
                           r->pull_id, r->curve->low_rpm, r->curve->high_rpm,
                           r->curve->band_mean_n_m);
  } else
    g_string_append(text, "no pull");
  ew_json_text(&json, "near", r->cut->near_json);
  ew_json_text(&json, "verdict", r->verdict);
  ew_json_integer(&json, "against", r->against);
  ew_json_text(&json, "says", r->line);
  ew_json_text(&json, "why", r->why);
  ew_json_number(&json, "after_s", r->after_s);
  if (r->line || r->why)
    g_string_append_printf(text, "; %s", r->line ? r->line : r->why);
  post(live, EW_RECORD_PULL, &json, g_string_free(text, FALSE));
}

/* ---- alarms ---- */

/* The feed that brings what was watched; the one at hand when several do, or it does. */
static const struct feed *whose(const struct feed *at_hand, const struct ew_alarm_trip *trip) {
  enum ew_channel channel = trip->alarm->watch.channel;
  const struct feed *found = NULL;
  for (guint i = 0; i < at_hand->live->feeds->len; i++) {
    const struct feed *f = g_ptr_array_index(at_hand->live->feeds, i);
    for (guint c = 0; f->section && c < f->channels->len; c++)
      if (g_array_index(f->channels, struct ew_live_channel, c).channel == channel)
        found = f == at_hand || !found ? f : found;
  }
  return found ? found : at_hand;
}

static void tell_trip(struct feed *f, const struct ew_alarm_trip *trip) {
  const struct ew_alarm_spec *a = trip->alarm;
  const char *action = ew_alarm_action_names[a->action];
  struct ew_json json = begin_news(EW_RECORD_ALARM);
  ew_json_text(&json, "name", a->name);
  ew_json_text(&json, "action", action);
  ew_json_text(&json, "says", a->says);
  ew_json_text(&json, "watch", a->watch_text);
  ew_json_number(&json, "value", trip->value);
  ew_json_number(&json, "bound", trip->bound);
  ew_json_text(&json, "unit", ew_kind_si(a->watch.kind));
  const struct feed *home = whose(f, trip);
  double time_s = trip->time_s - home->clock.offset_s;
  ew_json_number(&json, "time_s", time_s);
  ew_json_number(&json, "held_s", trip->held_s);
  ew_json_number(&json, "decided_after_s", ew_monotonic_s() - f->arrival_s);
  ew_json_text(&json, "source", home->source->url);
  ew_json_boolean(&json, "in_pull", ew_alarms_in_pull(f->live->alarms));
  g_autofree char *value = ew_quantity_format(a->watch.kind, EW_UNITS_SI, trip->value, 2);
  g_autofree char *bound = ew_quantity_format(a->watch.kind, EW_UNITS_SI, trip->bound, 2);
  g_autofree char *loud = g_ascii_strup(action, -1), *do_this = g_utf8_strup(a->says, -1);
  post(f->live, EW_RECORD_ALARM, &json,
       g_strdup_printf("%s: %s (%s: %s, limit %s, at %.2f s)", loud, do_this, a->name, value, bound,
                       time_s));
}

static void take_trips(struct feed *f) {
  struct live *live = f->live;
  for (guint i = 0; i < live->trips->len; i++) {
    const struct ew_alarm_trip *trip = &g_array_index(live->trips, struct ew_alarm_trip, i);
    if (trip->alarm->action == EW_ALARM_SHUT_DOWN)
      ew_outputs_ask(live->outputs); /* before anything is said */
    const struct feed *home = whose(f, trip);
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
static void decide(struct feed *f, double session_s) {
  struct live *live = f->live;
  for (guint i = 0; i < f->channels->len; i++) {
    const struct ew_live_channel *one = &g_array_index(f->channels, struct ew_live_channel, i);
    if (one->channel < EW_CHANNELS_COUNT)
      ew_alarms_set(live->alarms, one->channel, one->index, f->inside[i]);
  }
  ew_alarms_step(live->alarms, session_s, live->trips);
  if (live->trips->len)
    take_trips(f);
  ew_outputs_step(live->outputs, ew_alarms_table(live->alarms), ew_alarms_speed(live->alarms));
}

/* Nothing came for longer than this source ever made us wait: in a pull, all of it is lost. */
static void watch_silence(struct feed *f, double now_s) {
  double patience = fmax(fmax(SILENT_S, 3 * f->period_s), 2 * f->burst_s);
  if (!f->live->alarms || !f->section || !f->watch.in_pull || f->source->ended ||
      !(now_s - f->arrival_s > patience))
    return;
  for (guint i = 0; i < f->channels->len; i++)
    f->inside[i] = NAN;
  f->live->clock.now_s =
      fmax(f->live->clock.now_s, f->last_s + f->clock.offset_s + now_s - f->arrival_s);
  decide(f, f->live->clock.now_s);
}

static void output_says(const char *name, gboolean done, const char *why, gpointer user) {
  struct ew_json json = begin_news(EW_RECORD_REQUEST);
  ew_json_text(&json, "name", name);
  ew_json_boolean(&json, "done", done);
  ew_json_text(&json, "why", why);
  post(user, EW_RECORD_REQUEST, &json,
       done ? g_strdup_printf("asked for: %s", name)
            : g_strdup_printf("COULD NOT ASK FOR: %s: %s", name, why));
}

static gboolean send_line(const char *line, gpointer user) {
  struct live *live = user;
  gboolean sent = FALSE;
  for (guint i = 0; i < live->feeds->len; i++) {
    struct ew_source *source = ((struct feed *)g_ptr_array_index(live->feeds, i))->source;
    sent |= ew_source_takes_requests(source) && ew_source_send(source, line);
  }
  return sent;
}

static void heartbeat(struct live *live, double now_s) {
  const struct ew_alarm_table *table = live->alarms ? ew_alarms_table(live->alarms) : NULL;
  if (!table || isnan(table->heartbeat_s) || now_s < live->beat_s)
    return;
  send_line(table->heartbeat_line, live);
  live->beat_s = now_s + table->heartbeat_s;
}

static void clear_alarms(struct live *live, const char *name) {
  if (!live->alarms)
    return;
  guint cleared = ew_alarms_clear(live->alarms, strcmp(name, "all") ? name : NULL);
  guint left = ew_alarms_tripped(live->alarms);
  if (left == 0)
    ew_outputs_reset(live->outputs);
  struct ew_json json = begin_news(EW_RECORD_ALARM);
  ew_json_text(&json, "action", "clear");
  ew_json_integer(&json, "cleared", cleared);
  ew_json_integer(&json, "standing", left);
  post(live, EW_RECORD_ALARM, &json,
       g_strdup_printf("%u alarms cleared; %u stand, since what they watch is still beyond its "
                       "limit or they were not named",
                       cleared, left));
}

static void exchange_alarms(struct live *live, const char *path) {
  g_autoptr(GError) problem = NULL;
  g_autoptr(ew_node) root = ew_node_read(path, &problem);
  struct ew_alarm_table *table =
      root ? ew_alarm_table_read(root, path, &live->context, &problem) : NULL;
  if (table && live->alarms && !ew_alarms_replace(live->alarms, table, &problem))
    ew_alarm_table_free(table);
  struct ew_json json = begin_news(EW_RECORD_ALARM);
  ew_json_text(&json, "action", "exchange");
  ew_json_text(&json, "why", problem ? problem->message : NULL);
  post(live, EW_RECORD_ALARM, &json,
       problem ? g_strdup_printf("limits are as they were: %s", problem->message)
               : g_strdup("limits exchanged"));
}

static char *near_json(const GArray *near) {
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

/* ---- arming ---- */

static double inside_of(const struct feed *feed, int column) {
  return column < 0 ? (double)NAN : feed->inside[column];
}

/* Neither a practice engine nor a recording played again is the engine that was built. */
static gboolean loads_an_engine(const struct feed *f) {
  return !g_str_has_prefix(f->source->url, "practice:") &&
         !g_str_has_prefix(f->source->url, "replay:");
}

/* What must be there, and in its window, before a pull counts; common practice, no source. NULL when
 * it is all there. */
static char *why_not_armed(const struct feed *f) {
  char *open = loads_an_engine(f) ? ew_gate_why(f->live->gate) : NULL;
  if (open)
    return open;
  const struct {
    const char *name;
    int column;
  } must[] = {{"engine speed", f->speed}, {"torque", f->torque}, {"oil pressure", f->oil_pressure}};
  for (gsize i = 0; i < G_N_ELEMENTS(must); i++)
    if (isnan(inside_of(f, must[i].column)))
      return g_strdup_printf("%s is missing", must[i].name);
  if (isnan(inside_of(f, f->throttle)) && isnan(inside_of(f, f->manifold)))
    return g_strdup("throttle position and manifold pressure are missing: one is needed");
  double oil = inside_of(f, f->oil_temperature) - 273.15;
  double coolant = inside_of(f, f->coolant) - 273.15;
  if (oil < 75 || oil > 120)
    return g_strdup_printf("oil stands at %.0f °C: 75 to 120 °C is wanted", oil);
  if (coolant < 60 || coolant > 95)
    return g_strdup_printf("coolant stands at %.0f °C: 60 to 95 °C is wanted", coolant);
  return NULL;
}

static gboolean any_loads_an_engine(const struct live *live) {
  for (guint i = 0; i < live->feeds->len; i++)
    if (loads_an_engine(g_ptr_array_index(live->feeds, i)))
      return TRUE;
  return FALSE;
}

/* From the gate's thread: at the start, and when the build record has changed the answer. */
static void gate_says(const char *why, gpointer user) {
  struct live *live = user;
  if (!any_loads_an_engine(live))
    return;
  struct ew_json json = begin_news(EW_RECORD_ARMING);
  ew_json_boolean(&json, "armed", FALSE);
  ew_json_boolean(&json, "record_open", why != NULL);
  ew_json_text(&json, "why", why);
  post(live, EW_RECORD_ARMING, &json,
       why ? g_strdup_printf("PULLS WILL NOT BE ARMED: %s", why)
           : g_strdup("the build record has no step open before load any more: pulls can be "
                      "armed"));
}

static void tell_arming(struct feed *f) {
  struct ew_json json = begin_news(EW_RECORD_ARMING);
  ew_json_text(&json, "source", f->section->source);
  ew_json_boolean(&json, "armed", f->not_armed == NULL);
  ew_json_text(&json, "why", f->not_armed);
  post(f->live, EW_RECORD_ARMING, &json,
       f->not_armed
           ? g_strdup_printf("this pull is not armed and will not be judged: %s", f->not_armed)
           : g_strdup("armed: pull under way"));
}

/* ---- pulls ---- */

static void trim_ring(struct feed *f, double time_s) {
  gsize columns = f->section->columns, rows = f->ring->len / columns;
  const double *times = (const double *)(void *)f->ring->data;
  while (f->ring_old < rows && times[f->ring_old * columns] < time_s - LEAD_S)
    f->ring_old++;
  if (f->ring_old <= rows / 2 || f->ring_old < 64)
    return;
  g_array_remove_range(f->ring, 0, (guint)(f->ring_old * columns));
  f->ring_old = 0;
}

static void cut_pull(struct feed *f, double from_s, double to_s) {
  struct ew_section *s = f->section;
  struct ew_pull_cut *cut = g_new0(struct ew_pull_cut, 1);
  cut->stream = &s->recording_id;
  cut->headings = ew_stream_headings_of(f->known.names, f->known.units, s->channels);
  cut->columns = s->columns;
  cut->rows = f->ring; /* handed over, not copied: this thread has alarms to decide */
  cut->skip = f->ring_old;
  f->ring = g_array_new(FALSE, FALSE, sizeof(double));
  f->ring_old = 0;
  cut->from_s = from_s;
  cut->to_s = to_s;
  cut->ended_s = ew_monotonic_s();
  cut->not_armed = g_steal_pointer(&f->not_armed);
  cut->engine_id = f->live->engine_id;
  if (f->live->alarms) {
    g_array_set_size(f->live->near, 0);
    ew_alarms_end_pull(f->live->alarms, TRUE, f->live->near);
    cut->near_json = near_json(f->live->near);
    cut->own = ew_own_curves_copy(f->live->own);
  }
  ew_pull_shop_push(f->live->shop, cut);
}

static void begin_pull(struct feed *f) {
  g_free(f->not_armed);
  f->not_armed = why_not_armed(f);
  if (f->live->alarms)
    ew_alarms_begin_pull(f->live->alarms, f->live->clock.now_s);
  tell_arming(f);
}

static void watch_pulls(struct feed *f, double time_s, const double *values) {
  gboolean whole = f->speed >= 0 && (f->throttle >= 0 || f->torque >= 0);
  if (!whole && !f->by_hand)
    return;
  if (f->ring->len < RING_MOST) {
    g_array_append_val(f->ring, time_s);
    g_array_append_vals(f->ring, values, f->section->channels);
  }
  enum ew_pull_news news =
      f->live->options->by_hand
          ? EW_PULL_NOTHING
          : ew_pull_watch_step(&f->watch, time_s, inside_of(f, f->speed), inside_of(f, f->throttle),
                               inside_of(f, f->torque));
  if (news == EW_PULL_BEGAN)
    begin_pull(f);
  else if (news == EW_PULL_ENDED)
    cut_pull(f, f->watch.from_s, f->watch.to_s);
  else if (news == EW_PULL_DROPPED && f->live->alarms)
    ew_alarms_end_pull(f->live->alarms, FALSE, NULL);
  if (!f->watch.in_pull && !f->by_hand)
    trim_ring(f, time_s);
}

/* ---- what sources say ---- */

static void end_section(struct feed *f, const char *how) {
  if (!f->section)
    return;
  if (f->watch.in_pull)
    cut_pull(f, f->watch.from_s, f->last_s);
  ew_store_end_section(f->live->store, f->section, how);
  f->section = NULL;
}

static void tell_channels(struct feed *f) {
  struct ew_json json = begin_news(EW_RECORD_CHANNELS);
  guint known = 0;
  ew_json_text(&json, "source", f->section->source);
  ew_json_open_array(&json, "channels");
  for (guint i = 0; i < f->channels->len; i++) {
    const struct ew_live_channel *one = &g_array_index(f->channels, struct ew_live_channel, i);
    gboolean is = one->channel < EW_CHANNELS_COUNT;
    known += is;
    ew_json_open(&json, NULL);
    ew_json_text(&json, "name", f->known.names[i]);
    ew_json_text(&json, "unit", f->known.units[i]);
    ew_json_boolean(&json, "calibrated", f->plan.sensors[i] != NULL);
    ew_json_text(&json, "channel", is ? ew_channel_facts[one->channel].key : NULL);
    ew_json_boolean(&json, "unit_guessed", one->guessed);
    ew_json_close(&json);
  }
  ew_json_close_array(&json);
  post(f->live, EW_RECORD_CHANNELS, &json,
       g_strdup_printf("%s: %u channels, %u of them known here", f->section->source,
                       f->channels->len, known));
}

static void on_head(gpointer user, const struct ew_source_channels *channels) {
  struct feed *f = user;
  end_section(f, "header changed");
  f->section = ew_store_section(f->live->store, f->source->url, channels);
  if (f->channels)
    g_array_unref(f->channels);
  ew_sensor_plan_clear(&f->plan);
  ew_source_channels_clear(&f->known);
  ew_sensor_plan_make(f->live->sensors, channels, &f->plan);
  ew_sensor_plan_channels(&f->plan, channels, &f->known);
  g_free(f->figures);
  f->figures = g_new0(double, channels->count + 1);
  f->channels = ew_live_channels(&f->known, NULL);
  const struct {
    int *column;
    enum ew_channel channel;
  } wanted[] = {{&f->speed, EW_CHANNEL_SPEED},
                {&f->throttle, EW_CHANNEL_THROTTLE},
                {&f->torque, EW_CHANNEL_TORQUE},
                {&f->oil_pressure, EW_CHANNEL_OIL_PRESSURE},
                {&f->oil_temperature, EW_CHANNEL_OIL_TEMPERATURE},
                {&f->coolant, EW_CHANNEL_COOLANT_TEMPERATURE},
                {&f->manifold, EW_CHANNEL_MANIFOLD_PRESSURE}};
  for (gsize i = 0; i < G_N_ELEMENTS(wanted); i++)
    *wanted[i].column = ew_live_find(f->channels, wanted[i].channel, 0);
  g_free(f->inside);
  f->inside = g_new0(double, channels->count + 1);
  g_array_set_size(f->ring, 0);
  f->ring_old = 0;
  ew_pull_watch_reset(&f->watch);
  f->watch.most_n_m = 0;
  f->last_s = f->period_s = NAN;
  f->anew = f->clock.known;
  tell_channels(f);
  if (f->live->options->sensors_yaml) { /* raw is stored: how it was read stands beside it */
    g_autofree char *text = g_strconcat("sensors\n", f->live->options->sensors_yaml, NULL);
    ew_store_mark(f->live->store, f->section, 0, text);
  }
}

static void tell_gap(struct feed *f, double from_s, double to_s) {
  struct ew_json json = begin_news(EW_RECORD_GAP);
  ew_json_text(&json, "source", f->section->source);
  ew_json_number(&json, "from_s", from_s);
  ew_json_number(&json, "to_s", to_s);
  ew_json_number(&json, "length_s", to_s - from_s);
  post(f->live, EW_RECORD_GAP, &json,
       g_strdup_printf("gap: %s gave nothing from %.3f to %.3f s", f->section->source, from_s,
                       to_s));
}

/* A gap is more than five usual intervals and more than half a second. */
static void watch_gap(struct feed *f, double time_s) {
  double step = time_s - f->last_s;
  if (step > 0.5 && step > 5 * f->period_s)
    tell_gap(f, f->last_s, time_s);
  else if (step > 0)
    f->period_s = isnan(f->period_s) ? step : f->period_s + 0.05 * (step - f->period_s);
  f->last_s = time_s;
}

static void note_decision(struct live *live, double took_s) {
  if (live->decisions->len < DECISIONS)
    g_array_append_val(live->decisions, took_s);
  else
    g_array_index(live->decisions, double, live->next_decision++ % DECISIONS) = took_s;
}

/* When it is by the session's clock. */
static double settle_clock(struct feed *f, double time_s, double arrival_s) {
  double session_s = ew_session_clock_step(&f->live->clock, &f->clock, time_s, arrival_s, f->anew);
  f->anew = FALSE;
  if (!isnan(f->arrival_s) && !f->watch.in_pull)
    f->burst_s = fmax(f->burst_s * 0.9999, arrival_s - f->arrival_s);
  f->arrival_s = arrival_s;
  return session_s;
}

static void on_frame(gpointer user, double time_s, double arrival_s, const double *values) {
  struct feed *f = user;
  double session_s = settle_clock(f, time_s, arrival_s);
  ew_sensor_plan_apply(&f->plan, values, f->figures);
  for (guint i = 0; i < f->channels->len; i++) {
    const struct ew_live_channel *one = &g_array_index(f->channels, struct ew_live_channel, i);
    f->inside[i] = ew_to_inside(one->unit, f->figures[i]);
  }
  if (f->live->alarms)
    decide(f, session_s);
  note_decision(f->live, ew_monotonic_s() - arrival_s);
  f->rows++;
  watch_gap(f, time_s);
  ew_store_append(f->live->store, f->section, time_s, arrival_s, values);
  watch_pulls(f, time_s, f->figures);
  if (f->live->options->sees)
    f->live->options->sees(f->channels, time_s, f->inside, f->live->user);
  if (f->live->options->watches)
    f->live->options->watches(f->live->alarms, session_s, f->live->user);
}

static void on_event(gpointer user, enum ew_source_event event, const char *text) {
  struct feed *f = user;
  struct ew_json json = begin_news(EW_RECORD_SOURCE);
  ew_json_text(&json, "source", f->source->url);
  ew_json_text(&json, "what", ew_source_event_names[event]);
  ew_json_text(&json, "text", text);
  post(f->live, EW_RECORD_SOURCE, &json,
       g_strdup_printf("%s: %s: %s", f->source->url, ew_source_event_names[event], text));
}

/* ---- the control line ---- */

static void by_hand(struct feed *f, gboolean begin) {
  if (!f->section || begin == f->by_hand)
    return;
  f->by_hand = begin;
  if (begin) {
    f->watch.from_s = f->last_s;
    begin_pull(f);
  } else
    cut_pull(f, f->watch.from_s, f->last_s);
}

static void mark(struct live *live, const char *text) {
  for (guint i = 0; i < live->feeds->len; i++) {
    struct feed *f = g_ptr_array_index(live->feeds, i);
    if (!f->section)
      continue;
    ew_store_mark(live->store, f->section, f->last_s, text);
    struct ew_json json = begin_news(EW_RECORD_MARK);
    ew_json_text(&json, "source", f->section->source);
    ew_json_number(&json, "time_s", f->last_s);
    ew_json_text(&json, "text", text);
    post(live, EW_RECORD_MARK, &json, g_strdup_printf("mark at %.2f s: %s", f->last_s, text));
  }
}

/* mark TEXT, begin, end (a pull by hand), send TEXT, clear NAME, clear all, alarms FILE, stop */
static void control_line(struct live *live, char *line) {
  g_strstrip(line);
  if (g_str_has_prefix(line, "mark "))
    mark(live, line + 5);
  else if (g_str_has_prefix(line, "send "))
    for (guint i = 0; i < live->feeds->len; i++)
      ew_source_send(((struct feed *)g_ptr_array_index(live->feeds, i))->source, line + 5);
  else if (strcmp(line, "begin") == 0 || strcmp(line, "end") == 0)
    for (guint i = 0; i < live->feeds->len; i++)
      by_hand(g_ptr_array_index(live->feeds, i), line[0] == 'b');
  else if (g_str_has_prefix(line, "clear "))
    clear_alarms(live, g_strstrip(line + 6));
  else if (g_str_has_prefix(line, "alarms "))
    exchange_alarms(live, g_strstrip(line + 7));
  else if (strcmp(line, "stop") == 0)
    live->stop = TRUE;
}

static void read_control(struct live *live) {
  char bytes[4096];
  gssize got = read(live->options->control_fd, bytes, sizeof bytes);
  live->control_ended = got == 0 || live->control->len > 65536;
  if (got <= 0 || live->control_ended)
    return;
  g_string_append_len(live->control, bytes, got);
  for (char *end; (end = memchr(live->control->str, '\n', live->control->len));) {
    g_autofree char *line = g_strndup(live->control->str, (gsize)(end - live->control->str));
    g_string_erase(live->control, 0, end - live->control->str + 1);
    control_line(live, line);
  }
}

/* ---- the session ---- */

static struct ew_source *open_replay(const char *url, GError **error) {
  const char *rest = url + strlen("replay:"), *hash = strrchr(rest, '#');
  double speed;
  if (!hash || !ew_url_number(hash, "speed", 1, 1, 100, &speed, error)) {
    if (!hash)
      ew_refuse(error, "source '%s': write replay:BOOK#RECORDING?speed=1", url);
    return NULL;
  }
  g_autofree char *path = g_strndup(rest, (gsize)(hash - rest));
  g_autoptr(ew_book) book = ew_book_open(path, FALSE, error);
  struct ew_recording_row row = {0};
  if (!book || !ew_recording_get(book, g_ascii_strtoll(hash + 1, NULL, 10), &row, error))
    return NULL;
  struct ew_source *source = ew_source_replay(url, row.bytes, speed, error);
  ew_recording_row_clear(&row);
  return source;
}

static void feed_free(struct feed *f) {
  ew_source_close(f->source);
  if (f->channels)
    g_array_unref(f->channels);
  g_array_unref(f->ring);
  g_free(f->inside);
  g_free(f->figures);
  ew_sensor_plan_clear(&f->plan);
  ew_source_channels_clear(&f->known);
  g_free(f->not_armed);
  g_free(f);
}

static gboolean open_feeds(struct live *live, GError **error) {
  for (int i = 0; live->options->sources[i]; i++) {
    const char *url = live->options->sources[i];
    struct ew_source *source =
        g_str_has_prefix(url, "replay:") ? open_replay(url, error) : ew_source_open(url, error);
    if (!source)
      return FALSE;
    struct feed *f = g_new0(struct feed, 1);
    f->live = live;
    f->source = source;
    f->ring = g_array_new(FALSE, FALSE, sizeof(double));
    f->last_s = f->arrival_s = f->period_s = NAN;
    ew_pull_watch_reset(&f->watch);
    g_ptr_array_add(live->feeds, f);
  }
  return live->feeds->len > 0 ||
         ew_refuse(error, "--source is needed: where do samples come from?");
}

/* What a recorder that died left behind: closed, and told with the gap. */
static gboolean recover(struct live *live, struct ew_book *book, GError **error) {
  g_autoptr(GArray) rows = ew_stream_unfinished(book, error);
  g_autofree char *now = ew_time_now();
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_stream_row *row = &g_array_index(rows, struct ew_stream_row, i);
    if (!ew_book_begin(book, error) || !ew_stream_end(book, row->id, "crashed", error) ||
        !ew_book_commit(book, error))
      return FALSE;
    const char *last = row->last_stored_at ? row->last_stored_at : row->began_at;
    struct ew_json json = begin_news(EW_RECORD_RECOVERED);
    ew_json_integer(&json, "recording", row->id);
    ew_json_text(&json, "source", row->source);
    ew_json_integer(&json, "stored_rows", row->rows);
    ew_json_number(&json, "last_s", row->last_s);
    ew_json_text(&json, "gap_from", last);
    ew_json_text(&json, "gap_to", now);
    post(live, EW_RECORD_RECOVERED, &json,
         g_strdup_printf("recording %" G_GINT64_FORMAT " was cut short: its %" G_GINT64_FORMAT
                         " stored rows are kept; nothing was recorded from %.19s to %.19s",
                         row->id, row->rows, last, now));
  }
  return TRUE;
}

static int lock_book(const char *path, GError **error) {
  g_autofree char *name = g_strconcat(path, "-recorder", NULL);
  int file = open(name, O_CREAT | O_RDWR | O_CLOEXEC, 0600);
  if (file >= 0 && flock(file, LOCK_EX | LOCK_NB) == 0)
    return file;
  if (file < 0)
    ew_fail(error, "%s: %s", name, g_strerror(errno));
  else {
    ew_refuse(error, "%s: another recorder is at work on this book", path);
    close(file);
  }
  return -1;
}

static gboolean all_ended(const struct live *live) {
  for (guint i = 0; i < live->feeds->len; i++)
    if (!((struct feed *)g_ptr_array_index(live->feeds, i))->source->ended)
      return FALSE;
  return TRUE;
}

static void wait_for_news(struct live *live) {
  g_autofree struct pollfd *polls = g_new0(struct pollfd, live->feeds->len + 1);
  double now = ew_monotonic_s(), wake = now + LOOK_S;
  for (guint i = 0; i < live->feeds->len; i++) {
    const struct ew_source *source = ((struct feed *)g_ptr_array_index(live->feeds, i))->source;
    polls[i] = (struct pollfd){source->ended ? -1 : source->fd, POLLIN, 0};
    if (!source->ended)
      wake = MIN(wake, source->wake_s);
  }
  polls[live->feeds->len] =
      (struct pollfd){live->control_ended ? -1 : live->options->control_fd, POLLIN, 0};
  double left = MAX(wake - now, 0);
  struct timespec wait = {(time_t)left, (long)((left - floor(left)) * 1e9)};
  ppoll(polls, live->feeds->len + 1, &wait, NULL);
  if (polls[live->feeds->len].revents & (POLLIN | POLLHUP))
    read_control(live);
}

/* Where the system allows it the live thread goes before all others: alarm first. */
static void go_first(int nice) {
  if (setpriority(PRIO_PROCESS, (id_t)gettid(), nice) != 0)
    errno = 0; /* an ordinary user may not; then it is one among equals */
}

static void run(struct live *live, const volatile int *stop) {
  go_first(-10);
  double end_s = ew_monotonic_s() + live->options->for_s;
  while (!*stop && !live->stop && !all_ended(live)) {
    double now = ew_monotonic_s();
    if (now > end_s)
      break;
    for (guint i = 0; i < live->feeds->len; i++) {
      struct feed *f = g_ptr_array_index(live->feeds, i);
      struct ew_source_sink sink = {on_head, on_frame, on_event, f};
      gboolean was = f->source->ended;
      ew_source_read(f->source, &sink, now);
      if (!was && f->source->ended)
        end_section(f, "ended");
      watch_silence(f, ew_monotonic_s());
    }
    heartbeat(live, now);
    ew_store_watch(live->store, now);
    wait_for_news(live);
  }
  for (guint i = 0; i < live->feeds->len; i++)
    end_section(g_ptr_array_index(live->feeds, i), "stopped");
  go_first(0);
}

static int rising(gconstpointer a, gconstpointer b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static double share_of(const GArray *sorted, double share) {
  return sorted->len ? g_array_index(sorted, double, (guint)(share * (sorted->len - 1)))
                     : (double)NAN;
}

static void tell_end(struct live *live, gboolean good, const GArray *durable) {
  struct ew_json json = begin_news(EW_RECORD_END);
  ew_json_open_array(&json, "sources");
  for (guint i = 0; i < live->feeds->len; i++) {
    const struct feed *f = g_ptr_array_index(live->feeds, i);
    ew_json_open(&json, NULL);
    ew_json_text(&json, "source", f->source->url);
    ew_json_integer(&json, "rows", (gint64)f->rows);
    ew_json_number(&json, "rate_hz", 1 / f->period_s);
    ew_json_number(&json, "longest_wait_s", f->burst_s);
    ew_json_number(&json, "late_s", f->clock.late_s);
    ew_json_number(&json, "clock_offset_s", f->clock.offset_s);
    ew_json_close(&json);
  }
  ew_json_close_array(&json);
  g_array_sort(live->decisions, rising);
  ew_json_boolean(&json, "all_stored", good);
  ew_json_number(&json, "decision_p50_s", share_of(live->decisions, 0.5));
  ew_json_number(&json, "decision_p99_s", share_of(live->decisions, 0.99));
  ew_json_number(&json, "durable_p50_s", share_of(durable, 0.5));
  ew_json_number(&json, "durable_p99_s", share_of(durable, 0.99));
  post(live, EW_RECORD_END, &json,
       g_strdup_printf("ended; alarms decided within %.2f ms and rows stored within %.0f ms "
                       "(99 of 100)",
                       1e3 * share_of(live->decisions, 0.99), 1e3 * share_of(durable, 0.99)));
}

static gboolean open_session(struct live *live, gint64 engine_id, GError **error) {
  const struct ew_record_options *o = live->options;
  struct ew_store_options store = {.path = o->book_path, .engine_id = engine_id, .power = o->power};
  struct ew_add_options add = {
      .engine = o->engine, .sets = o->sets, .changed = o->changed, .channel_map = o->channel_map};
  live->store = ew_store_open(&store, store_says, live, error);
  live->shop = live->store ? ew_pull_shop_open(o->book_path, &add, pull_says, live, error) : NULL;
  live->gate = live->shop ? ew_gate_open(o->book_path, engine_id, gate_says, live, error) : NULL;
  if (live->shop && !live->gate)
    ew_pull_shop_close(live->shop);
  return live->gate != NULL;
}

/* What limits may be shares of: the agreed limit, the commanded rate, the absorber's plate. */
static gboolean settle_context(struct live *live, struct ew_book *book, GError **error) {
  struct ew_desk desk = {0};
  if (!ew_desk_open(&desk, book, error))
    return FALSE;
  const struct ew_record_options *o = live->options;
  live->context = (struct ew_alarm_context){
      o->limit_rpm > 0 ? o->limit_rpm : desk.engine.agreed_limit_rpm,
      o->rate_rpm_s > 0 ? o->rate_rpm_s : (double)NAN, desk.bench.largest_torque_n_m,
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

static gboolean open_alarms(struct live *live, struct ew_book *book, GError **error) {
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

static gboolean open_sensors(struct live *live, GError **error) {
  const char *yaml = live->options->sensors_yaml;
  g_autoptr(ew_node) root = yaml ? ew_node_parse("sensors", yaml, strlen(yaml), error) : NULL;
  live->sensors = root ? ew_sensors_read(root, "sensors", error) : NULL;
  return !yaml || live->sensors;
}

/* Alarms that cannot trip for want of a figure are told, not left to be found out. */
static void tell_asleep(struct live *live) {
  const struct ew_alarm_table *t = live->alarms ? ew_alarms_table(live->alarms) : NULL;
  g_autoptr(GString) names = g_string_new(NULL);
  for (guint i = 0; t && i < t->alarms->len; i++) {
    const struct ew_alarm_spec *a = &g_array_index(t->alarms, struct ew_alarm_spec, i);
    if ((a->above_text && isnan(a->above)) || (a->below_text && isnan(a->below)))
      g_string_append_printf(names, "%s%s", names->len ? ", " : "", a->name);
  }
  if (t && !names->len)
    return;
  struct ew_json json = begin_news(EW_RECORD_ALARM);
  ew_json_text(&json, "action", "asleep");
  ew_json_text(&json, "names", t ? names->str : "all");
  post(live, EW_RECORD_ALARM, &json,
       t ? g_strdup_printf("these alarms sleep, since the figure they stand against is not known "
                           "(--limit, --rate, the cell's plate): %s",
                           names->str)
         : g_strdup("no alarms are watched"));
}

static gboolean settle_engine(struct ew_book *book, const char *name, gint64 *id, GError **error) {
  struct ew_engine_row row = {0};
  if (!ew_engine_get(book, name, &row) && name)
    return ew_refuse(error, "--engine '%s': no such engine in this book", name);
  *id = row.id;
  ew_engine_row_clear(&row);
  return TRUE;
}

static void tell_started(struct live *live) {
  struct ew_json json = begin_news(EW_RECORD_STARTED);
  ew_json_text(&json, "durability", live->options->power ? "power" : "process");
  ew_json_open_array(&json, "sources");
  for (int i = 0; live->options->sources[i]; i++)
    ew_json_text(&json, NULL, live->options->sources[i]);
  ew_json_close_array(&json);
  post(live, EW_RECORD_STARTED, &json,
       g_strdup_printf("recording into %s; stored means: it outlives %s", live->options->book_path,
                       live->options->power ? "a power cut" : "this program"));
}

static gboolean run_session(struct live *live, const volatile int *stop, GError **error) {
  g_autoptr(ew_book) book = ew_book_open(live->options->book_path, TRUE, error);
  if (!book || !settle_engine(book, live->options->engine, &live->engine_id, error) ||
      !recover(live, book, error) || !open_sensors(live, error) ||
      !open_alarms(live, book, error) || !open_session(live, live->engine_id, error)) {
    if (live->store)
      ew_store_close(live->store, NULL, NULL);
    return FALSE;
  }
  g_clear_pointer(&book, ew_book_close);
  tell_started(live);
  tell_asleep(live);
  run(live, stop);
  ew_outputs_free(live->outputs); /* what was asked for is done first */
  live->outputs = NULL;
  ew_gate_close(live->gate);
  ew_pull_shop_close(live->shop);
  g_autoptr(GArray) durable = ew_store_latencies(live->store);
  gboolean good = ew_store_close(live->store, "stopped", error);
  tell_end(live, good, durable);
  return good;
}

gboolean ew_record_run(const struct ew_record_options *options, ew_record_says says, gpointer user,
                       const volatile int *stop, GError **error) {
  struct live live = {.options = options, .says = says, .user = user};
  ew_monotonic_s();
  g_autofree char *folder = g_path_get_dirname(options->book_path);
  g_mkdir_with_parents(folder, 0700);
  int lock = lock_book(options->book_path, error);
  if (lock < 0)
    return FALSE;
  live.feeds = g_ptr_array_new_with_free_func((GDestroyNotify)feed_free);
  live.news = g_async_queue_new();
  live.decisions = g_array_new(FALSE, FALSE, sizeof(double));
  live.control = g_string_new(NULL);
  live.trips = g_array_new(FALSE, FALSE, sizeof(struct ew_alarm_trip));
  live.near = g_array_new(FALSE, FALSE, sizeof(struct ew_alarm_near));
  live.printer = g_thread_new("news", print_news, &live);
  gboolean good = open_feeds(&live, error) && run_session(&live, stop, error);
  g_async_queue_push(live.news, g_new0(struct posted, 1));
  g_thread_join(live.printer);
  g_async_queue_unref(live.news);
  g_ptr_array_unref(live.feeds);
  ew_outputs_free(live.outputs);
  ew_sensors_free(live.sensors);
  ew_alarms_free(live.alarms);
  ew_own_curves_free(live.own);
  g_array_unref(live.trips);
  g_array_unref(live.near);
  g_array_unref(live.decisions);
  g_string_free(live.control, TRUE);
  close(lock);
  return good;
}
