/* The control line of the live practice cell, and the lesson: what a fault was, and what the hand at the levers did about it.
 * A line that isn't understood, or is out of range, is refused and changes nothing. */
#include "base/language.h"
#include "base/words.h"
#include "cell/live_engine_parts.h"
#include <math.h>
#include <string.h>

#define X(id, word) word,
static const char *const fault_words[] = {EW_LIVE_FAULTS(X)};
#undef X

/* What a new hand should have noticed. */
EW_MESSAGE(lean_cylinder, "cell.fault-lean-cylinder", EW_NOTE,
           "one exhaust runs hotter and lambda rises a little");
EW_MESSAGE(oil_aeration, "cell.fault-oil-aeration", EW_NOTE,
           "oil pressure falls with speed above 6,300 rpm");
EW_MESSAGE(fuel_starvation, "cell.fault-fuel-starvation", EW_NOTE,
           "fuel pressure falls with load, then lambda rises");
EW_MESSAGE(sticking_absorber, "cell.fault-sticking-absorber", EW_NOTE,
           "speed overshoots as the load comes on: the water valve sticks");
EW_MESSAGE(lost_crank, "cell.fault-lost-crank", EW_NOTE, "the speed signal drops out");
EW_MESSAGE(valve_contact, "cell.fault-valve-contact", EW_NOTE,
           "torque falls suddenly near the top and crankcase blow-by rises");
EW_MESSAGE(poor_fuel, "cell.fault-poor-fuel", EW_NOTE, "knock at a spark that was safe before");
EW_MESSAGE(head_gasket, "cell.fault-head-gasket", EW_NOTE,
           "coolant pressure rises within the pull and stays up");
EW_MESSAGE(cell_drift, "cell.fault-cell-drift", EW_NOTE, "torque at no load is no longer zero");
EW_MESSAGE(oil_pump, "cell.fault-oil-pump", EW_NOTE, "oil pressure is gone within a second");
static const struct ew_message_kind *const fault_notices[] = {
    &lean_cylinder, &oil_aeration, &fuel_starvation, &sticking_absorber, &lost_crank,
    &valve_contact, &poor_fuel,    &head_gasket,     &cell_drift,        &oil_pump};
_Static_assert(G_N_ELEMENTS(fault_notices) == EW_LIVE_FAULTS_COUNT, "a notice for each fault");

EW_MESSAGE_PUBLIC(ew_live_ok, "cell.practice-ok", EW_NOTE, "ok {done}");
EW_MESSAGE(out_of_range, "cell.practice-out-of-range", EW_CAUTION,
           "refused: {name} takes one figure from {low} to {high}");
EW_MESSAGE(sweep_range, "cell.practice-sweep-range", EW_CAUTION,
           "refused: sweep FROM TO RATE, 1500 to 8500 rpm, 20 to 2000 rpm/s");
EW_MESSAGE(in_sweep, "cell.practice-in-sweep", EW_CAUTION, "refused: a sweep is under way");
EW_MESSAGE(stopped, "cell.practice-stopped", EW_CAUTION, "refused: the engine is stopped");
EW_MESSAGE(runs, "cell.practice-runs", EW_CAUTION, "refused: the engine is running");
EW_MESSAGE(no_fault, "cell.practice-no-fault", EW_CAUTION, "refused: fault takes one of {faults}");
EW_MESSAGE(not_understood, "cell.practice-not-understood", EW_CAUTION,
           "refused: write start, stop, speed N, sweep FROM TO RATE, throttle N, spark N, "
           "lambda X, oil N, coolant N, fault NAME or clear");
EW_MESSAGE(answered, "cell.lesson-answered", EW_NOTE, "answered after {time} with '{line}'");
EW_MESSAGE(missed, "cell.lesson-missed", EW_CAUTION, "MISSED: nothing was done about it");
EW_MESSAGE(lesson_line, "cell.lesson", EW_NOTE, "from {from}: {fault}: {notice}; {answer}");

static ew_message *ok(char *done) {
  ew_message *m = ew_message(&ew_live_ok, ew_say_text("done", done));
  g_free(done);
  return m;
}

char *ew_live_engine_answer(const ew_message *answer) {
  const ew_language *former = ew_language_of_thread(ew_language_english());
  char *line = ew_message_text(answer, EW_UNITS_SI);
  ew_language_of_thread(former);
  return line;
}

static gboolean figures(const char *line, double *a, double *b, double *c) {
  g_auto(GStrv) words = g_strsplit_set(line, " \t", 8);
  double *into[] = {a, b, c};
  guint count = 0;
  for (int i = 1; words[i]; i++) {
    if (!*words[i])
      continue;
    char *end;
    double value = g_ascii_strtod(words[i], &end);
    if (count >= 3 || !into[count] || *end || !isfinite(value))
      return FALSE;
    *into[count++] = value;
  }
  return (count >= 1) && (count == 3 || !into[count]);
}

static ew_message *set_one(const char *line, const char *name, double low, double high,
                           double *member, double scale) {
  g_assert(low < high);
  double value;
  if (!figures(line, &value, NULL, NULL) || !(value >= low && value <= high))
    return ew_message(&out_of_range, ew_say_text("name", name),
                      ew_say_figure("low", low, low == floor(low) ? 0 : 1),
                      ew_say_figure("high", high, high == floor(high) ? 0 : 1));
  *member = value * scale;
  return ok(ew_exact("%s %g", name, value));
}

