#include "serve/serve.h"
#include "serve/live.h"
#include "serve/service.h"
#include <glib-unix.h>
#include <signal.h>

static guint admits(const struct ew_request *request, const char **why, gpointer user) {
  (void)user;
  *why = "the network is not served: start with --lan, and pair this device";
  return request->from_here ? 0 : 401;
}

static void answers(struct ew_request *request, struct ew_reply *reply, gpointer user) {
  ew_service_answer(user, request, reply);
}

static gboolean on_signal(gpointer user) {
  g_main_loop_quit(user);
  return G_SOURCE_CONTINUE;
}

static void run_until_told(const struct ew_serve_options *options, struct ew_service *service) {
  GMainLoop *loop = g_main_loop_new(NULL, FALSE);
  guint signals[] = {g_unix_signal_add(SIGTERM, on_signal, loop),
                     g_unix_signal_add(SIGINT, on_signal, loop)};
  guint port = ew_http_port(service->http);
  g_autofree char *address = g_strdup_printf("http://127.0.0.1:%u/", port);
  signal(SIGPIPE, SIG_IGN);
  options->ready(address, port, options->user);
  g_main_loop_run(loop);
  for (gsize i = 0; i < G_N_ELEMENTS(signals); i++)
    g_source_remove(signals[i]);
  g_main_loop_unref(loop);
}

gboolean ew_serve(const struct ew_serve_options *options, GError **error) {
  g_autoptr(ew_book) book = ew_book_open(options->book, TRUE, error);
  if (!book)
    return FALSE;
  struct ew_service service = {.book = book, .lan = options->lan, .practice = options->practice};
  struct ew_http_options http = {.port = options->port,
                                 .lan = options->lan,
                                 .admits = admits,
                                 .answers = answers,
                                 .user = &service};
  service.http = ew_http_start(&http, error);
  if (!service.http)
    return FALSE;
  service.live = ew_live_new(options->book, service.http);
  run_until_told(options, &service);
  ew_live_free(service.live);
  ew_http_stop(service.http);
  return TRUE;
}
