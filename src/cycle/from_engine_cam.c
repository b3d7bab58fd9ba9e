/* What a cam is taken for where the file gives one duration only, no lift, or no place: an ordinary flat-tappet lobe.
 *
 * Between two lifts l of its flank such a lobe takes the angle F (sqrt(l - r) - sqrt(d - r)) on each side, r the ramp's height, as a flank
 * of even acceleration does; F is that of road cams whose durations at 0.5 and 1.27 mm differ by 38 degrees (common practice, no source).
 * What is taken is noted, and its prior is in desk/predict_spread.c. */
#include "cycle/from_engine_parts.h"
#include "engine/cam.h"
#include <math.h>

#define FLANK_DEG                                                                                  \
  1117.0 /* of crank, at the root of a metre: 38 / 2 / (sqrt(0.97 mm) - sqrt(0.2 mm)) */
#define RAMP_M         0.3e-3
#define RAMP_DEG       34.0
#define LIFT_OF_HEAD   0.26
#define SEPARATION_DEG 110.0
#define ADVANCE_DEG    2.0

static double flank_deg(double lift_m) {
  return FLANK_DEG * sqrt(fmax(lift_m - RAMP_M, 0));
}

static double rounded(double deg) {
  return round(2 * deg) / 2;
}

/* A name that lives as long as the build: "inlet.duration". */
static const char *field_of(struct ew_cycle_build *b, int side, const char *what) {
  return ew_model_keep_name(b, g_strdup_printf("%s.%s", side ? "exhaust" : "inlet", what));
}

/* A second duration that was made with this ramp wants this ramp. */
static void fill_ramp(struct ew_cycle_build *b, struct ew_engine_valves *v, int side) {
  if (isnan(v->ramp_height_m))
    v->ramp_height_m =
        ew_model_or_assume(b, NAN, RAMP_M, field_of(b, side, "ramp_height"), EW_KIND_LENGTH);
  if (isnan(v->ramp_length_deg))
    v->ramp_length_deg =
        ew_model_or_assume(b, NAN, RAMP_DEG, field_of(b, side, "ramp_length"), EW_KIND_ANGLE);
}

static void fill_side(struct ew_cycle_build *b, struct ew_engine *e, int side) {
  struct ew_engine_valves *v = side ? &e->exhaust : &e->inlet;
  if (v->lobe_angles)
    return;
  double check = ew_check_duration_deg(v);
  double wider = 2 * (flank_deg(v->check_lift_m) - flank_deg(v->duration_lift_m));
  if (isnan(v->lobe_lift_m) && isnan(v->gross_lift_m))
    v->gross_lift_m =
        ew_model_or_assume(b, NAN, round(1e4 * LIFT_OF_HEAD * ew_model_head_m(b, e, side)) / 1e4,
                           field_of(b, side, "gross_lift"), EW_KIND_LENGTH);
  if (isnan(v->duration_deg) != isnan(check))
    fill_ramp(b, v, side);
  if (isnan(v->duration_deg) && !isnan(check))
    v->duration_deg = ew_model_or_assume(b, NAN, rounded(check + wider),
                                         field_of(b, side, "duration"), EW_KIND_ANGLE);
  else if (isnan(check) && !isnan(v->duration_deg))
    v->check_duration_deg = ew_model_or_assume(b, NAN, rounded(v->duration_deg - wider),
                                               field_of(b, side, "check_duration"), EW_KIND_ANGLE);
}

void ew_model_fill_cam(struct ew_cycle_build *b, struct ew_engine *e) {
  struct ew_cam_timing timing;
  for (int side = 0; side < 2; side++)
    fill_side(b, e, side);
  if (ew_cam_timing_of(e, &timing))
    return;
  if (isnan(e->cam.lobe_separation_deg))
    e->cam.lobe_separation_deg =
        ew_model_or_assume(b, NAN, SEPARATION_DEG, "cam.lobe_separation", EW_KIND_ANGLE);
  if (!ew_cam_timing_of(e, &timing))
    e->cam.advance_deg = ew_model_or_assume(b, NAN, ADVANCE_DEG, "cam.advance", EW_KIND_ANGLE);
}
