/* How the weather moves on after it was read, and what that does to a factor.
 *
 * Rates: root mean square of the change within one hour, at one place. Pressure and temperature from a year of hourly
 * readings (KNMI, Westdorpe, 2010; tests/reference/data/ugly-tables): 0.47 hPa and 0.96 K, and within three hours 1.26 hPa and
 * 2.3 K, so nearly in proportion to time. A shop's air moves less than the air outside; relative humidity: common practice,
 * no source. */
#pragma once
#include "pull/curve.h"

#define EW_WEATHER_PRESSURE_PA_S   (47.0 / 3600)
#define EW_WEATHER_TEMPERATURE_K_S (0.96 / 3600)
#define EW_WEATHER_HUMIDITY_S      (0.04 / 3600)

/* Relative standard uncertainty of a curve's factor for the age of the weather that was typed; 0 when it was read for this
 * pull or recorded with it, or when there is no factor. */
double ew_weather_drift(const struct ew_curve *curve);
/* How far a reading from there may have moved within that age, at that rate: what was recorded did not. */
double ew_weather_moved(const char *from, double rate, double age_s);
/* The air of a curve as its factor took it. The fuel of a cycle, which compression ignition needs, is made of the curve's columns again
 * (means over its points, not over samples: near enough for what a doubt in it does, not for the factor itself); NaN of other standards
 * and where a column is not there. */
struct ew_air ew_weather_air(const struct ew_curve *curve);
/* Mean of a column over the curve's points; NaN: it has none. */
double ew_curve_column_mean(const struct ew_curve *curve, const char *key);
