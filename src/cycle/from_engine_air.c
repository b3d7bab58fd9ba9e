/* A model from the combination file: the way of the air, from the cleaner by throttles, plenum, runners and ports to primaries,
 * collectors, silencer and tail.
 *
 * What production engines have between the open air and the valves matters as much as the valves do (docs/methods-cycle.md, section
 * 7): each part is an opening that resists by the square of the flow, a volume, or a loss spread over a pipe. A part that was
 * measured (back pressure, depression) is sized by its own figure; else by the rules below, which are common practice, no source,
 * and were chosen on the engines that section names. */
#include "base/language.h"
#include "cycle/from_engine_parts.h"
#include "engine/balance.h"
#include "engine/valve_area.h"
#include <math.h>

EW_MESSAGE(area_assumed, "cycle.area-assumed", EW_NOTE,
           "{what}: effective area assumed {share} of the inlet valves' head area; a pressure "
           "measured at full power would be better");
EW_MESSAGE(air_cleaner, "cycle.air-cleaner", EW_NOTE, "air cleaner");
EW_MESSAGE(whole_exhaust, "cycle.exhaust", EW_NOTE, "exhaust");
EW_MESSAGE(carburettors_open, "cycle.carburettors-open", EW_NOTE,
           "carburettors: wide open they flow {share} of their bore area");
EW_MESSAGE(throttles_open, "cycle.throttles-open", EW_NOTE,
           "throttles: wide open they flow {share} of their bore area");
EW_MESSAGE(rated_flow, "cycle.rated-flow", EW_NOTE,
           "carburettors: rated flow corresponds to {share} of the throttles' area");
EW_MESSAGE(inlet_walls, "cycle.inlet-walls", EW_NOTE, "walls of the inlet tract at {wall}");
EW_MESSAGE(inlet_walls_carburetted, "cycle.inlet-walls-carburetted", EW_NOTE,
           "walls of the inlet tract at {wall}; a carburetted manifold takes up twice the usual "
           "heat");
EW_MESSAGE(
    walls_follow, "cycle.walls-follow", EW_NOTE,
    "air-cooled: walls are as warm as told in air at {at}; where the air is colder or warmer "
    "the inlet tract is so by as much, cylinders and ports by {share} of it");
EW_MESSAGE(no_plenum, "cycle.no-plenum", EW_NOTE,
           "no plenum: each runner breathes open air through its own throttle");
EW_MESSAGE(airbox, "cycle.airbox", EW_NOTE,
           "airbox assumed before the throttles: {volumes} times the displacement");
EW_MESSAGE(ports, "cycle.ports", EW_NOTE,
           "inlet ports: the last {length} at {wall} with twice the heat transfer");
EW_MESSAGE(silencer, "cycle.silencer", EW_NOTE,
           "silencer assumed: {volumes} times the displacement of {cylinders} cylinders, its "
           "mouth {open} open");
EW_MESSAGE(collector, "cycle.collector", EW_NOTE,
           "bank {bank}: {primaries} primaries into one collector and one tailpipe");
EW_MESSAGE(open_primaries, "cycle.open-primaries", EW_NOTE,
           "each primary of bank {bank} ends in the open air");

#define PORT_M               0.08 /* length of port walls at the valve's end of a pipe */
#define INLET_PORT_K         370
#define PORT_HEAT            2.0
#define RUNNER_BENDS         0.4
#define PRIMARY_BENDS        0.5
#define TAIL_BENDS           0.3
#define THROTTLE_OPEN        0.9  /* effective share of a plain throttle's bore */
#define CARBURETTOR_OPEN     0.62 /* venturi 0.7 of the bore's area, flow 0.88 of that */
#define OWN_CARBURETTOR_OPEN 0.75 /* one for each cylinder: bigger venturis */
#define MANIFOLD_K           360  /* of a carburetted manifold that is heated */
#define MANIFOLD_HEAT        2.0
#define MANIFOLD_EVAPORATED  0.6
#define SILENCER_VOLUMES     12.0 /* of the displacement that feeds it */
#define AIRBOX_VOLUMES       15.0
#define SILENCER_MOUTH       0.6
#define OUTLET_M             0.5
#define SNORKEL_M            0.3
#define EXHAUST_AREA         0.20 /* of all inlet heads' area, at a rated piston speed of 14 m/s */
#define CLEANER_AREA         0.30
#define EXHAUST_KG_M3        0.40
#define BANKS                2
/* Of the air's warmth, metal that it cools: a head at 500 K between air at 288 K and gas at an effective 894 K (Pinkel, NACA Report 612,
 * 1938, from memory). */
