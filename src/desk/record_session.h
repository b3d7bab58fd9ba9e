/* What the files of a live session share (record.c runs it, record_feed.c hears a source, record_alarms.c
 * decides, record_news.c tells). Internal to src/desk. All of it belongs to the live thread, but for the
 * news, which any thread may post. News are facts: a sentence is made of them where they are shown. */
#pragma once
#include "base/json_writer.h"
#include "cell/alarm.h"
#include "cell/freshness.h"
#include "cell/live_channels.h"
#include "cell/outputs.h"
#include "cell/pull_watch.h"
#include "pull/sensor.h"
#include "cell/session_clock.h"
#include "cell/stillness.h"
#include "desk/record.h"
#include "desk/record_gate.h"
#include "desk/record_pulls.h"
#include "desk/record_store.h"

struct ew_session;

/* How a recording ended: keys, as the book keeps them. */
#define EW_END_STOPPED "stopped"
#define EW_END_ENDED   "ended"
#define EW_END_HEADER  "header changed"

/* One source and what is known of it now. */
struct ew_feed {
  struct ew_session *live;
  struct ew_source *source;
  struct ew_section *section; /* NULL before the first header */
  struct ew_sensor_plan plan;
  struct ew_source_channels known; /* with calibrated names and units */
  double *figures;                 /* of the row at hand, calibrated */
  GArray *channels;                /* struct ew_live_channel */
  int speed, throttle, torque, oil_pressure, oil_temperature, coolant, manifold;
  struct ew_pull_watch watch;
  gboolean by_hand;      /* a pull was begun by hand, */
  double hand_from_s;    /* at this time of the source's clock */
  ew_message *not_armed; /* of the pull under way: why; NULL: armed */
  gsize ring_old;        /* rows at its begin that no cut needs */
  gint64 ring_from;      /* which row of its section its first one is, from 0 */
  guint64 rows;
  GArray *ring; /* double: the last rows, for the next cut */
  gboolean
      ring_over; /* the pull under way is too long to be held: ring_from is where it began, and the ring is empty */
  double last_s, period_s;
  double arrival_s, burst_s; /* burst: longest wait for news, outages left out */
  struct ew_freshness fresh; /* of its rows, for the rhythm of one that sends in batches */
  struct ew_sender_clock clock;
  gboolean again;         /* its channels are new: its clock may be another one */
  double *inside;         /* of the row at hand, in inside units; NaN: absent */
  gboolean silent, stuck; /* reported: nothing comes; one row comes again and again */
  struct ew_row_stillness row_still;
  double *before; /* the row before, as it came */
};

/* Lowest and highest of a while; low above high: nothing came. */
struct ew_span {
  double low, high;
};
/* A channel that two sources give; the first counts. */
struct ew_both {
  enum ew_channel channel;
  int index;
  struct ew_feed *first, *second;
  guint first_column, second_column;
  struct ew_span spans[2][2]; /* of first and second: this second, the one before */
  double bucket_s;
  guint apart; /* seconds in turn */
};

struct ew_session {
  const struct ew_record_options *options;
  ew_record_says says;
  gpointer user;
  GPtrArray *feeds;
  struct ew_store *store;
  struct ew_pull_shop *shop;
  struct ew_gate *gate;
  GAsyncQueue *news; /* see record_news.c; one without JSON ends the thread */
  GThread *printer;
  GArray *decisions; /* seconds from arrival to the end of the decision */
  guint next_decision;
  GString *control;
  struct ew_said said;    /* of the set-up, for the pulls to come */
  gboolean control_ended; /* nobody writes there any more */
  gboolean stop;
  struct ew_alarms *alarms; /* NULL: none */
  struct ew_own_curves *own;
  struct ew_outputs *outputs;
  gboolean practice; /* every source is practice or a replay */
  struct ew_alarm_table
      *machine; /* this machine's outputs and heartbeat; practice: the usual ones */
  struct ew_alarm_context context;
  guint64 not_fitted;           /* channels, as the cell's file says: bits */
  struct ew_sensors *sensors;   /* NULL: none */
  struct ew_profiles *profiles; /* of the book's recorders */
  gint64 engine_id;
  GArray *trips, *near;
  struct ew_session_clock clock; /* the alarms go by it */
  double beat_s;
  gboolean disarmed; /* by hand, from the control line */
  GArray *both;      /* struct ew_both */
  GPtrArray *raised; /* the session's own alarms; NULL: none yet */
  char *stood;       /* shut-downs of an earlier session that nobody cleared, by name; NULL: none */
  gboolean crashed;  /* the recorder before died while it recorded */
  gboolean shut_by_hand;  /* 'shut down' was asked for on the control line, and not cleared yet */
  double speed_arrival_s; /* real time of the last engine speed; NaN: none yet */
};

/* News: begin, add keys, post. */
void ew_session_news_open(struct ew_session *live);
void ew_session_news_close(struct ew_session *live); /* after the last one is reported */
struct ew_json ew_session_news(enum ew_record_event event);
/* Takes the JSON and the message (NULL: nothing to say to a person). */
void ew_session_post(struct ew_session *live, enum ew_record_event event, struct ew_json *json,
                     ew_message *message);
