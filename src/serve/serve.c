/* Starts the parts in the order in which they need each other, runs the main loop, and ends them in mirror order:
 * the HTTP server first, as a request under way may still ask the others. Who asks is settled here, once a request,
 * before any handler sees it. */
#include "serve/serve.h"
#include "base/error.h"
#include "book/store.h"
#include "serve/devices.h"
#include "serve/here.h"
#include "serve/answers.h"
#include "serve/live.h"
#include "serve/predictor.h"
#include "serve/service.h"
#include "serve/sources.h"
#include <arpa/inet.h>
#include <glib-unix.h>
#include <ifaddrs.h>
#include <netinet/in.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

/* What everybody may see: the page's own files, and the doors. */
static gboolean is_open(const struct ew_request *r) {
  return strcmp(r->path, "/api/v1/pair") == 0 || strcmp(r->path, "/api/v1/open") == 0 ||
         !g_str_has_prefix(r->path, "/api/");
}

static const char *why_shut(const struct ew_service *service, const struct ew_request *request) {
  if (request->near)
    return EW_TEXT("this browser has not been let in: open the link that 'enginewright serve' "
                   "printed on this machine; the browser then keeps it");
  return service->lan
             ? EW_TEXT(
                   "this device is not paired: ask for a code on the machine that serves the page")
             : EW_TEXT(
                   "only this machine's own browser is answered, by the link that 'enginewright "
                   "serve' printed; for other devices start with --lan, and pair them");
}

#define HOLDER_HERE   ((guint64)1 << 63)
#define HOLDER_DEVICE ((guint64)1 << 62)

static enum ew_rights settle_who(const struct ew_service *service, struct ew_request *r) {
  gint64 id = 0;
  r->from_here = r->near && ew_here_holds(service->here, r->here_token);
  enum ew_rights rights = r->from_here   ? EW_RIGHTS_SEND
                          : service->lan ? ew_devices_rights(service->devices, r->token, &id)
                                         : EW_RIGHTS_NONE;
  g_assert(id >= 0 && (guint64)id < HOLDER_DEVICE);
  r->paired = !r->from_here && rights != EW_RIGHTS_NONE;
  r->may_write = rights >= EW_RIGHTS_WRITE;
  r->may_send = rights >= EW_RIGHTS_SEND;
  r->holder = r->from_here ? HOLDER_HERE : r->paired ? HOLDER_DEVICE + (guint64)id : r->address;
  return rights;
}

static guint admits(struct ew_request *request, const char **why, gpointer user) {
  const struct ew_service *service = user;
  enum ew_rights rights = settle_who(service, request);
  if (request->from_here)
    return 0;
  *why = why_shut(service, request);
  if (rights == EW_RIGHTS_NONE)
    return is_open(request) ? 0 : 401;
  *why = EW_TEXT("this device may look, but not write");
  gint64 id;
  gboolean known, head = strcmp(request->verb, "HEAD") == 0;
  const char *verb = head ? "GET" : request->verb;
  const struct ew_route *route = ew_route_find(verb, request->path, &id, &known);
  gboolean looks = route ? !route->writes : strcmp(verb, "GET") == 0;
  return looks || is_open(request) || request->may_write ? 0 : 403;
}

#define GIVES_WAY_BY 5

/* Far devices' reading gives way to recording and to this machine's page: Linux gives each thread a niceness of its own. By so much and
 * not to so much: a server that was started to go before others (nice -n -10) would otherwise have threads that wait for those others
 * while they hold a lock that the rest of it needs, be it malloc's. */
static void give_way(guint queue) {
  static _Thread_local gboolean done;
  if (!done && (queue == EW_QUEUE_READ_FAR || queue == EW_QUEUE_SLOW_FAR)) {
    id_t thread = (id_t)gettid();
    setpriority(PRIO_PROCESS, thread, getpriority(PRIO_PROCESS, thread) + GIVES_WAY_BY);
  }
  done = TRUE;
}

static void answers(struct ew_request *request, struct ew_reply *reply, guint queue,
                    gpointer user) {
  g_assert(queue < EW_QUEUES_COUNT);
  struct ew_service *queues = user;
  if (queue != EW_QUEUE_AT_ONCE)
    give_way(queue);
  ew_service_answer(&queues[queue], request, reply);
}

static guint queue_of(const struct ew_request *request, gpointer user) {
  (void)user;
  return ew_service_queue(request);
}

static gboolean on_signal(gpointer user) {
  g_main_loop_quit(user);
  return G_SOURCE_CONTINUE;
}

/* IPv4 addresses of this machine, as addresses of the page. */
static GPtrArray *network_addresses(gboolean lan, gboolean tls, guint port) {
  GPtrArray *list = g_ptr_array_new_with_free_func(g_free);
  struct ifaddrs *all;
  if (!lan || getifaddrs(&all) != 0)
    return list;
  for (const struct ifaddrs *one = all; one; one = one->ifa_next) {
    char text[INET_ADDRSTRLEN];
    const struct sockaddr_in *address = (const struct sockaddr_in *)(const void *)one->ifa_addr;
    if (!address || address->sin_family != AF_INET ||
        ntohl(address->sin_addr.s_addr) >> 24 == 127 ||
        !inet_ntop(AF_INET, &address->sin_addr, text, sizeof text))
      continue;
    g_ptr_array_add(list, g_strdup_printf("%s://%s:%u/", tls ? "https" : "http", text, port));
  }
  freeifaddrs(all);
  return list;
}

