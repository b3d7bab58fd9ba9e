/* Air demand, inlet Mach index, throttle sizes and tuned lengths.
 *
 *   air           m = VE rho V_d n x cycles a turn
 *   Mach index    Z = (B/D)^2 s / (C_i c)      for several valves the sum of D^2
 *   inlet tract   n = 30/(pi K) c sqrt(A/(L V)),  V = V_h (r+1) / (2(r-1)),  K = 2.1
 *   quarter wave  f = c / (4 (L + 0.6133 a))   and at m waves a cycle n = 120 f / m
 *   primary       n = 21.59 (EVO + 180) / (L + 0.076)   a rule fitted to practice, L in m
 *                 the first reflection returns 12 L n / c degrees after the valve opens
 *
 * Sources (all from memory): C. F. Taylor, The Internal-Combustion Engine, vol. 1, ch. 6, for Z (flow
 * falls beyond about 0.5 to 0.6); H. W. Engelman, ASME paper 73-WA/DGP-2, for the inlet tract;
 * Levine and Schwinger, Phys. Rev. 73 (1948), for the open end; A. G. Bell, Performance
 * Tuning in Theory and Practice, for the primary (850 ED / rpm - 3 inches). The acoustic forms are for small
 * waves in one still, warm-walled pipe: a starting length with 10 % of doubt at best (20 % for
 * exhausts, whose gas cools on the way), never a predicted peak; the cycle simulation says more.
 * Tests: tests/reference/engine/test_breathing.c. */
#pragma once
#include "engine/valve_motion.h"

double ew_sound_speed_m_s(double temperature_k, double ratio_of_heats);
/* Dry air of the engine's breathing group. */
double ew_inlet_density_kg_m3(const struct ew_engine *engine);
double ew_air_flow_kg_s(const struct ew_engine *engine, double speed_rpm);
/* Mean of the flow coefficient on pi/4 D^2 over the time the valve is open: flow bench and lift
 * curve. NaN without a flow table. */
double ew_mean_flow_coefficient(const struct ew_engine_valves *side,
                                const struct ew_valve_motion *motion);
double ew_inlet_mach_index(const struct ew_engine *engine, double mean_coefficient,
                           double speed_rpm);
/* Bore that one throttle needs for the wanted air speed. A throttle flows for its cylinders' open
 * share of the cycle, at most always. */
double ew_throttle_diameter_m(const struct ew_engine *engine, double open_deg, double speed_rpm);
/* Rated flow of carburettors at their rating's depression, restated at another. */
double ew_flow_at_depression_m3_s(double flow_m3_s, double from_pa, double to_pa);
double ew_inlet_tuned_speed_rpm(const struct ew_engine *engine, double compression_ratio);
double ew_runner_frequency_hz(const struct ew_engine *engine);
double ew_primary_tuned_speed_rpm(const struct ew_engine *engine, double exhaust_opens_bbdc_deg);
/* A caution where primaries are longer than engines have them; NULL where there is none to give. */
ew_message *ew_primary_doubt(const struct ew_engine *engine);
/* Crank degrees from opening to the first reflection from the collector. */
double ew_primary_return_deg(const struct ew_engine *engine, double speed_rpm);
