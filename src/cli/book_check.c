/* book check: all that looks wrong in a book by the rules of today, each with its mend. */
#include "desk/book_check.h"
#include "cli/command.h"

static const struct ew_option_spec options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"stored", NULL,
     EW_TEXT("only what is stored is looked at; without it each pull is computed again from raw"),
     FALSE},
    {NULL, NULL, NULL, FALSE}};

static void say_row(const struct ew_check_row *row, enum ew_unit_system units) {
  g_autofree char *text = ew_message_text(row->finding, units);
  if (row->pull)
    ew_say("pull %lld: %s", (long long)row->pull, text);
  else
    ew_say("%s", text);
  ew_say("    %s %s", ew_called_as(), row->mend);
}

static void answer(const struct ew_call *call, const GArray *rows) {
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_book_check_json(rows, "findings", EW_UNITS_SI, &json);
    ew_answer_end(&json);
    return;
  }
  for (guint i = 0; i < rows->len; i++)
    say_row(&g_array_index(rows, struct ew_check_row, i), call->units);
  if (rows->len == 0)
    ew_say("nothing in this book looks wrong");
}

static gboolean run(const struct ew_call *call, GError **error) {
  struct ew_desk desk = {0};
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  if (!book || !ew_desk_open(&desk, book, error)) {
    ew_desk_clear(&desk);
    return FALSE;
  }
  const struct ew_check_ask ask = {.raw = !ew_call_has(call, "stored"),
                                   .progress = ew_call_progress()};
  g_autoptr(GArray) rows = ew_book_check(&desk, &ask, error);
  ew_desk_clear(&desk);
  if (!rows)
    return FALSE;
  ew_call_end_progress();
  answer(call, rows);
  return rows->len == 0 ||
         ew_answer_no(error,
                      "look at each: amend what is wrong; a held pull that is right as it is: "
                      "'pull right'");
}
const struct ew_command ew_command_book_check = {
    .name = "book check",
    .summary =
        EW_TEXT("All that looks wrong in this book by the rules of today, each with what mends it"),
    .takes = "",
    .options = options,
    .run = run,
    .examples = "book check\nbook check --stored --json"};
