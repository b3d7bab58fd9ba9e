/* MQTT by libmosquitto's own thread. With a map each topic carries one figure, and every message makes
 * a row with the latest of all; a topic that was silent beyond its time-out (cell/freshness) is NaN in
 * it. Without a map the messages of the topic named in the URL are lines, as a logger writes them.
 *
 * A broker gives what it retained to whoever subscribes, be its sender alive or not: such a message is
 * counted and reported, and never taken as a figure. A retained line is taken when it is words alone: a
 * header that was kept for late comers. */
#include "cell/source_mqtt.h"
#include "base/error.h"
#include "cell/bus_map.h"
#include "cell/bus_queue.h"
#include "cell/freshness.h"
#include "cell/line_header.h"
#include "cell/line_parser.h"
#include "cell/source_kinds.h"
#include <math.h>
#include <mosquitto.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#define ROWS_WAITING 100000
#define KEEP_ALIVE_S 5
#define GREETED_S    3.0 /* a broker that has not greeted within this is said not to answer */

struct mqtt_source {
  struct ew_source base;
  struct mosquitto *client;
  struct ew_bus_map *map; /* NULL: lines */
  struct ew_bus_queue *queue;
  struct ew_line_parser *parser;
  int lines[2]; /* of messages that are lines: written by the client's thread */
  double *values, *row;
  struct ew_freshness *fresh; /* one a topic of the map */
  char *topic;
  gboolean started, told;
  gint greeted; /* atomic: set by the client's thread */
  double started_s;
};

EW_MESSAGE(broker, "cell.broker", EW_NOTE, "the broker");
EW_MESSAGE(no_broker, "cell.no-broker", EW_CAUTION,
           "no broker answers; see that it runs, and that host and port are right");
EW_MESSAGE(not_a_number, "cell.not-a-number", EW_CAUTION, "a message on '{topic}' is not a number");
EW_MESSAGE(too_long, "cell.message-too-long", EW_CAUTION, "a message too long for a line");
EW_MESSAGE(empty, "cell.message-empty", EW_CAUTION, "an empty message");
EW_MESSAGE(flood, "cell.message-flood", EW_CAUTION,
           "messages arrive faster than they can be taken: one was dropped");
EW_MESSAGE(retained_one, "cell.message-retained", EW_CAUTION,
           "a retained message on '{topic}' is not live and was ignored");

static ew_message *of_broker(const char *error) {
  return ew_message(&ew_source_error, ew_say_text("error", error));
}

static void on_connect(struct mosquitto *client, void *user, int how) {
  struct mqtt_source *s = user;
  g_atomic_int_set(&s->greeted, 1);
  if (how) {
    ew_bus_queue_event(s->queue, EW_SOURCE_LOST, of_broker(mosquitto_connack_string(how)));
    return;
  }
  ew_bus_queue_event(s->queue, EW_SOURCE_CONNECTED, ew_message_plain(&broker));
  if (!s->map)
    mosquitto_subscribe(client, NULL, s->topic, 0);
  for (guint i = 0; s->map && i < s->map->rows->len; i++)
    mosquitto_subscribe(client, NULL, g_array_index(s->map->rows, struct ew_bus_row, i).topic, 0);
}

static void on_disconnect(struct mosquitto *client, void *user, int how) {
  struct mqtt_source *s = user;
  (void)client;
  if (how)
    ew_bus_queue_event(s->queue, EW_SOURCE_LOST, of_broker(mosquitto_strerror(how)));
}

/* Everything as it is known now; what is too old is not known. */
static void send_row(struct mqtt_source *s, double now_s) {
  g_assert(s->map && s->map->rows->len > 0);
  for (guint i = 0; i < s->map->rows->len; i++)
    s->row[i] = ew_freshness_live(&s->fresh[i], now_s) ? s->values[i] : (double)NAN;
  ew_bus_queue_row(s->queue, now_s, now_s, s->row);
}

static void take_figure(struct mqtt_source *s, const char *topic, const void *payload, gsize size,
                        double now_s) {
  gboolean ours = FALSE;
  for (guint i = 0; i < s->map->rows->len; i++) {
    const struct ew_bus_row *row = &g_array_index(s->map->rows, struct ew_bus_row, i);
    if (strcmp(row->topic, topic) != 0)
      continue;
    ew_freshness_heard(&s->fresh[i], now_s);
    if (!ew_bus_topic_value(row, payload, size, &s->values[i]))
      ew_bus_queue_rubbish(s->queue, ew_message(&not_a_number, ew_say_text("topic", topic)));
    ours = TRUE;
  }
  if (ours)
    send_row(s, now_s);
}

/* One line a message; the parser judges it. */
static void take_line(struct mqtt_source *s, const void *payload, gsize size) {
  if (size == 0 || size > EW_LINE_MOST - 1) {
    ew_bus_queue_rubbish(s->queue, ew_message_plain(size ? &too_long : &empty));
    return;
  }
  g_autofree char *line = g_malloc(size + 1);
  memcpy(line, payload, size);
  line[size] = '\n';
  if (send(s->lines[1], line, size + 1, MSG_DONTWAIT | MSG_NOSIGNAL) < 0)
    ew_bus_queue_rubbish(s->queue, ew_message_plain(&flood));
}

static void refuse_retained(struct mqtt_source *s, const char *topic) {
  g_autofree char *name = g_utf8_make_valid(topic, -1);
  ew_bus_queue_rubbish(s->queue, ew_message(&retained_one, ew_say_text("topic", name)));
}

