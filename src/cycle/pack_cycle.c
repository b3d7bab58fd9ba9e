/* Cycle after cycle of one lane: what a cycle summed is audited and reported, the spark sought anew, the
 * exhaust walls moved towards their heat balance, until work, air, charge and residual gas stay as they
 * were, or the lane gives up. The figures of the walls'
 * outside: docs/methods-cycle.md, 2. */
#include "base/elementary.h"
#include "cycle/pack_parts.h"

#define OUTSIDE_W_M2_K   35.0
#define EMISSIVITY       0.7
#define CONFIRM_DEG      0.4
#define STEFAN_BOLTZMANN 5.670374419e-8

static double stored(const struct ew_pack *pack, int l, int energy) {
  const struct ew_lane *lane = &pack->lane[l];
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

void ew_pack_begin_cycle(struct ew_pack *pack, int l) {
  struct ew_lane *lane = &pack->lane[l];
  lane->angle = 0;
  lane->steps_here = 0;
  lane->out_kg = lane->out_kg_k = 0;
  lane->injected_kg = lane->injected_j = 0;
  for (int n = 0; n < EW_NODE_FIRST; n++)
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

/* Between cycles: walls of exhaust pipes move towards their heat balance. */
static void settle_walls(struct ew_pack *pack, int l) {
  struct ew_lane *lane = &pack->lane[l];
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
  const struct ew_lane *lane = &pack->lane[l];
  struct sums s = {0};
  for (int i = 0; i < lane->plan->model->cylinders; i++) {
    s.work += lane->cylinder[i].work_j;
    s.pumping += lane->cylinder[i].pumping_work_j;
    s.heat += lane->cylinder[i].heat_j;
  }
  const struct ew_node *charge = &pack->node[EW_NODE_CHARGE], *air = &pack->node[EW_NODE_AIR];
  s.fuel = lane->injected_kg - charge->gained[EW_FUEL][l];
  s.air = -(charge->gained[EW_MASS][l] - charge->gained[EW_FUEL][l] - charge->gained[EW_BURNED][l]);
  s.mass_in = lane->injected_kg - charge->gained[EW_MASS][l] - air->gained[EW_MASS][l];
  s.energy_in = lane->injected_j - charge->gained[EW_ENERGY][l] - air->gained[EW_ENERGY][l];
  s.pipe_heat = ew_pipes_total(pack->pipes, pack->pipes->heat_j, l);
  return s;
}

static void audit(struct ew_pack *pack, int l, const struct sums *s, struct ew_cycle_result *r) {
  struct ew_lane *lane = &pack->lane[l];
  double mass = stored(pack, l, 0) - lane->mass_start;
  double energy = stored(pack, l, 1) - lane->energy_start;
  double work = fmax(fabs(s->work), 1e-9);
  r->mass_residual = fabs(mass - s->mass_in) / fmax(fabs(s->air), 1e-12);
  r->energy_residual = fabs(energy - s->energy_in - s->pipe_heat + s->heat + s->work) / work;
  r->mass_drift = mass / fmax(fabs(s->air), 1e-12);
  r->energy_drift = energy / work;
}

static void mean_of_cylinders(struct ew_lane *lane, struct ew_cycle_result *r) {
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
  struct ew_lane *lane = &pack->lane[l];
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
  r->octane_needed =
      lane->frame[0].octane * ew_pow(r->knock / m->combustion.knock_limit, 1 / 3.402);
}

/* Changes since the last cycle within tolerance; remembers this one. */
static gboolean same_as_before(struct ew_pack *pack, int l, const struct sums *s) {
  struct ew_lane *lane = &pack->lane[l];
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
  struct ew_lane *lane = &pack->lane[l];
  const struct ew_plan *plan = lane->plan;
  int most = 0; /* the fullest; the one that knocks worst where knock holds the spark back */
  for (int i = 1; i < plan->model->cylinders; i++)
    if (lane->sought.knock_limited
            ? lane->cylinder[i].last.knock > lane->cylinder[most].last.knock * (1 + 1e-9)
            : lane->shut[i].closed_kg > lane->shut[most].closed_kg * (1 + 1e-9))
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

void ew_pack_give_up(struct ew_lane *lane, const char *format, ...) {
  va_list list;
  va_start(list, format);
  g_vsnprintf(lane->result.reason, sizeof lane->result.reason, format, list);
  va_end(list);
  lane->running = FALSE;
  lane->finished = TRUE;
}

static const char *sick_pipe(const struct ew_pack *pack, int l) {
  const struct ew_lane *lane = &pack->lane[l];
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

void ew_pack_end_cycle(struct ew_pack *pack, int l) {
  struct ew_lane *lane = &pack->lane[l];
  lane->cycles++;
  struct sums s = sum_up(pack, l);
  report(pack, l, &s);
  audit(pack, l, &s, &lane->result);
  const char *sick = sick_pipe(pack, l);
  if (sick || !isfinite(s.work) || !isfinite(s.air)) {
    ew_pack_give_up(lane, "no sound state in pipe %s in cycle %d",
                    sick ? sick : "(none: a cylinder)", lane->cycles);
    return;
  }
  lane->in_a_row = same_as_before(pack, l, &s) ? lane->in_a_row + 1 : 0;
  if (!lane->frozen && (lane->resumed || lane->cycles >= 2)) {
    seek_spark(pack, l);
    lane->in_a_row = 0;
  }
  if (lane->frozen && lane->in_a_row >= pack->in_a_row && !lane->confirmed) {
    /* the charge has settled since: seek once more, and go on where that moves the spark */
    double before = lane->spark;
    if (isfinite(lane->sought.mbt_deg))
      seek_spark(pack, l);
    lane->frozen = lane->confirmed = TRUE;
    if (fabs(lane->spark - before) > CONFIRM_DEG)
      lane->in_a_row = 0;
    else
      lane->spark = before; /* which this cycle ran with */
  }
  if (lane->frozen && lane->in_a_row >= pack->in_a_row) {
    lane->result.converged = TRUE;
    lane->running = FALSE;
    lane->finished = TRUE;
    return;
  }
  if (lane->cycles >= pack->options->most_cycles) {
    ew_pack_give_up(lane,
                    "not steady after %d cycles: work still changes by %.2g %% from cycle to cycle",
                    lane->cycles, 100 * lane->result.torque_residual);
    return;
  }
  settle_walls(pack, l);
  ew_pack_begin_cycle(pack, l);
}
