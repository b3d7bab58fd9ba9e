/* What every backend of the cycle simulation has to do: one check a sentence of cycle/backend/backend.h.
 *
 * A check takes any backend, also one that is not in the table, and answers NULL or what went wrong. To
 * hold a new backend to it, add the backend to the table; to see that a check can fail, broken.c. */
#pragma once
#include "../../reference/cycle/engines.h"
#include "cycle/backend/backend.h"

struct world { /* an engine, planned twice: as it is, and with other numbers in the same shape */
  const char *says;
  struct engine engine;
  struct ew_cycle_plan *plan[2];
  struct ew_cycle_laid *laid[2];
};

#define WORLDS 4
void world_make(struct world *world, int which);
void world_clear(struct world *world);

/* A backend's work with a state; all lanes loaded with plan 0, and at rest. */
struct bench {
  const struct ew_cycle_backend *backend;
  struct ew_cycle_work *work;
  struct ew_cycle_state *state;
};
struct bench bench_open(const struct ew_cycle_backend *backend, const struct world *world);
void bench_close(struct bench *bench);
/* A run from cold in a lane, running. */
void bench_begin(struct bench *bench, int lane, const struct ew_cycle_laid *laid, double speed_rpm);

struct check {
  const char *says;
  const char *(*holds)(const struct ew_cycle_backend *backend, const struct world *world);
};
extern const struct check contract[];
extern const int contract_checks;
