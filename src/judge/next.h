/* What to run next, and what it is expected to settle: read from a comparison and from what ran.
 *
 *   look       something speaks against B, or an alarm is open: no pull before somebody looked
 *   mend       the pulls are not comparable: nothing that is run will make these so
 *   repeat     a pull fits none of the others (three standard deviations): its set-up again, before anything is believed
 *   return     a gain, but A has not run since the first B: A again, before it is told to anybody
 *   run        undecided: an order, and its cost
 *   leave      undecided, and more pulls than are worth it
 *   none       settled
 *
 * After a rest or a stop the order begins with A, and with a pull that is not counted: never a free choice. */
#pragma once
#include "judge/compare.h"

#define EW_NEXTS(X)                                                                                \
  X(LOOK, "look")                                                                                  \
  X(MEND, "mend")                                                                                  \
  X(REPEAT, "repeat")                                                                              \
  X(RETURN, "return")                                                                              \
  X(RUN, "run")                                                                                    \
  X(LEAVE, "leave")                                                                                \
  X(NONE, "none")
enum ew_next_what {
#define X(id, key) EW_NEXT_##id,
  EW_NEXTS(X)
#undef X
      EW_NEXTS_COUNT
};
extern const char *const ew_next_keys[EW_NEXTS_COUNT];

struct ew_next {
  enum ew_next_what what;
  char *order;                          /* "B A B A", at most eight; NULL: nothing to run */
  gint64 repeats;                       /* the pull that fits nothing; 0 */
  int pulls;                            /* in all */
  double minutes, litres, seconds_high; /* NaN: not known */
  double chance;    /* that they settle it; NaN: not known, or nothing is to be settled */
  ew_message *says; /* never NULL */
  GPtrArray *why;   /* messages */
};

/* `rested`: the engine was stopped or rested long since the last pull. The comparison's `day` may be NULL. */
struct ew_next *ew_next(const struct ew_comparison *comparison, gboolean rested);
void ew_next_free(struct ew_next *next);
/* Minutes, litres and time near the limit, as messages into `why`; NaN or 0: not known, and not told. */
void ew_next_say_cost(double minutes, double litres, double seconds_high, GPtrArray *why);
void ew_next_write_json(const struct ew_next *next, struct ew_json *json);
