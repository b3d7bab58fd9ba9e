/* A model from the combination file: cylinders, valves and fuel here, pipes in from_engine_air.c. */
#include "base/error.h"
#include "base/language.h"
#include "base/words.h"
#include "cycle/from_engine_parts.h"
#include "engine/breathing.h"
#include "engine/compression.h"
#include "engine/valve_area.h"
#include "engine/valve_motion.h"
#include <math.h>
#include <string.h>

#define LIFT_STEP_DEG  1.0
#define RON_LESS_INDEX 5 /* research number less index, for petrols; common practice */

EW_MESSAGE(not_given, "cycle.not-given", EW_NOTE, "{field} is not given: {value} assumed");
EW_MESSAGE(no_firing_order, "cycle.no-firing-order", EW_NOTE,
           "geometry.firing_order is not given: cylinders are assumed to fire in the order of "
           "their numbers");
EW_MESSAGE(no_firing_angles, "cycle.no-firing-angles", EW_NOTE,
           "geometry.firing_angles is not given: even firing assumed");
EW_MESSAGE(walls, "cycle.walls", EW_NOTE,
           "cylinder walls at {wall}; head and piston surfaces {head} and {piston} times the bore "
           "area");
EW_MESSAGE(ramps, "cycle.ramps", EW_NOTE, "{side}: the lobe's ramps are assumed");
EW_MESSAGE(no_flow_table, "cycle.no-flow-table", EW_NOTE,
           "{side}: no flow table, so the usual areas of a production head with {head} are "
           "assumed, good to {doubt}");
EW_MESSAGE(reverse_flow, "cycle.reverse-flow", EW_NOTE,
           "{side}: flow the wrong way is assumed to be as good as flow the right way");
EW_MESSAGE(head_diameter, "cycle.head-diameter", EW_NOTE,
           "{field} is not given: {value} assumed, usual for {head}");
EW_MESSAGE(no_fuel, "cycle.no-fuel", EW_NOTE, "fuel is not given: petrol assumed");
EW_MESSAGE(knock_index, "cycle.knock-index", EW_NOTE,
           "knock: anti-knock index {index} from research octane number {octane}");
EW_MESSAGE(port_injection, "cycle.port-injection", EW_NOTE,
           "one injector per cylinder: fuel enters at the ports");
EW_MESSAGE(no_head, "cycle.no-head", EW_NOTE, "head is not given: {head} assumed");

void ew_model_note(struct ew_cycle_build *b, ew_message *note) {
  ew_messages_add(b->notes, note);
}

void *ew_model_keep(struct ew_cycle_build *b, gsize size) {
  void *memory = g_malloc0(MAX(size, 1));
  g_ptr_array_add(b->memory, memory);
  return memory;
}

const char *ew_model_keep_name(struct ew_cycle_build *b, char *name) {
  g_ptr_array_add(b->memory, name);
  return name;
}

void ew_model_assumed(struct ew_cycle_build *b, const char *field, double value) {
  struct ew_cycle_assumed a = {.value = value};
  g_strlcpy(a.field, field, sizeof a.field);
  g_array_append_val(b->assumed, a);
}

/* As fine as the trade states such a figure, in metric units. */
static int decimals_of(enum ew_kind kind) {
  return kind == EW_KIND_NUMBER ? 2 : kind == EW_KIND_LENGTH || kind == EW_KIND_ANGLE ? 1 : 0;
}

double ew_model_or_assume(struct ew_cycle_build *b, double given, double usual, const char *field,
                          enum ew_kind kind) {
  g_assert(isfinite(usual) && !strpbrk(field, " ("));
  if (!isnan(given))
    return given;
  ew_model_note(b, ew_message(&not_given, ew_say_text("field", field),
                              ew_say_quantity("value", kind, usual, decimals_of(kind))));
  ew_model_assumed(b, field, usual);
  return usual;
}

static double model_number(const GArray *list, guint i) {
  return g_array_index(list, double, i);
}

/* Crank angle of each cylinder's firing top dead centre. */
static double *firing_angles(struct ew_cycle_build *b, const struct ew_engine *e) {
  const struct ew_engine_geometry *g = &e->geometry;
  double *at = ew_model_keep(b, sizeof(double) * e->cylinders);
  if (!g->firing_order && e->cylinders > 1)
    ew_model_note(b, ew_message_plain(&no_firing_order));
  if (!g->firing_angles && e->cylinders > 1)
    ew_model_note(b, ew_message_plain(&no_firing_angles));
  for (int k = 0; k < e->cylinders; k++) {
    int cylinder = g->firing_order && (int)g->firing_order->len == e->cylinders
                       ? (int)model_number(g->firing_order, k) - 1
                       : k;
    double angle = g->firing_angles && (int)g->firing_angles->len == e->cylinders
                       ? model_number(g->firing_angles, k)
                       : 720.0 * k / e->cylinders;
    if (cylinder >= 0 && cylinder < e->cylinders)
      at[cylinder] = fmod(angle, 720);
  }
  return at;
}

