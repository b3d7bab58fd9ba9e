/* The pull against the one before of the same engine: what a fact that was told wrongly changes at once, and an honest
 * change of the engine hardly ever does. Whoever fits another camshaft and finds a third more torque answers once. Limits:
 * common practice, no source. */
#include "base/elementary.h"
#include "base/statistics.h"
#include "pull/plausible_kinds.h"
#include "pull/plausible_parts.h"
#include <math.h>

#define TORQUE_APART   1.22 /* of the median over the common speeds */
#define UNIT_APART     0.045
#define SPEED_APART    0.03
#define INERTIA_APART  1.3
#define ARM_APART      1.02
#define SPARK_STEP_DEG 12.0
#define SHORTER        0.85

static void add(GPtrArray *doubts, const char *about, ew_message *doubt) {
  ew_messages_add(doubts, ew_message_about(doubt, about));
}

/* Median ratio of observed torques at the speeds that both curves have; NaN of fewer than five. Observed: the weather of
 * one may be what is wrong, and is at most some per cent. */
static double torque_ratio(const struct ew_curve *now, const struct ew_curve *before) {
  g_autofree double *ratios = g_new(double, now->points + 1);
  gsize count = 0, absent;
  for (gsize j = 0; j < now->points; j++) {
    double then = ew_curve_at(before, before->observed_n_m, now->speed_rpm[j]);
    if (then > 0 && !isnan(now->observed_n_m[j]))
      ratios[count++] = now->observed_n_m[j] / then;
  }
  return count < 5 ? (double)NAN : ew_median(ratios, count, &absent);
}

/* A pull's own ambient air moves torque: at another height both are corrected, or neither is looked at. */
static double air_ratio(const struct ew_curve *now, const struct ew_curve *before) {
  double ratio = before->conditions.pressure_pa / now->conditions.pressure_pa;
  return isnan(ratio) ? 1 : ratio;
}

static void doubt_torque(const struct ew_plausible *p, GPtrArray *doubts) {
  double ratio = torque_ratio(p->curve, p->before) * air_ratio(p->curve, p->before);
  struct ew_argument says = ew_say_figure("ratio", ratio, 3);
  if (!(ratio > TORQUE_APART || ratio < 1 / TORQUE_APART))
    return;
  gboolean as_nm = fabs(ratio * 1.3558179 - 1) < UNIT_APART; /* lb-ft read as N·m */
  gboolean as_lbft = fabs(ratio / 1.3558179 - 1) < UNIT_APART;
  if (as_nm || as_lbft)
    add(doubts, "torque",
        ew_message(&ew_doubt_torque_unit, says, ew_say_text("unit", as_nm ? "N·m" : "lb-ft"),
                   ew_say_text("other", as_nm ? "lb-ft" : "N·m")));
  else
    add(doubts, "torque", ew_message(&ew_doubt_torque_before, says));
}

/* Both ends of the pull at a half, twice, a tenth or ten times what they were. */
static void doubt_speeds(const struct ew_plausible *p, GPtrArray *doubts) {
  static const double slips[] = {0.5, 2, 0.1, 10, 0.25, 4};
  double low = p->curve->low_rpm / p->before->low_rpm;
  double high = p->curve->high_rpm / p->before->high_rpm;
  for (gsize i = 0; i < G_N_ELEMENTS(slips); i++)
    if (fabs(high / slips[i] - 1) < SPEED_APART && fabs(low / slips[i] - 1) < 4 * SPEED_APART)
      add(doubts, "speed", ew_message(&ew_doubt_speed_before, ew_say_figure("ratio", high, 2)));
}

static gboolean apart(double one, double other, double limit) {
  double ratio = one / other;
  return ratio > limit || ratio < 1 / limit;
}

EW_MESSAGE(word_rotor, "pull.word-rotor-inertia", EW_NOTE, "the rotor's inertia");
EW_MESSAGE(word_coupling, "pull.word-coupling-inertia", EW_NOTE, "the coupling's inertia");
EW_MESSAGE(word_arm, "pull.word-arm", EW_NOTE, "the arm");

static void doubt_cell(const struct ew_plausible *p, GPtrArray *doubts) {
  const struct ew_bench *now = p->bench, *then = p->bench_before;
  const struct {
    const struct ew_message_kind *what;
    enum ew_kind kind;
    double before, after, limit;
    int decimals;
  } rows[] = {
      {&word_rotor, EW_KIND_INERTIA, then->rotor_inertia_kg_m2, now->rotor_inertia_kg_m2,
       INERTIA_APART, 4},
      {&word_coupling, EW_KIND_INERTIA, then->coupling_inertia_kg_m2, now->coupling_inertia_kg_m2,
       2 * INERTIA_APART, 4},
      {&word_arm, EW_KIND_LENGTH, then->arm_m, now->arm_m, ARM_APART, 1},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++)
    if (apart(rows[i].after, rows[i].before, rows[i].limit) &&
        (rows[i].kind != EW_KIND_INERTIA || !ew_inertia_is_right(p, now)))
      add(doubts, "cell",
          ew_message(&ew_doubt_cell_changed, ew_say_word("what", rows[i].what),
                     ew_say_quantity("before", rows[i].kind, rows[i].before, rows[i].decimals),
                     ew_say_quantity("after", rows[i].kind, rows[i].after, rows[i].decimals)));
}

static void doubt_spark_step(const struct ew_plausible *p, GPtrArray *doubts) {
  double now = p->setup->spark_deg, then = p->setup_before->spark_deg;
  if (fabs(now - then) > SPARK_STEP_DEG)
    add(doubts, "spark",
        ew_message(&ew_doubt_spark_step, ew_say_quantity("before", EW_KIND_ANGLE, then, 1),
                   ew_say_quantity("after", EW_KIND_ANGLE, now, 1)));
}

/* A file that was pasted or copied half: full load to its very last row, well below where the last pull went. */
static void doubt_cut_off(const struct ew_plausible *p, GPtrArray *doubts) {
  const struct ew_curve *now = p->curve;
  if (now->kind == EW_SEGMENT_SWEEP && p->segment->last == p->series->rows &&
      now->high_rpm < SHORTER * p->before->high_rpm)
    add(doubts, "recording",
        ew_message(&ew_doubt_cut_off,
                   ew_say_quantity("speed", EW_KIND_ROTATIONAL_SPEED, now->high_rpm, 0),
                   ew_say_quantity("before", EW_KIND_ROTATIONAL_SPEED, p->before->high_rpm, 0)));
}

void ew_doubt_before(const struct ew_plausible *p, GPtrArray *doubts) {
  if (p->curve && p->before && doubts->len == 0) { /* what is doubted already moves these too */
    doubt_speeds(p, doubts);
    if (doubts->len == 0)
      doubt_torque(p, doubts);
  }
  if (p->curve && p->bench && p->bench_before)
    doubt_cell(p, doubts);
  if (p->curve && p->setup && p->setup_before)
    doubt_spark_step(p, doubts);
  if (p->curve && p->before && p->series)
    doubt_cut_off(p, doubts);
}
