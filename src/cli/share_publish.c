/* share publish: what an engine reads while it is recorded, for an MQTT broker. */
#include "base/error.h"
#include "base/zone.h"
#include "book/store.h"
#include "cli/command.h"
#include "cli/share_day.h"
#include "cli/shop_copy.h"
#include "desk/now.h"
#include "serve/publish.h"
#include "shop/shipper.h"
#include "shop/store.h"
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#define TOPIC_MOST    200
#define PASSWORD_MOST 500

/* What the address says, taken apart; texts are owned. */
struct broker {
  char *host, *topic;
  guint port;
  gboolean tls;
};

static void broker_clear(struct broker *b) {
  g_free(b->host);
  g_free(b->topic);
}

static gboolean is_topic(const char *topic) {
  return *topic && *topic != '$' && *topic != '/' && strlen(topic) <= TOPIC_MOST &&
         !strpbrk(topic, "#+ \t\r\n") && !g_str_has_suffix(topic, "/") &&
         g_utf8_validate(topic, -1, NULL);
}

static gboolean is_host(const char *host) {
  return *host && strlen(host) < 200 &&
         strspn(host, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-") ==
             strlen(host);
}

static gboolean read_broker(const char *to, struct broker *b, GError **error) {
  const char *rest = to ? strstr(to, "://") : NULL;
  b->tls = to && g_str_has_prefix(to, "mqtts://");
  if (!rest || !(b->tls || g_str_has_prefix(to, "mqtt://")))
    return ew_refuse(error,
                     "--to '%.80s': write mqtts://HOST/TOPIC, such as "
                     "mqtts://broker.example/weir/cell-1",
                     to ? to : "");
  rest += 3;
  gsize length = strcspn(rest, "/");
  g_auto(GStrv) place = NULL;
  g_autofree char *name = g_strndup(rest, length);
  guint64 port = b->tls ? 8883 : 1883;
  place = g_strsplit(name, ":", 2);
  if (!place[0] || !is_host(place[0]) ||
      (place[1] && !g_ascii_string_to_unsigned(place[1], 10, 1, 65535, &port, NULL)))
    return ew_refuse(error,
                     "--to: '%.80s' is not a host, or a host and a port; login and password do not "
                     "belong there",
                     name);
  if (!rest[length] || !is_topic(rest + length + 1))
    return ew_refuse(error,
                     "--to: '%.80s' is not a topic; write words with / between them, without # "
                     "and +",
                     rest[length] ? rest + length + 1 : "");
  b->host = g_strdup(place[0]);
  b->port = (guint)port;
  b->topic = g_strdup(rest + length + 1);
  return TRUE;
}

/* The first line of a file that only its owner reads. */
static gboolean read_password(const char *path, char **password, GError **error) {
  struct stat facts;
  gsize size;
  g_autoptr(GError) problem = NULL;
  *password = NULL;
  if (!path)
    return TRUE;
  if (stat(path, &facts) == 0 && (facts.st_mode & 077))
    return ew_refuse(error, "--password-file %s: others can read it; chmod 600 it", path);
  if (!g_file_get_contents(path, password, &size, &problem))
    return ew_refuse(error, "--password-file: %s", problem->message);
  (*password)[strcspn(*password, "\r\n")] = 0;
  gsize length = strlen(*password);
  return (length > 0 && length <= PASSWORD_MOST) ||
         ew_refuse(error, "--password-file %s: its first line is not a password", path);
}

static gboolean read_channels(const struct ew_call *call, guint64 *set, GError **error) {
  g_autofree const char **given = ew_call_options(call, "channel");
  g_autofree char *list = g_strjoinv(",", (char **)given);
  return ew_now_channels("--channel", *list ? list : "speed,torque,power", set, error);
}

static gboolean find_engine(const struct ew_call *call, const char *path,
                            struct ew_publish_options *o, GError **error) {
  const char *name = ew_call_option(call, "engine"), *until = ew_call_option(call, "until");
  struct ew_engine_row engine = {0};
  g_autofree char *end = NULL;
  if (!name)
    return ew_refuse(error, "--engine: not given; one engine is published: name it");
  struct ew_book *book = ew_book_open(path, FALSE, error);
  gboolean good = book && ew_engine_get(book, name, &engine, error) &&
                  (!until || ew_share_until(book, until, &end, error));
  o->engine = engine.id;
  o->until_s = end ? ew_instant(end) : (double)NAN;
  ew_engine_row_clear(&engine);
  ew_book_close(book);
  return good;
}

static void say(const char *line, gpointer user) {
  const struct ew_call *call = user;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "says", line);
    ew_answer_end(&json);
  } else
    ew_say("%s", line);
  fflush(stdout);
}

