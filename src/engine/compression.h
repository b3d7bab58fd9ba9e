/* Compression: static ratio from measured volumes, effective ratio from inlet closing, an estimate
 * of cranking pressure, and how the ratio answers to each volume.
 *
 *   V_c = chamber + gasket + pi/4 B^2 deck + crevice + dish - dome
 *   static    r = (V_s + V_c) / V_c
 *   effective r = (pi/4 B^2 x(IVC) + V_c) / V_c      x from the slider-crank
 *   cranking  p = p_air r_effective^1.22 - p_air     gauge
 *
 * Static is exact; effective is exact for its closing point but only an index, which depends on the
 * lift at which closing is taken; the exponent of cranking is common practice without a source
 * (1.18 to 1.28 from a cold slow engine to a warm quick one) and leakage is left out.
 * Source: J. B. Heywood, Internal Combustion Engine Fundamentals, ch. 2 (from memory).
 * Tests: tests/reference/engine/test_compression.c. */
#pragma once
#include "engine/engine.h"

/* Swept volume of one cylinder; NaN when neither bore and stroke nor displacement is given. */
double ew_swept_volume_m3(const struct ew_engine *engine);
/* Gasket: its stated volume, else pi/4 bore^2 thickness. */
double ew_gasket_volume_m3(const struct ew_engine *engine);
/* What the volume above the piston of one cylinder (from 0) at top dead centre is made of; a dome takes away. NaN where a
 * figure is not given. */
struct ew_clearance_parts {
  double chamber_m3, gasket_m3, deck_m3, crevice_m3, dish_m3, dome_m3;
};
struct ew_clearance_parts ew_clearance_parts_of(const struct ew_engine *engine, guint cylinder);
/* The same as one volume; from the stated ratio when
 * volumes are not given; NaN when neither is. */
double ew_clearance_volume_m3(const struct ew_engine *engine, guint cylinder);
double ew_compression_ratio(const struct ew_engine *engine, guint cylinder);
/* Gap between piston and head around the chamber: gasket thickness and deck. */
double ew_quench_m(const struct ew_engine *engine);
/* Outside these a gap is reported: common practice, no source. */
#define EW_QUENCH_LOW_M  0.8e-3
#define EW_QUENCH_HIGH_M 1.6e-3
/* With the inlet closing at an angle after bottom dead centre. */
double ew_effective_compression_ratio(const struct ew_engine *engine, guint cylinder,
                                      double closes_abdc_deg);
double ew_cranking_pressure_pa(double air_pressure_pa, double effective_ratio, double exponent);
#define EW_CRANKING_EXPONENT      1.22
#define EW_CRANKING_EXPONENT_LOW  1.18
#define EW_CRANKING_EXPONENT_HIGH 1.28

/* What a change of one figure does to the mean ratio; each is "more compression". */
struct ew_compression_answer {
  double gasket_thinner;               /* by 0.25 mm */
  double deck_higher;                  /* piston 0.25 mm higher */
  double chamber_smaller, dome_larger; /* by 1 cc */
};
struct ew_compression_answer ew_compression_answer_of(const struct ew_engine *engine);

/* Ways to reach a ratio from the mean of today's volumes; each alone is enough. Positive lengths
 * and volumes are added. Quench is what the way leaves. */
struct ew_compression_ways {
  double change_m3; /* of the clearance volume */
  double gasket_m, gasket_quench_m, deck_m, deck_quench_m;
};
struct ew_compression_ways ew_compression_ways_to(const struct ew_engine *engine, double ratio);
