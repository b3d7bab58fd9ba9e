#include "serve/serve.h"
#include "base/error.h"
#include "serve/devices.h"
#include "serve/here.h"
#include "serve/live.h"
#include "serve/predictor.h"
#include "serve/service.h"
#include <arpa/inet.h>
#include <glib-unix.h>
#include <ifaddrs.h>
#include <netinet/in.h>
#include <signal.h>
#include <string.h>

/* What everybody may see: the page's own files, and the doors. */
static gboolean is_open(const struct ew_request *r) {
  return strcmp(r->path, "/api/v1/pair") == 0 || strcmp(r->path, "/api/v1/open") == 0 ||
         !g_str_has_prefix(r->path, "/api/");
}

static const char *why_shut(const struct ew_service *service, const struct ew_request *request) {
  if (request->near)
    return "this browser was not let in: open the link that 'enginewright serve' printed on this "
           "machine; the browser then keeps it";
  return service->lan
             ? "this device is not paired: ask for a code on the machine that serves the page"
             : "only this machine's own browser is answered, by the link that 'enginewright "
               "serve' printed; for other devices start with --lan, and pair them";
}

static guint admits(struct ew_request *request, const char **why, gpointer user) {
  const struct ew_service *service = user;
  request->from_here = request->near && ew_here_holds(service->here, request->here_token);
  if (request->from_here)
    return 0;
  *why = why_shut(service, request);
  enum ew_rights rights =
      service->lan ? ew_devices_rights(service->devices, request->token) : EW_RIGHTS_NONE;
  if (rights == EW_RIGHTS_NONE)
    return is_open(request) ? 0 : 401;
  request->paired = TRUE;
  *why = "this device may look and not write";
  gint64 id;
  gboolean known, head = strcmp(request->verb, "HEAD") == 0;
  const char *verb = head ? "GET" : request->verb;
  const struct ew_route *route = ew_route_find(verb, request->path, &id, &known);
  gboolean looks = route ? !route->writes : strcmp(verb, "GET") == 0;
  return looks || is_open(request) || rights == EW_RIGHTS_WRITE ? 0 : 403;
}

static void answers(struct ew_request *request, struct ew_reply *reply, gpointer user) {
  ew_service_answer(user, request, reply);
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
  struct ew_serve_ready ready = {.address = address,
                                 .link = link,
                                 .port = port,
                                 .network = service->addresses,
                                 .code = code,
                                 .clear_text = service->lan && !service->tls,
                                 .unkept = ew_here_unkept(service->here)};
  options->ready(&ready, options->user);
  g_main_loop_run(loop);
}

static gboolean read_pem(const char *option, const char *path, char **text, GError **error) {
  g_autoptr(GError) problem = NULL;
  return !path || g_file_get_contents(path, text, NULL, &problem) ||
         ew_refuse(error, "%s: %s", option, problem->message);
}

static gboolean start(const struct ew_serve_options *options, struct ew_service *service,
                      GError **error) {
  g_autofree char *certificate = NULL, *key = NULL;
  if (!options->certificate != !options->key)
    return ew_refuse(error, "--certificate and --key go together");
  if (!read_pem("--certificate", options->certificate, &certificate, error) ||
      !read_pem("--key", options->key, &key, error))
    return FALSE;
  struct ew_http_options http = {.port = options->port,
                                 .lan = options->lan,
                                 .certificate = certificate,
                                 .key = key,
                                 .admits = admits,
                                 .answers = answers,
                                 .user = service};
  service->tls = certificate != NULL;
  service->http = ew_http_start(&http, error);
  return service->http != NULL;
}

static gboolean serve_book(const struct ew_serve_options *options, GMainLoop *loop,
                           GError **error) {
  g_autoptr(ew_book) book = ew_book_open(options->book, TRUE, error);
  if (!book)
    return FALSE;
  struct ew_service service = {.book = book, .lan = options->lan, .practice = options->practice};
  service.devices = ew_devices_new(book);
  service.here = ew_here_new();
  gboolean good = start(options, &service, error);
  if (good) {
    service.addresses = network_addresses(service.lan, service.tls, ew_http_port(service.http));
    service.live = ew_live_new(options->book, service.http);
    service.predictor = ew_predictor_new(service.http);
    run_until_told(options, &service, loop);
    ew_http_stop(service.http); /* first: a request under way may still ask the other two */
    ew_live_free(service.live);
    ew_predictor_free(service.predictor);
    g_ptr_array_unref(service.addresses);
  }
  ew_devices_free(service.devices);
  g_free(service.learned_from);
  ew_here_free(service.here);
  return good;
}

/* The signals are caught from before the book is opened until after it is closed: told early, it ends as soon as
 * it stands; told twice, the second does not cut short what the first began to end. */
gboolean ew_serve(const struct ew_serve_options *options, GError **error) {
  GMainLoop *loop = g_main_loop_new(NULL, FALSE);
  guint signals[] = {g_unix_signal_add(SIGTERM, on_signal, loop),
                     g_unix_signal_add(SIGINT, on_signal, loop)};
  signal(SIGPIPE, SIG_IGN);
  gboolean good = serve_book(options, loop, error);
  for (gsize i = 0; i < G_N_ELEMENTS(signals); i++)
    g_source_remove(signals[i]);
  g_main_loop_unref(loop);
  return good;
}
