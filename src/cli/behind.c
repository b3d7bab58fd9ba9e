/* `judge explain`: what lies behind a kept answer (desk/behind.h). */
#include "base/error.h"
#include "cli/command.h"
#include "desk/behind.h"
#include "desk/question.h"

static const struct ew_option_spec options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {NULL, NULL, NULL, FALSE},
};

/* The one of this number, or the last. */
static const struct ew_verdict_row *find(const struct ew_call *call, const GArray *rows,
                                         GError **error) {
  if (rows->len == 0) {
    ew_refuse(error, "this book holds no answer yet: ask compare, judge sweep or judge step-up");
    return NULL;
  }
  const struct ew_verdict_row *last = &g_array_index(rows, struct ew_verdict_row, rows->len - 1);
  if (call->arguments->len == 0)
    return last;
  const char *text = ew_call_argument(call, 0);
  gint64 number = 0;
  if (!g_ascii_string_to_signed(text, 10, 1, G_MAXINT64, &number, NULL)) {
    ew_refuse(error, "'%.40s' is not the number of an answer, such as %" G_GINT64_FORMAT, text,
              last->id);
    return NULL;
  }
  for (guint i = 0; i < rows->len; i++)
    if (g_array_index(rows, struct ew_verdict_row, i).id == number)
      return &g_array_index(rows, struct ew_verdict_row, i);
  ew_refuse(error, "no answer %" G_GINT64_FORMAT " is kept; the last is %" G_GINT64_FORMAT, number,
            last->id);
  return NULL;
}

static void say_list(const GPtrArray *messages, enum ew_unit_system units) {
  for (guint i = 0; i < messages->len; i++) {
    g_autofree char *text = ew_message_text(messages->pdata[i], units);
    ew_say("  %s", text);
  }
}

static void say_behind(const struct ew_verdict_row *row, const struct ew_behind *b,
                       enum ew_unit_system units) {
  g_autofree char *line = ew_answer_line(row, units);
  g_autoptr(GPtrArray) texts = ew_behind_texts(b, units);
  ew_say("%" G_GINT64_FORMAT ": %s", row->id, line);
  for (guint i = 0; i < texts->len; i++)
    ew_say("  %s", (const char *)texts->pdata[i]);
  if (texts->len == 0 && !b->next)
    ew_say("  nothing more is kept of it");
  if (b->next) {
    g_autofree char *next = ew_message_text(b->next, units);
    ew_say("next, as it was then: %s", next);
    say_list(b->next_why, units);
  }
}

static gboolean run(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, FALSE, error);
  GError *problem = NULL;
  g_autoptr(GArray) rows = book ? ew_verdict_list(book, 0, &problem) : NULL;
  if (problem)
    g_propagate_error(error, problem);
  const struct ew_verdict_row *row = rows && !problem ? find(call, rows, error) : NULL;
  if (!row)
    return FALSE;
  g_autoptr(ew_behind) behind = ew_behind_read(row);
  if (!call->json) {
    say_behind(row, behind, call->units);
    return TRUE;
  }
  g_autoptr(ew_message) says = ew_answer_message(row);
  struct ew_json json = ew_answer_begin();
  ew_json_integer(&json, "id", row->id);
  ew_json_text(&json, "at", row->at);
  ew_json_text(&json, "question", row->question);
  ew_message_write_member(says, "says", EW_UNITS_SI, &json);
  ew_json_boolean(&json, "on_an_earlier_reading", row->earlier);
  ew_behind_write_json(behind, EW_UNITS_SI, &json);
  ew_answer_end(&json);
  return TRUE;
}

const struct ew_command ew_command_judge_explain = {
    .name = "judge explain",
    .summary = EW_TEXT("What lies behind a kept answer: weights of the pulls, conditions, what was "
                       "assumed"),
    .takes = EW_TEXT("[ANSWER]"),
    .most = 1,
    .options = options,
    .run = run,
    .examples = "judge explain\njudge explain 4",
    .more = EW_TEXT("Without a number the last answer. It tells what was known when the answer was "
                    "given; nothing is asked again.")};
