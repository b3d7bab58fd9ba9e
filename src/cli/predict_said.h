/* What engine predict says in words and tables: a row a speed each. */
#pragma once
#include "cli/command.h"
#include "desk/predict_ratio.h"
#include "desk/vary.h"

void ew_say_prediction(const struct ew_cycle_result *results, int count,
                       const struct ew_cycle_effort *effort, const GPtrArray *notes,
                       enum ew_unit_system units);
/* Shares of the fuel's heating value, which add up; pressure rise; what a thermocouple reads. */
void ew_say_energy(const struct ew_cycle_result *results, int count, enum ew_unit_system units);
void ew_say_doubt(const struct ew_prediction_setup *setup, const double *speed_rpm,
                  const struct ew_doubt *doubt, enum ew_unit_system units);
/* Which ratio: what cam and fuel say, and the two curves. */
void ew_say_ratio(const struct ew_ratio_answer *answer, const double *speed_rpm,
                  enum ew_unit_system units);
/* A fit: its knobs with what they are uncertain by, and what it leaves at each of `count` speeds. */
void ew_say_tuned(struct ew_tuned *tuned, const double *speed_rpm, const double *torque_n_m,
                  int count);
/* Variants, the best first. */
void ew_say_variants(const struct ew_variants *variants);
/* What a file of kept answers gave, and what in it was left alone. */
void ew_say_kept(const struct ew_variants *variants);
/* Crank-angle detail as CSV: "crank_deg", then a column a series. Its names are keys, the same in every language. */
gboolean ew_write_trace(const char *path, const struct ew_cycle_trace *trace, GError **error);
