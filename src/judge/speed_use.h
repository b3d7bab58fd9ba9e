/* The use of speeds: the share of the time that an engine spends at each, in steps of 500 rpm, such as a car makes of its curve
 * (engine/car.h). Weighs "better": a gain where the engine is counts, one where it never is does not. */
#pragma once
#include "pull/curve.h"

#define EW_SPEED_USE_RPM   500.0
#define EW_SPEED_USE_STEPS 40  /* to 20,000 rpm */
#define EW_SPEED_USE_LEAST 0.5 /* of the time has to lie where every pull reaches */

struct ew_speed_use {
  double share[EW_SPEED_USE_STEPS]; /* step k: from 500 k to 500 (k + 1) rpm; from 0 up */
};
/* What of the time lies between two speeds; within a step it is spread evenly. 0 to the sum of the shares. */
double ew_speed_use_between(const struct ew_speed_use *use, double low_rpm, double high_rpm);
/* The speeds from which to which it is used, within low to high. FALSE: nowhere there. */
gboolean ew_speed_use_range(const struct ew_speed_use *use, double *low_rpm, double *high_rpm);
/* Mean of the logarithm of torque from low to high, each step weighing what it is used; NaN where the curve does not reach, or nothing
 * of the use lies there. */
double ew_speed_use_log(const struct ew_speed_use *use, const struct ew_curve *curve,
                        double low_rpm, double high_rpm);
