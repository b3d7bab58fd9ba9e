/* Where a test day stands, and the next sensible step with its reason.
 *
 * The order of the work: heat, up in steps, mixture made safe, spark, mixture again, like pulls for
 * the result (common practice, no source). A step is a proposal and never an order; what the step-up
 * says against going on always comes first. */
#pragma once
#include "desk/question.h"

#define EW_STAGE_STATES(X)                                                                         \
  X(DONE, "done")                                                                                  \
  X(DUE, "due")                                                                                    \
  X(LATER, "later")                                                                                \
  X(BLOCKED, "blocked")

enum ew_stage_state {
#define X(id, word) EW_STAGE_##id,
  EW_STAGE_STATES(X)
#undef X
      EW_STAGE_STATES_COUNT
};
extern const char *const ew_stage_words[]; /* NULL-terminated */

#define EW_STAGES 6

struct ew_stage {
  const char *name; /* EW_TEXT, static */
  enum ew_stage_state state;
  ew_message *says;
};

struct ew_standing {
  char *day; /* of the last pull; NULL without one */
  struct ew_stage stages[EW_STAGES];
  ew_message *next, *why;
  GPtrArray *mind;         /* messages: cautions */
  gint64 last_pull;        /* 0: none */
  struct ew_step_up *step; /* after the last pull; NULL without one */
};

/* Of one engine, or of all (0). */
struct ew_standing *ew_desk_standing(const struct ew_desk *desk, gint64 engine_id, GError **error);
void ew_standing_free(struct ew_standing *standing);
