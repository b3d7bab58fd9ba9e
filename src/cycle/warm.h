/* Where the runs of one engine left off, so that those of nearly the same engine begin there and not from still gas: an engine that
 * follows a slider is some hundredths away from the one before, and two or three cycles are left of nine.
 *
 *   EMPTY --a question's runs are steady--> HOLDS its states --the next one's are--> HOLDS those
 *                                           HOLDS --one of the next is not steady, and all run again from still gas--> HOLDS those
 *
 * A run that begins here answers within its tolerance what it would answer from still gas, and not bit for bit: which bits depends on what
 * was asked before. So it is for a first look; nothing that is kept, compared or counted is made of it. The same questions in the same order give
 * the same bits. One thread at a time. Holds a copy of the plan and a state of some 100 kB a speed. */
#pragma once
#include "cycle/state.h"

struct ew_cycle_warm; /* opaque */

struct ew_cycle_warm *ew_cycle_warm_new(void);
void ew_cycle_warm_free(struct ew_cycle_warm *warm);
/* What a run of this plan at this speed begins from, on *laid: of the same parts joined in the same way, with the same gas, at the
 * nearest speed within a fifth. NULL: from still gas. Both belong to `warm`. */
const struct ew_cycle_state *ew_cycle_warm_at(const struct ew_cycle_warm *warm,
                                              const struct ew_cycle_plan *plan, double speed_rpm,
                                              const struct ew_cycle_laid **laid);
/* In place of what it holds: states[n], which it takes (NULL: none of that speed), of steady runs of this plan's final grid. */
void ew_cycle_warm_take(struct ew_cycle_warm *warm, const struct ew_cycle_plan *plan,
                        const double *speed_rpm, struct ew_cycle_state **states, int n);
