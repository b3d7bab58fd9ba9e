/* A cycle model tuned for a set-up, run over its speeds. The factors of a fit are a field table, so that file, JSON
 * and form name them alike. All set-ups of one question run together, set-ups times speeds jobs. */
#include "desk/predict.h"
#include "base/as_pointer.h"
#include "base/language.h"
#include "base/error.h"
#include <math.h>
#include <stddef.h>
#include <string.h>

#define FACTOR(field, text)                                                                        \
  {                                                                                                \
    .name = #field, .type = EW_FIELD_QUANTITY, .kind = EW_KIND_NUMBER,                             \
    .offset = offsetof(struct ew_tune, field), .minimum = 0.2, .maximum = 5, .fallback = "1",      \
    .help = text                                                                                   \
  }
#define OPENING_MOST 0.9 /* of a silencer's outlet, of the pipe that it ends */
#define SPREAD(field, text)                                                                        \
  {                                                                                                \
    .name = #field, .type = EW_FIELD_QUANTITY, .kind = EW_KIND_NUMBER,                             \
    .offset = offsetof(struct ew_tune, field), .help = text                                        \
  }
static const struct ew_field tune_table[] = {
    FACTOR(flow, EW_TEXT("factor on the valves' flow areas")),
    FACTOR(burn, EW_TEXT("factor on the development and duration of burning")),
    FACTOR(friction, EW_TEXT("factor on friction")),
    FACTOR(heat, EW_TEXT("factor on heat to the cylinder walls")),
    FACTOR(runner, EW_TEXT("factor on the length of the inlet runners")),
    FACTOR(back_pressure, EW_TEXT("factor on the back pressure of a silenced exhaust")),
    FACTOR(duration, EW_TEXT("factor on the cams' duration, about each lobe's centre")),
    SPREAD(flow_u, EW_TEXT("its standard uncertainty")),
    SPREAD(burn_u, EW_TEXT("its standard uncertainty")),
    SPREAD(friction_u, EW_TEXT("its standard uncertainty")),
    SPREAD(heat_u, EW_TEXT("its standard uncertainty")),
    SPREAD(runner_u, EW_TEXT("its standard uncertainty")),
    SPREAD(back_pressure_u, EW_TEXT("its standard uncertainty")),
    SPREAD(duration_u, EW_TEXT("its standard uncertainty")),
    SPREAD(physics, EW_TEXT("physics version of the program that fitted it")),
    SPREAD(left, EW_TEXT("torque left over after the fit, root mean square, relative")),
};
const struct ew_fields ew_tune_fields = {EW_TEXT("a tune"), sizeof(struct ew_tune), tune_table,
                                         G_N_ELEMENTS(tune_table)};
const char *const ew_tune_names[] = {"flow",   "burn",          "friction", "heat",
                                     "runner", "back_pressure", "duration", NULL};

double *ew_tune_factor(struct ew_tune *t, int which) {
  g_assert(which >= 0 && which < EW_TUNE_COUNT);
  double *all[] = {&t->flow,   &t->burn,          &t->friction, &t->heat,
                   &t->runner, &t->back_pressure, &t->duration};
  return all[which];
}

double *ew_tune_uncertainty(struct ew_tune *t, int which) {
  g_assert(which >= 0 && which < EW_TUNE_COUNT);
  double *all[] = {&t->flow_u,   &t->burn_u,          &t->friction_u, &t->heat_u,
                   &t->runner_u, &t->back_pressure_u, &t->duration_u};
  return all[which];
}

gboolean ew_tune_is_fitted(const struct ew_tune *t) {
  return !isnan(t->left);
}

gboolean ew_tune_agrees(const struct ew_tune *t, const char *where, GError **error) {
  if (!ew_tune_is_fitted(t) || t->physics == EW_CYCLE_PHYSICS)
    return TRUE;
  return ew_refuse_with(error, EW_REMEDY_FIT_AGAIN,
                        "%s: this fit was made with an earlier physics of the simulation, in which "
                        "its knobs had another meaning",
                        where);
}

