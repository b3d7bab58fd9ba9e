/* The best stands where the slope b1 of the fitted curve is 0. One pull that reads a little more moves b1 by its row of the
 * least-squares solution, (X'X)^-1 x, and the best by that over twice the bend: the first derivative of the answer, exact but for
 * the lent rows, which go with the best (docs/methods.md, "Timing and mixture"). */
#include "judge/sweep_behind.h"
#include "judge/next.h"
#include <math.h>

#define MINUTES_A_PULL 3.5 /* common practice, no source */
#define ONE_PER_CENT   0.01

EW_MESSAGE(
    assumed_spark, "judge.sweep-assumed-spark", EW_NOTE,
    "assumed of the curve until the pulls say otherwise: it loses {loss} (± {spread}) at {shift} "
    "from its best, and leans to one side by about {lean} of that");
EW_MESSAGE(
    assumed_mixture, "judge.sweep-assumed-mixture", EW_NOTE,
    "assumed of the curve until the pulls say otherwise: it loses {loss} (± {spread}) at lambda "
    "{shift} from its best, and leans to one side by about {lean} of that");
EW_MESSAGE(
    assumed_drift, "judge.sweep-assumed-drift", EW_NOTE,
    "assumed of the day: it drifts by 0 ± {drift} a pull, since the first setting did not come "
    "back last");
EW_MESSAGE(fitted_drift, "judge.sweep-fitted-drift", EW_NOTE,
           "drift of {drift} a pull was fitted and taken off");
EW_MESSAGE(assumed_scatter, "judge.sweep-assumed-scatter", EW_NOTE,
           "one pull scatters by {sd}, from this cell's earlier pulls and from these");
EW_MESSAGE(
    not_taken_out, "judge.sweep-conditions", EW_NOTE,
    "what oil, inlet air, coolant and humidity do is not taken out of a sweep: hold them, or "
    "repeat the first setting last, which takes out what moves evenly");

void ew_sweep_weigh(struct ew_sweep *s, const struct ew_fit *fit, double centre,
                    const struct ew_sweep_pull *pulls, gsize n) {
  gsize terms = fit->terms;
  double middle = 0, variance = fit->residual_sd * fit->residual_sd;
  g_assert(terms == 5 && s->pulls == n);
  s->pull_moves = g_new(double, n);
  for (gsize i = 0; i < n; i++)
    middle += pulls[i].position / (double)n;
  for (gsize i = 0; i < n; i++) {
    double u = pulls[i].setting - centre, slope = 0;
    const double row[] = {1, u, u * u, u * u * u, pulls[i].position - middle};
    for (gsize j = 0; j < terms; j++)
      slope += fit->covariance[terms + j] * row[j] / variance;
    gboolean told = s->bracketed && variance > 0 && s->curvature > 0;
    s->pull_moves[i] = told ? ONE_PER_CENT * slope / (2 * s->curvature) : (double)NAN;
  }
}

void ew_sweep_cost(struct ew_sweep *s, const struct ew_sweep_options *o) {
  double pulls = s->narrow_pulls > 0 ? s->narrow_pulls : (double)NAN;
  s->cost_minutes = pulls * (o->minutes_a_pull > 0 ? o->minutes_a_pull : MINUTES_A_PULL);
  s->cost_litres = o->litres_a_pull > 0 ? pulls * o->litres_a_pull : (double)NAN;
  s->cost_seconds_high = o->seconds_high_a_pull > 0 ? pulls * o->seconds_high_a_pull : (double)NAN;
  ew_next_say_cost(s->cost_minutes, s->cost_litres, s->cost_seconds_high, s->costs);
}

void ew_sweep_assume(struct ew_sweep *s, const struct ew_sweep_options *o,
                     const struct ew_sweep_lent *lent) {
  double loss = lent->curvature * lent->shift * lent->shift;
  gboolean spark = o->setting == EW_SWEEP_SPARK;
  struct ew_argument shift = spark ? ew_say_quantity("shift", EW_KIND_ANGLE, lent->shift, 0)
                                   : ew_say_figure("shift", lent->shift, 2);
  ew_messages_add(s->assumed, ew_message(spark ? &assumed_spark : &assumed_mixture,
                                         ew_say_share("loss", loss, 1),
                                         ew_say_share("spread", loss * lent->curvature_share, 1),
                                         shift, ew_say_share("lean", lent->lean_share, 0)));
  ew_messages_add(s->assumed,
                  o->fit_drift
                      ? ew_message(&fitted_drift, ew_say_share_change("drift", s->slope, 2))
                      : ew_message(&assumed_drift, ew_say_share("drift", lent->drift_sd, 2)));
  ew_messages_add(s->assumed, ew_message(&assumed_scatter, ew_say_share("sd", s->sd, 2)));
  ew_messages_add(s->assumed, ew_message_plain(&not_taken_out));
}
