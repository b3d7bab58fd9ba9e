/* The pull against the engine and the cell as their records say. Sources: BMEP and mean piston speed of engines built,
 * J. B. Heywood, Internal Combustion Engine Fundamentals, chapters 2 and 15, C. F. Taylor, The Internal-Combustion Engine, and
 * the racing engines of the SAE papers (all from memory): the limits lie beyond the highest known to us. Other limits: common
 * practice, no source. */
#include "pull/plausible_kinds.h"
#include "pull/plausible_parts.h"
#include <math.h>
#include <string.h>

#define BMEP_NATURAL_PA    1.75e6 /* four-stroke: racing engines reach 1.55 MPa */
#define BMEP_TWO_STROKE_PA 1.5e6
#define BMEP_CHARGED_PA    8e6
#define BMEP_LEAST_PA      2.0e5
#define PISTON_SPEED_M_S   31.0
#define LIMIT_SHARE        1.3
#define EXPECTED_APART     1.6
#define PLATE_SHARE        1.3
#define INERTIA_SHARE      0.3
#define INERTIA_SHARE_HIGH 0.1 /* absorbers at 300 to 600 rpm/s: 2 to 8 % ... */
#define INERTIA_PER_ENGINE                                                                         \
  0.003 /* ... beside kg·m2 a N·m of the engine: a large brake on a small engine has 0.002 */
#define INERTIA_PER_TORQUE                                                                         \
  0.004 /* kg·m2 for each N·m of the plate: eddy-current rotors have 0.001 */
#define FLYWHEEL_SHARE 0.9
#define STANDSTILL_RPM 30.0
#define ZERO_SHARE     0.03

static void add(GPtrArray *doubts, const char *about, ew_message *doubt) {
  ew_messages_add(doubts, ew_message_about(doubt, about));
}

/* Largest of n figures, and where; NaN of none. */
static double largest(const double *x, gsize n, gsize *where) {
  double most = NAN;
  for (gsize i = 0; i < n; i++)
    if (!(x[i] <= most) && !isnan(x[i])) {
      most = x[i];
      *where = i;
    }
  return most;
}

static double most_bmep_pa(const struct ew_plausible *p) {
  return ew_plausible_charged(p) || ew_plausible_diesel(p) ? BMEP_CHARGED_PA
         : ew_engine_cycles_per_turn(p->engine) > 0.75     ? BMEP_TWO_STROKE_PA
                                                           : BMEP_NATURAL_PA;
}

static void doubt_bmep(const struct ew_plausible *p, GPtrArray *doubts) {
  const struct ew_curve *c = p->curve;
  double swept = ew_engine_displacement_m3(p->engine) * ew_engine_cycles_per_turn(p->engine);
  gsize at = 0;
  double bmep = 2 * G_PI * largest(c->observed_n_m, c->points, &at) / swept, most = most_bmep_pa(p);
  struct ew_argument says = ew_say_quantity("bmep", EW_KIND_MEAN_EFFECTIVE_PRESSURE, bmep, 1);
  if (bmep > most)
    add(doubts, "torque",
        ew_message(&ew_doubt_bmep_high, says,
                   ew_say_quantity("speed", EW_KIND_ROTATIONAL_SPEED, c->speed_rpm[at], 0),
                   ew_say_quantity("most", EW_KIND_MEAN_EFFECTIVE_PRESSURE, most, 1)));
  else if (bmep < BMEP_LEAST_PA)
    add(doubts, "torque",
        ew_message(&ew_doubt_bmep_low, says,
                   ew_say_quantity("least", EW_KIND_MEAN_EFFECTIVE_PRESSURE, BMEP_LEAST_PA, 1)));
}

