/* book attach, attached, fetch, detach, note, notes: photos, files and notes of the work. */
#include "base/words.h"
#include "book/attachment.h"
#include "book/keep.h"
#include "book/note.h"
#include "cli/attach.h"
#include "cli/command.h"
#include "desk/attach.h"
#include <string.h>

static gboolean read_id(const struct ew_call *call, gint64 *id, GError **error) {
  guint64 number;
  const char *text = ew_call_argument(call, 0);
  if (!g_ascii_string_to_unsigned(text, 10, 1, G_MAXINT32, &number, NULL))
    return ew_refuse_with(error, EW_REMEDY_LIST_ATTACHED, "'%.40s' is not an attachment number",
                          text);
  *id = (gint64)number;
  return TRUE;
}

/* `says` is a text of the catalogue with one place for the number. */
static gboolean answer_id(const struct ew_call *call, const char *says, gint64 id) {
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "id", id);
    ew_answer_end(&json);
  } else
    ew_say(says, (long long)id);
  return TRUE;
}

static gboolean run_attach(const struct ew_call *call, GError **error) {
  const char *path = ew_call_argument(call, 0), *to = ew_call_option(call, "to");
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  g_autoptr(GBytes) bytes = book ? ew_read_file(path, error) : NULL;
  g_autofree char *name = g_path_get_basename(path);
  struct ew_owner owner;
  if (!bytes ||
      !ew_desk_owner(book, to ? to : "day", ew_call_option(call, "engine"), &owner, error))
    return FALSE;
  gint64 id =
      ew_keep_attachment(book, &owner, name, bytes, ew_call_option(call, "note"), NULL, error);
  ew_desk_owner_clear(&owner);
  return id && answer_id(call, EW_TEXT("attachment %lld"), id);
}
static const struct ew_option_spec attach_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"to", EW_TEXT("WHOM"),
     EW_TEXT("engine, build, build:ITEM, pull:12, day or day:2026-11-25 (day)"), FALSE},
    {"engine", EW_TEXT("NAME"), EW_TEXT("which engine or build (default: the one in the cell)"),
     FALSE},
    {"note", EW_TEXT("TEXT"), EW_TEXT("what it shows"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_book_attach = {
    .name = "book attach",
    .summary = EW_TEXT("Attach a photo or file to a pull, a day, a build or an engine"),
    .takes = EW_TEXT("FILE"),
    .least = 1,
    .most = 1,
    .options = attach_options,
    .run = run_attach,
    .more = EW_TEXT("Any file of up to 64 MB is kept as it is, with its SHA-256. Nothing in it is "
                    "ever run: only intact JPEG, PNG and WebP files are shown as pictures; "
                    "everything else is handed out as a file."),
    .examples = EW_TEXT("book attach plug-4.jpg --to pull:12 --note \"plug of cylinder 4\"")};

static char *taken_back(const char *why) {
  return why ? ew_words("  taken back: %s", why) : g_strdup("");
}

static void say_row(const void *row) {
  const struct ew_attachment_row *r = row;
  g_autofree char *whom = *r->place
                              ? g_strdup_printf("%s %s", r->belongs, r->place)
                              : g_strdup_printf("%s %" G_GINT64_FORMAT, r->belongs, r->owner_id);
  g_autofree char *back = taken_back(r->withdrawn);
  ew_say("%4lld  %-24s %-24s %8.0f kB  %s%s", (long long)r->id, whom, r->name,
         (double)r->bytes / 1024, r->note ? r->note : "", back);
}

static gboolean run_attached(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  const char *of = ew_call_option(call, "of");
  struct ew_owner owner = {0};
  if (!book || (of && !ew_desk_owner(book, of, ew_call_option(call, "engine"), &owner, error)))
    return FALSE;
  g_autoptr(GError) problem = NULL;
  g_autoptr(GArray) rows =
      ew_attachment_list(book, of ? &owner : NULL, ew_call_has(call, "all"), &problem);
  if (of)
    ew_desk_owner_clear(&owner);
  if (problem) {
    g_propagate_error(error, g_steal_pointer(&problem));
    return FALSE;
  }
  ew_answer_rows(call, "attachments", rows, ew_attachment_row_json, say_row);
  if (!call->json && rows->len == 0)
    ew_say("nothing is attached; 'enginewright book attach FILE' attaches a file");
  return TRUE;
}
static const struct ew_option_spec attached_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"of", EW_TEXT("WHOM"), EW_TEXT("as --to of 'book attach' (default: all)"), FALSE},
    {"engine", EW_TEXT("NAME"), EW_TEXT("which engine or build (default: the one in the cell)"),
     FALSE},
    {"all", NULL, EW_TEXT("include those taken back"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_book_attached = {
    .name = "book attached",
    .summary = EW_TEXT("Photos and files in the book, and whom they belong to"),
    .takes = "",
    .options = attached_options,
    .run = run_attached,
    .examples = "book attached\nbook attached --of day --all"};

static gboolean run_detach(const struct ew_call *call, GError **error) {
  gint64 id = 0;
  const char *why = ew_call_option(call, "reason");
  gboolean back = ew_call_has(call, "put-back");
  if (!read_id(call, &id, error))
    return FALSE;
  if (back == (why && *why))
    return ew_refuse(error, "give either --reason with a reason, or --put-back");
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  return book && ew_keep_attachment_withdrawn(book, id, back ? NULL : why, error) &&
         answer_id(call,
                   back ? EW_TEXT("put back: attachment %lld")
                        : EW_TEXT("taken back, and kept: attachment %lld"),
                   id);
}
static const struct ew_option_spec detach_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"reason", EW_TEXT("TEXT"), EW_TEXT("the reason; it is kept with the attachment"), FALSE},
    {"put-back", NULL, EW_TEXT("put it back"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_book_detach = {
    .name = "book detach",
    .summary = EW_TEXT("Take an attachment back: its data stays in the book, with the reason"),
    .takes = EW_TEXT("ID"),
    .least = 1,
    .most = 1,
    .options = detach_options,
    .run = run_detach,
    .examples =
        EW_TEXT("book detach 1 --reason \"another engine's plug\"\nbook detach 1 --put-back")};

static gboolean run_note(const struct ew_call *call, GError **error) {
  g_autofree char *now = ew_time_now();
  const char *at = ew_call_option(call, "at");
  gboolean added;
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  if (!book)
    return FALSE;
  gint64 id = ew_keep_note(book, at ? at : now, ew_call_argument(call, 0), &added, error);
  return id && answer_id(call, EW_TEXT("note %lld"), id);
}
static const struct ew_option_spec note_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"at", EW_TEXT("TIME"), EW_TEXT("when, in UTC: 2026-11-25T14:05:00Z (now)"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_book_note = {
    .name = "book note",
    .summary = EW_TEXT("A note of the test day, with its time"),
    .takes = EW_TEXT("TEXT"),
    .least = 1,
    .most = 1,
    .options = note_options,
    .run = run_note,
    .examples = EW_TEXT("book note \"a drip at the rear main seal, wiped, gone\"")};

static void write_note(const void *row, struct ew_json *json) {
  const struct ew_note_row *r = row;
  ew_json_integer(json, "id", r->id);
  ew_json_text(json, "day", r->day);
  ew_json_text(json, "at", r->at);
  ew_json_text(json, "who", r->who);
  ew_json_text(json, "text", r->text);
  ew_json_text(json, "taken_back", r->withdrawn);
}

static void say_note(const void *row) {
  const struct ew_note_row *r = row;
  g_autofree char *back = taken_back(r->withdrawn);
  ew_say("%4lld  %.16s  %-10s %s%s", (long long)r->id, r->at, r->who, r->text, back);
}

static gboolean run_notes(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  g_autoptr(GError) problem = NULL;
  g_autoptr(GArray) rows = book ? ew_note_list(book, ew_call_option(call, "day"), &problem) : NULL;
  if (problem)
    g_propagate_error(error, g_steal_pointer(&problem));
  if (!rows || (error && *error))
    return FALSE;
  ew_answer_rows(call, "notes", rows, write_note, say_note);
  return TRUE;
}
static const struct ew_option_spec notes_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"day", EW_TEXT("DATE"), EW_TEXT("2026-11-25 (default: all)"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_book_notes = {.name = "book notes",
                                                 .summary =
                                                     EW_TEXT("Notes of one test day, or of all"),
                                                 .takes = "",
                                                 .options = notes_options,
                                                 .run = run_notes,
                                                 .examples = EW_TEXT("book notes")};

/* ---- export ---- */

static gboolean write_file(const char *folder, const char *file, const void *data, gsize size,
                           GError **error) {
  g_autofree char *path = g_build_filename(folder, file, NULL);
  g_autoptr(GError) problem = NULL;
  return g_file_set_contents(path, data, (gssize)size, &problem) ||
         ew_fail(error, "%s", problem->message);
}

static gboolean write_json(const char *folder, const char *file, struct ew_json *json,
                           GError **error) {
  ew_json_close(json);
  gboolean good = write_file(folder, file, json->text->str, json->text->len, error);
  g_string_free(json->text, TRUE);
  return good;
}

gboolean ew_export_attachments(struct ew_book *book, const char *folder, guint *count,
                               struct ew_steps *steps, GError **error) {
  g_autoptr(GError) problem = NULL;
  g_autoptr(GArray) rows = ew_attachment_list(book, NULL, TRUE, &problem);
  struct ew_json json = ew_answer_begin();
  for (guint i = 0; i < rows->len && !problem; i++) {
    const struct ew_attachment_row *r = &g_array_index(rows, struct ew_attachment_row, i);
    g_autoptr(GBytes) bytes = ew_attachment_bytes(book, r->id, &problem);
    g_autofree char *plain = g_path_get_basename(r->name),
                    *file = g_strdup_printf("attachment-%05" G_GINT64_FORMAT "-%s", r->id, plain);
    gsize size = 0;
    const void *data = bytes ? g_bytes_get_data(bytes, &size) : NULL;
    if (bytes)
      write_file(folder, file, data, size, &problem);
    ew_step(steps);
  }
  ew_json_rows(&json, "attachments", rows, ew_attachment_row_json);
  *count = rows->len;
  if (!problem)
    return write_json(folder, "attachments.json", &json, error);
  g_string_free(json.text, TRUE);
  g_propagate_error(error, g_steal_pointer(&problem));
  return FALSE;
}

gboolean ew_export_notes(struct ew_book *book, const char *folder, GError **error) {
  g_autoptr(GError) problem = NULL;
  g_autoptr(GArray) rows = ew_note_list(book, NULL, &problem);
  struct ew_json json = ew_answer_begin();
  ew_json_rows(&json, "notes", rows, write_note);
  if (!problem)
    return write_json(folder, "notes.json", &json, error);
  g_string_free(json.text, TRUE);
  g_propagate_error(error, g_steal_pointer(&problem));
  return FALSE;
}