/* The same, with what stands in its place on other devices. Takes both. */
void ew_session_post_apart(struct ew_session *live, enum ew_record_event event,
                           struct ew_json *json, struct ew_json *elsewhere, ew_message *message);
/* The same when somebody has chosen whether pulls may be armed. */
void ew_session_post_chosen(struct ew_session *live, struct ew_json *json, ew_message *message);
/* What was said of the set-up: a "name=value" or a line in words; the other NULL. */
void ew_session_post_setup(struct ew_session *live, const char *set, const char *changed,
                           ew_message *message);
/* A member that is an object with id, arguments and text; null for NULL. */
void ew_session_write_fact(struct ew_json *json, const char *key, const ew_message *message);
/* As the store, the pull shop and the gate call them from their threads; user: the session. */
void ew_session_store_says(enum ew_store_news news, const struct ew_section *s,
                           const ew_message *why, gpointer user);
void ew_session_pull_says(const struct ew_pull_result *r, gpointer user);
void ew_session_gate_says(const ew_message *why, gpointer user);

/* Outputs: this machine's, or in practice and replay the usual lines. Opened before the alarms. */
gboolean ew_session_open_outputs(struct ew_session *live, GError **error);

/* Alarms. */
gboolean ew_session_open_alarms(struct ew_session *live, struct ew_book *book, GError **error);
/* Alarms that can't trip because a figure is missing are reported, not left to be found out. */
void ew_session_tell_asleep(struct ew_session *live);
/* A message of each, with its name and what it needs; empty: every one is awake. The caller frees it. */
GPtrArray *ew_session_asleep(const struct ew_session *live);
/* Decides on the row at hand of that feed, at this time of the session's clock. */
void ew_session_decide(struct ew_feed *f, double session_s);
void ew_session_heartbeat(struct ew_session *live, double now_s);
/* Asserts that a shut-down is tripped, or was asked for by hand, exactly while the request is not idle. */
void ew_session_check_request(const struct ew_session *live);
/* Shut-downs that were not cleared when the session before ended, or its recorder crashed (read from the book first): no pull
 * is armed until they are cleared; after a crash the request begins again. Not in practice. */
gboolean ew_session_read_stood(struct ew_session *live, struct ew_book *book, GError **error);
void ew_session_take_up(struct ew_session *live);
/* What is tripped now is written down for the session after this one. */
void ew_session_write_standing(struct ew_session *live);
/* Tries what is due of a request, with or without news from a source. */
void ew_session_step_outputs(struct ew_session *live, double now_s);
void ew_session_shut_down(struct ew_session *live);                      /* asked for by hand */
void ew_session_clear_alarms(struct ew_session *live, const char *name); /* or "all" */
void ew_session_exchange_alarms(struct ew_session *live, const char *path);
char *ew_session_near_json(const GArray *near);

/* What is not alive is absent. Nothing came for longer than this source ever made us wait: all of it. */
void ew_session_watch_silence(struct ew_feed *f, double now_s);
/* Its source is over: what it last said counts no more. */
void ew_feed_ended(struct ew_feed *f);
/* An alarm of the session's own, a notice, once until it is cleared. `name` is its key, in the trip and on the
 * control line. Takes the message. Lowered: what it reported is over, so that it can be cleared. */
struct ew_raising {
  const char *name, *says;
  const ew_message *why;
  double value, bound; /* NaN: none */
  const char *unit;    /* or NULL */
};
void ew_session_raise(struct ew_feed *f, const struct ew_raising *what, ew_message *message);
void ew_session_lower(struct ew_session *live, const char *name);
guint ew_session_clear_raised(struct ew_session *live, const char *name); /* NULL: all; how many */
void ew_feed_watch_event(struct ew_feed *f, enum ew_source_event event, const ew_message *what);
/* Which source counts where two give one channel: made again when channels change or a source ends. */
void ew_session_settle_both(struct ew_session *live);
void ew_feed_compare(struct ew_feed *f, double arrival_s);
/* The row at hand, before anything is decided on it. */
void ew_feed_watch_rows(struct ew_feed *f, double arrival_s, const double *values);
/* How many of them are not cleared; their names are appended, comma-separated. */
guint ew_session_raised(const struct ew_session *live, GString *names);

/* The control line. */
void ew_session_read_control(struct ew_session *live);

/* Feeds. */
void ew_feed_read(struct ew_feed *f, double now_s); /* whatever its source has */
/* Whether the pull that begins is armed, reported with what is not watched. */
void ew_feed_settle_arming(struct ew_feed *f);
void ew_feed_end_section(struct ew_feed *f, const char *how);
void ew_feed_free(struct ew_feed *f);
/* A pull by hand, at the last sample; FALSE: this source has none to begin with, or none is under way. */
gboolean ew_feed_begin_by_hand(struct ew_feed *f);
gboolean ew_feed_end_by_hand(struct ew_feed *f);
/* To whoever asks before a line of control is written. */
void ew_session_tell_in_pull(struct ew_session *live);
/* A pull is under way in one of the sources, found or begun by hand. */
gboolean ew_session_in_pull(const struct ew_session *live);
/* Whether pulls to come may be armed, chosen by hand; reported with what else is in the way just now. A
 * pull under way keeps what it began with. */
void ew_session_choose_arming(struct ew_session *live, gboolean arm);
