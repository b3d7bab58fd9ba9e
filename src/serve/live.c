/* Starting, stopping and looking at the one live session. The recorder's threads write into what the mutex guards; a
 * timer of the main loop turns it into events for the viewers. Nothing on the recorder's side ever waits for a
 * viewer. */
#include "serve/live.h"
#include "base/as_pointer.h"
#include "serve/live_bands.h"
#include "serve/live_standing.h"
#include "serve/live_values.h"
#include "base/error.h"
#include "cell/live_channels.h"
#include "desk/record.h"
#include "desk/record_setup.h"
#include "book/book.h"
#include <fcntl.h>
#include <math.h>
#include <string.h>
#include <unistd.h>

#define FRAME_MS  50
#define NEWS_KEPT 40
#define LOOK_US                                                                                    \
  250000 /* while figures are live: a viewer that hears nothing for longer has lost us */
#define BEAT_US G_USEC_PER_SEC

struct ew_live {
  struct ew_http *http;
  char *book_path;
  guint timer;
  GMutex mutex; /* guards everything below */
  GThread *thread;
  gboolean running;
  atomic_int stop, in_pull;
  int control[2];
  char **sources;
  char *source, *session_book, *changed, *since;
  char *alarms_yaml, *alarms_name; /* of the session; NULL: the book's own, or the template */
  double limit_rpm, rate_rpm_s;    /* of the session; NaN: not given */
  char *server; /* of this run of the program: another one knows nothing of this one's alarms */
  struct ew_live_values *values;
  double time_s;
  gint64 stored_us; /* of the last commit, monotonic; 0: none yet */
  struct ew_live_bands *bands;
  struct ew_live_standing *standing;
  guint64 frames, published;
  gint64 published_us; /* when, and whether anything was fresh then */
  gboolean published_fresh;
  GQueue waiting; /* struct told*: news that no viewer has been sent */
  GQueue kept;    /* struct told*: the last news, for viewers who come later */
  gboolean book_changed;
  const ew_language *language; /* of whoever started the session: that of its errors */
  gboolean disarmed;           /* by hand, as the recorder told it last */
  struct ew_said said;         /* of the set-up, and no pull was kept with it yet */
};

/* With the mutex held. RECORDING: what is recorded, where to, since when and how it is told to stop are known. */
static void check_live(const struct ew_live *live) {
  g_assert(!live->running || (live->source && live->session_book && live->since));
  g_assert(!live->running || live->control[1] >= 0);
  g_assert(live->kept.length <= NEWS_KEPT && live->published <= live->frames);
}

/* ---- from the recorder's threads ---- */

static void sees(const GArray *channels, double time_s, const double *inside, gpointer user) {
  struct ew_live *live = user;
  g_mutex_lock(&live->mutex);
  ew_live_values_take(live->values, channels, inside, g_get_monotonic_time());
  live->time_s = time_s;
  live->frames++;
  g_mutex_unlock(&live->mutex);
}

static void watches(struct ew_alarms *alarms, double session_s, gpointer user) {
  struct ew_live *live = user;
  g_mutex_lock(&live->mutex);
  if (ew_live_bands_due(live->bands, session_s)) {
    ew_live_bands_take(live->bands, alarms, session_s);
    ew_live_standing_look(live->standing, live->bands);
  }
  g_mutex_unlock(&live->mutex);
}

/* One piece of news; its sentence is made for each viewer, in the viewer's language. */
struct told {
  char *json;           /* the facts */
  char *json_elsewhere; /* as other devices may have them; NULL: no different */
  ew_message *message;  /* NULL: `text` stands for it */
  char *text;           /* of an error, in the language of whoever started the session */
};

static void told_free(gpointer data) {
  struct told *t = data;
  g_free(t->json);
  g_free(t->json_elsewhere);
  ew_message_free(t->message);
  g_free(t->text);
  g_free(t);
}

static struct told *told_new(const char *json, const char *json_elsewhere,
                             const ew_message *message, const char *text) {
  struct told *t = g_new0(struct told, 1);
  *t = (struct told){g_strdup(json), g_strdup(json_elsewhere),
                     message ? ew_message_copy(message) : NULL, g_strdup(text)};
  return t;
}

/* The reason within a sentence, for whoever shows it alone; NULL: none. */
static char *reason_of(const ew_message *message) {
  static const char *const names[] = {"why", "what"};
  for (gsize i = 0; message && i < G_N_ELEMENTS(names); i++) {
    const struct ew_argument *a = ew_message_argument(message, names[i]);
    if (a && a->kind == EW_ARGUMENT_MESSAGE)
      return ew_message_text(a->message, EW_UNITS_SI);
  }
  return NULL;
}

