/* The shop: the store that several cells send to. Laying it, joining it, sending to it, looking into it, and fetching what it
 * holds of a cell as a book. */
#include "base/as_pointer.h"
#include "base/error.h"
#include "base/words.h"
#include "book/ship.h"
#include "cli/command.h"
#include "cli/shop_copy.h"
#include "shop/fetch.h"
#include "shop/ship.h"
#include "shop/shipper.h"
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static const struct ew_option_spec no_options[] = {{NULL, NULL, NULL, FALSE}};

/* ---- shop new ---- */

static gboolean run_new(const struct ew_call *call, GError **error) {
  const char *address = ew_call_argument(call, 0);
  gboolean laid;
  gint64 before;
  g_autoptr(ew_shop_store) store = ew_shop_open(address, NULL, error);
  if (!store || !store->class->lay(store, &laid, &before, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "shop", address);
    ew_json_boolean(&json, "laid", laid);
    ew_answer_end(&json);
  } else if (laid && before > 0)
    ew_say("the shop at %s is of this program's version now; what it holds is as it was, and its "
           "cells send on",
           address);
  else if (laid)
    ew_say("laid a shop at %s; next, at each cell: book join %s --cell NAME", address, address);
  else
    ew_say("there is a shop at %s already, of this version", address);
  return TRUE;
}
const struct ew_command ew_command_shop_new = {
    .name = "shop new",
    .summary = EW_TEXT("Lay the shop's store in a PostgreSQL database, or bring it up to date"),
    .takes = EW_TEXT("ADDRESS"),
    .least = 1,
    .most = 1,
    .options = no_options,
    .run = run_new,
    .examples = "shop new postgresql://shop.example/weir",
    .more = EW_TEXT(
        "ADDRESS is as PostgreSQL's own programs take it, without a password: keep that in the "
        "file ~/.pgpass, or the one that PGPASSFILE names.\nWho lays the shop may make roles in "
        "the database. Four are made, which nobody logs in as: grant enginewright_cell to\nthe "
        "login of a cell, which may add and never change, and enginewright_office to whoever "
        "reads.")};

/* ---- book join ---- */

static gboolean join(struct ew_book *book, struct ew_shop_store *store, const char *address,
                     const char *name, GError **error) {
  g_autofree char *identity = ew_book_identity(book, error);
  struct ew_shop_book joining = {identity, name};
  return identity && store->class->check(store, error) &&
         store->class->join(store, &joining, error) && ew_keep_join(book, address, error);
}

static gboolean run_join(const struct ew_call *call, GError **error) {
  const char *address = ew_call_argument(call, 0), *name = ew_call_option(call, "cell");
  if (!name || !*name)
    return ew_refuse(error, "--cell: not given; write what this cell is called in the shop, for "
                            "example \"Cell 1\"");
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  g_autoptr(ew_shop_store) store = book ? ew_shop_open(address, NULL, error) : NULL;
  struct ew_ship_state state;
  if (!store || !join(book, store, address, name, error) || !ew_ship_state(book, &state, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "shop", address);
    ew_json_text(&json, "cell", name);
    ew_json_integer(&json, "waiting", state.last - state.shipped);
    ew_answer_end(&json);
  } else
    ew_say("%s is '%s' of the shop now; %d facts wait: 'book ship' sends them, and so do 'serve' "
           "and 'cell record' while they run",
           ew_book_path(book), name, (int)(state.last - state.shipped));
  ew_ship_state_clear(&state);
  return TRUE;
}
static const struct ew_option_spec join_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the cell's book"), FALSE},
    {"cell", EW_TEXT("NAME"), EW_TEXT("what this cell is called in the shop"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_book_join = {
    .name = "book join",
    .summary =
        EW_TEXT("Make a cell's book one of the shop's: what is written in it is sent there, too"),
    .takes = EW_TEXT("ADDRESS"),
    .least = 1,
    .most = 1,
    .options = join_options,
    .run = run_join,
    .examples = "book join postgresql://shop.example/weir --cell \"Cell 1\""};

/* ---- book ship ---- */

static gint stopped;

static void on_signal(int number) {
  (void)number;
  g_atomic_int_set(&stopped, 1);
}

static void say_news(const struct ew_call *call, const struct ew_ship_news *news) {
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "sent", news->sent);
    ew_json_integer(&json, "reached", news->reached);
    ew_json_integer(&json, "lacking", news->lacking);
    ew_json_integer(&json, "new_writers", news->forks);
    ew_json_number(&json, "clock_s", news->clock.ahead_s);
    ew_json_number(&json, "clock_doubt_s", news->clock.doubt_s);
    ew_answer_end(&json);
    fflush(stdout);
    return;
  }
  if (news->forks)
    ew_say("caution: this book and another went on apart after change %d, under one name (a backup "
           "that was put back, or a disk that was cloned): this one goes on as a writer of its "
           "own, and the shop shows both",
           (int)news->fork_after);
  if (news->lacking > 0)
    ew_say("caution: the shop has %d facts of this cell that this book lacks: was a backup put "
           "back?",
           (int)news->lacking);
  if (fabs(news->clock.ahead_s) > 2 + news->clock.doubt_s)
    ew_say("caution: this machine's clock is %.1f s from the shop's", -news->clock.ahead_s);
  ew_say("sent %d facts; the shop has all", (int)news->sent);
}

