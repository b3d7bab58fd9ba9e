/* How a lane begins: cold, refined from a run on coarser cells, or where another engine's run left off.
 *
 * Cold: still gas in pipes and volumes, fresh before the valves and burned behind them, cylinders by their
 * phase. A guess, good enough that the first cycle runs; the steady cycle does not depend on it. */
#include "base/elementary.h"
#include "cycle/state.h"
#include <math.h>
#include <string.h>

#define EXHAUST_K      850 /* gas of exhaust pipes and silencers at a cold start */
#define EXHAUST_WALL_K 700

/* ---- cold ---- */

static void set_cell(struct ew_cycle_state *s, int lane, int part, const struct ew_working_gas *gas,
                     double volume_m3, double pressure_pa, double t, double burned, double fuel) {
  double mass = pressure_pa / (ew_working_gas_constant(gas, burned, fuel) * t) * volume_m3;
  const double amounts[EW_CONSERVED] = {[EW_MASS] = mass,
                                        [EW_MOMENTUM] = 0,
                                        [EW_ENERGY] =
                                            mass * ew_working_gas_energy(gas, burned, fuel, t),
                                        [EW_BURNED] = mass * burned,
                                        [EW_FUEL] = mass * fuel};
  for (int k = 0; k < EW_CONSERVED; k++)
    ew_state_at(s, EW_STATE_CELLS, k, part)[lane] = amounts[k];
  ew_state_at(s, EW_STATE_CELLS, EW_CELL_TEMPERATURE, part)[lane] = t;
}

static void fill_pipes(struct ew_cycle_state *s, int lane, const struct ew_cycle_laid *laid) {
  const struct ew_cycle_plan *plan = laid->plan;
  for (int i = 0; i < laid->pipes; i++) {
    gboolean hot = ew_plan_pipes(plan)[i].exhaust != 0;
    for (int c = 0; c < laid->count[i]; c++) {
      int part = ew_state_cell(s, i, c), of = laid->first[i] + c;
      double wall = laid->wall_k[of];
      set_cell(s, lane, part, &laid->gas, laid->volume_m3[of], plan->ambient_pa,
               hot ? EXHAUST_K : plan->charge_k, hot ? 1 : 0, hot ? 0 : plan->charge_fuel);
      ew_state_at(s, EW_STATE_CELLS, EW_CELL_WALL, part)[lane] =
          isnan(wall) ? EXHAUST_WALL_K : wall;
    }
  }
}

static void fill_volumes(struct ew_cycle_state *s, int lane, const struct ew_cycle_laid *laid) {
  const struct ew_cycle_plan *plan = laid->plan;
  for (int v = 0; v < s->volumes; v++) {
    const struct ew_plan_volume *volume = &ew_plan_volumes(plan)[v];
    gboolean hot = volume->exhaust != 0;
    double t = hot ? EXHAUST_K : plan->charge_k, yb = hot ? 1 : 0, yf = hot ? 0 : plan->charge_fuel;
    double mass =
        plan->ambient_pa * volume->volume_m3 / (ew_working_gas_constant(&laid->gas, yb, yf) * t);
    const double words[EW_VOLUMES_WORDS] = {
        mass, mass * ew_working_gas_energy(&laid->gas, yb, yf, t), mass * yb, mass * yf, t};
    for (int w = 0; w < EW_VOLUMES_WORDS; w++)
      ew_state_at(s, EW_STATE_VOLUMES, w, v)[lane] = words[w];
  }
}

/* A plausible cold start by phase: fresh before firing, burned after it. */
static struct ew_cylinder cold_cylinder(const struct ew_cycle_laid *laid, int i, double speed_rpm,
                                        double deg) {
  const struct ew_cycle_plan *plan = laid->plan;
  struct ew_cylinder_frame frame, *f = &frame;
  struct ew_cylinder c;
  ew_cycle_frame_of(laid, i, speed_rpm, f);
  double from = ew_plan_cylinders(plan)[i].shut_from_deg,
         to = ew_plan_cylinders(plan)[i].shut_to_deg;
  double v = ew_cylinder_volume_m3(f, deg), zf = laid->gas.fuel_share, ambient = plan->ambient_pa;
  if (deg > from && deg < 0) {
    double ratio = ew_cylinder_volume_m3(f, from) / v;
    ew_cylinder_fill(f, deg, ambient * ew_pow(ratio, 1.34), 350 * ew_pow(ratio, 0.34), 0.03,
                     0.97 * zf, &c);
  } else if (deg >= 0 && deg < to) {
    double ratio = ew_cylinder_volume_m3(f, to) / v;
    ew_cylinder_fill(f, deg, 4 * ambient * ew_pow(ratio, 1.28), 1400 * ew_pow(ratio, 0.28), 1, 0,
                     &c);
  } else {
    gboolean burned = deg > 0;
    ew_cylinder_fill(f, deg, ambient, burned ? 900 : 350, burned ? 1 : 0.05, burned ? 0 : 0.95 * zf,
                     &c);
  }
  if (deg > from && deg < to) {
    ew_cylinder_shut(f, &c);
    if (deg >= 0) {
      c.stage = EW_EXPANSION;
      c.z = c.x = 1;
    }
  }
  return c;
}

