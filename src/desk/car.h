/* Pulls of the book in a car (engine/car.h): their mean as the car feels it, and how well it is known. */
#pragma once
#include "desk/question.h"
#include "engine/car.h"

struct ew_car_mean {
  GArray *speed_rpm, *torque_n_m; /* double: where all of them reach */
  struct ew_car_engine engine;    /* points into these */
  double doubt;                   /* relative standard uncertainty of the torque, absolute */
  gboolean inertia_known;         /* the engine's own, from its record; else it is left out */
};
/* The mean of `pulls` (struct ew_loaded*, one or more), up to `limit_rpm` (NaN: as far as they go). Refused: one is discarded or held, two are the same
 * recording, or they are not alike (judge/comparable.h); they have no speeds in common; the limit lies below the curve. */
gboolean ew_desk_car_mean(const struct ew_desk *desk, const GPtrArray *pulls, double limit_rpm,
                          struct ew_car_mean *mean, GError **error);
void ew_car_mean_clear(struct ew_car_mean *mean);

/* `b` against `a` in the same car. *compared, to be freed: the comparison that tells how much of the torque's difference is known; it is
 * not kept. FALSE with *error also where the two are not comparable. */
gboolean ew_desk_car_difference(const struct ew_desk *desk, const struct ew_car *car,
                                const GPtrArray *a, const struct ew_car_mean *mean_a,
                                const GPtrArray *b, const struct ew_car_mean *mean_b,
                                const struct ew_car_run *run, struct ew_car_difference *difference,
                                struct ew_comparison **compared, GError **error);