static gboolean ship_once(const struct ew_call *call, struct ew_book *book, gboolean quiet,
                          GError **error) {
  static gint64 trim_due;
  struct ew_ship_state state;
  struct ew_ship_news news;
  if (!ew_ship_state(book, &state, error))
    return FALSE;
  g_autofree char *address = g_strdup(state.address);
  gboolean sends = g_strcmp0(state.role, "sends") == 0;
  ew_ship_state_clear(&state);
  if (!sends)
    return ew_refuse(error, "this book belongs to no shop: 'book join' makes it one of a shop's");
  g_autoptr(ew_shop_store) store = ew_shop_open(address, &stopped, error);
  if (!store || !ew_ship_all(book, store, &news, error) ||
      !ew_ship_trim_daily(book, store, &trim_due, error))
    return FALSE;
  if (!quiet || news.sent)
    say_news(call, &news);
  return TRUE;
}

/* Until it is told to end; each trouble is said once. */
static gboolean ship_on(const struct ew_call *call, struct ew_book *book, double every_s) {
  g_autofree char *said = NULL;
  while (!g_atomic_int_get(&stopped)) {
    g_autoptr(GError) problem = NULL;
    if (!ship_once(call, book, TRUE, &problem) && g_strcmp0(said, problem->message) != 0 &&
        !g_atomic_int_get(&stopped))
      fprintf(stderr, "enginewright: %s\n", problem->message);
    g_free(said);
    said = problem ? g_strdup(problem->message) : NULL;
    for (int i = 0; i < (int)(10 * every_s) && !g_atomic_int_get(&stopped); i++)
      g_usleep(G_USEC_PER_SEC / 10);
  }
  return TRUE;
}

