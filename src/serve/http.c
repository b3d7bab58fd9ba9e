#include "serve/http.h"
#include "base/error.h"
#include "serve/fair.h"
#include <arpa/inet.h>
#include <errno.h>
#include <gio/gio.h>
#include <glib-unix.h>
#include <microhttpd.h>
#include <netinet/in.h>
#include <string.h>
#include <sys/socket.h>

#define CONNECTIONS     256u
#define PER_ADDRESS     64u
#define FAR             192u /* of the connections, for other machines; the rest is kept for this one */
#define HEADER_BYTES    ((size_t)32768)
#define BODY_BYTES      ((gsize)1 << 20)
#define RECORDING_BYTES ((gsize)64 << 20)
#define SILENCE_S       15u
#define HEADER_US       (10 * G_USEC_PER_SEC)
#define BODY_US         (60 * G_USEC_PER_SEC)
#define QUEUE_BYTES     ((gsize)65536)
#define QUEUE_US        (5 * G_USEC_PER_SEC)
#define HEARTBEAT_S     10

struct ew_http {
  struct ew_http_options options;
  struct ew_guard guard;
  struct MHD_Daemon *daemon;
  GThreadPool *worker;
  GPtrArray *peers;   /* struct peer*: every connection */
  GPtrArray *viewers; /* struct viewer*: open event streams */
  GBytes *hello;      /* the last "changed", for those who come later */
  guint loop_source, timer, watch, heartbeat;
  gint busy;                 /* requests in the worker */
  struct ew_fair *turns;     /* and whose is next */
  gint64 header_us, body_us; /* deadlines */
  gboolean closing;
};

/* One connection: when what it owes is due. */
struct peer {
  struct ew_http *http;
  int fd;
  gboolean far;    /* of another machine */
  gint64 since;    /* of the request being read */
  gboolean body;   /* its header is in */
  gboolean served; /* it owes nothing: we do */
};

/* One request on its way in, to the worker and back. */
struct incoming {
  struct ew_http *http;
  struct MHD_Connection *connection;
  struct ew_request *request;
  char *target;
  GByteArray *body;
  gsize body_most;
  struct ew_reply reply;
  guint64 ticket;
  gboolean started, asked, answered;
};

struct viewer {
  struct ew_http *http;
  struct MHD_Connection *connection;
  GQueue frames; /* struct frame* */
  gsize bytes, offset;
  gboolean waiting;
};

struct frame {
  GBytes *bytes;
  gint64 at;
};

static void pump(struct ew_http *h);

static gboolean on_timer(gpointer user) {
  struct ew_http *h = user;
  h->timer = 0;
  pump(h);
  return G_SOURCE_REMOVE;
}

static void pump(struct ew_http *h) {
  MHD_UNSIGNED_LONG_LONG wait;
  MHD_run(h->daemon);
  if (h->timer)
    g_source_remove(h->timer);
  h->timer = 0;
  if (MHD_get_timeout(h->daemon, &wait) == MHD_YES)
    h->timer = g_timeout_add((guint)MIN(wait, 1000), on_timer, h);
}

static gboolean on_fd(gint fd, GIOCondition condition, gpointer user) {
  (void)fd;
  (void)condition;
  pump(user);
  return G_SOURCE_CONTINUE;
}

/* ---- deadlines ---- */

static struct peer *peer_of(struct MHD_Connection *connection) {
  const union MHD_ConnectionInfo *info =
      MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
  return info ? info->socket_context : NULL;
}

static guint32 ipv4_of(const struct sockaddr *address) {
  return address && address->sa_family == AF_INET
             ? ntohl(((const struct sockaddr_in *)(const void *)address)->sin_addr.s_addr)
             : 0;
}

/* The peer's IPv4 address; 0 when it is none. */
static guint32 address_of(struct MHD_Connection *connection) {
  const union MHD_ConnectionInfo *info =
      MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
  return ipv4_of(info ? info->client_addr : NULL);
}

static gboolean is_far(guint32 address) {
  return address >> 24 != 127;
}

