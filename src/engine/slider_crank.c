/* Position and three derivatives in closed form, top dead centre and stroke with an offset pin, and the fastest
 * point by halving on the sign of the acceleration between 20 and 130 degrees. */
#include "base/elementary.h"
#include "engine/slider_crank.h"
#include <math.h>

#define RAD (G_PI / 180)

struct ew_slider_crank ew_slider_crank_of(const struct ew_engine *engine) {
  return (struct ew_slider_crank){engine->stroke_m / 2, engine->geometry.rod_length_m,
                                  engine->geometry.pin_offset_m};
}

double ew_slider_crank_tdc_deg(struct ew_slider_crank c) {
  return ew_asin(c.offset_m / (c.throw_m + c.rod_m)) / RAD;
}

double ew_slider_crank_stroke_m(struct ew_slider_crank c) {
  double far = c.rod_m + c.throw_m, near = c.rod_m - c.throw_m;
  return sqrt(far * far - c.offset_m * c.offset_m) - sqrt(near * near - c.offset_m * c.offset_m);
}

struct ew_piston ew_piston_at(struct ew_slider_crank c, double after_tdc_deg, double speed_rpm) {
  double t = (after_tdc_deg + ew_slider_crank_tdc_deg(c)) * RAD, w = speed_rpm * G_PI / 30;
  double s = c.throw_m * ew_sin(t) - c.offset_m;
  double s1 = c.throw_m * ew_cos(t), s2 = -c.throw_m * ew_sin(t), s3 = -s1; /* by t */
  double q = sqrt(c.rod_m * c.rod_m - s * s), q3 = q * q * q;
  double far = c.rod_m + c.throw_m;
  double x1 = -s2 + s * s1 / q;
  double x2 = s1 + (s1 * s1 + s * s2) / q + s * s * s1 * s1 / q3;
  double x3 = s2 + (3 * s1 * s2 + s * s3) / q + (s1 * s1 + s * s2) * s * s1 / q3 +
              (2 * s * s1 * s1 * s1 + 2 * s * s * s1 * s2) / q3 +
              3 * s * s * s * s1 * s1 * s1 / (q3 * q * q);
  return (struct ew_piston){
      sqrt(far * far - c.offset_m * c.offset_m) - c.throw_m * ew_cos(t) - q,
      x1 * w,
      x2 * w * w,
      x3 * w * w * w,
  };
}

double ew_mean_piston_speed_m_s(double stroke_m, double speed_rpm) {
  return 2 * stroke_m * speed_rpm / 60;
}

/* Acceleration passes zero once on the way down. */
double ew_peak_piston_speed_m_s(struct ew_slider_crank crank, double speed_rpm, double *at_deg) {
  double low = 20, high = 130;
  for (int i = 0; i < 60; i++) {
    double middle = (low + high) / 2;
    if (ew_piston_at(crank, middle, speed_rpm).acceleration_m_s2 > 0)
      low = middle;
    else
      high = middle;
  }
  if (at_deg)
    *at_deg = low;
  return ew_piston_at(crank, low, speed_rpm).velocity_m_s;
}

double ew_rod_tension_n(struct ew_slider_crank crank, double reciprocating_kg, double rod_big_kg,
                        double cap_kg, double speed_rpm) {
  double w = speed_rpm * G_PI / 30;
  double piston = ew_piston_at(crank, 0, speed_rpm).acceleration_m_s2;
  return reciprocating_kg * piston + (rod_big_kg - cap_kg) * crank.throw_m * w * w;
}