/* { text, why, news } in this thread's language; `here`: for the person at this machine. */
static char *told_json(const struct told *t, gboolean here) {
  struct ew_json json = {.text = g_string_new(NULL)};
  g_autoptr(ew_message) elsewhere = t->message && !here ? ew_message_elsewhere(t->message) : NULL;
  const ew_message *message = elsewhere ? elsewhere : t->message;
  g_autofree char *text = message ? ew_message_text(message, EW_UNITS_SI) : NULL;
  g_autofree char *why = reason_of(message);
  ew_json_open(&json, NULL);
  ew_json_text(&json, "text", text ? text : t->text);
  ew_json_text(&json, "why", why);
  g_string_append_printf(json.text, ",\"news\":%s",
                         t->json_elsewhere && !here ? t->json_elsewhere : t->json);
  ew_json_close(&json);
  return g_string_free(json.text, FALSE);
}

static char *told_write(gpointer told, gboolean here) {
  return told_json(told, here);
}

/* With the mutex held; takes it. */
static void keep_news(struct ew_live *live, struct told *t) {
  g_queue_push_tail(&live->waiting, told_new(t->json, t->json_elsewhere, t->message, t->text));
  g_queue_push_tail(&live->kept, t);
  while (live->kept.length > NEWS_KEPT)
    told_free(g_queue_pop_head(&live->kept));
  check_live(live);
}

static void says(const struct ew_record_news *news, gpointer user) {
  struct ew_live *live = user;
  if (news->event ==
      EW_RECORD_COMMIT) { /* twenty a second: a frame tells how long ago the last was */
    g_mutex_lock(&live->mutex);
    live->stored_us = g_get_monotonic_time();
    g_mutex_unlock(&live->mutex);
    return;
  }
  g_mutex_lock(&live->mutex);
  live->book_changed |= news->event == EW_RECORD_PULL || news->event == EW_RECORD_END;
  if (news->disarmed >= 0)
    live->disarmed = news->disarmed;
  if (news->set)
    ew_said_set(&live->said, news->set, NULL); /* the recorder took it: it is one */
  if (news->changed)
    ew_said_changed(&live->said, news->changed);
  ew_said_used(&live->said, news->used);
  if (news->event == EW_RECORD_ALARM)
    ew_live_standing_hear(live->standing, news->json, news->message);
  live->frames++;
  keep_news(live, told_new(news->json, news->json_elsewhere, news->message, NULL));
  g_mutex_unlock(&live->mutex);
}

static gpointer record(gpointer user) {
  struct ew_live *live = user;
  ew_language_of_thread(live->language);
  struct ew_record_options options = {.book_path = live->session_book,
                                      .sources = (const char *const *)live->sources,
                                      .power = TRUE,
                                      .changed = live->changed,
                                      .alarms_yaml = live->alarms_yaml,
                                      .alarms_name = live->alarms_name,
                                      .for_s = INFINITY,
                                      .control_fd = live->control[0],
                                      .in_pull = &live->in_pull,
                                      .limit_rpm = live->limit_rpm,
                                      .rate_rpm_s = live->rate_rpm_s,
                                      .sees = sees,
                                      .watches = watches};
  g_autoptr(GError) error = NULL;
  if (!ew_record_run(&options, says, live, &live->stop, &error)) {
    g_autofree char *text = ew_error_says(error, EW_AT_PAGE);
    g_mutex_lock(&live->mutex);
    keep_news(live, told_new("{\"event\":\"failed\"}", NULL, NULL, text));
    g_mutex_unlock(&live->mutex);
  }
  g_mutex_lock(&live->mutex);
  live->running = FALSE;
  ew_live_values_reset(live->values);
  ew_live_bands_reset(live->bands);
  ew_live_standing_end(live->standing);
  live->frames++;
  check_live(live);
  g_mutex_unlock(&live->mutex);
  return NULL;
}

/* ---- to the viewers ---- */

static void write_state(const struct ew_live *live, struct ew_json *json) {
  g_autofree char *now = ew_time_now();
  ew_json_text(json, "server", live->server);
  ew_json_text(json, "now", now);
  ew_live_standing_write_json(live->standing, json);
}

