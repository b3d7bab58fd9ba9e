/* judge again: what was answered on facts that were amended since, asked again in one go. */
#include "cli/command.h"
#include "desk/again.h"

static const struct ew_option_spec options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"list", NULL, EW_TEXT("only list them"), FALSE},
    {NULL, NULL, NULL, FALSE}};

/* One of them; `says` NULL: why not. */
static void answer_one(const struct ew_call *call, const struct ew_verdict_row *row,
                       const ew_message *says, const char *why, struct ew_json *json) {
  if (!call->json) {
    g_autofree char *before = ew_answer_line(row, call->units);
    g_autofree char *now = says ? ew_message_text(says, call->units) : NULL;
    ew_say("%s", before);
    if (now)
      ew_say("  now: %s", now);
    else if (why)
      ew_say("  it can't be asked again: %s", why);
    return;
  }
  g_autoptr(ew_message) before = ew_answer_message(row);
  ew_json_open(json, NULL);
  ew_json_integer(json, "id", row->id);
  ew_message_write_member(before, "before", EW_UNITS_SI, json);
  ew_message_write_member(says, "now", EW_UNITS_SI, json);
  ew_json_text(json, "refused", why);
  ew_json_close(json);
}

static guint ask_all(const struct ew_call *call, const struct ew_desk *desk, const GArray *rows,
                     struct ew_json *json) {
  gboolean only_list = ew_call_has(call, "list");
  guint refused = 0;
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_verdict_row *row = &g_array_index(rows, struct ew_verdict_row, i);
    g_autoptr(ew_message) says = NULL;
    g_autoptr(GError) problem = NULL;
    if (!only_list)
      refused += !ew_ask_again(desk, row, &says, &problem);
    answer_one(call, row, says, problem ? problem->message : NULL, json);
  }
  return refused;
}

static gboolean run(const struct ew_call *call, GError **error) {
  struct ew_desk desk = {0};
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  if (!book || !ew_call_desk(call, book, &desk, error))
    return FALSE;
  g_autoptr(GArray) rows = ew_answers_to_ask(book, 0, error);
  struct ew_json json = {0};
  guint refused = 0;
  if (rows && call->json) {
    json = ew_answer_begin();
    ew_json_open_array(&json, "answers");
  }
  if (rows)
    refused = ask_all(call, &desk, rows, &json);
  if (rows && call->json) {
    ew_json_close_array(&json);
    ew_answer_end(&json);
  } else if (rows && rows->len == 0)
    ew_say("no answer is on an earlier reading");
  ew_desk_clear(&desk);
  return rows && (refused == 0 ||
                  ew_refuse(error, "%u of %u could not be asked again", refused, rows->len));
}
const struct ew_command ew_command_judge_again = {
    .name = "judge again",
    .summary = EW_TEXT("Ask again whatever was answered before a pull of it was amended"),
    .takes = "",
    .options = options,
    .run = run,
    .examples = "judge again --list\njudge again"};
