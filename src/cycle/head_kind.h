/* What is taken for a cylinder head of a kind where it was not measured: sizes of its valves, flow of its ports, how it burns.
 *
 * Flow tables are effective area / head area of one valve against lift / head diameter. Coefficients on the curtain area of production
 * heads with two valves lie, at lifts of 0.05 to 0.30 diameters, from 0.60, 0.60, 0.55, 0.48, 0.42, 0.37 to 0.70, 0.68, 0.63, 0.56, 0.50,
 * 0.44 at the inlet and from 0.70, 0.68, 0.62, 0.55, 0.48, 0.42 to 0.80, 0.75, 0.70, 0.63, 0.56, 0.50 at the exhaust (Heywood, fig. 6-18
 * and 6-21; Annand and Roe; from memory). A wedge is the middle of these bands, inclined valves their upper ends; four valves flow some
 * 0.065 more than the middle above a lift of 0.15 at the inlet (the same) and are taken at the upper ends at the exhaust. Side valves,
 * sizes and burning are common practice, no source. Heads of one kind differ by FLOW_U. Which of these figures were chosen on which
 * engines: docs/methods-cycle.md, section 7. */
#pragma once
#include "cycle/model.h"

enum ew_head_kind {
  EW_HEAD_NOT_STATED,
  EW_HEAD_SIDE_VALVES,
  EW_HEAD_WEDGE,
  EW_HEAD_HEMI,
  EW_HEAD_FOUR_VALVES,
  EW_HEAD_KINDS
};

#define EW_HEAD_FLOW_ROWS 7
#define EW_HEAD_FLOW_U                                                                             \
  0.12 /* standard uncertainty of a flow table that was not measured, relative */

struct ew_head_traits {
  const char *says;
  int valves; /* of each side */
  double inlet_by_bore,
      exhaust_by_bore; /* head diameter of one valve / bore, at a rated piston speed of 14 m/s */
  double turbulence, duration, surface; /* of combustion; surface: of the head / bore area */
  struct ew_cycle_flow inlet[EW_HEAD_FLOW_ROWS], exhaust[EW_HEAD_FLOW_ROWS];
};

/* Never NULL. EW_HEAD_NOT_STATED: four valves where `valves` of one side are more than one, else a wedge. */
const struct ew_head_traits *ew_head_traits_of(enum ew_head_kind kind, int valves);
/* Engines built for speed have larger valves: a factor on the sizes above, 0.88 to 1.13. Speed NaN: 1. */
double ew_head_size_factor(double rated_piston_speed_m_s);
