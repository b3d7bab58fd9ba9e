/* Force, resistance and shift speeds (docs/methods.md, "The car"):
 *
 *   1. v = r w / (i_k i_f)                       road speed of an engine speed w, no slip
 *   2. F_k = T(w) i_k i_f eta / r                force at the wheels in gear k
 *   3. R = rho/2 (c_d A) v^2 + m g (c_r cos a + sin a)
 *   4. shift where F_k+1(v) = F_k(v), at the limit where it stays below
 *   5. (m + (I_w + I_e (i_k i_f)^2) / r^2) dv/dt = min(F_k, grip) - R
 *
 * Sources: T. D. Gillespie, Fundamentals of Vehicle Dynamics, SAE 1992, ch. 2 and 4; J. Y. Wong, Theory of Ground Vehicles, ch. 3 (both
 * from memory). Left out: slip of the tyres, load that moves to the rear, wind, losses that depend on speed. */
#include "engine/car.h"
#include <math.h>

#define GRAVITY 9.80665 /* standard value, ISO 80000-3 */

static double ratio(const struct ew_car *car, guint gear) {
  g_assert(gear < car->gears->len);
  return g_array_index(car->gears, double, gear) * car->final_drive;
}

double ew_car_speed_m_s(const struct ew_car *car, guint gear, double engine_rpm) {
  return engine_rpm * G_PI / 30 * car->tyre_radius_m / ratio(car, gear);
}

static double engine_rpm(const struct ew_car *car, guint gear, double speed_m_s) {
  return speed_m_s * ratio(car, gear) / car->tyre_radius_m * 30 / G_PI;
}

/* Where the clutch is let in: launch_speed, within the curve. */
static double launch_of(const struct ew_car *car, const struct ew_car_engine *e) {
  double wanted = isnan(car->launch_rpm) ? e->speed_rpm[0] : car->launch_rpm;
  return CLAMP(wanted, e->speed_rpm[0], e->limit_rpm);
}

static double torque_at(const struct ew_car_engine *e, double speed_rpm) {
  gsize i = 1;
  if (speed_rpm <= e->speed_rpm[0])
    return e->torque_n_m[0];
  while (i + 1 < e->points && e->speed_rpm[i] < speed_rpm)
    i++;
  double share = (speed_rpm - e->speed_rpm[i - 1]) / (e->speed_rpm[i] - e->speed_rpm[i - 1]);
  return e->torque_n_m[i - 1] + MIN(share, 1) * (e->torque_n_m[i] - e->torque_n_m[i - 1]);
}

double ew_car_force_n(const struct ew_car *car, const struct ew_car_engine *e, guint gear,
                      double speed_m_s) {
  g_assert(e->points >= 2 && e->limit_rpm <= e->speed_rpm[e->points - 1]);
  double speed = engine_rpm(car, gear, speed_m_s);
  if (speed > e->limit_rpm * (1 + 1e-12))
    return 0;
  double least = gear == 0 ? launch_of(car, e) : e->speed_rpm[0];
  return torque_at(e, MAX(speed, least)) * ratio(car, gear) * car->efficiency / car->tyre_radius_m;
}

double ew_car_grip_n(const struct ew_car *car) {
  return car->grip * car->driven_share * car->mass_kg * GRAVITY;
}

double ew_car_resistance_n(const struct ew_car *car, double speed_m_s, double grade) {
  double along = sqrt(1 + grade * grade); /* of a rise of `grade` over a run of 1 */
  double air = 0.5 * car->air_density_kg_m3 * car->drag_area_m2 * speed_m_s * speed_m_s;
  return air + car->mass_kg * GRAVITY * (car->rolling_resistance + grade) / along;
}

/* From the limit downwards to where the next gear no longer pulls harder; then halved. */
double ew_car_shift_rpm(const struct ew_car *car, const struct ew_car_engine *e, guint gear) {
  const int steps = 1000;
  double low = e->speed_rpm[0], high = e->limit_rpm;
  if (gear + 1 >= car->gears->len)
    return high;
#define NEXT_PULLS(rpm)                                                                            \
  (ew_car_force_n(car, e, gear + 1, ew_car_speed_m_s(car, gear, rpm)) >                            \
   ew_car_force_n(car, e, gear, ew_car_speed_m_s(car, gear, rpm)))
  if (!NEXT_PULLS(high))
    return high;
  double step = (high - low) / steps, at = high;
  while (at - step > low && NEXT_PULLS(at - step))
    at -= step;
  double under = MAX(at - step, low), above = at;
  for (int i = 0; i < 40; i++) {
    double middle = (under + above) / 2;
    if (NEXT_PULLS(middle))
      above = middle;
    else
      under = middle;
  }
#undef NEXT_PULLS
  return above;
}

/* ---- a run ---- */