/* A crowd of neighbours must not keep this machine's own page out. */
static enum MHD_Result on_knock(void *user, const struct sockaddr *address, socklen_t size) {
  const struct ew_http *h = user;
  guint far = 0;
  (void)size;
  for (guint i = 0; i < h->peers->len; i++)
    far += ((const struct peer *)g_ptr_array_index(h->peers, i))->far;
  return is_far(ipv4_of(address)) && far >= FAR ? MHD_NO : MHD_YES;
}

static void on_connection(void *user, struct MHD_Connection *connection, void **context,
                          enum MHD_ConnectionNotificationCode code) {
  struct ew_http *h = user;
  if (code == MHD_CONNECTION_NOTIFY_STARTED) {
    struct peer *peer = g_new0(struct peer, 1);
    peer->http = h;
    peer->fd = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD)->connect_fd;
    peer->far = is_far(address_of(connection));
    peer->since = g_get_monotonic_time();
    g_ptr_array_add(h->peers, peer);
    *context = peer;
  } else if (*context) {
    g_ptr_array_remove_fast(h->peers, *context);
    *context = NULL;
  }
}

static gboolean on_watch(gpointer user) {
  struct ew_http *h = user;
  gint64 now = g_get_monotonic_time();
  for (guint i = 0; i < h->peers->len; i++) {
    const struct peer *peer = g_ptr_array_index(h->peers, i);
    if (!peer->served && now - peer->since > (peer->body ? h->body_us : h->header_us))
      shutdown(peer->fd, SHUT_RDWR);
  }
  for (guint i = 0; i < h->viewers->len; i++) {
    struct viewer *v = g_ptr_array_index(h->viewers, i);
    const struct frame *head = g_queue_peek_head(&v->frames);
    struct peer *peer = head && now - head->at > QUEUE_US ? peer_of(v->connection) : NULL;
    if (peer)
      shutdown(peer->fd, SHUT_RDWR);
  }
  pump(h);
  return G_SOURCE_CONTINUE;
}

/* ---- replies ---- */

static void header(struct MHD_Response *response, const char *name, const char *value) {
  MHD_add_response_header(response, name, value);
}

static void add_headers(struct MHD_Response *response, const struct ew_reply *r) {
  header(response, "Content-Type", r->type ? r->type : "application/json; charset=utf-8");
  header(
      response, "Content-Security-Policy",
      r->inert
          ? "default-src 'none'; sandbox; frame-ancestors 'none'"
          : "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
            "connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; "
            "base-uri 'none'; frame-ancestors 'none'");
  header(response, "X-Content-Type-Options", "nosniff");
  header(response, "X-Frame-Options", "DENY");
  header(response, "Referrer-Policy", "no-referrer");
  header(response, "Cross-Origin-Resource-Policy", "same-origin");
  header(response, "Cross-Origin-Opener-Policy", "same-origin");
  header(response, "Cache-Control", r->keep ? "no-cache" : "no-store");
  if (r->etag)
    header(response, "ETag", r->etag);
  if (r->gzipped)
    header(response, "Content-Encoding", "gzip");
  if (r->keep)
    header(response, "Vary", "Accept-Encoding");
  if (r->cookie)
    header(response, "Set-Cookie", r->cookie);
  if (r->download) {
    g_autofree char *value = g_strdup_printf("attachment; filename=\"%s\"", r->download);
    header(response, "Content-Disposition", value);
  }
}

static void free_bytes(void *bytes) {
  g_bytes_unref(bytes);
}

static enum MHD_Result send_reply(struct MHD_Connection *connection, struct ew_reply *r) {
  if (!r->bytes)
    r->bytes = r->json.text ? g_string_free_to_bytes(r->json.text) : g_bytes_new(NULL, 0);
  r->json.text = NULL;
  gsize size;
  const void *data = g_bytes_get_data(r->bytes, &size);
  struct MHD_Response *response = MHD_create_response_from_buffer_with_free_callback_cls(
      size, (void *)(gsize)data, free_bytes, g_bytes_ref(r->bytes));
  add_headers(response, r);
  enum MHD_Result done = MHD_queue_response(connection, r->status ? r->status : 200, response);
  MHD_destroy_response(response);
  return done;
}

static enum MHD_Result refuse(struct MHD_Connection *connection, guint status, const char *why) {
  struct ew_reply reply = {.status = status, .json = {.text = g_string_new(NULL)}};
  ew_json_open(&reply.json, NULL);
  ew_json_text(&reply.json, "error", why);
  ew_json_close(&reply.json);
  enum MHD_Result done = send_reply(connection, &reply);
  ew_reply_clear(&reply);
  return done;
}

