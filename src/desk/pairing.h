/* Which piston goes into which bore, from the build's own measurements: the least bore of each cylinder, the piston at its gauge point,
 * and the clearance wanted. Method and source: build/fit.h. */
#pragma once
#include "build/fit.h"
#include "desk/build.h"

struct ew_pairing {
  gsize count;
  double wanted_m;      /* the middle of the target, or as asked */
  double worst_m;       /* greatest deviation from it, so paired */
  double as_numbered_m; /* the same, each piston in the bore of its number */
  struct ew_fit_pair pairs[24];
};
/* clearance_m NaN: the middle of the template's target. Refused: there is none; a cylinder without bore or piston. */
gboolean ew_bench_pairing(const struct ew_bench_build *bench, double clearance_m,
                          struct ew_pairing *pairing, GError **error);
