/* A thread of its own speaks to the broker, as names, connections and handshakes may take minutes; the main loop looks at the book once a second
 * and hands one message over, unless the last still waits in the socket. MQTT 5, because only there a broker says that it does not take a topic from this login. */
#include "serve/publish.h"
#include "base/error.h"
#include "base/language.h"
#include "base/words.h"
#include "book/book.h"
#include "book/store.h"
#include "desk/now.h"
#include <errno.h>
#include <glib-unix.h>
#include <math.h>
#include <mosquitto.h>
#include <mqtt_protocol.h>
#include <signal.h>
#include <string.h>

#define PERIOD_MS    1000
#define KEEP_ALIVE_S 10
#define FAREWELL_MS  2000
#define LOOP_MS      200
#define LONGEST_S    30 /* between two tries */
#define GONE         "gone"

enum line_state { LINE_BEGUN, LINE_UP, LINE_DOWN };

struct publisher {
  const struct ew_publish_options *o;
  struct ew_book *book;
  struct mosquitto *client;
  GMainLoop *loop;
  char *state_topic, *now_topic;
  enum ew_now_state told; /* of TOPIC/state */
  gboolean tell_again;
  GThread *thread;
  gint over, ended; /* the thread is to end; it has */
  gint waits;       /* number of the message that the broker has not confirmed; 0: none */
  GMutex mutex;     /* for what follows: written by the thread */
  GCond wake;
  enum line_state line;
  gboolean accepted; /* once, at least: what it refuses now may be allowed again */
  char *refused;     /* what no waiting mends; NULL: nothing */
  char *news;        /* to be said by the main loop */
};

/* ---- in the thread ---- */

static void line_is(struct publisher *p, enum line_state line, const char *why) {
  g_mutex_lock(&p->mutex);
  if (p->line != line && !p->refused) {
    g_free(p->news);
    p->news = g_strdup(why ? why : "");
  }
  p->line = line;
  p->tell_again |= line == LINE_UP;
  p->accepted |= line == LINE_UP;
  g_mutex_unlock(&p->mutex);
}

static void refuse(struct publisher *p, const char *why) {
  g_mutex_lock(&p->mutex);
  if (!p->refused)
    p->refused = g_strdup(why);
  g_mutex_unlock(&p->mutex);
}

static gboolean was_up(struct publisher *p) {
  g_mutex_lock(&p->mutex);
  gboolean was = p->accepted;
  g_mutex_unlock(&p->mutex);
  return was;
}

static void on_connect(struct mosquitto *client, void *user, int how, int flags,
                       const mosquitto_property *properties) {
  (void)client, (void)flags, (void)properties;
  if (how == 0)
    line_is(user, LINE_UP, NULL);
  else if (was_up(user))
    line_is(user, LINE_DOWN, mosquitto_reason_string(how));
  else
    refuse(user, mosquitto_reason_string(how));
}

static void on_disconnect(struct mosquitto *client, void *user, int how,
                          const mosquitto_property *properties) {
  (void)client, (void)properties;
  if (how)
    line_is(user, LINE_DOWN, how < 0x80 ? mosquitto_strerror(how) : mosquitto_reason_string(how));
}

static void on_published(struct mosquitto *client, void *user, int id, int how,
                         const mosquitto_property *properties) {
  struct publisher *p = user;
  (void)client, (void)properties;
  g_atomic_int_compare_and_exchange(&p->waits, id, 0);
  if (how >= 0x80)
    refuse(p, mosquitto_reason_string(how));
}

static gboolean is_over(struct publisher *p) {
  return g_atomic_int_get(&p->over) != 0;
}

/* A certificate that was never trusted will not be by waiting. */
static void failed(struct publisher *p, int how) {
  const char *why = how == MOSQ_ERR_ERRNO ? g_strerror(errno) : mosquitto_strerror(how);
  if ((how == MOSQ_ERR_TLS || how == MOSQ_ERR_INVAL) && !was_up(p))
    refuse(p, why);
  else
    line_is(p, LINE_DOWN, why);
}

static void rest(struct publisher *p, int seconds) {
  gint64 until = g_get_monotonic_time() + seconds * G_USEC_PER_SEC;
  g_mutex_lock(&p->mutex);
  while (!is_over(p) && g_cond_wait_until(&p->wake, &p->mutex, until))
    continue;
  g_mutex_unlock(&p->mutex);
}

