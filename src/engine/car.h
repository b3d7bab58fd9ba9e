/* What a torque curve is worth in the car: force at the wheels in each gear, where to shift, and a run from rest against air, rolling
 * resistance and a slope. docs/methods.md, "The car", has formulas, sources and what is left out. Plain values, no book. */
#pragma once
#include "base/field.h"

#define EW_CAR_GEARS 10

/* As its file says it, one record (a field table). */
struct ew_car {
  char *name;
  double mass_kg; /* with driver and fuel */
  GArray *gears;  /* double: ratios, first gear first, each lower than the one before */
  double final_drive, tyre_radius_m, drag_area_m2, rolling_resistance, efficiency;
  double wheel_inertia_kg_m2; /* of all wheels and what turns with them */
  double grip, driven_share; /* friction of the driven tyres; share of the weight that they carry */
  double shift_s, launch_rpm; /* without drive at each shift; speed at which the clutch is let in */
  double air_density_kg_m3;
  /* standard uncertainties, relative */
  double mass_doubt, drag_doubt, rolling_doubt, efficiency_doubt, grip_doubt, radius_doubt;
};
extern const struct ew_fields ew_car_fields;
/* Refuses gears out of order, none, or more than EW_CAR_GEARS; and what the field table refuses. `where` names the file. On refusal
 * nothing is held. */
gboolean ew_car_read(const struct ew_node *map, const char *where, struct ew_car *car,
                     GError **error);
void ew_car_clear(struct ew_car *car);

/* An engine as the car feels it. Speeds rise; between points the torque is linear. */
struct ew_car_engine {
  gsize points; /* 2 or more */
  const double *speed_rpm, *torque_n_m;
  double limit_rpm; /* no higher; at most the last point */
  double inertia_kg_m2;
};

/* Road speed at an engine speed in gear 0, 1 ... without slip; and the force at the wheels there, by grip alone not limited. 0 above
 * the limit; below the first point the clutch slips, and the torque is that of launch_rpm. */
double ew_car_speed_m_s(const struct ew_car *car, guint gear, double engine_rpm);
double ew_car_force_n(const struct ew_car *car, const struct ew_car_engine *e, guint gear,
                      double speed_m_s);
double ew_car_grip_n(const struct ew_car *car); /* the most that the driven tyres take */
/* Air, rolling and `grade` (rise over run, 0.12 is 12 %). */
double ew_car_resistance_n(const struct ew_car *car, double speed_m_s, double grade);
/* Engine speed at which to leave `gear` for the next: where that pulls as hard, else the limit. O(1000). */
double ew_car_shift_rpm(const struct ew_car *car, const struct ew_car_engine *e, guint gear);

struct ew_car_run {
  double grade;                       /* of the road */
  double to_speed_m_s, to_distance_m; /* what is timed; both above 0 */
};
#define EW_CAR_SHARES 32 /* of 500 rpm, from 0 on */
struct ew_car_result {
  double speed_time_s, distance_time_s; /* from rest; NaN: it is never reached */
  double distance_speed_m_s;            /* there */
  double top_m_s;                       /* where force and resistance are equal, in any gear */
  double share[EW_CAR_SHARES]; /* of the time under power up to the later of both; sums to 1 */
};
/* One run, in steps of a millisecond. O(seconds of the run, 120 at most). */
void ew_car_run(const struct ew_car *car, const struct ew_car_engine *e,
                const struct ew_car_run *run, struct ew_car_result *result);

/* What it depends on, each turned by its standard uncertainty (JCGM 100, 5.1.3 note 2); combined, k = 2. */
enum ew_car_doubt {
  EW_CAR_DOUBT_TORQUE,
  EW_CAR_DOUBT_MASS,
  EW_CAR_DOUBT_DRAG,
  EW_CAR_DOUBT_ROLLING,
  EW_CAR_DOUBT_EFFICIENCY,
  EW_CAR_DOUBT_GRIP,
  EW_CAR_DOUBT_RADIUS,
  EW_CAR_DOUBTS
};
extern const char *const ew_car_doubt_keys[EW_CAR_DOUBTS];
struct ew_car_worth {
  struct ew_car_result at;                                            /* of the figures as given */
  double speed_time_s[EW_CAR_DOUBTS], distance_time_s[EW_CAR_DOUBTS]; /* contribution, signed */
  double speed_expanded_s, distance_expanded_s;
};
/* `torque_doubt`: relative standard uncertainty of the whole curve, which moves together. */
void ew_car_worth(const struct ew_car *car, const struct ew_car_engine *e, double torque_doubt,
                  const struct ew_car_run *run, struct ew_car_worth *worth);
/* `b` less `a` in the same car. What is doubted of the car moves both; the torque of each moves alone by what remains of its
 * uncertainty in a comparison. */
struct ew_car_difference {
  double speed_time_s, speed_expanded_s, distance_time_s, distance_expanded_s;
};
void ew_car_difference(const struct ew_car *car, const struct ew_car_engine *a, double a_doubt,
                       const struct ew_car_engine *b, double b_doubt, const struct ew_car_run *run,
                       struct ew_car_difference *difference);