#define METAL_FOLLOWS 0.65

struct air { /* the parts as they grow */
  struct ew_cycle_build *b;
  const struct ew_engine *e;
  struct ew_cycle_pipe *pipe;
  struct ew_cycle_volume *volume;
};

static const struct ew_cycle_station *stations(struct ew_cycle_build *b, double length,
                                               double diameter, int port_end, double port_k,
                                               double heat) {
  struct ew_cycle_station *s = ew_model_keep(b, sizeof *s * 4);
  double port = fmin(PORT_M, 0.5 * length), from = port_end ? length - port : port;
  for (int i = 0; i < 4; i++) {
    gboolean in_port = port_end ? i >= 2 : i < 2;
    double at = i == 0 ? 0 : i == 3 ? length : i == 1 ? from - 1e-6 : from;
    s[i] =
        (struct ew_cycle_station){at, diameter, in_port ? port_k : NAN, in_port ? PORT_HEAT : heat};
  }
  return s;
}

static const struct ew_cycle_station *plain(struct ew_cycle_build *b, double diameter) {
  struct ew_cycle_station *s = ew_model_keep(b, sizeof *s);
  *s = (struct ew_cycle_station){0, diameter, NAN, 1};
  return s;
}

static double circle(double d) {
  return G_PI / 4 * d * d;
}

static void add_pipe(struct air *a, char *name, double length, int count,
                     const struct ew_cycle_station *s, double bends, gboolean exhaust,
                     struct ew_cycle_end first, struct ew_cycle_end second) {
  a->pipe[a->b->model.pipes++] = (struct ew_cycle_pipe){
      ew_model_keep_name(a->b, name), length, count, s, bends, exhaust, {first, second}};
}

static int add_volume(struct air *a, const char *name, double volume_m3, gboolean exhaust) {
  a->volume[a->b->model.volumes] = (struct ew_cycle_volume){name, volume_m3, exhaust};
  return a->b->model.volumes++;
}

/* Air of the whole engine at its rated speed: of the power hoped for (some 970 kW for a kg/s: common practice, no source), else 0.9 of
 * the displacement full. NaN: no speed is known. */
static double rated_air_kg_s(const struct ew_engine *e) {
  double rpm = ew_model_rated_rpm(e), power = e->breathing.expected_power_w;
  if (!isnan(power))
    return power / 970e3;
  return 0.9 * 1.17 * ew_engine_displacement_m3(e) * rpm / 120;
}

static double all_inlet_heads_m2(const struct air *a) {
  return a->e->cylinders * ew_model_valves(a->b, &a->e->inlet) *
         circle(ew_model_head_m(a->b, a->e, 0));
}

/* Effective area of a restriction: by its measured pressure difference at the rated flow, m = A sqrt(2 rho dp), or by rule. */
static double restriction_m2(const struct air *a, const struct ew_message_kind *what,
                             const char *field, double measured_pa, double flow_kg_s,
                             double density_kg_m3, double usual_share) {
  if (!isnan(measured_pa) && flow_kg_s > 0)
    return flow_kg_s / sqrt(2 * density_kg_m3 * measured_pa);
  double speed_m_s = a->e->stroke_m * ew_model_rated_rpm(a->e) / 30;
  if (isnan(speed_m_s))
    speed_m_s = 14;
  ew_model_note(a->b, ew_message(&area_assumed, ew_say_word("what", what),
                                 ew_say_figure("share", usual_share * speed_m_s / 14, 2)));
  double area = usual_share * speed_m_s / 14 * all_inlet_heads_m2(a);
  if (flow_kg_s > 0)
    ew_model_assumed(a->b, field, flow_kg_s / area * (flow_kg_s / area) / (2 * density_kg_m3));
  return area;
}

