/* Notes on the curve of a pull: pinned at a speed, listed, taken back. */
#include "cli/curve_note.h"
#include "base/error.h"
#include "book/keep.h"
#include "cli/command.h"
#include "desk/curve_note.h"

gboolean ew_call_say_curve_notes(struct ew_book *book, gint64 pull_id, gboolean all,
                                 GError **error) {
  g_autoptr(GArray) notes = ew_curve_note_list(book, pull_id, error);
  for (guint i = 0; notes && i < notes->len; i++) {
    const struct ew_curve_note *n = &g_array_index(notes, struct ew_curve_note, i);
    if (n->withdrawn && all)
      ew_say("note %lld at %.0f rpm (%s): %s; taken back: %s", (long long)n->id, n->speed_rpm,
             n->who, n->text, n->withdrawn);
    else if (!n->withdrawn)
      ew_say("note %lld at %.0f rpm (%s): %s", (long long)n->id, n->speed_rpm, n->who, n->text);
  }
  return notes != NULL;
}

static const struct ew_option_spec note_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"speed", "Q", EW_TEXT("where along the curve"), FALSE},
    {"text", EW_TEXT("TEXT"), EW_TEXT("what the note says"), FALSE},
    {"who", EW_TEXT("NAME"), EW_TEXT("who says so (default: who is logged in)"), FALSE},
    {"note", "N", EW_TEXT("with --take-back: which note ('pull note PULL' lists them)"), FALSE},
    {"take-back", EW_TEXT("WHY"), EW_TEXT("the note is wrong: it is kept, but shown no more"),
     FALSE},
    {NULL, NULL, NULL, FALSE}};

static gboolean read_id(const char *what, const char *text, gint64 *id, GError **error) {
  guint64 number;
  if (!text || !g_ascii_string_to_unsigned(text, 10, 1, G_MAXINT32, &number, NULL))
    return ew_refuse(error, "%s: '%.40s' is not a whole number above 0", what, text ? text : "");
  *id = (gint64)number;
  return TRUE;
}

static gboolean is_of_pull(struct ew_book *book, gint64 pull_id, gint64 note, GError **error) {
  g_autoptr(GArray) notes = ew_curve_note_list(book, pull_id, error);
  for (guint i = 0; notes && i < notes->len; i++)
    if (g_array_index(notes, struct ew_curve_note, i).id == note)
      return TRUE;
  return notes && ew_refuse(error, "--note %lld: the curve of pull %lld has no such note",
                            (long long)note, (long long)pull_id);
}

static gboolean take_back(const struct ew_call *call, struct ew_book *book, gint64 pull_id,
                          GError **error) {
  gint64 note = 0;
  if (ew_call_has(call, "speed") || ew_call_has(call, "text"))
    return ew_refuse(error, "give either --speed and --text, or --note and --take-back");
  return read_id("--note", ew_call_option(call, "note"), &note, error) &&
         is_of_pull(book, pull_id, note, error) &&
         ew_keep_curve_note_withdrawn(book, note, ew_call_option(call, "take-back"), error);
}

static gboolean pin(const struct ew_call *call, struct ew_book *book, gint64 pull_id,
                    GError **error) {
  gboolean added;
  if (ew_call_has(call, "note"))
    return ew_refuse(error, "--note is given with --take-back");
  if (!ew_write_curve_note(book, pull_id, ew_call_option(call, "speed"),
                           ew_call_option(call, "text"), ew_call_option(call, "who"), &added,
                           error))
    return FALSE;
  if (!added && !call->json)
    ew_say("that note was there already");
  return TRUE;
}

static gboolean answer(const struct ew_call *call, struct ew_book *book, gint64 pull_id,
                       GError **error) {
  if (!call->json)
    return ew_call_say_curve_notes(book, pull_id, TRUE, error);
  struct ew_json json = ew_answer_begin();
  ew_json_integer(&json, "id", pull_id);
  gboolean good = ew_curve_notes_json(book, pull_id, "notes", &json, error);
  if (good)
    ew_answer_end(&json);
  else
    g_string_free(json.text, TRUE);
  return good;
}

static gboolean run_note(const struct ew_call *call, GError **error) {
  gint64 id = 0;
  struct ew_pull_row pull;
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  if (!book || !read_id("PULL", ew_call_argument(call, 0), &id, error) ||
      !ew_pull_get(book, id, &pull, error))
    return FALSE;
  ew_pull_row_clear(&pull);
  gboolean good =
      ew_call_has(call, "take-back") ? take_back(call, book, id, error)
      : ew_call_has(call, "text") || ew_call_has(call, "speed") || ew_call_has(call, "note")
          ? pin(call, book, id, error)
          : TRUE; /* nothing to write: they are listed */
  return good && answer(call, book, id, error);
}
const struct ew_command ew_command_pull_note = {
    .name = "pull note",
    .summary = EW_TEXT("Pin a note on the curve of a pull, list the notes, take one back"),
    .takes = EW_TEXT("PULL"),
    .least = 1,
    .most = 1,
    .options = note_options,
    .run = run_note,
    .examples = EW_TEXT("pull note 12 --speed \"4250 rpm\" --text \"dip here: the airbox?\"\n"
                        "pull note 12\n"
                        "pull note 12 --note 1 --take-back \"it was the weather\""),
    .more = EW_TEXT("The page draws it at its speed, the report prints it. It judges nothing: "
                    "write down with 'pull seen'\nwhat was seen after a pull.")};
