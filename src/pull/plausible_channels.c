/* What a reading can be while an engine works at full load. A figure outside is tried in the other units of its kind:
 * where one fits what is usual, it is named. The spans are wide on purpose; common practice, no source. */
#include "pull/plausible_kinds.h"
#include "pull/plausible_parts.h"
#include <math.h>
#include <string.h>

struct span {
  enum ew_channel channel;
  double low, high;             /* outside: doubted */
  double usual_low, usual_high; /* in another unit: so it was meant */
};

/* Inside units: K, Pa. Gauge readings of 0 (a dead sensor) are alarms' affair and not doubted. */
static const struct span spans[] = {
    {EW_CHANNEL_INLET_AIR_TEMPERATURE, 240, 338, 258, 323},
    {EW_CHANNEL_COOLANT_TEMPERATURE, 258, 400, 280, 390},
    {EW_CHANNEL_OIL_TEMPERATURE, 258, 443, 280, 425},
    {EW_CHANNEL_HEAD_TEMPERATURE, 258, 590, 330, 560},
    {EW_CHANNEL_FUEL_TEMPERATURE, 240, 370, 260, 340},
    {EW_CHANNEL_EXHAUST_TEMPERATURE, 330, 1430, 550, 1330},
    {EW_CHANNEL_ABSORBER_WATER_TEMPERATURE, 265, 380, 275, 370},
    {EW_CHANNEL_OIL_PRESSURE, -5e4, 1.5e6, 1e5, 1.0e6},
    {EW_CHANNEL_COOLANT_PRESSURE, -8e4, 5e5, -2e4, 3e5},
    {EW_CHANNEL_CRANKCASE_PRESSURE, -9.5e4, 1e5, -8e4, 2e4},
    {EW_CHANNEL_MANIFOLD_PRESSURE, 3e4, 8e5, 6e4, 4e5},
    {EW_CHANNEL_BAROMETER, 5.2e4, 1.12e5, 8.7e4, 1.085e5}, /* 5,200 m; usual: the sea's */
};
#define CHARGE_AIR_MOST_K  500 /* behind a compressor */
#define ASSUMED_AIR_MOST_K 316 /* 43 °C: a hot shop; above, 110 to 150 °F is the likelier */

/* What a figure of this kind is written in, by loggers. */
static const char *const *units_of(enum ew_kind kind) {
  static const char *const temperatures[] = {"degC", "degF", "K", NULL};
  static const char *const pressures[] = {"bar", "psi", "kPa", "mbar", NULL};
  static const char *const absolutes[] = {"hPa", "kPa", "inHg", "mmHg", "bar", NULL};
  return kind == EW_KIND_TEMPERATURE      ? temperatures
         : kind == EW_KIND_PRESSURE_GAUGE ? pressures
                                          : absolutes; /* of other kinds spans has no channel */
}

/* The one other unit in which the figure is usual; NULL when there is none, or several. */
static const char *meant_unit(const struct ew_series_channel *one, const struct span *span,
                              double inside, double *then) {
  const struct ew_channel_facts *facts = &ew_channel_facts[one->channel];
  struct ew_unit now;
  const char *found = NULL;
  if (!one->unit || !ew_unit_parse("", one->unit, facts->kind, &now, NULL))
    return NULL;
  double given = (inside - now.offset) / now.scale;
  for (const char *const *name = units_of(facts->kind); *name; name++) {
    struct ew_unit other;
    if (!ew_unit_parse("", *name, facts->kind, &other, NULL) || other.scale == now.scale)
      continue;
    double here = ew_to_inside(other, given);
    if (here >= span->usual_low && here <= span->usual_high) {
      if (found)
        return NULL;
      found = *name;
      *then = here;
    }
  }
  return found;
}

static int decimals_of(enum ew_kind kind) {
  return kind == EW_KIND_PRESSURE_GAUGE ? 1 : 0;
}

static ew_message *about(enum ew_channel channel, ew_message *message) {
  g_assert(channel < EW_CHANNELS_COUNT);
  return ew_message_about(message, ew_channel_facts[channel].key);
}

static ew_message *doubt_span(const struct ew_series_channel *one, const struct span *span,
                              double inside) {
  const struct ew_channel_facts *facts = &ew_channel_facts[span->channel];
  int decimals = decimals_of(facts->kind);
  double then = NAN;
  const char *other = meant_unit(one, span, inside, &then);
  struct ew_argument channel = ew_say_word("channel", ew_channel_word(span->channel));
  struct ew_argument reading = ew_say_quantity("reading", facts->kind, inside, decimals);
  struct ew_argument low = ew_say_quantity("low", facts->kind, span->low, decimals);
  struct ew_argument high = ew_say_quantity("high", facts->kind, span->high, decimals);
  if (!other)
    return about(span->channel, ew_message(&ew_doubt_reading, channel, reading, low, high));
  return about(span->channel, ew_message(&ew_doubt_other_unit, channel, reading, low, high,
                                         ew_say_quantity("then", facts->kind, then, decimals),
                                         ew_say_text("other", other)));
}

static void doubt_lambda(const struct ew_plausible *p, GPtrArray *doubts) {
  enum ew_channel banks[] = {EW_CHANNEL_LAMBDA, EW_CHANNEL_LAMBDA_2};
  double most = ew_plausible_diesel(p) ? 6 : 3;
  for (gsize i = 0; i < G_N_ELEMENTS(banks); i++) {
    double middle = ew_plausible_median(p, banks[i]);
    if (middle > most && middle < 30)
      ew_messages_add(doubts, about(banks[i], ew_message(&ew_doubt_ratio_as_lambda,
                                                         ew_say_figure("reading", middle, 2))));
    else if (middle > most || middle < 0.45)
      ew_messages_add(
          doubts,
          about(banks[i],
                ew_message(&ew_doubt_reading, ew_say_word("channel", ew_channel_word(banks[i])),
                           ew_say_figure("reading", middle, 2), ew_say_figure("low", 0.45, 2),
                           ew_say_figure("high", most, 1))));
  }
}

void ew_doubt_channels(const struct ew_plausible *p, GPtrArray *doubts) {
  if (!p->series || !p->curve)
    return;
  for (gsize i = 0; i < G_N_ELEMENTS(spans); i++) {
    struct span span = spans[i];
    const struct ew_series_channel *one = ew_series_find(p->series, span.channel, 0);
    double middle = ew_plausible_median(p, span.channel);
    if (one && span.channel == EW_CHANNEL_INLET_AIR_TEMPERATURE)
      span.high = ew_plausible_charged(p) ? CHARGE_AIR_MOST_K
                  : one->unit_assumed     ? ASSUMED_AIR_MOST_K
                                          : span.high;
    if (one && (middle < span.low || middle > span.high))
      ew_messages_add(doubts, doubt_span(one, &span, middle));
  }
  doubt_lambda(p, doubts);
}