static gboolean run_ship(const struct ew_call *call, GError **error) {
  static const int signals[] = {SIGINT, SIGTERM, SIGHUP};
  double every_s;
  if (!ew_call_quantity(call, "every", EW_KIND_TIME, NAN, &every_s, error))
    return FALSE;
  if (ew_call_has(call, "every") && !(every_s >= 1 && every_s <= 86400))
    return ew_refuse(error, "--every '%s': write 1 s to 24 h", ew_call_option(call, "every"));
  for (gsize i = 0; i < G_N_ELEMENTS(signals); i++)
    signal(signals[i], on_signal);
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  if (book && ew_call_has(call, "from-start") && !ew_keep_send_anew(book, error))
    return FALSE;
  return book && (ew_call_has(call, "every") ? ship_on(call, book, every_s)
                                             : ship_once(call, book, FALSE, error));
}
static const struct ew_option_spec ship_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the cell's book"), FALSE},
    {"every", EW_TEXT("TIME"), EW_TEXT("go on, and look again after this time; 10 s for example"),
     FALSE},
    {"from-start", NULL,
     EW_TEXT("everything again, as a new writer: for a shop that was put back from a backup older "
             "than what the outbox still holds"),
     FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_book_ship = {
    .name = "book ship",
    .summary = EW_TEXT("Send the shop what it has not got of this book yet"),
    .takes = "",
    .options = ship_options,
    .run = run_ship,
    .examples = "book ship\nbook ship --every 10s --book cell-1.book",
    .more =
        EW_TEXT("What the shop has had for 90 days, by its own clock, leaves the book's outbox; "
                "nothing else of the book is removed.")};

/* ---- shop show ---- */

static void write_head(const void *row, struct ew_json *json) {
  const struct ew_shop_head *h = row;
  ew_json_text(json, "cell", h->name);
  ew_json_text(json, "writer", h->writer);
  ew_json_text(json, "login", h->login);
  ew_json_integer(json, "facts", h->facts);
  ew_json_text(json, "came_at", h->came_at);
  ew_json_number(json, "clock_s", h->clock_s);
}

static void say_head(const void *row) {
  const struct ew_shop_head *h = row;
  g_autofree char *clock = ew_words("%+.3f s", round(-1000 * h->clock_s) / 1000 + 0.0);
  ew_say("%-16s %8d  %-22s %10s  %s", h->name, (int)h->last, h->came_at ? h->came_at : "-", clock,
         h->writer);
}

static gboolean run_show(const struct ew_call *call, GError **error) {
  g_autoptr(ew_shop_store) store = ew_shop_open(ew_call_argument(call, 0), NULL, error);
  g_autoptr(GArray) heads =
      store && store->class->check(store, error) ? store->class->heads(store, error) : NULL;
  if (!heads)
    return FALSE;
  if (!call->json && !heads->len)
    ew_say("no cell has joined this shop yet: book join");
  else if (!call->json)
    ew_say("%-16s %8s  %-22s %10s  %s", ew_tr(EW_TEXT("cell")), ew_tr(EW_TEXT("facts")),
           ew_tr(EW_TEXT("last came")), ew_tr(EW_TEXT("clock")), ew_tr(EW_TEXT("writer")));
  ew_answer_rows(call, "cells", heads, write_head, say_head);
  return TRUE;
}
const struct ew_command ew_command_shop_show = {
    .name = "shop show",
    .summary =
        EW_TEXT("The cells of a shop: what came of each, when, and how far its clock is off"),
    .takes = EW_TEXT("ADDRESS"),
    .least = 1,
    .most = 1,
    .options = no_options,
    .run = run_show,
    .examples = "shop show postgresql://shop.example/weir",
    .more = EW_TEXT("A cell listed twice went on in two places from one book, a backup "
                    "that was put back or a copy.\nNeither is dropped: name the writer to read "
                    "one of them.")};

/* ---- shop fetch ---- */

static gboolean adopt(const char *path, GError **error) {
  g_autoptr(ew_book) book = ew_book_open(path, FALSE, error);
  return book && ew_keep_adopt(book, error);
}

static gboolean run_fetch(const struct ew_call *call, GError **error) {
  const char *address = ew_call_argument(call, 0), *path = ew_call_option(call, "to");
  gboolean own = ew_call_has(call, "own");
  struct ew_fetched fetched;
  if (!path)
    return ew_refuse(error, "--to: not given; name the file that the copy goes into");
  if (!ew_call_place(path, error))
    return FALSE;
  g_autoptr(ew_shop_store) store = ew_shop_open(address, NULL, error);
  if (!store ||
      !ew_shop_fetch(store, address, ew_call_option(call, "cell"), path, &fetched, error) ||
      (own && !adopt(path, error)))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "book", path);
    ew_json_integer(&json, "came", fetched.facts);
    ew_json_integer(&json, "facts", fetched.last);
    ew_json_boolean(&json, "own", own);
    ew_answer_end(&json);
  } else if (own)
    ew_say(
        "%s holds all that the shop has of this cell (%d facts), and is the cell's own book from "
        "now on",
        path, (int)fetched.last);
  else
    ew_say("%s holds all that the shop has of this cell: %d facts, %d of them new", path,
           (int)fetched.last, (int)fetched.facts);
  return TRUE;
}
static const struct ew_option_spec fetch_options[] = {
    {"cell", EW_TEXT("NAME"), EW_TEXT("which cell, or which writer; the only one if left out"),
     FALSE},
    {"to", EW_TEXT("FILE"), EW_TEXT("the copy: new, or fetched before"), FALSE},
    {"own", NULL,
     EW_TEXT(
         "the copy becomes the cell's own book, which is written to and sends: for a cell whose "
         "disk was lost"),
     FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_shop_fetch = {
    .name = "shop fetch",
    .summary = EW_TEXT("What the shop holds of a cell, as a book to read"),
    .takes = EW_TEXT("ADDRESS"),
    .least = 1,
    .most = 1,
    .options = fetch_options,
    .run = run_fetch,
    .examples = "shop fetch postgresql://shop.example/weir --cell \"Cell 1\" --to cell-1.book\n"
                "shop fetch postgresql://shop.example/weir --cell \"Cell 1\" --to shop.book --own",
    .more = EW_TEXT("Each command reads the shop itself, too: --book "
                    "'postgresql://shop.example/weir#Cell 1'.")};
