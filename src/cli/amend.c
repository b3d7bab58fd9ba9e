/* The commands by which facts are corrected: pull amend, pull history, pull right, cell amend. */
#include "base/error.h"
#include "base/number.h"
#include "base/words.h"
#include "base/zone.h"
#include "book/keep.h"
#include "cli/amend_call.h"
#include "cli/command.h"
#include "cli/curve_note.h"
#include "cli/held.h"
#include "desk/add.h"
#include "desk/amend.h"
#include <math.h>
#include <signal.h>
#include <string.h>

static gboolean read_number(const char *text, gint64 *id, GError **error) {
  if (*text && strspn(text, "0123456789") == strlen(text) && strlen(text) < 18) {
    *id = g_ascii_strtoll(text, NULL, 10);
    return TRUE;
  }
  return ew_refuse_with(error, EW_REMEDY_LIST_PULLS, "'%.40s' is not a pull number", text);
}

GArray *ew_call_pulls(const struct ew_call *call, struct ew_book *book, GError **error) {
  const char *since = ew_call_option(call, "since");
  g_autofree const char **listed = ew_call_options(call, "pulls");
  g_autoptr(GArray) ids = g_array_new(FALSE, FALSE, sizeof(gint64));
  gint64 id;
  for (guint i = 0; i < call->arguments->len; i++) {
    if (!read_number(ew_call_argument(call, i), &id, error))
      return NULL;
    g_array_append_val(ids, id);
  }
  for (guint i = 0; listed[i]; i++) {
    if (!read_number(listed[i], &id, error))
      return NULL;
    g_array_append_val(ids, id);
  }
  if (!since)
    return g_steal_pointer(&ids);
  if (!read_number(since, &id, error))
    return NULL;
  g_autoptr(GError) problem = NULL;
  g_autoptr(GArray) later = ew_pulls_since(book, id, 0, &problem);
  if (problem) {
    g_propagate_error(error, g_steal_pointer(&problem));
    return NULL;
  }
  g_array_append_vals(ids, later->data, later->len);
  return g_steal_pointer(&ids);
}

static void say_row(const struct ew_amended_row *row, enum ew_unit_system units) {
  g_autofree char *before = ew_quantity_format(EW_KIND_TORQUE, units, row->before_n_m, 1);
  g_autoptr(GPtrArray) changes = ew_messages_texts(row->changes, units);
  g_ptr_array_add(changes, NULL);
  g_autofree char *list = g_strjoinv("; ", (char **)changes->pdata);
  if (isnan(row->after_n_m)) {
    ew_say("pull %lld, reading %lld: %s", (long long)row->pull_id, (long long)row->reading, list);
    return;
  }
  g_autofree char *after = ew_quantity_format(EW_KIND_TORQUE, units, row->after_n_m, 1);
  ew_say("pull %lld, reading %lld: %s; mean torque %s → %s", (long long)row->pull_id,
         (long long)row->reading, list, before, after);
}

static void say_amended(struct ew_book *book, const struct ew_amended *a,
                        enum ew_unit_system units) {
  for (guint i = 0; i < a->rows->len; i++)
    say_row(&g_array_index(a->rows, struct ew_amended_row, i), units);
  for (guint i = 0; i < a->added->len; i++)
    ew_say("pull %lld: found besides", (long long)g_array_index(a->added, gint64, i));
  if (a->already)
    ew_say(ew_tr_many("%u pull says so already", "%u pulls say so already", a->already),
           a->already);
  for (guint i = 0; i < a->held->len; i++)
    ew_call_say_held(book, g_array_index(a->held, gint64, i), units);
  g_autoptr(GPtrArray) notes = ew_messages_texts(a->notes, units);
  for (guint i = 0; i < notes->len; i++)
    ew_say("%s", (const char *)notes->pdata[i]);
  if (a->answers->len)
    ew_say(
        ew_tr_many("%u answer now rests on an earlier reading: 'enginewright judge again' asks it "
                   "again",
                   "%u answers now rest on an earlier reading: 'enginewright judge again' asks "
                   "them again",
                   a->answers->len),
        a->answers->len);
}

