/* The standard atmosphere of ISO 2533 up to 20 km, and density altitude. */
#pragma once

double ew_standard_temperature_k(double geopotential_height_m);
double ew_standard_pressure_pa(double geopotential_height_m);
double ew_geopotential_height_m(double geometric_height_m);
/* The geopotential height that has this pressure; below 11 km. */
double ew_standard_height_m(double pressure_pa);
/* The height at which the standard atmosphere has this density; below 11 km. */
double ew_density_altitude_m(double density_kg_m3);
