/* A lobe fitted to readings of a dial over a degree wheel, noise and all.
 *
 * The lobe is a sum of harmonics of the cam's turn, penalised by its mean squared jerk, which counts
 * more on the nose than on the ramps, where real lobes have theirs (our own weighting); how much is
 * chosen by generalised cross-validation, so that neither a count nor a stiffness is guessed.
 *
 *   1. fill the part of the turn without readings with zeros; the dial's reading on the base circle
 *      is one more unknown b of the user's readings
 *   2. for each weight w of a grid: (A'A + w D) c = A'y, D the weighted mean of squared third
 *      derivatives (b unpenalised); keep the least n RSS / (n - 1.7 tr H)^2 over the user's readings
 *      then take the mean of the readings on the base circle for b, and fit once more
 *   3. uncertainty of the lift: residual variance times a'(A'A + w D)^-1 a, which holds noise and the
 *      bias of smoothing together, and the base circle's own
 *   4. the lobe's centre is the middle of its flanks at the check lift
 *
 * Valid for readings that begin and end on the base circle and are at most 10 crank degrees apart;
 * kinks shorter than about 15 crank degrees are rounded.
 * Sources (from memory): P. Craven and G. Wahba, Numer. Math. 31 (1979), for the choice of w; Y.-J. Kim
 * and C. Gu, J. R. Statist. Soc. B 66 (2004), for counting parameters more
 * than once (1.2 to 1.4 there; 1.7 here, because a dial rounds); G. Wahba, ibid. 45 (1983), for step 3.
 * Tests: tests/reference/engine/test_lobe.c. */
#pragma once
#include "engine/lobe.h"

struct ew_lobe_fit {
  struct ew_lobe lobe;
  double residual_sd_m; /* of the readings about the curve */
  double lift_sd_m;     /* standard uncertainty of the curve's lift, on average */
  double freedom;       /* parameters used: tr H */
  double asymmetry_deg; /* closing less opening flank at the check lift about the peak */
  gsize worst;          /* index of the reading furthest off, */
  double worst_m;       /* and by how much */
};

/* Angles in crank degrees, rising; readings in m of the lifter. Refuses too few, too sparse or
 * one-sided readings. */
gboolean ew_lobe_fit(const double *angles_deg, const double *readings_m, gsize count,
                     double check_lift_m, struct ew_lobe_fit *fit, GError **error);
