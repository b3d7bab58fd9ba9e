/* Degreeing in a cam: top dead centre by the positive stop, the inlet lobe by two methods, and the
 * correction to make.
 *
 *   top dead centre lies halfway between the wheel's readings at the stop
 *   1. middle of equal lifts on both sides of the nose   ICL = (first + second) / 2
 *   2. events at the check lift                          ICL = (180 + IVC - IVO) / 2
 *
 * Both are taken from true top dead centre. The second sees the whole lobe; when the two differ by
 * more than 1 degree the lobe's flanks differ, a reading slipped, or the stop moved. The correction
 * is positive to advance: measured less wanted centreline, in crank degrees.
 * Source: the geometry of it; common practice for the procedure.
 * Tests: tests/reference/engine/test_cam.c. */
#pragma once
#include "engine/engine.h"

struct ew_degree_in {
  double tdc_error_deg;    /* the wheel shows this at true top dead centre; NaN not read */
  double by_centre_deg;    /* inlet centreline by method 1 */
  double by_events_deg;    /* and by method 2 */
  double wanted_deg;       /* from the cam's card */
  double advance_by_deg;   /* correction of the mean of the methods; negative to retard */
  double disagreement_deg; /* method 1 less method 2 */
  double duration_deg;     /* at the check lift, as read */
};

/* FALSE when there are no readings. */
gboolean ew_degree_in_of(const struct ew_engine *engine, struct ew_degree_in *result);
