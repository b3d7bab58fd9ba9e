/* Where the crank must stand to set each valve: a list that a person can walk.
 *
 * A valve may be set while its lifter stands on the base circle. From firing top dead centre of its
 * cylinder the inlet lobe's centre lies at 360 + ICL and the exhaust's at 360 - ECL crank degrees;
 * beyond the lobe's reach on both sides (ramps included) the lifter is on the base circle. The list by
 * cylinders stops at each firing dead centre, where the companion, the cylinder one turn away in the
 * firing order, rocks (its exhaust closes, its inlet opens). The short list takes the fewest dead
 * centres at which every valve has its margin. Source: the geometry itself; the margin is common
 * practice, no source. Tests: tests/reference/build/test_walk.c. */
#pragma once
#include "engine/engine.h"

#define EW_WALK_MARGIN_DEG 15.0
#define EW_WALK_VALVES     48

struct ew_walk_valve {
  int cylinder, side; /* side 0 inlet, 1 exhaust */
  double margin_deg;  /* crank degrees to the nearer end of the base circle */
};

struct ew_walk_stop {
  double crank_deg,
      turn_deg;          /* from firing dead centre of the first cylinder; from the last stop */
  int firing, companion; /* at dead centre here; 0: none */
  int count;
  struct ew_walk_valve valves[EW_WALK_VALVES];
};

/* Companion of a cylinder; 0 when the firing order gives it none. */
int ew_walk_companion(const struct ew_engine *engine, int cylinder);
/* Crank angle of firing, from the first of the order; NaN when the order does not name it. */
double ew_walk_firing_deg(const struct ew_engine *engine, int cylinder);
/* GArray of struct ew_walk_stop; NULL with *error. */
GArray *ew_walk(const struct ew_engine *engine, gboolean fewest, GError **error);
