/* Readings against each other: what must agree because physics says so, whatever the engine. Power is torque times speed;
 * the heat of the fuel becomes work by a twelfth at least and by half at most; air is what the cylinders can hold; air over
 * fuel is lambda times the fuel's own ratio. Source of the relations: J. B. Heywood, Internal Combustion Engine
 * Fundamentals, chapter 2 (from memory); of the limits: common practice, no source. */
#include "base/statistics.h"
#include "gas/fuel.h"
#include "pull/plausible_kinds.h"
#include "pull/plausible_parts.h"
#include <math.h>
#include <string.h>

#define POWER_APART     0.12 /* PS for hp is 1.4 %, a corrected figure up to some per cent */
#define UNIT_APART      0.04
#define EFFICIENCY_LOW  0.06
#define EFFICIENCY_HIGH 0.55
#define FILLING_LOW     0.25
#define FILLING_HIGH    1.45
#define MIXTURE_APART   1.6
#define LAMBDA_APART    0.06
#define SPARK_APART_DEG 4.0

static void add(GPtrArray *doubts, const char *about, ew_message *doubt) {
  ew_messages_add(doubts, ew_message_about(doubt, about));
}

/* Median of recorded power over torque times speed, sample by sample. */
static double power_ratio(const struct ew_plausible *p) {
  const double *power = ew_series_values(p->series, EW_CHANNEL_POWER);
  const double *torque = ew_series_values(p->series, EW_CHANNEL_TORQUE);
  const double *speed = ew_series_values(p->series, EW_CHANNEL_SPEED);
  if (!power || !torque || !speed)
    return NAN;
  gsize first = p->segment->count_first, last = p->segment->count_last, count = 0, absent;
  gsize step = MAX((last - first) / 2000, 1);
  g_autofree double *ratios = g_new(double, (last - first) / step + 1);
  for (gsize i = first; i < last; i += step)
    ratios[count++] = power[i] / (torque[i] * speed[i] * G_PI / 30);
  return ew_median(ratios, count, &absent);
}

static gboolean is_near(double ratio, double want, double apart) {
  return fabs(ratio / want - 1) < apart;
}

/* Which unit of one of the two makes them agree: only one whose unit nobody gave, or both. */
static ew_message *explain_power(const struct ew_plausible *p, double ratio) {
  static const struct {
    double ratio;
    enum ew_channel channel;
    const char *other;
  } known[] = {
      /* read as N·m and kW, written in lb-ft and hp: 9549 / 5252 */
      {9549.2966 / 5252.1131, EW_CHANNEL_TORQUE, "lb-ft"},
      {1 / 1.3558179, EW_CHANNEL_TORQUE, "N·m"}, /* read as lb-ft */
      {1.3558179, EW_CHANNEL_TORQUE, "lb-ft"},   /* read as N·m */
      {1.3410221, EW_CHANNEL_POWER, "hp"},       /* read as kW */
      {0.7456999, EW_CHANNEL_POWER, "kW"},       /* read as hp */
  };
  for (gsize i = 0; i < G_N_ELEMENTS(known); i++) {
    const struct ew_series_channel *one = ew_series_find(p->series, known[i].channel, 0);
    if (one && one->unit_assumed && is_near(ratio, known[i].ratio, UNIT_APART) &&
        g_strcmp0(one->unit, known[i].other) != 0)
      return ew_message_about(ew_message(&ew_doubt_power_units, ew_say_figure("ratio", ratio, 3),
                                         ew_say_word("channel", ew_channel_word(known[i].channel)),
                                         ew_say_text("other", known[i].other)),
                              ew_channel_facts[known[i].channel].key);
  }
  return ew_message_about(ew_message(&ew_doubt_power, ew_say_figure("ratio", ratio, 3)), "power");
}

/* Power that was recorded corrected agrees after the factor. */
static void doubt_power(const struct ew_plausible *p, GPtrArray *doubts) {
  double ratio = power_ratio(p);
  if (!isnan(ratio) && !is_near(ratio, 1, POWER_APART) &&
      !is_near(ratio, p->curve->factor.factor, POWER_APART))
    ew_messages_add(doubts, explain_power(p, ratio));
}

static const struct ew_fuel *fuel_of(const struct ew_plausible *p) {
  return ew_fuel_find(p->setup && p->setup->fuel ? p->setup->fuel
                      : p->engine                ? p->engine->fuel
                                                 : NULL);
}

/* Median of a column of the curve; NaN without. */
static double column_median(const struct ew_curve *curve, const char *key) {
  const struct ew_curve_column *column = ew_curve_column(curve, key, 0);
  gsize absent;
  return column ? ew_median(column->values, curve->points, &absent) : (double)NAN;
}

