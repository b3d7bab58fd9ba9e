/* The commands of recorders' profiles: new, list, show, amend, withdraw. */
#include "base/error.h"
#include "book/keep.h"
#include "book/recorder.h"
#include "cli/command.h"
#include "desk/recorder.h"
#include <string.h>

#define BOOK                                                                                       \
  { "book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE }

static const struct ew_option_spec new_options[] = {
    BOOK,
    {"like", EW_TEXT("FILE"), EW_TEXT("a recording of it: files with these columns are its"),
     FALSE},
    {"profile", EW_TEXT("FILE"), EW_TEXT("profile in YAML (default: as --like is understood)"),
     FALSE},
    {NULL, NULL, NULL, FALSE}};

static char *text_of(const char *path, GError **error) {
  g_autoptr(GBytes) bytes = ew_read_file(path, error);
  gsize size = bytes ? g_bytes_get_size(bytes) : 0;
  return bytes ? g_strndup(g_bytes_get_data(bytes, NULL), size) : NULL;
}

static char *fingerprint_of(GBytes *bytes, const char *name, GError **error) {
  gsize size;
  const void *data = g_bytes_get_data(bytes, &size);
  struct ew_table_layout *layout = ew_table_look(data, size, name, error);
  char *fingerprint = layout ? ew_fingerprint_of(layout) : NULL;
  ew_table_layout_free(layout);
  return fingerprint;
}

/* Read, checked and held against the file it is to be for; NULL: refused. */
static char *checked(struct ew_desk *desk, const char *profile_path, const char *like,
                     char **fingerprint, GError **error) {
  g_autoptr(GBytes) bytes = like ? ew_read_file(like, error) : NULL;
  if (like && (!bytes || !(*fingerprint = fingerprint_of(bytes, like, error))))
    return NULL;
  g_autofree char *yaml =
      profile_path ? text_of(profile_path, error) : ew_profile_propose(desk, bytes, like, error);
  struct ew_profile profile;
  if (!yaml || !ew_profile_read(yaml, &profile, error))
    return NULL;
  gboolean good = !bytes || ew_profile_fits(desk, &profile, bytes, like, error);
  ew_profile_clear(&profile);
  return good ? g_steal_pointer(&yaml) : NULL;
}

static void answer(const struct ew_call *call, struct ew_book *book, const char *name,
                   gint64 version, const char *yaml) {
  g_autoptr(ew_message) session = book ? ew_recorder_session(book) : NULL; /* NULL: only shown */
  if (!call->json) {
    g_autofree char *text = session ? ew_message_text(session, call->units) : NULL;
    ew_say("recorder '%s', version %lld", name, (long long)version);
    ew_say("%s", yaml);
    if (text)
      ew_say("caution: %s", text);
    return;
  }
  struct ew_json json = ew_answer_begin();
  ew_json_text(&json, "name", name);
  ew_json_integer(&json, "version", version);
  ew_json_text(&json, "profile", yaml);
  ew_message_write_member(session, "session", call->units, &json);
  ew_answer_end(&json);
}

static gboolean keep(const struct ew_call *call, gboolean amend, GError **error) {
  const char *name = ew_call_argument(call, 0), *like = ew_call_option(call, "like");
  const char *path = ew_call_option(call, "profile");
  g_autoptr(ew_book) book = ew_call_book(call, TRUE, TRUE, error);
  struct ew_recorder_row row = {0};
  gboolean there = FALSE;
  if (!book || !ew_recorder_get(book, name, 0, &row, &there, error))
    return FALSE;
  gint64 version = row.version;
  gboolean withdrawn = row.withdrawn != NULL;
  ew_recorder_row_clear(&row);
  if (amend && !there)
    return ew_refuse(error, "recorder '%s': no such recorder in this book", name);
  if (!amend && there && !withdrawn)
    return ew_refuse(error, "recorder '%s': already in this book; 'recorder amend' changes it",
                     name);
  if (!like && (!path || !amend))
    return ew_refuse(error, "--like is needed: a recording of this recorder, by whose columns its "
                            "files are known");
  struct ew_desk desk = {0};
  g_autofree char *fingerprint = NULL;
  g_autofree char *yaml =
      ew_desk_open(&desk, book, error) ? checked(&desk, path, like, &fingerprint, error) : NULL;
  ew_desk_clear(&desk);
  if (!yaml || !ew_keep_recorder(book, name, yaml, NULL, fingerprint, error))
    return FALSE;
  answer(call, book, name, version + 1, yaml);
  return TRUE;
}

static gboolean run_new(const struct ew_call *call, GError **error) {
  return keep(call, FALSE, error);
}
static gboolean run_amend(const struct ew_call *call, GError **error) {
  return keep(call, TRUE, error);
}
const struct ew_command ew_command_recorder_new = {
    .name = "recorder new",
    .summary = EW_TEXT("How one recorder's files are read, kept once and used ever after"),
    .takes = EW_TEXT("NAME"),
    .least = 1,
    .most = 1,
    .options = new_options,
    .run = run_new,
    .examples = "recorder new \"cell logger\" --like run-07.csv\n"
                "recorder new \"cell logger\" --like run-07.csv --profile logger.yaml",
    .more = EW_TEXT("Without --profile it is proposed from the file as the program understands it. "
                    "A profile is YAML: "
                    "channels: with\ncolumn, unit and lag of each (as in a channel map), ignore: "
                    "[...], and zone: where the recorder's "
                    "clock is not the\nshop's. Files whose columns are the same are read so from "
                    "then on; --map goes before it.")};
const struct ew_command ew_command_recorder_amend = {
    .name = "recorder amend",
    .summary = EW_TEXT("A further version of a recorder's profile; pulls read before keep theirs"),
    .takes = EW_TEXT("NAME"),
    .least = 1,
    .most = 1,
    .options = new_options,
    .run = run_amend,
    .examples = "recorder amend \"cell logger\" --profile logger.yaml"};

static void write_row(const void *of, struct ew_json *json) {
  const struct ew_recorder_row *row = of;
  ew_json_text(json, "name", row->name);
  ew_json_integer(json, "version", row->version);
  ew_json_text(json, "at", row->at);
  ew_json_text(json, "who", row->who);
  ew_json_text(json, "withdrawn", row->withdrawn);
}

static void say_row(const void *of) {
  const struct ew_recorder_row *row = of;
  if (row->withdrawn)
    ew_say("%s, version %lld, %.10s, withdrawn: %s", row->name, (long long)row->version, row->at,
           row->withdrawn);
  else
    ew_say("%s, version %lld, %.10s", row->name, (long long)row->version, row->at);
}

static const struct ew_option_spec book_options[] = {BOOK, {NULL, NULL, NULL, FALSE}};

static gboolean run_list(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  g_autoptr(GArray) rows = book ? ew_recorder_list(book, NULL, error) : NULL;
  if (!rows)
    return FALSE;
  ew_answer_rows(call, "recorders", rows, write_row, say_row);
  if (!call->json && rows->len == 0)
    ew_say("no recorders yet: 'enginewright recorder new NAME --like FILE' adds one");
  return TRUE;
}
const struct ew_command ew_command_recorder_list = {
    .name = "recorder list",
    .summary = EW_TEXT("The recorders of the book, each version"),
    .takes = "",
    .options = book_options,
    .run = run_list,
    .examples = "recorder list"};

static gboolean run_show(const struct ew_call *call, GError **error) {
  const char *name = ew_call_argument(call, 0);
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  struct ew_recorder_row row = {0};
  gboolean there = FALSE;
  if (!book || !ew_recorder_get(book, name, 0, &row, &there, error))
    return FALSE;
  if (!there)
    return ew_refuse(error, "recorder '%s': no such recorder in this book", name);
  answer(call, NULL, row.name, row.version, row.yaml);
  ew_recorder_row_clear(&row);
  return TRUE;
}
const struct ew_command ew_command_recorder_show = {.name = "recorder show",
                                                    .summary = EW_TEXT("A recorder's profile"),
                                                    .takes = EW_TEXT("NAME"),
                                                    .least = 1,
                                                    .most = 1,
                                                    .options = book_options,
                                                    .run = run_show,
                                                    .examples = "recorder show \"cell logger\""};

static const struct ew_option_spec withdraw_options[] = {
    BOOK,
    {"reason", EW_TEXT("TEXT"), EW_TEXT("why; it is kept with it"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static gboolean run_withdraw(const struct ew_call *call, GError **error) {
  const char *name = ew_call_argument(call, 0), *reason = ew_call_option(call, "reason");
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  if (!book || !ew_keep_recorder_withdrawn(book, name, reason ? reason : "", error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "name", name);
    ew_json_text(&json, "withdrawn", reason);
    ew_answer_end(&json);
  } else
    ew_say("recorder '%s' is withdrawn: its files are read as the program understands them", name);
  return TRUE;
}
const struct ew_command ew_command_recorder_withdraw = {
    .name = "recorder withdraw",
    .summary = EW_TEXT("Use a recorder's profile no longer; it is kept, with the reason"),
    .takes = EW_TEXT("NAME"),
    .least = 1,
    .most = 1,
    .options = withdraw_options,
    .run = run_withdraw,
    .examples = "recorder withdraw \"cell logger\" --reason \"sold\""};
