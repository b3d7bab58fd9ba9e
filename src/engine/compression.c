/* Volumes to ratios and back: what each volume would have to be for a wanted ratio. Units and formulas:
 * compression.h. */
#include "base/elementary.h"
#include "engine/compression.h"
#include "engine/slider_crank.h"
#include <math.h>

static double bore_area_m2(const struct ew_engine *engine) {
  return G_PI / 4 * engine->bore_m * engine->bore_m;
}

double ew_swept_volume_m3(const struct ew_engine *engine) {
  return ew_engine_displacement_m3(engine) / engine->cylinders;
}

static double gasket_area_m2(const struct ew_engine *engine) {
  double bore = engine->compression.gasket_bore_m;
  return isnan(bore) ? NAN : G_PI / 4 * bore * bore;
}

double ew_gasket_volume_m3(const struct ew_engine *engine) {
  const struct ew_engine_compression *c = &engine->compression;
  return isnan(c->gasket_volume_m3) ? gasket_area_m2(engine) * c->gasket_thickness_m
                                    : c->gasket_volume_m3;
}

struct ew_clearance_parts ew_clearance_parts_of(const struct ew_engine *engine, guint cylinder) {
  const struct ew_engine_compression *c = &engine->compression;
  g_assert(!c->chambers || cylinder < c->chambers->len); /* engine_rules.c: one a cylinder */
  return (struct ew_clearance_parts){
      .chamber_m3 = c->chambers ? g_array_index(c->chambers, double, cylinder) : c->chamber_m3,
      .gasket_m3 = ew_gasket_volume_m3(engine),
      .deck_m3 = bore_area_m2(engine) * c->deck_m,
      .crevice_m3 = c->crevice_m3,
      .dish_m3 = c->dish_m3,
      .dome_m3 = c->dome_m3};
}

double ew_clearance_volume_m3(const struct ew_engine *engine, guint cylinder) {
  struct ew_clearance_parts p = ew_clearance_parts_of(engine, cylinder);
  double measured = p.chamber_m3 + p.gasket_m3 + p.deck_m3 + p.crevice_m3 + p.dish_m3 - p.dome_m3;
  return isnan(measured) ? ew_swept_volume_m3(engine) / (engine->compression.ratio_stated - 1)
                         : measured;
}

static double mean_clearance_volume_m3(const struct ew_engine *engine) {
  double sum = 0;
  for (int i = 0; i < engine->cylinders; i++)
    sum += ew_clearance_volume_m3(engine, (guint)i);
  return sum / engine->cylinders;
}

double ew_compression_ratio(const struct ew_engine *engine, guint cylinder) {
  return 1 + ew_swept_volume_m3(engine) / ew_clearance_volume_m3(engine, cylinder);
}

double ew_quench_m(const struct ew_engine *engine) {
  return engine->compression.gasket_thickness_m + engine->compression.deck_m;
}

double ew_effective_compression_ratio(const struct ew_engine *engine, guint cylinder,
                                      double closes_abdc_deg) {
  double left = ew_piston_at(ew_slider_crank_of(engine), 180 - closes_abdc_deg, 0).travel_m;
  return 1 + bore_area_m2(engine) * left / ew_clearance_volume_m3(engine, cylinder);
}

double ew_cranking_pressure_pa(double air_pressure_pa, double effective_ratio, double exponent) {
  return air_pressure_pa * (ew_pow(effective_ratio, exponent) - 1);
}

struct ew_compression_answer ew_compression_answer_of(const struct ew_engine *engine) {
  double swept = ew_swept_volume_m3(engine), clear = mean_clearance_volume_m3(engine);
  double now = swept / clear;
  return (struct ew_compression_answer){
      swept / (clear - 0.25e-3 * gasket_area_m2(engine)) - now,
      swept / (clear - 0.25e-3 * bore_area_m2(engine)) - now,
      swept / (clear - 1e-6) - now,
      swept / (clear - 1e-6) - now,
  };
}

struct ew_compression_ways ew_compression_ways_to(const struct ew_engine *engine, double ratio) {
  double change = ew_swept_volume_m3(engine) / (ratio - 1) - mean_clearance_volume_m3(engine);
  double gasket = change / gasket_area_m2(engine), deck = change / bore_area_m2(engine);
  double quench = ew_quench_m(engine);
  return (struct ew_compression_ways){change, gasket, quench + gasket, deck, quench + deck};
}
