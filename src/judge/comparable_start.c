/* The windows at the start of a pull: oil, coolant, inlet air, fuel, rest, by the means of the sides. Within its tolerance a window
 * says nothing; up to three times it the interval is wider by what the excess may bring; beyond, it is a reason. One that is known on
 * one side only may have missed by up to three times its tolerance. */
#include "judge/comparable_parts.h"
#include <math.h>

#define FAR_OUTSIDE 3.0 /* times the tolerance */

EW_MESSAGE(oil_at_start, "judge.oil-at-start", EW_NOTE, "oil at the start");
EW_MESSAGE(coolant_at_start, "judge.coolant-at-start", EW_NOTE, "coolant at the start");
EW_MESSAGE(inlet_air, "judge.inlet-air", EW_NOTE, "inlet air");
EW_MESSAGE(fuel, "judge.fuel", EW_NOTE, "fuel");
EW_MESSAGE(rest, "judge.rest", EW_NOTE, "rest before the pull");
EW_MESSAGE(window_missed, "judge.window-missed", EW_CAUTION,
           "{what} differs by {difference} (window ±{window}): the interval is wider for it");
EW_MESSAGE(window_far, "judge.window-far", EW_CAUTION,
           "{what} differs by {difference} between the sides (window ±{window})");
EW_MESSAGE(window_one_side, "judge.window-on-one-side", EW_CAUTION,
           "{what} is known on one side only: the interval is wider for it");

/* What is compared, its tolerance, and the spread that a difference beyond it may bring (relative, a unit). Tolerances and
 * spreads: common practice, no source. */
static const struct window {
  const struct ew_message_kind *what;
  enum ew_kind kind;
  gsize offset;
  double tolerance, spread;
} windows[] = {
    {&oil_at_start, EW_KIND_TEMPERATURE_DIFFERENCE, offsetof(struct ew_conditions, oil_start_k), 3,
     0.0005},
    {&coolant_at_start, EW_KIND_TEMPERATURE_DIFFERENCE,
     offsetof(struct ew_conditions, coolant_start_k), 2, 0.0006},
    {&inlet_air, EW_KIND_TEMPERATURE_DIFFERENCE, offsetof(struct ew_conditions, temperature_k), 3,
     0.0005},
    {&fuel, EW_KIND_TEMPERATURE_DIFFERENCE, offsetof(struct ew_conditions, fuel_k), 5, 0.0003},
    {&rest, EW_KIND_TIME, offsetof(struct ew_conditions, rest_s), 60, 0.00002},
};

static double side_mean(const struct ew_pull_facts *const *pulls, gsize n, const struct window *w) {
  double sum = 0, count = 0;
  for (gsize i = 0; i < n; i++) {
    double value =
        *(const double *)(const void *)((const char *)&pulls[i]->curve->conditions + w->offset);
    if (!isnan(value))
      sum += value, count++;
  }
  return count ? sum / count : (double)NAN;
}

/* Variance that one window adds. */
static double check_window(struct ew_gate *gate, const struct window *w, double a, double b) {
  gboolean temperature = w->kind != EW_KIND_TIME;
  if (isnan(a) != isnan(b)) {
    double bias = temperature && w->what != &inlet_air
                      ? (FAR_OUTSIDE - 1) * w->tolerance * w->spread
                      : 0; /* inlet air is asked with the air */
    ew_gate_widen(gate, EW_FACT_START, bias * bias,
                  ew_message(&window_one_side, ew_say_word("what", w->what)));
    return bias * bias;
  }
  double gap = b - a;
  if (isnan(gap) || fabs(gap) <= w->tolerance)
    return 0;
  double excess = fabs(gap) - w->tolerance, bias = excess * w->spread;
  gboolean far = temperature && fabs(gap) > FAR_OUTSIDE * w->tolerance;
  ew_message *says = ew_message(far ? &window_far : &window_missed, ew_say_word("what", w->what),
                                ew_say_change("difference", w->kind, gap, 1),
                                ew_say_quantity("window", w->kind, w->tolerance, 0));
  if (far)
    ew_gate_found(gate, EW_FACT_START, says);
  else
    ew_gate_widen(gate, EW_FACT_START, bias * bias, says);
  return bias * bias;
}

void ew_gate_start(struct ew_gate *gate, const struct ew_pull_facts *const *a, gsize n_a,
                   const struct ew_pull_facts *const *b, gsize n_b) {
  double variance = 0;
  for (gsize k = 0; ew_gate_asks(gate, EW_FACT_START) && k < G_N_ELEMENTS(windows); k++)
    variance += check_window(gate, &windows[k], side_mean(a, n_a, &windows[k]),
                             side_mean(b, n_b, &windows[k]));
  gate->variance[EW_FACT_START] = variance; /* the windows are independent: not the widest alone */
}

gboolean ew_alike_began_outside(const ew_message *widening) {
  const struct ew_argument *what = ew_message_argument(widening, "what");
  return (ew_message_is(widening, &window_missed) || ew_message_is(widening, &window_one_side)) &&
         what && what->word != &rest;
}
