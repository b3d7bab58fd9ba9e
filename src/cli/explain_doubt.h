/* The uncertainty of a figure other than torque, as `pull explain --figure` tells it. Internal to src/cli/explain*.c. */
#pragma once
#include "base/json_writer.h"
#include "judge/figure_budget.h"

/* Steps after the samples; `units` of the reader. */
void ew_explain_say_doubt(const struct ew_figure_budget *b, enum ew_kind kind,
                          enum ew_unit_system units);
/* Members of the open object: uncertainty, expanded, not_calibrated. */
void ew_explain_write_doubt(const struct ew_figure_budget *b, struct ew_json *json);
