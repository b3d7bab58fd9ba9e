#include "cycle/from_engine.h"
#include "base/error.h"
#include "engine/balance.h"
#include "engine/compression.h"
#include "engine/valve_area.h"
#include "engine/valve_motion.h"
#include <math.h>

#define PORT_M         0.08 /* length of port walls at the valve's end of a pipe */
#define INLET_PORT_K   370
#define PORT_HEAT      2.0
#define LIFT_STEP_DEG  1.0
#define RON_LESS_INDEX 5 /* research number less index, for petrols; common practice */

/* Flow area / head area against lift/diameter where no bench table is given: common practice. */
static const struct ew_cycle_flow usual_flow[] = {
    {0.05, 0.155, 0.155}, {0.10, 0.30, 0.30}, {0.15, 0.425, 0.425}, {0.20, 0.515, 0.515},
    {0.25, 0.575, 0.575}, {0.30, 0.61, 0.61}, {0.35, 0.63, 0.63}};

static void note(struct ew_cycle_build *b, const char *format, ...) G_GNUC_PRINTF(2, 3);
static void note(struct ew_cycle_build *b, const char *format, ...) {
  va_list list;
  va_start(list, format);
  g_ptr_array_add(b->notes, g_strdup_vprintf(format, list));
  va_end(list);
}

static void *keep(struct ew_cycle_build *b, gsize size) {
  void *memory = g_malloc0(MAX(size, 1));
  g_ptr_array_add(b->memory, memory);
  return memory;
}

static const char *keep_name(struct ew_cycle_build *b, char *name) {
  g_ptr_array_add(b->memory, name);
  return name;
}

static double or_assume(struct ew_cycle_build *b, double given, double usual, const char *what) {
  if (!isnan(given))
    return given;
  note(b, "%s is not given: %.4g taken", what, usual);
  return usual;
}

static double number(const GArray *list, guint i) {
  return g_array_index(list, double, i);
}

/* Crank angle of each cylinder's firing top dead centre. */
static double *firing_angles(struct ew_cycle_build *b, const struct ew_engine *e) {
  const struct ew_engine_geometry *g = &e->geometry;
  double *at = keep(b, sizeof(double) * e->cylinders);
  if (!g->firing_order && e->cylinders > 1)
    note(b, "geometry.firing_order is not given: cylinders fire in the order of their numbers");
  if (!g->firing_angles && e->cylinders > 1)
    note(b, "geometry.firing_angles is not given: even firing");
  for (int k = 0; k < e->cylinders; k++) {
    int cylinder = g->firing_order && (int)g->firing_order->len == e->cylinders
                       ? (int)number(g->firing_order, k) - 1
                       : k;
    double angle = g->firing_angles && (int)g->firing_angles->len == e->cylinders
                       ? number(g->firing_angles, k)
                       : 720.0 * k / e->cylinders;
    if (cylinder >= 0 && cylinder < e->cylinders)
      at[cylinder] = fmod(angle, 720);
  }
  return at;
}

static gboolean add_cylinders(struct ew_cycle_build *b, const struct ew_engine *e, GError **error) {
  struct ew_cycle_cylinder *c = keep(b, sizeof *c * e->cylinders);
  const double *at = firing_angles(b, e);
  double rod =
      or_assume(b, e->geometry.rod_length_m, 1.65 * e->stroke_m, "geometry.rod_length (m)");
  double wall = e->cooling == 1 ? 500 : 460;
  note(b, "cylinder walls at %.0f K, head and piston surfaces 1.15 and 1.0 of the bore's area",
       wall);
  for (int i = 0; i < e->cylinders; i++) {
    double ratio = ew_compression_ratio(e, (guint)i);
    if (isnan(ratio))
      return ew_refuse(error,
                       "compression of cylinder %d is not known: give compression.chambers "
                       "or compression.ratio",
                       i + 1);
    c[i] =
        (struct ew_cycle_cylinder){at[i],
                                   e->bore_m,
                                   e->stroke_m,
                                   rod,
                                   isnan(e->geometry.pin_offset_m) ? 0 : e->geometry.pin_offset_m,
                                   ratio,
                                   1.15,
                                   1,
                                   wall};
  }
  b->model.cylinders = e->cylinders;
  b->model.cylinder = c;
  return TRUE;
}

