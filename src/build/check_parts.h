/* What the parts of a check of a build share. Private to src/build/check*.c. */
#pragma once
#include "build/check.h"

struct ew_build_checking {
  const struct ew_build *build;
  const struct ew_engine *engine;
  GArray *lines;       /* of struct ew_build_line */
  GPtrArray *findings; /* of ew_message *, as found */
};

/* Takes the message; `about`: a key ("main 3", "load"). */
static inline void ew_build_find(struct ew_build_checking *c, const char *about,
                                 ew_message *message) {
  g_assert(about && message);
  ew_messages_add(c->findings, ew_message_about(message, about));
}

/* check_gates.c */
void ew_build_check_steps(struct ew_build_checking *c, const struct ew_build_result *result);
void ew_build_check_agreed(struct ew_build_checking *c, const struct ew_build_result *result);
