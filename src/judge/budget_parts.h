/* What the files of the budget share: the doubt of the weather. Internal to src/judge/budget.c and figure_budget.c. */
#pragma once
#include "judge/budget.h"

/* Standard uncertainties of what was read of the weather, by the sensors' calibrations where they were recorded and calibrated, else by
 * the cell's record; without the age of what was typed. */
struct ew_weather_u {
  double pressure_pa, temperature_k, humidity;
};
struct ew_weather_u ew_weather_sensors_u(const struct ew_bench *bench,
                                         const struct ew_calibrated *calibration,
                                         const struct ew_curve *curve);
/* Of a channel that was calibrated with points enough to know: its doubt where the line gives `value`. NaN: nothing is known. */
double ew_channel_u(const struct ew_calibrated *calibration, enum ew_channel channel, double value);