/* One lift table a side: crank degrees after firing top dead centre. */
static gboolean add_lift(struct ew_cycle_build *b, const struct ew_engine *e, enum ew_side side,
                         struct ew_cycle_valve *v, GError **error) {
  struct ew_valve_motion motion;
  GError *inner = NULL;
  if (!ew_valve_motion_of(e, side, &motion, &inner)) {
    if (inner)
      g_propagate_error(error, inner);
    else
      ew_refuse(error,
                "the %s lift is not known: give lobe lift and durations at two lifts, or lobe "
                "readings, and the cam's centrelines",
                ew_side_name(side));
    return FALSE;
  }
  if (motion.ramp_assumed)
    note(b, "%s: the lobe's ramps are assumed", ew_side_name(side));
  double from = motion.centre_deg - motion.lobe.reach_deg - 1;
  int n = (int)ceil((2 * motion.lobe.reach_deg + 2) / LIFT_STEP_DEG) + 1;
  double *lift = keep(b, sizeof(double) * n);
  for (int i = 1; i < n - 1; i++)
    lift[i] = ew_valve_lift_m(&motion, from + i * LIFT_STEP_DEG);
  v->first_deg = 360 + from;
  v->step_deg = LIFT_STEP_DEG;
  v->lifts = n;
  v->lift_m = lift;
  return TRUE;
}

static void add_flow(struct ew_cycle_build *b, const struct ew_engine_valves *side,
                     const char *name, struct ew_cycle_valve *v) {
  double head = v->count * G_PI / 4 * v->head_m * v->head_m;
  if (!side->flow_lifts || !side->flows) {
    note(b, "%s: no flow table: usual flow areas taken", name);
    v->flow = usual_flow;
    v->flows = G_N_ELEMENTS(usual_flow);
    return;
  }
  struct ew_cycle_flow *flow = keep(b, sizeof *flow * side->flow_lifts->len);
  for (guint i = 0; i < side->flow_lifts->len; i++) {
    double lift = number(side->flow_lifts, i), share = ew_effective_area_m2(side, lift) / head;
    flow[i] = (struct ew_cycle_flow){lift / v->head_m, share, share};
  }
  note(b, "%s: flow against the usual direction taken as good as with it", name);
  v->flow = flow;
  v->flows = (int)side->flow_lifts->len;
}

static gboolean add_valves(struct ew_cycle_build *b, const struct ew_engine *e, GError **error) {
  struct ew_cycle_valve *v = keep(b, sizeof *v * 2 * e->cylinders);
  for (int side = 0; side < 2; side++) {
    const struct ew_engine_valves *s = side ? &e->exhaust : &e->inlet;
    struct ew_cycle_valve one = {.name = side ? "exhaust" : "inlet", .exhaust = side};
    one.count = MAX(s->count, 1);
    one.head_m = s->head_diameter_m;
    if (isnan(one.head_m))
      return ew_refuse(error, "%s.head_diameter is needed for a prediction", one.name);
    if (!add_lift(b, e, side ? EW_EXHAUST : EW_INLET, &one, error))
      return FALSE;
    add_flow(b, s, one.name, &one);
    for (int i = 0; i < e->cylinders; i++) {
      v[2 * i + side] = one;
      v[2 * i + side].cylinder = i;
    }
  }
  b->model.valve = v;
  b->model.valves = 2 * e->cylinders;
  return TRUE;
}

static const struct ew_cycle_station *stations(struct ew_cycle_build *b, double length,
                                               double diameter, int port_end, double port_k) {
  struct ew_cycle_station *s = keep(b, sizeof *s * 4);
  double port = fmin(PORT_M, 0.5 * length), from = port_end ? length - port : port;
  for (int i = 0; i < 4; i++) {
    gboolean in_port = port_end ? i >= 2 : i < 2;
    double at = i == 0 ? 0 : i == 3 ? length : i == 1 ? from - 1e-6 : from;
    s[i] = (struct ew_cycle_station){at, diameter, in_port ? port_k : NAN, in_port ? PORT_HEAT : 1};
  }
  return s;
}

static const struct ew_cycle_station *plain(struct ew_cycle_build *b, double diameter) {
  struct ew_cycle_station *s = keep(b, sizeof *s);
  *s = (struct ew_cycle_station){0, diameter, NAN, 1};
  return s;
}

static double circle(double d) {
  return G_PI / 4 * d * d;
}

