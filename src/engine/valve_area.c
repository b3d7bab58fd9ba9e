/* The three stages of valve_area.h, and effective areas by a bench's rows: linear from nothing at no lift through
 * each row, level beyond the last; NaN without a bench. */
#include "base/elementary.h"
#include "engine/valve_area.h"
#include "gas/moist_air.h"
#include <math.h>

#define RAD   (G_PI / 180)
#define GAMMA 1.4

double ew_curtain_area_m2(double head_diameter_m, double lift_m) {
  return G_PI * head_diameter_m * lift_m;
}

double ew_throat_area_m2(const struct ew_engine_valves *side) {
  double stem = isnan(side->stem_diameter_m) ? 0 : side->stem_diameter_m;
  return G_PI / 4 * (side->throat_diameter_m * side->throat_diameter_m - stem * stem);
}

static double seat_area(double head, double width, double angle, double lift) {
  if (!(width > 0))
    return ew_curtain_area_m2(head, lift);
  if (lift < width / (ew_sin(angle) * ew_cos(angle)))
    return G_PI * lift * ew_cos(angle) * (head - 2 * width + lift / 2 * ew_sin(2 * angle));
  return G_PI * (head - width) * ew_hypot(lift - width * ew_tan(angle), width);
}

double ew_valve_minimum_area_m2(const struct ew_engine_valves *side, double lift_m) {
  double area =
      seat_area(side->head_diameter_m, side->seat_width_m, side->seat_angle_deg * RAD, lift_m);
  double throat = ew_throat_area_m2(side);
  return isnan(throat) ? area : fmin(area, throat);
}

double ew_ideal_flow_m_s(double upstream_pa, double upstream_k, double downstream_pa) {
  double critical = ew_pow(2 / (GAMMA + 1), GAMMA / (GAMMA - 1));
  double ratio = fmax(downstream_pa / upstream_pa, critical);
  double drop = 1 - ew_pow(ratio, (GAMMA - 1) / GAMMA);
  return sqrt(EW_GAS_CONSTANT_DRY_AIR * upstream_k) * ew_pow(ratio, 1 / GAMMA) *
         sqrt(2 * GAMMA / (GAMMA - 1) * drop);
}

static double effective_area_of(const struct ew_engine_valves *side, guint row) {
  g_assert(side->flows && row < side->flows->len);
  double flow = g_array_index(side->flows, double, row);
  return flow / ew_ideal_flow_m_s(side->flow_pressure_pa, side->flow_temperature_k,
                                  side->flow_pressure_pa - side->flow_depression_pa);
}

struct ew_flow_coefficients ew_flow_coefficients_at(const struct ew_engine_valves *side,
                                                    guint row) {
  g_assert(side->flow_lifts && row < side->flow_lifts->len);
  double lift = g_array_index(side->flow_lifts, double, row);
  double area = effective_area_of(side, row) / side->count, head = side->head_diameter_m;
  return (struct ew_flow_coefficients){
      lift,
      g_array_index(side->flows, double, row),
      area / ew_curtain_area_m2(head, lift),
      area / ew_valve_minimum_area_m2(side, lift),
      area / (G_PI / 4 * head * head),
  };
}

double ew_effective_area_m2(const struct ew_engine_valves *side, double lift_m) {
  double lift_before = 0, area_before = 0;
  if (!side->flows)
    return NAN;
  for (guint row = 0; row < side->flows->len; row++) {
    double lift = g_array_index(side->flow_lifts, double, row), area = effective_area_of(side, row);
    if (lift_m <= lift)
      return area_before + (area - area_before) * (lift_m - lift_before) / (lift - lift_before);
    lift_before = lift;
    area_before = area;
  }
  return area_before;
}
