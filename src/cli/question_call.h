/* What the commands that ask a question of pulls share (compare, judge next, judge sweep, judge step-up): the pulls and files that the
 * command line names, and by what role. */
#pragma once
#include "cli/command.h"
#include "desk/question.h"

#define EW_DESPITE_OPTION                                                                          \
  {                                                                                                \
    "despite", EW_TEXT("FACTS"),                                                                   \
        EW_TEXT("ask on purpose although they differ in these: engine, cell, set-up, start"),      \
        FALSE                                                                                      \
  }

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
