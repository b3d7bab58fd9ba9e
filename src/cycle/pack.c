#include "cycle/pack.h"
#include "cycle/spark.h"
#include "cycle/trace.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define MOST_STEPS_A_CYCLE 400000
#define LARGEST_STEP_DEG   1.0
#define OUTSIDE_W_M2_K     35.0
#define EMISSIVITY         0.7
#define STEFAN_BOLTZMANN   5.670374419e-8

enum { NODE_CHARGE, NODE_AIR, NODE_FIRST }; /* then volumes, then cylinders */

struct store { /* a volume: amounts and its temperature */
  double mass, energy, burned, fuel, temperature;
};

struct steady { /* what is compared from cycle to cycle */
  double work, air, residual, *trapped;
};

struct lane {
  const struct ew_plan *plan;
  struct ew_cycle_job job;
  gboolean running, finished, frozen, resumed; /* frozen: the spark is final */
  double angle, spark, step_s;
  struct ew_spark_answer sought;
  struct ew_cylinder *cylinder, *shut; /* shut: as it was when the valves had shut */
  struct ew_cylinder_frame *frame;
  double *shut_deg;
  struct store *volume;
  struct steady before;
  int cycles, in_a_row, steps, steps_here, cycles_before, steps_before;
  double mass_start, energy_start; /* stored when the cycle began */
  double out_kg, out_kg_k;         /* through exhaust valves, and times temperature */
  struct ew_cycle_result result;
  struct ew_trace_log *log;
  double injected_kg, injected_j; /* this cycle */
};

struct ew_pack {
  const struct ew_kernel *kernel;
  const struct ew_plan *lead;
  const struct ew_cycle_options *options;
  struct ew_pipes *pipes;
  struct ew_end *end; /* [ends], 64-byte blocks of lanes */
  struct ew_node *node;
  int ends, nodes, in_a_row;
  int *valve_end; /* [valves] */
  int *junction_members, *junction_first, *junction_count;
  double (*junction_pa)[EW_LANES];
  double cells_s, ends_s, cylinders_s; /* where the time went */
  struct lane lane[EW_LANES];
};

static const struct ew_cycle_model *model_of(const struct ew_pack *pack) {
  return pack->lead->model;
}

static int cylinder_node(const struct ew_pack *pack, int cylinder) {
  return NODE_FIRST + model_of(pack)->volumes + cylinder;
}

static int node_of(const struct ew_pack *pack, const struct ew_cycle_pipe *pipe,
                   const struct ew_cycle_end *end) {
  switch (end->kind) {
  case EW_END_VOLUME: return NODE_FIRST + end->index;
  case EW_END_VALVE: return cylinder_node(pack, model_of(pack)->valve[end->index].cylinder);
  case EW_END_JUNCTION: return -1;
  case EW_END_CLOSED:
  case EW_END_ATMOSPHERE: break;
  }
  return pipe->exhaust ? NODE_AIR : NODE_CHARGE;
}

static void join(struct ew_pack *pack) {
  const struct ew_cycle_model *m = model_of(pack);
  for (int i = 0; i < m->pipes; i++)
    for (int side = 0; side < 2; side++) {
      int e = 2 * i + side;
      const struct ew_cycle_end *end = &m->pipe[i].end[side];
      pack->end[e].pipe = i;
      pack->end[e].side = side;
      pack->end[e].node = node_of(pack, &m->pipe[i], end);
      if (end->kind == EW_END_VALVE)
        pack->valve_end[end->index] = e;
    }
  int n = 0;
  for (int j = 0; j < m->junctions; j++) {
    pack->junction_first[j] = n;
    for (int e = 0; e < pack->ends; e++) {
      const struct ew_cycle_end *end = &m->pipe[e / 2].end[e % 2];
      if (end->kind == EW_END_JUNCTION && end->index == j)
        pack->junction_members[n++] = e;
    }
    pack->junction_count[j] = n - pack->junction_first[j];
  }
}

static void *zeroed(gsize size) {
  gsize all = (MAX(size, 1) + 63) / 64 * 64;
  return memset(aligned_alloc(64, all), 0, all);
}

struct ew_pack *ew_pack_new(const struct ew_kernel *kernel, const struct ew_plan *lead,
                            const struct ew_cycle_options *options, int in_a_row) {
  const struct ew_cycle_model *m = lead->model;
  struct ew_pack *pack = g_new0(struct ew_pack, 1);
  pack->kernel = kernel;
  pack->lead = lead;
  pack->options = options;
  pack->in_a_row = in_a_row;
  pack->pipes = ew_pipes_new(EW_LANES, m->pipes, lead->cells);
  pack->ends = 2 * m->pipes;
  pack->nodes = NODE_FIRST + m->volumes + m->cylinders;
  pack->end = zeroed(sizeof *pack->end * pack->ends);
  pack->node = zeroed(sizeof *pack->node * pack->nodes);
  pack->valve_end = g_new0(int, MAX(m->valves, 1));
  pack->junction_members = g_new0(int, pack->ends);
  pack->junction_first = g_new0(int, m->junctions + 1);
  pack->junction_count = g_new0(int, m->junctions + 1);
  pack->junction_pa = zeroed(sizeof *pack->junction_pa * (m->junctions + 1));
  for (int l = 0; l < EW_LANES; l++) {
    pack->lane[l].cylinder = g_new0(struct ew_cylinder, m->cylinders);
    pack->lane[l].shut = g_new0(struct ew_cylinder, m->cylinders);
    pack->lane[l].frame = g_new0(struct ew_cylinder_frame, m->cylinders);
    pack->lane[l].shut_deg = g_new0(double, m->cylinders);
    pack->lane[l].volume = g_new0(struct store, m->volumes + 1);
    pack->lane[l].before.trapped = g_new0(double, m->cylinders);
    pack->lane[l].log = options->trace ? ew_trace_log_new(m) : NULL;
  }
  join(pack);
  return pack;
}