/* Effective share of the throttles' area, where the carburettors' rated flow is known. */
static double throttle_opening(struct ew_cycle_build *b, const struct ew_engine *e, double d,
                               int n) {
  const struct ew_engine_breathing *br = &e->breathing;
  if (isnan(br->carburettor_flow_m3_s) || isnan(br->carburettor_depression_pa)) {
    note(b, "throttles wide open flow 0.9 of their bores' area");
    return 0.9;
  }
  double area = br->carburettor_flow_m3_s /
                ew_ideal_flow_m_s(101325, 288.15, 101325 - br->carburettor_depression_pa);
  double share = area / (n * circle(d));
  note(b, "carburettors' rated flow is %.2f of the throttles' area", share);
  return fmin(share, 1);
}

static void add_inlet(struct ew_cycle_build *b, const struct ew_engine *e,
                      struct ew_cycle_pipe *pipe, struct ew_cycle_volume *volume) {
  const struct ew_engine_breathing *br = &e->breathing;
  struct ew_cycle_model *m = &b->model;
  double usual = sqrt(MAX(e->inlet.count, 1)) * 0.88 * e->inlet.head_diameter_m;
  double length = or_assume(b, br->runner_length_m, 0.30, "breathing.runner_length (m)");
  double diameter = or_assume(b, br->runner_diameter_m, usual, "breathing.runner_diameter (m)");
  gboolean shared = !isnan(br->plenum_m3) || (br->throttles > 0 && br->throttles < e->cylinders);
  const struct ew_cycle_station *s = stations(b, length, diameter, 1, INLET_PORT_K);
  note(b, "inlet ports: last %.0f mm at %d K with twice the heat transfer", 1000 * PORT_M,
       INLET_PORT_K);
  for (int i = 0; i < e->cylinders; i++) {
    struct ew_cycle_end mouth = {shared ? EW_END_VOLUME : EW_END_ATMOSPHERE, 0, 1};
    pipe[m->pipes++] = (struct ew_cycle_pipe){keep_name(b, g_strdup_printf("runner %d", i + 1)),
                                              length,
                                              4,
                                              s,
                                              0,
                                              FALSE,
                                              {mouth, {EW_END_VALVE, 2 * i, 0}}};
  }
  if (!shared) {
    note(b, "no plenum: each runner breathes from the open air, its throttle not in the way");
    return;
  }
  int n = MAX(br->throttles, 1);
  double body =
      or_assume(b, br->throttle_diameter_m, sqrt(e->cylinders / (double)n) * 0.75 * diameter,
                "breathing.throttle_diameter (m)");
  volume[m->volumes++] = (struct ew_cycle_volume){
      "plenum",
      or_assume(b, br->plenum_m3, 0.8 * ew_engine_displacement_m3(e), "breathing.plenum (m3)"),
      FALSE};
  double opening = throttle_opening(b, e, body, n);
  for (int i = 0; i < n; i++)
    pipe[m->pipes++] = (struct ew_cycle_pipe){
        keep_name(b, g_strdup_printf("throttle %d", i + 1)),     0.12, 1, plain(b, body), 0, FALSE,
        {{EW_END_ATMOSPHERE, 0, 1}, {EW_END_VOLUME, 0, opening}}};
}

static int bank_of(const struct ew_engine *e, int cylinder) {
  return ew_bank_of(e, (guint)cylinder) == 2 ? 1 : 0;
}

