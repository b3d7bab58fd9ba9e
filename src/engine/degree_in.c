/* Arithmetic on readings of the wheel, all taken to true top dead centre first. */
#include "engine/degree_in.h"
#include "engine/cam.h"
#include <math.h>

gboolean ew_degree_in_of(const struct ew_engine *engine, struct ew_degree_in *result) {
  const struct ew_engine_degree_in *d = &engine->degree_in;
  struct ew_cam_timing timing;
  double tdc = (d->stop_first_deg + d->stop_second_deg) / 2, shift = isnan(tdc) ? 0 : tdc;
  double by_centre = (d->near_peak_first_deg + d->near_peak_second_deg) / 2 - shift;
  double by_events = (180 + d->closes_abdc_deg - d->opens_btdc_deg) / 2 - shift;
  double mean = isnan(by_centre)   ? by_events
                : isnan(by_events) ? by_centre
                                   : (by_centre + by_events) / 2;
  double wanted = ew_cam_timing_of(engine, &timing) ? timing.inlet_centreline_deg : NAN;
  *result = (struct ew_degree_in){
      tdc,
      by_centre,
      by_events,
      wanted,
      mean - wanted,
      by_centre - by_events,
      d->opens_btdc_deg + 180 + d->closes_abdc_deg,
  };
  return !isnan(mean);
}
