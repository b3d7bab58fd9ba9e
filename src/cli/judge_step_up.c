/* judge step-up: may the speed limit go up? */
#include "cli/question_call.h"
#include <math.h>

static const struct ew_option_spec step_options[] = {
    EW_DESK_OPTIONS,
    {"before", EW_TEXT("PULL|FILE"),
     EW_TEXT("a good pull at a lower limit, for the engine's own trend"), FALSE},
    {"next", "Q", EW_TEXT("the limit asked for (default: one is proposed)"), FALSE},
    {"no-keep", NULL, EW_TEXT("do not keep the answer in the book"), FALSE},
    {NULL, NULL, NULL, FALSE},
};

static void say_step(const struct ew_step_up *s, enum ew_unit_system units) {
  g_autofree char *says = ew_message_text(s->says, units);
  ew_say("%s\n", says);
  for (guint i = 0; i < s->rows->len; i++) {
    const struct ew_step_up_row *row = &g_array_index(s->rows, struct ew_step_up_row, i);
    g_autofree char *found = ew_message_text(row->found, units);
    ew_say("  %-13s  %-16s  %s", ew_tr(ew_step_up_words[row->answer]), ew_tr(row->what), found);
  }
  if (!isnan(s->ceiling_rpm)) {
    g_autofree char *from = ew_message_text(s->ceiling_from, units);
    ew_say("\nceiling %#.0f rpm: %s", s->ceiling_rpm, from);
  }
  ew_say("This is not an order. The limits of the engine's and the dyno's makers come first; look "
         "underneath before going on.");
}

static gboolean run_step(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = NULL;
  struct ew_desk desk = {0};
  struct ew_sides s = ew_sides_new();
  double next;
  gboolean good = ew_call_open_desk(call, &book, &desk, error) &&
                  ew_call_quantity(call, "next", EW_KIND_ROTATIONAL_SPEED, NAN, &next, error) &&
                  ew_desk_load(&desk, ew_call_argument(call, 0), s.a, error) &&
                  ew_call_load_list(call, "before", &desk, s.b, error);
  struct ew_step_up *step = NULL;
  if (good)
    step = ew_ask_step_up(&desk, g_ptr_array_index(s.a, s.a->len - 1),
                          s.b->len ? g_ptr_array_index(s.b, 0) : NULL, next,
                          ew_call_keeps(call, book), error);
  if (step && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_step_up_write_json(step, &json);
    ew_answer_end(&json);
  } else if (step)
    say_step(step, call->units);
  good = step != NULL;
  ew_step_up_free(step);
  ew_sides_free(&s);
  ew_desk_clear(&desk);
  return good;
}
const struct ew_command ew_command_judge_step_up = {
    .name = "judge step-up",
    .summary = EW_TEXT("May the speed limit go up? No objection, hold, or stop and look"),
    .takes = EW_TEXT("PULL|FILE"),
    .least = 1,
    .most = 1,
    .options = step_options,
    .run = run_step,
    .examples = "judge step-up 9\njudge step-up 9 --next \"6500 rpm\" --before 8"};