/* A head of four valves whose number of valves was left at its default has two of each side. */
int ew_model_valves(const struct ew_cycle_build *b, const struct ew_engine_valves *side) {
  return side->count > 1 ? side->count : b->head->valves;
}

double ew_model_rated_rpm(const struct ew_engine *e) {
  double rated = e->breathing.power_speed_rpm, agreed = e->agreed_limit_rpm;
  return !isnan(rated) ? rated : agreed > 0 ? 0.93 * agreed : (double)NAN;
}

double ew_model_head_m(const struct ew_cycle_build *b, const struct ew_engine *e, int side) {
  double given = side ? e->exhaust.head_diameter_m : e->inlet.head_diameter_m;
  double usual = side ? b->head->exhaust_by_bore : b->head->inlet_by_bore;
  double piston_speed_m_s = e->stroke_m * ew_model_rated_rpm(e) / 30;
  return !isnan(given) ? given : usual * e->bore_m * ew_head_size_factor(piston_speed_m_s);
}

static gboolean add_cylinders(struct ew_cycle_build *b, const struct ew_engine *e, GError **error) {
  struct ew_cycle_cylinder *c = ew_model_keep(b, sizeof *c * e->cylinders);
  const double *at = firing_angles(b, e);
  double rod = ew_model_or_assume(b, e->geometry.rod_length_m, 1.65 * e->stroke_m,
                                  "geometry.rod_length", EW_KIND_LENGTH);
  double wall = e->cooling == 1 ? 500 : 460;
  double surface = b->head->surface;
  ew_model_note(b, ew_message(&walls, ew_say_quantity("wall", EW_KIND_TEMPERATURE, wall, 0),
                              ew_say_figure("head", surface, 2), ew_say_figure("piston", 1, 2)));
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
                                   surface,
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
      ew_refuse(error, "the %s lift is not known: give a duration at a lift, or lobe readings",
                ew_side_name(side));
    return FALSE;
  }
  if (motion.ramp_assumed)
    ew_model_note(b, ew_message(&ramps, ew_say_word("side", ew_side_word(side))));
  double from = motion.centre_deg - motion.lobe.reach_deg - 1;
  int n = (int)ceil((2 * motion.lobe.reach_deg + 2) / LIFT_STEP_DEG) + 1;
  double *lift = ew_model_keep(b, sizeof(double) * n);
  for (int i = 1; i < n - 1; i++)
    lift[i] = ew_valve_lift_m(&motion, from + i * LIFT_STEP_DEG);
  v->first_deg = 360 + from;
  v->step_deg = LIFT_STEP_DEG;
  v->lifts = n;
  v->lift_m = lift;
  return TRUE;
}

static void add_flow(struct ew_cycle_build *b, const struct ew_engine_valves *side,
                     struct ew_cycle_valve *v) {
  struct ew_argument word = ew_say_word("side", ew_side_word(v->exhaust ? EW_EXHAUST : EW_INLET));
  double head = v->count * G_PI / 4 * v->head_m * v->head_m;
  if (!side->flow_lifts || !side->flows) {
    ew_model_note(b, ew_message(&no_flow_table, word, ew_say_term("head", b->head->says),
                                ew_say_share("doubt", EW_HEAD_FLOW_U, 0)));
    v->flow = v->exhaust ? b->head->exhaust : b->head->inlet;
    v->flows = EW_HEAD_FLOW_ROWS;
    b->flow_assumed = TRUE;
    return;
  }
  struct ew_cycle_flow *flow = ew_model_keep(b, sizeof *flow * side->flow_lifts->len);
  for (guint i = 0; i < side->flow_lifts->len; i++) {
    double lift = model_number(side->flow_lifts, i),
           share = ew_effective_area_m2(side, lift) / head;
    flow[i] = (struct ew_cycle_flow){lift / v->head_m, share, share};
  }
  ew_model_note(b, ew_message(&reverse_flow, word));
  v->flow = flow;
  v->flows = (int)side->flow_lifts->len;
}