static void doubt_speed(const struct ew_plausible *p, GPtrArray *doubts) {
  const struct ew_curve *c = p->curve;
  const struct ew_message_kind *which;
  double limit = ew_engine_lowest_limit_rpm(p->engine, &which),
         agreed = p->engine->agreed_limit_rpm;
  double piston = 2 * p->engine->stroke_m * c->high_rpm / 60;
  struct ew_argument top = ew_say_quantity("speed", EW_KIND_ROTATIONAL_SPEED, c->high_rpm, 0);
  limit = isnan(limit) ? agreed : fmax(limit, isnan(agreed) ? 0 : agreed);
  if (piston > PISTON_SPEED_M_S)
    add(doubts, "speed",
        ew_message(&ew_doubt_piston_speed, top,
                   ew_say_quantity("piston", EW_KIND_SPEED, piston, 0)));
  else if (c->high_rpm > LIMIT_SHARE * limit)
    add(doubts, "speed",
        ew_message(&ew_doubt_speed_limit, top,
                   ew_say_quantity("limit", EW_KIND_ROTATIONAL_SPEED, limit, 0)));
}

static void doubt_expected(const struct ew_plausible *p, const char *about, enum ew_channel channel,
                           double most, double expected, GPtrArray *doubts) {
  double ratio = most / expected;
  if (ratio > EXPECTED_APART || ratio < 1 / EXPECTED_APART)
    add(doubts, about,
        ew_message(&ew_doubt_expected, ew_say_word("channel", ew_channel_word(channel)),
                   ew_say_figure("ratio", ratio, 2)));
  (void)p;
}

/* Only where the pull went to the speed at which the figure is expected. */
static void doubt_expectation(const struct ew_plausible *p, GPtrArray *doubts) {
  const struct ew_engine_breathing *b = &p->engine->breathing;
  const struct ew_curve *c = p->curve;
  gsize at = 0;
  if (c->high_rpm >= b->torque_speed_rpm && c->low_rpm <= b->torque_speed_rpm)
    doubt_expected(p, "torque", EW_CHANNEL_TORQUE, largest(c->torque_n_m, c->points, &at),
                   b->expected_torque_n_m, doubts);
  if (c->high_rpm >= b->power_speed_rpm && c->low_rpm <= b->power_speed_rpm)
    doubt_expected(p, "power", EW_CHANNEL_POWER, largest(c->power_w, c->points, &at),
                   b->expected_power_w, doubts);
}

static void doubt_plate(const struct ew_plausible *p, GPtrArray *doubts) {
  const struct ew_curve *c = p->curve;
  gsize at = 0;
  const struct {
    enum ew_channel channel;
    double reading, plate;
  } rows[] = {
      {EW_CHANNEL_TORQUE, largest(c->observed_n_m, c->points, &at), p->bench->largest_torque_n_m},
      {EW_CHANNEL_SPEED, c->high_rpm, p->bench->largest_speed_rpm},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    enum ew_kind kind = ew_channel_facts[rows[i].channel].kind;
    if (rows[i].reading > PLATE_SHARE * rows[i].plate)
      add(doubts, ew_channel_facts[rows[i].channel].key,
          ew_message(&ew_doubt_absorber, ew_say_word("channel", ew_channel_word(rows[i].channel)),
                     ew_say_quantity("reading", kind, rows[i].reading, 0),
                     ew_say_quantity("plate", kind, rows[i].plate, 0)));
  }
}

/* Is what spins a large part of the torque, or very large for the engine or the plate? */
static const struct ew_message_kind *inertia_doubt(const struct ew_bench *bench,
                                                   const struct ew_curve *c, double *share) {
  gsize at = 0;
  double most = largest(c->observed_n_m, c->points, &at), plate = bench->largest_torque_n_m;
  double rotor = bench->rotor_inertia_kg_m2;
  *share = c->points ? c->inertia_n_m[at] / most : (double)NAN;
  gboolean heavy = *share > INERTIA_SHARE_HIGH && rotor > INERTIA_PER_ENGINE * most;
  if ((*share > INERTIA_SHARE || heavy) && *share < FLYWHEEL_SHARE)
    return &ew_doubt_inertia_share;
  return rotor > INERTIA_PER_TORQUE * plate ? &ew_doubt_inertia_large : NULL;
}

/* Also where neither is stated. */
static gboolean is_same(double a, double b) {
  return a == b || (isnan(a) && isnan(b));
}