static double cleaner_m2(const struct air *a) {
  if (a->e->breathing.air_cleaner == 0)
    return INFINITY;
  return restriction_m2(a, &air_cleaner, "breathing.cleaner_depression",
                        a->e->breathing.cleaner_depression_pa, rated_air_kg_s(a->e), 1.17,
                        CLEANER_AREA);
}

/* Effective share of the throttles' area, by the carburettors' rated flow where it is known. */
static double throttle_opening(struct air *a, double d, int n, gboolean shared) {
  const struct ew_engine_breathing *br = &a->e->breathing;
  gboolean carburettor = a->e->fuel_system.injectors == 0;
  if (isnan(br->carburettor_flow_m3_s) || isnan(br->carburettor_depression_pa)) {
    double open = !carburettor ? THROTTLE_OPEN : shared ? CARBURETTOR_OPEN : OWN_CARBURETTOR_OPEN;
    ew_model_note(a->b, ew_message(carburettor ? &carburettors_open : &throttles_open,
                                   ew_say_figure("share", open, 2)));
    return open;
  }
  double area = br->carburettor_flow_m3_s /
                ew_ideal_flow_m_s(101325, 288.15, 101325 - br->carburettor_depression_pa);
  double share = area / (n * circle(d));
  ew_model_note(a->b, ew_message(&rated_flow, ew_say_figure("share", share, 2)));
  return fmin(share, 1);
}

static void warm_manifold(struct air *a, double *heat, gboolean shared) {
  struct ew_cycle_model *m = &a->b->model;
  double given = a->e->breathing.inlet_wall_k;
  gboolean carburetted = shared && a->e->fuel_system.injectors == 0;
  *heat = carburetted ? MANIFOLD_HEAT : 1;
  if (carburetted) {
    m->inlet_wall_k = MANIFOLD_K;
    m->evaporated_from_gas = MANIFOLD_EVAPORATED;
  }
  if (a->e->cooling == 1) {
    m->metal_follows = METAL_FOLLOWS;
    m->inlet_follows = isnan(given) ? 1 : 0;
    ew_model_note(a->b,
                  ew_message(&walls_follow, ew_say_quantity("at", EW_KIND_TEMPERATURE, 298.15, 0),
                             ew_say_figure("share", METAL_FOLLOWS, 2)));
  }
  if (!isnan(given))
    m->inlet_wall_k = given;
  else
    ew_model_note(a->b,
                  ew_message(carburetted ? &inlet_walls_carburetted : &inlet_walls,
                             ew_say_quantity("wall", EW_KIND_TEMPERATURE, m->inlet_wall_k, 0)));
}

/* One throttle for each cylinder, or as many as cylinders and no plenum. */
static struct ew_cycle_end own_mouth(struct air *a, double diameter) {
  const struct ew_engine *e = a->e;
  double body =
      isnan(e->breathing.throttle_diameter_m) ? diameter : e->breathing.throttle_diameter_m;
  double open =
      fmin(throttle_opening(a, body, e->cylinders, FALSE) * circle(body) / circle(diameter), 1);
  double area = cleaner_m2(a);
  if (isinf(area)) {
    ew_model_note(a->b, ew_message_plain(&no_plenum));
    return (struct ew_cycle_end){EW_END_ATMOSPHERE, 0, open};
  }
  int box = add_volume(a, "airbox", AIRBOX_VOLUMES * ew_engine_displacement_m3(e), FALSE);
  double snorkel = 1.05 * sqrt(area / (G_PI / 4));
  add_pipe(a, g_strdup("snorkel"), SNORKEL_M, 1, plain(a->b, snorkel), 0, FALSE,
           (struct ew_cycle_end){EW_END_ATMOSPHERE, 0, fmin(area / circle(snorkel), 1)},
           (struct ew_cycle_end){EW_END_VOLUME, box, 1});
  ew_model_note(a->b, ew_message(&airbox, ew_say_figure("volumes", AIRBOX_VOLUMES, 0)));
  return (struct ew_cycle_end){EW_END_VOLUME, box, open};
}