static char *frame_json(gpointer user, gboolean here) {
  struct ew_live *live = user;
  (void)here;
  struct ew_json json = {.text = g_string_new(NULL)};
  gint64 now = g_get_monotonic_time();
  g_mutex_lock(&live->mutex);
  ew_json_open(&json, NULL);
  ew_json_boolean(&json, "running", live->running);
  write_state(live, &json);
  ew_json_number(&json, "time_s", live->time_s);
  ew_json_number(&json, "since_stored_s",
                 live->stored_us ? (double)(now - live->stored_us) / 1e6 : (double)NAN);
  ew_json_boolean(&json, "disarmed", live->disarmed);
  ew_live_bands_write_frame(live->bands, &json);
  ew_live_values_write_json(live->values, now, &json);
  ew_json_close(&json);
  g_mutex_unlock(&live->mutex);
  return g_string_free(json.text, FALSE);
}

/* Something new, figures that have just become old, or time to say that we are still here. */
static gboolean is_due(struct ew_live *live) {
  gint64 now = g_get_monotonic_time();
  gboolean fresh = live->running && ew_live_values_fresh(live->values, now);
  gboolean due = live->frames != live->published || fresh != live->published_fresh ||
                 now - live->published_us >= (fresh ? LOOK_US : BEAT_US);
  if (!due)
    return FALSE;
  live->published = live->frames;
  live->published_fresh = fresh;
  live->published_us = now;
  return ew_http_viewers(live->http) > 0;
}

static gboolean on_timer(gpointer user) {
  struct ew_live *live = user;
  struct told *news;
  g_mutex_lock(&live->mutex);
  gboolean due = is_due(live), changed = live->book_changed;
  live->book_changed = FALSE;
  g_mutex_unlock(&live->mutex);
  if (due)
    ew_http_publish_each(live->http, "live", frame_json, live);
  for (;;) {
    g_mutex_lock(&live->mutex);
    news = g_queue_pop_head(&live->waiting);
    g_mutex_unlock(&live->mutex);
    if (!news)
      break;
    ew_http_publish_each(live->http, "news", told_write, news);
    told_free(news);
  }
  if (changed)
    ew_http_publish(live->http, "changed", "{}");
  return G_SOURCE_CONTINUE;
}

struct ew_live *ew_live_new(const char *book_path, struct ew_http *http) {
  struct ew_live *live = g_new0(struct ew_live, 1);
  live->http = http;
  live->book_path = g_strdup(book_path);
  live->control[0] = live->control[1] = -1;
  live->server = g_uuid_string_random();
  live->values = ew_live_values_new();
  live->bands = ew_live_bands_new();
  live->standing = ew_live_standing_new();
  g_mutex_init(&live->mutex);
  g_queue_init(&live->waiting);
  g_queue_init(&live->kept);
  live->timer = g_timeout_add(FRAME_MS, on_timer, live);
  return live;
}

static void clear_session(struct ew_live *live) {
  if (live->thread)
    g_thread_join(live->thread);
  live->thread = NULL;
  g_mutex_lock(&live->mutex); /* a line of control may be on its way in */
  g_assert(!live->running);
  for (int i = 0; i < 2; i++) {
    if (live->control[i] >= 0)
      close(live->control[i]);
    live->control[i] = -1;
  }
  g_mutex_unlock(&live->mutex);
  g_clear_pointer(&live->source, g_free);
  g_clear_pointer(&live->sources, g_strfreev);
  g_clear_pointer(&live->session_book, g_free);
  g_clear_pointer(&live->changed, g_free);
  g_clear_pointer(&live->alarms_yaml, g_free);
  g_clear_pointer(&live->alarms_name, g_free);
  g_clear_pointer(&live->since, g_free);
}

void ew_live_free(struct ew_live *live) {
  live->stop = 1;
  g_source_remove(live->timer);
  clear_session(live);
  g_queue_clear_full(&live->waiting, told_free);
  g_queue_clear_full(&live->kept, told_free);
  g_mutex_clear(&live->mutex);
  ew_live_values_free(live->values);
  ew_live_bands_free(live->bands);
  ew_live_standing_free(live->standing);
  ew_said_clear(&live->said);
  g_free(live->server);
  g_free(live->book_path);
  g_free(live);
}

gboolean ew_live_running(struct ew_live *live) {
  g_mutex_lock(&live->mutex);
  gboolean running = live->running;
  g_mutex_unlock(&live->mutex);
  return running;
}

