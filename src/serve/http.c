/* The server's start and stop, its place in the main loop, and a request's way: headers, body, worker, reply.
 * See http.h. */
#include "base/error.h"
#include "base/as_pointer.h"
#include "base/words.h"
#include "serve/here.h"
#include "serve/http_parts.h"
#include "serve/spool.h"
#include <arpa/inet.h>
#include <errno.h>
#include <gio/gio.h>
#include <glib-unix.h>
#include <netinet/in.h>
#include <string.h>
#include <sys/socket.h>

#define CONNECTIONS 320u /* 64 more than http_peers.c lets in: those that it has just shut */
/* TLS 1.2 and 1.3 (RFC 8996 retires what came before), whatever the library's defaults are. */
#define TLS_VERSIONS    "NORMAL:-VERS-ALL:+VERS-TLS1.3:+VERS-TLS1.2"
#define HEADER_BYTES    ((size_t)32768)
#define BODY_BYTES      ((gsize)1 << 20)
#define RECORDING_BYTES ((gsize)64 << 20)
#define SILENCE_S       15u
#define HEARTBEAT_S     10

/* One request on its way in, to the worker and back. */
struct incoming {
  struct ew_http *http;
  struct MHD_Connection *connection;
  struct ew_request *request;
  char *target;
  struct ew_spool *body;
  gsize body_most;
  guint refused; /* its body: the status, and why */
  const char *why;
  struct ew_reply reply;
  struct ew_http_queue *queue;
  guint64 ticket;
  gboolean started, asked, answered;
};

static gboolean on_timer(gpointer user) {
  struct ew_http *h = user;
  h->timer = 0;
  ew_http_pump(h);
  return G_SOURCE_REMOVE;
}

