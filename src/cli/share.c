/* Customers' links: made, listed, revoked, served. */
#include "base/error.h"
#include "base/zone.h"
#include "book/attachment.h"
#include "book/build.h"
#include "book/store.h"
#include "cli/command.h"
#include "cli/share_day.h"
#include "cli/shop_copy.h"
#include "desk/now.h"
#include "serve/share.h"
#include "serve/shares.h"
#include "shop/shipper.h"
#include "shop/store.h"
#include <stdio.h>
#include <string.h>

#define DAYS_MOST 400

/* ---- share new ---- */

gboolean ew_share_until(struct ew_book *book, const char *text, char **until, GError **error) {
  GTimeZone *zone = ew_book_zone(book, error);
  double now = (double)g_get_real_time() / 1e6, at;
  if (!zone)
    return FALSE;
  if (!text || strlen(text) != 10)
    return ew_refuse(error, "--until '%.40s': give the last day, such as 2026-12-31",
                     text ? text : "");
  g_autofree char *end = g_strdup_printf("%s 23:59:59", text);
  if (!ew_zone_read(zone, "--until", end, &at, error))
    return FALSE;
  if (!(at > now && at < now + DAYS_MOST * 86400.0))
    return ew_refuse(error, "--until %s: give a day from today on, within %d days", text,
                     DAYS_MOST);
  *until = ew_instant_write(at);
  return TRUE;
}

static gboolean build_engine(struct ew_book *book, gint64 build, gint64 *engine, GError **error) {
  g_autoptr(GArray) builds = ew_build_list(book, 0, error);
  for (guint i = 0; builds && i < builds->len; i++) {
    const struct ew_build_row *row = &g_array_index(builds, struct ew_build_row, i);
    if (row->id == build)
      *engine = row->engine_id;
  }
  return builds != NULL;
}

static gboolean owner_engine(struct ew_book *book, const struct ew_attachment_row *row,
                             gint64 *engine, GError **error) {
  *engine = 0;
  if (strcmp(row->belongs, ew_owner_words[EW_OWNER_ENGINE]) == 0)
    *engine = row->owner_id;
  else if (strcmp(row->belongs, ew_owner_words[EW_OWNER_PULL]) == 0) {
    struct ew_pull_row pull;
    if (!ew_pull_get(book, row->owner_id, &pull, error))
      return FALSE;
    *engine = pull.engine_id;
    ew_pull_row_clear(&pull);
  } else if (strcmp(row->belongs, ew_owner_words[EW_OWNER_BUILD]) == 0)
    return build_engine(book, row->owner_id, engine, error);
  return TRUE;
}

/* A picture of this engine, its build or its pulls: what was taken of a day may show another customer's. */
static gboolean check_photo(struct ew_book *book, const char *text, gint64 engine, GError **error) {
  struct ew_attachment_row row;
  guint64 id;
  gint64 whose;
  if (!g_ascii_string_to_unsigned(text, 10, 1, G_MAXINT32, &id, NULL))
    return ew_refuse(error, "--photo '%.40s': not the number of an attached picture", text);
  if (!ew_attachment_get(book, (gint64)id, &row, error))
    return FALSE;
  gboolean stands = !row.withdrawn, picture = g_str_has_prefix(row.media, "image/");
  gboolean good = owner_engine(book, &row, &whose, error);
  ew_attachment_row_clear(&row);
  if (good && !stands)
    return ew_refuse(error, "--photo %s: was taken back", text);
  if (good && !picture)
    return ew_refuse(error, "--photo %s: is not a picture", text);
  return good && (whose == engine ||
                  ew_refuse(error,
                            "--photo %s: does not belong to this engine, its build or one of its "
                            "pulls; attach it there first",
                            text));
}

static gboolean read_photos(const struct ew_call *call, struct ew_book *book, gint64 engine,
                            char **list, GError **error) {
  g_autofree const char **photos = ew_call_options(call, "photo");
  GString *ids = g_string_new(NULL);
  gboolean good = TRUE;
  guint count = 0;
  for (const char **one = photos; good && *one; one++, count++) {
    good = check_photo(book, *one, engine, error);
    g_string_append_printf(ids, "%s%s", ids->len ? "," : "", *one);
  }
  *list = g_string_free(ids, FALSE);
  return good && (count <= EW_SHARE_PHOTOS ||
                  ew_refuse(error, "--photo: a link shows %d at most", EW_SHARE_PHOTOS));
}

/* What is shown while the engine runs: nothing unless it is named. */
static gboolean read_channels(const struct ew_call *call, gboolean live, char **list,
                              GError **error) {
  g_autofree const char **given = ew_call_options(call, "channel");
  guint64 set;
  *list = g_strjoinv(",", (char **)given);
  if (!**list)
    return TRUE;
  return ew_now_channels("--channel", *list, &set, error) &&
         (live || ew_refuse(error, "--channel: shows what runs; give --live with it"));
}

