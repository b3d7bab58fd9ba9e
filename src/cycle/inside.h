/* What goes on inside one cylinder over one cycle, ready to be drawn: pressures in the cylinder and at both ends of its runner and
 * its primary, volume, burned share, and when its valves open and close. Of a run that kept its trace.
 *
 * Angles are degrees of crank after the cylinder's firing top dead centre, from -180 (the compression stroke begins) to 539 (the
 * inlet stroke ends), so that nothing of interest is cut in two: compression, power, exhaust, inlet. Values are those of the trace.
 *
 * O of the trace; no allocation, no errors: what the plan does not have is NaN. */
#pragma once
#include "cycle/plan.h"
#include "cycle/predict.h"

#define EW_INSIDE_DEGREES  720
#define EW_INSIDE_FROM_DEG (-180)
#define EW_INSIDE_LIFT_M                                                                           \
  1e-3 /* a valve counts as open from this lift on, at the valve, lash taken off */

enum ew_inside_line {
  EW_INSIDE_CYLINDER,     /* Pa */
  EW_INSIDE_INLET_PORT,   /* Pa, at the inlet valve */
  EW_INSIDE_INLET_FAR,    /* Pa, at the runner's other end */
  EW_INSIDE_EXHAUST_PORT, /* Pa, at the exhaust valve */
  EW_INSIDE_EXHAUST_FAR,  /* Pa, at the primary's other end */
  EW_INSIDE_VOLUME,       /* m3 */
  EW_INSIDE_BURNED,       /* share of the charge; NaN once a valve is open */
  EW_INSIDE_LINES
};

struct ew_inside {
  int cylinder; /* from 0 */
  double angle_deg[EW_INSIDE_DEGREES];
  double line[EW_INSIDE_LINES][EW_INSIDE_DEGREES];
  double opens_deg[2],
      closes_deg[2]; /* inlet, exhaust; closes after opens, also beyond 539; NaN: below that lift */
};

/* The cylinder has to be one of the trace's; where several pipes lead to it, the first counts. */
void ew_inside_of(const struct ew_cycle_plan *plan, const struct ew_cycle_trace *trace,
                  int cylinder, struct ew_inside *inside);
