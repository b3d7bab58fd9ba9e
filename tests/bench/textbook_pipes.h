/* The same pipe method as src/cycle, written the way a textbook would: one cell a struct, one function a
 * step, one pipe after the other, scalars. A peer for speed and an independent check of the answer. */
#pragma once
#include "gas/working_gas.h"

struct textbook_cell {
  double amount[5];                                              /* kg, kg m/s, J, kg, kg */
  double rho, u, p, yb, yf, t, e, gamma, cv, by_burned, by_fuel; /* primitives */
  double left[7], right[7]; /* rho u p yb yf e c at its faces */
  double volume, length, diameter, area_slope, loss_per_m, wall_m2, wall_k, heat_factor;
};

struct textbook_pipe {
  int cells; /* real; the array has one ghost at either end: cell[0] and cell[cells + 1] */
  struct textbook_cell *cell;
  double *area;      /* [cells + 1] */
  double (*flux)[5]; /* [cells + 1] */
};

struct textbook_pipe *textbook_pipe_new(int cells, double length_m, const double *face_diameter_m,
                                        double wall_k);
void textbook_pipe_free(struct textbook_pipe *pipe);
void textbook_set(struct textbook_pipe *pipe, int cell, const struct ew_working_gas *gas, double p,
                  double t, double u, double yb, double yf);
/* Largest (|u|+c)/dx. */
double textbook_primitives(struct textbook_pipe *pipe, const struct ew_working_gas *gas);
/* The rest of the step; both ends let the predicted state through. */
void textbook_step(struct textbook_pipe *pipe, const struct ew_working_gas *gas, double dt,
                   double friction, double heat);
