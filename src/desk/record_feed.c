/* One source of a live session: its channels, its rows, its gaps, and the pulls that are cut out of them. */
#include "base/error.h"
#include "base/words.h"
#include "desk/record_session.h"
#include "desk/recorder.h"
#include <math.h>
#include <string.h>

#define LEAD_S 4.0 /* kept before a pull */
#define PULL_MOST                                                                                  \
  (1u                                                                                              \
   << 20) /* doubles of one pull under way, 8 MB; the rows of a longer one are read back from its stream */
#define LEAD_MOST (32u << 20) /* of what is kept before one */
#define BURST_S   2.0
#define DECISIONS 65536u

static double inside_of(const struct ew_feed *feed, int column) {
  return column < 0 ? (double)NAN : feed->inside[column];
}

/* Between two things that a source says: the ring holds whole rows, and no pull is under way where nothing is recorded. */
static void check_feed(const struct ew_feed *f) {
  g_assert(f->section || (!f->by_hand && !f->watch.in_pull));
  g_assert(!f->section || f->ring->len % f->section->columns == 0);
  g_assert(!f->section || f->ring_old * f->section->columns <= f->ring->len);
  g_assert(!f->section || f->ring->len == 0 ||
           f->ring_from + (gint64)(f->ring->len / f->section->columns) <=
               f->section->appended_rows);
  g_assert(!f->by_hand || isfinite(f->hand_from_s));
}

/* ---- pulls ---- */

gboolean ew_session_in_pull(const struct ew_session *live) {
  for (guint i = 0; i < live->feeds->len; i++) {
    const struct ew_feed *f = g_ptr_array_index(live->feeds, i);
    if (f->section && (f->watch.in_pull || f->by_hand))
      return TRUE;
  }
  return FALSE;
}

static void trim_ring(struct ew_feed *f, double time_s) {
  gsize columns = f->section->columns, rows = f->ring->len / columns;
  const double *times = (const double *)(void *)f->ring->data;
  while (f->ring_old < rows && times[f->ring_old * columns] < time_s - LEAD_S)
    f->ring_old++;
  if (f->ring_old <= rows / 2 || f->ring_old < 64)
    return;
  g_array_remove_range(f->ring, 0, (guint)(f->ring_old * columns));
  f->ring_from += (gint64)f->ring_old;
  f->ring_old = 0;
}

EW_MESSAGE(cut_short_by, "desk.pull-cut-short", EW_CAUTION,
           "pull cut short: {how} before it was over");
EW_MESSAGE(by_stop, "desk.ended-stopped", EW_NOTE, "recording stopped");
EW_MESSAGE(by_end, "desk.ended-ended", EW_NOTE, "the source ended");
EW_MESSAGE(by_header, "desk.ended-header-changed", EW_NOTE, "the header changed");

static const struct ew_message_kind *end_word(const char *how) {
  return strcmp(how, EW_END_STOPPED) == 0 ? &by_stop
         : strcmp(how, EW_END_ENDED) == 0 ? &by_end
                                          : &by_header;
}

/* Its memory goes back, too. */
static void empty_ring(struct ew_feed *f) {
  if (f->ring)
    g_array_unref(f->ring);
  f->ring = g_array_new(FALSE, FALSE, sizeof(double));
  f->ring_old = 0;
  f->ring_over = FALSE;
}

/* Handed over, not copied: this thread has alarms to decide. */
static void hand_over(struct ew_feed *f, struct ew_pull_cut *cut) {
  if (!f->ring_over && f->ring->len == 0) /* no row has come since it was begun by hand */
    f->ring_from = cut->until_row;
  cut->from_row = f->ring_from + (gint64)f->ring_old;
  if (!f->ring_over) {
    g_assert(f->ring_from + (gint64)(f->ring->len / cut->columns) == cut->until_row);
    cut->rows = g_steal_pointer(&f->ring);
    cut->skip = f->ring_old;
  }
  empty_ring(f);
}

