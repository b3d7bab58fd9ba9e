/* All pipes of an engine as one field of cells, struct of arrays.
 *
 * Layout. Pipes lie one behind the other, each with one ghost cell at either end. Every array has one
 * element per cell (or left face of a cell) and lane: element = cell * stride + lane. The stride is
 *   1          one engine; the vectors run along the pipes,
 *   EW_LANES   as many independent runs as lanes (other speeds, other variants of the same layout).
 * One kernel source serves both: a cell's neighbours are `stride` elements away.
 *
 * State. Cells hold amounts: mass kg, momentum kg m/s, energy J (formation and motion included),
 * burned gas kg, fuel vapour kg. Faces carry fluxes of the same per second, times area.
 *
 * One time step, with the numbers used in pipe_kernel.c:
 *   1. primitives: temperature by Newton from the old one, pressure, gamma, largest wave rate
 *   2. ghosts: linear extrapolation, so that end cells get one-sided slopes
 *   3. MUSCL: limited slopes (monotonised central), half-step in primitive form with area source
 *   4. HLLC fluxes at inner faces
 *   5. fluxes at pipe ends: ends.h, or ew_pipes_close / ew_pipes_let_through
 *   6. update, area term p (A_right - A_left), wall friction (implicit), wall heat
 *
 * Sources: van Leer 1979 and Toro, Riemann Solvers and Numerical Methods for Fluid Dynamics, 3rd ed.,
 * ch. 10 and 14; friction Blasius with a floor, heat by the Reynolds analogy. */
#pragma once
#include "gas/working_gas.h"

#define EW_LANES 8

/* Coefficients of each lane's gas, spread for vector loads; as air, burned - air, fuel - air. */
struct ew_lane_gas {
  double energy[EW_GAS_PARTS][EW_GAS_TERMS][EW_LANES];
  double constant[EW_GAS_PARTS][EW_LANES];
  double coldest[EW_LANES], hottest[EW_LANES]; /* T/1000 K */
};

enum ew_conserved { EW_MASS, EW_MOMENTUM, EW_ENERGY, EW_BURNED, EW_FUEL, EW_CONSERVED };
enum ew_primitive {
  EW_DENSITY,
  EW_VELOCITY,
  EW_PRESSURE,
  EW_SHARE_BURNED,
  EW_SHARE_FUEL,
  EW_RECONSTRUCTED,                      /* the five above have slopes */
  EW_SPECIFIC_ENERGY = EW_RECONSTRUCTED, /* internal, J/kg */
  EW_SOUND,      /* speed of sound; at faces linear in its square, so a little high */
  EW_FACE_STATE, /* the seven above exist at faces */
  EW_TEMPERATURE = EW_FACE_STATE,
  EW_GAMMA,
  EW_CV,
  EW_HALF_BY_SOUND,    /* 1/(2c) */
  EW_ENERGY_BY_BURNED, /* du/dY at constant temperature */
  EW_ENERGY_BY_FUEL,
  EW_PRIMITIVES
};

struct ew_pipes {
  int stride, pipes, cells; /* cells with ghosts, all pipes */
  int lanes;                /* kernels may leave out lanes from this on; EW_LANES unless set */
  int *first;               /* [pipes] first real cell */
  int *count;               /* [pipes] real cells, 2 or more */
  gsize elements;           /* of each array, without its padding */
  struct ew_lane_gas *gas;
  /* geometry; area at the left face of each cell; area_slope A'/A; loss_per_m K/(2 L) of bends */
  double *area_m2, *volume_m3, *length_m, *inverse_length, *area_slope, *diameter_m, *loss_per_m;
  double *inverse_volume, *inverse_diameter;
  double *wall_m2, *wall_k, *heat_factor;
  int64_t *live; /* all ones in real cells, 0 in ghosts */
  /* state */
  double *conserved[EW_CONSERVED], *primitive[EW_PRIMITIVES];
  double *left[EW_FACE_STATE], *right[EW_FACE_STATE]; /* predicted states at a cell's own faces */
  double *flux[EW_CONSERVED];
  /* sums since they were last cleared: J to the gas; J/K; J */
  double *heat_j, *conductance, *conductance_k;
  double *block;                  /* what all of the above is cut from */
  struct ew_pipes_single *single; /* of kernels in single precision; NULL */
};

/* count[pipes]: real cells of each pipe, >= 2. Caller frees. */
struct ew_pipes *ew_pipes_new(int stride, int pipes, const int *count);
void ew_pipes_free(struct ew_pipes *pipes);
/* With stride 1 the gas fills all lanes of the coefficient block. */
void ew_pipes_set_gas(struct ew_pipes *pipes, int lane, const struct ew_working_gas *gas);

/* A cell: the frustum between two sections. */
struct ew_frustum {
  double mean_m2, volume_m3, diameter_m, wall_m2;
};
struct ew_frustum ew_frustum_of(double left_diameter_m, double right_diameter_m, double length_m);

/* Equal cells over length_m with circular sections: face_diameter_m[count + 1]. bend_loss is the sum
 * of loss coefficients K, spread over the length. wall_k and heat_factor: [count]; wall_k NULL: no
 * heat; heat_factor NULL: 1. */
void ew_pipes_shape(struct ew_pipes *pipes, int pipe, int lane, double length_m,
                    const double *face_diameter_m, double bend_loss, const double *wall_k,
                    const double *heat_factor);
void ew_pipes_set_state(struct ew_pipes *pipes, int pipe, int cell, int lane,
                        const struct ew_working_gas *gas, double pressure_pa, double temperature_k,
                        double velocity_m_s, double burned, double fuel);
/* Element of a pipe's real cell (0 .. count-1). */
gsize ew_pipes_element(const struct ew_pipes *pipes, int pipe, int cell, int lane);
/* Sum over a lane's real cells, in order. */
double ew_pipes_total(const struct ew_pipes *pipes, const double *array, int lane);

/* Step 2. */
void ew_pipes_fill_ghosts(struct ew_pipes *pipes);
/* Step 5 for tests, all lanes: a wall (exact wave relation), or the predicted state let through.
 * end 0 left, 1 right. */
void ew_pipes_close(struct ew_pipes *pipes, int pipe, int end);
void ew_pipes_let_through(struct ew_pipes *pipes, int pipe, int end);

/* Both 0: frictionless and adiabatic (inviscid textbook cases). */
struct ew_pipe_physics {
  double friction; /* multiplies the friction factor */
  double heat;     /* multiplies the heat transfer coefficient */
};
