/* End kernel in single precision: end_flow.h over all ends and junctions, the eight lanes of each in one vector. What a node gains is added in double.
 * Compiled once per level of eight; see vector_single.h. */
#include "cycle/backend/single_level.h"

typedef struct ew_end *ew_ends;
typedef const int *ew_indices;
#define ew_let_end(end, ends, i) struct ew_end *end = &(ends)[i]

INLINE gsize element_of(const struct ew_pipes_single *p, int pipe, int cell, int lane) {
  return (gsize)(p->first[pipe] + cell) * EW_LANES + (gsize)lane;
}
#define ew_pipes_element element_of

INLINE void ew_take(struct ew_end *end, struct ew_end_node *node, int lane, V mass, V energy,
                    V burned, V fuel) {
  (void)end;
  store_sum(node->gained[EW_MASS] + lane, added(load_sum(node->gained[EW_MASS] + lane), -mass));
  store_sum(node->gained[EW_ENERGY] + lane,
            added(load_sum(node->gained[EW_ENERGY] + lane), -energy));
  store_sum(node->gained[EW_BURNED] + lane,
            added(load_sum(node->gained[EW_BURNED] + lane), -burned));
  store_sum(node->gained[EW_FUEL] + lane, added(load_sum(node->gained[EW_FUEL] + lane), -fuel));
}

#include "cycle/backend/end_flow.h"
#undef double
#undef ew_pipes

static V steps_of(const double *step_s) {
  return load(step_s);
}

void EW_NAME(ends)(struct ew_pipes *pipes, struct ew_end *ends, int n, struct ew_end_node *nodes,
                   const double *step_s) {
  V step = steps_of(step_s);
  for (int i = 0; i < n; i++)
    if (ends[i].node >= 0)
      solve_end(pipes->single, &ends[i], &nodes[ends[i].node], 0, step);
}

void EW_NAME(junction)(struct ew_pipes *pipes, struct ew_end *ends, const int *members, int n,
                       double *pressure_pa) {
  solve_junction(pipes->single, ends, members, n, pressure_pa, 0);
}
