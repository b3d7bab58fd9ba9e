/* Valve events and where the lobes stand.
 *
 *   LSA = (ICL + ECL) / 2        advance = LSA - ICL
 *   IVO (BTDC) = D_i/2 - ICL     IVC (ABDC) = D_i/2 + ICL - 180
 *   EVO (BBDC) = D_e/2 + ECL - 180   EVC (ATDC) = D_e/2 - ECL
 *   overlap = IVO + EVC
 *
 * LSA in degrees of the cam, all others of the crank; durations at one and the same lift, which is
 * stored with the events. A negative opening before top dead centre lies after it. Exact for lobes
 * whose flanks mirror each other at that lift.
 * Source: the definitions themselves. Tests: tests/reference/engine/test_cam.c. */
#pragma once
#include "engine/engine.h"

struct ew_cam_timing {
  double separation_deg, inlet_centreline_deg, exhaust_centreline_deg, advance_deg;
};

struct ew_valve_events {
  double lift_m; /* of the lobe, at which the events are taken */
  double inlet_opens_btdc_deg, inlet_closes_abdc_deg;
  double exhaust_opens_bbdc_deg, exhaust_closes_atdc_deg;
  double overlap_deg;
};

/* From any two of separation, both centrelines and advance, or from the events; FALSE when the
 * engine gives too little. */
gboolean ew_cam_timing_of(const struct ew_engine *engine, struct ew_cam_timing *timing);
/* Durations of one lift. */
struct ew_valve_events ew_valve_events_of(struct ew_cam_timing timing, double inlet_duration_deg,
                                          double exhaust_duration_deg, double lift_m);
/* Duration at the check lift, as stated or from the events; NaN when neither is given. */
double ew_check_duration_deg(const struct ew_engine_valves *side);
