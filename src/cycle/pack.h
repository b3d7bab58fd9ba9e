/* Up to EW_LANES runs side by side in one field of pipes. Internal to src/cycle.
 *
 * A lane's life:   ew_pack_load -> running -(720 deg, steady or given up)-> finished -> ew_pack_take
 * A lane that is idle or finished keeps its last state and steps by zero.
 *
 * One step (numbers of docs/methods-cycle.md): 1 primitives and step size, at most one degree, the
 * cycle ends at exactly 720; 2 stages of cylinders and valve openings at the middle of the step;
 * 3 ghosts, slopes, fluxes; 4 ends and junctions; 5 pipes; 6 cylinders and volumes with what the
 * ends gave them. */
#pragma once
#include "cycle/kernel.h"
#include "cycle/plan.h"
#include "cycle/predict.h"

struct ew_pack;
struct ew_kept; /* the state of a run, to go on with on finer cells */

/* in_a_row: how many cycles must equal the one before. */
struct ew_pack *ew_pack_new(const struct ew_kernel *kernel, const struct ew_plan *lead,
                            const struct ew_cycle_options *options, int in_a_row);
void ew_pack_free(struct ew_pack *pack);
/* plan: same layout and cells as the lead. start: NULL for a cold start. */
void ew_pack_load(struct ew_pack *pack, int lane, const struct ew_plan *plan,
                  const struct ew_cycle_job *job, const struct ew_kept *start);
/* A finished lane's state; free with ew_kept_free. Before ew_pack_take. */
struct ew_kept *ew_pack_keep(const struct ew_pack *pack, int lane);
void ew_kept_free(struct ew_kept *kept);
/* Advance all running lanes by one step each. TRUE when at least one lane finished in it. */
gboolean ew_pack_step(struct ew_pack *pack);
gboolean ew_pack_finished(const struct ew_pack *pack, int lane);
/* The finished lane's result (trace included); the lane becomes idle. */
void ew_pack_take(struct ew_pack *pack, int lane, struct ew_cycle_result *result);
/* Let a loaded lane rest: it keeps its state and never finishes. */
void ew_pack_idle(struct ew_pack *pack, int lane);
/* Adds the seconds spent so far. */
void ew_pack_effort(const struct ew_pack *pack, struct ew_cycle_effort *effort);
int ew_pack_cells(const struct ew_pack *pack);
int ew_pack_ends(const struct ew_pack *pack);
