/* What was found when somebody looked: after a trip, or on a plug after a pull. */
#include "cli/command.h"
#include "desk/found.h"
#include "desk/trip.h"
#include <string.h>

#define FOUND_OPTIONS                                                                              \
  {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},                                    \
      {"who", EW_TEXT("NAME"), EW_TEXT("who looked (default: you)"), FALSE}, {                     \
    "take-back", EW_TEXT("WHY"),                                                                   \
        EW_TEXT("what was written is wrong: it is kept, but no longer counts"), FALSE              \
  }

static gboolean read_numbers(const struct ew_call *call, gboolean trips, GArray *into,
                             GError **error) {
  for (guint i = 0; i < call->arguments->len; i++) {
    guint64 id;
    if (!g_ascii_string_to_unsigned(ew_call_argument(call, i), 10, 1, G_MAXINT32, &id, NULL))
      return trips ? ew_refuse(error, "'%s' is not a trip number", ew_call_argument(call, i))
                   : ew_refuse(error, "'%s' is not a pull number", ew_call_argument(call, i));
    gint64 number = (gint64)id;
    g_array_append_val(into, number);
  }
  return TRUE;
}

/* Every trip of a pull that asks for a look. */
static gboolean trips_of(struct ew_book *book, const char *text, GArray *into, GError **error) {
  guint64 id;
  if (!g_ascii_string_to_unsigned(text, 10, 1, G_MAXINT32, &id, NULL))
    return ew_refuse(error, "--pull '%s' is not a pull number", text);
  g_autoptr(GArray) rows = ew_trip_of_pull(book, (gint64)id, error);
  for (guint i = 0; i < rows->len; i++)
    if (g_array_index(rows, struct ew_trip_row, i).asks)
      g_array_append_val(into, g_array_index(rows, struct ew_trip_row, i).id);
  return into->len > 0 || (error && *error) ||
         ew_refuse(error,
                   "--pull %s: nothing tripped in it that needs a look; 'enginewright cell alarms "
                   "--trips' lists the trips",
                   text);
}

static void say_done(const char *belongs, gint64 id, gboolean back) {
  gboolean trip = strcmp(belongs, EW_FOUND_TRIP) == 0;
  if (trip && back)
    ew_say("trip %lld: taken back; it is kept in the book with its reason", (long long)id);
  else if (trip)
    ew_say("trip %lld: recorded", (long long)id);
  else if (back)
    ew_say("pull %lld: taken back; it is kept in the book with its reason", (long long)id);
  else
    ew_say("pull %lld: recorded", (long long)id);
}

static void answer(const struct ew_call *call, struct ew_book *book,
                   const struct ew_found_ask *ask) {
  const char *back = ask->take_back;
  struct ew_json json = {0};
  if (call->json) {
    json = ew_answer_begin();
    ew_json_open_array(&json, ask->belongs);
  }
  for (guint i = 0; i < ask->owners->len; i++) {
    gint64 id = g_array_index(ask->owners, gint64, i);
    if (!call->json) {
      say_done(ask->belongs, id, back != NULL);
      continue;
    }
    ew_json_open(&json, NULL);
    ew_json_integer(&json, "id", id);
    ew_found_json(book, ask->belongs, id, "found", &json);
    ew_json_close(&json);
  }
  if (call->json) {
    ew_json_close_array(&json);
    ew_answer_end(&json);
  }
}

static gboolean write_down(const struct ew_call *call, struct ew_book *book, const char *belongs,
                           GArray *owners, GError **error) {
  struct ew_found_ask ask = {.belongs = belongs,
                             .owners = owners,
                             .text = ew_call_option(call, "what"),
                             .who = ew_call_option(call, "who"),
                             .take_back = ew_call_option(call, "take-back")};
  if (!ask.text == !ask.take_back)
    return ew_refuse(error, "give either --what with what was found, or --take-back with a reason");
  if (!ew_write_found(book, &ask, error))
    return FALSE;
  answer(call, book, &ask);
  return TRUE;
}

static const struct ew_option_spec found_options[] = {
    FOUND_OPTIONS,
    {"what", EW_TEXT("TEXT"), EW_TEXT("what was found: sump, filter, plugs, bearings, a wire"),
     FALSE},
    {"pull", EW_TEXT("PULL"), EW_TEXT("of every trip in this pull"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static gboolean run_found(const struct ew_call *call, GError **error) {
  g_autoptr(GArray) owners = g_array_new(FALSE, FALSE, sizeof(gint64));
  const char *pull = ew_call_option(call, "pull");
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  if (!book || !read_numbers(call, TRUE, owners, error) ||
      (pull && !trips_of(book, pull, owners, error)))
    return FALSE;
  if (owners->len == 0)
    return ew_refuse(
        error,
        "which trip? Give its number ('enginewright cell alarms --trips' lists them), or --pull");
  return write_down(call, book, EW_FOUND_TRIP, owners, error);
}
const struct ew_command ew_command_cell_found = {
    .name = "cell found",
    .summary = EW_TEXT("Record what was found after an alarm tripped; pulls are then judged again"),
    .takes = EW_TEXT("[TRIP...]"),
    .most = -1,
    .options = found_options,
    .run = run_found,
    .examples =
        EW_TEXT("cell found 1 --what \"sump 2 l low, filled; filter and plugs clean\" --who \"A. "
                "Weir\"\ncell found 1 --take-back \"that was the other engine\""),
    .more = EW_TEXT("Until then every answer about this engine is 'stop and look'. Look first: "
                    "sump, filter, plugs, bearing noise;\nfollow the engine maker's instructions. "
                    "The pull in which it happened proves nothing, whatever was found: it is\nleft "
                    "out of reports, history and comparisons unless asked for by number.")};

static const struct ew_option_spec seen_options[] = {
    FOUND_OPTIONS,
    {"what", EW_TEXT("TEXT"),
     EW_TEXT("what was seen or heard: specks on a plug, metal in the filter, a knock"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static gboolean run_seen(const struct ew_call *call, GError **error) {
  g_autoptr(GArray) owners = g_array_new(FALSE, FALSE, sizeof(gint64));
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  return book && read_numbers(call, FALSE, owners, error) &&
         write_down(call, book, EW_FOUND_PULL, owners, error);
}
const struct ew_command ew_command_pull_seen = {
    .name = "pull seen",
    .summary = EW_TEXT(
        "What was seen or heard after a pull: it ends sweeps and step-up whatever torque says"),
    .takes = EW_TEXT("PULL..."),
    .least = 1,
    .most = -1,
    .options = seen_options,
    .run = run_seen,
    .examples = EW_TEXT(
        "pull seen 12 --what \"specks on plug 4\"\npull seen 12 --take-back \"that was soot\""),
    .more = EW_TEXT("The same as --set seen=... when the pull is added. A remark (--set "
                    "remark=...) has no effect.")};
