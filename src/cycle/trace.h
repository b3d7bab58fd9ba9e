/* State of a run at every step of a cycle, and its values at every degree. Internal to src/cycle. */
#pragma once
#include "cycle/plan.h"
#include "cycle/predict.h"

struct ew_trace_log;

struct ew_trace_log *ew_trace_log_new(const struct ew_cycle_plan *plan);
void ew_trace_log_free(struct ew_trace_log *log);
void ew_trace_log_clear(struct ew_trace_log *log);
/* Space for the series' values at this angle: cylinders (pressure, temperature, volume, burned
 * fraction), volumes (pressure), pipe ends (pressure, flow into the pipe). */
double *ew_trace_log_add(struct ew_trace_log *log, double deg);
struct ew_cycle_trace *ew_trace_log_grid(const struct ew_trace_log *log,
                                         const struct ew_cycle_plan *plan);
void ew_cycle_trace_free(struct ew_cycle_trace *trace);
