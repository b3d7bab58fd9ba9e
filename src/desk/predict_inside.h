/* What goes on inside the first cylinder at one predicted speed (cycle/inside.h): the run again with its trace kept. Its figures are those
 * that the curve has at that speed, bit for bit, where cells and set-up are the curve's. */
#pragma once
#include "cycle/inside.h"
#include "desk/predict.h"

/* One run. `run` and `inside` are filled, both by the caller's leave; ew_cycle_result_clear(run) afterwards. A run that has not settled within
 * its cycles is drawn as it stands (run->converged says so); one that broke down is refused with its reason. Of the options all count but trace. */
gboolean ew_predict_inside(const struct ew_prediction_setup *setup, double speed_rpm,
                           const struct ew_cycle_options *options, struct ew_cycle_result *run,
                           struct ew_inside *inside, GError **error);
struct ew_json;
/* Members of an open object; pressures to six figures. */
void ew_inside_write_json(const struct ew_cycle_result *run, const struct ew_inside *inside,
                          enum ew_unit_system units, struct ew_json *json);