static void fill_cylinders(struct ew_cycle_state *s, int lane, const struct ew_cycle_laid *laid,
                           double speed_rpm) {
  for (int i = 0; i < s->cylinders; i++) {
    double deg = ew_cycle_local_angle(laid->plan, i, 0);
    struct ew_cylinder c = cold_cylinder(laid, i, speed_rpm, deg);
    ew_state_put_cylinder(s, EW_STATE_CYLINDERS, lane, i, &c);
    ew_state_put_cylinder(s, EW_STATE_SHUT, lane, i, &c);
    ew_state_at(s, EW_STATE_CLOSED, EW_CLOSED_DEG, i)[lane] = deg;
  }
}

static void set_still_node(struct ew_cycle_state *s, int lane, int node,
                           const struct ew_working_gas *gas, double p, double t, double yb,
                           double yf) {
  double r = ew_working_gas_constant(gas, yb, yf), cv = ew_working_gas_cv(gas, yb, yf, t);
  const double words[EW_NODES_GAINED] = {
      p, t, r, 1 + r / cv, ew_working_gas_energy(gas, yb, yf, t) + r * t, yb, yf};
  for (int w = 0; w < EW_NODES_GAINED; w++)
    ew_state_at(s, EW_STATE_NODES, w, node)[lane] = words[w];
}

static void clear_lane(struct ew_cycle_state *s, int lane) {
  g_assert(lane >= 0 && lane < EW_LANES);
  for (gsize i = s->row[EW_STATE_ENDS]; i < s->rows; i++)
    s->value[i][lane] = 0;
  for (int w = EW_CELL_HEAT; w < EW_CELL_WORDS; w++)
    for (int c = 0; c < s->parts[EW_STATE_CELLS]; c++)
      ew_state_at(s, EW_STATE_CELLS, w, c)[lane] = 0;
}

/* Ghosts as in a new state, so that a lane's bits do not depend on who had it before. */
static void reset_ghosts(struct ew_cycle_state *s, int lane) {
  static const double rest[] = {
      [EW_MASS] = 1, [EW_ENERGY] = 2e5, [EW_CELL_TEMPERATURE] = 300, [EW_CELL_WALL] = 300};
  for (int c = 0; c < s->parts[EW_STATE_CELLS]; c++)
    for (gsize w = 0; w < G_N_ELEMENTS(rest); w++)
      ew_state_at(s, EW_STATE_CELLS, (int)w, c)[lane] = rest[w];
}

void ew_cycle_state_cold(struct ew_cycle_state *s, int lane, const struct ew_cycle_laid *laid,
                         double speed_rpm, double spark_deg) {
  g_assert(lane >= 0 && lane < EW_LANES);
  const struct ew_cycle_plan *plan = laid->plan;
  clear_lane(s, lane);
  reset_ghosts(s, lane);
  fill_pipes(s, lane, laid);
  fill_volumes(s, lane, laid);
  fill_cylinders(s, lane, laid, speed_rpm);
  set_still_node(s, lane, EW_NODE_CHARGE, &laid->gas, plan->ambient_pa, plan->charge_k, 0,
                 plan->charge_fuel);
  set_still_node(s, lane, EW_NODE_AIR, &laid->gas, plan->exhaust_back_pa, plan->ambient_k, 0, 0);
  ew_state_run(s, EW_RUN_SPEED_RPM)[lane] = speed_rpm;
  ew_state_run(s, EW_RUN_SPARK_DEG)[lane] = ew_state_run(s, EW_RUN_SOUGHT_DEG)[lane] = spark_deg;
  ew_state_run(s, EW_RUN_MBT_DEG)[lane] = NAN;
}