gboolean ew_live_start(struct ew_live *live, const struct ew_live_ask *ask, GError **error) {
  if (ew_live_running(live))
    return ew_refuse(error, "a live session is under way: stop it first");
  clear_session(live);
  if (pipe2(live->control, O_CLOEXEC | O_NONBLOCK) != 0)
    return ew_fail(error, "the pipe for control lines cannot be made");
  g_mutex_lock(&live->mutex);
  live->sources = g_strdupv(ew_as_pointer(ask->sources));
  live->source = g_strjoinv(", ", live->sources);
  live->stored_us = 0;
  live->session_book = g_strdup(ask->book_path ? ask->book_path : live->book_path);
  live->changed = g_strdup(ask->changed);
  live->limit_rpm = ask->limit_rpm;
  live->rate_rpm_s = ask->rate_rpm_s;
  live->alarms_yaml = g_strdup(ask->alarms_yaml);
  live->alarms_name = g_strdup(ask->alarms_name);
  live->in_pull = FALSE;
  live->since = ew_time_now();
  live->stop = 0;
  live->disarmed = FALSE;
  ew_said_clear(&live->said);
  if (ask->changed)
    ew_said_changed(&live->said, ask->changed);
  live->language = ew_language_now();
  live->running = TRUE;
  ew_live_values_reset(live->values);
  g_queue_clear_full(&live->kept, told_free);
  g_queue_init(&live->kept);
  check_live(live);
  g_mutex_unlock(&live->mutex);
  g_assert(!live->thread); /* one session at a time */
  live->thread = g_thread_new("live", record, live);
  return TRUE;
}

/* Whether the line cleared what stood when an earlier session ended: the one under way knows nothing of it. */
static gboolean clears_ended(struct ew_live *live, const char *line) {
  if (!g_str_has_prefix(line, "clear "))
    return FALSE;
  g_mutex_lock(&live->mutex);
  guint cleared = ew_live_standing_clear_ended(live->standing, line + strlen("clear "));
  live->frames += cleared > 0;
  g_mutex_unlock(&live->mutex);
  return cleared > 0;
}

gboolean ew_live_control(struct ew_live *live, const char *line, GError **error) {
  gboolean cleared = clears_ended(live, line);
  if (ew_live_running(live) && !ew_record_takes(line, live->in_pull, error))
    return FALSE; /* the recorder refuses it too; here it is answered */
  g_autofree char *whole = g_strconcat(line, "\n", NULL);
  gsize size = strlen(whole);
  g_mutex_lock(
      &live->mutex); /* the session of this moment, and not the next one's pipe; the write does not wait */
  gboolean runs = live->running;
  gboolean put = runs && write(live->control[1], whole, size) == (gssize)size;
  g_mutex_unlock(&live->mutex);
  if (!runs)
    return cleared || ew_refuse(error, "no live session is under way");
  return put || ew_fail(error, "the control line is full: try again");
}

gboolean ew_live_stop(struct ew_live *live, GError **error) {
  g_mutex_lock(&live->mutex);
  gboolean runs = live->running;
  if (runs)
    live->stop = 1;
  g_mutex_unlock(&live->mutex);
  return runs || ew_refuse(error, "no live session is under way");
}

/* The set-up said so far, and whether it goes into another book than the one that is served. */
static void write_session(const struct ew_live *live, struct ew_json *json) {
  gboolean own = live->running && strcmp(live->session_book, live->book_path) != 0;
  g_autofree char *name = own ? g_path_get_basename(live->session_book) : NULL;
  ew_json_text(json, "own_book", name);
  ew_json_open_array(json, "said");
  for (guint i = 0; live->said.sets && i < live->said.sets->len; i++)
    ew_json_text(json, NULL, live->said.sets->pdata[i]);
  ew_json_close_array(json);
  ew_json_text(json, "changed", live->said.changed);
  ew_json_text(json, "alarms_name", live->running ? live->alarms_name : NULL);
}

double ew_live_limit_rpm(struct ew_live *live) {
  g_mutex_lock(&live->mutex);
  double limit_rpm = live->running ? live->limit_rpm : (double)NAN;
  g_mutex_unlock(&live->mutex);
  return limit_rpm;
}

void ew_live_write_json(struct ew_live *live, gboolean here, struct ew_json *json) {
  g_mutex_lock(&live->mutex);
  write_session(live, json);
  ew_json_boolean(json, "running", live->running);
  ew_json_text(json, "source", live->running ? live->source : NULL);
  ew_json_text(json, "since", live->running ? live->since : NULL);
  write_state(live, json);
  ew_json_open_array(json, "news");
  for (GList *l = live->kept.head; l; l = l->next) {
    g_autofree char *one = told_json(l->data, here);
    g_string_append_printf(json->text, "%s%s", l == live->kept.head ? "" : ",", one);
  }
  ew_json_close_array(json);
  ew_live_bands_write_table(live->bands, json);
  g_mutex_unlock(&live->mutex);
  ew_live_gauges_write_json(json);
}