/* Work per heat; nitro burns with its own oxygen and is left alone. */
static void doubt_fuel_flow(const struct ew_plausible *p, GPtrArray *doubts) {
  const struct ew_fuel *fuel = fuel_of(p);
  double heat = fuel && strcmp(fuel->name, "nitromethane") ? fuel->lower_heating_value_j_kg : NAN;
  double share = 1 / (column_median(p->curve, "bsfc") * heat);
  if (share < EFFICIENCY_LOW || share > EFFICIENCY_HIGH)
    add(doubts, "fuel_flow",
        ew_message(&ew_doubt_fuel_flow, ew_say_share("share", share, 0),
                   ew_say_share("low", EFFICIENCY_LOW, 0),
                   ew_say_share("high", EFFICIENCY_HIGH, 0)));
}

static void doubt_air_flow(const struct ew_plausible *p, GPtrArray *doubts) {
  double share = column_median(p->curve, "ve");
  double high = FILLING_HIGH * (ew_plausible_charged(p) ? 5 : 1);
  if (share < FILLING_LOW || share > high)
    add(doubts, "air_flow",
        ew_message(&ew_doubt_air_flow, ew_say_share("share", share, 0),
                   ew_say_share("low", FILLING_LOW, 0), ew_say_share("high", high, 0)));
}

static void doubt_mixture(const struct ew_plausible *p, GPtrArray *doubts) {
  const struct ew_fuel *fuel = fuel_of(p);
  double air = ew_plausible_median(p, EW_CHANNEL_AIR_FLOW);
  double burnt = ew_plausible_median(p, EW_CHANNEL_FUEL_FLOW) *
                 ew_plausible_median(p, EW_CHANNEL_LAMBDA) *
                 (fuel ? fuel->stoichiometric_ratio : (double)NAN);
  double ratio = air / burnt;
  if (ratio > MIXTURE_APART || ratio < 1 / MIXTURE_APART)
    add(doubts, "fuel", ew_message(&ew_doubt_mixture, ew_say_figure("ratio", ratio, 2)));
}

/* Both recorded: their ratio is the fuel's that the instrument was set to, which a profile may name. */
static void doubt_ratio(const struct ew_plausible *p, GPtrArray *doubts) {
  const struct ew_fuel *fuel = fuel_of(p);
  double ratio =
      ew_plausible_median(p, EW_CHANNEL_AIR_FUEL_RATIO) / ew_plausible_median(p, EW_CHANNEL_LAMBDA);
  double said = !isnan(p->series->ratio_scale) ? p->series->ratio_scale
                : fuel                         ? fuel->stoichiometric_ratio
                                               : (double)NAN;
  if (fuel && !isnan(ratio) && !isnan(said) && !is_near(ratio, said, LAMBDA_APART))
    add(doubts, "fuel",
        ew_message(&ew_doubt_lambda_ratio, ew_say_figure("ratio", ratio, 2),
                   ew_say_text("fuel", fuel->name), ew_say_figure("stoichiometric", said, 2)));
}

/* A geared absorber has a ratio of its own; a pulse too many or too few makes a whole one. */
static void doubt_second_speed(const struct ew_plausible *p, GPtrArray *doubts) {
  static const double slips[] = {0.5, 2, 0.1, 10, 0.25, 4};
  double ratio =
      ew_plausible_median(p, EW_CHANNEL_SPEED_2) / ew_plausible_median(p, EW_CHANNEL_SPEED);
  for (gsize i = 0; i < G_N_ELEMENTS(slips); i++)
    if (is_near(ratio, slips[i], 0.01))
      add(doubts, "speed", ew_message(&ew_doubt_second_speed, ew_say_figure("ratio", ratio, 3)));
}

/* One figure told for all speeds: it is held to the recorded one only where that stands still too. */
static void doubt_spark(const struct ew_plausible *p, GPtrArray *doubts) {
  double low = ew_plausible_quantile(p, EW_CHANNEL_SPARK, 0.1);
  double high = ew_plausible_quantile(p, EW_CHANNEL_SPARK, 0.9);
  double middle = (low + high) / 2, told = p->setup ? p->setup->spark_deg : (double)NAN;
  if (high - low < 1 && fabs(middle - told) > SPARK_APART_DEG)
    add(doubts, "spark",
        ew_message(&ew_doubt_spark, ew_say_quantity("recorded", EW_KIND_ANGLE, middle, 1),
                   ew_say_quantity("told", EW_KIND_ANGLE, told, 1)));
}

void ew_doubt_balance(const struct ew_plausible *p, GPtrArray *doubts) {
  if (!p->curve)
    return;
  doubt_fuel_flow(p, doubts);
  doubt_air_flow(p, doubts);
  if (!p->series)
    return;
  doubt_power(p, doubts);
  doubt_mixture(p, doubts);
  doubt_ratio(p, doubts);
  doubt_second_speed(p, doubts);
  doubt_spark(p, doubts);
}
