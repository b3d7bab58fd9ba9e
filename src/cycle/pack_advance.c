/* One step of a lane outside the kernels: its length, the stages of its cylinders and the openings of its
 * valves, port injection, and what cylinders and volumes gain at the end of it. */
#include "cycle/pack_parts.h"

#define LARGEST_STEP_DEG 1.0
#define INJECTED_CELLS   3

/* Port injection: the cells before each intake valve are made up to the wanted mixture with their air.
 * Fuel enters as vapour less the heat that the gas gives to evaporate it; momentum unchanged. */
void ew_pack_inject(struct ew_pack *pack, int l) {
  struct ew_lane *lane = &pack->lane[l];
  const struct ew_cycle_model *m = lane->plan->model;
  double **amount = pack->pipes->conserved;
  double ratio = lane->plan->gas.fuel_share / (1 - lane->plan->gas.fuel_share);
  double energy = ew_combustible_enthalpy_j_kg(m->fuel, 298.15) -
                  ew_cycle_evaporated_from_gas(m) * m->fuel->latent_heat_j_kg;
  for (int v = 0; v < m->valves; v++) {
    const struct ew_end *end = &pack->end[pack->valve_end[v]];
    int n = lane->plan->cells[end->pipe];
    for (int c = 0; c < INJECTED_CELLS && !m->valve[v].exhaust; c++) {
      gsize e = ew_pipes_element(pack->pipes, end->pipe, end->side ? n - 1 - c : c, l);
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
void ew_pack_choose_steps(struct ew_pack *pack, const struct ew_kernel *k, double *step_s) {
  double rate[EW_LANES];
  k->primitives(pack->pipes, rate);
  for (int l = 0; l < EW_LANES; l++) {
    struct ew_lane *lane = &pack->lane[l];
    step_s[l] = lane->step_s = 0;
    if (!lane->running)
      continue;
    double per_s = 6 * lane->job.speed_rpm, deg = pack->options->cfl / rate[l] * per_s;
    deg = deg < LARGEST_STEP_DEG ? deg : LARGEST_STEP_DEG;
    double left = 720 - lane->angle;
    deg = left < deg * 1.0001 ? left : left < 2 * deg ? 0.5 * left : deg;
    step_s[l] = lane->step_s = deg / per_s;
  }
}

static double step_deg(const struct ew_lane *lane) {
  return lane->step_s * 6 * lane->job.speed_rpm;
}

static double table(const double *values, double deg) {
  double x = (deg < 0 ? deg + 720 : deg) * 4;
  int i = (int)x;
  return values[i] + (x - i) * (values[i + 1] - values[i]);
}

static void set_cylinder_node(struct ew_pack *pack, int l, int i) {
  struct ew_lane *lane = &pack->lane[l];
  const struct ew_cylinder *c = &lane->cylinder[i];
  double r, gamma, h;
  ew_cylinder_gas(&lane->frame[i], c, &r, &gamma, &h);
  ew_node_set(&pack->node[ew_pack_cylinder_node(pack, i)], l, c->pressure_pa, c->temperature_k, r,
              gamma, h, c->burned_kg / c->mass_kg, c->fuel_kg / c->mass_kg);
}

/* 2. Stages and valves, judged at the middle of the step. */
static void set_cylinders(struct ew_pack *pack, int l) {
  struct ew_lane *lane = &pack->lane[l];
  const struct ew_plan *plan = lane->plan;
  double middle = lane->angle + 0.5 * step_deg(lane);
  for (int i = 0; i < plan->model->cylinders; i++) {
    double deg = ew_pack_local_angle(lane, i, middle);
    struct ew_cylinder *c = &lane->cylinder[i];
    gboolean shut = deg >= plan->shut_from[i] && deg <= plan->shut_to[i];
    if (shut && c->stage == EW_EXCHANGE) {
      c->spark_deg = lane->spark;
      ew_cylinder_shut(&lane->frame[i], c);
      lane->shut[i] = *c;
      lane->shut_deg[i] = ew_pack_local_angle(lane, i, lane->angle);
    } else if (!shut && c->stage != EW_EXCHANGE) {
      ew_cylinder_open(c);
    }
    if (c->stage == EW_EXCHANGE || lane->steps == 0)
      set_cylinder_node(pack, l, i);
    struct ew_node *node = &pack->node[ew_pack_cylinder_node(pack, i)];
    for (int k = 0; k < EW_CONSERVED; k++)
      node->gained[k][l] = 0;
  }
  for (int v = 0; v < plan->model->valves; v++) {
    int i = plan->model->valve[v].cylinder;
    struct ew_end *end = &pack->end[pack->valve_end[v]];
    gboolean open = lane->cylinder[i].stage == EW_EXCHANGE;
    double deg = open ? ew_pack_local_angle(lane, i, middle) : 0;
    end->open_in[l] = open ? table(plan->open_in[v], deg) : 0;
    end->open_out[l] = open ? table(plan->open_out[v], deg) : 0;
  }
}

static double temperature_of(const struct ew_working_gas *gas, const struct ew_volume_state *s) {
  double t = s->temperature, yb = s->burned / s->mass, yf = s->fuel / s->mass;
  for (int pass = 0; pass < 2; pass++)
    t -= (ew_working_gas_energy(gas, yb, yf, t) - s->energy / s->mass) /
         ew_working_gas_cv(gas, yb, yf, t);
  return t;
}

static void set_volumes(struct ew_pack *pack, int l) {
  struct ew_lane *lane = &pack->lane[l];
  const struct ew_working_gas *gas = &lane->plan->gas;
  for (int v = 0; v < lane->plan->model->volumes; v++) {
    struct ew_volume_state *s = &lane->volume[v];
    struct ew_node *node = &pack->node[EW_NODE_FIRST + v];
    double yb = s->burned / s->mass, yf = s->fuel / s->mass;
    double r = ew_working_gas_constant(gas, yb, yf);
    s->temperature = temperature_of(gas, s);
    double p = s->mass * r * s->temperature / lane->plan->model->volume[v].volume_m3;
    ew_node_set(node, l, p, s->temperature, r,
                1 + r / ew_working_gas_cv(gas, yb, yf, s->temperature),
                s->energy / s->mass + p / s->mass * lane->plan->model->volume[v].volume_m3, yb, yf);
    for (int k = 0; k < EW_CONSERVED; k++)
      node->gained[k][l] = 0;
  }
}

void ew_pack_set_nodes(struct ew_pack *pack, int l) {
  set_cylinders(pack, l);
  set_volumes(pack, l);
}

/* 6. */
static void advance_cylinders(struct ew_pack *pack, int l) {
  struct ew_lane *lane = &pack->lane[l];
  double deg = step_deg(lane);
  for (int i = 0; i < lane->plan->model->cylinders; i++) {
    struct ew_node *node = &pack->node[ew_pack_cylinder_node(pack, i)];
    double from = ew_pack_local_angle(lane, i, lane->angle), gained[EW_CONSERVED];
    for (int k = 0; k < EW_CONSERVED; k++)
      gained[k] = node->gained[k][l];
    ew_cylinder_advance(&lane->frame[i], &lane->cylinder[i], from, from + deg,
                        lane->cylinder[i].stage == EW_EXCHANGE ? gained : NULL);
  }
  for (int v = 0; v < lane->plan->model->volumes; v++) {
    double(*gained)[EW_LANES] = pack->node[EW_NODE_FIRST + v].gained;
    struct ew_volume_state *s = &lane->volume[v];
    s->mass += gained[EW_MASS][l];
    s->energy += gained[EW_ENERGY][l];
    s->burned += gained[EW_BURNED][l];
    s->fuel += gained[EW_FUEL][l];
  }
}

static void watch_exhaust(struct ew_pack *pack, int l) {
  struct ew_lane *lane = &pack->lane[l];
  const struct ew_cycle_model *m = lane->plan->model;
  for (int v = 0; v < m->valves; v++) {
    const struct ew_end *end = &pack->end[pack->valve_end[v]];
    if (!m->valve[v].exhaust || !(end->flow_kg_s[l] > 0))
      continue;
    double mass = end->flow_kg_s[l] * lane->step_s;
    lane->out_kg += mass;
    lane->out_kg_k += mass * pack->node[end->node].temperature_k[l];
  }
}

static void log_state(struct ew_pack *pack, int l) {
  struct ew_lane *lane = &pack->lane[l];
  const struct ew_cycle_model *m = lane->plan->model;
  double *row = ew_trace_log_add(lane->log, lane->angle);
  for (int i = 0; i < m->cylinders; i++) {
    const struct ew_cylinder *c = &lane->cylinder[i];
    *row++ = c->pressure_pa;
    *row++ = c->temperature_k;
    *row++ = c->volume_m3;
    *row++ = c->stage == EW_EXCHANGE ? 0 : c->x;
  }
  for (int v = 0; v < m->volumes; v++)
    *row++ = pack->node[EW_NODE_FIRST + v].pressure_pa[l];
  for (int e = 0; e < pack->ends; e++) {
    *row++ = pack->end[e].pressure_pa[l];
    *row++ = pack->end[e].flow_kg_s[l];
  }
}

void ew_pack_gather(struct ew_pack *pack, int l) {
  struct ew_lane *lane = &pack->lane[l];
  watch_exhaust(pack, l);
  advance_cylinders(pack, l);
  lane->angle += step_deg(lane);
  lane->steps++;
  if (lane->log)
    log_state(pack, l);
}