static gboolean run_broker(const struct ew_call *call, const struct broker *b, const char *path,
                           const char *password, GError **error) {
  const char *given = ew_call_option(call, "book");
  struct ew_publish_options o = {.book = path,
                                 .units = call->units,
                                 .host = b->host,
                                 .topic = b->topic,
                                 .port = b->port,
                                 .tls = b->tls,
                                 .authority = ew_call_option(call, "authority"),
                                 .login = ew_call_option(call, "login"),
                                 .password = password,
                                 .says = say,
                                 .user = (gpointer)(gsize)call};
  if (password && !o.login)
    return ew_refuse(error, "--password-file goes with --login");
  if (o.authority && !b->tls)
    return ew_refuse(error, "--authority goes with mqtts://");
  if (!read_channels(call, &o.channels, error) || !find_engine(call, path, &o, error))
    return FALSE;
  if (!b->tls && !call->json)
    ew_say("caution: mqtt:// carries clear text: anybody on the way can read the figures and the "
           "password; mqtts:// does not");
  struct ew_shipper *shipper =
      given && ew_shop_is_address(given) ? ew_ship_beside(given, path) : NULL;
  gboolean good = ew_publish_run(&o, error);
  ew_shipper_stop(shipper);
  return good;
}

static gboolean run_publish(const struct ew_call *call, GError **error) {
  const char *given = ew_call_option(call, "book");
  struct broker b = {0};
  g_autofree char *password = NULL;
  gboolean good = read_broker(ew_call_option(call, "to"), &b, error) &&
                  read_password(ew_call_option(call, "password-file"), &password, error);
  g_autofree char *path = !good   ? NULL
                          : given ? ew_shop_copy_of(given, error)
                                  : ew_book_default_path();
  good = path && run_broker(call, &b, path, password, error);
  broker_clear(&b);
  return good;
}
static const struct ew_option_spec publish_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book (the usual one if left out)"), FALSE},
    {"engine", EW_TEXT("NAME"), EW_TEXT("which engine"), FALSE},
    {"to", "URL", EW_TEXT("the broker and the topic: mqtts://HOST/TOPIC"), FALSE},
    {"channel", EW_TEXT("CHANNEL"),
     EW_TEXT("a channel that is shown, such as 'oil_pressure'; may be repeated; otherwise 'speed', "
             "'torque', 'power'"),
     FALSE},
    {"login", EW_TEXT("NAME"), EW_TEXT("name at the broker"), FALSE},
    {"password-file", EW_TEXT("FILE"), EW_TEXT("its password, in a file that only you can read"),
     FALSE},
    {"authority", EW_TEXT("FILE"),
     EW_TEXT("who signed the broker's certificate, PEM (those this machine trusts)"), FALSE},
    {"until", EW_TEXT("DATE"), EW_TEXT("the last day on which it is published"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_share_publish = {
    .name = "share publish",
    .summary = EW_TEXT("Send what an engine reads while it is recorded to an MQTT broker"),
    .takes = "",
    .options = publish_options,
    .run = run_publish,
    .examples = "share publish --engine \"hill-climb six\" --to mqtts://broker.example/weir/cell-1 "
                "--login cell1 --password-file broker.password\n"
                "share publish --engine \"hill-climb six\" --to mqtts://broker.example/weir/cell-1 "
                "--channel speed --channel oil_pressure --until 2026-12-31",
    .more = EW_TEXT(
        "For a shop that opens no port. A program of its own that reads the book: a broker that is "
        "slow or gone\nholds no recording up. Once a second TOPIC/now gets the figures as JSON, "
        "never retained; TOPIC/state\nsays live, silent, none or gone, retained.")};