void ew_http_pump(struct ew_http *h) {
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
  ew_http_pump(user);
  return G_SOURCE_CONTINUE;
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

struct named {
  int hosts;
  gboolean forwarded, body;
};

static enum MHD_Result note_name(void *user, enum MHD_ValueKind kind, const char *name,
                                 const char *value) {
  struct named *named = user;
  (void)kind;
  named->hosts += g_ascii_strcasecmp(name, "Host") == 0;
  named->forwarded |= ew_guard_is_forwarding(name);
  named->body |= g_ascii_strcasecmp(name, "Transfer-Encoding") == 0 ||
                 (g_ascii_strcasecmp(name, "Content-Length") == 0 && strcmp(value, "0") != 0);
  return MHD_YES;
}

static const char *sent(struct MHD_Connection *connection, const char *name) {
  return MHD_lookup_connection_value(connection, MHD_HEADER_KIND, name);
}

static gboolean changes(const char *verb) {
  return strcmp(verb, "GET") != 0 && strcmp(verb, "HEAD") != 0;
}

static char *cookie(struct MHD_Connection *connection, const char *name) {
  return g_strdup(MHD_lookup_connection_value(connection, MHD_COOKIE_KIND, name));
}

/* A cookie of the page's own choice goes before the browser's list. */
static const ew_language *language_of(struct MHD_Connection *c) {
  g_autofree char *chosen = cookie(c, "ew_language");
  return ew_language_accepted(chosen ? chosen : sent(c, "Accept-Language"), ew_language_now());
}

static void note_headers(struct incoming *in, gboolean forwarded) {
  struct ew_request *r = in->request;
  struct MHD_Connection *c = in->connection;
  const char *encodings = sent(c, "Accept-Encoding");
  r->content_type = g_strdup(sent(c, "Content-Type"));
  r->if_none_match = g_strdup(sent(c, "If-None-Match"));
  r->token = cookie(c, "ew_device");
  r->here_token = cookie(c, EW_HERE_COOKIE);
  r->language = language_of(c);
  r->takes_gzip = encodings && strstr(encodings, "gzip") != NULL;
  r->address = ew_peer_address(c);
  r->near =
      !forwarded && !ew_peer_is_far(r->address) && ew_guard_near(&in->http->guard, sent(c, "Host"));
}

static guint check_body_size(struct incoming *in, const char **why) {
  const char *length = sent(in->connection, "Content-Length");
  gboolean recording = strcmp(in->request->path, "/api/v1/recordings") == 0;
  gboolean file = recording || strcmp(in->request->path, "/api/v1/attachments") == 0;
  guint64 size = 0;
  in->body_most = file ? RECORDING_BYTES : BODY_BYTES;
  *why = recording ? EW_TEXT("a recording may have up to 64 MB: cut it into parts")
         : file    ? EW_TEXT("a file may have up to 64 MB: make it smaller")
                   : EW_TEXT("the request is longer than 1 MB");
  if (length && !g_ascii_string_to_unsigned(length, 10, 0, G_MAXUINT64, &size, NULL))
    return 400;
  return size > in->body_most ? 413 : 0;
}

/* 0 when the request may go on, else the status of the refusal. */
static guint check_head(struct incoming *in, const char *verb, const char **why) {
  const struct ew_http *h = in->http;
  const char *host = sent(in->connection, "Host"), *site = sent(in->connection, "Sec-Fetch-Site");
  struct named named = {0};
  MHD_get_connection_values(in->connection, MHD_HEADER_KIND, note_name, &named);
  *why = EW_TEXT(
      "this name is not one of this server's; use the address that it printed when it started");
  if (named.hosts != 1)
    return 400; /* RFC 9112, 3.2 */
  if (h->options.reads_only && named.body) {
    *why = EW_TEXT("this address takes no body");
    return 413;
  }
  if (!ew_guard_host(&h->guard, host))
    return 421;
  *why = EW_TEXT("a page of another origin may not ask this");
  if (((changes(verb) || sent(in->connection, "Origin")) &&
       !ew_guard_origin(&h->guard, sent(in->connection, "Origin"), host, site)) ||
      !ew_guard_site(site, sent(in->connection, "Sec-Fetch-Mode"),
                     g_str_has_prefix(in->target, "/api/")))
    return 403;
  if (h->options.reads_only && changes(verb)) {
    *why = EW_TEXT("this address is only read");
    return 405;
  }
  struct ew_request *r = in->request = g_new0(struct ew_request, 1);
  r->verb = g_strdup(verb);
  *why = EW_TEXT("this is not an address of this page");
  if (!ew_target_parse(in->target, &r->path, &r->query, NULL))
    return 400;
  note_headers(in, named.forwarded);
  guint status = check_body_size(in, why);
  return status ? status : h->options.admits(r, why, h->options.user);
}

static gboolean on_answered(gpointer user) {
  struct incoming *in = user;
  struct ew_http *h = in->http;
  g_assert(h->busy > 0 && in->asked && !in->answered && in->queue);
  in->answered = TRUE;
  ew_peer_of(in->connection)->asked = FALSE;
  h->busy--;
  ew_fair_served(in->queue->turns, in->ticket);
  gboolean changed = in->reply.changed;
  if (changed && !in->request->from_here)
    ew_spool_kept(in->request->holder, g_bytes_get_size(in->request->body));
  if (in->reply.reconnect)
    ew_http_hang_up_viewers(h);
  MHD_resume_connection(in->connection);
  if (changed)
    ew_http_publish(h, "changed", "{}");
  else
    ew_http_pump(h);
  return G_SOURCE_REMOVE;
}

/* From a queue's thread. */
static void refuse_later(struct incoming *in) {
  const ew_language *former = ew_language_of_thread(in->request->language);
  ew_http_write_refusal(&in->reply, MHD_HTTP_SERVICE_UNAVAILABLE,
                        EW_TEXT("the server is stopping"));
  ew_language_of_thread(former);
}

static void work(gpointer data, gpointer user) {
  struct incoming *in = data;
  const struct ew_http_queue *queue = user;
  const struct ew_http_options *options = &queue->http->options;
  if (g_atomic_int_get(&queue->http->closing)) /* what waits is not begun any more */
    refuse_later(in);
  else
    options->answers(in->request, &in->reply, queue->number, options->user);
  g_idle_add_full(G_PRIORITY_DEFAULT, on_answered, in, NULL);
}

static gint by_ticket(gconstpointer a, gconstpointer b, gpointer user) {
  (void)user;
  guint64 first = ((const struct incoming *)a)->ticket,
          second = ((const struct incoming *)b)->ticket;
  return first < second ? -1 : first > second;
}

/* From the main thread, in the language of whoever asks. */
static enum MHD_Result refuse(struct incoming *in, guint status, const char *why) {
  const ew_language *former = ew_language_of_thread(language_of(in->connection));
  enum MHD_Result done = ew_http_refuse(in->connection, status, why);
  ew_language_of_thread(former);
  return done;
}

static enum MHD_Result begin(struct incoming *in, const char *verb) {
  const char *why = NULL;
  struct ew_peer *peer = ew_peer_of(in->connection);
  in->started = TRUE;
  guint status = check_head(in, verb, &why);
  if (status) {
    peer->served = TRUE;
    return refuse(in, status, why);
  }
  in->body = ew_spool_new(in->http->options.spool_folder,
                          in->request->from_here ? 0 : in->request->holder);
  peer->body = changes(verb);
  peer->proven |= in->request->from_here || in->request->paired;
  return MHD_YES;
}

static enum MHD_Result ask(struct incoming *in) {
  struct ew_http *h = in->http;
  ew_peer_of(in->connection)->served = TRUE;
  if (h->closing) /* a connection that waits for the worker could not be ended */
    return refuse(in, MHD_HTTP_SERVICE_UNAVAILABLE, EW_TEXT("the server is stopping"));
  g_assert(in->request && in->body && !in->asked && !in->refused);
  in->asked = TRUE;
  in->request->body = ew_spool_end(g_steal_pointer(&in->body));
  if (!h->options.reads_only && strcmp(in->request->path, "/api/v1/events") == 0 &&
      strcmp(in->request->verb, "GET") == 0)
    return ew_http_open_events(h, in->connection, in->request);
  guint queue = h->options.queue_of(in->request, h->options.user);
  if (queue == 0) {
    h->options.answers(in->request, &in->reply, 0, h->options.user);
    in->answered = TRUE;
    return ew_http_send(in->connection, &in->reply);
  }
  g_assert(queue <= h->options.queues);
  in->queue = &h->queues[queue - 1];
  h->busy++;
  in->ticket = ew_fair_ticket(in->queue->turns, in->request->holder);
  ew_peer_of(in->connection)->asked = TRUE;
  MHD_suspend_connection(in->connection);
  g_thread_pool_push(in->queue->worker, in, NULL);
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
    if (!in->body || ew_spool_size(in->body) + *size > in->body_most)
      return MHD_NO;  /* a length was promised and not kept, or none was given */
    if (!in->refused) /* the rest is read past, so that the answer can be sent */
      in->refused = ew_spool_add(in->body, data, *size, &in->why);
    *size = 0;
    return MHD_YES;
  }
  if (in->answered)
    return ew_http_send(in->connection, &in->reply);
  if (in->refused) {
    ew_peer_of(in->connection)->served = TRUE;
    return refuse(in, in->refused, in->why);
  }
  return in->asked ? MHD_YES : ask(in);
}