static void run_until_told(const struct ew_serve_options *options, struct ew_service *service,
                           GMainLoop *loop) {
  guint port = ew_http_port(service->http);
  g_autofree char *address =
      g_strdup_printf("%s://127.0.0.1:%u/", service->tls ? "https" : "http", port);
  g_autofree char *code = service->lan ? ew_devices_code(service->devices, EW_RIGHTS_WRITE) : NULL;
  g_autofree char *link = g_strdup_printf("%s#/open?key=%s", address, ew_here_key(service->here));
  g_autofree char *problem = ew_devices_problem(service->devices);
  struct ew_serve_ready ready = {.address = address,
                                 .link = link,
                                 .port = port,
                                 .network = service->addresses,
                                 .code = code,
                                 .clear_text = service->lan && !service->tls,
                                 .unkept = ew_here_unkept(service->here),
                                 .pair_again = service->pair_again,
                                 .devices_problem = problem};
  options->ready(&ready, options->user);
  g_main_loop_run(loop);
}

static gboolean read_pem(const char *option, const char *path, char **text, GError **error) {
  g_autoptr(GError) problem = NULL;
  return !path || g_file_get_contents(path, text, NULL, &problem) ||
         ew_refuse(error, "%s: %s", option, problem->message);
}

static gboolean start(const struct ew_serve_options *options, struct ew_service *queues,
                      GError **error) {
  g_autofree char *certificate = NULL, *key = NULL;
  if (!options->certificate != !options->key)
    return ew_refuse(error, "--certificate and --key go together");
  if (!read_pem("--certificate", options->certificate, &certificate, error) ||
      !read_pem("--key", options->key, &key, error))
    return FALSE;
  g_autofree char *place = realpath(options->book, NULL);
  g_autofree char *folder = g_path_get_dirname(place ? place : options->book);
  struct ew_http_options http = {.port = options->port,
                                 .spool_folder = folder,
                                 .lan = options->lan,
                                 .certificate = certificate,
                                 .key = key,
                                 .admits = admits,
                                 .answers = answers,
                                 .queue_of = queue_of,
                                 .queues = EW_QUEUES_COUNT - 1,
                                 .user = queues};
  queues[0].tls = certificate != NULL;
  queues[0].http = ew_http_start(&http, error);
  return queues[0].http != NULL;
}

/* Each queue that reads or writes the book does so by a connection of its own. The first is the writer's. */
static gboolean open_queues(const struct ew_serve_options *options, struct ew_service *queues,
                            struct ew_book *book, GError **error) {
  for (int i = EW_QUEUE_CONTROL; i < EW_QUEUES_COUNT; i++) {
    queues[i] = queues[0];
    if (i == EW_QUEUE_CONTROL)
      continue;
    queues[i].book = i == EW_QUEUE_WRITE ? book : ew_book_open(options->book, FALSE, error);
    queues[i].kept = i == EW_QUEUE_WRITE ? NULL : ew_answers_new();
    if (!queues[i].book)
      return FALSE;
  }
  g_assert(queues[EW_QUEUE_WRITE].book == book && !queues[EW_QUEUE_CONTROL].book);
  return TRUE;
}

static void close_queues(struct ew_service *queues) {
  g_free(queues[EW_QUEUE_WRITE].learned_from);
  for (int i = EW_QUEUE_WRITE + 1; i < EW_QUEUES_COUNT; i++) {
    g_free(queues[i].learned_from);
    ew_book_close(queues[i].book);
    ew_answers_free(queues[i].kept);
  }
}

static gboolean serve_open(const struct ew_serve_options *options, struct ew_book *book,
                           GMainLoop *loop, struct ew_service *first, GError **error) {
  struct ew_service queues[EW_QUEUES_COUNT] = {*first};
  gboolean good = start(options, queues, error);
  if (!good)
    return FALSE;
  first = &queues[0];
  g_autoptr(GPtrArray) addresses =
      network_addresses(first->lan, first->tls, ew_http_port(first->http));
  first->addresses = addresses;
  first->live = ew_live_new(options->book, first->http);
  first->predictor = ew_predictor_new(first->http);
  good = open_queues(options, queues, book, error);
  if (good)
    run_until_told(options, first, loop);
  ew_http_stop(first->http); /* first: a request under way may still ask the others */
  ew_live_free(first->live);
  ew_predictor_free(first->predictor);
  close_queues(queues);
  return good;
}

static gboolean serve_book(const struct ew_serve_options *options, GMainLoop *loop,
                           GError **error) {
  g_autoptr(ew_book) book = ew_book_open(options->book, TRUE, error);
  if (!book)
    return FALSE;
  g_autofree char *identity = ew_book_identity(book, error);
  g_autoptr(GPtrArray) again = identity ? ew_devices_leave_book(book, error) : NULL;
  if (!again)
    return FALSE;
  struct ew_service first = {.lan = options->lan,
                             .practice = options->practice,
                             .options = options,
                             .identity = identity,
                             .pair_again = again,
                             .devices = ew_devices_new(identity),
                             .here = ew_here_new(),
                             .sources = ew_sources_new(options->sources)};
  gboolean good = serve_open(options, book, loop, &first, error);
  ew_devices_free(first.devices);
  ew_here_free(first.here);
  ew_sources_free(first.sources);
  return good;
}

/* The signals are caught from before the book is opened until the process is gone: told early, it ends as soon as it
 * stands; told twice, the second does not cut short what the first began to end. The loop and its two sources are
 * therefore kept: removing a source would hand its signal back to the default action, which is to die of it. */
gboolean ew_serve(const struct ew_serve_options *options, GError **error) {
  static GMainLoop *loop;
  if (!loop) {
    loop = g_main_loop_new(NULL, FALSE);
    g_unix_signal_add(SIGTERM, on_signal, loop);
    g_unix_signal_add(SIGINT, on_signal, loop);
  }
  signal(SIGPIPE, SIG_IGN);
  return serve_book(options, loop, error);
}