void ew_pack_free(struct ew_pack *pack) {
  if (!pack)
    return;
  for (int l = 0; l < EW_LANES; l++) {
    g_free(pack->lane[l].cylinder);
    g_free(pack->lane[l].shut);
    g_free(pack->lane[l].frame);
    g_free(pack->lane[l].shut_deg);
    g_free(pack->lane[l].volume);
    g_free(pack->lane[l].before.trapped);
    ew_trace_log_free(pack->lane[l].log);
    ew_cycle_result_clear(&pack->lane[l].result);
  }
  ew_pipes_free(pack->pipes);
  free(pack->end);
  free(pack->node);
  free(pack->junction_pa);
  g_free(pack->valve_end);
  g_free(pack->junction_members);
  g_free(pack->junction_first);
  g_free(pack->junction_count);
  g_free(pack);
}

static double wrapped(double deg) { /* to -360 .. 360 */
  double x = fmod(deg, 720);
  return x > 360 ? x - 720 : x <= -360 ? x + 720 : x;
}

static double local_angle(const struct lane *lane, int cylinder, double angle) {
  return wrapped(angle - lane->plan->model->cylinder[cylinder].firing_deg);
}

static void set_node(struct ew_node *n, int l, double p, double t, double r, double gamma, double h,
                     double yb, double yf) {
  n->pressure_pa[l] = p;
  n->temperature_k[l] = t;
  n->gas_constant[l] = r;
  n->gamma[l] = gamma;
  n->enthalpy_j_kg[l] = h;
  n->burned[l] = yb;
  n->fuel[l] = yf;
}

static void set_still_node(struct ew_node *n, int l, const struct ew_working_gas *gas, double p,
                           double t, double yb, double yf) {
  double r = ew_working_gas_constant(gas, yb, yf), cv = ew_working_gas_cv(gas, yb, yf, t);
  set_node(n, l, p, t, r, 1 + r / cv, ew_working_gas_energy(gas, yb, yf, t) + r * t, yb, yf);
}

static void fill_pipes(struct ew_pack *pack, int l) {
  struct lane *lane = &pack->lane[l];
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
  struct lane *lane = &pack->lane[l];
  const struct ew_plan *plan = lane->plan;
  const struct ew_cycle_model *m = plan->model;
  double zf = plan->charge_fuel;
  for (int v = 0; v < m->volumes; v++) {
    gboolean hot = m->volume[v].exhaust;
    double t = hot ? 850 : plan->charge_k, yb = hot ? 1 : 0, yf = hot ? 0 : zf;
    double mass =
        m->ambient_pa * m->volume[v].volume_m3 / (ew_working_gas_constant(&plan->gas, yb, yf) * t);
    lane->volume[v] = (struct store){mass, mass * ew_working_gas_energy(&plan->gas, yb, yf, t),
                                     mass * yb, mass * yf, t};
  }
}

