/* States by speed with the plan that they are of, copied: the plans of a question go when it is answered. See warm.h. */
#include "cycle/warm.h"
#include <math.h>
#include <string.h>

#define NEAR 0.2 /* of the speed */

struct ew_cycle_warm {
  struct ew_cycle_plan *plan; /* NULL: empty */
  struct ew_cycle_laid *laid;
  double *speed_rpm;
  struct ew_cycle_state **state;
  int n;
};

struct ew_cycle_warm *ew_cycle_warm_new(void) {
  return g_new0(struct ew_cycle_warm, 1);
}

static void cycle_warm_clear(struct ew_cycle_warm *w) {
  for (int i = 0; i < w->n; i++)
    ew_cycle_state_free(w->state[i]);
  g_free(w->state);
  g_free(w->speed_rpm);
  if (w->laid)
    ew_cycle_laid_release(w->laid);
  ew_cycle_plan_free(w->plan);
  *w = (struct ew_cycle_warm){0};
}

void ew_cycle_warm_free(struct ew_cycle_warm *w) {
  if (!w)
    return;
  cycle_warm_clear(w);
  g_free(w);
}

static gboolean same_ends(const struct ew_plan_pipe *a, const struct ew_plan_pipe *b) {
  for (int side = 0; side < 2; side++)
    if (a->end[side].kind != b->end[side].kind || a->end[side].index != b->end[side].index)
      return FALSE;
  return a->exhaust == b->exhaust;
}

/* A state of the one says something of the other: its parts are the same, and its gas, whose energies it is written in. */
static gboolean fits(const struct ew_cycle_plan *a, const struct ew_cycle_plan *b) {
  static const enum ew_plan_section counted[] = {EW_PLAN_CYLINDERS, EW_PLAN_PIPES, EW_PLAN_VOLUMES,
                                                 EW_PLAN_VALVES};
  for (gsize i = 0; i < G_N_ELEMENTS(counted); i++)
    if (ew_plan_count(a, counted[i]) != ew_plan_count(b, counted[i]))
      return FALSE;
  if (a->junctions != b->junctions || a->delivery != b->delivery ||
      memcmp(a->gas, b->gas, sizeof a->gas) != 0)
    return FALSE;
  for (int i = 0; i < ew_plan_count(a, EW_PLAN_PIPES); i++)
    if (!same_ends(&ew_plan_pipes(a)[i], &ew_plan_pipes(b)[i]))
      return FALSE;
  return TRUE;
}

const struct ew_cycle_state *ew_cycle_warm_at(const struct ew_cycle_warm *w,
                                              const struct ew_cycle_plan *plan, double speed_rpm,
                                              const struct ew_cycle_laid **laid) {
  const struct ew_cycle_state *best = NULL;
  double least = NEAR * speed_rpm;
  if (!w->plan || !fits(w->plan, plan))
    return NULL;
  for (int i = 0; i < w->n; i++) {
    double apart = fabs(w->speed_rpm[i] - speed_rpm);
    if (w->state[i] && apart <= least && (!best || apart < least)) {
      best = w->state[i];
      least = apart;
    }
  }
  *laid = w->laid;
  return best;
}

void ew_cycle_warm_take(struct ew_cycle_warm *w, const struct ew_cycle_plan *plan,
                        const double *speed_rpm, struct ew_cycle_state **states, int n) {
  g_assert(n >= 1);
  cycle_warm_clear(w);
  w->plan = g_memdup2(plan, (gsize)plan->bytes);
  w->laid = ew_cycle_laid_new(w->plan, EW_GRID_FINAL);
  w->speed_rpm = g_memdup2(speed_rpm, sizeof *speed_rpm * (gsize)n);
  w->state = g_memdup2(states, sizeof(*states) * (gsize)n);
  w->n = n;
}