/* ---- refined ---- */

/* A coarse cell as it is handed on: kg/m3, m/s, J/kg (total), burned, fuel, K, wall K. */
struct cell {
  double density, velocity, energy, burned, fuel, temperature, wall;
};

static struct cell cell_of(const struct ew_cycle_state *s, int lane,
                           const struct ew_cycle_laid *laid, int pipe, int c) {
  int part = ew_state_cell(s, pipe, c);
  double amount[EW_CELL_WORDS];
  for (int w = 0; w < EW_CELL_WORDS; w++)
    amount[w] = ew_state_at(s, EW_STATE_CELLS, w, part)[lane];
  double mass = amount[EW_MASS];
  return (struct cell){mass / laid->volume_m3[laid->first[pipe] + c],
                       amount[EW_MOMENTUM] / mass,
                       amount[EW_ENERGY] / mass,
                       amount[EW_BURNED] / mass,
                       amount[EW_FUEL] / mass,
                       amount[EW_CELL_TEMPERATURE],
                       amount[EW_CELL_WALL]};
}

static void put_cell(struct ew_cycle_state *s, int lane, const struct ew_cycle_laid *laid, int pipe,
                     int c, const struct cell *from) {
  int part = ew_state_cell(s, pipe, c), of = laid->first[pipe] + c;
  double mass = from->density * laid->volume_m3[of];
  const double amounts[EW_CONSERVED] = {[EW_MASS] = mass,
                                        [EW_MOMENTUM] = mass * from->velocity,
                                        [EW_ENERGY] = mass * from->energy,
                                        [EW_BURNED] = mass * from->burned,
                                        [EW_FUEL] = mass * from->fuel};
  for (int k = 0; k < EW_CONSERVED; k++)
    ew_state_at(s, EW_STATE_CELLS, k, part)[lane] = amounts[k];
  ew_state_at(s, EW_STATE_CELLS, EW_CELL_TEMPERATURE, part)[lane] = from->temperature;
  if (isnan(laid->wall_k[of]))
    ew_state_at(s, EW_STATE_CELLS, EW_CELL_WALL, part)[lane] = from->wall;
}

static void copy_group(struct ew_cycle_state *to, int lane, const struct ew_cycle_state *from,
                       int from_lane, enum ew_state_group group, int words) {
  g_assert(to->parts[group] == from->parts[group]);
  for (int w = 0; w < words; w++)
    for (int part = 0; part < to->parts[group]; part++)
      ew_state_at(to, group, w, part)[lane] = ew_state_at(from, group, w, part)[from_lane];
}

void ew_cycle_state_refine(struct ew_cycle_state *s, int lane, const struct ew_cycle_laid *laid,
                           const struct ew_cycle_state *from, int from_lane,
                           const struct ew_cycle_laid *coarse) {
  g_assert(lane >= 0 && lane < EW_LANES && from_lane >= 0 && from_lane < EW_LANES);
  static const enum ew_state_run handed_on[] = {EW_RUN_SPARK_DEG, EW_RUN_SOUGHT_DEG, EW_RUN_MBT_DEG,
                                                EW_RUN_KNOCK_LIMITED};
  for (int i = 0; i < s->pipes; i++)
    for (int c = 0; c < laid->count[i]; c++) {
      int holds_it = (int)((c + 0.5) * coarse->count[i] / laid->count[i]);
      struct cell cell = cell_of(from, from_lane, coarse, i, holds_it);
      put_cell(s, lane, laid, i, c, &cell);
    }
  copy_group(s, lane, from, from_lane, EW_STATE_VOLUMES, EW_VOLUMES_WORDS);
  copy_group(s, lane, from, from_lane, EW_STATE_CYLINDERS, EW_STATE_CYLINDER);
  copy_group(s, lane, from, from_lane, EW_STATE_SHUT, EW_STATE_CYLINDER);
  copy_group(s, lane, from, from_lane, EW_STATE_CLOSED, 1);
  for (gsize i = 0; i < G_N_ELEMENTS(handed_on); i++)
    ew_state_run(s, handed_on[i])[lane] = ew_state_run(from, handed_on[i])[from_lane];
  ew_state_run(s, EW_RUN_RESUMED)[lane] = 1;
  ew_state_run(s, EW_RUN_CYCLES_BEFORE)[lane] = ew_state_run(from, EW_RUN_CYCLES)[from_lane];
  ew_state_run(s, EW_RUN_STEPS_BEFORE)[lane] = ew_state_run(from, EW_RUN_STEPS)[from_lane];
}

