/* A sweep's answer as JSON. */
#include "judge/sweep.h"

void ew_sweep_write_json(const struct ew_sweep *s, struct ew_json *json) {
  double interval[2] = {s->best_low, s->best_high};
  ew_json_number(json, "best", s->best);
  ew_json_numbers(json, "best_interval", interval, 2);
  ew_json_boolean(json, "bracketed", s->bracketed);
  ew_json_number(json, "relative_loss_per_unit_squared", s->curvature);
  ew_json_number(json, "chosen", s->chosen);
  ew_json_number(json, "chosen_relative_loss", s->chosen_loss);
  ew_json_boolean(json, "held_by_reserve", s->held_by_reserve);
  ew_json_number(json, "next", s->next);
  ew_json_number(json, "next_gain_probability", s->next_probability);
  ew_json_number(json, "narrowing_setting", s->narrow);
  ew_json_integer(json, "narrowing_pulls", s->narrow_pulls);
  ew_message_write_member(s->narrow_says, "narrowing", EW_UNITS_SI, json);
  ew_json_number(json, "wanted_half_width", s->wanted_half);
  ew_messages_write_json(s->costs, "narrowing_costs", EW_UNITS_SI, json);
  ew_json_number(json, "narrowing_cost_s", 60 * s->cost_minutes);
  ew_json_number(json, "narrowing_litres", s->cost_litres);
  ew_json_number(json, "narrowing_near_limit_s", s->cost_seconds_high);
  ew_json_boolean(json, "ended", s->ended);
  ew_message_write_member(s->reason, "reason", EW_UNITS_SI, json);
  ew_json_number(json, "relative_sd", s->sd);
  ew_json_number(json, "degrees_of_freedom", s->freedom);
  ew_json_open(json, "fit");
  ew_json_numbers(json, "setting", s->setting, s->points);
  ew_json_numbers(json, "relative_loss", s->loss, s->points);
  ew_json_numbers(json, "relative_loss_se", s->loss_se, s->points);
  ew_json_close(json);
  ew_json_open(json, "pulls");
  ew_json_numbers(json, "setting", s->pull_setting, s->pulls);
  ew_json_numbers(json, "relative_loss", s->pull_loss, s->pulls);
  ew_json_number(json, "relative_half_width", s->pull_half_width);
  ew_json_numbers(json, "moves_best_by_per_cent", s->pull_moves, s->pulls);
  ew_json_close(json);
  ew_messages_write_json(s->assumed, "assumed", EW_UNITS_SI, json);
  ew_messages_write_json(s->warnings, "warnings", EW_UNITS_SI, json);
}
