/* The uncertainty of a run: each figure turned by its standard uncertainty to both sides and run again; half of the difference is its
 * contribution (JCGM 100:2008, 5.1.3 note 2). Contributions of different figures are independent. */
#include "engine/car.h"
#include <math.h>

const char *const ew_car_doubt_keys[EW_CAR_DOUBTS] = {"torque",     "mass", "drag",       "rolling",
                                                      "efficiency", "grip", "tyre_radius"};

struct times {
  double speed_s, distance_s;
};

/* The car and the engine with one figure turned by `sign` of its standard uncertainties. */
static struct times turned(const struct ew_car *given, const struct ew_car_engine *e,
                           const struct ew_car_run *run, enum ew_car_doubt which, double doubt,
                           double sign) {
  struct ew_car car = *given; /* shares the gears */
  struct ew_car_engine engine = *e;
  struct ew_car_result result;
  g_autofree double *torque = g_memdup2(e->torque_n_m, e->points * sizeof *torque);
  switch (which) {
  case EW_CAR_DOUBT_TORQUE:
    for (gsize i = 0; i < e->points; i++)
      torque[i] *= 1 + sign * doubt;
    break;
  case EW_CAR_DOUBT_MASS: car.mass_kg *= 1 + sign * car.mass_doubt; break;
  case EW_CAR_DOUBT_DRAG: car.drag_area_m2 *= 1 + sign * car.drag_doubt; break;
  case EW_CAR_DOUBT_ROLLING: car.rolling_resistance *= 1 + sign * car.rolling_doubt; break;
  case EW_CAR_DOUBT_EFFICIENCY: car.efficiency *= 1 + sign * car.efficiency_doubt; break;
  case EW_CAR_DOUBT_GRIP: car.grip *= 1 + sign * car.grip_doubt; break;
  case EW_CAR_DOUBT_RADIUS: car.tyre_radius_m *= 1 + sign * car.radius_doubt; break;
  case EW_CAR_DOUBTS: g_assert_not_reached();
  }
  engine.torque_n_m = torque;
  ew_car_run(&car, &engine, run, &result);
  return (struct times){result.speed_time_s, result.distance_time_s};
}

void ew_car_worth(const struct ew_car *car, const struct ew_car_engine *e, double torque_doubt,
                  const struct ew_car_run *run, struct ew_car_worth *worth) {
  double speed = 0, distance = 0;
  ew_car_run(car, e, run, &worth->at);
  for (int i = 0; i < EW_CAR_DOUBTS; i++) {
    struct times more = turned(car, e, run, i, torque_doubt, 1),
                 less = turned(car, e, run, i, torque_doubt, -1);
    worth->speed_time_s[i] = (more.speed_s - less.speed_s) / 2;
    worth->distance_time_s[i] = (more.distance_s - less.distance_s) / 2;
    speed += worth->speed_time_s[i] * worth->speed_time_s[i];
    distance += worth->distance_time_s[i] * worth->distance_time_s[i];
  }
  worth->speed_expanded_s = 2 * sqrt(speed); /* NaN where one of the runs does not get there */
  worth->distance_expanded_s = 2 * sqrt(distance);
}

static void add_square(struct times *sum, double speed_s, double distance_s) {
  sum->speed_s += speed_s * speed_s;
  sum->distance_s += distance_s * distance_s;
}

void ew_car_difference(const struct ew_car *car, const struct ew_car_engine *a, double a_doubt,
                       const struct ew_car_engine *b, double b_doubt, const struct ew_car_run *run,
                       struct ew_car_difference *difference) {
  struct times sum = {0};
  struct ew_car_result of_a, of_b;
  ew_car_run(car, a, run, &of_a);
  ew_car_run(car, b, run, &of_b);
  for (int i = 0; i < EW_CAR_DOUBTS; i++) {
    struct times a_more = turned(car, a, run, i, a_doubt, 1),
                 a_less = turned(car, a, run, i, a_doubt, -1),
                 b_more = turned(car, b, run, i, b_doubt, 1),
                 b_less = turned(car, b, run, i, b_doubt, -1);
    struct times x = {(a_more.speed_s - a_less.speed_s) / 2,
                      (a_more.distance_s - a_less.distance_s) / 2},
                 y = {(b_more.speed_s - b_less.speed_s) / 2,
                      (b_more.distance_s - b_less.distance_s) / 2};
    if (i == EW_CAR_DOUBT_TORQUE) {
      add_square(&sum, x.speed_s, x.distance_s);
      add_square(&sum, y.speed_s, y.distance_s);
    } else
      add_square(&sum, y.speed_s - x.speed_s, y.distance_s - x.distance_s);
  }
  *difference = (struct ew_car_difference){
      of_b.speed_time_s - of_a.speed_time_s, 2 * sqrt(sum.speed_s),
      of_b.distance_time_s - of_a.distance_time_s, 2 * sqrt(sum.distance_s)};
}