unsigned ew_tune_knobs_parse(const char *list, const char *where, GError **error) {
  g_auto(GStrv) parts = g_strsplit(list, ",", -1);
  unsigned turn = 0;
  for (int i = 0; parts[i]; i++) {
    int k = 0;
    while (ew_tune_names[k] && strcmp(ew_tune_names[k], g_strstrip(parts[i])) != 0)
      k++;
    if (!ew_tune_names[k]) {
      g_autofree char *all = g_strjoinv(", ", (char **)ew_as_pointer(ew_tune_names));
      ew_refuse(error, "%s '%.40s' is not one of %s", where, parts[i], all);
      return 0;
    }
    turn |= 1u << k;
  }
  return turn;
}

/* A runner is a pipe of the inlet that ends at a valve; its stations go along, so that its bores and walls keep their shares. */
static void tune_runners(struct ew_cycle_model *m, double factor, GPtrArray *memory) {
  if (factor == 1)
    return;
  struct ew_cycle_pipe *pipes = g_memdup2(m->pipe, sizeof *pipes * (gsize)m->pipes);
  g_ptr_array_add(memory, pipes);
  for (int i = 0; i < m->pipes; i++) {
    struct ew_cycle_pipe *p = &pipes[i];
    if (p->exhaust || (p->end[0].kind != EW_END_VALVE && p->end[1].kind != EW_END_VALVE))
      continue;
    struct ew_cycle_station *s = g_memdup2(p->station, sizeof *s * (gsize)p->stations);
    g_ptr_array_add(memory, s);
    p->length_m *= factor;
    for (int k = 0; k < p->stations; k++)
      s[k].at_m *= factor;
    p->station = s;
  }
  m->pipe = pipes;
}

/* What leaves a silencer, an opening that resists by the square of the flow (cycle/from_engine_air.c): its area goes by one over the
 * root of the pressure, and its pipe is widened where the opening would fill it. Pipes that end open have no such thing. */
static void tune_outlets(struct ew_cycle_model *m, double factor, GPtrArray *memory) {
  if (factor == 1)
    return;
  struct ew_cycle_pipe *pipes = g_memdup2(m->pipe, sizeof *pipes * (gsize)m->pipes);
  g_ptr_array_add(memory, pipes);
  for (int i = 0; i < m->pipes; i++) {
    struct ew_cycle_pipe *p = &pipes[i];
    if (!p->exhaust || p->end[0].kind != EW_END_VOLUME || p->end[1].kind != EW_END_ATMOSPHERE)
      continue;
    g_assert(p->stations == 1 && p->end[1].opening > 0);
    struct ew_cycle_station *s = g_memdup2(p->station, sizeof *s);
    g_ptr_array_add(memory, s);
    double opening = p->end[1].opening / sqrt(factor);
    double wider = sqrt(fmax(opening / OPENING_MOST, 1));
    s->diameter_m *= wider;
    p->end[1].opening = opening / (wider * wider);
    p->station = s;
  }
  m->pipe = pipes;
}

/* Where a lobe's lift is centred, as a share of its lifts' places: the middle of what is open, as its nose may be flat. */
static double centre_of(const struct ew_cycle_valve *valve) {
  int first = 0, last = valve->lifts - 1;
  while (first < last && valve->lift_m[first] <= 0)
    first++;
  while (last > first && valve->lift_m[last] <= 0)
    last--;
  return 0.5 * (first + last);
}

/* Every angle of a lobe, from its centre on, is that much longer: lift, lobe separation and advance stay. */
static void tune_duration(struct ew_cycle_valve *valve, double factor) {
  g_assert(factor > 0 && valve->lifts > 1);
  double centre = centre_of(valve);
  valve->first_deg += centre * valve->step_deg * (1 - factor);
  valve->step_deg *= factor;
}

