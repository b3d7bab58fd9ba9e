/* The page: served until told to stop. */
#include "serve/serve.h"
#include "cli/command.h"
#include <gio/gio.h>
#include <stdio.h>

static const struct ew_option_spec options[] = {
    {"book", "FILE", "the shop's book (else the usual one); made when missing", FALSE},
    {"port", "N", "port (8088); 0 takes any free one", FALSE},
    {"lan", NULL, "answer devices of the local network, too, once they are paired", FALSE},
    {"certificate", "FILE", "certificate for TLS, PEM", FALSE},
    {"key", "FILE", "its key, PEM", FALSE},
    {NULL, NULL, NULL, FALSE}};

static void say_ready(const char *address, guint port, const GPtrArray *network, const char *code,
                      gpointer user) {
  const struct ew_call *call = user;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "address", address);
    ew_json_integer(&json, "port", port);
    ew_json_texts(&json, "network", network);
    ew_json_text(&json, "code", code);
    ew_answer_end(&json);
  } else {
    ew_say("the page stands at %s%s; Ctrl-C ends it", address, code ? "" : " (this machine only)");
    for (guint i = 0; i < network->len; i++)
      ew_say("for other devices: %s", (char *)g_ptr_array_index(network, i));
    if (code)
      ew_say("code for the first device: %s (10 minutes, once; more on the Shop screen)", code);
  }
  fflush(stdout);
}

static gboolean run(const struct ew_call *call, GError **error) {
  const char *given = ew_call_option(call, "book"), *port_text = ew_call_option(call, "port");
  g_autofree char *path = given ? g_strdup(given) : ew_book_default_path();
  guint64 port = 8088;
  if (port_text && !g_ascii_string_to_unsigned(port_text, 10, 0, 65535, &port, NULL))
    return ew_refuse(error, "--port '%s' is no port; write a number from 0 to 65535", port_text);
  g_autoptr(GBytes) day =
      g_resources_lookup_data("/days/hill-climb-six.yaml", G_RESOURCE_LOOKUP_FLAGS_NONE, NULL);
  struct ew_serve_options serve = {.book = path,
                                   .port = (guint)port,
                                   .lan = ew_call_has(call, "lan"),
                                   .certificate = ew_call_option(call, "certificate"),
                                   .key = ew_call_option(call, "key"),
                                   .practice = day ? g_bytes_get_data(day, NULL) : NULL,
                                   .ready = say_ready,
                                   .user = (gpointer)call};
  return ew_serve(&serve, error);
}
const struct ew_command ew_command_serve = {
    .name = "serve",
    .summary = "The page in a browser: live cell, test day, pulls, engine, build, hand-over, shop",
    .takes = "",
    .options = options,
    .run = run,
    .examples = "serve\nserve --book shop.book --port 8100\nserve --lan\nserve --port 0 --json",
    .more =
        "Without --lan only this machine is answered. With --lan each device is paired once by a "
        "code shown here and on the\n"
        "Shop screen, may look or write, and can be revoked. With --port 0 --json the bound "
        "address is printed as one line\n"
        "of JSON. Ends on Ctrl-C or SIGTERM, after what is under way."};
