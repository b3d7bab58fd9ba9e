/* The slider-crank with an offset piston pin: piston travel and its derivatives, rod tension.
 *
 *   s = R sin t - e,  q = sqrt(L^2 - s^2)
 *   x = sqrt((R+L)^2 - e^2) - R cos t - q
 *
 * and x', x'', x''' by t, at constant speed. R half the crank's throw circle, L the rod, e the pin
 * offset towards the thrust side, t the crank angle from the bore's axis. Exact for rigid parts.
 * Source: kinematics; e.g. C. F. Taylor, The Internal-Combustion Engine in Theory and Practice,
 * vol. 2, ch. 8 (from memory). Tests: tests/reference/engine/test_slider_crank.c. */
#pragma once
#include "engine/engine.h"

struct ew_slider_crank {
  double throw_m, rod_m, offset_m;
};

struct ew_piston {
  double travel_m; /* from top dead centre */
  double velocity_m_s, acceleration_m_s2, jerk_m_s3;
};

/* From stroke, rod length and pin offset; fields are NaN where the engine does not give them.
 * Throw is taken as half the stated stroke (an offset of the pin lengthens the true stroke by less
 * than 0.1 %). */
struct ew_slider_crank ew_slider_crank_of(const struct ew_engine *engine);

/* Angle of the throw from the bore's axis at top dead centre: asin(e / (R + L)). */
double ew_slider_crank_tdc_deg(struct ew_slider_crank crank);
/* True stroke: sqrt((L+R)^2 - e^2) - sqrt((L-R)^2 - e^2). */
double ew_slider_crank_stroke_m(struct ew_slider_crank crank);
/* Piston at an angle after true top dead centre. */
struct ew_piston ew_piston_at(struct ew_slider_crank crank, double after_tdc_deg, double speed_rpm);
/* 2 S n / 60 */
double ew_mean_piston_speed_m_s(double stroke_m, double speed_rpm);
/* The fastest point of the down stroke and where it lies (after_tdc_deg may be NULL). */
double ew_peak_piston_speed_m_s(struct ew_slider_crank crank, double speed_rpm,
                                double *after_tdc_deg);
/* Tension at the big end's bolts at top dead centre of the exhaust stroke, gas pressure left out:
 * reciprocating mass times the piston's acceleration, and the big end without its cap times R w^2.
 * Whole rod, not one bolt; preload is another matter. */
double ew_rod_tension_n(struct ew_slider_crank crank, double reciprocating_kg, double rod_big_kg,
                        double cap_kg, double speed_rpm);
