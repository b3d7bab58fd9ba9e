/* The page: served until told to stop. */
#include "serve/serve.h"
#include "base/as_pointer.h"
#include "cli/command.h"
#include "cli/shop_copy.h"
#include "shop/shipper.h"
#include <gio/gio.h>
#include <stdio.h>

static const struct ew_option_spec options[] = {
    {"book", EW_TEXT("FILE"),
     EW_TEXT("the shop's book (the usual one if left out); made if it does not exist"), FALSE},
    {"port", "N", EW_TEXT("port (8088); 0 takes a free one"), FALSE},
    {"source", EW_TEXT("URL"), EW_TEXT("a source that paired devices may start; may be repeated"),
     FALSE},
    {"lan", NULL, EW_TEXT("also answer devices on the local network, once they are paired"), FALSE},
    {"certificate", EW_TEXT("FILE"), EW_TEXT("certificate for TLS, PEM"), FALSE},
    {"key", EW_TEXT("FILE"), EW_TEXT("its key, PEM"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static void write_ready(const struct ew_serve_ready *r) {
  struct ew_json json = ew_answer_begin();
  ew_json_text(&json, "address", r->address);
  ew_json_text(&json, "link", r->link);
  ew_json_integer(&json, "port", r->port);
  ew_json_texts(&json, "network", r->network);
  ew_json_text(&json, "code", r->code);
  ew_json_boolean(&json, "clear_text", r->clear_text);
  ew_json_text(&json, "key_not_kept", r->unkept);
  ew_json_texts(&json, "pair_again", r->pair_again);
  ew_json_text(&json, "devices_problem", r->devices_problem);
  ew_answer_end(&json);
}

static void tell_ready(const struct ew_serve_ready *r) {
  ew_say("open the page on this machine with this link; the browser then keeps its key (Ctrl-C "
         "stops the server):");
  ew_say("  %s", r->link);
  if (r->unkept)
    ew_say("caution: the key cannot be kept (%s); open the link again after each start", r->unkept);
  for (guint i = 0; i < r->network->len; i++)
    ew_say("for other devices: %s", (char *)g_ptr_array_index(r->network, i));
  if (r->code)
    ew_say("code for the first device: %s (valid for 10 minutes, once; more on the Shop screen)",
           r->code);
  for (guint i = 0; i < r->pair_again->len; i++)
    ew_say("pair '%s' again: an earlier program, or another machine, kept its right in the book, "
           "where rights no longer count",
           (char *)r->pair_again->pdata[i]);
  if (r->devices_problem)
    ew_say("caution: no device has rights: %s", r->devices_problem);
  if (r->clear_text)
    ew_say("caution: without --certificate and --key the network carries clear text: anybody on it "
           "can read figures and take a device's key");
}

static void say_ready(const struct ew_serve_ready *ready, gpointer user) {
  const struct ew_call *call = user;
  if (call->json)
    write_ready(ready);
  else
    tell_ready(ready);
  fflush(stdout);
}

static enum ew_serve_sending sending(char **trouble, gpointer user) {
  switch (ew_shipper_last(user, trouble)) {
  case EW_SHIPPER_NOT_ASKED: return EW_SENDING_NOT_ASKED;
  case EW_SHIPPER_ALL_THERE: return EW_SENDING_ALL_THERE;
  case EW_SHIPPER_NO_ANSWER: return EW_SENDING_NO_ANSWER;
  case EW_SHIPPER_REFUSED: return EW_SENDING_REFUSED;
  }
  g_assert_not_reached();
}

static gboolean run(const struct ew_call *call, GError **error) {
  const char *given = ew_call_option(call, "book"), *port_text = ew_call_option(call, "port");
  g_autofree char *path = given ? ew_shop_copy_of(given, error) : ew_book_default_path();
  guint64 port = 8088;
  if (!path)
    return FALSE;
  if (port_text && !g_ascii_string_to_unsigned(port_text, 10, 0, 65535, &port, NULL))
    return ew_refuse(error, "--port '%s' is not a port; write a number from 0 to 65535", port_text);
  g_autoptr(GBytes) day =
      g_resources_lookup_data("/days/hill-climb-six.yaml", G_RESOURCE_LOOKUP_FLAGS_NONE, NULL);
  g_autofree const char **sources = ew_call_options(call, "source");
  struct ew_serve_options serve = {.book = path,
                                   .sources = sources,
                                   .port = (guint)port,
                                   .lan = ew_call_has(call, "lan"),
                                   .certificate = ew_call_option(call, "certificate"),
                                   .key = ew_call_option(call, "key"),
                                   .practice = day ? g_bytes_get_data(day, NULL) : NULL,
                                   .ready = say_ready,
                                   .user = ew_as_pointer(call)};
  struct ew_shipper *shipper = ew_ship_beside(given, path);
  serve.sending = sending;
  serve.sending_user = shipper;
  gboolean good = ew_serve(&serve, error);
  ew_shipper_stop(shipper);
  return good;
}
const struct ew_command ew_command_serve = {
    .name = "serve",
    .summary = EW_TEXT(
        "The page in a browser: live cell, test day, pulls, engine, build, hand-over, shop"),
    .takes = "",
    .options = options,
    .run = run,
    .examples = "serve\nserve --book shop.book --port 8100\nserve --lan\nserve --port 0 --json",
    .more = EW_TEXT(
        "The page is opened on this machine by the link that is printed; the browser exchanges it "
        "for a key that it keeps. Keep the link\nto yourself: whoever has it counts as the person "
        "at this machine. Without --lan only this machine is answered. With --lan each device is "
        "paired once by a code shown here and on the\nShop screen, may look, write, or write and "
        "send to a source, and can be revoked. It can start only the sources that were named "
        "here\n(--source) or started from the page on this machine. With --port 0 --json the "
        "address is printed as one line\nof JSON. Ends on Ctrl-C or SIGTERM, after finishing what "
        "is under way.")};
