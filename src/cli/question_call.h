/* What the commands that ask a question of pulls share (compare, judge next, judge sweep, judge step-up): the pulls and files that the
 * command line names, and by what role. */
#pragma once
#include "cli/command.h"
#include "desk/question.h"
#include "judge/speed_use.h"

#define EW_DESPITE_OPTION                                                                          \
  {                                                                                                \
    "despite", EW_TEXT("FACTS"),                                                                   \
        EW_TEXT("ask on purpose although they differ in these: engine, cell, set-up, start"),      \
        FALSE                                                                                      \
  }

/* --car: what side A spends at each speed in it, into `use`, and that into the options. Without --car nothing. */
gboolean ew_call_use_of_speeds(const struct ew_call *call, const struct ew_desk *desk,
                               const GPtrArray *a, struct ew_speed_use *use,
                               struct ew_question_options *options, GError **error);
/* The answer to a comparison, as text or JSON. */
void ew_call_answer_comparison(const struct ew_call *call, const struct ew_comparison *c);

/* struct ew_loaded of each role; what a command does not ask for stays empty. */
struct ew_sides {
  GPtrArray *a, *b, *history, *pulls;
  GArray *groups; /* int, of each in `history`: which of them are alike */
};
struct ew_sides ew_sides_new(void);
void ew_sides_free(struct ew_sides *sides);

/* All that an option which may be repeated names. */
gboolean ew_call_load_list(const struct ew_call *call, const char *option, struct ew_desk *desk,
                           GPtrArray *into, GError **error);
/* --history GROUP=FILE: as many numbers in `groups` as pulls in `into`. */
gboolean ew_call_load_history(const struct ew_call *call, struct ew_desk *desk, GPtrArray *into,
                              GArray *groups, GError **error);