static void tune_model(const struct ew_varying *at, const struct ew_tune *t, GPtrArray *memory) {
  struct ew_cycle_model *m = at->model;
  g_assert(m->valve == at->valves); /* its own copy: what is changed belongs to nobody else */
  for (int i = 0; i < m->valves; i++) {
    struct ew_cycle_valve *valve = &at->valves[i];
    struct ew_cycle_flow *flow = g_memdup2(valve->flow, sizeof *flow * (gsize)valve->flows);
    for (int k = 0; k < valve->flows; k++) {
      flow[k].forward *= t->flow;
      flow[k].reverse *= t->flow;
    }
    valve->flow = flow;
    g_ptr_array_add(memory, flow);
    if (t->duration != 1)
      tune_duration(valve, t->duration);
  }
  m->combustion.development *= t->burn;
  m->combustion.duration *= t->burn;
  m->friction.constant_pa *= t->friction;
  m->friction.peak *= t->friction;
  m->friction.speed_pa_s_m *= t->friction;
  m->friction.square_pa_s2_m2 *= t->friction;
  m->woschni_factor *= t->heat;
  tune_runners(m, t->runner, memory);
  tune_outlets(m, t->back_pressure, memory);
}

static gboolean vary_all(const struct ew_prediction_setup *s, struct ew_varying *at, gboolean model,
                         struct ew_reach *reach, GError **error) {
  for (guint i = 0; s->variations && i < s->variations->len; i++)
    if (!ew_vary(at, &g_array_index(s->variations, struct ew_variation, i), model,
                 reach ? &reach[i] : NULL, error))
      return FALSE;
  return TRUE;
}

static gpointer copied(const void *parts, gsize bytes, GPtrArray *memory) {
  gpointer copy = g_memdup2(parts, bytes);
  if (copy)
    g_ptr_array_add(memory, copy);
  return copy;
}

/* Valves and cylinders that may be changed, in place of those that the build was made with. */
static struct ew_varying varying_model(struct ew_cycle_build *build) {
  struct ew_cycle_model *m = &build->model;
  struct ew_varying at = {
      .model = m,
      .valves = copied(m->valve, sizeof *m->valve * (gsize)m->valves, build->memory),
      .cylinders = copied(m->cylinder, sizeof *m->cylinder * (gsize)m->cylinders, build->memory)};
  m->valve = at.valves;
  m->cylinder = at.cylinders;
  return at;
}

/* The model of a set-up, with all that is changed. reach, one a variation, may be NULL. */
static struct ew_cycle_build *build_model(const struct ew_prediction_setup *s, double *spark_deg,
                                          struct ew_reach *reach, GError **error) {
  struct ew_engine engine;
  struct ew_cam_timing timing = {NAN, NAN, NAN, NAN};
  ew_engine_copy(s->engine, &engine);
  struct ew_varying at = {.engine = &engine, .spark_deg = s->spark_deg};
  struct ew_cycle_build *build =
      vary_all(s, &at, FALSE, reach, error) ? ew_cycle_from_engine(&engine, error) : NULL;
  ew_cam_timing_of(&engine, &timing);
  ew_engine_clear(&engine);
  if (!build)
    return NULL;
  struct ew_cycle_model *m = &build->model;
  if (!isnan(s->lambda))
    m->equivalence = 1 / s->lambda;
  if (!isnan(s->pressure_pa))
    m->ambient_pa = s->pressure_pa;
  if (!isnan(s->temperature_k))
    m->ambient_k = s->temperature_k;
  if (!isnan(s->vapour_pa))
    m->vapour_pa = s->vapour_pa;
  at = varying_model(build);
  at.inlet_centreline_deg = timing.inlet_centreline_deg;
  at.exhaust_centreline_deg = timing.exhaust_centreline_deg;
  at.spark_deg = s->spark_deg;
  if (vary_all(s, &at, TRUE, reach, error)) {
    *spark_deg = at.spark_deg;
    tune_model(&at, &s->tune, build->memory);
    if (ew_cycle_model_check(m, error))
      return build;
  }
  ew_cycle_build_free(build);
  return NULL;
}

