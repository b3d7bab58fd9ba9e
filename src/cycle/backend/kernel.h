/* The vector kernels, one set per level. All levels of one precision give the same bits. */
#pragma once
#include "cycle/ends.h"
#include "cycle/pipes.h"

struct ew_kernel {
  const char *name;
  int doubles;                  /* per vector */
  const struct ew_kernel *half; /* to use when pipes->lanes is half of EW_LANES; NULL: this one */
  int single; /* cells and ends in single precision, in pipes->single; fills its ghosts itself */
  /* Steps of pipes.h by number. wave_rate[EW_LANES]: max (|u|+c)/dx of each lane; with stride 1 the
   * caller takes the largest of all. step_s[EW_LANES]; with stride 1 all equal. */
  void (*primitives)(struct ew_pipes *pipes, double *wave_rate); /* 1 */
  void (*predict)(struct ew_pipes *pipes, const double *step_s); /* 3 */
  void (*riemann)(struct ew_pipes *pipes);                       /* 4 */
  void (*update)(struct ew_pipes *pipes, const double *step_s,
                 const struct ew_pipe_physics *physics); /* 6 */
  /* Step 5 in lanes: ends at a node, and constant-pressure junctions. */
  void (*ends)(struct ew_pipes *pipes, struct ew_end *ends, int n, struct ew_end_node *nodes,
               const double *step_s);
  void (*junction)(struct ew_pipes *pipes, struct ew_end *ends, const int *members, int n,
                   double *pressure_pa);
  /* For tests: y = ln x or e^x over n elements, n a multiple of 8. */
  void (*logarithm)(const double *x, double *y, int n);
  void (*exponential)(const double *x, double *y, int n);
};

/* By name, "single" for the widest of single precision; NULL when not built or not possible here. Which one is used: backend.h. */
const struct ew_kernel *ew_kernel_named(const char *name);
