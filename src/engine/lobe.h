/* A cam lobe as a smooth curve: lift and its three derivatives by crank angle, in radians of the
 * crank, around the lobe's centre. Two kinds: built from durations (lobe_built.h) and fitted to
 * readings (lobe_fit.h). */
#pragma once
#include <glib.h>

enum ew_lobe_kind { EW_LOBE_BUILT, EW_LOBE_FITTED };

#define EW_LOBE_HARMONICS 64

struct ew_lobe {
  enum ew_lobe_kind kind;
  double peak_m;
  double reach_deg; /* beyond this on either side the lifter stands on the base circle */
  /* built: L + sum c_i x^n_i up to x = 1 at main_rad, then a ramp */
  double power[4], coefficient[4];
  double main_rad, ramp_m, ramp_slope_m_rad;
  /* fitted: sum of cosines and sines of k half the crank angle */
  int harmonics;
  double cosine[EW_LOBE_HARMONICS + 1], sine[EW_LOBE_HARMONICS + 1];
  double centre_deg; /* of the readings' wheel, where this curve has its zero */
};

struct ew_lobe_point {
  double lift_m, velocity_m_rad, acceleration_m_rad2, jerk_m_rad3;
};

/* At an angle of the crank from the lobe's centre; any angle, a turn of the cam is 720. */
struct ew_lobe_point ew_lobe_at(const struct ew_lobe *lobe, double from_centre_deg);
/* Crank degrees between the flanks at a lift, and (where not NULL) both flanks from the centre.
 * NaN for a lift that the lobe does not reach. */
double ew_lobe_duration_deg(const struct ew_lobe *lobe, double lift_m, double *opens_deg,
                            double *closes_deg);
/* Greatest values over the lobe, by radian of the crank; acceleration on the nose is given as its
 * size. */
struct ew_lobe_extremes {
  double velocity_m_rad, acceleration_m_rad2, nose_deceleration_m_rad2, jerk_m_rad3;
};
struct ew_lobe_extremes ew_lobe_extremes_of(const struct ew_lobe *lobe);
