/* What a build must have done, and what was agreed, before it goes on: steps of checklists before first fire, load and
 * dispatch; the agreed limit, power and torque against what the engine did. The last tick of a step counts, as does the last
 * agreement; what was not agreed is asked of nobody. */
#include "base/language.h"
#include "build/check_parts.h"
#include <math.h>
#include <string.h>

EW_MESSAGE(step_open, "build.step-open", EW_CAUTION, "{list}: {step}");
EW_MESSAGE(step_open_hurts, "build.step-open-hurts", EW_DANGER, "{list}: {step}. {caution}");
EW_MESSAGE(step_failed, "build.step-failed", EW_DANGER, "{list}: {step} (failed)");
EW_MESSAGE(step_failed_hurts, "build.step-failed-hurts", EW_DANGER,
           "{list}: {step} (failed). {caution}");
EW_MESSAGE(step_failed_note, "build.step-failed-note", EW_DANGER,
           "{list}: {step} (failed): {note}");
EW_MESSAGE(no_steps, "build.no-steps-before", EW_CAUTION,
           "no checklist of this build has steps before {gate}: nothing can be shown to be done");
EW_MESSAGE(ran_without, "build.ran-without", EW_DANGER, "run under load without: {step}");
EW_MESSAGE(limit_differs, "build.limit-differs", EW_CAUTION,
           "agreed limit: {agreed} was agreed, the engine's file says {stated}");
EW_MESSAGE(limit_passed, "build.limit-passed", EW_DANGER,
           "agreed limit: {run} was run, {agreed} is agreed");
EW_MESSAGE(power_short, "build.power-short", EW_CAUTION,
           "agreed power: {reached} was reached of the {agreed} agreed");
EW_MESSAGE(torque_short, "build.torque-short", EW_CAUTION,
           "agreed torque: {reached} was reached of the {agreed} agreed");
EW_MESSAGE(gate_fire, "build.first-fire", EW_NOTE, "first fire");
EW_MESSAGE(gate_load, "build.load", EW_NOTE, "load");
EW_MESSAGE(gate_dispatch, "build.dispatch", EW_NOTE, "dispatch");

static struct ew_argument say_rpm(const char *name, double speed_rpm) {
  return ew_say_quantity(name, EW_KIND_ROTATIONAL_SPEED, speed_rpm, 0);
}

int ew_build_step_state(const struct ew_build *build, const struct ew_build_step *step,
                        const struct ew_build_tick **tick) {
  const struct ew_build_tick *t, *found = NULL;
  EW_BUILD_EACH(build, TICK, struct ew_build_tick, t, i)
  if (g_ascii_strcasecmp(t->list, step->list) == 0 && g_ascii_strcasecmp(t->step, step->step) == 0)
    found = t;
  if (tick)
    *tick = found;
  g_assert(!found || found->state >= 0);
  return found ? found->state : -1;
}

const char *ew_build_step_state_word(int state) {
  g_assert(state < 3);
  return state < 0 ? EW_TEXT("open") : ew_build_state_names[state];
}

/* "first fire", "load", "dispatch" for people; NULL for none. */
static const struct ew_message_kind *build_gate_word(enum ew_build_gate gate) {
  switch (gate) {
  case EW_GATE_NONE: return NULL;
  case EW_GATE_FIRST_FIRE: return &gate_fire;
  case EW_GATE_LOAD: return &gate_load;
  case EW_GATE_DISPATCH: return &gate_dispatch;
  }
  g_assert_not_reached();
}

static ew_message *open_step(const struct ew_build_step *step, gboolean failed) {
  g_assert(step->list && step->step);
  struct ew_argument list = ew_say_text("list", step->list), what = ew_say_text("step", step->step),
                     caution = ew_say_text("caution", step->caution);
  if (step->caution)
    return ew_message(failed ? &step_failed_hurts : &step_open_hurts, list, what, caution);
  return ew_message(failed ? &step_failed : &step_open, list, what);
}

