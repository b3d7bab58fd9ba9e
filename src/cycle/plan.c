#include "cycle/plan.h"
#include "gas/moist_air.h"
#include <math.h>

struct point {
  double diameter_m, wall_k, heat_factor;
};

static struct point at(const struct ew_cycle_pipe *p, double x) {
  const struct ew_cycle_station *s = p->station, *a = &s[0], *b = &s[0];
  for (int i = 1; i < p->stations; i++) {
    if (x >= s[i].at_m)
      a = b = &s[i];
    else if (x > s[i - 1].at_m) {
      a = &s[i - 1];
      b = &s[i];
      break;
    }
  }
  double w = b->at_m > a->at_m ? (x - a->at_m) / (b->at_m - a->at_m) : 0;
  return (struct point){a->diameter_m + w * (b->diameter_m - a->diameter_m),
                        a->wall_k + w * (b->wall_k - a->wall_k),
                        a->heat_factor + w * (b->heat_factor - a->heat_factor)};
}

static void lay_pipe(struct ew_plan *plan, int i) {
  const struct ew_cycle_pipe *p = &plan->model->pipe[i];
  int n = plan->cells[i];
  plan->face_diameter_m[i] = g_new(double, n + 1);
  plan->wall_k[i] = g_new(double, n);
  plan->heat_factor[i] = g_new(double, n);
  for (int c = 0; c <= n; c++)
    plan->face_diameter_m[i][c] = at(p, p->length_m * c / n).diameter_m;
  for (int c = 0; c < n; c++) {
    struct point x = at(p, p->length_m * (c + 0.5) / n);
    plan->wall_k[i][c] = isnan(x.wall_k) && !p->exhaust ? plan->model->inlet_wall_k : x.wall_k;
    plan->heat_factor[i][c] = x.heat_factor;
  }
}

static void tabulate_valve(struct ew_plan *plan, int v) {
  const struct ew_cycle_model *m = plan->model;
  const struct ew_cycle_valve *valve = &m->valve[v];
  double pipe_area = 1;
  for (int i = 0; i < m->pipes; i++)
    for (int side = 0; side < 2; side++)
      if (m->pipe[i].end[side].kind == EW_END_VALVE && m->pipe[i].end[side].index == v) {
        double d = plan->face_diameter_m[i][side ? plan->cells[i] : 0];
        pipe_area = G_PI / 4 * d * d;
      }
  for (int k = 0; k < EW_VALVE_TABLE; k++) {
    double scale = m->flow_factor / pipe_area;
    double forward = ew_cycle_valve_area_m2(valve, k * 0.25, TRUE) * scale;
    double reverse = ew_cycle_valve_area_m2(valve, k * 0.25, FALSE) * scale;
    plan->open_in[v][k] = fmin(valve->exhaust ? forward : reverse, 1);
    plan->open_out[v][k] = fmin(valve->exhaust ? reverse : forward, 1);
  }
}

struct ew_plan *ew_plan_new(const struct ew_cycle_model *m, double cell_m,
                            const struct ew_plan *like, GError **error) {
  if (!ew_cycle_model_check(m, error))
    return NULL;
  struct ew_plan *plan = g_new0(struct ew_plan, 1);
  plan->model = m;
  double humidity = ew_humidity_ratio(m->ambient_pa, m->vapour_pa);
  if (!ew_working_gas_make(m->fuel, m->equivalence, humidity, &plan->gas, error)) {
    g_free(plan);
    return NULL;
  }
  gboolean mixed = m->delivery == EW_FUEL_MIXED;
  plan->charge_fuel = mixed ? plan->gas.fuel_share : 0;
  plan->charge_k = mixed ? ew_working_gas_mixture_temperature_k(&plan->gas, m->ambient_k,
                                                                ew_cycle_evaporated_from_gas(m))
                         : m->ambient_k;
  plan->ambient_kg_m3 = m->ambient_pa / (plan->gas.gas_constant_j_kg_k[EW_GAS_AIR] * m->ambient_k);
  plan->cells = g_new(int, m->pipes);
  plan->face_diameter_m = g_new0(double *, m->pipes);
  plan->wall_k = g_new0(double *, m->pipes);
  plan->heat_factor = g_new0(double *, m->pipes);
  for (int i = 0; i < m->pipes; i++) {
    plan->cells[i] = like ? like->cells[i] : MAX(3, (int)lround(m->pipe[i].length_m / cell_m));
    lay_pipe(plan, i);
  }
  plan->open_in = g_malloc(sizeof *plan->open_in * MAX(m->valves, 1));
  plan->open_out = g_malloc(sizeof *plan->open_out * MAX(m->valves, 1));
  for (int v = 0; v < m->valves; v++)
    tabulate_valve(plan, v);
  plan->shut_from = g_new(double, m->cylinders);
  plan->shut_to = g_new(double, m->cylinders);
  for (int i = 0; i < m->cylinders; i++)
    ew_cycle_shut_interval(m, i, &plan->shut_from[i], &plan->shut_to[i]);
  return plan;
}

void ew_plan_free(struct ew_plan *plan) {
  if (!plan)
    return;
  for (int i = 0; i < plan->model->pipes; i++) {
    g_free(plan->face_diameter_m[i]);
    g_free(plan->wall_k[i]);
    g_free(plan->heat_factor[i]);
  }
  g_free(plan->face_diameter_m);
  g_free(plan->wall_k);
  g_free(plan->heat_factor);
  g_free(plan->cells);
  g_free(plan->open_in);
  g_free(plan->open_out);
  g_free(plan->shut_from);
  g_free(plan->shut_to);
  g_free(plan);
}

gboolean ew_plan_same_layout(const struct ew_cycle_model *a, const struct ew_cycle_model *b) {
  if (a == b)
    return TRUE;
  if (a->pipe_friction != b->pipe_friction || a->delivery != b->delivery ||
      a->cylinders != b->cylinders || a->pipes != b->pipes || a->volumes != b->volumes ||
      a->junctions != b->junctions || a->valves != b->valves)
    return FALSE;
  for (int i = 0; i < a->pipes; i++)
    for (int side = 0; side < 2; side++)
      if (a->pipe[i].end[side].kind != b->pipe[i].end[side].kind ||
          a->pipe[i].end[side].index != b->pipe[i].end[side].index ||
          a->pipe[i].exhaust != b->pipe[i].exhaust)
        return FALSE;
  for (int v = 0; v < a->valves; v++)
    if (a->valve[v].cylinder != b->valve[v].cylinder || a->valve[v].exhaust != b->valve[v].exhaust)
      return FALSE;
  return TRUE;
}