static ew_message *command_sweep(struct ew_live_engine *e, const char *line) {
  double from, to, rate;
  if (!figures(line, &from, &to, &rate) || !(from >= 1500 && to > from && to <= 8500) ||
      !(rate >= 20 && rate <= 2000))
    return ew_message_plain(&sweep_range);
  if (!e->running || e->phase != EW_LIVE_STEADY)
    return ew_message_plain(e->running ? &in_sweep : &stopped);
  e->from_rpm = from;
  e->to_rpm = to;
  e->rate_rpm_s = rate;
  e->phase = EW_LIVE_HOLD;
  e->shut = FALSE;
  e->phase_s = e->time_s;
  e->run_bend = ew_live_noise(e, 0.0028);
  return ok(ew_exact("sweep %g to %g at %g rpm/s", from, to, rate));
}

static ew_message *command_fault(struct ew_live_engine *e, const char *line) {
  g_auto(GStrv) words = g_strsplit(line, " ", 3);
  for (int i = 0; words[1] && i < EW_LIVE_FAULTS_COUNT; i++)
    if (strcmp(words[1], fault_words[i]) == 0) {
      e->faults[i] = (struct ew_live_fault_state){TRUE, e->time_s, e->faults[i].times + 1};
      return ok(g_strdup_printf("fault %s", words[1]));
    }
  g_autoptr(GString) known = g_string_new(fault_words[0]);
  for (int i = 1; i < EW_LIVE_FAULTS_COUNT; i++)
    g_string_append_printf(known, ", %s", fault_words[i]);
  return ew_message(&no_fault, ew_say_text("faults", known->str));
}

static ew_message *command_clear(struct ew_live_engine *e) {
  for (int i = 0; i < EW_LIVE_FAULTS_COUNT; i++)
    e->faults[i].on = FALSE;
  e->coolant_extra_bar = 0;
  e->oil_share = 1;
  return ok(g_strdup("clear"));
}

/* Throttle shut, load kept on: the controller holds the absorber while speed comes down. */
static ew_message *command_stop(struct ew_live_engine *e) {
  e->running = FALSE;
  e->throttle_asked = 0;
  e->phase = EW_LIVE_STEADY;
  e->target_rpm = 0;
  return ok(g_strdup("stop"));
}

static ew_message *command_start(struct ew_live_engine *e) {
  if (e->running)
    return ew_message_plain(&runs);
  e->cranking = TRUE;
  e->crank_s = e->time_s;
  return ok(g_strdup("start"));
}

/* What somebody does at the levers while a fault stands is his answer to it. */
static void note_answer(struct ew_live_engine *e, const char *line) {
  static const char *const acts[] = {"throttle ", "speed ", "stop", "spark ", "lambda "};
  gboolean act = FALSE;
  for (gsize i = 0; i < G_N_ELEMENTS(acts); i++)
    act |= g_str_has_prefix(line, acts[i]);
  for (int i = 0; act && i < EW_LIVE_FAULTS_COUNT; i++)
    if (e->faults[i].times && e->faults[i].answered_s == 0) {
      e->faults[i].answered_s = fmax(e->time_s, 1e-9);
      g_strlcpy(e->faults[i].answer, line, sizeof e->faults[i].answer);
    }
}

ew_message *ew_live_engine_command(struct ew_live_engine *e, const char *given) {
  g_autofree char *line = g_strstrip(g_strndup(given, 200));
  note_answer(e, line);
  if (g_str_has_prefix(line, "speed "))
    return set_one(line, "speed", 0, 8500, &e->target_rpm, 1);
  if (g_str_has_prefix(line, "throttle ")) {
    if (e->phase != EW_LIVE_STEADY) {
      e->phase = EW_LIVE_RUN_DOWN; /* a hand on the lever ends the sweep */
      e->shut = TRUE;
    }
    return set_one(line, "throttle", 0, 100, &e->throttle_asked, 0.01);
  }
  if (g_str_has_prefix(line, "spark "))
    return set_one(line, "spark", 0, 60, &e->spark_deg, 1);
  if (g_str_has_prefix(line, "lambda "))
    return set_one(line, "lambda", 0.6, 1.3, &e->lambda, 1);
  if (g_str_has_prefix(line, "oil "))
    return set_one(line, "oil", 10, 150, &e->oil_c, 1);
  if (g_str_has_prefix(line, "coolant "))
    return set_one(line, "coolant", 10, 120, &e->coolant_c, 1);
  if (g_str_has_prefix(line, "sweep "))
    return command_sweep(e, line);
  if (g_str_has_prefix(line, "fault "))
    return command_fault(e, line);
  if (strcmp(line, "clear") == 0)
    return command_clear(e);
  if (strcmp(line, "stop") == 0)
    return command_stop(e);
  if (strcmp(line, "start") == 0)
    return command_start(e);
  return ew_message_plain(&not_understood);
}

GPtrArray *ew_live_engine_lesson(const struct ew_live_engine *e) {
  GPtrArray *lines = ew_messages_new();
  for (int i = 0; i < EW_LIVE_FAULTS_COUNT; i++)
    if (e->faults[i].times) {
      const struct ew_live_fault_state *f = &e->faults[i];
      g_autoptr(ew_message) answer =
          f->answered_s > 0
              ? ew_message(&answered,
                           ew_say_quantity("time", EW_KIND_TIME, f->answered_s - f->since_s, 1),
                           ew_say_text("line", f->answer))
              : ew_message_plain(&missed);
      ew_messages_add(lines,
                      ew_message(&lesson_line, ew_say_quantity("from", EW_KIND_TIME, f->since_s, 0),
                                 ew_say_text("fault", fault_words[i]),
                                 ew_say_word("notice", fault_notices[i]),
                                 ew_say_message("answer", answer)));
    }
  return lines;
}
