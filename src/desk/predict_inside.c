/* One speed with its trace. See predict_inside.h. */
#include "desk/predict_inside.h"
#include "base/error.h"
#include "base/json_writer.h"
#include "base/number.h"
#include <math.h>

#define FIGURES 6 /* of what is drawn */

static gboolean is_drawn(const struct ew_cycle_result *run, GError **error) {
  if (run->converged || run->why.failure == EW_CYCLE_UNSTEADY)
    return TRUE;
  g_autoptr(ew_message) why = ew_cycle_why_not(run);
  g_autofree char *text = ew_message_text(why, EW_UNITS_SI),
                  *at = ew_number_thousands(run->speed_rpm);
  return ew_refuse(error, "at %s rpm there is nothing to draw: %s", at, text);
}

gboolean ew_predict_inside(const struct ew_prediction_setup *setup, double speed_rpm,
                           const struct ew_cycle_options *options, struct ew_cycle_result *run,
                           struct ew_inside *inside, GError **error) {
  struct ew_cycle_options traced = *options;
  double spark_deg;
  traced.trace = TRUE;
  *run = (struct ew_cycle_result){0};
  struct ew_cycle_plan *plan = ew_predict_plan(setup, &traced, NULL, &spark_deg, NULL, error);
  if (!plan)
    return FALSE;
  struct ew_cycle_task task = {plan, speed_rpm, spark_deg};
  gboolean good = ew_cycle_run(&task, 1, &traced, run, NULL, error) && is_drawn(run, error);
  if (good)
    ew_inside_of(plan, run->trace, 0, inside);
  else
    ew_cycle_result_clear(run);
  ew_cycle_plan_free(plan);
  return good;
}

static void write_pair(struct ew_json *json, const char *key, const double pair[2]) {
  ew_json_numbers(json, key, pair, 2);
}

void ew_inside_write_json(const struct ew_cycle_result *run, const struct ew_inside *in,
                          enum ew_unit_system units, struct ew_json *json) {
  static const char *const keys[EW_INSIDE_LINES] = {
      [EW_INSIDE_CYLINDER] = "cylinder_pa",           [EW_INSIDE_INLET_PORT] = "inlet_port_pa",
      [EW_INSIDE_INLET_FAR] = "inlet_far_end_pa",     [EW_INSIDE_EXHAUST_PORT] = "exhaust_port_pa",
      [EW_INSIDE_EXHAUST_FAR] = "exhaust_far_end_pa", [EW_INSIDE_VOLUME] = "volume_m3",
      [EW_INSIDE_BURNED] = "burned_fraction"};
  ew_json_number(json, "speed_rpm", run->speed_rpm);
  ew_json_integer(json, "cylinder", in->cylinder + 1);
  ew_json_boolean(json, "converged", run->converged);
  g_autoptr(ew_message) why = ew_cycle_why_not(run);
  ew_message_write_member(why, "not_converged_because", units, json);
  ew_json_number(json, "spark_deg", run->spark_deg);
  ew_json_boolean(json, "knock_limited", run->knock_limited);
  ew_json_number(json, "ca10_deg", run->ca10_deg);
  ew_json_number(json, "ca50_deg", run->ca50_deg);
  ew_json_number(json, "ca90_deg", run->ca90_deg);
  ew_json_number(json, "peak_pressure_pa", run->peak_pressure_pa);
  ew_json_number(json, "peak_deg", run->peak_deg);
  ew_json_number(json, "pressure_rise_pa_deg", run->pressure_rise_pa_deg);
  ew_json_number(json, "imep_pa", run->imep_pa);
  ew_json_number(json, "pmep_pa", run->pmep_pa);
  ew_json_number(json, "lift_m", EW_INSIDE_LIFT_M);
  write_pair(json, "opens_deg", in->opens_deg);
  write_pair(json, "closes_deg", in->closes_deg);
  ew_json_numbers(json, "angle_deg", in->angle_deg, EW_INSIDE_DEGREES);
  int before = json->figures;
  json->figures = FIGURES;
  for (int l = 0; l < EW_INSIDE_LINES; l++)
    ew_json_numbers(json, keys[l], in->line[l], EW_INSIDE_DEGREES);
  json->figures = before;
}
