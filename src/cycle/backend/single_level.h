/* Names of one level of the kernels in single precision, and the shared sources as they read there. For single_kernel.c and single_ends.c, which are
 * compiled once per level. */
#pragma once
#include "cycle/backend/kernel.h"
#include "cycle/backend/pipes_single.h"

#ifndef EW_LEVEL
#define EW_LEVEL single_base
#endif
#define EW_PASTE_(a, b) ew_kernel_##a##_##b
#define EW_PASTE(a, b)  EW_PASTE_(a, b)
#define EW_NAME(thing)  EW_PASTE(thing, EW_LEVEL)

/* Pipes from `first` on, a stretch of cells: what a level of two cells a vector leaves to its narrow twin. */
struct ew_single_range {
  struct ew_pipes_single *pipes;
  const double *step_s;
  const struct ew_pipe_physics *physics;
  float *wave_rate; /* [EW_LANES] */
};
typedef void ew_single_part(const struct ew_single_range *all, int first, int cells);
ew_single_part EW_NAME(primitives_part), EW_NAME(predict_part), EW_NAME(riemann_part),
    EW_NAME(update_part);
void EW_NAME(ends)(struct ew_pipes *pipes, struct ew_end *ends, int n, struct ew_end_node *nodes,
                   const double *step_s);
void EW_NAME(junction)(struct ew_pipes *pipes, struct ew_end *ends, const int *members, int n,
                       double *pressure_pa);
extern const struct ew_kernel EW_NAME(set);

#include "cycle/backend/vector_single.h"

/* From here on the sources that are shared with double precision. */
struct ew_single_physics {
  float friction, heat;
};
#define EW_SINGLE      1
#define EW_LEAST_TAKEN 1e-30f
#undef INT64_MAX
#undef INT64_MIN
#define INT64_MAX INT32_MAX
#define INT64_MIN INT32_MIN
typedef double *ew_row;
typedef float *ew_field;
#define double float
#define ew_pipes                        ew_pipes_single
#define ew_pipe_physics                 ew_single_physics
#define ew_gas_energy(p, part, i, lane) (&(p)->energy[part][i][lane])
#define ew_gas_constant(p, part, lane)  (&(p)->constant[part][lane])
#define ew_gas_coldest(p, lane)         ((p)->coldest + (lane))
#define ew_gas_hottest(p, lane)         ((p)->hottest + (lane))
#define ew_temperature(p)               ((p)->temperature)
#define ew_live(p, e)                   (~(I){0}) /* ghosts are not visited */
#include "cycle/backend/lane_math.h"