/* ---- events ---- */

static void frame_free(gpointer data) {
  struct frame *frame = data;
  g_bytes_unref(frame->bytes);
  g_free(frame);
}

static ssize_t read_events(void *user, uint64_t position, char *buffer, size_t most) {
  (void)position;
  struct viewer *v = user;
  struct frame *frame = g_queue_peek_head(&v->frames);
  if (!frame && v->http->closing)
    return MHD_CONTENT_READER_END_OF_STREAM;
  if (!frame) {
    v->waiting = TRUE;
    MHD_suspend_connection(v->connection);
    return 0;
  }
  gsize size;
  const char *data = g_bytes_get_data(frame->bytes, &size);
  gsize count = MIN(most, size - v->offset);
  memcpy(buffer, data + v->offset, count);
  v->offset += count;
  if (v->offset == size) {
    v->bytes -= size;
    v->offset = 0;
    frame_free(g_queue_pop_head(&v->frames));
  }
  return (ssize_t)count;
}

static void viewer_free(void *user) {
  struct viewer *v = user;
  g_ptr_array_remove_fast(v->http->viewers, v);
  g_queue_clear_full(&v->frames, frame_free);
  g_free(v);
}

/* The frame that is half sent stays; of the others the oldest go when there are too many. */
static void push_frame(struct viewer *v, GBytes *bytes) {
  while (v->bytes > QUEUE_BYTES && v->frames.length > 1) {
    struct frame *old = g_queue_pop_nth(&v->frames, 1);
    v->bytes -= g_bytes_get_size(old->bytes);
    frame_free(old);
  }
  struct frame *frame = g_new(struct frame, 1);
  *frame = (struct frame){g_bytes_ref(bytes), g_get_monotonic_time()};
  g_queue_push_tail(&v->frames, frame);
  v->bytes += g_bytes_get_size(bytes);
  if (v->waiting) {
    v->waiting = FALSE;
    MHD_resume_connection(v->connection);
  }
}

static void publish_bytes(struct ew_http *h, GBytes *bytes) {
  for (guint i = 0; i < h->viewers->len; i++)
    push_frame(g_ptr_array_index(h->viewers, i), bytes);
  pump(h);
}

void ew_http_publish(struct ew_http *h, const char *event, const char *data) {
  g_autofree char *text = g_strdup_printf("event: %s\ndata: %s\n\n", event, data);
  g_autoptr(GBytes) bytes = g_bytes_new(text, strlen(text));
  publish_bytes(h, bytes);
}

guint ew_http_viewers(const struct ew_http *h) {
  return h->viewers->len;
}

static gboolean on_heartbeat(gpointer user) {
  g_autoptr(GBytes) beat = g_bytes_new_static(": still here\n\n", 14);
  publish_bytes(user, beat);
  return G_SOURCE_CONTINUE;
}

static enum MHD_Result open_events(struct ew_http *h, struct MHD_Connection *connection) {
  struct viewer *v = g_new0(struct viewer, 1);
  v->http = h;
  v->connection = connection;
  g_ptr_array_add(h->viewers, v);
  g_autoptr(GBytes) hello = g_bytes_new_static("retry: 1000\nevent: hello\ndata: {}\n\n", 35);
  push_frame(v, hello);
  int small = 32768;
  setsockopt(peer_of(connection)->fd, SOL_SOCKET, SO_SNDBUF, &small, sizeof small);
  struct MHD_Response *response =
      MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, 4096, read_events, v, viewer_free);
  struct ew_reply head = {.type = "text/event-stream"};
  add_headers(response, &head);
  enum MHD_Result done = MHD_queue_response(connection, 200, response);
  MHD_destroy_response(response);
  return done;
}

/* ---- requests ---- */

static void *on_target(void *user, const char *target, struct MHD_Connection *connection) {
  struct incoming *in = g_new0(struct incoming, 1);
  in->http = user;
  in->connection = connection;
  in->target = g_strdup(target);
  return in;
}

/* The library must not decode: our own reader is stricter. */
static size_t keep_escapes(void *user, struct MHD_Connection *connection, char *text) {
  (void)user;
  (void)connection;
  return strlen(text);
}