static void on_completed(void *user, struct MHD_Connection *connection, void **context,
                         enum MHD_RequestTerminationCode code) {
  (void)user;
  (void)code;
  struct incoming *in = *context;
  struct ew_peer *peer = ew_peer_of(connection);
  if (peer) { /* the next request may begin */
    peer->since = g_get_monotonic_time();
    peer->body = peer->served = FALSE;
  }
  if (!in)
    return;
  ew_request_free(in->request);
  ew_reply_clear(&in->reply);
  ew_spool_free(in->body);
  g_free(in->target);
  g_free(in);
  *context = NULL;
}

/* ---- start and stop ---- */

static void on_library_says(void *user, const char *format, va_list arguments) {
  (void)user;
  g_autofree char *text = ew_words_v(format, arguments);
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
      {MHD_OPTION_HTTPS_PRIORITIES, 0, (void *)(gsize)TLS_VERSIONS},
      {MHD_OPTION_END, 0, NULL}};
  h->daemon = MHD_start_daemon(
      MHD_USE_EPOLL | MHD_ALLOW_SUSPEND_RESUME | MHD_USE_ERROR_LOG | (tls ? MHD_USE_TLS : 0), 0,
      ew_peers_on_knock, h, on_request, h, MHD_OPTION_EXTERNAL_LOGGER, on_library_says, NULL,
      MHD_OPTION_SOCK_ADDR, &address, MHD_OPTION_CONNECTION_LIMIT, CONNECTIONS,
      MHD_OPTION_CONNECTION_TIMEOUT, SILENCE_S, MHD_OPTION_CONNECTION_MEMORY_LIMIT, HEADER_BYTES,
      MHD_OPTION_STRICT_FOR_CLIENT, 1, MHD_OPTION_LISTENING_ADDRESS_REUSE, 1u,
      MHD_OPTION_NOTIFY_COMPLETED, on_completed, h, MHD_OPTION_NOTIFY_CONNECTION,
      ew_peers_on_connection, h, MHD_OPTION_URI_LOG_CALLBACK, on_target, h,
      MHD_OPTION_UNESCAPE_CALLBACK, keep_escapes, NULL, MHD_OPTION_ARRAY,
      tls ? with_tls : with_tls + 3, MHD_OPTION_END);
  if (!h->daemon)
    return tls ? ew_refuse(error,
                           "--port %u: %s; give another port, or 0 for a free one, and check that "
                           "certificate and key belong together",
                           h->options.port, g_strerror(errno))
               : ew_refuse(error, "--port %u: %s; give another port, or 0 for a free one",
                           h->options.port, g_strerror(errno));
  h->guard.port = MHD_get_daemon_info(h->daemon, MHD_DAEMON_INFO_BIND_PORT)->port;
  h->guard.lan = h->options.lan;
  h->guard.public_name = h->options.public_name;
  h->guard.tls = tls;
  return TRUE;
}