static gboolean read_address(const char *at, GError **error) {
  return !at ||
         ((g_str_has_prefix(at, "https://") || g_str_has_prefix(at, "http://")) &&
          !strpbrk(at, "?# \t\n")) ||
         ew_refuse(error,
                   "--at '%.80s': give where the links are served, such as "
                   "https://shop.example",
                   at);
}

static gboolean gather(const struct ew_call *call, struct ew_book *book, struct ew_share *share,
                       GError **error) {
  struct ew_engine_row engine = {0};
  const char *name = ew_call_option(call, "engine");
  if (!name)
    return ew_refuse(error, "--engine: not given; a link shows one engine: name it");
  if (!read_address(ew_call_option(call, "at"), error) ||
      !ew_engine_get(book, name, &engine, error))
    return FALSE;
  share->engine = engine.id;
  share->name = g_strdup(engine.name);
  share->live = ew_call_has(call, "live");
  ew_engine_row_clear(&engine);
  return read_channels(call, share->live, &share->channels, error) &&
         ew_share_until(book, ew_call_option(call, "until"), &share->until, error) &&
         read_photos(call, book, share->engine, &share->photos, error);
}

static void say_new(const struct ew_call *call, const struct ew_share *share, const char *token) {
  const char *at = ew_call_option(call, "at");
  g_autofree char *base = g_strdup(at ? at : "");
  gsize size = strlen(base);
  while (size && base[size - 1] == '/')
    base[--size] = 0;
  g_autofree char *link = g_strdup_printf("%s/%s/page", base, token);
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "link", link);
    ew_json_text(&json, "engine", share->name);
    ew_json_text(&json, "until", share->until);
    ew_answer_end(&json);
    return;
  }
  ew_say("%s", link);
  ew_say(
      "whoever has this link sees the report and the care sheet of %s until %s; it is shown this "
      "once, and 'share revoke' ends it",
      share->name, ew_call_option(call, "until"));
  if (!at)
    ew_say("put the address that 'share serve' is reached by in front of it");
  else if (g_str_has_prefix(at, "http://"))
    ew_say("caution: http:// carries clear text: anybody on the way can read the link and use it; "
           "put a server with TLS in front");
}

static gboolean open_shares(const struct ew_call *call, struct ew_book **book,
                            struct ew_shares **shares, GError **error) {
  *shares = NULL;
  if (!(*book = ew_call_book(call, FALSE, TRUE, error)))
    return FALSE;
  g_autofree char *identity = ew_book_identity(*book, error);
  if (identity)
    *shares = ew_shares_new(identity);
  return identity != NULL;
}

static gboolean run_new(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = NULL;
  struct ew_shares *shares;
  struct ew_share share = {0};
  g_autofree char *token = NULL;
  if (!open_shares(call, &book, &shares, error))
    return FALSE;
  if (gather(call, book, &share, error) && (token = ew_shares_add(shares, &share, error)))
    say_new(call, &share, token);
  ew_share_clear(&share);
  ew_shares_free(shares);
  return token != NULL;
}
static const struct ew_option_spec new_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"engine", EW_TEXT("NAME"), EW_TEXT("which engine"), FALSE},
    {"until", EW_TEXT("DATE"), EW_TEXT("the last day on which it works"), FALSE},
    {"photo", "N", EW_TEXT("an attached picture that it shows; may be repeated"), FALSE},
    {"live", NULL, EW_TEXT("also the figures of the last pulls, as they come"), FALSE},
    {"channel", EW_TEXT("CHANNEL"),
     EW_TEXT("with --live: a channel that it shows while the engine runs, such as 'speed'; may be "
             "repeated"),
     FALSE},
    {"at", EW_TEXT("URL"), EW_TEXT("where 'share serve' is reached: https://shop.example"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_share_new = {
    .name = "share new",
    .summary = EW_TEXT("A link by which a customer sees one engine's report and care sheet"),
    .takes = "",
    .options = new_options,
    .run = run_new,
    .examples =
        "share new --engine \"hill-climb six\" --until 2026-12-31 --at https://shop.example\n"
        "share new --engine \"hill-climb six\" --until 2026-12-31 --photo 1 --live --channel speed "
        "--channel power",
    .more =
        EW_TEXT("Its token is kept by this machine as a digest, never in the book. 'share serve' "
                "answers it.")};

/* ---- share list, share revoke ---- */

static const char *state_of(const struct ew_share *share) {
  return (double)g_get_real_time() / 1e6 < ew_instant(share->until) ? EW_TEXT("works")
                                                                    : EW_TEXT("expired");
}

static void write_share(const void *row, struct ew_json *json) {
  const struct ew_share *s = row;
  ew_json_integer(json, "id", s->id);
  ew_json_text(json, "engine", s->name);
  ew_json_text(json, "made_at", s->made_at);
  ew_json_text(json, "until", s->until);
  ew_json_text(json, "state", state_of(s));
  ew_json_boolean(json, "live", s->live);
  ew_json_text(json, "channels", s->channels);
  ew_json_text(json, "photos", s->photos);
}

static void say_share(const void *row) {
  const struct ew_share *s = row;
  ew_say("%3d  %-8s  %.16sZ  %s", (int)s->id, ew_tr(state_of(s)), s->until, s->name);
}

static gboolean run_list(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = NULL;
  struct ew_shares *shares;
  if (!open_shares(call, &book, &shares, error))
    return FALSE;
  const GArray *list = ew_shares_list(shares, error);
  gboolean good = list != NULL;
  if (good && !list->len && !call->json)
    ew_say("no link was made on this machine for this book: share new");
  else if (good)
    ew_answer_rows(call, "links", list, write_share, say_share);
  ew_shares_free(shares);
  return good;
}
static const struct ew_option_spec book_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE}, {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_share_list = {
    .name = "share list",
    .summary = EW_TEXT("Customers' links of this book, made on this machine"),
    .takes = "",
    .options = book_options,
    .run = run_list,
    .examples = "share list"};

static gboolean run_revoke(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = NULL;
  struct ew_shares *shares;
  guint64 id;
  if (!g_ascii_string_to_unsigned(ew_call_argument(call, 0), 10, 1, G_MAXINT32, &id, NULL))
    return ew_refuse(error, "'%.40s' is not the number of a link: 'share list' lists them",
                     ew_call_argument(call, 0));
  if (!open_shares(call, &book, &shares, error))
    return FALSE;
  gboolean good = ew_shares_revoke(shares, (gint64)id, error);
  ew_shares_free(shares);
  if (good && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "revoked", (gint64)id);
    ew_answer_end(&json);
  } else if (good)
    ew_say("link %d no longer works", (int)id);
  return good;
}
const struct ew_command ew_command_share_revoke = {.name = "share revoke",
                                                   .summary =
                                                       EW_TEXT("End a customer's link at once"),
                                                   .takes = "N",
                                                   .least = 1,
                                                   .most = 1,
                                                   .options = book_options,
                                                   .run = run_revoke,
                                                   .examples = "share revoke 1"};

/* ---- share serve ---- */

static void say_ready(const struct ew_share_ready *ready, gpointer user) {
  const struct ew_call *call = user;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "address", ready->address);
    ew_json_integer(&json, "port", ready->port);
    ew_json_boolean(&json, "clear_text", ready->clear_text);
    ew_answer_end(&json);
  } else {
    ew_say("answering customers' links at %s (Ctrl-C stops it)", ready->address);
    if (ready->clear_text)
      ew_say("caution: without --certificate and --key the network carries clear text: anybody on "
             "it can read a link and use it");
  }
  fflush(stdout);
}

