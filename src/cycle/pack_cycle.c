/* Cycle after cycle of one lane: what a cycle summed is audited and reported, the spark sought again, the
 * exhaust walls moved towards their heat balance, until work, air, charge and residual gas stay as they
 * were, or the lane gives up. All of it reads and writes the state, so that a run may be taken out and go
 * on elsewhere. The figures of the walls' outside: docs/methods-cycle.md, 2. */
#include "base/elementary.h"
#include "cycle/pack_parts.h"

#define OUTSIDE_W_M2_K   35.0
#define EMISSIVITY       0.7
#define CONFIRM_DEG      0.4
#define KNOCK_NEAR       0.01 /* of the logarithm of the knock integral: two tenths of a degree */
#define STEFAN_BOLTZMANN 5.670374419e-8
#define COARSE_TOLERANCE 3 /* times the wanted one, and one cycle in a row: it is only a start */
#define LOOSEST          0.1

static double amount(const struct ew_pack *pack, int l, int node, enum ew_conserved what) {
  return ew_state_at(pack->state, EW_STATE_NODES, EW_NODES_GAINED + (int)what, node)[l];
}

/* Sum of a word of CELLS over a lane's real cells, in order. */
static double total(const struct ew_pack *pack, int l, int word) {
  const struct ew_cycle_laid *laid = pack->lane[l].laid;
  double sum = 0;
  for (int i = 0; i < laid->pipes; i++)
    for (int c = 0; c < laid->count[i]; c++)
      sum += ew_state_at(pack->state, EW_STATE_CELLS, word, ew_state_cell(pack->state, i, c))[l];
  return sum;
}

/* Mass, energy or burned gas of all pipes, volumes and cylinders. */
static double stored(const struct ew_pack *pack, int l, enum ew_conserved what) {
  const struct ew_lane *lane = &pack->lane[l];
  enum ew_state_volume word = what == EW_ENERGY   ? EW_VOLUMES_ENERGY
                              : what == EW_BURNED ? EW_VOLUMES_BURNED
                                                  : EW_VOLUMES_MASS;
  double sum = total(pack, l, (int)what);
  for (int v = 0; v < pack->state->volumes; v++)
    sum += ew_state_at(pack->state, EW_STATE_VOLUMES, (int)word, v)[l];
  for (int i = 0; i < pack->state->cylinders; i++) {
    const struct ew_cylinder *c = &lane->cylinder[i];
    sum += what == EW_ENERGY ? c->energy_j : what == EW_BURNED ? c->burned_kg : c->mass_kg;
  }
  return sum;
}

static void gather_cylinders(struct ew_pack *pack, int l) {
  for (int i = 0; i < pack->state->cylinders; i++)
    ew_state_get_cylinder(pack->state, EW_STATE_CYLINDERS, l, i, &pack->lane[l].cylinder[i]);
}

void ew_pack_begin_cycle(struct ew_pack *pack, int l) {
  static const enum ew_state_run cleared[] = {EW_RUN_ANGLE_DEG,   EW_RUN_STEPS_HERE,
                                              EW_RUN_OUT_KG,      EW_RUN_OUT_KG_K,
                                              EW_RUN_INJECTED_KG, EW_RUN_INJECTED_J};
  struct ew_lane *lane = &pack->lane[l];
  struct ew_cycle_state *s = pack->state;
  for (gsize i = 0; i < G_N_ELEMENTS(cleared); i++)
    *ew_pack_run(pack, l, cleared[i]) = 0;
  for (int n = 0; n < EW_NODE_FIRST; n++)
    for (int k = 0; k < EW_CONSERVED; k++)
      ew_state_at(s, EW_STATE_NODES, EW_NODES_GAINED + k, n)[l] = 0;
  gather_cylinders(pack, l);
  for (int i = 0; i < s->cylinders; i++) {
    ew_cylinder_begin_cycle(&lane->cylinder[i]);
    ew_state_put_cylinder(s, EW_STATE_CYLINDERS, l, i, &lane->cylinder[i]);
  }
  for (int w = EW_CELL_HEAT; w < EW_CELL_WORDS; w++)
    for (int c = 0; c < s->parts[EW_STATE_CELLS]; c++)
      ew_state_at(s, EW_STATE_CELLS, w, c)[l] = 0;
  *ew_pack_run(pack, l, EW_RUN_MASS_START) = stored(pack, l, EW_MASS);
  *ew_pack_run(pack, l, EW_RUN_ENERGY_START) = stored(pack, l, EW_ENERGY);
  *ew_pack_run(pack, l, EW_RUN_BURNED_START) = stored(pack, l, EW_BURNED);
  if (lane->log)
    ew_trace_log_clear(lane->log);
}

