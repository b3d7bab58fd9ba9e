/* What a build record says that somebody should look at before the engine runs, or is handed over. */
#pragma once
#include "build/measure.h"
#include "engine/check.h"

/* What the engine did on the dyno; NaN and 0 where nothing is known. */
struct ew_build_result {
  double power_w, power_speed_rpm, torque_n_m, highest_rpm;
  int pulls;
  gboolean invented; /* they are of the practice cell, and prove nothing of this engine */
};

/* What was found (ew_message*), gravest first; each about "main clearance 4", "lash 5 exhaust". `result` may be NULL. */
GPtrArray *ew_build_check(const struct ew_build *build, const struct ew_engine *engine,
                          const struct ew_build_result *result);
/* Steps that must be done before `gate` (and before the gates ahead of it) and are not, or have
 * failed (ew_message*, about their checklist); empty when the way is free. A build without any such step has one
 * message that says so. */
GPtrArray *ew_build_open_steps(const struct ew_build *build, enum ew_build_gate gate);
/* State of a step: 0 done, 1 does not apply, 2 failed, -1 open. The last tick counts; `tick`, when not NULL,
 * gets it (NULL for an open step). */
int ew_build_step_state(const struct ew_build *build, const struct ew_build_step *step,
                        const struct ew_build_tick **tick);
/* EW_TEXT("open"), or the word of ew_build_state_names. */
const char *ew_build_step_state_word(int state);
/* The target as agreed last: each figure from the last record that gives it. */
struct ew_build_agreed ew_build_agreed_now(const struct ew_build *build);
