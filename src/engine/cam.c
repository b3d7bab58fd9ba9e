/* Events and centrelines from what a cam card states, in whichever of the two ways it states them. */
#include "engine/cam.h"
#include <math.h>

double ew_check_duration_deg(const struct ew_engine_valves *side) {
  return isnan(side->check_duration_deg) ? side->opens_deg + 180 + side->closes_deg
                                         : side->check_duration_deg;
}

/* A side's own centreline: as stated, else in the middle of its events. */
static double inlet_centreline(const struct ew_engine *engine) {
  const struct ew_engine_valves *v = &engine->inlet;
  return isnan(engine->cam.inlet_centreline_deg) ? (180 + v->closes_deg - v->opens_deg) / 2
                                                 : engine->cam.inlet_centreline_deg;
}

static double exhaust_centreline(const struct ew_engine *engine) {
  const struct ew_engine_valves *v = &engine->exhaust;
  return isnan(engine->cam.exhaust_centreline_deg) ? (180 + v->opens_deg - v->closes_deg) / 2
                                                   : engine->cam.exhaust_centreline_deg;
}

gboolean ew_cam_timing_of(const struct ew_engine *engine, struct ew_cam_timing *timing) {
  double separation = engine->cam.lobe_separation_deg, advance = engine->cam.advance_deg;
  double inlet = inlet_centreline(engine), exhaust = exhaust_centreline(engine);
  if (isnan(inlet) && !isnan(separation))
    inlet = isnan(advance) ? 2 * separation - exhaust : separation - advance;
  if (isnan(inlet))
    inlet = exhaust - 2 * advance;
  if (isnan(exhaust))
    exhaust = isnan(separation) ? inlet + 2 * advance : 2 * separation - inlet;
  *timing = (struct ew_cam_timing){(inlet + exhaust) / 2, inlet, exhaust, (exhaust - inlet) / 2};
  return !isnan(inlet) && !isnan(exhaust);
}

struct ew_valve_events ew_valve_events_of(struct ew_cam_timing t, double inlet, double exhaust,
                                          double lift_m) {
  double opens = inlet / 2 - t.inlet_centreline_deg;
  double closes = exhaust / 2 - t.exhaust_centreline_deg;
  return (struct ew_valve_events){
      lift_m,
      opens,
      inlet / 2 + t.inlet_centreline_deg - 180,
      exhaust / 2 + t.exhaust_centreline_deg - 180,
      closes,
      opens + closes,
  };
}