static gint interrupted; /* by Ctrl-C: the recording at hand is finished */

static void on_interrupt(int signal) {
  (void)signal;
  g_atomic_int_set(&interrupted, 1);
}

gboolean ew_call_amend(const struct ew_call *call, const struct ew_desk *desk,
                       const struct ew_amend_ask *ask, GError **error) {
  struct ew_amended amended;
  struct ew_amend_ask own = *ask;
  own.cancel = &interrupted;
  void (*before)(int) = signal(SIGINT, on_interrupt);
  gboolean good = ew_amend(desk, &own, &amended, error);
  signal(SIGINT, before);
  if (!good)
    return FALSE;
  gboolean stopped = amended.stopped;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_amended_json(desk->book, &amended, &json);
    ew_answer_end(&json);
  } else
    say_amended(desk->book, &amended, call->units);
  ew_amended_clear(&amended);
  return !stopped ||
         ew_answer_no(error, "stopped: what is listed is amended, the rest is as it was; the same "
                             "command goes on with it");
}

static const struct ew_option_spec amend_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book (the usual one if left out)"), FALSE},
    {"pulls", EW_TEXT("PULL"), EW_TEXT("several pulls"), TRUE},
    {"since", EW_TEXT("PULL"), EW_TEXT("this pull and all that were added after it"), FALSE},
    {"reason", EW_TEXT("TEXT"), EW_TEXT("why; it is kept with the amendment"), FALSE},
    {"set", EW_TEXT("NAME=VALUE"),
     EW_TEXT("part of the set-up or weather; 'NAME=' forgets it; may be repeated"), FALSE},
    {"units", EW_TEXT("CHANNEL=UNIT"),
     EW_TEXT("unit of a channel of the whole recording, or all=us for those that the file names "
             "none for; may be repeated"),
     FALSE},
    {"map", EW_TEXT("FILE"), EW_TEXT("channel map in YAML, of the whole recording"), FALSE},
    {"cell", EW_TEXT("NAME=VALUE"), EW_TEXT("part of the cell's record; may be repeated"), FALSE},
    {"engine", EW_TEXT("NAME"),
     EW_TEXT("which engine of the book it was; the same one takes its present record"), FALSE},
    {"changed", EW_TEXT("TEXT"), EW_TEXT("what was changed before this pull"), FALSE},
    {"purpose", EW_TEXT("WHAT"), EW_TEXT("pull, heat or break-in"), FALSE},
    {"at", EW_TEXT("TIME"),
     EW_TEXT("when it ran, by the shop's clock (\"2026-11-30 16:50\") or with an offset"), FALSE},
    {"calibration", EW_TEXT("N"),
     EW_TEXT("'now': the calibrations in force when it ran; or one by its number"), FALSE},
    {"weather", EW_TEXT("station"),
     EW_TEXT("'station': as the cell's own weather station read it at that time"), FALSE},
    {"standard", EW_TEXT("NAME"), EW_TEXT("correction factor ('air standards' lists them)"), FALSE},
    {"undo", NULL, EW_TEXT("take the last amendment back"), FALSE},
    {"reading", EW_TEXT("N"),
     EW_TEXT("refuse if the pull was amended since this reading ('pull history')"), FALSE},
    {"who", EW_TEXT("NAME"), EW_TEXT("who puts it right (default: who is logged in)"), FALSE},
    {NULL, NULL, NULL, FALSE}};

/* Those with a channel; "us" and "si" are of the printed text. To be freed, the texts not. */
static const char **units_of_channels(const struct ew_call *call) {
  const char **all = ew_call_options(call, "units");
  guint count = 0;
  for (guint i = 0; all[i]; i++)
    if (strchr(all[i], '='))
      all[count++] = all[i];
  all[count] = NULL;
  return all;
}

/* --weather takes one word. */
static gboolean asks_station(const struct ew_call *call, gboolean *station, GError **error) {
  const char *weather = ew_call_option(call, "weather");
  *station = weather != NULL;
  return !weather || strcmp(weather, "station") == 0 ||
         ew_refuse(error,
                   "--weather '%.40s': only 'station' is known; type other weather with --set "
                   "\"pressure=985 hPa\"",
                   weather);
}

