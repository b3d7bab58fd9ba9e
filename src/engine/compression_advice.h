/* Whether compression, cam and fuel fit each other, both ways: which ratio the fuel stands and the cam wants, which closing the ratio
 * wants, and what the difference is worth.
 *
 *   effective  r_e - 1 = (r - 1) k,  k from the inlet's closing alone
 *   the fuel   ratios at which the knock integral of fuel_check.h is 0.7 (fits) and 1 (the edge), with this cam and air
 *   the cam    ratios at which the effective ratio is 7.5 and 8.5, cranking some 10 to 12.5 bar: usual for petrol (common practice, no
 *              source; racing fuel and alcohols take more)
 *   the ratio  closings at which this ratio has those effective ratios
 *   worth      share of torque at one speed and full charge, 0.7 ((1 - r2^-0.27)/(1 - r1^-0.27) - 1): seven tenths of what an ideal cycle
 *              gains. A variable-compression single gained 9.8 % from 8 to 12 (methane) and 7.1 % from 8 to 10 (propane), where the ideal
 *              cycle gains 13.8 and 7.7 (tests/reference/data/measured-engines); half of the figure either way is its doubt.
 * Tests: tests/reference/engine/test_compression_advice.c. */
#pragma once
#include "engine/engine.h"
#include "engine/fuel_check.h"
#include <math.h>

#define EW_EFFECTIVE_LOW  7.5
#define EW_EFFECTIVE_HIGH 8.5

struct ew_compression_advice {
  double fuel_easy_ratio, fuel_edge_ratio; /* NaN: not known, or outside 4 to 20 */
  double cam_low_ratio, cam_high_ratio;
  double closes_early_deg, closes_late_deg; /* after bottom dead centre; NaN: no closing has it */
  double
      wanted_ratio; /* the middle of what the cam wants, or what the fuel stands easily where that is less */
  double torque_gain; /* relative, of that ratio over today's */
};

#define EW_NO_COMPRESSION_ADVICE                                                                   \
  ((struct ew_compression_advice){NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN})
/* fuel: the case as it is today, or NULL where the fuel is not known. cylinder from 0; closes after bottom dead centre. NaN where the
 * engine's file says too little. */
struct ew_compression_advice ew_compression_advice_of(const struct ew_engine *engine,
                                                      guint cylinder, double closes_abdc_deg,
                                                      const struct ew_fuel_case *fuel);
/* What torque gains from one ratio to another, as above. */
double ew_compression_gain(double from_ratio, double to_ratio);