/* Between cycles: walls of exhaust pipes move towards their heat balance. */
static void settle_walls(struct ew_pack *pack, int l) {
  const struct ew_cycle_laid *laid = pack->lane[l].laid;
  const struct ew_cycle_state *s = pack->state;
  double seconds = 120 / *ew_pack_run(pack, l, EW_RUN_SPEED_RPM);
  double ambient = laid->plan->ambient_k;
  for (int i = 0; i < laid->pipes; i++)
    for (int c = 0; c < laid->count[i]; c++) {
      int part = ew_state_cell(s, i, c), of = laid->first[i] + c;
      double conductance = ew_state_at(s, EW_STATE_CELLS, EW_CELL_CONDUCTANCE, part)[l];
      if (!isnan(laid->wall_k[of]) || !(conductance > 0))
        continue;
      double *wall_k = &ew_state_at(s, EW_STATE_CELLS, EW_CELL_WALL, part)[l];
      double wall = *wall_k, inside = conductance / seconds / laid->wall_m2[of];
      double outside = OUTSIDE_W_M2_K + EMISSIVITY * STEFAN_BOLTZMANN *
                                            (wall * wall + ambient * ambient) * (wall + ambient);
      double gas = ew_state_at(s, EW_STATE_CELLS, EW_CELL_CONDUCTANCE_K, part)[l] / conductance;
      double balance = (inside * gas + outside * ambient) / (inside + outside);
      *wall_k += 0.7 * (balance - wall);
    }
}

static struct ew_sums sum_up(const struct ew_pack *pack, int l) {
  const struct ew_lane *lane = &pack->lane[l];
  struct ew_sums s = {0};
  for (int i = 0; i < pack->state->cylinders; i++) {
    s.work += lane->cylinder[i].work_j;
    s.pumping += lane->cylinder[i].pumping_work_j;
    s.heat += lane->cylinder[i].heat_j;
  }
  double mass = amount(pack, l, EW_NODE_CHARGE, EW_MASS);
  double injected_kg = *ew_pack_run(pack, l, EW_RUN_INJECTED_KG);
  double injected_j = *ew_pack_run(pack, l, EW_RUN_INJECTED_J);
  s.fuel = injected_kg - amount(pack, l, EW_NODE_CHARGE, EW_FUEL);
  s.air = -(mass - amount(pack, l, EW_NODE_CHARGE, EW_FUEL) -
            amount(pack, l, EW_NODE_CHARGE, EW_BURNED));
  s.mass_in = injected_kg - mass - amount(pack, l, EW_NODE_AIR, EW_MASS);
  s.energy_in = injected_j - amount(pack, l, EW_NODE_CHARGE, EW_ENERGY) -
                amount(pack, l, EW_NODE_AIR, EW_ENERGY);
  s.pipe_heat = total(pack, l, EW_CELL_HEAT);
  s.burned = amount(pack, l, EW_NODE_CHARGE, EW_BURNED) + amount(pack, l, EW_NODE_AIR, EW_BURNED) +
             stored(pack, l, EW_BURNED) - *ew_pack_run(pack, l, EW_RUN_BURNED_START);
  s.energy_stored = stored(pack, l, EW_ENERGY) - *ew_pack_run(pack, l, EW_RUN_ENERGY_START);
  return s;
}

static void audit(struct ew_pack *pack, int l, const struct ew_sums *s, struct ew_cycle_result *r) {
  double mass = stored(pack, l, EW_MASS) - *ew_pack_run(pack, l, EW_RUN_MASS_START);
  double energy = stored(pack, l, EW_ENERGY) - *ew_pack_run(pack, l, EW_RUN_ENERGY_START);
  double work = fmax(fabs(s->work), 1e-9);
  r->mass_residual = fabs(mass - s->mass_in) / fmax(fabs(s->air), 1e-12);
  r->energy_residual = fabs(energy - s->energy_in - s->pipe_heat + s->heat + s->work) / work;
  r->mass_drift = mass / fmax(fabs(s->air), 1e-12);
  r->energy_drift = energy / work;
}

