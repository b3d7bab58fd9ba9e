#include "serve/live.h"
#include "serve/live_bands.h"
#include "base/error.h"
#include "cell/live_channels.h"
#include "desk/record.h"
#include "book/book.h"
#include <fcntl.h>
#include <math.h>
#include <string.h>
#include <unistd.h>

#define FRAME_MS  50
#define NEWS_KEPT 40
#define VALUES    256
#define OLD_US    500000 /* a value of a source that fell silent is none */

struct value {
  char key[48];
  double inside;
  gint64 at_us; /* monotonic */
};

struct ew_live {
  struct ew_http *http;
  char *book_path;
  guint timer;
  GMutex mutex; /* guards everything below */
  GThread *thread;
  gboolean running;
  atomic_int stop;
  int control[2];
  char **sources;
  char *source, *session_book, *changed, *since;
  struct value values[VALUES];
  guint count;
  double time_s;
  gint64 stored_us; /* of the last commit, monotonic; 0: none yet */
  struct ew_live_bands *bands;
  guint64 frames, published;
  GQueue waiting; /* char*: news that no viewer has been sent */
  GQueue kept;    /* char*: the last news, for viewers who come later */
  gboolean book_changed;
  gboolean disarmed; /* by hand, as the recorder told it last */
};

/* ---- from the recorder's threads ---- */

/* Several sources speak in turn: each has its own places. NULL when there are too many. */
static struct value *place_of(struct ew_live *live, const char *key) {
  for (guint i = 0; i < live->count; i++)
    if (strcmp(live->values[i].key, key) == 0)
      return &live->values[i];
  if (live->count == VALUES)
    return NULL;
  struct value *v = &live->values[live->count++];
  g_strlcpy(v->key, key, sizeof v->key);
  return v;
}

static void sees(const GArray *channels, double time_s, const double *inside, gpointer user) {
  struct ew_live *live = user;
  gint64 now = g_get_monotonic_time();
  char key[48];
  g_mutex_lock(&live->mutex);
  for (guint i = 0; i < channels->len; i++) {
    const struct ew_live_channel *one = &g_array_index(channels, struct ew_live_channel, i);
    if (one->channel >= EW_CHANNELS_COUNT)
      continue;
    if (one->index)
      g_snprintf(key, sizeof key, "%s_%d", ew_channel_facts[one->channel].key, one->index);
    else
      g_strlcpy(key, ew_channel_facts[one->channel].key, sizeof key);
    struct value *v = place_of(live, key);
    if (v) {
      v->inside = inside[i];
      v->at_us = now;
    }
  }
  live->time_s = time_s;
  live->frames++;
  g_mutex_unlock(&live->mutex);
}

static void watches(struct ew_alarms *alarms, double session_s, gpointer user) {
  struct ew_live *live = user;
  g_mutex_lock(&live->mutex);
  if (ew_live_bands_due(live->bands, session_s))
    ew_live_bands_take(live->bands, alarms, session_s);
  g_mutex_unlock(&live->mutex);
}

static void keep_news(struct ew_live *live, char *line) {
  g_queue_push_tail(&live->waiting, g_strdup(line));
  g_queue_push_tail(&live->kept, line);
  while (live->kept.length > NEWS_KEPT)
    g_free(g_queue_pop_head(&live->kept));
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
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  ew_json_text(&json, "text", news->text);
  g_string_append_printf(json.text, ",\"news\":%s", news->json);
  ew_json_close(&json);
  g_mutex_lock(&live->mutex);
  live->book_changed |= news->event == EW_RECORD_PULL || news->event == EW_RECORD_END;
  if (news->event == EW_RECORD_ARMING && strstr(news->json, "\"disarmed\":"))
    live->disarmed = strstr(news->json, "\"disarmed\":true") != NULL;
  keep_news(live, g_string_free(json.text, FALSE));
  g_mutex_unlock(&live->mutex);
}

static gpointer record(gpointer user) {
  struct ew_live *live = user;
  struct ew_record_options options = {.book_path = live->session_book,
                                      .sources = (const char *const *)live->sources,
                                      .power = TRUE,
                                      .changed = live->changed,
                                      .for_s = INFINITY,
                                      .control_fd = live->control[0],
                                      .sees = sees,
                                      .watches = watches};
  g_autoptr(GError) error = NULL;
  if (!ew_record_run(&options, says, live, &live->stop, &error)) {
    struct ew_json json = {.text = g_string_new(NULL)};
    ew_json_open(&json, NULL);
    ew_json_text(&json, "text", error->message);
    ew_json_open(&json, "news");
    ew_json_text(&json, "event", "failed");
    ew_json_close(&json);
    ew_json_close(&json);
    g_mutex_lock(&live->mutex);
    keep_news(live, g_string_free(json.text, FALSE));
    g_mutex_unlock(&live->mutex);
  }
  g_mutex_lock(&live->mutex);
  live->running = FALSE;
  live->count = 0;
  ew_live_bands_reset(live->bands);
  live->frames++;
  g_mutex_unlock(&live->mutex);
  return NULL;
}

/* ---- to the viewers ---- */

