/* Names of one vector level; for pipe_kernel.c and end_kernel.c, which are compiled once per level. */
#pragma once
#include "cycle/backend/kernel.h"

#ifndef EW_LEVEL
#define EW_LEVEL base
#endif
#define EW_PASTE_(a, b) ew_kernel_##a##_##b
#define EW_PASTE(a, b)  EW_PASTE_(a, b)
#define EW_NAME(thing)  EW_PASTE(thing, EW_LEVEL)
#define EW_TEXT_(a)     #a
#define EW_TEXT(a)      EW_TEXT_(a)
#define EW_LEVEL_NAME   EW_TEXT(EW_LEVEL)
#define EW_KERNEL       EW_NAME(set)

extern const struct ew_kernel EW_KERNEL;
#ifdef EW_HALF_LEVEL /* this level's narrow twin */
extern const struct ew_kernel EW_PASTE(set, EW_HALF_LEVEL);
#define EW_HALF &EW_PASTE(set, EW_HALF_LEVEL)
#else
#define EW_HALF NULL
#endif
void EW_NAME(ends)(struct ew_pipes *pipes, struct ew_end *ends, int n, struct ew_end_node *nodes,
                   const double *step_s);
void EW_NAME(junction)(struct ew_pipes *pipes, struct ew_end *ends, const int *members, int n,
                       double *pressure_pa);