/* short_by: what ended it before its end was seen ("stopped"; a static key), or NULL. */
static void feed_cut_pull(struct ew_feed *f, double from_s, double to_s, const char *short_by) {
  struct ew_section *s = f->section;
  struct ew_pull_cut *cut = g_new0(struct ew_pull_cut, 1);
  cut->store = f->live->store;
  cut->section = s;
  cut->until_row = s->appended_rows;
  cut->headings = ew_stream_headings_of(f->known.names, f->known.units, s->channels);
  cut->columns = s->columns;
  hand_over(f, cut);
  cut->sensors = f->live->options->sensors_yaml;
  cut->from_s = from_s;
  cut->to_s = to_s;
  cut->ended_s = ew_monotonic_s();
  cut->cut_short = short_by;
  cut->not_armed = g_steal_pointer(&f->not_armed);
  if (short_by) {
    g_autofree char *text = ew_exact("pull cut short: %s", short_by);
    ew_store_mark(f->live->store, s, to_s, text);
    if (!cut->not_armed)
      cut->not_armed = ew_message(&cut_short_by, ew_say_word("how", end_word(short_by)));
  }
  cut->engine_id = f->live->engine_id;
  if (f->live->alarms) {
    g_array_set_size(f->live->near, 0);
    ew_alarms_end_pull(f->live->alarms, TRUE, f->live->near);
    cut->near_json = ew_session_near_json(f->live->near);
    cut->own = ew_own_curves_copy(f->live->own);
  }
  ew_said_move(&f->live->said, &cut->said);
  ew_pull_shop_push(f->live->shop, cut);
}

static void feed_begin_pull(struct ew_feed *f) {
  ew_feed_settle_arming(f);
  if (f->live->alarms)
    ew_alarms_begin_pull(f->live->alarms, f->live->clock.now_s);
}

gboolean ew_feed_begin_by_hand(struct ew_feed *f) {
  if (!f->section || f->by_hand || !isfinite(f->last_s))
    return FALSE;
  f->by_hand = TRUE;
  f->hand_from_s = f->last_s;
  feed_begin_pull(f);
  check_feed(f);
  return TRUE;
}

gboolean ew_feed_end_by_hand(struct ew_feed *f) {
  if (!f->section || !f->by_hand)
    return FALSE;
  f->by_hand = FALSE;
  feed_cut_pull(f, f->hand_from_s, f->last_s, NULL);
  ew_pull_watch_reset(&f->watch); /* it saw nothing of this one */
  return TRUE;
}

void ew_session_tell_in_pull(struct ew_session *live) {
  if (live->options->in_pull)
    *live->options->in_pull = ew_session_in_pull(live);
}

/* Beyond its room it holds nothing but where the pull began. */
static void keep_in_ring(struct ew_feed *f, double time_s, const double *values) {
  gboolean in_pull = f->watch.in_pull || f->by_hand;
  if (f->ring_over && !in_pull) /* that pull was none */
    empty_ring(f);
  if (f->ring->len == 0 && !f->ring_over)
    f->ring_from = f->section->appended_rows - 1; /* this row was appended just now */
  if (!f->ring_over) {
    g_array_append_val(f->ring, time_s);
    g_array_append_vals(f->ring, values, f->section->channels);
  }
  if (f->ring->len < (in_pull ? PULL_MOST : LEAD_MOST))
    return;
  f->ring_from += (gint64)f->ring_old;
  empty_ring(f);
  f->ring_over = in_pull;
}

static void watch_pulls(struct ew_feed *f, double time_s, const double *values) {
  gboolean whole = f->speed >= 0 && (f->throttle >= 0 || f->torque >= 0);
  if (!whole && !f->by_hand)
    return;
  keep_in_ring(f, time_s, values);
  enum ew_pull_news news =
      f->live->options->by_hand || f->by_hand
          ? EW_PULL_NOTHING
          : ew_pull_watch_step(&f->watch, time_s, inside_of(f, f->speed), inside_of(f, f->throttle),
                               inside_of(f, f->torque));
  if (news == EW_PULL_BEGAN)
    feed_begin_pull(f);
  else if (news == EW_PULL_ENDED)
    feed_cut_pull(f, f->watch.from_s, f->watch.to_s, NULL);
  else if (news == EW_PULL_DROPPED && f->live->alarms)
    ew_alarms_end_pull(f->live->alarms, FALSE, NULL);
  if (!f->watch.in_pull && !f->by_hand)
    trim_ring(f, time_s);
}

/* ---- what sources say ---- */

void ew_feed_end_section(struct ew_feed *f, const char *how) {
  if (!f->section)
    return;
  if (f->by_hand)
    feed_cut_pull(f, f->hand_from_s, f->last_s, how);
  else if (f->watch.in_pull)
    feed_cut_pull(f, f->watch.from_s, f->last_s, how);
  f->by_hand = f->watch.in_pull = FALSE;
  ew_store_end_section(f->live->store, f->section, how);
  f->section = NULL;
  check_feed(f);
}

EW_MESSAGE_MANY(channels_of, "desk.channels", EW_NOTE,
                "{source}: {channels} channel, {known} recognised",
                "{source}: {channels} channels, {known} recognised");

