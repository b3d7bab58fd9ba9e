/* Moist air: saturation pressure of water, and vapour pressure from what a weather station reads.
 *
 * Sources: IAPWS SR1-86(1992), Wagner and Pruss, for saturation over liquid water; ASHRAE Handbook,
 * Fundamentals, chapter 1, for the wet bulb. The coefficients were typed from memory and agree with
 * the reference libraries named in tests/reference. */
#pragma once
#include <glib.h>

#define EW_GAS_CONSTANT_DRY_AIR 287.05287 /* J/(kg K), ISO 2533 */
#define EW_GAS_CONSTANT_VAPOUR  461.5     /* J/(kg K) */

/* Saturation pressure over liquid water, also below freezing (supercooled); 230 K to 647 K. */
double ew_saturation_pressure_pa(double temperature_k);

/* The temperature at which vapour of this pressure saturates; inverse of the above. */
double ew_dew_point_k(double vapour_pressure_pa);

double ew_vapour_from_relative_humidity_pa(double relative_humidity, double temperature_k);
double ew_vapour_from_dew_point_pa(double dew_point_k);
/* Thermodynamic wet bulb above freezing; the wick must be ventilated with 3 m/s or more. */
double ew_vapour_from_wet_bulb_pa(double pressure_pa, double temperature_k, double wet_bulb_k);

/* kg/m3 of moist air */
double ew_moist_air_density_kg_m3(double pressure_pa, double temperature_k,
                                  double vapour_pressure_pa);
/* kg of water per kg of dry air */
double ew_humidity_ratio(double pressure_pa, double vapour_pressure_pa);
