/* Up to EW_LANES runs side by side, judged from cycle to cycle. Internal to src/cycle.
 *
 * A lane's life:   ew_pack_load -> running -(720 deg, steady or given up)-> finished -> ew_pack_take
 * A lane that is idle or finished keeps its last state, bit for bit.
 *
 * A backend advances the state (backend/backend.h); a pack does what comes between cycles, alike for every
 * backend: the cycle is audited and reported, the spark sought, walls moved, the next cycle begun. */
#pragma once
#include "cycle/backend/backend.h"
#include "cycle/predict.h"

struct ew_pack;

/* For plans of this one's shape, on this grid of theirs. trace: log every step (and make one at a time). */
struct ew_pack *ew_pack_new(const struct ew_cycle_backend *backend,
                            const struct ew_cycle_plan *shape, enum ew_plan_grid grid,
                            gboolean trace);
/* pack[packs] that share a device; their number, which may be smaller. Of a backend with open_many. */
int ew_pack_new_many(const struct ew_cycle_backend *backend, const struct ew_cycle_plan *shape,
                     enum ew_plan_grid grid, int packs, struct ew_pack **pack);
void ew_pack_free(struct ew_pack *pack);
/* What a run begins from (ew_pack_keep): its own plan's run on the coarse grid, for the final one; or, with `of`, that of another plan laid
 * out so (ew_cycle_warm_at). */
struct ew_pack_start {
  const struct ew_cycle_state *state; /* NULL: still gas */
  const struct ew_cycle_laid *of;
};
/* The plan must outlive the run. */
void ew_pack_load(struct ew_pack *pack, int lane, const struct ew_cycle_plan *plan,
                  double speed_rpm, double spark_deg, const struct ew_pack_start *start);
/* A finished lane's state; ew_cycle_state_free. Before ew_pack_take. */
struct ew_cycle_state *ew_pack_keep(const struct ew_pack *pack, int lane);
/* Advance all running lanes by up to n steps each. TRUE when at least one lane finished. */
gboolean ew_pack_step(struct ew_pack *pack, int n);
/* Many packs that share a device (ew_pack_new_many): advanced together, then judged one by one; packs may be judged and loaded in
 * several threads at once, each by one. */
void ew_pack_step_many(struct ew_pack *const *pack, int packs, int n);
gboolean ew_pack_judge(struct ew_pack *pack);
gboolean ew_pack_finished(const struct ew_pack *pack, int lane);
/* The finished lane's result (trace included); the lane becomes idle. */
void ew_pack_take(struct ew_pack *pack, int lane, struct ew_cycle_result *result);
/* Let a loaded lane rest: it keeps its state and never finishes. */
void ew_pack_idle(struct ew_pack *pack, int lane);
/* Adds the seconds spent so far. */
void ew_pack_effort(const struct ew_pack *pack, struct ew_cycle_effort *effort);
int ew_pack_cells(const struct ew_pack *pack);
int ew_pack_ends(const struct ew_pack *pack);