static gboolean run_amend(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  struct ew_desk desk = {0};
  double seen;
  gboolean station;
  if (!book || !asks_station(call, &station, error))
    return FALSE;
  g_autoptr(GArray) pulls = ew_call_pulls(call, book, error);
  g_autofree const char **sets = ew_call_options(call, "set");
  g_autofree const char **units = units_of_channels(call);
  g_autofree const char **cell = ew_call_options(call, "cell");
  gboolean good = pulls && ew_call_quantity(call, "reading", EW_KIND_COUNT, 0, &seen, error) &&
                  ew_call_desk(call, book, &desk, error);
  if (good) {
    const struct ew_amend_ask ask = {.pulls = (const gint64 *)(const void *)pulls->data,
                                     .pulls_count = pulls->len,
                                     .sets = sets,
                                     .units = units,
                                     .cell_sets = cell,
                                     .changed = ew_call_option(call, "changed"),
                                     .purpose = ew_call_option(call, "purpose"),
                                     .at = ew_call_option(call, "at"),
                                     .engine = ew_call_option(call, "engine"),
                                     .map = ew_call_has(call, "map") ? desk.channel_map : NULL,
                                     .method = ew_call_option(call, "standard"),
                                     .station = station,
                                     .calibration = ew_call_option(call, "calibration"),
                                     .undo = ew_call_has(call, "undo"),
                                     .seen = (gint64)seen,
                                     .who = ew_call_option(call, "who"),
                                     .reason = ew_call_option(call, "reason"),
                                     .progress = ew_call_progress()};
    good = ew_call_amend(call, &desk, &ask, error);
  }
  ew_desk_clear(&desk);
  return good;
}
const struct ew_command ew_command_pull_amend = {
    .name = "pull amend",
    .summary = EW_TEXT("Put a wrong fact of a pull right; its curve is computed again from raw"),
    .takes = EW_TEXT("[PULL...]"),
    .least = 0,
    .most = -1,
    .options = amend_options,
    .run = run_amend,
    .examples =
        EW_TEXT("pull amend 32 --set \"pressure=985 hPa\" --reason \"forgot the barometer\"\n"
                "pull amend --since 12 --units torque=lb-ft --reason \"logger set to lb-ft\"\n"
                "pull amend 32 --undo --reason \"the barometer was right\""),
    .more = EW_TEXT("The former reading is kept ('pull history'). What holds for a whole recording "
                    "(units, map, engine, time)\nis amended for all pulls of it. Answers that used "
                    "the former reading are marked and can be asked again.")};

/* ---- history ---- */

static const struct ew_option_spec book_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE}, {NULL, NULL, NULL, FALSE}};

/* As the shop's clock showed it. */
static char *shown(struct ew_book *book, const char *instant) {
  GTimeZone *zone = ew_book_zone(book, NULL);
  return zone ? ew_zone_show(zone, instant) : g_strdup(instant);
}

static void say_amendment(struct ew_book *book, const struct ew_amendment_row *row,
                          enum ew_unit_system units) {
  g_autoptr(GPtrArray) changes = ew_amendment_changes(row);
  g_autoptr(GPtrArray) texts = ew_messages_texts(changes, units);
  struct ew_former_row former;
  g_autofree char *at = shown(book, row->at);
  ew_say("reading %lld, %s, %s: %s", (long long)row->reading, at, row->who, row->reason);
  for (guint i = 0; i < texts->len; i++)
    ew_say("    %s", (const char *)texts->pdata[i]);
  if (!ew_former_get(book, row->pull_id, row->reading - 1, &former, NULL))
    return;
  g_autofree char *mean = ew_quantity_format(EW_KIND_TORQUE, units, former.pull.band_mean_n_m, 1);
  ew_say("    reading %lld had a mean torque of %s", (long long)row->reading - 1, mean);
  ew_former_row_clear(&former);
}

