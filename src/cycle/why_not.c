/* Why a run did not become steady, as a message: the run itself keeps figures only (predict.h), so that lanes and threads never
 * touch a language. */
#include "cycle/predict.h"

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

ew_message *ew_cycle_why_not(const struct ew_cycle_result *r) {
  const struct ew_cycle_why *w = &r->why;
  switch (w->failure) {
  case EW_CYCLE_STEADY: return NULL;
  case EW_CYCLE_STEP_FELL:
    return ew_message(&step_fell, ew_say_figure("step", 1e6 * w->figure, 4),
                      ew_say_quantity("angle", EW_KIND_ANGLE, w->angle_deg, 1));
  case EW_CYCLE_PIPE_UNSOUND:
    return ew_message(&pipe_unsound, ew_say_text("pipe", w->pipe), ew_say_count("cycle", w->cycle));
  case EW_CYCLE_CYLINDER_UNSOUND:
    return ew_message(&cylinder_unsound, ew_say_count("cycle", w->cycle));
  case EW_CYCLE_UNSTEADY:
    return ew_message(&unsteady, ew_say_count("cycles", w->cycle),
                      ew_say_share("change", w->figure, 2));
  }
  g_assert_not_reached();
}