/* As long as the line holds; what ended it. *seconds: to rest after it. */
static int hold(struct publisher *p, int *seconds) {
  int how = MOSQ_ERR_SUCCESS;
  while (!is_over(p) && how == MOSQ_ERR_SUCCESS) {
    how = mosquitto_loop(p->client, LOOP_MS, 1);
    g_mutex_lock(&p->mutex);
    if (p->line == LINE_UP)
      *seconds = 1;
    g_mutex_unlock(&p->mutex);
  }
  return how;
}

static gpointer speak(gpointer user) {
  struct publisher *p = user;
  int seconds = 1;
  int how = mosquitto_connect(p->client, p->o->host, (int)p->o->port, KEEP_ALIVE_S);
  while (!is_over(p)) {
    if (how == MOSQ_ERR_SUCCESS)
      how = hold(p, &seconds);
    if (how != MOSQ_ERR_SUCCESS)
      failed(p, how);
    rest(p, seconds);
    seconds = MIN(2 * seconds, LONGEST_S);
    how = is_over(p) ? how : mosquitto_reconnect(p->client);
  }
  g_atomic_int_set(&p->ended, 1);
  return NULL;
}

/* ---- in the main loop ---- */

static gboolean send(struct publisher *p, const char *topic, const char *text, int quality,
                     gboolean kept) {
  int id = 0;
  gboolean good = mosquitto_publish_v5(p->client, &id, topic, (int)strlen(text), text, quality,
                                       kept, NULL) == MOSQ_ERR_SUCCESS;
  if (good && quality)
    g_atomic_int_set(&p->waits, id); /* set too late, it ends by FAREWELL_MS */
  return good;
}

static void say_line(struct publisher *p) {
  g_mutex_lock(&p->mutex);
  g_autofree char *news = g_steal_pointer(&p->news);
  enum line_state line = p->line;
  g_mutex_unlock(&p->mutex);
  if (!news)
    return;
  g_autofree char *says =
      line == LINE_UP ? ew_words("publishing to %s:%u, topic %s (Ctrl-C stops it)", p->o->host,
                                 p->o->port, p->o->topic)
                      : ew_words("the broker at %s:%u does not answer (%s): it is tried again; the "
                                 "recording goes on",
                                 p->o->host, p->o->port, news);
  p->o->says(says, p->o->user);
}

static gboolean is_refused(struct publisher *p) {
  g_mutex_lock(&p->mutex);
  gboolean is = p->refused != NULL;
  g_mutex_unlock(&p->mutex);
  return is;
}

/* Up, and it takes more: TRUE. *again: the broker may not know the state. */
static gboolean takes_more(struct publisher *p, gboolean *again) {
  g_mutex_lock(&p->mutex);
  gboolean up = p->line == LINE_UP;
  *again = p->tell_again;
  p->tell_again &= !up;
  g_mutex_unlock(&p->mutex);
  return up && !mosquitto_want_write(p->client);
}

static void publish(struct publisher *p, const struct ew_now *now) {
  struct ew_json json = {.text = g_string_new(NULL)};
  gboolean again;
  if (takes_more(p, &again)) {
    if (again || now->state != p->told)
      send(p, p->state_topic, ew_now_keys[now->state], 1, TRUE);
    p->told = now->state;
    ew_json_open(&json, NULL);
    ew_now_write_json(now, p->o->channels, p->o->units, &json);
    ew_json_close(&json);
    send(p, p->now_topic, json.text->str, 0, FALSE);
  }
  g_string_free(json.text, TRUE);
}

/* A book that cannot be read now is read at the next look; nothing old is sent meanwhile. */
static gboolean on_period(gpointer user) {
  struct publisher *p = user;
  struct ew_now now;
  g_autoptr(GError) error = NULL;
  double unix_s = (double)g_get_real_time() / 1e6;
  say_line(p);
  ew_book_forget_trouble();
  if (is_refused(p) || unix_s >= p->o->until_s)
    g_main_loop_quit(p->loop);
  else if (ew_now_read(p->book, p->o->engine, unix_s, &now, &error)) {
    publish(p, &now);
    ew_now_clear(&now);
  }
  return G_SOURCE_CONTINUE;
}

static gboolean on_signal(gpointer user) {
  g_main_loop_quit(user);
  return G_SOURCE_CONTINUE;
}

/* ---- begun and ended ---- */