/* A plausible cold start by phase: fresh before firing, burned after it. */
static void fill_cylinders(struct ew_pack *pack, int l) {
  struct lane *lane = &pack->lane[l];
  const struct ew_plan *plan = lane->plan;
  const struct ew_cycle_model *m = plan->model;
  for (int i = 0; i < m->cylinders; i++) {
    struct ew_cylinder_frame *f = &lane->frame[i];
    ew_cylinder_frame_make(m, i, &plan->gas, lane->job.speed_rpm, f);
    double deg = local_angle(lane, i, 0), from = plan->shut_from[i], to = plan->shut_to[i];
    double v = ew_cylinder_volume_m3(f, deg), zf = plan->gas.fuel_share;
    struct ew_cylinder *c = &lane->cylinder[i];
    if (deg > from && deg < 0) {
      double ratio = ew_cylinder_volume_m3(f, from) / v;
      ew_cylinder_fill(f, deg, m->ambient_pa * pow(ratio, 1.34), 350 * pow(ratio, 0.34), 0.03,
                       0.97 * zf, c);
    } else if (deg >= 0 && deg < to) {
      double ratio = ew_cylinder_volume_m3(f, to) / v;
      ew_cylinder_fill(f, deg, 4 * m->ambient_pa * pow(ratio, 1.28), 1400 * pow(ratio, 0.28), 1, 0,
                       c);
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

static double stored(const struct ew_pack *pack, int l, int energy) {
  const struct lane *lane = &pack->lane[l];
  const struct ew_cycle_model *m = lane->plan->model;
  double sum = ew_pipes_total(pack->pipes, pack->pipes->conserved[energy ? EW_ENERGY : EW_MASS], l);
  for (int v = 0; v < m->volumes; v++)
    sum += energy ? lane->volume[v].energy : lane->volume[v].mass;
  for (int i = 0; i < m->cylinders; i++)
    sum += energy ? lane->cylinder[i].energy_j : lane->cylinder[i].mass_kg;
  return sum;
}

static void clear_lane(double *array, gsize n, int l) {
  for (gsize e = 0; e < n; e++)
    array[e * EW_LANES + l] = 0;
}

static void begin_cycle(struct ew_pack *pack, int l) {
  struct lane *lane = &pack->lane[l];
  lane->angle = 0;
  lane->steps_here = 0;
  lane->out_kg = lane->out_kg_k = 0;
  lane->injected_kg = lane->injected_j = 0;
  for (int n = 0; n < NODE_FIRST; n++)
    for (int k = 0; k < EW_CONSERVED; k++)
      pack->node[n].gained[k][l] = 0;
  for (int i = 0; i < lane->plan->model->cylinders; i++)
    ew_cylinder_begin_cycle(&lane->cylinder[i]);
  clear_lane(pack->pipes->heat_j, pack->pipes->cells, l);
  clear_lane(pack->pipes->conductance, pack->pipes->cells, l);
  clear_lane(pack->pipes->conductance_k, pack->pipes->cells, l);
  lane->mass_start = stored(pack, l, 0);
  lane->energy_start = stored(pack, l, 1);
  if (lane->log)
    ew_trace_log_clear(lane->log);
}

static void set_ends(struct ew_pack *pack, int l) {
  const struct ew_plan *plan = pack->lane[l].plan;
  const struct ew_cycle_model *m = plan->model;
  double back = isnan(m->exhaust_back_pa) ? m->ambient_pa : m->exhaust_back_pa;
  set_still_node(&pack->node[NODE_CHARGE], l, &plan->gas, m->ambient_pa, plan->charge_k, 0,
                 plan->charge_fuel);
  set_still_node(&pack->node[NODE_AIR], l, &plan->gas, back, m->ambient_k, 0, 0);
  for (int e = 0; e < pack->ends; e++) {
    const struct ew_cycle_end *end = &m->pipe[e / 2].end[e % 2];
    gboolean mouth = end->kind == EW_END_ATMOSPHERE || end->kind == EW_END_VOLUME;
    pack->end[e].open_in[l] = pack->end[e].open_out[l] = mouth ? end->opening : 0;
    pack->end[e].memory[l] = 0;
  }
}

/* State per kilogram of each coarse cell, in order of pipes and cells. */
struct ew_kept {
  int *cells, pipes, cylinders, volumes, cycles, steps;
  double (*state)[7]; /* kg/m3, m/s, J/kg (total), burned, fuel, K, wall K */
  struct store *volume;
  struct ew_cylinder *cylinder, *shut;
  double *shut_deg, spark;
  struct ew_spark_answer sought;
};

struct ew_kept *ew_pack_keep(const struct ew_pack *pack, int l) {
  const struct lane *lane = &pack->lane[l];
  const struct ew_cycle_model *m = lane->plan->model;
  const struct ew_pipes *p = pack->pipes;
  struct ew_kept *k = g_new0(struct ew_kept, 1);
  k->pipes = m->pipes;
  k->cells = g_memdup2(lane->plan->cells, sizeof(int) * m->pipes);
  k->state = g_malloc0(sizeof *k->state * p->cells);
  int n = 0;
  for (int i = 0; i < m->pipes; i++)
    for (int c = 0; c < k->cells[i]; c++, n++) {
      gsize e = ew_pipes_element(p, i, c, l);
      double mass = p->conserved[EW_MASS][e];
      k->state[n][0] = mass / p->volume_m3[e];
      k->state[n][1] = p->conserved[EW_MOMENTUM][e] / mass;
      k->state[n][2] = p->conserved[EW_ENERGY][e] / mass;
      k->state[n][3] = p->conserved[EW_BURNED][e] / mass;
      k->state[n][4] = p->conserved[EW_FUEL][e] / mass;
      k->state[n][5] = p->primitive[EW_TEMPERATURE][e];
      k->state[n][6] = p->wall_k[e];
    }
  k->volume = g_memdup2(lane->volume, sizeof(struct store) * (m->volumes + 1));
  k->cylinder = g_memdup2(lane->cylinder, sizeof(struct ew_cylinder) * m->cylinders);
  k->shut = g_memdup2(lane->shut, sizeof(struct ew_cylinder) * m->cylinders);
  k->shut_deg = g_memdup2(lane->shut_deg, sizeof(double) * m->cylinders);
  k->spark = lane->spark;
  k->sought = lane->sought;
  k->cycles = lane->cycles;
  k->steps = lane->steps;
  return k;
}

void ew_kept_free(struct ew_kept *k) {
  if (!k)
    return;
  g_free(k->cells);
  g_free(k->state);
  g_free(k->volume);
  g_free(k->cylinder);
  g_free(k->shut);
  g_free(k->shut_deg);
  g_free(k);
}

/* Each fine cell takes the state of the coarse cell that holds its middle. */
static void refine_pipes(struct ew_pack *pack, int l, const struct ew_kept *k) {
  const struct ew_plan *plan = pack->lane[l].plan;
  struct ew_pipes *p = pack->pipes;
  int before = 0;
  for (int i = 0; i < k->pipes; before += k->cells[i++])
    for (int c = 0; c < plan->cells[i]; c++) {
      gsize e = ew_pipes_element(p, i, c, l);
      const double *s = k->state[before + (int)((c + 0.5) * k->cells[i] / plan->cells[i])];
      double mass = s[0] * p->volume_m3[e];
      p->conserved[EW_MASS][e] = mass;
      p->conserved[EW_MOMENTUM][e] = mass * s[1];
      p->conserved[EW_ENERGY][e] = mass * s[2];
      p->conserved[EW_BURNED][e] = mass * s[3];
      p->conserved[EW_FUEL][e] = mass * s[4];
      p->primitive[EW_TEMPERATURE][e] = s[5];
      if (isnan(plan->wall_k[i][c]))
        p->wall_k[e] = s[6];
    }
}

static void resume(struct ew_pack *pack, int l, const struct ew_kept *k) {
  struct lane *lane = &pack->lane[l];
  const struct ew_cycle_model *m = lane->plan->model;
  refine_pipes(pack, l, k);
  memcpy(lane->volume, k->volume, sizeof(struct store) * m->volumes);
  memcpy(lane->cylinder, k->cylinder, sizeof(struct ew_cylinder) * m->cylinders);
  memcpy(lane->shut, k->shut, sizeof(struct ew_cylinder) * m->cylinders);
  memcpy(lane->shut_deg, k->shut_deg, sizeof(double) * m->cylinders);
  lane->spark = k->spark;
  lane->sought = k->sought;
  lane->resumed = TRUE;
  lane->cycles_before = k->cycles;
  lane->steps_before = k->steps;
}

#define INJECTED_CELLS 3

/* Port injection: the cells before each intake valve are made up to the wanted mixture with their air.
 * Fuel enters as vapour less the heat that the gas gives to evaporate it; momentum unchanged. */
static void inject(struct ew_pack *pack, int l) {
  struct lane *lane = &pack->lane[l];
  const struct ew_cycle_model *m = lane->plan->model;
  double **amount = pack->pipes->conserved;
  double ratio = lane->plan->gas.fuel_share / (1 - lane->plan->gas.fuel_share);
  double energy = ew_combustible_enthalpy_j_kg(m->fuel, 298.15) -
                  m->evaporated_from_gas * m->fuel->latent_heat_j_kg;
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

void ew_pack_load(struct ew_pack *pack, int l, const struct ew_plan *plan,
                  const struct ew_cycle_job *job, const struct ew_kept *start) {
  struct lane *lane = &pack->lane[l];
  ew_cycle_result_clear(&lane->result);
  lane->plan = plan;
  lane->job = *job;
  lane->running = TRUE;
  lane->finished = lane->resumed = FALSE;
  lane->frozen = pack->options->spark == EW_SPARK_GIVEN;
  lane->spark = lane->frozen ? job->spark_deg : 28;
  lane->sought = (struct ew_spark_answer){.spark_deg = lane->spark, .mbt_deg = NAN};
  lane->cycles = lane->in_a_row = lane->steps = lane->cycles_before = lane->steps_before = 0;
  lane->before.work = lane->before.air = lane->before.residual = 0;
  memset(lane->before.trapped, 0, sizeof(double) * plan->model->cylinders);
  ew_pipes_set_gas(pack->pipes, l, &plan->gas);
  fill_pipes(pack, l);
  fill_volumes(pack, l);
  fill_cylinders(pack, l);
  set_ends(pack, l);
  if (start)
    resume(pack, l, start);
  begin_cycle(pack, l);
}

/* 1. */
static void choose_steps(struct ew_pack *pack, const struct ew_kernel *k, double *step_s) {
  double rate[EW_LANES];
  k->primitives(pack->pipes, rate);
  for (int l = 0; l < EW_LANES; l++) {
    struct lane *lane = &pack->lane[l];
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

static double step_deg(const struct lane *lane) {
  return lane->step_s * 6 * lane->job.speed_rpm;
}

static double table(const double *values, double deg) {
  double x = (deg < 0 ? deg + 720 : deg) * 4;
  int i = (int)x;
  return values[i] + (x - i) * (values[i + 1] - values[i]);
}

static void set_cylinder_node(struct ew_pack *pack, int l, int i) {
  struct lane *lane = &pack->lane[l];
  const struct ew_cylinder *c = &lane->cylinder[i];
  double r, gamma, h;
  ew_cylinder_gas(&lane->frame[i], c, &r, &gamma, &h);
  set_node(&pack->node[cylinder_node(pack, i)], l, c->pressure_pa, c->temperature_k, r, gamma, h,
           c->burned_kg / c->mass_kg, c->fuel_kg / c->mass_kg);
}

/* 2. Stages and valves, judged at the middle of the step. */
static void set_cylinders(struct ew_pack *pack, int l) {
  struct lane *lane = &pack->lane[l];
  const struct ew_plan *plan = lane->plan;
  double middle = lane->angle + 0.5 * step_deg(lane);
  for (int i = 0; i < plan->model->cylinders; i++) {
    double deg = local_angle(lane, i, middle);
    struct ew_cylinder *c = &lane->cylinder[i];
    gboolean shut = deg >= plan->shut_from[i] && deg <= plan->shut_to[i];
    if (shut && c->stage == EW_EXCHANGE) {
      c->spark_deg = lane->spark;
      ew_cylinder_shut(&lane->frame[i], c);
      lane->shut[i] = *c;
      lane->shut_deg[i] = local_angle(lane, i, lane->angle);
    } else if (!shut && c->stage != EW_EXCHANGE) {
      ew_cylinder_open(c);
    }
    if (c->stage == EW_EXCHANGE || lane->steps == 0)
      set_cylinder_node(pack, l, i);
    struct ew_node *node = &pack->node[cylinder_node(pack, i)];
    for (int k = 0; k < EW_CONSERVED; k++)
      node->gained[k][l] = 0;
  }
  for (int v = 0; v < plan->model->valves; v++) {
    int i = plan->model->valve[v].cylinder;
    struct ew_end *end = &pack->end[pack->valve_end[v]];
    gboolean open = lane->cylinder[i].stage == EW_EXCHANGE;
    double deg = open ? local_angle(lane, i, middle) : 0;
    end->open_in[l] = open ? table(plan->open_in[v], deg) : 0;
    end->open_out[l] = open ? table(plan->open_out[v], deg) : 0;
  }
}

static double temperature_of(const struct ew_working_gas *gas, const struct store *s) {
  double t = s->temperature, yb = s->burned / s->mass, yf = s->fuel / s->mass;
  for (int pass = 0; pass < 2; pass++)
    t -= (ew_working_gas_energy(gas, yb, yf, t) - s->energy / s->mass) /
         ew_working_gas_cv(gas, yb, yf, t);
  return t;
}

static void set_volumes(struct ew_pack *pack, int l) {
  struct lane *lane = &pack->lane[l];
  const struct ew_working_gas *gas = &lane->plan->gas;
  for (int v = 0; v < lane->plan->model->volumes; v++) {
    struct store *s = &lane->volume[v];
    struct ew_node *node = &pack->node[NODE_FIRST + v];
    double yb = s->burned / s->mass, yf = s->fuel / s->mass;
    double r = ew_working_gas_constant(gas, yb, yf);
    s->temperature = temperature_of(gas, s);
    double p = s->mass * r * s->temperature / lane->plan->model->volume[v].volume_m3;
    set_node(node, l, p, s->temperature, r, 1 + r / ew_working_gas_cv(gas, yb, yf, s->temperature),
             s->energy / s->mass + p / s->mass * lane->plan->model->volume[v].volume_m3, yb, yf);
    for (int k = 0; k < EW_CONSERVED; k++)
      node->gained[k][l] = 0;
  }
}

/* 6. */
static void advance_cylinders(struct ew_pack *pack, int l) {
  struct lane *lane = &pack->lane[l];
  double deg = step_deg(lane);
  for (int i = 0; i < lane->plan->model->cylinders; i++) {
    struct ew_node *node = &pack->node[cylinder_node(pack, i)];
    double from = local_angle(lane, i, lane->angle), gained[EW_CONSERVED];
    for (int k = 0; k < EW_CONSERVED; k++)
      gained[k] = node->gained[k][l];
    ew_cylinder_advance(&lane->frame[i], &lane->cylinder[i], from, from + deg,
                        lane->cylinder[i].stage == EW_EXCHANGE ? gained : NULL);
  }
  for (int v = 0; v < lane->plan->model->volumes; v++) {
    double(*gained)[EW_LANES] = pack->node[NODE_FIRST + v].gained;
    struct store *s = &lane->volume[v];
    s->mass += gained[EW_MASS][l];
    s->energy += gained[EW_ENERGY][l];
    s->burned += gained[EW_BURNED][l];
    s->fuel += gained[EW_FUEL][l];
  }
}

static void watch_exhaust(struct ew_pack *pack, int l) {
  struct lane *lane = &pack->lane[l];
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
  struct lane *lane = &pack->lane[l];
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
    *row++ = pack->node[NODE_FIRST + v].pressure_pa[l];
  for (int e = 0; e < pack->ends; e++) {
    *row++ = pack->end[e].pressure_pa[l];
    *row++ = pack->end[e].flow_kg_s[l];
  }
}

/* Between cycles: walls of exhaust pipes move towards their heat balance. */
static void settle_walls(struct ew_pack *pack, int l) {
  struct lane *lane = &pack->lane[l];
  const struct ew_plan *plan = lane->plan;
  struct ew_pipes *p = pack->pipes;
  double seconds = 120 / lane->job.speed_rpm, ambient = plan->model->ambient_k;
  for (int i = 0; i < plan->model->pipes; i++)
    for (int c = 0; c < plan->cells[i]; c++) {
      gsize e = ew_pipes_element(p, i, c, l);
      if (!isnan(plan->wall_k[i][c]) || !(p->conductance[e] > 0))
        continue;
      double wall = p->wall_k[e], inside = p->conductance[e] / seconds / p->wall_m2[e];
      double outside = OUTSIDE_W_M2_K + EMISSIVITY * STEFAN_BOLTZMANN *
                                            (wall * wall + ambient * ambient) * (wall + ambient);
      double gas = p->conductance_k[e] / p->conductance[e];
      double balance = (inside * gas + outside * ambient) / (inside + outside);
      p->wall_k[e] += 0.7 * (balance - wall);
    }
}

struct sums {
  double work, pumping, heat, air, fuel, mass_in, energy_in, pipe_heat;
};

static struct sums sum_up(const struct ew_pack *pack, int l) {
  const struct lane *lane = &pack->lane[l];
  struct sums s = {0};
  for (int i = 0; i < lane->plan->model->cylinders; i++) {
    s.work += lane->cylinder[i].work_j;
    s.pumping += lane->cylinder[i].pumping_work_j;
    s.heat += lane->cylinder[i].heat_j;
  }
  const struct ew_node *charge = &pack->node[NODE_CHARGE], *air = &pack->node[NODE_AIR];
  s.fuel = lane->injected_kg - charge->gained[EW_FUEL][l];
  s.air = -(charge->gained[EW_MASS][l] - charge->gained[EW_FUEL][l] - charge->gained[EW_BURNED][l]);
  s.mass_in = lane->injected_kg - charge->gained[EW_MASS][l] - air->gained[EW_MASS][l];
  s.energy_in = lane->injected_j - charge->gained[EW_ENERGY][l] - air->gained[EW_ENERGY][l];
  s.pipe_heat = ew_pipes_total(pack->pipes, pack->pipes->heat_j, l);
  return s;
}

static void audit(struct ew_pack *pack, int l, const struct sums *s, struct ew_cycle_result *r) {
  struct lane *lane = &pack->lane[l];
  double mass = stored(pack, l, 0) - lane->mass_start;
  double energy = stored(pack, l, 1) - lane->energy_start;
  double work = fmax(fabs(s->work), 1e-9);
  r->mass_residual = fabs(mass - s->mass_in) / fmax(fabs(s->air), 1e-12);
  r->energy_residual = fabs(energy - s->energy_in - s->pipe_heat + s->heat + s->work) / work;
  r->mass_drift = mass / fmax(fabs(s->air), 1e-12);
  r->energy_drift = energy / work;
}

static void mean_of_cylinders(struct lane *lane, struct ew_cycle_result *r) {
  const struct ew_cycle_model *m = lane->plan->model;
  double low = INFINITY, high = -INFINITY, mean = 0, share = 1.0 / m->cylinders;
  r->residual_fraction = r->trapped_kg = r->trapped_equivalence = r->peak_pressure_pa = 0;
  r->peak_deg = r->ca10_deg = r->ca50_deg = r->ca90_deg = r->knock = 0;
  for (int i = 0; i < m->cylinders; i++) {
    const struct ew_cylinder *c = &lane->cylinder[i];
    const struct ew_burn_record *b = &c->last;
    low = fmin(low, c->work_j);
    high = fmax(high, c->work_j);
    mean += share * c->work_j;
    r->residual_fraction += share * b->residual;
    r->trapped_kg += share * b->trapped_kg;
    r->trapped_equivalence += share * b->equivalence;
    r->peak_pressure_pa += share * b->peak_pa;
    r->peak_deg += share * b->peak_deg;
    r->ca10_deg += share * b->ca10_deg;
    r->ca50_deg += share * b->ca50_deg;
    r->ca90_deg += share * b->ca90_deg;
    r->knock = fmax(r->knock, b->knock);
  }
  r->imep_spread = (high - low) / fmax(fabs(mean), 1e-9);
}

static void report(struct ew_pack *pack, int l, const struct sums *s) {
  struct lane *lane = &pack->lane[l];
  struct ew_cycle_result *r = &lane->result;
  const struct ew_cycle_model *m = lane->plan->model;
  const struct ew_cycle_friction *f = &m->friction;
  double displacement = ew_cycle_displacement_m3(m), speed = lane->frame[0].piston_speed_m_s;
  double cycles_s = lane->job.speed_rpm / 120;
  r->speed_rpm = lane->job.speed_rpm;
  r->cycles = lane->cycles + lane->cycles_before;
  r->steps = lane->steps + lane->steps_before;
  r->torque_residual = fabs(s->work - lane->before.work) / fmax(fabs(s->work), 1e-9);
  mean_of_cylinders(lane, r);
  r->imep_pa = s->work / displacement;
  r->pmep_pa = s->pumping / displacement;
  r->fmep_pa = f->constant_pa + f->peak * r->peak_pressure_pa + f->speed_pa_s_m * speed +
               f->square_pa_s2_m2 * speed * speed;
  r->bmep_pa = r->imep_pa - r->fmep_pa;
  r->torque_n_m = r->bmep_pa * displacement / (4 * G_PI);
  r->power_w = r->bmep_pa * displacement * cycles_s;
  r->air_kg_s = s->air * cycles_s;
  r->fuel_kg_s = s->fuel * cycles_s;
  r->volumetric_efficiency = s->air / (displacement * lane->plan->ambient_kg_m3);
  r->bsfc_kg_j = r->power_w > 0 ? r->fuel_kg_s / r->power_w : NAN;
  r->exhaust_k = lane->out_kg > 0 ? lane->out_kg_k / lane->out_kg : NAN;
  r->heat_share = s->heat / fmax(s->fuel * m->fuel->lower_heating_value_j_kg, 1e-9);
  r->spark_deg = lane->spark;
  r->mbt_deg = lane->sought.mbt_deg;
  r->knock_limited = lane->sought.knock_limited;
  r->octane_needed = lane->frame[0].octane * pow(r->knock / m->combustion.knock_limit, 1 / 3.402);
}

/* Changes since the last cycle within tolerance; remembers this one. */
static gboolean same_as_before(struct ew_pack *pack, int l, const struct sums *s) {
  struct lane *lane = &pack->lane[l];
  double tolerance = pack->options->tolerance, residual = 0;
  int n = lane->plan->model->cylinders;
  gboolean same = fabs(s->work - lane->before.work) < tolerance * fabs(s->work) &&
                  fabs(s->air - lane->before.air) < tolerance * fabs(s->air);
  for (int i = 0; i < n; i++) {
    const struct ew_burn_record *b = &lane->cylinder[i].last;
    if (!(fabs(b->trapped_kg - lane->before.trapped[i]) < 1.5 * tolerance * b->trapped_kg))
      same = FALSE;
    lane->before.trapped[i] = b->trapped_kg;
    residual += b->residual / n;
  }
  if (!(fabs(residual - lane->before.residual) < 0.5 * tolerance))
    same = FALSE;
  lane->before.work = s->work;
  lane->before.air = s->air;
  lane->before.residual = residual;
  return same;
}

static void seek_spark(struct ew_pack *pack, int l) {
  struct lane *lane = &pack->lane[l];
  const struct ew_plan *plan = lane->plan;
  int most = 0;
  for (int i = 1; i < plan->model->cylinders; i++)
    if (lane->shut[i].closed_kg > lane->shut[most].closed_kg * (1 + 1e-9))
      most = i;
  struct ew_spark_question q = {
      &lane->frame[most],
      &lane->shut[most],
      lane->shut_deg[most],
      plan->shut_to[most],
      lane->spark,
      plan->model->friction.peak,
      pack->options->spark == EW_SPARK_BEST ? plan->model->combustion.knock_limit : INFINITY};
  double old = lane->spark;
  lane->sought = ew_spark_seek(&q);
  lane->spark = lane->sought.spark_deg;
  lane->frozen =
      lane->resumed || lane->cycles >= 6 || (lane->cycles >= 3 && fabs(lane->spark - old) < 0.6);
}

static void give_up(struct lane *lane, const char *format, ...) G_GNUC_PRINTF(2, 3);
static void give_up(struct lane *lane, const char *format, ...) {
  va_list list;
  va_start(list, format);
  g_vsnprintf(lane->result.reason, sizeof lane->result.reason, format, list);
  va_end(list);
  lane->running = FALSE;
  lane->finished = TRUE;
}

static const char *sick_pipe(const struct ew_pack *pack, int l) {
  const struct lane *lane = &pack->lane[l];
  const struct ew_working_gas *gas = &lane->plan->gas;
  for (int i = 0; i < lane->plan->model->pipes; i++)
    for (int c = 0; c < lane->plan->cells[i]; c++) {
      gsize e = ew_pipes_element(pack->pipes, i, c, l);
      double t = pack->pipes->primitive[EW_TEMPERATURE][e];
      double p = pack->pipes->primitive[EW_PRESSURE][e];
      if (!(p > 0 && isfinite(p) && t > 1.01 * gas->coldest_k && t < 0.99 * gas->hottest_k))
        return lane->plan->model->pipe[i].name;
    }
  return NULL;
}

static void end_cycle(struct ew_pack *pack, int l) {
  struct lane *lane = &pack->lane[l];
  lane->cycles++;
  struct sums s = sum_up(pack, l);
  report(pack, l, &s);
  audit(pack, l, &s, &lane->result);
  const char *sick = sick_pipe(pack, l);
  if (sick || !isfinite(s.work) || !isfinite(s.air)) {
    give_up(lane, "no sound state in pipe %s in cycle %d", sick ? sick : "(none: a cylinder)",
            lane->cycles);
    return;
  }
  lane->in_a_row = same_as_before(pack, l, &s) ? lane->in_a_row + 1 : 0;
  if (!lane->frozen && (lane->resumed || lane->cycles >= 2)) {
    seek_spark(pack, l);
    lane->in_a_row = 0;
  }
  if (lane->frozen && lane->in_a_row >= pack->in_a_row) {
    lane->result.converged = TRUE;
    lane->running = FALSE;
    lane->finished = TRUE;
    return;
  }
  if (lane->cycles >= pack->options->most_cycles) {
    give_up(lane, "not steady after %d cycles: work still changes by %.2g %% from cycle to cycle",
            lane->cycles, 100 * lane->result.torque_residual);
    return;
  }
  settle_walls(pack, l);
  begin_cycle(pack, l);
}

/* Half the vector when nobody runs in the upper lanes. */
static const struct ew_kernel *choose_width(struct ew_pack *pack) {
  gboolean upper = FALSE;
  for (int l = EW_LANES / 2; l < EW_LANES; l++)
    upper |= pack->lane[l].running;
  pack->pipes->lanes = upper ? EW_LANES : EW_LANES / 2;
  return !upper && pack->kernel->half ? pack->kernel->half : pack->kernel;
}

static double lap(struct timespec *since) {
  struct timespec now;
  clock_gettime(CLOCK_MONOTONIC, &now);
  double s = (double)(now.tv_sec - since->tv_sec) + 1e-9 * (double)(now.tv_nsec - since->tv_nsec);
  *since = now;
  return s;
}

static void finish_step(struct ew_pack *pack, int l) {
  struct lane *lane = &pack->lane[l];
  watch_exhaust(pack, l);
  advance_cylinders(pack, l);
  lane->angle += step_deg(lane);
  lane->steps++;
  if (lane->log)
    log_state(pack, l);
  if (lane->angle > 720 - 1e-9)
    end_cycle(pack, l);
  else if (++lane->steps_here > MOST_STEPS_A_CYCLE)
    give_up(lane, "the time step fell to %.2g s at crank angle %.1f", lane->step_s, lane->angle);
}

gboolean ew_pack_step(struct ew_pack *pack) {
  const struct ew_kernel *k = choose_width(pack);
  const struct ew_cycle_model *m = model_of(pack);
  struct ew_pipe_physics physics = {m->pipe_friction, 1};
  double step_s[EW_LANES] __attribute__((aligned(64)));
  struct timespec clock;
  gboolean done = FALSE;
  clock_gettime(CLOCK_MONOTONIC, &clock);
  choose_steps(pack, k, step_s);
  pack->cells_s += lap(&clock);
  for (int l = 0; l < EW_LANES; l++)
    if (pack->lane[l].running) {
      set_cylinders(pack, l);
      set_volumes(pack, l);
    }
  pack->cylinders_s += lap(&clock);
  ew_pipes_fill_ghosts(pack->pipes);
  k->predict(pack->pipes, step_s);
  k->riemann(pack->pipes);
  pack->cells_s += lap(&clock);
  k->ends(pack->pipes, pack->end, pack->ends, pack->node, step_s);
  for (int j = 0; j < m->junctions; j++)
    k->junction(pack->pipes, pack->end, pack->junction_members + pack->junction_first[j],
                pack->junction_count[j], pack->junction_pa[j]);
  pack->ends_s += lap(&clock);
  k->update(pack->pipes, step_s, &physics);
  for (int l = 0; l < EW_LANES && m->delivery == EW_FUEL_PORT; l++)
    if (pack->lane[l].running)
      inject(pack, l);
  pack->cells_s += lap(&clock);
  for (int l = 0; l < EW_LANES; l++)
    if (pack->lane[l].running) {
      finish_step(pack, l);
      done |= pack->lane[l].finished;
    }
  pack->cylinders_s += lap(&clock);
  return done;
}

void ew_pack_effort(const struct ew_pack *pack, struct ew_cycle_effort *effort) {
  effort->cells_s += pack->cells_s;
  effort->ends_s += pack->ends_s;
  effort->cylinders_s += pack->cylinders_s;
}

gboolean ew_pack_finished(const struct ew_pack *pack, int l) {
  return pack->lane[l].finished;
}

void ew_pack_take(struct ew_pack *pack, int l, struct ew_cycle_result *result) {
  struct lane *lane = &pack->lane[l];
  if (lane->log)
    lane->result.trace = ew_trace_log_grid(lane->log, lane->plan->model);
  *result = lane->result;
  memset(&lane->result, 0, sizeof lane->result);
  lane->finished = FALSE;
}

void ew_pack_idle(struct ew_pack *pack, int l) {
  pack->lane[l].running = FALSE;
}

int ew_pack_cells(const struct ew_pack *pack) {
  return pack->pipes->cells - 2 * pack->pipes->pipes;
}

int ew_pack_ends(const struct ew_pack *pack) {
  return pack->ends;
}