static void mean_of_cylinders(const struct ew_lane *lane, int n, struct ew_cycle_result *r) {
  g_assert(n >= 1);
  double low = INFINITY, high = -INFINITY, mean = 0, share = 1.0 / n;
  r->pressure_rise_pa_deg = r->residual_fraction = r->trapped_kg = r->trapped_equivalence =
      r->peak_pressure_pa = 0;
  r->peak_deg = r->ca10_deg = r->ca50_deg = r->ca90_deg = r->knock = 0;
  for (int i = 0; i < n; i++) {
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
    r->pressure_rise_pa_deg += share * b->rise_pa_deg;
    r->ca10_deg += share * b->ca10_deg;
    r->ca50_deg += share * b->ca50_deg;
    r->ca90_deg += share * b->ca90_deg;
    r->knock = fmax(r->knock, b->knock);
  }
  r->imep_spread = (high - low) / fmax(fabs(mean), 1e-9);
}

static void report(struct ew_pack *pack, int l, const struct ew_sums *s) {
  struct ew_lane *lane = &pack->lane[l];
  struct ew_cycle_result *r = &lane->result;
  const struct ew_cycle_plan *plan = lane->laid->plan;
  const struct ew_cycle_friction *f = &plan->friction;
  double displacement = ew_cycle_plan_displacement_m3(plan);
  double speed = lane->frame[0].piston_speed_m_s;
  double cycles_s = *ew_pack_run(pack, l, EW_RUN_SPEED_RPM) / 120;
  double out_kg = *ew_pack_run(pack, l, EW_RUN_OUT_KG);
  r->speed_rpm = *ew_pack_run(pack, l, EW_RUN_SPEED_RPM);
  r->cycles =
      (int)(*ew_pack_run(pack, l, EW_RUN_CYCLES) + *ew_pack_run(pack, l, EW_RUN_CYCLES_BEFORE));
  r->steps =
      (int)(*ew_pack_run(pack, l, EW_RUN_STEPS) + *ew_pack_run(pack, l, EW_RUN_STEPS_BEFORE));
  r->torque_residual =
      fabs(s->work - *ew_pack_run(pack, l, EW_RUN_WORK_BEFORE)) / fmax(fabs(s->work), 1e-9);
  mean_of_cylinders(lane, pack->state->cylinders, r);
  r->imep_pa = s->work / displacement;
  r->pmep_pa = s->pumping / displacement;
  r->fmep_pa = f->constant_pa + f->peak * r->peak_pressure_pa + f->speed_pa_s_m * speed +
               f->square_pa_s2_m2 * speed * speed;
  r->bmep_pa = r->imep_pa - r->fmep_pa;
  r->torque_n_m = r->bmep_pa * displacement / (4 * G_PI);
  r->power_w = r->bmep_pa * displacement * cycles_s;
  r->air_kg_s = s->air * cycles_s;
  r->fuel_kg_s = s->fuel * cycles_s;
  r->volumetric_efficiency = s->air / (displacement * plan->ambient_kg_m3);
  r->bsfc_kg_j = r->power_w > 0 ? r->fuel_kg_s / r->power_w : NAN;
  r->exhaust_k = out_kg > 0 ? *ew_pack_run(pack, l, EW_RUN_OUT_KG_K) / out_kg : NAN;
  r->heat_share = s->heat / fmax(s->fuel * lane->laid->gas.fuel.lower_heating_value_j_kg, 1e-9);
  r->energy = ew_energy_of(lane->laid, s, r->fmep_pa * displacement);
  r->exhaust_reading_k = ew_exhaust_reading_k(pack, l, out_kg * cycles_s);
  r->spark_deg = *ew_pack_run(pack, l, EW_RUN_SPARK_DEG);
  r->mbt_deg = *ew_pack_run(pack, l, EW_RUN_MBT_DEG);
  r->knock_limited = *ew_pack_run(pack, l, EW_RUN_KNOCK_LIMITED) != 0;
  r->octane_needed =
      lane->frame[0].octane * ew_pow(r->knock / plan->combustion.knock_limit, 1 / 3.402);
}

