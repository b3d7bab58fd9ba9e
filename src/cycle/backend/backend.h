/* The port of the cycle simulation: who advances a state.
 *
 * A backend takes up to EW_LANES runs of one shape (ew_cycle_plan_shape) side by side, each lane with a
 * plan, speed, step and angle of its own, and advances their state. All that is judged from cycle to cycle
 * (steady or not, spark, walls) is done by its caller between the steps, on the state, alike for every
 * backend: pack.h.
 *
 *   open -> load each lane -> step, step, ... (load again whenever a lane takes another run) -> close
 *
 * Contract, held by tests/contract/cycle for every entry of the table:
 *   - a lane's figures depend on its plan, speed and state alone: not on the lane, the other lanes, how
 *     steps are split over calls, or a state taken out and put into another lane or backend between them
 *   - they are those of the backend "base" within `tolerance`; 0 says bit for bit
 *   - a lane that is not running keeps every bit; so does one whose cycle has ended (angle 720)
 *   - mass and energy are conserved over a cycle to round-off (1e-12 of the air and of the work; where there is a tolerance, to a
 *     thousandth of it)
 *   - ew_cycle_state_check holds after every step of an engine that runs soundly
 * A new backend is one more entry in backends.c and passes the suite; nothing else changes. */
#pragma once
#include "cycle/state.h"

struct ew_cycle_work; /* a backend's own memory for the lanes of one pack */

struct ew_cycle_backend {
  const char *name;       /* as ENGINEWRIGHT_SIMD and answers have it */
  double tolerance;       /* relative, of every figure of a result against "base" */
  gboolean (*here)(void); /* can this machine do it? */
  struct ew_cycle_work *(*open)(const struct ew_cycle_backend *self,
                                const struct ew_cycle_laid *shape);
  /* The lane runs this from now on; `laid` is kept, and must outlive the lane's use of it. */
  void (*load)(struct ew_cycle_work *work, int lane, const struct ew_cycle_laid *laid,
               double speed_rpm);
  /* Advances each running lane by up to n steps, 1 or more, none beyond the end of its cycle. May come
   * back sooner, when a lane's cycle has ended. */
  void (*step)(struct ew_cycle_work *work, struct ew_cycle_state *state, int n);
  /* Adds the seconds spent in cells, in ends, in cylinders and the rest. */
  void (*effort)(const struct ew_cycle_work *work, double seconds[3]);
  void (*close)(struct ew_cycle_work *work);
  /* NULL unless the backend works best on many packs of one shape at once. open_many: work[packs], each as open gives it; their
   * number, which may be smaller. step_many: all of these, in order, as step. */
  int (*open_many)(const struct ew_cycle_backend *self, const struct ew_cycle_laid *shape,
                   int packs, struct ew_cycle_work **work);
  void (*step_many)(struct ew_cycle_work *const *work, struct ew_cycle_state *const *state,
                    int packs, int n);
};

/* All that are built, the plainest first and "base" among them; NULL ends it. */
extern const struct ew_cycle_backend *const ew_cycle_backends[];
/* NULL when there is none of that name, or it is not possible here. */
const struct ew_cycle_backend *ew_cycle_backend_named(const char *name);
/* The one that ENGINEWRIGHT_SIMD names, else the last of the processor's that is possible here: a device is used when it is named.
 * NULL with an error when that name is unknown or not possible. */
const struct ew_cycle_backend *ew_cycle_backend_choose(GError **error);

/* Whether a lane's cycle has ended: its caller judges it, and begins the next. */
static inline gboolean ew_cycle_ended(const struct ew_cycle_state *state, int lane) {
  return ew_state_run(state, EW_RUN_ANGLE_DEG)[lane] > 720 - 1e-9;
}
