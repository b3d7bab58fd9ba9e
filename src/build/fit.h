/* Selective fit: which piston into which bore.
 *
 * Sorted pistons into sorted bores: for every convex cost of the difference (its greatest deviation
 * from the wanted clearance, its sum of squares) no other order does better. Source: the
 * rearrangement inequality, Hardy, Littlewood and Pólya, Inequalities (1934), chapter 10. */
#pragma once
#include <glib.h>

struct ew_fit_pair {
  int bore, piston;                  /* from 1 */
  double clearance_m, as_numbered_m; /* as proposed; with piston k in bore k */
};
/* pairs: `count` of them, ordered by bore. Returns the greatest deviation from wanted_m as proposed;
 * *as_numbered_m gets it for piston k in bore k. */
double ew_selective_fit(const double *bores_m, const double *pistons_m, gsize count,
                        double wanted_m, struct ew_fit_pair *pairs, double *as_numbered_m);