static void add_plenum(struct air *a, int plenum, double runner_m) {
  const struct ew_engine *e = a->e;
  const struct ew_engine_breathing *br = &e->breathing;
  int n = br->throttles; /* at least one: engine_fields.c */
  g_assert(n > 0);
  double body = ew_model_or_assume(a->b, br->throttle_diameter_m,
                                   sqrt(e->cylinders / (double)n) * 0.75 * runner_m,
                                   "breathing.throttle_diameter", EW_KIND_LENGTH);
  double opening = throttle_opening(a, body, n, TRUE);
  double mouth = fmin(cleaner_m2(a) / (n * circle(body)), 1);
  for (int i = 0; i < n; i++)
    add_pipe(a, g_strdup_printf("throttle %d", i + 1), 0.12, 1, plain(a->b, body), 0, FALSE,
             (struct ew_cycle_end){EW_END_ATMOSPHERE, 0, mouth},
             (struct ew_cycle_end){EW_END_VOLUME, plenum, opening});
}

static void add_inlet(struct air *a) {
  const struct ew_engine *e = a->e;
  const struct ew_engine_breathing *br = &e->breathing;
  struct ew_cycle_build *b = a->b;
  double usual = sqrt(ew_model_valves(b, &e->inlet)) * 0.88 * ew_model_head_m(b, e, 0), heat;
  double length =
      ew_model_or_assume(b, br->runner_length_m, 0.30, "breathing.runner_length", EW_KIND_LENGTH);
  double diameter = ew_model_or_assume(b, br->runner_diameter_m, usual, "breathing.runner_diameter",
                                       EW_KIND_LENGTH);
  double bends = ew_model_or_assume(b, br->runner_bends, RUNNER_BENDS, "breathing.runner_bends",
                                    EW_KIND_NUMBER);
  gboolean shared = !isnan(br->plenum_m3) || br->throttles < e->cylinders;
  warm_manifold(a, &heat, shared);
  ew_model_note(b, ew_message(&ports, ew_say_quantity("length", EW_KIND_LENGTH, PORT_M, 0),
                              ew_say_quantity("wall", EW_KIND_TEMPERATURE, INLET_PORT_K, 0)));
  const struct ew_cycle_station *s = stations(b, length, diameter, 1, INLET_PORT_K, heat);
  struct ew_cycle_end mouth = {EW_END_VOLUME, 0, 1};
  double plenum_m3 = shared
                         ? ew_model_or_assume(b, br->plenum_m3, 0.8 * ew_engine_displacement_m3(e),
                                              "breathing.plenum", EW_KIND_VOLUME)
                         : 0;
  if (shared)
    mouth.index = add_volume(a, "plenum", plenum_m3, FALSE);
  else
    mouth = own_mouth(a, diameter);
  for (int i = 0; i < e->cylinders; i++)
    add_pipe(a, g_strdup_printf("runner %d", i + 1), length, 4, s, bends, FALSE, mouth,
             (struct ew_cycle_end){EW_END_VALVE, 2 * i, 0});
  if (shared)
    add_plenum(a, mouth.index, diameter);
}

static int bank_of(const struct ew_engine *e, int cylinder) {
  return ew_bank_of(e, (guint)cylinder) == 2 ? 1 : 0;
}

/* A silencer for so many cylinders: a box, an outlet, and an opening that resists by the square of the flow. Its number. */
static int add_silencer(struct air *a, int bank, int cylinders, double inlet_m) {
  const struct ew_engine *e = a->e;
  double share = cylinders / (double)e->cylinders, flow = rated_air_kg_s(e) * (1 + 1 / 13.5);
  double area =
      share * restriction_m2(a, &whole_exhaust, "breathing.back_pressure",
                             e->breathing.back_pressure_pa, flow, EXHAUST_KG_M3, EXHAUST_AREA);
  double outlet = fmax(inlet_m, 1.05 * sqrt(area / (G_PI / 4)));
  int box =
      add_volume(a, "silencer", SILENCER_VOLUMES * share * ew_engine_displacement_m3(e), TRUE);
  add_pipe(a, g_strdup_printf("outlet %d", bank + 1), OUTLET_M, 1, plain(a->b, outlet), 0, TRUE,
           (struct ew_cycle_end){EW_END_VOLUME, box, 1},
           (struct ew_cycle_end){EW_END_ATMOSPHERE, 0, fmin(area / circle(outlet), 1)});
  ew_model_note(a->b, ew_message(&silencer, ew_say_figure("volumes", SILENCER_VOLUMES, 0),
                                 ew_say_count("cylinders", cylinders),
                                 ew_say_figure("open", SILENCER_MOUTH, 1)));
  return box;
}

