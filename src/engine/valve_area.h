/* Flow areas of a poppet valve, and coefficients from a flow bench.
 *
 * Curtain: pi D L. Smallest geometric area in three stages (seat width w along the cone, seat angle
 * b from the head's plane, D_m = D - w):
 *
 *   1. L < w / (sin b cos b)     pi L cos b (D - 2w + (L/2) sin 2b)
 *   2. beyond                    pi D_m sqrt((L - w tan b)^2 + w^2)
 *   3. and never more than       pi/4 (throat^2 - stem^2)
 *
 * Source: J. B. Heywood, Internal Combustion Engine Fundamentals, section 6.3 (from memory).
 * A coefficient is measured flow over the ideal flow of an area between the same pressures,
 * isentropic and compressible, as volume at the upstream state; always said with its area. The
 * incompressible ideal would give coefficients 4 % lower at 7 kPa.
 * Tests: tests/reference/engine/test_valve_area.c. */
#pragma once
#include "engine/engine.h"

double ew_curtain_area_m2(double head_diameter_m, double lift_m);
/* Of one valve. Width 0 or NaN: the curtain; throat NaN: no third stage. */
double ew_valve_minimum_area_m2(const struct ew_engine_valves *side, double lift_m);
/* Throat less stem, of one valve; NaN when the throat is not given. */
double ew_throat_area_m2(const struct ew_engine_valves *side);

/* Ideal volume flow through 1 m2 at the upstream state, m/s; ratio of specific heats 1.4. Choked
 * beyond the critical pressure ratio. */
double ew_ideal_flow_m_s(double upstream_pa, double upstream_k, double downstream_pa);

struct ew_flow_coefficients {
  double lift_m, flow_m3_s;
  double on_curtain, on_minimum, on_head; /* areas: curtain, smallest, pi/4 D^2; all valves */
};
/* One row a lift of the bench's table; `count` of the engine's flows. */
struct ew_flow_coefficients ew_flow_coefficients_at(const struct ew_engine_valves *side, guint row);
/* Effective area at a lift: straight lines between the bench's rows from zero on, the last row
 * beyond. All valves of the side. NaN without a table. */
double ew_effective_area_m2(const struct ew_engine_valves *side, double lift_m);