static void tell_channels(struct ew_feed *f) {
  struct ew_json json = ew_session_news(EW_RECORD_CHANNELS);
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
  ew_session_post(f->live, EW_RECORD_CHANNELS, &json,
                  ew_message(&channels_of, ew_say_text("source", f->section->source),
                             ew_say_count("channels", f->channels->len),
                             ew_say_count("known", known)));
}

static void on_head(gpointer user, const struct ew_source_channels *channels) {
  struct ew_feed *f = user;
  ew_feed_end_section(f, EW_END_HEADER);
  f->section = ew_store_section(f->live->store, f->source->url, channels);
  if (f->channels)
    g_array_unref(f->channels);
  ew_sensor_plan_clear(&f->plan);
  ew_source_channels_clear(&f->known);
  ew_sensor_plan_make(f->live->sensors, channels, &f->plan);
  ew_sensor_plan_channels(&f->plan, channels, &f->known);
  g_free(f->figures);
  f->figures = g_new0(double, channels->count + 1);
  f->channels = ew_live_channels(
      &f->known, ew_profiles_find(f->live->profiles, f->known.names, f->known.count));
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
  g_free(f->before);
  f->before = g_new0(double, channels->count + 1);
  f->row_still = (struct ew_row_stillness){.since_s = NAN};
  f->stuck = FALSE;
  empty_ring(f);
  ew_pull_watch_reset(&f->watch);
  f->watch.most_n_m = 0;
  f->last_s = f->period_s = NAN;
  f->again = f->clock.known;
  tell_channels(f);
  ew_session_settle_both(f->live);
  if (f->live->options->sensors_yaml) { /* raw is stored: how it was read is kept with it */
    g_autofree char *text = g_strconcat(EW_MARK_SENSORS, f->live->options->sensors_yaml, NULL);
    ew_store_mark(f->live->store, f->section, 0, text);
  }
}

EW_MESSAGE(gap, "desk.gap", EW_CAUTION, "gap: {source} sent nothing from {from} to {to}");

static void tell_gap(struct ew_feed *f, double from_s, double to_s) {
  struct ew_json json = ew_session_news(EW_RECORD_GAP);
  ew_json_text(&json, "source", f->section->source);
  ew_json_number(&json, "from_s", from_s);
  ew_json_number(&json, "to_s", to_s);
  ew_json_number(&json, "length_s", to_s - from_s);
  ew_session_post(f->live, EW_RECORD_GAP, &json,
                  ew_message(&gap, ew_say_text("source", f->section->source),
                             ew_say_quantity("from", EW_KIND_TIME, from_s, 3),
                             ew_say_quantity("to", EW_KIND_TIME, to_s, 3)));
}

/* A gap is more than five usual intervals and more than half a second. */
static void watch_gap(struct ew_feed *f, double time_s) {
  double step = time_s - f->last_s;
  if (step > 0.5 && step > 5 * f->period_s)
    tell_gap(f, f->last_s, time_s);
  else if (step > 0)
    f->period_s = isnan(f->period_s) ? step : f->period_s + 0.05 * (step - f->period_s);
  f->last_s = time_s;
}

static void note_decision(struct ew_session *live, double took_s) {
  if (live->decisions->len < DECISIONS)
    g_array_append_val(live->decisions, took_s);
  else
    g_array_index(live->decisions, double, live->next_decision++ % DECISIONS) = took_s;
}

/* When it is by the session's clock. */
static double settle_clock(struct ew_feed *f, double time_s, double arrival_s) {
  double session_s = ew_session_clock_step(&f->live->clock, &f->clock, time_s, arrival_s, f->again);
  f->again = FALSE;
  double wait_s = arrival_s - f->arrival_s;
  if (wait_s <= BURST_S && !f->watch.in_pull) /* a longer one is an outage, and teaches nothing */
    f->burst_s = fmax(f->burst_s * 0.9999, wait_s);
  ew_freshness_heard(&f->fresh, arrival_s);
  f->arrival_s = arrival_s;
  return session_s;
}

static void on_frame(gpointer user, double time_s, double arrival_s, const double *values) {
  struct ew_feed *f = user;
  double session_s = settle_clock(f, time_s, arrival_s);
  ew_sensor_plan_apply(&f->plan, values, f->figures);
  for (guint i = 0; i < f->channels->len; i++) {
    const struct ew_live_channel *one = &g_array_index(f->channels, struct ew_live_channel, i);
    f->inside[i] = ew_to_inside(one->unit, f->figures[i]);
  }
  f->silent = FALSE;
  ew_feed_watch_rows(f, arrival_s, values);
  ew_feed_compare(f, arrival_s);
  if (f->live->alarms)
    ew_session_decide(f, session_s);
  note_decision(f->live, ew_monotonic_s() - arrival_s);
  f->rows++;
  watch_gap(f, time_s);
  ew_store_append(f->live->store, f->section, time_s, arrival_s, values);
  watch_pulls(f, time_s, f->figures);
  check_feed(f);
  if (f->live->options->sees)
    f->live->options->sees(f->channels, time_s, f->inside, f->live->user);
  if (f->live->options->watches)
    f->live->options->watches(f->live->alarms, session_s, f->live->user);
}

