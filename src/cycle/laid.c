/* A plan's grid laid out. Values between stations are linear, beyond the first and last constant; an inlet
 * pipe's wall that is not given is the plan's. A valve's openings are its effective areas over its pipe's. */
#include "cycle/laid.h"
#include "cycle/pipes.h"
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

static void lay_pipe(struct ew_cycle_laid *laid, int i, const struct ew_cycle_pipe *p) {
  int n = laid->count[i], first = laid->first[i];
  double *face = laid->face_diameter_m + first + i;
  for (int c = 0; c <= n; c++)
    face[c] = at(p, p->length_m * c / n).diameter_m;
  for (int c = 0; c < n; c++) {
    struct point x = at(p, p->length_m * (c + 0.5) / n);
    struct ew_frustum cell = ew_frustum_of(face[c], face[c + 1], p->length_m / n);
    laid->wall_k[first + c] = isnan(x.wall_k) && !p->exhaust ? laid->plan->inlet_wall_k : x.wall_k;
    laid->heat_factor[first + c] = x.heat_factor;
    laid->volume_m3[first + c] = cell.volume_m3;
    laid->wall_m2[first + c] = cell.wall_m2;
  }
}

static double pipe_area_m2(const struct ew_cycle_laid *laid, int valve) {
  const struct ew_plan_pipe *pipe = ew_plan_pipes(laid->plan);
  double area = 1;
  for (int i = 0; i < laid->pipes; i++)
    for (int side = 0; side < 2; side++)
      if (pipe[i].end[side].kind == EW_END_VALVE && pipe[i].end[side].index == valve) {
        double d = laid->face_diameter_m[laid->first[i] + i + (side ? laid->count[i] : 0)];
        area = G_PI / 4 * d * d;
      }
  return area;
}

static void tabulate(struct ew_cycle_laid *laid, int t, const struct ew_cycle_valve *valve,
                     double pipe_area) {
  double scale = laid->plan->flow_factor / pipe_area;
  for (int k = 0; k < EW_VALVE_TABLE; k++) {
    double forward = ew_cycle_valve_area_m2(valve, k * 0.25, TRUE) * scale;
    double reverse = ew_cycle_valve_area_m2(valve, k * 0.25, FALSE) * scale;
    laid->open_in[t][k] = fmin(valve->exhaust ? forward : reverse, 1);
    laid->open_out[t][k] = fmin(valve->exhaust ? reverse : forward, 1);
  }
}

static gboolean same_valve(const struct ew_plan_valve *a, const struct ew_plan_valve *b) {
  return a->exhaust == b->exhaust && a->count == b->count && a->head_m == b->head_m &&
         a->first_deg == b->first_deg && a->step_deg == b->step_deg &&
         a->first_lift == b->first_lift && a->lifts == b->lifts && a->first_flow == b->first_flow &&
         a->flows == b->flows;
}

/* Valves that open alike into equal pipes share a table. */
static void lay_valves(struct ew_cycle_laid *laid, const struct ew_cycle_model *m) {
  const struct ew_plan_valve *valve = ew_plan_valves(laid->plan);
  g_autofree double *area = g_new(double, MAX(m->valves, 1));
  g_autofree int *of = g_new(int, MAX(m->valves, 1));
  int tables = 0;
  laid->table = g_new(int, MAX(m->valves, 1));
  for (int v = 0; v < m->valves; v++) {
    area[v] = pipe_area_m2(laid, v);
    laid->table[v] = -1;
    for (int t = 0; t < tables && laid->table[v] < 0; t++)
      if (area[of[t]] == area[v] && same_valve(&valve[of[t]], &valve[v]))
        laid->table[v] = t;
    if (laid->table[v] < 0) {
      of[tables] = v;
      laid->table[v] = tables++;
    }
    g_assert(laid->table[v] < tables && tables <= m->valves);
  }
  laid->open_in = g_malloc(sizeof *laid->open_in * (gsize)MAX(tables, 1));
  laid->open_out = g_malloc(sizeof *laid->open_out * (gsize)MAX(tables, 1));
  for (int t = 0; t < tables; t++)
    tabulate(laid, t, &m->valve[of[t]], area[of[t]]);
}

struct ew_cycle_laid *ew_cycle_laid_new(const struct ew_cycle_plan *plan, enum ew_plan_grid grid) {
  g_assert((int)grid < plan->grids);
  struct ew_cycle_laid *laid = g_atomic_rc_box_new0(struct ew_cycle_laid);
  struct ew_cycle_view view;
  laid->plan = plan;
  laid->grid = grid;
  laid->pipes = ew_plan_count(plan, EW_PLAN_PIPES);
  ew_cycle_plan_gas(plan, &laid->gas);
  laid->count = g_new(int, laid->pipes);
  laid->first = g_new(int, laid->pipes);
  for (int i = 0; i < laid->pipes; i++) {
    laid->count[i] = (int)ew_plan_pipes(plan)[i].cells[grid];
    g_assert(laid->count[i] >= 2); /* what the kernels take for granted */
    laid->first[i] = laid->cells;
    laid->cells += laid->count[i];
  }
  laid->face_diameter_m = g_new(double, laid->cells + laid->pipes);
  double **cells[] = {&laid->wall_k, &laid->heat_factor, &laid->volume_m3, &laid->wall_m2};
  for (gsize i = 0; i < G_N_ELEMENTS(cells); i++)
    *cells[i] = g_new(double, laid->cells);
  ew_cycle_plan_view(plan, &view);
  for (int i = 0; i < laid->pipes; i++)
    lay_pipe(laid, i, &view.model.pipe[i]);
  lay_valves(laid, &view.model);
  ew_cycle_view_clear(&view);
  return laid;
}

static void clear(gpointer data) {
  struct ew_cycle_laid *laid = data;
  void *owned[] = {laid->count,       laid->first,     laid->face_diameter_m, laid->wall_k,
                   laid->heat_factor, laid->volume_m3, laid->wall_m2,         laid->table,
                   laid->open_in,     laid->open_out};
  for (gsize i = 0; i < G_N_ELEMENTS(owned); i++)
    g_free(owned[i]);
}

void ew_cycle_laid_release(struct ew_cycle_laid *laid) {
  if (laid)
    g_atomic_rc_box_release_full(laid, clear);
}
