/* End kernel: end_flow.h over all ends, junctions and lanes. Compiled once per level; see kernel.h. */
#include "cycle/backend/kernel_level.h"
#include "cycle/backend/vector.h"

typedef double *ew_row, *ew_field;
typedef struct ew_end *ew_ends;
typedef const int *ew_indices;
#define ew_gas_constant(p, part, lane) (&(p)->gas->constant[part][lane])
#define ew_let_end(end, ends, i)       struct ew_end *end = &(ends)[i]

INLINE void less(double *gained, V amount) {
  store(gained, load(gained) - amount);
}

INLINE void ew_take(struct ew_end *end, struct ew_end_node *node, int lane, V mass, V energy,
                    V burned, V fuel) {
  (void)end;
  less(node->gained[EW_MASS] + lane, mass);
  less(node->gained[EW_ENERGY] + lane, energy);
  less(node->gained[EW_BURNED] + lane, burned);
  less(node->gained[EW_FUEL] + lane, fuel);
}

#include "cycle/backend/end_flow.h"

void EW_NAME(ends)(struct ew_pipes *pipes, struct ew_end *ends, int n, struct ew_end_node *nodes,
                   const double *step_s) {
  for (int i = 0; i < n; i++) {
    if (ends[i].node < 0)
      continue;
    for (int lane = 0; lane < pipes->lanes; lane += EW_VECTOR)
      solve_end(pipes, &ends[i], &nodes[ends[i].node], lane, load(step_s + lane));
  }
}

void EW_NAME(junction)(struct ew_pipes *pipes, struct ew_end *ends, const int *members, int n,
                       double *pressure_pa) {
  for (int lane = 0; lane < pipes->lanes; lane += EW_VECTOR)
    solve_junction(pipes, ends, members, n, pressure_pa, lane);
}
