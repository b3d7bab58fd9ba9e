/* One step of a lane outside the kernels: its length, the stages of its cylinders and the openings of its
 * valves, port injection, and what cylinders and volumes gain at the end of it. */
#include "cycle/backend/cpu.h"

#define LARGEST_STEP_DEG 1.0
#define INJECTED_CELLS   3

/* Port injection: the cells before each intake valve are made up to the wanted mixture with their air.
 * Fuel enters as vapour less the heat that the gas gives to evaporate it; momentum unchanged. */
void ew_cpu_inject(struct ew_cycle_work *w, int l) {
  struct ew_cpu_lane *lane = &w->lane[l];
  const struct ew_cycle_plan *plan = lane->laid->plan;
  const struct ew_plan_valve *valve = ew_plan_valves(plan);
  double **amount = w->pipes->conserved, energy = plan->injected_j_kg;
  double ratio = lane->laid->gas.fuel_share / (1 - lane->laid->gas.fuel_share);
  for (int v = 0; v < w->valves; v++) {
    const struct ew_end *end = &w->end[w->valve_end[v]];
    int n = lane->laid->count[end->pipe];
    for (int c = 0; c < INJECTED_CELLS && !valve[v].exhaust; c++) {
      gsize e = ew_pipes_element(w->pipes, end->pipe, end->side ? n - 1 - c : c, l);
      double air = amount[EW_MASS][e] - amount[EW_BURNED][e] - amount[EW_FUEL][e];
      double mass = ratio * air - amount[EW_FUEL][e];
      if (!(mass > 0))
        continue;
      amount[EW_MASS][e] += mass;
      amount[EW_FUEL][e] += mass;
      amount[EW_ENERGY][e] += mass * energy;
      lane->injected_kg += mass;
      lane->injected_j += mass * energy;
    }
  }
}

/* 1. */
void ew_cpu_choose_steps(struct ew_cycle_work *w, const struct ew_kernel *k, double *step_s) {
  double rate[EW_LANES];
  k->primitives(w->pipes, rate);
  for (int l = 0; l < EW_LANES; l++) {
    struct ew_cpu_lane *lane = &w->lane[l];
    step_s[l] = lane->step_s = 0;
    if (!lane->running)
      continue;
    double per_s = 6 * lane->speed_rpm, deg = lane->laid->plan->cfl / rate[l] * per_s;
    deg = deg < LARGEST_STEP_DEG ? deg : LARGEST_STEP_DEG;
    double left = 720 - lane->angle;
    deg = left < deg * 1.0001 ? left : left < 2 * deg ? 0.5 * left : deg;
    step_s[l] = lane->step_s = deg / per_s;
  }
}

static double step_deg(const struct ew_cpu_lane *lane) {
  return lane->step_s * 6 * lane->speed_rpm;
}

static double table(const double *values, double deg) {
  double x = (deg < 0 ? deg + 720 : deg) * 4;
  int i = (int)x;
  return values[i] + (x - i) * (values[i + 1] - values[i]);
}

static void set_node(struct ew_end_node *n, int l, double p, double t, double r, double gamma,
                     double h, double yb, double yf) {
  n->pressure_pa[l] = p;
  n->temperature_k[l] = t;
  n->gas_constant[l] = r;
  n->gamma[l] = gamma;
  n->enthalpy_j_kg[l] = h;
  n->burned[l] = yb;
  n->fuel[l] = yf;
}

static void set_cylinder_node(struct ew_cycle_work *w, int l, int i) {
  struct ew_cpu_lane *lane = &w->lane[l];
  const struct ew_cylinder *c = &lane->cylinder[i];
  double r, gamma, h;
  ew_cylinder_gas(&lane->frame[i], c, &r, &gamma, &h);
  set_node(&w->node[ew_cpu_cylinder_node(w, i)], l, c->pressure_pa, c->temperature_k, r, gamma, h,
           c->burned_kg / c->mass_kg, c->fuel_kg / c->mass_kg);
}