static gboolean is_name(const char *name) {
  return strlen(name) < 200 &&
         strspn(name, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-") ==
             strlen(name);
}

static gboolean run_serve(const struct ew_call *call, GError **error) {
  const char *given = ew_call_option(call, "book"), *port_text = ew_call_option(call, "port"),
             *name = ew_call_option(call, "public-name");
  guint64 port = 8090;
  if (port_text && !g_ascii_string_to_unsigned(port_text, 10, 0, 65535, &port, NULL))
    return ew_refuse(error, "--port '%s' is not a port; write a number from 0 to 65535", port_text);
  if (name && (!*name || !is_name(name)))
    return ew_refuse(error,
                     "--public-name '%.80s': give the name alone, such as shop.example, without "
                     "https:// and port",
                     name);
  g_autofree char *path = given ? ew_shop_copy_of(given, error) : ew_book_default_path();
  if (!path)
    return FALSE;
  struct ew_share_options options = {.book = path,
                                     .port = (guint)port,
                                     .lan = ew_call_has(call, "lan"),
                                     .public_name = name,
                                     .certificate = ew_call_option(call, "certificate"),
                                     .key = ew_call_option(call, "key"),
                                     .ready = say_ready,
                                     .user = (gpointer)(gsize)call};
  struct ew_shipper *shipper =
      given && ew_shop_is_address(given) ? ew_ship_beside(given, path) : NULL;
  gboolean good = ew_share_serve(&options, error);
  ew_shipper_stop(shipper);
  return good;
}
static const struct ew_option_spec serve_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book (the usual one if left out)"), FALSE},
    {"port", "N", EW_TEXT("port (8090); 0 takes a free one"), FALSE},
    {"public-name", EW_TEXT("NAME"),
     EW_TEXT("what browsers call the server in front: shop.example"), FALSE},
    {"lan", NULL, EW_TEXT("answer the network itself, without a server in front"), FALSE},
    {"certificate", EW_TEXT("FILE"), EW_TEXT("certificate for TLS, PEM"), FALSE},
    {"key", EW_TEXT("FILE"), EW_TEXT("its key, PEM"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_share_serve = {
    .name = "share serve",
    .summary = EW_TEXT("Answer customers' links, and nothing else"),
    .takes = "",
    .options = serve_options,
    .run = run_serve,
    .examples = "share serve --public-name shop.example\nshare serve --port 0 --json",
    .more = EW_TEXT(
        "A program of its own that reads the book and changes nothing: it answers GET for links "
        "that "
        "hold, and everything else with the same refusal.\nWithout --lan only this machine is "
        "answered: a web server with TLS in front passes requests on, by the name that "
        "--public-name "
        "gives.")};
