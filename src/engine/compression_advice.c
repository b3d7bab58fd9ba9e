/* Compression against cam and fuel; see the header. Two bisections of 40 steps over a knock integral of some 250: O(1). */
#include "base/elementary.h"
#include "engine/compression_advice.h"
#include "engine/compression.h"
#include <math.h>

#define FITS      0.7
#define EDGE      1.0
#define LEAST     4.0
#define MOST      20.0
#define EXPONENT  0.27
#define REAL_PART 0.7
#define STEPS     40
#define EARLIEST  0.0
#define LATEST    120.0

double ew_compression_gain(double from, double to) {
  double was = 1 - ew_pow(from, -EXPONENT), is = 1 - ew_pow(to, -EXPONENT);
  return REAL_PART * (is / was - 1);
}

static double integral_at(const struct ew_fuel_case *now, double k, double ratio) {
  struct ew_fuel_case c = *now;
  c.compression_ratio = ratio;
  c.effective_ratio = 1 + (ratio - 1) * k;
  return ew_knock_integral(&c, c.octane);
}

/* The integral rises with the ratio. */
static double ratio_of_integral(const struct ew_fuel_case *now, double k, double wanted) {
  double low = LEAST, high = MOST;
  if (!(integral_at(now, k, low) < wanted && integral_at(now, k, high) > wanted))
    return NAN;
  for (int i = 0; i < STEPS; i++) {
    double middle = (low + high) / 2;
    *(integral_at(now, k, middle) < wanted ? &low : &high) = middle;
  }
  return (low + high) / 2;
}

/* The later the inlet closes, the less is left to squeeze. */
static double closing_of(const struct ew_engine *e, guint cylinder, double effective) {
  double low = EARLIEST, high = LATEST;
  if (!(ew_effective_compression_ratio(e, cylinder, low) > effective &&
        ew_effective_compression_ratio(e, cylinder, high) < effective))
    return NAN;
  for (int i = 0; i < STEPS; i++) {
    double middle = (low + high) / 2;
    *(ew_effective_compression_ratio(e, cylinder, middle) > effective ? &low : &high) = middle;
  }
  return (low + high) / 2;
}

struct ew_compression_advice ew_compression_advice_of(const struct ew_engine *e, guint cylinder,
                                                      double closes_deg,
                                                      const struct ew_fuel_case *fuel) {
  struct ew_compression_advice a = EW_NO_COMPRESSION_ADVICE;
  double ratio = ew_compression_ratio(e, cylinder),
         effective = ew_effective_compression_ratio(e, cylinder, closes_deg);
  double k = (effective - 1) / (ratio - 1);
  if (!(k > 0))
    return a;
  a.cam_low_ratio = 1 + (EW_EFFECTIVE_LOW - 1) / k;
  a.cam_high_ratio = 1 + (EW_EFFECTIVE_HIGH - 1) / k;
  a.closes_early_deg = closing_of(e, cylinder, EW_EFFECTIVE_HIGH);
  a.closes_late_deg = closing_of(e, cylinder, EW_EFFECTIVE_LOW);
  if (fuel && ew_knock_integral(fuel, fuel->octane) > 0) {
    a.fuel_easy_ratio = ratio_of_integral(fuel, k, FITS);
    a.fuel_edge_ratio = ratio_of_integral(fuel, k, EDGE);
  }
  a.wanted_ratio = fmin((a.cam_low_ratio + a.cam_high_ratio) / 2, a.fuel_easy_ratio);
  a.torque_gain = ew_compression_gain(ratio, a.wanted_ratio);
  return a;
}