static void start_queues(struct ew_http *h) {
  h->queues = g_new0(struct ew_http_queue, h->options.queues);
  for (guint i = 0; i < h->options.queues; i++) {
    struct ew_http_queue *queue = &h->queues[i];
    *queue = (struct ew_http_queue){.http = h, .number = i + 1, .turns = ew_fair_new()};
    queue->worker = g_thread_pool_new(work, queue, 1, TRUE, NULL);
    g_thread_pool_set_sort_function(queue->worker, by_ticket, NULL);
  }
}

struct ew_http *ew_http_start(const struct ew_http_options *options, GError **error) {
  struct ew_http *h = g_new0(struct ew_http, 1);
  g_assert(options->admits && options->answers && options->queue_of && options->queues > 0);
  h->options = *options;
  h->options.spool_folder = g_strdup(options->spool_folder);
  h->peers = g_ptr_array_new_with_free_func(g_free);
  h->viewers = g_ptr_array_new();
  ew_peers_settle_deadlines(h);
  if (!start_daemon(h, error)) {
    g_ptr_array_unref(h->peers);
    g_ptr_array_unref(h->viewers);
    g_free(ew_as_pointer(h->options.spool_folder));
    g_free(h);
    return NULL;
  }
  start_queues(h);
  h->loop_source = g_unix_fd_add(MHD_get_daemon_info(h->daemon, MHD_DAEMON_INFO_EPOLL_FD)->epoll_fd,
                                 G_IO_IN, on_fd, h);
  h->watch = g_timeout_add(500, ew_peers_on_watch, h);
  h->heartbeat = g_timeout_add_seconds(HEARTBEAT_S, ew_http_on_heartbeat, h);
  h->timer = g_timeout_add(0, on_timer, h); /* nothing is answered before the loop runs */
  return h;
}

void ew_http_stop(struct ew_http *h) {
  if (!h)
    return;
  g_atomic_int_set(&h->closing, TRUE);
  MHD_quiesce_daemon(h->daemon);
  while (h->busy > 0)
    g_main_context_iteration(NULL, TRUE);
  ew_http_wake_viewers(h);
  ew_http_pump(h);
  g_source_remove(h->loop_source);
  g_source_remove(h->watch);
  g_source_remove(h->heartbeat);
  if (h->timer)
    g_source_remove(h->timer);
  MHD_stop_daemon(h->daemon);
  g_assert(h->busy == 0 && h->viewers->len == 0 && h->peers->len == 0);
  for (guint i = 0; i < h->options.queues; i++) {
    g_thread_pool_free(h->queues[i].worker, FALSE, TRUE);
    ew_fair_free(h->queues[i].turns);
  }
  g_free(h->queues);
  g_ptr_array_unref(h->peers);
  g_ptr_array_unref(h->viewers);
  g_free(ew_as_pointer(h->options.spool_folder));
  g_free(h);
}

guint ew_http_port(const struct ew_http *h) {
  return h->guard.port;
}
