/* A lobe built from its lift and its durations at two lifts.
 *
 * The main part is the power polynomial of the textbooks on cams,
 *
 *   l(x) = L + c_2 x^2 + c_p x^p + c_q x^q + c_r x^r,  x = angle / main angle,  q = 2p-2, r = 3p-4,
 *
 * whose lift and slope meet a ramp of constant speed at x = 1, where acceleration and jerk are
 * zero; the ramp ends in a squared-sine blend. The fullness p (3 to 60) and the main angle follow
 * from the two durations: an inner halving finds the angle for the higher lift, an outer one the
 * fullness for the lower. Flanks mirror each other. The curve is an estimate of a lobe that was not
 * measured: durations and lift are met exactly, accelerations within what smooth lobes differ by.
 * Source: W. M. Dudley, New methods in valve cam design, SAE Trans. 2 (1948); D. A. Stoddart,
 * Polydyne cam design, Machine Design 25 (1953) (both from memory).
 * Tests: tests/reference/engine/test_lobe.c. */
#pragma once
#include "engine/lobe.h"

struct ew_lobe_card {
  double lift_m;
  double duration_deg, duration_lift_m; /* at the lower lift */
  double check_duration_deg, check_lift_m;
  double ramp_height_m, ramp_length_deg;
};

/* Refuses durations that no smooth lobe of this lift has, and says which would do. */
gboolean ew_lobe_build(const struct ew_lobe_card *card, struct ew_lobe *lobe, GError **error);