EW_MESSAGE(of_source, "desk.source", EW_NOTE, "{source}: {event}: {what}");
EW_MESSAGE(of_source_alone, "desk.source-event", EW_NOTE, "{source}: {event}");
EW_MESSAGE(connected, "desk.source-connected", EW_NOTE, "connected");
EW_MESSAGE(lost, "desk.source-lost", EW_CAUTION, "lost");
EW_MESSAGE(header_changed, "desk.source-header-changed", EW_CAUTION, "header changed");
EW_MESSAGE(garbage, "desk.source-garbage", EW_CAUTION, "garbage");
EW_MESSAGE(stranger, "desk.source-stranger", EW_CAUTION, "unknown sender");
EW_MESSAGE(unreadable, "desk.source-unreadable", EW_CAUTION, "unreadable");
EW_MESSAGE(readable, "desk.source-readable", EW_NOTE, "readable again");
EW_MESSAGE(repeated, "desk.source-repeated", EW_CAUTION, "repeated");
EW_MESSAGE(time_back, "desk.source-time-back", EW_CAUTION, "time went back");
EW_MESSAGE(reply, "desk.source-reply", EW_NOTE, "reply");
EW_MESSAGE(ended, "desk.source-ended", EW_NOTE, "ended");
static const struct ew_message_kind *const event_words[EW_SOURCE_EVENTS_COUNT] = {
    [EW_SOURCE_CONNECTED] = &connected,
    [EW_SOURCE_LOST] = &lost,
    [EW_SOURCE_HEADER_CHANGED] = &header_changed,
    [EW_SOURCE_GARBAGE] = &garbage,
    [EW_SOURCE_STRANGER] = &stranger,
    [EW_SOURCE_UNREADABLE] = &unreadable,
    [EW_SOURCE_READABLE] = &readable,
    [EW_SOURCE_REPEATED] = &repeated,
    [EW_SOURCE_TIME_BACK] = &time_back,
    [EW_SOURCE_REPLY] = &reply,
    [EW_SOURCE_ENDED] = &ended};

static ew_message *event_message(const struct ew_feed *f, enum ew_source_event event,
                                 const ew_message *what) {
  struct ew_argument source = ew_say_text("source", f->source->url),
                     word = ew_say_word("event", event_words[event]);
  return what ? ew_message(&of_source, source, word, ew_say_message("what", what))
              : ew_message(&of_source_alone, source, word);
}

static struct ew_json event_json(const struct ew_feed *f, enum ew_source_event event,
                                 const ew_message *what) {
  struct ew_json json = ew_session_news(EW_RECORD_SOURCE);
  ew_json_text(&json, "source", f->source->url);
  ew_json_text(&json, "what", ew_source_event_names[event]);
  ew_session_write_fact(&json, "why", what);
  return json;
}

/* Whatever a source says may hold somebody's words. */
static void on_event(gpointer user, enum ew_source_event event, const ew_message *what) {
  struct ew_feed *f = user;
  g_autoptr(ew_message) told = what ? ew_message_elsewhere(what) : NULL;
  struct ew_json json = event_json(f, event, what), elsewhere = event_json(f, event, told);
  ew_session_post_apart(f->live, EW_RECORD_SOURCE, &json, &elsewhere,
                        event_message(f, event, what));
  ew_feed_watch_event(f, event, what);
}

void ew_feed_free(struct ew_feed *f) {
  ew_source_close(f->source);
  if (f->channels)
    g_array_unref(f->channels);
  g_array_unref(f->ring);
  g_free(f->inside);
  g_free(f->before);
  g_free(f->figures);
  ew_sensor_plan_clear(&f->plan);
  ew_source_channels_clear(&f->known);
  ew_message_free(f->not_armed);
  g_free(f);
}

void ew_feed_read(struct ew_feed *f, double now_s) {
  struct ew_source_sink sink = {on_head, on_frame, on_event, f};
  gboolean was = f->source->ended;
  ew_source_read(f->source, &sink, now_s);
  if (!was && f->source->ended) {
    ew_feed_ended(f);
    ew_feed_end_section(f, EW_END_ENDED);
  }
}