#define STEP_S    0.001
#define LONGEST_S 120.0

struct motion {
  const struct ew_car *car;
  const struct ew_car_engine *e;
  double grade, shift_m_s[EW_CAR_GEARS], grip_n;
  guint gear;
  double time_s, speed_m_s, distance_m, coasts_s; /* left of a shift */
};

static double acceleration(const struct motion *m, double speed_m_s) {
  const struct ew_car *car = m->car;
  double turning = ratio(car, m->gear);
  gboolean driven = m->coasts_s <= 0;
  gboolean slipping = engine_rpm(car, m->gear, speed_m_s) < launch_of(car, m->e) && m->gear == 0;
  double inertia = car->wheel_inertia_kg_m2;
  if (driven && !slipping)
    inertia += m->e->inertia_kg_m2 * turning * turning;
  double mass = car->mass_kg + inertia / (car->tyre_radius_m * car->tyre_radius_m);
  double force = driven ? MIN(ew_car_force_n(car, m->e, m->gear, speed_m_s), m->grip_n) : 0;
  return (force - ew_car_resistance_n(car, speed_m_s, m->grade)) / mass;
}

/* Heun's method; a car that rolls back stands. */
static void step(struct motion *m) {
  double first = acceleration(m, m->speed_m_s);
  double second = acceleration(m, m->speed_m_s + first * STEP_S);
  double next = MAX(m->speed_m_s + 0.5 * (first + second) * STEP_S, 0);
  m->distance_m += 0.5 * (m->speed_m_s + next) * STEP_S;
  m->speed_m_s = next;
  m->time_s += STEP_S;
  m->coasts_s -= STEP_S;
  if (m->coasts_s <= 0 && m->gear + 1 < m->car->gears->len &&
      m->speed_m_s >= m->shift_m_s[m->gear]) {
    m->gear++;
    m->coasts_s = m->car->shift_s;
  }
}

static void count_share(const struct motion *m, double share[EW_CAR_SHARES]) {
  if (m->coasts_s > 0)
    return;
  double speed = engine_rpm(m->car, m->gear, m->speed_m_s);
  if (m->gear == 0)
    speed = MAX(speed, launch_of(m->car, m->e));
  share[MIN((int)(speed / 500), EW_CAR_SHARES - 1)] += STEP_S;
}

static double crossing(double from, double to, double at, double time_s) {
  return time_s - STEP_S * (to > from ? (to - at) / (to - from) : 0);
}

/* The highest speed at which any gear still pulls as hard as is resisted. */
static double top_speed(const struct motion *m) {
  double top = 0;
  for (guint gear = 0; gear < m->car->gears->len; gear++) {
    double limit = ew_car_speed_m_s(m->car, gear, m->e->limit_rpm);
    for (int i = 2000; i > 0; i--) {
      double v = limit * i / 2000;
      if (MIN(ew_car_force_n(m->car, m->e, gear, v), m->grip_n) >=
          ew_car_resistance_n(m->car, v, m->grade)) {
        top = MAX(top, v);
        break;
      }
    }
  }
  return top;
}

static void normalise(double share[EW_CAR_SHARES]) {
  double sum = 0;
  for (int i = 0; i < EW_CAR_SHARES; i++)
    sum += share[i];
  for (int i = 0; i < EW_CAR_SHARES && sum > 0; i++)
    share[i] /= sum;
}

void ew_car_run(const struct ew_car *car, const struct ew_car_engine *e,
                const struct ew_car_run *run, struct ew_car_result *result) {
  g_assert(run->to_speed_m_s > 0 && run->to_distance_m > 0);
  struct motion m = {.car = car, .e = e, .grade = run->grade, .grip_n = ew_car_grip_n(car)};
  *result = (struct ew_car_result){NAN, NAN, NAN, 0, {0}};
  for (guint gear = 0; gear < car->gears->len; gear++)
    m.shift_m_s[gear] = ew_car_speed_m_s(car, gear, ew_car_shift_rpm(car, e, gear));
  result->top_m_s = top_speed(&m);
  while (m.time_s < LONGEST_S && (isnan(result->speed_time_s) || isnan(result->distance_time_s))) {
    double speed = m.speed_m_s, distance = m.distance_m;
    count_share(&m, result->share);
    step(&m);
    if (isnan(result->speed_time_s) && m.speed_m_s >= run->to_speed_m_s)
      result->speed_time_s = crossing(speed, m.speed_m_s, run->to_speed_m_s, m.time_s);
    if (isnan(result->distance_time_s) && m.distance_m >= run->to_distance_m) {
      result->distance_time_s = crossing(distance, m.distance_m, run->to_distance_m, m.time_s);
      result->distance_speed_m_s = m.speed_m_s;
    }
  }
  normalise(result->share);
}