static double tolerance_of(const struct ew_pack *pack, int l) {
  double wanted = pack->lane[l].laid->plan->tolerance;
  return pack->grid == EW_GRID_COARSE ? MIN(COARSE_TOLERANCE * wanted, LOOSEST) : wanted;
}

/* Changes since the last cycle within tolerance; remembers this one. */
static gboolean same_as_before(struct ew_pack *pack, int l, const struct ew_sums *s) {
  struct ew_lane *lane = &pack->lane[l];
  double tolerance = tolerance_of(pack, l), residual = 0;
  double *work = ew_pack_run(pack, l, EW_RUN_WORK_BEFORE);
  double *air = ew_pack_run(pack, l, EW_RUN_AIR_BEFORE);
  double *residual_before = ew_pack_run(pack, l, EW_RUN_RESIDUAL_BEFORE);
  int n = pack->state->cylinders;
  gboolean same = fabs(s->work - *work) < tolerance * fabs(s->work) &&
                  fabs(s->air - *air) < tolerance * fabs(s->air);
  for (int i = 0; i < n; i++) {
    const struct ew_burn_record *b = &lane->cylinder[i].last;
    double *trapped = &ew_state_at(pack->state, EW_STATE_CLOSED, EW_CLOSED_TRAPPED_BEFORE, i)[l];
    if (!(fabs(b->trapped_kg - *trapped) < 1.5 * tolerance * b->trapped_kg))
      same = FALSE;
    *trapped = b->trapped_kg;
    residual += b->residual / n;
  }
  if (!(fabs(residual - *residual_before) < 0.5 * tolerance))
    same = FALSE;
  *work = s->work;
  *air = s->air;
  *residual_before = residual;
  return same;
}

/* The fullest cylinder; the one that knocks worst where knock holds the spark back. */
static int leading_cylinder(const struct ew_pack *pack, int l, struct ew_cylinder *shut) {
  const struct ew_lane *lane = &pack->lane[l];
  gboolean limited = *ew_pack_run(pack, l, EW_RUN_KNOCK_LIMITED) != 0;
  int most = 0;
  ew_state_get_cylinder(pack->state, EW_STATE_SHUT, l, 0, shut);
  for (int i = 1; i < pack->state->cylinders; i++) {
    struct ew_cylinder other;
    ew_state_get_cylinder(pack->state, EW_STATE_SHUT, l, i, &other);
    if (limited ? lane->cylinder[i].last.knock > lane->cylinder[most].last.knock * (1 + 1e-9)
                : other.closed_kg > shut->closed_kg * (1 + 1e-9)) {
      most = i;
      *shut = other;
    }
  }
  return most;
}

/* From the last answer, where there is one. limit: infinite for the best spark alone. */
static struct ew_spark_answer seek(const struct ew_pack *pack, int l, double limit) {
  const struct ew_lane *lane = &pack->lane[l];
  const struct ew_cycle_plan *plan = lane->laid->plan;
  struct ew_cylinder shut;
  int most = leading_cylinder(pack, l, &shut);
  double mbt = *ew_pack_run(pack, l, EW_RUN_MBT_DEG);
  struct ew_spark_question q = {
      .frame = &lane->frame[most],
      .shut = &shut,
      .from_deg = ew_state_at(pack->state, EW_STATE_CLOSED, EW_CLOSED_DEG, most)[l],
      .to_deg = ew_plan_cylinders(plan)[most].shut_to_deg,
      .start_deg = *ew_pack_run(pack, l, EW_RUN_SPARK_DEG),
      .friction_peak = plan->friction.peak,
      .knock_limit = plan->spark == EW_SPARK_BEST ? limit : INFINITY,
      .refine = isfinite(mbt),
      .mbt_deg = mbt};
  return ew_spark_seek(&q);
}