static struct ew_cycle_end exhaust_end(struct air *a, int bank, int cylinders, double diameter) {
  if (a->e->breathing.exhaust_end == 0)
    return (struct ew_cycle_end){EW_END_ATMOSPHERE, 0, 1};
  return (struct ew_cycle_end){EW_END_VOLUME, add_silencer(a, bank, cylinders, diameter),
                               SILENCER_MOUTH};
}

static void add_collector(struct air *a, int bank, int junction, int cylinders, double primary_m) {
  const struct ew_engine_breathing *br = &a->e->breathing;
  double diameter =
      ew_model_or_assume(a->b, br->collector_diameter_m, 0.87 * sqrt(cylinders) * primary_m,
                         "breathing.collector_diameter", EW_KIND_LENGTH);
  double length = ew_model_or_assume(a->b, br->collector_length_m, 1.0,
                                     "breathing.collector_length", EW_KIND_LENGTH);
  struct ew_cycle_end end = exhaust_end(a, bank, cylinders, diameter);
  add_pipe(a, g_strdup_printf("tail %d", bank + 1), length, 1, plain(a->b, diameter), TAIL_BENDS,
           TRUE, (struct ew_cycle_end){EW_END_JUNCTION, junction, 0}, end);
  ew_model_note(a->b, ew_message(&collector, ew_say_count("bank", bank + 1),
                                 ew_say_count("primaries", cylinders)));
}

static void add_exhaust(struct air *a) {
  const struct ew_engine *e = a->e;
  const struct ew_engine_breathing *br = &e->breathing;
  struct ew_cycle_build *b = a->b;
  struct ew_cycle_model *m = &b->model;
  double usual = sqrt(ew_model_valves(b, &e->exhaust)) * 1.05 * ew_model_head_m(b, e, 1);
  double length =
      ew_model_or_assume(b, br->primary_length_m, 0.80, "breathing.primary_length", EW_KIND_LENGTH);
  double diameter = ew_model_or_assume(b, br->primary_diameter_m, usual,
                                       "breathing.primary_diameter", EW_KIND_LENGTH);
  double bends = ew_model_or_assume(b, br->primary_bends, PRIMARY_BENDS, "breathing.primary_bends",
                                    EW_KIND_NUMBER);
  const struct ew_cycle_station *s = stations(b, length, diameter, 0, NAN, 1);
  int in_bank[BANKS] = {0, 0};
  struct ew_cycle_end end[BANKS];
  for (int i = 0; i < e->cylinders; i++)
    in_bank[bank_of(e, i)]++;
  for (int k = 0; k < BANKS; k++) {
    if (in_bank[k] >= 3)
      end[k] = (struct ew_cycle_end){EW_END_JUNCTION, m->junctions++, 1};
    else if (in_bank[k] > 0)
      end[k] = exhaust_end(a, k, in_bank[k], sqrt(in_bank[k]) * diameter);
    if (in_bank[k] > 0 && end[k].kind == EW_END_ATMOSPHERE)
      ew_model_note(b, ew_message(&open_primaries, ew_say_count("bank", k + 1)));
  }
  for (int i = 0; i < e->cylinders; i++)
    add_pipe(a, g_strdup_printf("primary %d", i + 1), length, 4, s, bends, TRUE,
             (struct ew_cycle_end){EW_END_VALVE, 2 * i + 1, 0}, end[bank_of(e, i)]);
  for (int k = 0; k < BANKS; k++)
    if (in_bank[k] >= 3)
      add_collector(a, k, end[k].index, in_bank[k], diameter);
}

void ew_model_air(struct ew_cycle_build *b, const struct ew_engine *e) {
  int most = 2 * e->cylinders + e->breathing.throttles + 1 + 2 * BANKS;
  struct air a = {b, e, ew_model_keep(b, sizeof *a.pipe * (gsize)most),
                  ew_model_keep(b, sizeof *a.volume * (1 + BANKS))};
  b->model.pipe = a.pipe;
  b->model.volume = a.volume;
  add_inlet(&a);
  add_exhaust(&a);
  g_assert(b->model.pipes <= most && b->model.volumes <= 1 + BANKS);
}