static gboolean could(int how, const char *what, GError **error) {
  return how == MOSQ_ERR_SUCCESS ||
         (how == MOSQ_ERR_INVAL ? ew_refuse(error, "%s cannot be used", what)
                                : ew_refuse(error, "%s: %s", what, mosquitto_strerror(how)));
}

static gboolean set_up(struct publisher *p, GError **error) {
  const struct ew_publish_options *o = p->o;
  struct mosquitto *c = p->client;
  mosquitto_int_option(c, MOSQ_OPT_PROTOCOL_VERSION, MQTT_PROTOCOL_V5);
  mosquitto_connect_v5_callback_set(c, on_connect);
  mosquitto_disconnect_v5_callback_set(c, on_disconnect);
  mosquitto_publish_v5_callback_set(c, on_published);
  mosquitto_threaded_set(c, true);
  if (o->tls && !could(mosquitto_tls_set(c, o->authority, o->authority ? NULL : "/etc/ssl/certs",
                                         NULL, NULL, NULL),
                       "--authority", error))
    return FALSE;
  return could(mosquitto_username_pw_set(c, o->login, o->password), "--login", error) &&
         could(mosquitto_will_set(c, p->state_topic, strlen(GONE), GONE, 1, true), "--to", error);
}

/* "gone" is said by ourselves: a will is for those who die. */
static void farewell(struct publisher *p) {
  gboolean again;
  if (takes_more(p, &again) && send(p, p->state_topic, GONE, 1, TRUE))
    for (int i = 0; i < FAREWELL_MS / 10 && g_atomic_int_get(&p->waits); i++)
      g_usleep(10000);
  mosquitto_disconnect(p->client);
  g_mutex_lock(&p->mutex);
  g_atomic_int_set(&p->over, 1);
  g_cond_signal(&p->wake);
  g_mutex_unlock(&p->mutex);
  for (int i = 0; i < FAREWELL_MS / 10 && !g_atomic_int_get(&p->ended); i++)
    g_usleep(10000);
}

static gboolean run(struct publisher *p, GError **error) {
  if (!set_up(p, error))
    return FALSE;
  p->loop = g_main_loop_new(NULL, FALSE);
  g_unix_signal_add(SIGTERM, on_signal, p->loop);
  g_unix_signal_add(SIGINT, on_signal, p->loop);
  g_timeout_add(PERIOD_MS, on_period, p);
  p->thread = g_thread_new("publisher", speak, p);
  g_main_loop_run(
      p->loop); /* the loop and its sources stay: a second signal must not kill what ends */
  farewell(p);
  g_mutex_lock(&p->mutex);
  g_autofree char *refused = g_strdup(p->refused);
  g_mutex_unlock(&p->mutex);
  return !refused || ew_refuse(error,
                               "the broker at %s:%u refuses: %s. Check login, password, "
                               "certificate, and what the broker lets this login write: %s/#",
                               p->o->host, p->o->port, refused, p->o->topic);
}

/* Nothing of it is freed under a thread that still waits for a name or a handshake: the program ends. */
static void publisher_free(struct publisher *p) {
  if (p->thread && !g_atomic_int_get(&p->ended))
    return;
  if (p->thread)
    g_thread_join(p->thread);
  if (p->client)
    mosquitto_destroy(p->client);
  g_free(p->state_topic);
  g_free(p->now_topic);
  g_free(p->refused);
  g_free(p->news);
  g_cond_clear(&p->wake);
  g_mutex_clear(&p->mutex);
  g_free(p);
}

gboolean ew_publish_run(const struct ew_publish_options *o, GError **error) {
  struct publisher *p = g_new0(struct publisher, 1);
  *p = (struct publisher){.o = o, .told = EW_NOW_NONE, .tell_again = TRUE};
  g_mutex_init(&p->mutex);
  g_cond_init(&p->wake);
  signal(SIGPIPE, SIG_IGN);
  p->state_topic = g_strdup_printf("%s/state", o->topic);
  p->now_topic = g_strdup_printf("%s/now", o->topic);
  mosquitto_lib_init();
  p->client = mosquitto_new(NULL, true, p);
  p->book = p->client ? ew_book_open(o->book, FALSE, error) : NULL;
  gboolean good = p->book && run(p, error);
  if (!p->client)
    ew_fail(error, "the client could not be made");
  ew_book_close(p->book);
  publisher_free(p);
  return good;
}