static void take_spark(struct ew_pack *pack, int l, double spark_deg, double mbt_deg,
                       gboolean limited) {
  *ew_pack_run(pack, l, EW_RUN_SPARK_DEG) = *ew_pack_run(pack, l, EW_RUN_SOUGHT_DEG) = spark_deg;
  *ew_pack_run(pack, l, EW_RUN_MBT_DEG) = mbt_deg;
  *ew_pack_run(pack, l, EW_RUN_KNOCK_LIMITED) = limited != 0;
}

static void seek_spark(struct ew_pack *pack, int l) {
  double old = *ew_pack_run(pack, l, EW_RUN_SPARK_DEG),
         cycles = *ew_pack_run(pack, l, EW_RUN_CYCLES);
  struct ew_spark_answer sought = seek(pack, l, pack->lane[l].laid->plan->combustion.knock_limit);
  take_spark(pack, l, sought.spark_deg, sought.mbt_deg, sought.knock_limited);
  *ew_pack_run(pack, l, EW_RUN_FROZEN) =
      *ew_pack_run(pack, l, EW_RUN_RESUMED) != 0 || cycles >= 6 ||
      (cycles >= 3 && (sought.knock_limited || fabs(sought.spark_deg - old) < 0.6));
}

void ew_pack_give_up(struct ew_pack *pack, int l, const struct ew_cycle_why *why) {
  struct ew_lane *lane = &pack->lane[l];
  g_assert(why->failure != EW_CYCLE_STEADY && !lane->result.converged);
  lane->result.why = *why;
  *ew_pack_run(pack, l, EW_RUN_RUNNING) = 0;
  lane->finished = TRUE;
}

static const char *sick_pipe(const struct ew_pack *pack, int l) {
  const struct ew_cycle_laid *laid = pack->lane[l].laid;
  const struct ew_cycle_state *s = pack->state;
  for (int i = 0; i < laid->pipes; i++)
    for (int c = 0; c < laid->count[i]; c++) {
      int part = ew_state_cell(s, i, c);
      double t = ew_state_at(s, EW_STATE_CELLS, EW_CELL_TEMPERATURE, part)[l];
      double mass = ew_state_at(s, EW_STATE_CELLS, EW_MASS, part)[l];
      double energy = ew_state_at(s, EW_STATE_CELLS, EW_ENERGY, part)[l];
      if (!(mass > 0 && isfinite(mass) && isfinite(energy) && t > 1.01 * laid->gas.coldest_k &&
            t < 0.99 * laid->gas.hottest_k))
        return ew_cycle_plan_name(laid->plan, EW_PLAN_PIPES, i);
    }
  return NULL;
}

/* A spark that knock holds back follows the worst cylinder's integral as it ran, and not as a trial has it, up to the best spark,
 * while the charge settles. A cylinder that fires where cycles begin burns with a new spark one cycle later than the others, so it moves
 * in every second cycle, when the integral is that of the last move. TRUE: it is where it belongs, or knock holds nothing back. */
static gboolean follow_knock(struct ew_pack *pack, int l) {
  double *spark = ew_pack_run(pack, l, EW_RUN_SPARK_DEG),
         mbt = *ew_pack_run(pack, l, EW_RUN_MBT_DEG);
  double over =
      ew_log(pack->lane[l].result.knock / pack->lane[l].laid->plan->combustion.knock_limit);
  if (*ew_pack_run(pack, l, EW_RUN_KNOCK_LIMITED) == 0 || !(fabs(over) > KNOCK_NEAR))
    return TRUE;
  double to = CLAMP(*spark - over / EW_KNOCK_PER_DEG, EW_SPARK_LATEST, fmax(mbt, EW_SPARK_LATEST));
  gboolean moves = to != *spark;
  if ((int)*ew_pack_run(pack, l, EW_RUN_CYCLES) % 2 == 0)
    *spark = *ew_pack_run(pack, l, EW_RUN_SOUGHT_DEG) = to;
  return !moves;
}

/* The charge has settled since the spark was frozen: seek once more; TRUE: it stays. What knock holds back is at its limit as it ran,
 * and only its best spark is sought. */