static enum MHD_Result count_host(void *user, enum MHD_ValueKind kind, const char *name,
                                  const char *value) {
  (void)kind;
  (void)value;
  *(int *)user += g_ascii_strcasecmp(name, "Host") == 0;
  return MHD_YES;
}

static const char *sent(struct MHD_Connection *connection, const char *name) {
  return MHD_lookup_connection_value(connection, MHD_HEADER_KIND, name);
}

static gboolean changes(const char *verb) {
  return strcmp(verb, "GET") != 0 && strcmp(verb, "HEAD") != 0;
}

static void note_headers(struct incoming *in) {
  struct ew_request *r = in->request;
  struct MHD_Connection *c = in->connection;
  const char *encodings = sent(c, "Accept-Encoding");
  const char *token = MHD_lookup_connection_value(c, MHD_COOKIE_KIND, "ew_device");
  r->content_type = g_strdup(sent(c, "Content-Type"));
  r->if_none_match = g_strdup(sent(c, "If-None-Match"));
  r->token = g_strdup(token);
  r->takes_gzip = encodings && strstr(encodings, "gzip") != NULL;
  r->from_here = !is_far(address_of(c));
}

static guint check_body_size(struct incoming *in, const char **why) {
  const char *length = sent(in->connection, "Content-Length");
  gboolean recording = strcmp(in->request->path, "/api/v1/recordings") == 0;
  gboolean file = recording || strcmp(in->request->path, "/api/v1/attachments") == 0;
  guint64 size = 0;
  in->body_most = file ? RECORDING_BYTES : BODY_BYTES;
  *why = recording ? "a recording may have up to 64 MB: cut it into parts"
         : file    ? "a file may have up to 64 MB: make it smaller"
                   : "the request is longer than 1 MB";
  if (length && !g_ascii_string_to_unsigned(length, 10, 0, G_MAXUINT64, &size, NULL))
    return 400;
  return size > in->body_most ? 413 : 0;
}

/* 0 when the request may go on, else the status of the refusal. */
static guint check_head(struct incoming *in, const char *verb, const char **why) {
  const struct ew_http *h = in->http;
  const char *host = sent(in->connection, "Host");
  int hosts = 0;
  MHD_get_connection_values(in->connection, MHD_HEADER_KIND, count_host, &hosts);
  *why = "this name is none of this server's: use the address that it printed at its start";
  if (hosts != 1)
    return 400; /* RFC 9112, 3.2 */
  if (!ew_guard_host(&h->guard, host))
    return 421;
  *why = "a page of another origin may not ask this";
  if ((changes(verb) || sent(in->connection, "Origin")) &&
      !ew_guard_origin(&h->guard, sent(in->connection, "Origin"), host,
                       sent(in->connection, "Sec-Fetch-Site")))
    return 403;
  struct ew_request *r = in->request = g_new0(struct ew_request, 1);
  r->verb = g_strdup(verb);
  *why = "the address is not written as an address of this page";
  if (!ew_target_parse(in->target, &r->path, &r->query, NULL))
    return 400;
  note_headers(in);
  guint status = check_body_size(in, why);
  return status ? status : h->options.admits(r, why, h->options.user);
}

static void end_streams(struct ew_http *h) {
  for (guint i = 0; i < h->viewers->len; i++) {
    struct viewer *v = g_ptr_array_index(h->viewers, i);
    struct peer *peer = peer_of(v->connection);
    if (v->waiting)
      MHD_resume_connection(v->connection);
    v->waiting = FALSE;
    if (peer)
      shutdown(peer->fd, SHUT_RDWR);
  }
}

static gboolean on_answered(gpointer user) {
  struct incoming *in = user;
  struct ew_http *h = in->http;
  in->answered = TRUE;
  h->busy--;
  ew_fair_served(h->turns, in->ticket);
  gboolean changed = in->reply.changed;
  if (in->reply.reconnect)
    end_streams(h);
  MHD_resume_connection(in->connection);
  if (changed)
    ew_http_publish(h, "changed", "{}");
  else
    pump(h);
  return G_SOURCE_REMOVE;
}

