/* The control line of the live practice cell, and the lesson: what a fault was, and what the hand at the levers did about it.
 * A line that isn't understood, or is out of range, is refused and changes nothing. */
#include "base/words.h"
#include "cell/live_engine_parts.h"
#include <math.h>
#include <string.h>

#define X(id, word, notice) word,
static const char *const fault_words[] = {EW_LIVE_FAULTS(X)};
#undef X
#define X(id, word, notice) notice,
static const char *const fault_notices[] = {EW_LIVE_FAULTS(X)};
#undef X

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

static char *set_one(const char *line, const char *name, double low, double high, double *member,
                     double scale) {
  double value;
  if (!figures(line, &value, NULL, NULL) || !(value >= low && value <= high))
    return ew_words("refused: %s takes one figure from %g to %g", name, low, high);
  *member = value * scale;
  return ew_words("ok %s %g", name, value);
}

static char *command_sweep(struct ew_live_engine *e, const char *line) {
  double from, to, rate;
  if (!figures(line, &from, &to, &rate) || !(from >= 1500 && to > from && to <= 8500) ||
      !(rate >= 20 && rate <= 2000))
    return g_strdup("refused: sweep FROM TO RATE, 1500 to 8500 rpm, 20 to 2000 rpm/s");
  if (!e->running || e->phase != EW_LIVE_STEADY)
    return g_strdup(e->running ? "refused: a sweep is under way"
                               : "refused: the engine is stopped");
  e->from_rpm = from;
  e->to_rpm = to;
  e->rate_rpm_s = rate;
  e->phase = EW_LIVE_HOLD;
  e->shut = FALSE;
  e->phase_s = e->time_s;
  e->run_bend = ew_live_noise(e, 0.0028);
  return ew_words("ok sweep %g to %g at %g rpm/s", from, to, rate);
}

static char *command_fault(struct ew_live_engine *e, const char *line) {
  g_auto(GStrv) words = g_strsplit(line, " ", 3);
  for (int i = 0; words[1] && i < EW_LIVE_FAULTS_COUNT; i++)
    if (strcmp(words[1], fault_words[i]) == 0) {
      e->faults[i] = (struct ew_live_fault_state){TRUE, e->time_s, e->faults[i].times + 1};
      return g_strdup_printf("ok fault %s", words[1]);
    }
  g_autoptr(GString) known = g_string_new("refused: fault takes one of");
  for (int i = 0; i < EW_LIVE_FAULTS_COUNT; i++)
    g_string_append_printf(known, " %s", fault_words[i]);
  return g_strdup(known->str);
}

static char *command_clear(struct ew_live_engine *e) {
  for (int i = 0; i < EW_LIVE_FAULTS_COUNT; i++)
    e->faults[i].on = FALSE;
  e->coolant_extra_bar = 0;
  e->oil_share = 1;
  return g_strdup("ok clear");
}

/* Throttle shut, load kept on: the controller holds the absorber while speed comes down. */
static char *command_stop(struct ew_live_engine *e) {
  e->running = FALSE;
  e->throttle_asked = 0;
  e->phase = EW_LIVE_STEADY;
  e->target_rpm = 0;
  return g_strdup("ok stop");
}

static char *command_start(struct ew_live_engine *e) {
  if (e->running)
    return g_strdup("refused: the engine runs");
  e->cranking = TRUE;
  e->crank_s = e->time_s;
  return g_strdup("ok start");
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

char *ew_live_engine_command(struct ew_live_engine *e, const char *given) {
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
  return g_strdup("refused: write start, stop, speed N, sweep FROM TO RATE, throttle N, spark N, "
                  "lambda X, oil N, coolant N, fault NAME or clear");
}

GPtrArray *ew_live_engine_lesson(const struct ew_live_engine *e) {
  GPtrArray *lines = g_ptr_array_new_with_free_func(g_free);
  for (int i = 0; i < EW_LIVE_FAULTS_COUNT; i++)
    if (e->faults[i].times) {
      const struct ew_live_fault_state *f = &e->faults[i];
      g_autofree char *answer = f->answered_s > 0 ? ew_words("answered after %.1f s by '%s'",
                                                             f->answered_s - f->since_s, f->answer)
                                                  : g_strdup("MISSED: nothing was done about it");
      g_ptr_array_add(lines, ew_words("from %.0f s: %s: %s; %s", f->since_s, fault_words[i],
                                      fault_notices[i], answer));
    }
  return lines;
}