static void add_exhaust(struct ew_cycle_build *b, const struct ew_engine *e,
                        struct ew_cycle_pipe *pipe) {
  const struct ew_engine_breathing *br = &e->breathing;
  struct ew_cycle_model *m = &b->model;
  double usual = sqrt(MAX(e->exhaust.count, 1)) * 1.05 * e->exhaust.head_diameter_m;
  double length = or_assume(b, br->primary_length_m, 0.80, "breathing.primary_length (m)");
  double diameter = or_assume(b, br->primary_diameter_m, usual, "breathing.primary_diameter (m)");
  const struct ew_cycle_station *s = stations(b, length, diameter, 0, NAN);
  int in_bank[2] = {0, 0}, junction[2] = {-1, -1};
  for (int i = 0; i < e->cylinders; i++)
    in_bank[bank_of(e, i)]++;
  for (int k = 0; k < 2; k++)
    if (in_bank[k] >= 3)
      junction[k] = m->junctions++;
  for (int i = 0; i < e->cylinders; i++) {
    int j = junction[bank_of(e, i)];
    struct ew_cycle_end end = {j >= 0 ? EW_END_JUNCTION : EW_END_ATMOSPHERE, MAX(j, 0), 1};
    pipe[m->pipes++] = (struct ew_cycle_pipe){keep_name(b, g_strdup_printf("primary %d", i + 1)),
                                              length,
                                              4,
                                              s,
                                              0,
                                              TRUE,
                                              {{EW_END_VALVE, 2 * i + 1, 0}, end}};
  }
  for (int k = 0; k < 2; k++) {
    if (junction[k] < 0)
      continue;
    double usual_tail = 0.87 * sqrt(in_bank[k]) * diameter;
    double tail =
        or_assume(b, br->collector_diameter_m, usual_tail, "breathing.collector_diameter (m)");
    double tail_length =
        or_assume(b, br->collector_length_m, 1.0, "breathing.collector_length (m)");
    pipe[m->pipes++] =
        (struct ew_cycle_pipe){keep_name(b, g_strdup_printf("tail %d", k + 1)),
                               tail_length,
                               1,
                               plain(b, tail),
                               0.3,
                               TRUE,
                               {{EW_END_JUNCTION, junction[k], 0}, {EW_END_ATMOSPHERE, 0, 1}}};
    note(b, "bank %d: %d primaries into one collector, one tail", k + 1, in_bank[k]);
  }
  if (junction[0] < 0 && junction[1] < 0)
    note(b, "each primary ends in the open air");
}

static gboolean add_fuel(struct ew_cycle_build *b, const struct ew_engine *e, GError **error) {
  struct ew_cycle_model *m = &b->model;
  const struct ew_engine_breathing *br = &e->breathing;
  if (!e->fuel)
    note(b, "fuel is not given: petrol taken");
  m->fuel = ew_combustible_find(e->fuel ? e->fuel : "petrol");
  if (!m->fuel)
    return ew_refuse(error, "fuel '%s' cannot be predicted; known are %s", e->fuel,
                     ew_combustible_names());
  m->equivalence = 1 / or_assume(b, e->lambda_target, 0.9, "lambda_target");
  if (!isnan(e->octane)) {
    m->combustion.octane = e->octane - RON_LESS_INDEX;
    note(b, "knock: index %.0f from the research octane number %.0f", m->combustion.octane,
         e->octane);
  }
  if (e->fuel_system.injectors >= e->cylinders) {
    m->delivery = EW_FUEL_PORT;
    note(b, "an injector a cylinder: fuel enters at the ports");
  }
  m->combustion.turbulence = e->inlet.count > 1 ? 1.25 : 1;
  m->ambient_pa = or_assume(b, br->air_pressure_pa, 1e5, "breathing.air_pressure (Pa)");
  m->ambient_k = or_assume(b, br->air_temperature_k, 298.15, "breathing.air_temperature (K)");
  return TRUE;
}

void ew_cycle_build_free(struct ew_cycle_build *b) {
  if (!b)
    return;
  g_ptr_array_unref(b->notes);
  g_ptr_array_unref(b->memory);
  g_free(b);
}

struct ew_cycle_build *ew_cycle_from_engine(const struct ew_engine *e, GError **error) {
  if (e->strokes != 0) {
    ew_refuse(error, "strokes: only four-stroke engines can be predicted");
    return NULL;
  }
  if (e->cylinders < 1 || isnan(e->bore_m) || isnan(e->stroke_m)) {
    ew_refuse(error, "bore, stroke and number of cylinders are needed for a prediction");
    return NULL;
  }
  struct ew_cycle_build *b = g_new0(struct ew_cycle_build, 1);
  b->notes = g_ptr_array_new_with_free_func(g_free);
  b->memory = g_ptr_array_new_with_free_func(g_free);
  ew_cycle_model_defaults(&b->model);
  gboolean ok = add_fuel(b, e, error) && add_cylinders(b, e, error) && add_valves(b, e, error);
  if (ok) {
    struct ew_cycle_pipe *pipe =
        keep(b, sizeof *pipe * (2 * e->cylinders + MAX(e->breathing.throttles, 1) + 2));
    struct ew_cycle_volume *volume = keep(b, sizeof *volume);
    b->model.pipe = pipe;
    b->model.volume = volume;
    add_inlet(b, e, pipe, volume);
    add_exhaust(b, e, pipe);
    ok = ew_cycle_model_check(&b->model, error);
  }
  if (!ok) {
    ew_cycle_build_free(b);
    return NULL;
  }
  return b;
}