static void work(gpointer data, gpointer user) {
  struct incoming *in = data;
  struct ew_http *h = user;
  h->options.answers(in->request, &in->reply, h->options.user);
  g_idle_add_full(G_PRIORITY_DEFAULT, on_answered, in, NULL);
}

static gint by_ticket(gconstpointer a, gconstpointer b, gpointer user) {
  (void)user;
  guint64 first = ((const struct incoming *)a)->ticket,
          second = ((const struct incoming *)b)->ticket;
  return first < second ? -1 : first > second;
}

static enum MHD_Result begin(struct incoming *in, const char *verb) {
  const char *why = NULL;
  struct peer *peer = peer_of(in->connection);
  in->started = TRUE;
  guint status = check_head(in, verb, &why);
  if (status) {
    peer->served = TRUE;
    return refuse(in->connection, status, why);
  }
  in->body = g_byte_array_new();
  peer->body = changes(verb);
  return MHD_YES;
}

static enum MHD_Result ask(struct incoming *in) {
  struct ew_http *h = in->http;
  peer_of(in->connection)->served = TRUE;
  if (h->closing) /* a connection that waits for the worker could not be ended */
    return refuse(in->connection, MHD_HTTP_SERVICE_UNAVAILABLE, "the server is ending");
  in->asked = TRUE;
  in->request->body = g_byte_array_free_to_bytes(g_steal_pointer(&in->body));
  if (strcmp(in->request->path, "/api/v1/events") == 0 && strcmp(in->request->verb, "GET") == 0)
    return open_events(h, in->connection);
  h->busy++;
  in->ticket = ew_fair_ticket(h->turns, address_of(in->connection));
  MHD_suspend_connection(in->connection);
  g_thread_pool_push(h->worker, in, NULL);
  return MHD_YES;
}

static enum MHD_Result on_request(void *user, struct MHD_Connection *connection, const char *url,
                                  const char *verb, const char *version, const char *data,
                                  size_t *size, void **context) {
  (void)user;
  (void)url;
  (void)version;
  (void)connection;
  struct incoming *in = *context;
  if (!in->started)
    return begin(in, verb);
  if (*size) {
    if (!in->body || in->body->len + *size > in->body_most)
      return MHD_NO; /* a length was promised and not kept, or none was given */
    g_byte_array_append(in->body, (const guint8 *)data, (guint)*size);
    *size = 0;
    return MHD_YES;
  }
  if (in->answered)
    return send_reply(in->connection, &in->reply);
  return in->asked ? MHD_YES : ask(in);
}

static void on_completed(void *user, struct MHD_Connection *connection, void **context,
                         enum MHD_RequestTerminationCode code) {
  (void)user;
  (void)code;
  struct incoming *in = *context;
  struct peer *peer = peer_of(connection);
  if (peer) { /* the next request may begin */
    peer->since = g_get_monotonic_time();
    peer->body = peer->served = FALSE;
  }
  if (!in)
    return;
  ew_request_free(in->request);
  ew_reply_clear(&in->reply);
  if (in->body)
    g_byte_array_unref(in->body);
  g_free(in->target);
  g_free(in);
  *context = NULL;
}

/* ---- start and stop ---- */

static void on_library_says(void *user, const char *format, va_list arguments) {
  (void)user;
  g_autofree char *text = g_strdup_vprintf(format, arguments);
  g_debug("http: %s", text);
}