static gboolean add_valves(struct ew_cycle_build *b, const struct ew_engine *e, GError **error) {
  struct ew_cycle_valve *v = ew_model_keep(b, sizeof *v * 2 * e->cylinders);
  for (int side = 0; side < 2; side++) {
    const struct ew_engine_valves *s = side ? &e->exhaust : &e->inlet;
    struct ew_cycle_valve one = {.name = side ? "exhaust" : "inlet", .exhaust = side};
    one.count = ew_model_valves(b, s);
    one.head_m = ew_model_head_m(b, e, side);
    if (isnan(s->head_diameter_m)) {
      const char *field = side ? "exhaust.head_diameter" : "inlet.head_diameter";
      ew_model_note(b, ew_message(&head_diameter, ew_say_text("field", field),
                                  ew_say_quantity("value", EW_KIND_LENGTH, one.head_m, 1),
                                  ew_say_term("head", b->head->says)));
      ew_model_assumed(b, field, one.head_m);
    }
    if (!add_lift(b, e, side ? EW_EXHAUST : EW_INLET, &one, error))
      return FALSE;
    add_flow(b, s, &one);
    for (int i = 0; i < e->cylinders; i++) {
      v[2 * i + side] = one;
      v[2 * i + side].cylinder = i;
    }
  }
  b->model.valve = v;
  b->model.valves = 2 * e->cylinders;
  return TRUE;
}

static gboolean add_fuel(struct ew_cycle_build *b, const struct ew_engine *e, GError **error) {
  struct ew_cycle_model *m = &b->model;
  const struct ew_engine_breathing *br = &e->breathing;
  if (!e->fuel)
    ew_model_note(b, ew_message_plain(&no_fuel));
  m->fuel = ew_combustible_find(e->fuel ? e->fuel : "petrol");
  if (!m->fuel)
    return ew_refuse(error, "fuel '%s' cannot be predicted; known are %s", e->fuel,
                     ew_combustible_names());
  m->equivalence =
      1 / ew_model_or_assume(b, e->lambda_target, 0.9, "lambda_target", EW_KIND_NUMBER);
  if (!isnan(e->octane)) {
    m->combustion.octane = e->octane - RON_LESS_INDEX;
    ew_model_note(b, ew_message(&knock_index, ew_say_figure("index", m->combustion.octane, 0),
                                ew_say_figure("octane", e->octane, 0)));
  }
  if (e->fuel_system.injectors >= e->cylinders) {
    m->delivery = EW_FUEL_PORT;
    ew_model_note(b, ew_message_plain(&port_injection));
  }
  m->combustion.turbulence = b->head->turbulence;
  m->combustion.duration = b->head->duration;
  m->combustion.path = e->plugs == 2 ? 0.5 : 1;
  m->ambient_pa = ew_model_or_assume(b, br->air_pressure_pa, 1e5, "breathing.air_pressure",
                                     EW_KIND_PRESSURE_ABSOLUTE);
  m->ambient_k = ew_model_or_assume(b, br->air_temperature_k, 298.15, "breathing.air_temperature",
                                    EW_KIND_TEMPERATURE);
  return TRUE;
}

/* What is given and hardly true: it is run as given, and said. */
static void doubt_what_is_told(struct ew_cycle_build *b, const struct ew_engine *e) {
  ew_message *doubts[] = {ew_cam_card_doubt(e, EW_INLET), ew_cam_card_doubt(e, EW_EXHAUST),
                          ew_primary_doubt(e)};
  for (gsize i = 0; i < G_N_ELEMENTS(doubts); i++)
    if (doubts[i])
      ew_model_note(b, doubts[i]);
}

void ew_cycle_build_free(struct ew_cycle_build *b) {
  if (!b)
    return;
  g_ptr_array_unref(b->notes);
  g_ptr_array_unref(b->memory);
  g_array_unref(b->assumed);
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
  b->notes = ew_messages_new();
  b->memory = g_ptr_array_new_with_free_func(g_free);
  b->assumed = g_array_new(FALSE, FALSE, sizeof(struct ew_cycle_assumed));
  ew_cycle_model_defaults(&b->model);
  doubt_what_is_told(b, e);
  b->head = ew_head_traits_of(e->head, e->inlet.count);
  if (e->head == EW_HEAD_NOT_STATED)
    ew_model_note(b, ew_message(&no_head, ew_say_term("head", b->head->says)));
  struct ew_engine filled = *e; /* figures only; what it points to is the file's */
  ew_model_fill_cam(b, &filled);
  gboolean ok =
      add_fuel(b, e, error) && add_cylinders(b, e, error) && add_valves(b, &filled, error);
  if (ok) {
    ew_model_air(b, e);
    ok = ew_cycle_model_check(&b->model, error);
  }
  if (!ok) {
    ew_cycle_build_free(b);
    return NULL;
  }
  return b;
}
