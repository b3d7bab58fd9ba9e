/* What the files of the HTTP server share: the server, its connections, and the part each file has in it.
 * Internal to src/serve/http*.c; all of it belongs to the main thread, but for what a request carries to
 * the worker. */
#pragma once
#include "serve/fair.h"
#include "serve/http.h"
#include <microhttpd.h>

/* One queue of requests, and its thread. */
struct ew_http_queue {
  struct ew_http *http;
  guint number; /* from 1 */
  GThreadPool *worker;
  struct ew_fair *turns; /* whose is next */
};

struct ew_http {
  struct ew_http_options options;
  struct ew_guard guard;
  struct MHD_Daemon *daemon;
  struct ew_http_queue *queues;
  GPtrArray *peers;   /* struct ew_peer*: every connection */
  GPtrArray *viewers; /* struct ew_viewer*: open event streams */
  guint loop_source, timer, watch, heartbeat;
  gint busy;                           /* requests in the queues */
  gint64 header_us, body_us, reply_us; /* deadlines */
  gint closing;                        /* atomic: the queues look at it too */
};

/* One connection: when what it owes is due. */
struct ew_peer {
  int fd;
  guint32 address;
  gboolean far;    /* of another machine */
  gboolean proven; /* it was admitted to more than the page's files and the doors */
  gboolean ended;  /* its connection was shut; it leaves at the library's next turn */
  gboolean asked;  /* a worker has its request */
  gint64 since;    /* of the request being read */
  gboolean body;   /* its header is in */
  gboolean served; /* it owes nothing: we do */
};

/* http.c: let the library do what is due. After every resumed connection. */
void ew_http_pump(struct ew_http *http);

/* http_peers.c: who is connected, and what each owes; ends those that owe for too long. */
struct ew_peer *ew_peer_of(struct MHD_Connection *connection);
/* The peer's IPv4 address; 0 when it is none. */
guint32 ew_peer_address(struct MHD_Connection *connection);
gboolean ew_peer_is_far(guint32 address); /* of another machine */
enum MHD_Result ew_peers_on_knock(void *http, const struct sockaddr *address, socklen_t size);
void ew_peers_on_connection(void *http, struct MHD_Connection *connection, void **context,
                            enum MHD_ConnectionNotificationCode code);
/* A source of the main loop; twice a second. */
gboolean ew_peers_on_watch(gpointer http);
void ew_peers_settle_deadlines(struct ew_http *http);

/* http_reply.c: a reply with its headers. The reply's bytes are made of its JSON where it has none. */
void ew_http_add_headers(struct MHD_Response *response, const struct ew_reply *reply);
enum MHD_Result ew_http_send(struct MHD_Connection *connection, struct ew_reply *reply);
void ew_http_write_refusal(struct ew_reply *reply, guint status, const char *why);
enum MHD_Result ew_http_refuse(struct MHD_Connection *connection, guint status, const char *why);

/* http_events.c: open streams of events. */
enum MHD_Result ew_http_open_events(struct ew_http *http, struct MHD_Connection *connection,
                                    const struct ew_request *request);
/* Ends this peer's stream, if it has one. */
void ew_http_hang_up_peer(struct ew_http *http, const struct ew_peer *peer);
/* Wakes those that wait, so that they see that the server ends. */
void ew_http_wake_viewers(struct ew_http *http);
/* Ends all of them; each that still may comes again. */
void ew_http_hang_up_viewers(struct ew_http *http);
/* Ends those whose oldest frame was not read in time, and those whose other side has gone. */
void ew_http_end_idle_viewers(struct ew_http *http, gint64 now);
gboolean ew_http_on_heartbeat(gpointer http); /* a source of the main loop */
