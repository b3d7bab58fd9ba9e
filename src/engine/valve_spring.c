/* Moving mass at the valve, spring force by lift, and the speed of lost contact as the least over the nose. Formulas
 * and source: valve_spring.h. */
#include "engine/valve_spring.h"
#include <math.h>

static double or_zero(double value) {
  return isnan(value) ? 0 : value;
}

double ew_effective_mass_kg(const struct ew_engine_valves *s) {
  if (!isnan(s->effective_mass_kg))
    return s->effective_mass_kg;
  double rocker = or_zero(s->rocker_inertia_kg_m2 / (s->rocker_arm_m * s->rocker_arm_m));
  double lifter = or_zero(s->pushrod_mass_kg) + or_zero(s->lifter_mass_kg);
  return s->valve_mass_kg + or_zero(s->retainer_mass_kg) + or_zero(s->spring_mass_kg) / 3 + rocker +
         lifter / (s->rocker_ratio * s->rocker_ratio);
}

double ew_spring_force_n(const struct ew_engine_valves *s, double lift_m) {
  return s->spring_force_n + s->spring_rate_n_m * lift_m;
}

double ew_coil_bind_gap_m(const struct ew_engine_valves *s) {
  return s->spring_height_m - ew_net_lift_m(s) - s->lash_m - s->spring_bind_m;
}

double ew_retainer_gap_m(const struct ew_engine_valves *s) {
  return s->retainer_to_seal_m - ew_net_lift_m(s) - s->lash_m;
}

struct ew_contact_loss ew_contact_loss_of(const struct ew_engine_valves *side,
                                          const struct ew_valve_motion *motion) {
  double mass = ew_effective_mass_kg(side), least = INFINITY, at = NAN;
  for (double angle = -motion->lobe.reach_deg; angle <= motion->lobe.reach_deg; angle += 0.1) {
    struct ew_lobe_point p = ew_lobe_at(&motion->lobe, angle);
    double lift = p.lift_m * motion->rocker_ratio - motion->lash_m;
    double needed = -p.acceleration_m_rad2 * motion->rocker_ratio * mass;
    if (lift <= 0 || needed <= 0)
      continue;
    double ratio = ew_spring_force_n(side, lift) / needed;
    if (ratio < least) {
      least = ratio;
      at = angle;
    }
  }
  double speed = isfinite(least) ? sqrt(least) * 30 / G_PI : NAN;
  return (struct ew_contact_loss){speed, at};
}

double ew_spring_surge_hz(const struct ew_engine_valves *s) {
  return sqrt(s->spring_rate_n_m / s->spring_mass_kg) / 2;
}

double ew_lifter_radius_needed_m(const struct ew_lobe *lobe) {
  return 2 * ew_lobe_extremes_of(lobe).velocity_m_rad;
}