/* ---- where another run left off ---- */

static void fit_volumes(struct ew_cycle_state *s, int lane, const struct ew_cycle_laid *laid,
                        const struct ew_cycle_laid *before) {
  for (int v = 0; v < s->volumes; v++) {
    double more =
        ew_plan_volumes(laid->plan)[v].volume_m3 / ew_plan_volumes(before->plan)[v].volume_m3;
    for (int w = 0; w < EW_VOLUMES_TEMPERATURE; w++)
      ew_state_at(s, EW_STATE_VOLUMES, w, v)[lane] *= more;
  }
}

/* As much more of everything as there is more room at that angle. */
static void fit_cylinder(struct ew_cylinder *c, double more) {
  double *const held[] = {&c->mass_kg,   &c->energy_j,      &c->burned_kg,
                          &c->fuel_kg,   &c->volume_m3,     &c->closed_m3,
                          &c->closed_kg, &c->closed_burned, &c->closed_fuel};
  for (gsize i = 0; i < G_N_ELEMENTS(held); i++)
    *held[i] *= more;
}

static double room_more(const struct ew_cycle_laid *laid, const struct ew_cycle_laid *before, int i,
                        double speed_rpm, double deg) {
  struct ew_cylinder_frame now, then;
  ew_cycle_frame_of(laid, i, speed_rpm, &now);
  ew_cycle_frame_of(before, i, speed_rpm, &then);
  return ew_cylinder_volume_m3(&now, deg) / ew_cylinder_volume_m3(&then, deg);
}

static gboolean is_shut(const struct ew_cycle_plan *plan, int i, double deg) {
  const struct ew_plan_cylinder *c = &ew_plan_cylinders(plan)[i];
  return deg > c->shut_from_deg && deg < c->shut_to_deg;
}

static void fit_cylinders(struct ew_cycle_state *s, int lane, const struct ew_cycle_laid *laid,
                          const struct ew_cycle_laid *before, double speed_rpm) {
  for (int i = 0; i < s->cylinders; i++) {
    double deg = ew_cycle_local_angle(laid->plan, i, 0);
    double *closed_deg = &ew_state_at(s, EW_STATE_CLOSED, EW_CLOSED_DEG, i)[lane];
    struct ew_cylinder c, shut;
    ew_state_get_cylinder(s, EW_STATE_CYLINDERS, lane, i, &c);
    ew_state_get_cylinder(s, EW_STATE_SHUT, lane, i, &shut);
    if (is_shut(laid->plan, i, deg) != (c.stage != EW_EXCHANGE)) {
      c = shut = cold_cylinder(laid, i, speed_rpm, deg);
      *closed_deg = deg;
    } else {
      fit_cylinder(&c, room_more(laid, before, i, speed_rpm, deg));
      fit_cylinder(&shut, room_more(laid, before, i, speed_rpm, *closed_deg));
    }
    ew_state_put_cylinder(s, EW_STATE_CYLINDERS, lane, i, &c);
    ew_state_put_cylinder(s, EW_STATE_SHUT, lane, i, &shut);
  }
}

void ew_cycle_state_follow(struct ew_cycle_state *s, int lane, const struct ew_cycle_laid *laid,
                           const struct ew_cycle_state *from, int from_lane,
                           const struct ew_cycle_laid *before) {
  double speed_rpm = ew_state_run(s, EW_RUN_SPEED_RPM)[lane];
  double spark_deg = ew_state_run(s, EW_RUN_SPARK_DEG)[lane];
  ew_cycle_state_refine(s, lane, laid, from, from_lane, before);
  fit_volumes(s, lane, laid, before);
  fit_cylinders(s, lane, laid, before, speed_rpm);
  ew_state_run(s, EW_RUN_CYCLES_BEFORE)[lane] = ew_state_run(s, EW_RUN_STEPS_BEFORE)[lane] = 0;
  if (laid->plan->spark != EW_SPARK_GIVEN)
    return;
  ew_state_run(s, EW_RUN_SPARK_DEG)[lane] = ew_state_run(s, EW_RUN_SOUGHT_DEG)[lane] = spark_deg;
  ew_state_run(s, EW_RUN_MBT_DEG)[lane] = NAN;
  ew_state_run(s, EW_RUN_KNOCK_LIMITED)[lane] = 0;
}