static char *frame_json(const struct ew_live *live) {
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  ew_json_boolean(&json, "running", live->running);
  ew_json_number(&json, "time_s", live->time_s);
  gint64 now = g_get_monotonic_time();
  ew_json_number(&json, "since_stored_s",
                 live->stored_us ? (double)(now - live->stored_us) / 1e6 : (double)NAN);
  ew_json_boolean(&json, "disarmed", live->disarmed);
  ew_live_bands_write_frame(live->bands, &json);
  ew_json_open(&json, "values");
  for (guint i = 0; i < live->count; i++) {
    double v = now - live->values[i].at_us > OLD_US ? (double)NAN : live->values[i].inside;
    double step = fabs(v) > 1e4 ? 10 : fabs(v) > 100 ? 0.1 : 1e-4; /* a screen needs no more */
    ew_json_number(&json, live->values[i].key, round(v / step) * step);
  }
  ew_json_close(&json);
  ew_json_close(&json);
  return g_string_free(json.text, FALSE);
}

static gboolean on_timer(gpointer user) {
  struct ew_live *live = user;
  char *frame = NULL, *news;
  g_mutex_lock(&live->mutex);
  if (live->frames != live->published && ew_http_viewers(live->http) > 0)
    frame = frame_json(live);
  live->published = live->frames;
  gboolean changed = live->book_changed;
  live->book_changed = FALSE;
  g_mutex_unlock(&live->mutex);
  if (frame)
    ew_http_publish(live->http, "live", frame);
  g_free(frame);
  for (;;) {
    g_mutex_lock(&live->mutex);
    news = g_queue_pop_head(&live->waiting);
    g_mutex_unlock(&live->mutex);
    if (!news)
      break;
    ew_http_publish(live->http, "news", news);
    g_free(news);
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
  live->bands = ew_live_bands_new();
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
  for (int i = 0; i < 2; i++) {
    if (live->control[i] >= 0)
      close(live->control[i]);
    live->control[i] = -1;
  }
  g_clear_pointer(&live->source, g_free);
  g_clear_pointer(&live->sources, g_strfreev);
  g_clear_pointer(&live->session_book, g_free);
  g_clear_pointer(&live->changed, g_free);
  g_clear_pointer(&live->since, g_free);
}

void ew_live_free(struct ew_live *live) {
  live->stop = 1;
  g_source_remove(live->timer);
  clear_session(live);
  g_queue_clear_full(&live->waiting, g_free);
  g_queue_clear_full(&live->kept, g_free);
  g_mutex_clear(&live->mutex);
  ew_live_bands_free(live->bands);
  g_free(live->book_path);
  g_free(live);
}

static gboolean is_running(struct ew_live *live) {
  g_mutex_lock(&live->mutex);
  gboolean running = live->running;
  g_mutex_unlock(&live->mutex);
  return running;
}

gboolean ew_live_start(struct ew_live *live, const char *const *sources, const char *book_path,
                       const char *changed, GError **error) {
  if (is_running(live))
    return ew_refuse(error, "a live session is under way: stop it first");
  clear_session(live);
  if (pipe2(live->control, O_CLOEXEC | O_NONBLOCK) != 0)
    return ew_fail(error, "no pipe for the control line can be made");
  g_mutex_lock(&live->mutex);
  live->sources = g_strdupv((char **)sources);
  live->source = g_strjoinv(", ", live->sources);
  live->stored_us = 0;
  live->session_book = g_strdup(book_path ? book_path : live->book_path);
  live->changed = g_strdup(changed);
  live->since = ew_time_now();
  live->stop = 0;
  live->disarmed = FALSE;
  live->running = TRUE;
  live->count = 0;
  g_queue_clear_full(&live->kept, g_free);
  g_queue_init(&live->kept);
  g_mutex_unlock(&live->mutex);
  live->thread = g_thread_new("live", record, live);
  return TRUE;
}

gboolean ew_live_control(struct ew_live *live, const char *line, GError **error) {
  if (!is_running(live))
    return ew_refuse(error, "no live session is under way");
  g_autofree char *whole = g_strconcat(line, "\n", NULL);
  gsize size = strlen(whole);
  return write(live->control[1], whole, size) == (gssize)size ||
         ew_fail(error, "the control line is full: try again");
}

gboolean ew_live_stop(struct ew_live *live, GError **error) {
  if (!is_running(live))
    return ew_refuse(error, "no live session is under way");
  live->stop = 1;
  return TRUE;
}

void ew_live_write_json(struct ew_live *live, struct ew_json *json) {
  g_mutex_lock(&live->mutex);
  ew_json_boolean(json, "running", live->running);
  ew_json_text(json, "source", live->running ? live->source : NULL);
  ew_json_text(json, "since", live->running ? live->since : NULL);
  ew_json_open_array(json, "news");
  for (GList *l = live->kept.head; l; l = l->next)
    g_string_append_printf(json->text, "%s%s", l == live->kept.head ? "" : ",", (char *)l->data);
  ew_json_close_array(json);
  ew_live_bands_write_table(live->bands, json);
  g_mutex_unlock(&live->mutex);
  ew_live_gauges_write_json(json);
}