/* 2. Stages and valves, judged at the middle of the step. */
static void set_cylinders(struct ew_cycle_work *w, int l) {
  struct ew_cpu_lane *lane = &w->lane[l];
  const struct ew_cycle_plan *plan = lane->laid->plan;
  double middle = lane->angle + 0.5 * step_deg(lane);
  for (int i = 0; i < w->cylinders; i++) {
    double deg = ew_cycle_local_angle(plan, i, middle);
    struct ew_cylinder *c = &lane->cylinder[i];
    const struct ew_plan_cylinder *of = &ew_plan_cylinders(plan)[i];
    gboolean shut = deg >= of->shut_from_deg && deg <= of->shut_to_deg;
    if (shut && c->stage == EW_EXCHANGE) {
      c->spark_deg = lane->spark;
      ew_cylinder_shut(&lane->frame[i], c);
      lane->shut[i] = *c;
      lane->shut_deg[i] = ew_cycle_local_angle(plan, i, lane->angle);
    } else if (!shut && c->stage != EW_EXCHANGE) {
      ew_cylinder_open(c);
    }
    if (c->stage == EW_EXCHANGE || lane->steps == 0)
      set_cylinder_node(w, l, i);
    struct ew_end_node *node = &w->node[ew_cpu_cylinder_node(w, i)];
    for (int k = 0; k < EW_CONSERVED; k++)
      node->gained[k][l] = 0;
  }
  for (int v = 0; v < w->valves; v++) {
    int i = (int)ew_plan_valves(plan)[v].cylinder, t = lane->laid->table[v];
    struct ew_end *end = &w->end[w->valve_end[v]];
    gboolean open = lane->cylinder[i].stage == EW_EXCHANGE;
    double deg = open ? ew_cycle_local_angle(plan, i, middle) : 0;
    end->open_in[l] = open ? table(lane->laid->open_in[t], deg) : 0;
    end->open_out[l] = open ? table(lane->laid->open_out[t], deg) : 0;
  }
}

static double temperature_of(const struct ew_working_gas *gas, const struct ew_volume_state *s) {
  double t = s->temperature, yb = s->burned / s->mass, yf = s->fuel / s->mass;
  for (int pass = 0; pass < 2; pass++)
    t -= (ew_working_gas_energy(gas, yb, yf, t) - s->energy / s->mass) /
         ew_working_gas_cv(gas, yb, yf, t);
  return t;
}

static void set_volumes(struct ew_cycle_work *w, int l) {
  struct ew_cpu_lane *lane = &w->lane[l];
  const struct ew_working_gas *gas = &lane->laid->gas;
  for (int v = 0; v < w->volumes; v++) {
    struct ew_volume_state *s = &lane->volume[v];
    struct ew_end_node *node = &w->node[EW_NODE_FIRST + v];
    double volume_m3 = ew_plan_volumes(lane->laid->plan)[v].volume_m3;
    double yb = s->burned / s->mass, yf = s->fuel / s->mass;
    double r = ew_working_gas_constant(gas, yb, yf);
    s->temperature = temperature_of(gas, s);
    double p = s->mass * r * s->temperature / volume_m3;
    set_node(node, l, p, s->temperature, r, 1 + r / ew_working_gas_cv(gas, yb, yf, s->temperature),
             s->energy / s->mass + p / s->mass * volume_m3, yb, yf);
    for (int k = 0; k < EW_CONSERVED; k++)
      node->gained[k][l] = 0;
  }
}

void ew_cpu_set_nodes(struct ew_cycle_work *w, int l) {
  set_cylinders(w, l);
  set_volumes(w, l);
}

/* 6. */
static void advance_cylinders(struct ew_cycle_work *w, int l) {
  struct ew_cpu_lane *lane = &w->lane[l];
  const struct ew_cycle_plan *plan = lane->laid->plan;
  double deg = step_deg(lane);
  for (int i = 0; i < w->cylinders; i++) {
    struct ew_end_node *node = &w->node[ew_cpu_cylinder_node(w, i)];
    double from = ew_cycle_local_angle(plan, i, lane->angle), gained[EW_CONSERVED];
    for (int k = 0; k < EW_CONSERVED; k++)
      gained[k] = node->gained[k][l];
    ew_cylinder_advance(&lane->frame[i], &lane->cylinder[i], from, from + deg,
                        lane->cylinder[i].stage == EW_EXCHANGE ? gained : NULL);
  }
  for (int v = 0; v < w->volumes; v++) {
    double(*gained)[EW_LANES] = w->node[EW_NODE_FIRST + v].gained;
    struct ew_volume_state *s = &lane->volume[v];
    s->mass += gained[EW_MASS][l];
    s->energy += gained[EW_ENERGY][l];
    s->burned += gained[EW_BURNED][l];
    s->fuel += gained[EW_FUEL][l];
  }
}

static void watch_exhaust(struct ew_cycle_work *w, int l) {
  struct ew_cpu_lane *lane = &w->lane[l];
  const struct ew_plan_valve *valve = ew_plan_valves(lane->laid->plan);
  for (int v = 0; v < w->valves; v++) {
    const struct ew_end *end = &w->end[w->valve_end[v]];
    if (!valve[v].exhaust || !(end->flow_kg_s[l] > 0))
      continue;
    double mass = end->flow_kg_s[l] * lane->step_s;
    lane->out_kg += mass;
    lane->out_kg_k += mass * w->node[end->node].temperature_k[l];
  }
}

void ew_cpu_gather(struct ew_cycle_work *w, int l) {
  struct ew_cpu_lane *lane = &w->lane[l];
  watch_exhaust(w, l);
  advance_cylinders(w, l);
  lane->angle += step_deg(lane);
  lane->steps++;
  lane->steps_here++;
}
