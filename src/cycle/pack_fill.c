/* How a lane of a pack starts cold: still gas in pipes and volumes, fresh before the valves and burned
 * behind them, cylinders by their phase. A guess, good enough that the first cycle runs; the steady cycle
 * does not depend on it. */
#include "base/elementary.h"
#include "cycle/pack_parts.h"

static void set_still_node(struct ew_node *n, int l, const struct ew_working_gas *gas, double p,
                           double t, double yb, double yf) {
  double r = ew_working_gas_constant(gas, yb, yf), cv = ew_working_gas_cv(gas, yb, yf, t);
  ew_node_set(n, l, p, t, r, 1 + r / cv, ew_working_gas_energy(gas, yb, yf, t) + r * t, yb, yf);
}

static void fill_pipes(struct ew_pack *pack, int l) {
  struct ew_lane *lane = &pack->lane[l];
  const struct ew_plan *plan = lane->plan;
  const struct ew_cycle_model *m = plan->model;
  for (int i = 0; i < m->pipes; i++) {
    int n = plan->cells[i];
    g_autofree double *wall = g_new(double, n), *factor = g_new(double, n);
    for (int c = 0; c < n; c++) {
      wall[c] = isnan(plan->wall_k[i][c]) ? 700 : plan->wall_k[i][c];
      factor[c] = plan->heat_factor[i][c] * m->pipe_heat;
    }
    ew_pipes_shape(pack->pipes, i, l, m->pipe[i].length_m, plan->face_diameter_m[i],
                   m->pipe[i].bend_loss, wall, factor);
    for (int c = 0; c < n; c++)
      ew_pipes_set_state(pack->pipes, i, c, l, &plan->gas, m->ambient_pa,
                         m->pipe[i].exhaust ? 850 : plan->charge_k, 0, m->pipe[i].exhaust ? 1 : 0,
                         m->pipe[i].exhaust ? 0 : plan->charge_fuel);
  }
}

static void fill_volumes(struct ew_pack *pack, int l) {
  struct ew_lane *lane = &pack->lane[l];
  const struct ew_plan *plan = lane->plan;
  const struct ew_cycle_model *m = plan->model;
  double zf = plan->charge_fuel;
  for (int v = 0; v < m->volumes; v++) {
    gboolean hot = m->volume[v].exhaust;
    double t = hot ? 850 : plan->charge_k, yb = hot ? 1 : 0, yf = hot ? 0 : zf;
    double mass =
        m->ambient_pa * m->volume[v].volume_m3 / (ew_working_gas_constant(&plan->gas, yb, yf) * t);
    lane->volume[v] = (struct ew_volume_state){
        mass, mass * ew_working_gas_energy(&plan->gas, yb, yf, t), mass * yb, mass * yf, t};
  }
}

/* A plausible cold start by phase: fresh before firing, burned after it. */
static void fill_cylinders(struct ew_pack *pack, int l) {
  struct ew_lane *lane = &pack->lane[l];
  const struct ew_plan *plan = lane->plan;
  const struct ew_cycle_model *m = plan->model;
  for (int i = 0; i < m->cylinders; i++) {
    struct ew_cylinder_frame *f = &lane->frame[i];
    ew_cylinder_frame_make(m, i, &plan->gas, lane->job.speed_rpm, f);
    double deg = ew_pack_local_angle(lane, i, 0), from = plan->shut_from[i], to = plan->shut_to[i];
    double v = ew_cylinder_volume_m3(f, deg), zf = plan->gas.fuel_share;
    struct ew_cylinder *c = &lane->cylinder[i];
    if (deg > from && deg < 0) {
      double ratio = ew_cylinder_volume_m3(f, from) / v;
      ew_cylinder_fill(f, deg, m->ambient_pa * ew_pow(ratio, 1.34), 350 * ew_pow(ratio, 0.34), 0.03,
                       0.97 * zf, c);
    } else if (deg >= 0 && deg < to) {
      double ratio = ew_cylinder_volume_m3(f, to) / v;
      ew_cylinder_fill(f, deg, 4 * m->ambient_pa * ew_pow(ratio, 1.28), 1400 * ew_pow(ratio, 0.28),
                       1, 0, c);
    } else {
      gboolean burned = deg > 0;
      ew_cylinder_fill(f, deg, m->ambient_pa, burned ? 900 : 350, burned ? 1 : 0.05,
                       burned ? 0 : 0.95 * zf, c);
    }
    if (deg > from && deg < to) {
      ew_cylinder_shut(f, c);
      if (deg >= 0) {
        c->stage = EW_EXPANSION;
        c->z = c->x = 1;
      }
    }
    lane->shut[i] = *c;
    lane->shut_deg[i] = deg;
  }
}

static void set_ends(struct ew_pack *pack, int l) {
  const struct ew_plan *plan = pack->lane[l].plan;
  const struct ew_cycle_model *m = plan->model;
  double back = isnan(m->exhaust_back_pa) ? m->ambient_pa : m->exhaust_back_pa;
  set_still_node(&pack->node[EW_NODE_CHARGE], l, &plan->gas, m->ambient_pa, plan->charge_k, 0,
                 plan->charge_fuel);
  set_still_node(&pack->node[EW_NODE_AIR], l, &plan->gas, back, m->ambient_k, 0, 0);
  for (int e = 0; e < pack->ends; e++) {
    const struct ew_cycle_end *end = &m->pipe[e / 2].end[e % 2];
    gboolean mouth = end->kind == EW_END_ATMOSPHERE || end->kind == EW_END_VOLUME;
    pack->end[e].open_in[l] = pack->end[e].open_out[l] = mouth ? end->opening : 0;
    pack->end[e].memory[l] = 0;
  }
}

void ew_pack_fill_cold(struct ew_pack *pack, int l) {
  fill_pipes(pack, l);
  fill_volumes(pack, l);
  fill_cylinders(pack, l);
  set_ends(pack, l);
}