static gboolean confirm_spark(struct ew_pack *pack, int l) {
  double before = *ew_pack_run(pack, l, EW_RUN_SPARK_DEG);
  gboolean limited = *ew_pack_run(pack, l, EW_RUN_KNOCK_LIMITED) != 0 &&
                     before < *ew_pack_run(pack, l, EW_RUN_MBT_DEG);
  struct ew_spark_answer sought =
      seek(pack, l, limited ? INFINITY : pack->lane[l].laid->plan->combustion.knock_limit);
  double to = limited ? fmin(before, sought.mbt_deg) : sought.spark_deg;
  gboolean stays = !(fabs(to - before) > CONFIRM_DEG);
  take_spark(pack, l, stays ? before : to, sought.mbt_deg,
             limited ? to == before : sought.knock_limited);
  return stays;
}

/* Whether the run is steady: its spark stays, and enough cycles were as the one before.
 *
 *   seeking --the answer hardly moves--> frozen --settled, sought once more: moved--> again --settled--> done
 *                                          |                                                               ^
 *                                          +--settled, sought once more: stays---------------------------+
 *
 * Frozen, a spark that knock holds back follows the integral at the end of every cycle; where that never comes to rest
 * EW_CONFIRM_MOST settled cycles end it. */
static gboolean settled(struct ew_pack *pack, int l, const struct ew_sums *s) {
  double *in_a_row = ew_pack_run(pack, l, EW_RUN_IN_A_ROW),
         *times = ew_pack_run(pack, l, EW_RUN_CONFIRMED);
  double *frozen = ew_pack_run(pack, l, EW_RUN_FROZEN),
         wanted =
             pack->grid == EW_GRID_COARSE || pack->lane[l].laid->plan->tolerance >= EW_CYCLE_ROUGH
                 ? 1
                 : 2;
  *in_a_row = same_as_before(pack, l, s) ? *in_a_row + 1 : 0;
  g_assert(*in_a_row <= *ew_pack_run(pack, l, EW_RUN_CYCLES));
  if (*ew_pack_run(pack, l, EW_RUN_RESUMED) && *ew_pack_run(pack, l, EW_RUN_KNOCK_LIMITED))
    *frozen = 1; /* the coarse grid's spark is at its limit already */
  if (!*frozen) {
    if (*ew_pack_run(pack, l, EW_RUN_RESUMED) || *ew_pack_run(pack, l, EW_RUN_CYCLES) >= 2)
      seek_spark(pack, l);
    *in_a_row = 0;
    return FALSE;
  }
  gboolean rests = *times >= EW_CONFIRM_MOST || follow_knock(pack, l), first = *times == 0;
  if (*in_a_row < wanted)
    return FALSE;
  *times = fmin(*times + 1, EW_CONFIRM_MOST);
  if (first && !confirm_spark(pack, l))
    rests = *in_a_row = 0;
  return rests;
}

void ew_pack_end_cycle(struct ew_pack *pack, int l) {
  struct ew_lane *lane = &pack->lane[l];
  g_assert(*ew_pack_run(pack, l, EW_RUN_RUNNING) != 0 && !lane->finished);
  int cycles = (int)++*ew_pack_run(pack, l, EW_RUN_CYCLES);
  gather_cylinders(pack, l);
  struct ew_sums s = sum_up(pack, l);
  report(pack, l, &s);
  audit(pack, l, &s, &lane->result);
  const char *sick = sick_pipe(pack, l);
  if (sick || !isfinite(s.work) || !isfinite(s.air)) {
    struct ew_cycle_why why = {.failure = sick ? EW_CYCLE_PIPE_UNSOUND : EW_CYCLE_CYLINDER_UNSOUND,
                               .cycle = cycles};
    g_strlcpy(why.pipe, sick ? sick : "", sizeof why.pipe);
    ew_pack_give_up(pack, l, &why);
  } else if (settled(pack, l, &s)) {
    lane->result.converged = TRUE;
    lane->finished = TRUE;
    *ew_pack_run(pack, l, EW_RUN_RUNNING) = 0;
  } else if (cycles >= lane->laid->plan->most_cycles) {
    ew_pack_give_up(pack, l,
                    &(struct ew_cycle_why){.failure = EW_CYCLE_UNSTEADY,
                                           .cycle = cycles,
                                           .figure = lane->result.torque_residual});
  } else {
    settle_walls(pack, l);
    ew_pack_begin_cycle(pack, l);
  }
}
