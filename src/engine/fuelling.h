/* Fuel flow, pump, injectors and jets; and what the test stand must take away.
 *
 *   fuel       m = P bsfc, or air / (lambda AFR) when no consumption is given
 *   injector   static flow = m / (N duty), at another pressure times sqrt(p/p0)
 *   pump       m / rho (1 + reserve)
 *   jet        d2 = d1 sqrt(lambda now / lambda wanted): flow goes with the jet's area
 *   water      Q = P / (c_p dT), c_p 4186 J/(kg K);   air V = share x fuel heat / (rho c_p dT)
 *
 * Exact arithmetic on estimated inputs. The jet rule holds for one jet that meters alone, at the
 * same air flow and signal. Sources: definitions; A. J. Martyr and M. A. Plint, Engine Testing, for
 * the energy balance (from memory). Tests: tests/reference/engine/test_fuelling.c. */
#pragma once
#include "engine/engine.h"

/* Of the engine: stated ratio, else of the named fuel; NaN when neither is known. */
double ew_engine_stoichiometric_ratio(const struct ew_engine *engine);
double ew_engine_heating_value_j_kg(const struct ew_engine *engine);
/* At expected power. */
double ew_fuel_flow_kg_s(const struct ew_engine *engine);
/* Static flow that each injector needs at the pressure of its rating, m3/s. */
double ew_injector_needed_m3_s(const struct ew_engine *engine, double fuel_kg_s);
/* Share of the cycle for which the fitted injectors are open at this flow. */
double ew_injector_duty(const struct ew_engine *engine, double fuel_kg_s);
double ew_pump_needed_m3_s(const struct ew_engine *engine, double fuel_kg_s);
double ew_jet_diameter_m(double jet_m, double lambda_now, double lambda_wanted);
double ew_absorber_water_kg_s(double power_w, double rise_k);
double ew_cell_air_m3_s(double heat_w, double density_kg_m3, double rise_k);