static void say_hold(struct ew_book *book, const struct ew_hold_row *row,
                     enum ew_unit_system units) {
  g_autofree char *at = shown(book, row->at);
  g_autoptr(ew_message) finding = ew_message_read(row->finding, strlen(row->finding), NULL);
  g_autofree char *text = finding ? ew_message_text(finding, units) : g_strdup(row->finding);
  if (!row->answered_at)
    ew_say("held since %s: %s", at, text);
  else if (strcmp(row->answer, EW_HOLD_RIGHT) == 0)
    ew_say("held %s: %s; right as it is (%s): %s", at, text, row->who, row->reason);
  else
    ew_say("held %s: %s; amended (%s): %s", at, text, row->who, row->reason);
}

static gboolean say_history(const struct ew_call *call, struct ew_book *book,
                            const struct ew_pull_row *pull, GError **error) {
  GError *problem = NULL;
  g_autoptr(GArray) rows = ew_amendment_list(book, pull->id, &problem);
  g_autoptr(GArray) holds = problem ? NULL : ew_hold_list(book, pull->id, &problem);
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  ew_say("pull %lld: reading %lld", (long long)pull->id, (long long)pull->reading);
  for (guint i = 0; i < rows->len; i++)
    say_amendment(book, &g_array_index(rows, struct ew_amendment_row, i), call->units);
  for (guint i = 0; i < holds->len; i++)
    say_hold(book, &g_array_index(holds, struct ew_hold_row, i), call->units);
  return ew_call_say_curve_notes(book, pull->id, TRUE, error);
}

static gboolean write_history(struct ew_book *book, gint64 id, GError **error) {
  struct ew_json json = ew_answer_begin();
  gboolean good = ew_pull_history_json(book, id, EW_UNITS_SI, &json, error);
  if (good)
    ew_answer_end(&json);
  else
    g_string_free(json.text, TRUE);
  return good;
}

static gboolean run_history(const struct ew_call *call, GError **error) {
  gint64 id;
  struct ew_pull_row pull;
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  if (!book || !read_number(ew_call_argument(call, 0), &id, error) ||
      !ew_pull_get(book, id, &pull, error))
    return FALSE;
  gboolean good =
      call->json ? write_history(book, id, error) : say_history(call, book, &pull, error);
  ew_pull_row_clear(&pull);
  return good;
}
const struct ew_command ew_command_pull_history = {
    .name = "pull history",
    .summary = EW_TEXT("What was corrected on a pull, by whom and why, and what held it"),
    .takes = EW_TEXT("PULL"),
    .least = 1,
    .most = 1,
    .options = book_options,
    .run = run_history,
    .examples = "pull history 32\npull history 32 --json"};

/* ---- right as it is ---- */

static const struct ew_option_spec right_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"pulls", EW_TEXT("PULL"), EW_TEXT("several pulls"), TRUE},
    {"reason", EW_TEXT("TEXT"), EW_TEXT("why it is right; it is kept with the pull"), FALSE},
    {"who", EW_TEXT("NAME"), EW_TEXT("who says so (default: who is logged in)"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static gboolean run_right(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  g_autoptr(GArray) ids = book ? ew_call_pulls(call, book, error) : NULL;
  if (!ids)
    return FALSE;
  if (ids->len == 0)
    return ew_refuse_with(error, EW_REMEDY_LIST_PULLS, "which pull? Give its number");
  if (!ew_keep_right(book, (const gint64 *)(const void *)ids->data, ids->len,
                     ew_call_option(call, "who"), ew_call_option(call, "reason"), error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_open_array(&json, "pulls");
    for (guint i = 0; i < ids->len; i++)
      ew_json_integer(&json, NULL, g_array_index(ids, gint64, i));
    ew_json_close_array(&json);
    ew_answer_end(&json);
  } else
    for (guint i = 0; i < ids->len; i++)
      ew_say("pull %lld is right as it is and is used again",
             (long long)g_array_index(ids, gint64, i));
  return TRUE;
}
const struct ew_command ew_command_pull_right = {
    .name = "pull right",
    .summary = EW_TEXT("A held pull is right as it is: use it"),
    .takes = EW_TEXT("[PULL...]"),
    .least = 0,
    .most = -1,
    .options = right_options,
    .run = run_right,
    .examples = EW_TEXT("pull right 32 --reason \"it is a diesel: that torque is real\"")};