void ew_source_mqtt_message(struct ew_source *base, const char *topic, const void *payload,
                            gsize size, gboolean retained, double now_s) {
  struct mqtt_source *s = (struct mqtt_source *)base;
  if (retained && (s->map || ew_line_has_figures(payload, size)))
    refuse_retained(s, topic);
  else if (s->map)
    take_figure(s, topic, payload, size, now_s);
  else
    take_line(s, payload, size);
}

static void on_message(struct mosquitto *client, void *user, const struct mosquitto_message *m) {
  (void)client;
  if (m->topic && m->payloadlen >= 0)
    ew_source_mqtt_message(user, m->topic, m->payload, (gsize)m->payloadlen, m->retain,
                           ew_monotonic_s());
}

static void mqtt_close(struct ew_source *base) {
  struct mqtt_source *s = (struct mqtt_source *)base;
  if (s->client) {
    mosquitto_disconnect(s->client);
    if (s->started)
      mosquitto_loop_stop(s->client, true);
    mosquitto_destroy(s->client);
  }
  if (s->lines[0]) {
    close(s->lines[0]);
    close(s->lines[1]);
  }
  ew_bus_queue_free(s->queue);
  ew_bus_map_free(s->map);
  ew_line_parser_free(s->parser);
  g_free(s->values);
  g_free(s->row);
  g_free(s->fresh);
  g_free(s->topic);
  g_free(s);
}

static void read_lines(struct mqtt_source *s, const struct ew_source_sink *sink) {
  char bytes[EW_LINE_MOST];
  gssize got;
  while ((got = recv(s->lines[0], bytes, sizeof bytes, MSG_DONTWAIT)) > 0)
    ew_line_parser_feed(s->parser, bytes, (gsize)got, ew_monotonic_s(), sink);
}

/* The library tries in silence to reach a broker that was never there: said once, and when to look again. */
static double watch_greeting(struct mqtt_source *s, const struct ew_source_sink *sink,
                             double now_s) {
  if (s->told || g_atomic_int_get(&s->greeted))
    return INFINITY;
  if (now_s < s->started_s + GREETED_S)
    return s->started_s + GREETED_S + 0.01;
  s->told = TRUE;
  ew_source_tell(sink, EW_SOURCE_LOST, ew_message_plain(&no_broker));
  return INFINITY;
}

static void mqtt_read(struct ew_source *base, const struct ew_source_sink *sink, double now_s) {
  struct mqtt_source *s = (struct mqtt_source *)base;
  if (!s->started) {
    if (s->map)
      sink->head(sink->user, &s->map->channels);
    s->started = mosquitto_loop_start(s->client) == MOSQ_ERR_SUCCESS;
    s->started_s = now_s;
  }
  ew_bus_queue_drain(s->queue, sink);
  if (!s->map)
    read_lines(s, sink);
  double greeting_s = watch_greeting(s, sink, now_s);
  base->wake_s = s->map ? greeting_s : now_s + 0.002; /* two things to wait for, one to poll */
}

static struct ew_source *mqtt_open(const char *rest, GError **error) {
  char host[128], topic[256] = "";
  int port;
  if (sscanf(rest, "//%127[^:/]:%d/%255[^?]", host, &port, topic) < 2 || port < 1 || port > 65535) {
    ew_refuse(error, "write mqtt://HOST:PORT/TOPIC, or mqtt://HOST:PORT/?map=FILE");
    return NULL;
  }
  g_autofree char *path = ew_url_option(rest, "map");
  g_autoptr(ew_bus_map) map = path ? ew_bus_map_file(path, "topics", error) : NULL;
  if ((path && !map) || (!path && !*topic)) {
    if (!path)
      ew_refuse(error, "a topic is missing, or map=FILE");
    return NULL;
  }
  struct mqtt_source *s = g_new0(struct mqtt_source, 1);
  guint count = map ? map->rows->len : 0;
  s->map = g_steal_pointer(&map);
  s->topic = g_strdup(topic);
  s->parser = ew_line_parser_new();
  s->queue = ew_bus_queue_new(count, ROWS_WAITING);
  s->values = g_new0(double, count + 1);
  s->row = g_new0(double, count + 1);
  s->fresh = g_new0(struct ew_freshness, count + 1);
  for (guint i = 0; i < count; i++) {
    s->values[i] = NAN;
    ew_freshness_begin(&s->fresh[i], g_array_index(s->map->rows, struct ew_bus_row, i).timeout_s);
  }
  mosquitto_lib_init();
  s->client = mosquitto_new(NULL, true, s);
  mosquitto_connect_callback_set(s->client, on_connect);
  mosquitto_disconnect_callback_set(s->client, on_disconnect);
  mosquitto_message_callback_set(s->client, on_message);
  mosquitto_reconnect_delay_set(s->client, 1, 2, false);
  s->base.fd = ew_bus_queue_fd(s->queue);
  if ((s->map || socketpair(AF_UNIX, SOCK_SEQPACKET, 0, s->lines) == 0) &&
      mosquitto_connect_async(s->client, host, port, KEEP_ALIVE_S) != MOSQ_ERR_INVAL)
    return &s->base;
  ew_refuse(error, "mqtt:%s: the client could not be made", rest);
  mqtt_close(&s->base);
  return NULL;
}
const struct ew_source_class ew_source_class_mqtt = {
    "mqtt",
    "mqtt://HOST:PORT/TOPIC",
    "lines, or with map=FILE figures, from an MQTT broker",
    mqtt_open,
    mqtt_read,
    NULL,
    mqtt_close};