GPtrArray *ew_build_open_steps(const struct ew_build *build, enum ew_build_gate gate) {
  GPtrArray *open = ew_messages_new();
  const struct ew_build_step *step;
  guint steps = 0;
  EW_BUILD_EACH(build, STEP, struct ew_build_step, step, i) {
    if (step->before == EW_GATE_NONE || step->before > (int)gate)
      continue;
    int state = ew_build_step_state(build, step, NULL);
    steps++;
    if (state != 0 && state != 1)
      ew_messages_add(open, ew_message_about(open_step(step, state == 2), step->list));
  }
  if (steps == 0 && gate != EW_GATE_NONE)
    ew_messages_add(open, ew_message(&no_steps, ew_say_word("gate", build_gate_word(gate))));
  return open;
}

void ew_build_check_steps(struct ew_build_checking *c, const struct ew_build_result *result) {
  const struct ew_build_step *step;
  const struct ew_build_tick *tick;
  EW_BUILD_EACH(c->build, STEP, struct ew_build_step, step, i)
  if (ew_build_step_state(c->build, step, &tick) == 2) {
    struct ew_argument list = ew_say_text("list", step->list),
                       what = ew_say_text("step", step->step),
                       note = ew_say_text("note", tick->mark.note);
    ew_build_find(c, step->list,
                  tick->mark.note ? ew_message(&step_failed_note, list, what, note)
                                  : ew_message(&step_failed, list, what));
  }
  if (!result || result->pulls == 0)
    return;
  g_autoptr(GPtrArray) open = ew_build_open_steps(c->build, EW_GATE_LOAD);
  for (guint i = 0; i < open->len; i++)
    ew_build_find(c, "load", ew_message(&ran_without, ew_say_message("step", open->pdata[i])));
}

struct ew_build_agreed ew_build_agreed_now(const struct ew_build *build) {
  struct ew_build_agreed now = {
      .power_w = NAN, .power_speed_rpm = NAN, .torque_n_m = NAN, .limit_rpm = NAN};
  const struct ew_build_agreed *a;
  EW_BUILD_EACH(build, AGREED, struct ew_build_agreed, a, i) {
    double *to[] = {&now.power_w, &now.power_speed_rpm, &now.torque_n_m, &now.limit_rpm};
    const double from[] = {a->power_w, a->power_speed_rpm, a->torque_n_m, a->limit_rpm};
    for (int k = 0; k < 4; k++)
      if (!isnan(from[k]))
        *to[k] = from[k];
    if (a->fuel)
      now.fuel = a->fuel;
    now.what = a->what;
  }
  return now;
}

void ew_build_check_agreed(struct ew_build_checking *c, const struct ew_build_result *result) {
  struct ew_build_agreed now = ew_build_agreed_now(c->build);
  if (!isnan(now.limit_rpm) && !isnan(c->engine->agreed_limit_rpm) &&
      fabs(now.limit_rpm - c->engine->agreed_limit_rpm) > 1)
    ew_build_find(c, "agreed limit",
                  ew_message(&limit_differs, say_rpm("agreed", now.limit_rpm),
                             say_rpm("stated", c->engine->agreed_limit_rpm)));
  if (!result || result->pulls == 0)
    return;
  if (result->power_w < now.power_w)
    ew_build_find(c, "agreed power",
                  ew_message(&power_short,
                             ew_say_quantity("reached", EW_KIND_POWER, result->power_w, 1),
                             ew_say_quantity("agreed", EW_KIND_POWER, now.power_w, 1)));
  if (result->torque_n_m < now.torque_n_m)
    ew_build_find(c, "agreed torque",
                  ew_message(&torque_short,
                             ew_say_quantity("reached", EW_KIND_TORQUE, result->torque_n_m, 0),
                             ew_say_quantity("agreed", EW_KIND_TORQUE, now.torque_n_m, 0)));
  if (result->highest_rpm > now.limit_rpm * 1.01)
    ew_build_find(c, "agreed limit",
                  ew_message(&limit_passed, say_rpm("run", result->highest_rpm),
                             say_rpm("agreed", now.limit_rpm)));
}
