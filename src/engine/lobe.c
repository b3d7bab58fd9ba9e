/* Lift and derivatives of either kind of lobe at an angle, and where a lift is reached on each flank, by halving.
 * The two kinds are told apart by lobe->kind and nowhere else. */
#include "base/elementary.h"
#include "engine/lobe.h"
#include <math.h>

#define RAD (G_PI / 180)

/* The ramp's last part: acceleration is a squared sine that brings the slope to zero, over the
 * length that takes half the ramp's height. */
static struct ew_lobe_point at_ramp(const struct ew_lobe *lobe, double beyond_rad) {
  double v = lobe->ramp_slope_m_rad, low = lobe->ramp_m / 2;
  double straight = (lobe->ramp_m - low) / v, length = 2 * low / v;
  if (beyond_rad <= straight)
    return (struct ew_lobe_point){lobe->ramp_m - v * beyond_rad, -v, 0, 0};
  double s = beyond_rad - straight, turn = 2 * G_PI * s / length, k = 2 * v / length;
  if (s >= length)
    return (struct ew_lobe_point){0};
  return (struct ew_lobe_point){
      low - v * s + k * (s * s / 4 + length * length / (8 * G_PI * G_PI) * (ew_cos(turn) - 1)),
      -v + k * (s / 2 - length / (4 * G_PI) * ew_sin(turn)),
      k * (1 - ew_cos(turn)) / 2,
      k * G_PI / length * ew_sin(turn),
  };
}

static struct ew_lobe_point at_main(const struct ew_lobe *lobe, double angle_rad) {
  double x = angle_rad / lobe->main_rad, m = lobe->main_rad;
  struct ew_lobe_point point = {lobe->peak_m, 0, 0, 0};
  for (int i = 0; i < 4; i++) {
    double n = lobe->power[i], c = lobe->coefficient[i];
    point.lift_m += c * ew_pow(x, n);
    point.velocity_m_rad += c * n * ew_pow(x, n - 1) / m;
    point.acceleration_m_rad2 += c * n * (n - 1) * ew_pow(x, n - 2) / (m * m);
    if (i > 0) /* the square has no third derivative */
      point.jerk_m_rad3 += c * n * (n - 1) * (n - 2) * ew_pow(x, n - 3) / (m * m * m);
  }
  return point;
}

static struct ew_lobe_point at_built(const struct ew_lobe *lobe, double angle_deg) {
  double angle = fabs(angle_deg) * RAD;
  struct ew_lobe_point point =
      angle <= lobe->main_rad ? at_main(lobe, angle) : at_ramp(lobe, angle - lobe->main_rad);
  if (angle_deg < 0) {
    point.velocity_m_rad = -point.velocity_m_rad;
    point.jerk_m_rad3 = -point.jerk_m_rad3;
  }
  return point;
}

static struct ew_lobe_point at_fitted(const struct ew_lobe *lobe, double angle_deg) {
  struct ew_lobe_point point = {lobe->cosine[0], 0, 0, 0};
  double half = angle_deg * RAD / 2;
  for (int k = 1; k <= lobe->harmonics; k++) {
    double c = ew_cos(k * half), s = ew_sin(k * half), a = lobe->cosine[k], b = lobe->sine[k];
    double w = k / 2.0;
    point.lift_m += a * c + b * s;
    point.velocity_m_rad += w * (b * c - a * s);
    point.acceleration_m_rad2 -= w * w * (a * c + b * s);
    point.jerk_m_rad3 -= w * w * w * (b * c - a * s);
  }
  return point;
}

struct ew_lobe_point ew_lobe_at(const struct ew_lobe *lobe, double from_centre_deg) {
  double angle = remainder(from_centre_deg, 720);
  if (fabs(angle) > lobe->reach_deg)
    return (struct ew_lobe_point){0};
  return lobe->kind == EW_LOBE_BUILT ? at_built(lobe, angle) : at_fitted(lobe, angle);
}

/* Outwards from the centre until the lift is passed, then halving. */
static double flank(const struct ew_lobe *lobe, double lift_m, int side) {
  double inner = 0, outer = NAN;
  for (double angle = 0.5; angle <= 360; angle += 0.5) {
    if (ew_lobe_at(lobe, side * angle).lift_m < lift_m) {
      outer = angle;
      break;
    }
    inner = angle;
  }
  for (int i = 0; i < 50; i++) {
    double middle = (inner + outer) / 2;
    if (ew_lobe_at(lobe, side * middle).lift_m < lift_m)
      outer = middle;
    else
      inner = middle;
  }
  return side * (inner + outer) / 2;
}

double ew_lobe_duration_deg(const struct ew_lobe *lobe, double lift_m, double *opens_deg,
                            double *closes_deg) {
  gboolean reached = lift_m > 0 && ew_lobe_at(lobe, 0).lift_m > lift_m;
  double opens = reached ? flank(lobe, lift_m, -1) : NAN;
  double closes = reached ? flank(lobe, lift_m, 1) : NAN;
  if (opens_deg)
    *opens_deg = opens;
  if (closes_deg)
    *closes_deg = closes;
  return closes - opens;
}

struct ew_lobe_extremes ew_lobe_extremes_of(const struct ew_lobe *lobe) {
  struct ew_lobe_extremes most = {0};
  for (double angle = -lobe->reach_deg; angle <= lobe->reach_deg; angle += 0.25) {
    struct ew_lobe_point p = ew_lobe_at(lobe, angle);
    most.velocity_m_rad = fmax(most.velocity_m_rad, fabs(p.velocity_m_rad));
    most.acceleration_m_rad2 = fmax(most.acceleration_m_rad2, p.acceleration_m_rad2);
    most.nose_deceleration_m_rad2 = fmax(most.nose_deceleration_m_rad2, -p.acceleration_m_rad2);
    most.jerk_m_rad3 = fmax(most.jerk_m_rad3, fabs(p.jerk_m_rad3));
  }
  return most;
}