/* Has the last pull, which counts, the same inertias, and would it be asked about too? Then somebody has said that they are right. */
static gboolean was_taken(const struct ew_plausible *p) {
  const struct ew_bench *now = p->bench, *then = p->bench_before;
  double share;
  return p->before && then && is_same(now->rotor_inertia_kg_m2, then->rotor_inertia_kg_m2) &&
         is_same(now->coupling_inertia_kg_m2, then->coupling_inertia_kg_m2) &&
         inertia_doubt(then, p->before, &share);
}

gboolean ew_same_inertia(double one, double other) {
  return fabs(one - other) <= 1e-9 * fabs(other);
}

gboolean ew_inertia_is_right(const struct ew_plausible *p, const struct ew_bench *bench) {
  double rotor = bench->rotor_inertia_kg_m2, coupling = bench->coupling_inertia_kg_m2;
  double sum = isnan(rotor) ? coupling : isnan(coupling) ? rotor : rotor + coupling;
  return ew_same_inertia(p->right_inertia_kg_m2, sum);
}

/* Of an absorber: where nearly all is inertia, it is a flywheel dyno and this is its way. */
static void doubt_inertia(const struct ew_plausible *p, GPtrArray *doubts) {
  double share;
  const struct ew_message_kind *doubt = inertia_doubt(p->bench, p->curve, &share);
  if (!doubt || was_taken(p) || ew_inertia_is_right(p, p->bench))
    return;
  add(doubts, "cell",
      doubt == &ew_doubt_inertia_share
          ? ew_message(doubt, ew_say_share("share", share, 0))
          : ew_message(
                doubt,
                ew_say_quantity("inertia", EW_KIND_INERTIA, p->bench->rotor_inertia_kg_m2, 3),
                ew_say_quantity("plate", EW_KIND_TORQUE, p->bench->largest_torque_n_m, 0)));
}

/* Samples of a shaft that stands still, before or after the pull. */
static void doubt_zero(const struct ew_plausible *p, GPtrArray *doubts) {
  const double *speed = ew_series_values(p->series, EW_CHANNEL_SPEED);
  const double *torque = ew_series_values(p->series, EW_CHANNEL_TORQUE);
  double sum = 0, count = 0;
  gsize at = 0;
  for (gsize i = 0; speed && torque && i < p->series->rows; i++)
    if (fabs(speed[i]) < STANDSTILL_RPM && !isnan(torque[i])) {
      sum += torque[i];
      count++;
    }
  double zero = sum / count; /* of none: NaN */
  if (count >= 20 &&
      fabs(zero) > ZERO_SHARE * largest(p->curve->observed_n_m, p->curve->points, &at))
    add(doubts, "torque",
        ew_message(&ew_doubt_torque_zero, ew_say_quantity("torque", EW_KIND_TORQUE, zero, 1)));
}

/* With a pull found or without: is torque negative where the throttle is wide open? */
static void doubt_sign(const struct ew_plausible *p, GPtrArray *doubts) {
  const double *torque = ew_series_values(p->series, EW_CHANNEL_TORQUE);
  const double *throttle = ew_series_values(p->series, EW_CHANNEL_THROTTLE);
  gsize below = 0, above = 0;
  for (gsize i = 0; torque && throttle && i < p->series->rows; i++)
    if (throttle[i] > 0.8) {
      below += torque[i] < 0;
      above += torque[i] > 0;
    }
  if (below > 20 && below > 9 * above)
    add(doubts, "torque", ew_message_plain(&ew_doubt_torque_sign));
}

/* A sign that is wrong moves all the rest. */
void ew_doubt_engine(const struct ew_plausible *p, GPtrArray *doubts) {
  guint before = doubts->len;
  if (p->series)
    doubt_sign(p, doubts);
  if (!p->curve || doubts->len > before)
    return;
  if (p->engine) {
    doubt_bmep(p, doubts);
    doubt_speed(p, doubts);
    doubt_expectation(p, doubts);
  }
  if (p->bench) {
    doubt_plate(p, doubts);
    doubt_inertia(p, doubts);
  }
  if (p->series)
    doubt_zero(p, doubts);
}