static gboolean start_daemon(struct ew_http *h, GError **error) {
  struct sockaddr_in address = {.sin_family = AF_INET,
                                .sin_port = htons((guint16)h->options.port),
                                .sin_addr.s_addr =
                                    htonl(h->options.lan ? INADDR_ANY : INADDR_LOOPBACK)};
  gboolean tls = h->options.certificate != NULL;
  struct MHD_OptionItem with_tls[] = {
      {MHD_OPTION_HTTPS_MEM_CERT, 0, (void *)(gsize)h->options.certificate},
      {MHD_OPTION_HTTPS_MEM_KEY, 0, (void *)(gsize)h->options.key},
      {MHD_OPTION_END, 0, NULL}};
  h->daemon = MHD_start_daemon(
      MHD_USE_EPOLL | MHD_ALLOW_SUSPEND_RESUME | MHD_USE_ERROR_LOG | (tls ? MHD_USE_TLS : 0), 0,
      on_knock, h, on_request, h, MHD_OPTION_EXTERNAL_LOGGER, on_library_says, NULL,
      MHD_OPTION_SOCK_ADDR, &address, MHD_OPTION_CONNECTION_LIMIT, CONNECTIONS,
      MHD_OPTION_PER_IP_CONNECTION_LIMIT, PER_ADDRESS, MHD_OPTION_CONNECTION_TIMEOUT, SILENCE_S,
      MHD_OPTION_CONNECTION_MEMORY_LIMIT, HEADER_BYTES, MHD_OPTION_STRICT_FOR_CLIENT, 1,
      MHD_OPTION_LISTENING_ADDRESS_REUSE, 1u, MHD_OPTION_NOTIFY_COMPLETED, on_completed, h,
      MHD_OPTION_NOTIFY_CONNECTION, on_connection, h, MHD_OPTION_URI_LOG_CALLBACK, on_target, h,
      MHD_OPTION_UNESCAPE_CALLBACK, keep_escapes, NULL, MHD_OPTION_ARRAY,
      tls ? with_tls : with_tls + 2, MHD_OPTION_END);
  if (!h->daemon)
    return ew_refuse(error, "--port %u: %s; give another port, or 0 for any free one%s",
                     h->options.port, g_strerror(errno),
                     tls ? ", and see that certificate and key belong together" : "");
  h->guard.port = MHD_get_daemon_info(h->daemon, MHD_DAEMON_INFO_BIND_PORT)->port;
  h->guard.lan = h->options.lan;
  h->guard.tls = tls;
  return TRUE;
}

/* EW_HTTP_DEADLINE_MS shortens both, for tests. */
static void settle_deadlines(struct ew_http *h) {
  const char *text = g_getenv("EW_HTTP_DEADLINE_MS");
  guint64 ms;
  h->header_us = HEADER_US;
  h->body_us = BODY_US;
  if (text && g_ascii_string_to_unsigned(text, 10, 100, 60000, &ms, NULL))
    h->header_us = h->body_us = (gint64)ms * 1000;
}

struct ew_http *ew_http_start(const struct ew_http_options *options, GError **error) {
  struct ew_http *h = g_new0(struct ew_http, 1);
  h->options = *options;
  h->peers = g_ptr_array_new_with_free_func(g_free);
  h->viewers = g_ptr_array_new();
  settle_deadlines(h);
  if (!start_daemon(h, error)) {
    g_ptr_array_unref(h->peers);
    g_ptr_array_unref(h->viewers);
    g_free(h);
    return NULL;
  }
  h->turns = ew_fair_new();
  h->worker = g_thread_pool_new(work, h, 1, TRUE, NULL);
  g_thread_pool_set_sort_function(h->worker, by_ticket, NULL);
  h->loop_source = g_unix_fd_add(MHD_get_daemon_info(h->daemon, MHD_DAEMON_INFO_EPOLL_FD)->epoll_fd,
                                 G_IO_IN, on_fd, h);
  h->watch = g_timeout_add(500, on_watch, h);
  h->heartbeat = g_timeout_add_seconds(HEARTBEAT_S, on_heartbeat, h);
  pump(h);
  return h;
}

void ew_http_stop(struct ew_http *h) {
  if (!h)
    return;
  h->closing = TRUE;
  MHD_quiesce_daemon(h->daemon);
  while (h->busy > 0)
    g_main_context_iteration(NULL, TRUE);
  for (guint i = 0; i < h->viewers->len; i++) {
    struct viewer *v = g_ptr_array_index(h->viewers, i);
    if (v->waiting)
      MHD_resume_connection(v->connection);
    v->waiting = FALSE;
  }
  pump(h);
  g_source_remove(h->loop_source);
  g_source_remove(h->watch);
  g_source_remove(h->heartbeat);
  if (h->timer)
    g_source_remove(h->timer);
  MHD_stop_daemon(h->daemon);
  g_thread_pool_free(h->worker, FALSE, TRUE);
  ew_fair_free(h->turns);
  g_ptr_array_unref(h->peers);
  g_ptr_array_unref(h->viewers);
  g_free(h);
}

guint ew_http_port(const struct ew_http *h) {
  return h->guard.port;
}
