/* Where a pipe ends: at a node (cylinder, plenum, atmosphere) through an opening, or in a junction.
 *
 * One relation serves valve, throttle, orifice, bellmouth and open end: the exact wave from the
 * predicted face state to the pressure at the pipe's end, and an isentropic orifice between that and
 * the node. Flow goes in when the node's pressure is above the pressure p_w that the closed end would
 * have, out when below.
 *   in:  throat at pipe pressure, no recovery (valve jet); opening = pipe area is a loss-free mouth
 *   out: stagnation state of the arriving gas through the opening; opening = pipe area: p_end = p_node
 * Newton passes are fixed in number and start from the last step's answer, so that lanes stay together;
 * mass and energy close to round-off whatever is left of the iteration, because both sides are fed the
 * same flux. Waves: Toro ch. 4; orifice: Heywood app. C; idea after Benson, The Thermodynamics and Gas
 * Dynamics of Internal Combustion Engines, vol. I (1982). */
#pragma once
#include "cycle/pipes.h"

/* A node as its pipes see it, and what they gave it. */
struct ew_end_node {
  double pressure_pa[EW_LANES], temperature_k[EW_LANES];
  double gas_constant[EW_LANES], gamma[EW_LANES], enthalpy_j_kg[EW_LANES];
  double burned[EW_LANES], fuel[EW_LANES]; /* mass shares */
  double gained[EW_CONSERVED][EW_LANES];   /* kg, -, J, kg, kg: added to, never cleared here */
};

struct ew_end {
  int pipe, side; /* side 0 left, 1 right */
  int node;       /* -1 in a junction */
  double
      open_in[EW_LANES]; /* effective opening / pipe area, 0 to 1, for flow from node into pipe */
  double open_out[EW_LANES];  /* the same for flow from pipe to node */
  double memory[EW_LANES];    /* last answer: +xi in, -xi out, 0 none */
  double flow_kg_s[EW_LANES]; /* last flux, into the pipe */
  double enthalpy_w[EW_LANES];
  double pressure_pa[EW_LANES]; /* at the pipe's end */
};

#define EW_JUNCTION_MOST 12 /* pipes in one junction */
