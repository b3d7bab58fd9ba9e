/* The field of pipes in single precision: geometry and gas as they are in struct ew_pipes, and what one step leaves to the next kernel. The rows of
 * the state stay where they are, in double (pipes.h). Internal to src/cycle/backend. */
#pragma once
#include "cycle/pipes.h"

#define EW_SINGLE_GAS 16 /* the lanes twice: two neighbouring cells in one vector */

struct ew_pipes_single {
  int stride;
  const int *first, *count; /* of the field that it belongs to */
  float energy[EW_GAS_PARTS][EW_GAS_TERMS][EW_SINGLE_GAS], constant[EW_GAS_PARTS][EW_SINGLE_GAS];
  float coldest[EW_SINGLE_GAS], hottest[EW_SINGLE_GAS];
  float *area_m2, *inverse_length, *area_slope, *loss_per_m, *inverse_volume, *inverse_diameter;
  float *wall_m2, *heat_factor;
  float *primitive[EW_PRIMITIVES];
  float *left[EW_FACE_STATE], *right[EW_FACE_STATE], *flux[EW_CONSERVED];
  /* rows of the state, bound by each kernel */
  double *conserved[EW_CONSERVED], *temperature, *wall_k, *heat_j, *conductance, *conductance_k;
  float *block;
};

/* Belongs to pipes->single from then on; ew_pipes_free does not free it. With stride EW_LANES only. */
struct ew_pipes_single *ew_pipes_single_new(const struct ew_pipes *pipes);
void ew_pipes_single_free(struct ew_pipes_single *single);
/* A lane's geometry and gas, whenever they were shaped. */
void ew_pipes_single_take(struct ew_pipes *pipes, int lane);