gboolean ew_predict_reach(const struct ew_prediction_setup *s, struct ew_reach *reach,
                          GError **error) {
  double spark;
  struct ew_cycle_build *build = build_model(s, &spark, reach, error);
  if (!build)
    return FALSE;
  ew_cycle_build_free(build);
  return TRUE;
}

double ew_predict_octane(const struct ew_prediction_setup *s) {
  double spark;
  struct ew_cycle_build *build = build_model(s, &spark, NULL, NULL);
  if (!build)
    return NAN;
  const struct ew_cycle_model *m = &build->model;
  double octane = isnan(m->combustion.octane)
                      ? (m->fuel->research_octane + m->fuel->motor_octane) / 2
                      : m->combustion.octane;
  ew_cycle_build_free(build);
  return octane;
}

GArray *ew_predict_assumed(const struct ew_prediction_setup *s, GError **error) {
  double spark;
  struct ew_cycle_build *build = build_model(s, &spark, NULL, error);
  if (!build)
    return NULL;
  GArray *assumed = g_array_ref(build->assumed);
  ew_cycle_build_free(build);
  return assumed;
}

void ew_cycle_results_free(struct ew_cycle_result *r, int n) {
  for (int i = 0; i < n; i++)
    ew_cycle_result_clear(&r[i]);
  g_free(r);
}

struct ew_cycle_plan *ew_predict_plan(const struct ew_prediction_setup *s,
                                      const struct ew_cycle_options *given,
                                      const struct ew_cycle_plan *like, double *spark_deg,
                                      GPtrArray *notes, GError **error) {
  struct ew_cycle_options options = *given;
  struct ew_cycle_build *build = build_model(s, spark_deg, NULL, error);
  struct ew_cycle_plan *plan = NULL;
  if (!build)
    return NULL;
  if (isnan(s->spark_deg) && !isnan(*spark_deg)) {
    ew_refuse(error, "change spark: give spark too, so that there is a spark to change");
  } else {
    if (!isnan(*spark_deg))
      options.spark = EW_SPARK_GIVEN;
    plan = ew_cycle_plan_new(&build->model, &options, like, error);
  }
  for (guint i = 0; plan && notes && i < build->notes->len; i++)
    ew_messages_add(notes, ew_message_copy(build->notes->pdata[i]));
  ew_cycle_build_free(build);
  return plan;
}

gboolean ew_predict_setups(const struct ew_prediction_setup *setups, int count,
                           const double *speed_rpm, int speeds,
                           const struct ew_cycle_options *options, struct ew_cycle_result *results,
                           struct ew_cycle_effort *effort, GPtrArray *notes, GError **error) {
  g_assert(count >= 1 && speeds >= 1);
  g_autoptr(GPtrArray) plans = g_ptr_array_new_with_free_func((GDestroyNotify)ew_cycle_plan_free);
  g_autofree struct ew_cycle_task *tasks =
      g_new0(struct ew_cycle_task, (gsize)count * (gsize)speeds);
  for (int i = 0; i < count; i++) {
    double spark;
    struct ew_cycle_plan *plan = ew_predict_plan(&setups[i], options, i ? tasks[0].plan : NULL,
                                                 &spark, i ? NULL : notes, error);
    if (!plan)
      return FALSE;
    g_ptr_array_add(plans, plan);
    for (int k = 0; k < speeds; k++)
      tasks[i * speeds + k] = (struct ew_cycle_task){plan, speed_rpm[k], spark};
  }
  g_assert((int)plans->len == count);
  return ew_cycle_run(tasks, count * speeds, options, results, effort, error);
}
