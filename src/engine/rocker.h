/* Rocker geometry: how far the tip wipes over the valve's end, and the pushrod length that puts the
 * wipe in the middle and makes it least.
 *
 * The tip turns on a circle of radius r about the pivot, at height h above the pivot along the stem
 * with the valve closed (positive: the tip is above, away from the valve's opening). Over a lift L
 * it wipes by the change of sqrt(r^2 - y^2) as y runs from h to h - L; least when h = L/2. The
 * pushrod is lengthened to lower the tip. Correction: the arc between the two heights over the
 * ratio, as if the pushrod's arm were r / ratio. A rocker whose roller radius matters wipes a
 * little less; the maker's procedure comes first, and the pattern on the valve tip decides.
 * Source: plane geometry. Tests: tests/reference/engine/test_valve_spring.c. */
#pragma once
#include <glib.h>

/* Width of the mark on the valve's end. */
double ew_rocker_wipe_m(double arm_m, double tip_height_m, double lift_m);
/* Positive: longer. */
double ew_pushrod_correction_m(double arm_m, double tip_height_m, double lift_m,
                               double rocker_ratio);
