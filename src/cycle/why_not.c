/* Why a run did not become steady, as a message: the run itself keeps figures only (predict.h), so that lanes and threads never
 * touch a language. */
#include "cycle/predict.h"
#include <string.h>

EW_MESSAGE(step_fell, "cycle.step-fell", EW_CAUTION,
           "the time step fell to {step} µs at a crank angle of {angle}");
EW_MESSAGE(pipe_unsound, "cycle.pipe-unsound", EW_CAUTION,
           "the gas in pipe {pipe} left its valid range in cycle {cycle}");
EW_MESSAGE(cylinder_unsound, "cycle.cylinder-unsound", EW_CAUTION,
           "a cylinder's work or air is not a number in cycle {cycle}");
EW_MESSAGE_MANY(unsteady, "cycle.unsteady", EW_CAUTION,
                "not steady after one cycle: its work still changes by {change}",
                "not steady after {cycles} cycles: work still changes by {change} from cycle to "
                "cycle");

EW_MESSAGE(part_snorkel, "cycle.pipe-snorkel", EW_NOTE, "snorkel");
EW_MESSAGE(part_throttle, "cycle.pipe-throttle", EW_NOTE, "throttle");
EW_MESSAGE(part_runner, "cycle.pipe-runner", EW_NOTE, "runner");
EW_MESSAGE(part_outlet, "cycle.pipe-outlet", EW_NOTE, "outlet");
EW_MESSAGE(part_tail, "cycle.pipe-tail", EW_NOTE, "tail");
EW_MESSAGE(part_primary, "cycle.pipe-primary", EW_NOTE, "primary");
EW_MESSAGE(part_numbered, "cycle.pipe-numbered", EW_NOTE, "{part} {number}");

static const struct {
  const char *key; /* as from_engine_air.c names them in a model */
  const struct ew_message_kind *word;
} parts[] = {{"snorkel", &part_snorkel}, {"throttle", &part_throttle}, {"runner", &part_runner},
             {"outlet", &part_outlet},   {"tail", &part_tail},         {"primary", &part_primary}};

/* "runner 3", as people say it; a model's own name as it is. */
static ew_message *pipe_of(const char *key) {
  gsize word = strcspn(key, " ");
  gint64 number = 0;
  gboolean numbered =
      key[word] && g_ascii_string_to_signed(key + word + 1, 10, 1, 99, &number, NULL);
  for (gsize i = 0; i < G_N_ELEMENTS(parts); i++)
    if (strlen(parts[i].key) == word && strncmp(parts[i].key, key, word) == 0 &&
        (numbered || !key[word]))
      return numbered ? ew_message(&part_numbered, ew_say_word("part", parts[i].word),
                                   ew_say_count("number", number))
                      : ew_message_plain(parts[i].word);
  return NULL;
}

static ew_message *unsound_pipe(const struct ew_cycle_why *w) {
  g_autoptr(ew_message) pipe = pipe_of(w->pipe);
  return ew_message(&pipe_unsound,
                    pipe ? ew_say_message("pipe", pipe) : ew_say_text("pipe", w->pipe),
                    ew_say_count("cycle", w->cycle));
}

ew_message *ew_cycle_why_not(const struct ew_cycle_result *r) {
  const struct ew_cycle_why *w = &r->why;
  switch (w->failure) {
  case EW_CYCLE_STEADY: return NULL;
  case EW_CYCLE_STEP_FELL:
    return ew_message(&step_fell, ew_say_figure("step", 1e6 * w->figure, 4),
                      ew_say_quantity("angle", EW_KIND_ANGLE, w->angle_deg, 1));
  case EW_CYCLE_PIPE_UNSOUND: return unsound_pipe(w);
  case EW_CYCLE_CYLINDER_UNSOUND:
    return ew_message(&cylinder_unsound, ew_say_count("cycle", w->cycle));
  case EW_CYCLE_UNSTEADY:
    return ew_message(&unsteady, ew_say_count("cycles", w->cycle),
                      ew_say_share("change", w->figure, 2));
  }
  g_assert_not_reached();
}
