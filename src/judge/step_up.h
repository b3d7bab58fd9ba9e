/* Raising the rpm limit: what the last pull says before the next one. Never an order. */
#pragma once
#include "engine/engine.h"
#include "pull/curve.h"

enum ew_step_up_answer { EW_STEP_NOTHING_FOUND, EW_STEP_HOLD, EW_STEP_STOP };
extern const char *const ew_step_up_keys[];  /* "no objection", "hold", "stop and look" */
extern const char *const ew_step_up_words[]; /* the same for people: put them through ew_tr() */

/* How heavy a finding weighs beside others of the same answer. */
enum ew_step_up_weight {
  EW_STEP_MISSING, /* a channel that is not there */
  EW_STEP_FORMAL,  /* a limit that nobody stated, too few pulls */
  EW_STEP_MEASURED,
  EW_STEP_SIGN, /* knock, something seen, a trip: whatever the figures say */
};

struct ew_step_up_row {
  const char *what;  /* EW_TEXT: what was checked, as a key: "oil pressure" */
  ew_message *found; /* what was found */
  double
      margin; /* share of the allowance left: 1 all of it, 0 none, negative over; NaN not known */
  enum ew_step_up_answer answer;
  enum ew_step_up_weight weight;
};

struct ew_step_up {
  enum ew_step_up_answer answer;
  double limit_rpm, next_rpm, ceiling_rpm; /* next: proposed; NaN when at the ceiling */
  ew_message *ceiling_from;                /* NULL: no ceiling is known */
  ew_message *says; /* "no objection to 6,500 rpm", "hold: ..." with the gravest finding */
  GArray *rows;     /* struct ew_step_up_row, the gravest first */
};

struct ew_step_up_input {
  const struct ew_curve *curve;   /* the last pull at this limit */
  const struct ew_curve *before;  /* a sound pull at a lower or equal limit, or NULL */
  const struct ew_engine *engine; /* limits; may be NULL */
  const struct ew_bench *bench;   /* absorber's limit, channels that are not fitted; may be NULL */
  const struct ew_setup *setup;   /* what was seen, the remark; may be NULL */
  int valid_pulls_here;           /* valid pulls at this limit */
  double lambda_target;           /* NaN: the engine's */
  double next_rpm;                /* asked for; NaN: proposed */
  const char *discarded;          /* why this pull does not count; NULL: it does */
  const GPtrArray
      *open_trips;           /* messages: trips after which nobody wrote what was found; or NULL */
  const ew_message *tripped; /* what tripped in this pull; or NULL */
  const GPtrArray *higher; /* messages: what the last pull at a higher limit stopped for; or NULL */
};

struct ew_step_up *ew_step_up(const struct ew_step_up_input *input);
/* "hold: oil pressure falls ...": what one check found, with its answer before it. */
ew_message *ew_step_up_row_says(const struct ew_step_up_row *row);
void ew_step_up_free(struct ew_step_up *step);
void ew_step_up_write_json(const struct ew_step_up *step, struct ew_json *json);
