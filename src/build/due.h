/* What is due: running time of the engine against the life of each part. */
#pragma once
#include "build/build.h"

struct ew_build_due {
  const struct ew_build_part *part;
  double used_s, life_s;        /* since it was fitted */
  double above_s, life_above_s; /* above its speed; NaN: no such limit */
  double share;                 /* the greater of both; 1 is due */
};
/* running_s and above_s[k] (seconds above k x 500 rpm, `bins` of them) are the engine's from stored
 * raw; time told later (`after:`) is added to running_s here. Parts without a life are left out.
 * Time above a speed counts from stored raw only, and all of it for a part fitted later. */
GArray *ew_build_due_list(const struct ew_build *build, double running_s, const double *above_s,
                          gsize bins);
/* Running time and runs that were told after delivery. */
double ew_build_told_s(const struct ew_build *build, int *runs);
