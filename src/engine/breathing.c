/* The formulas of breathing.h, one function each. A figure whose input isn't given is NaN. */
#include "engine/breathing.h"
#include "engine/compression.h"
#include "engine/slider_crank.h"
#include "engine/valve_area.h"
#include "gas/moist_air.h"
#include <math.h>

#define AIR_GAMMA     1.4
#define EXHAUST_GAMMA 1.35
#define EXHAUST_R     287.0
#define ENGELMAN_K    2.1
#define OPEN_END      0.6133
#define LONGEST_M     1.5 /* of primaries; common practice, no source */

EW_MESSAGE(primary_long, "engine.primary-long", EW_CAUTION,
           "primaries of {length} are longer than engines have them ({usual} at most): "
           "primary_length counts from the valve to the collector, not to the end of the exhaust");

double ew_sound_speed_m_s(double temperature_k, double ratio_of_heats) {
  return sqrt(ratio_of_heats * EW_GAS_CONSTANT_DRY_AIR * temperature_k);
}

double ew_inlet_density_kg_m3(const struct ew_engine *engine) {
  const struct ew_engine_breathing *b = &engine->breathing;
  return b->air_pressure_pa / (EW_GAS_CONSTANT_DRY_AIR * b->air_temperature_k);
}

static double air_volume_m3_s(const struct ew_engine *engine, double speed_rpm) {
  return engine->breathing.volumetric_efficiency * ew_engine_displacement_m3(engine) * speed_rpm /
         60 * ew_engine_cycles_per_turn(engine);
}

double ew_air_flow_kg_s(const struct ew_engine *engine, double speed_rpm) {
  return ew_inlet_density_kg_m3(engine) * air_volume_m3_s(engine, speed_rpm);
}

double ew_mean_flow_coefficient(const struct ew_engine_valves *side,
                                const struct ew_valve_motion *motion) {
  double sum = 0, head = G_PI / 4 * side->head_diameter_m * side->head_diameter_m * side->count;
  int open = 0;
  for (int i = -720; i <= 720; i++) {
    double lift = ew_valve_lift_m(motion, motion->centre_deg + i / 2.0);
    if (lift <= 0)
      continue;
    open++;
    sum += ew_effective_area_m2(side, lift) / head;
  }
  return open ? sum / open : NAN;
}

double ew_inlet_mach_index(const struct ew_engine *engine, double coefficient, double speed_rpm) {
  double valve = engine->inlet.head_diameter_m;
  double areas = engine->bore_m * engine->bore_m / (engine->inlet.count * valve * valve);
  return areas * ew_mean_piston_speed_m_s(engine->stroke_m, speed_rpm) /
         (coefficient * ew_sound_speed_m_s(engine->breathing.air_temperature_k, AIR_GAMMA));
}

double ew_throttle_diameter_m(const struct ew_engine *engine, double open_deg, double speed_rpm) {
  double throttles = engine->breathing.throttles;
  double cycle = 360 / ew_engine_cycles_per_turn(engine);
  double share = fmin(1, engine->cylinders / throttles * open_deg / cycle);
  double area =
      air_volume_m3_s(engine, speed_rpm) / throttles / share / engine->breathing.throttle_speed_m_s;
  return sqrt(4 / G_PI * area);
}

double ew_flow_at_depression_m3_s(double flow_m3_s, double from_pa, double to_pa) {
  return flow_m3_s * sqrt(to_pa / from_pa);
}

double ew_inlet_tuned_speed_rpm(const struct ew_engine *engine, double r) {
  const struct ew_engine_breathing *b = &engine->breathing;
  double area = G_PI / 4 * b->runner_diameter_m * b->runner_diameter_m;
  double volume = ew_swept_volume_m3(engine) * (r + 1) / (2 * (r - 1));
  double sound = ew_sound_speed_m_s(b->air_temperature_k, AIR_GAMMA);
  return 30 / (G_PI * ENGELMAN_K) * sound * sqrt(area / (b->runner_length_m * volume));
}

double ew_runner_frequency_hz(const struct ew_engine *engine) {
  const struct ew_engine_breathing *b = &engine->breathing;
  double length = b->runner_length_m + OPEN_END * b->runner_diameter_m / 2;
  return ew_sound_speed_m_s(b->air_temperature_k, AIR_GAMMA) / (4 * length);
}

double ew_primary_tuned_speed_rpm(const struct ew_engine *engine, double opens_bbdc_deg) {
  return 850 * 0.0254 * (opens_bbdc_deg + 180) / (engine->breathing.primary_length_m + 3 * 0.0254);
}

double ew_primary_return_deg(const struct ew_engine *engine, double speed_rpm) {
  const struct ew_engine_breathing *b = &engine->breathing;
  double sound = sqrt(EXHAUST_GAMMA * EXHAUST_R * b->exhaust_temperature_k);
  return 12 * b->primary_length_m * speed_rpm / sound;
}

ew_message *ew_primary_doubt(const struct ew_engine *engine) {
  double length = engine->breathing.primary_length_m;
  if (!(length > LONGEST_M))
    return NULL;
  return ew_message(&primary_long, ew_say_quantity("length", EW_KIND_LENGTH, length, 0),
                    ew_say_quantity("usual", EW_KIND_LENGTH, LONGEST_M, 0));
}
