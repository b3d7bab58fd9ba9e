/* The weather as it was told. Sources: the standard atmosphere of ISO 2533 for what a height makes of the pressure; the
 * lowest and highest sea-level pressures ever read, 870 and 1085 hPa (World Meteorological Organization, archive of weather
 * extremes, from memory); a pressure that changes by more than 6 hPa in 3 hours changes "very rapidly" (Met Office, marine
 * forecast glossary, from memory): half as much again is believed here. Other limits: common practice, no source. */
#include "gas/moist_air.h"
#include "gas/standard_atmosphere.h"
#include "pull/plausible_kinds.h"
#include "pull/plausible_parts.h"
#include <math.h>
#include <string.h>

#define SPAN_SHARE     0.05  /* of the pressure usual at a height: weather's reach, in one place */
#define HIGH_UP_PA     80000 /* about 1,950 m: asked once */
#define HIGHEST_PA     52000 /* below, no unit makes it a place to work in (plausible_channels.c) */
#define AT_ONCE_PA     400   /* two barometers, or one read by two people */
#define FASTEST_PA_S   (900.0 / 10800)
#define CHANGE_MOST_PA 5000
#define WITHIN_PULL_PA 500
#define LEAST_HUMIDITY 0.02
#define MANIFOLD_LEAST 0.8 /* of the air, wide open and without a restrictor */
#define AIR_LOW_K      238
#define AIR_HIGH_K     330

/* What a doubt is about: the fact, or the recorded channel that it comes from, which must be left out to be amended. */
static const char *of_channel(const struct ew_plausible *p, const char *from, const char *fact,
                              const enum ew_channel *channels, gsize count) {
  for (gsize i = 0; i < count; i++)
    if (strcmp(from, "channel") == 0 && p->series && ew_series_find(p->series, channels[i], 0)) {
      g_autofree char *about =
          g_strconcat(EW_DOUBT_RECORDED, ew_channel_facts[channels[i]].key, NULL);
      return g_intern_string(about); /* one of five */
    }
  return fact;
}

static const char *of_pressure(const struct ew_plausible *p) {
  static const enum ew_channel channels[] = {EW_CHANNEL_BAROMETER};
  return of_channel(p, p->curve->conditions.pressure_from, "pressure", channels, 1);
}

/* In the order in which reducing takes them. */
static const char *of_humidity(const struct ew_plausible *p) {
  static const enum ew_channel channels[] = {EW_CHANNEL_VAPOUR_PRESSURE, EW_CHANNEL_DEW_POINT,
                                             EW_CHANNEL_HUMIDITY, EW_CHANNEL_WET_BULB};
  return of_channel(p, p->curve->conditions.humidity_from, "humidity", channels,
                    G_N_ELEMENTS(channels));
}

static void add(GPtrArray *doubts, const char *about, ew_message *doubt) {
  ew_messages_add(doubts, ew_message_about(doubt, about));
}

/* By the elevation in the cell's file; without one a pressure of the mountains is asked about once: 742 is as likely of mercury. */
static void doubt_height(const struct ew_plausible *p, GPtrArray *doubts) {
  const struct ew_conditions *c = &p->curve->conditions;
  double height = p->bench ? p->bench->elevation_m : (double)NAN;
  struct ew_argument read =
      ew_say_quantity("pressure", EW_KIND_PRESSURE_ABSOLUTE, c->pressure_pa, 0);
  if (!isnan(height)) {
    double usual = ew_standard_pressure_pa(ew_geopotential_height_m(height));
    if (fabs(c->pressure_pa - usual) > SPAN_SHARE * usual)
      add(doubts, of_pressure(p),
          ew_message(&ew_doubt_pressure_span, read,
                     ew_say_quantity("expected", EW_KIND_PRESSURE_ABSOLUTE, usual, 0)));
  } else if (c->pressure_pa < HIGH_UP_PA && c->pressure_pa > HIGHEST_PA &&
             isnan(p->known_pressure_pa))
    add(doubts, of_pressure(p),
        ew_message(
            &ew_doubt_pressure_high_up, read,
            ew_say_quantity("height", EW_KIND_LENGTH, ew_standard_height_m(c->pressure_pa), 0)));
}

static void doubt_jump(const struct ew_plausible *p, GPtrArray *doubts) {
  double here = p->curve->conditions.pressure_pa, change = here - p->known_pressure_pa;
  double most = fmin(AT_ONCE_PA + FASTEST_PA_S * fabs(p->known_pressure_age_s), CHANGE_MOST_PA);
  if (fabs(change) > most)
    add(doubts, of_pressure(p),
        ew_message(&ew_doubt_pressure_jump,
                   ew_say_quantity("pressure", EW_KIND_PRESSURE_ABSOLUTE, here, 0),
                   ew_say_change("change", EW_KIND_PRESSURE_ABSOLUTE, change, 0),
                   ew_say_quantity("age", EW_KIND_TIME, fabs(p->known_pressure_age_s), 0)));
}

/* Nine tenths of its readings within the pull: noise and a single spike are no movement. */
static void doubt_moves(const struct ew_plausible *p, GPtrArray *doubts) {
  double low = ew_plausible_quantile(p, EW_CHANNEL_BAROMETER, 0.05);
  double high = ew_plausible_quantile(p, EW_CHANNEL_BAROMETER, 0.95);
  if (high - low > WITHIN_PULL_PA)
    add(doubts, of_pressure(p),
        ew_message(&ew_doubt_pressure_moves,
                   ew_say_quantity("change", EW_KIND_PRESSURE_ABSOLUTE, high - low, 0)));
}

/* Full throttle of an engine without a compressor: the manifold is near the air. A restrictor is not news when the pull
 * before had it too. */
static void doubt_manifold(const struct ew_plausible *p, GPtrArray *doubts) {
  const struct ew_conditions *c = &p->curve->conditions;
  double manifold = ew_plausible_median(p, EW_CHANNEL_MANIFOLD_PRESSURE);
  if (p->before || ew_plausible_charged(p) || strcmp(c->pressure_from, "channel") == 0 ||
      !(c->throttle_known && c->full_throttle) || !(manifold < MANIFOLD_LEAST * c->pressure_pa))
    return;
  add(doubts, of_pressure(p),
      ew_message(&ew_doubt_pressure_manifold,
                 ew_say_quantity("manifold", EW_KIND_PRESSURE_ABSOLUTE, manifold, 0),
                 ew_say_quantity("pressure", EW_KIND_PRESSURE_ABSOLUTE, c->pressure_pa, 0)));
}

/* A typed temperature; that of a channel is held to its span with the other channels. */
static void doubt_temperature(const struct ew_plausible *p, GPtrArray *doubts) {
  const struct ew_conditions *c = &p->curve->conditions;
  if (strcmp(c->temperature_from, "channel") != 0 &&
      (c->temperature_k < AIR_LOW_K || c->temperature_k > AIR_HIGH_K))
    add(doubts, "temperature",
        ew_message(&ew_doubt_air_temperature,
                   ew_say_quantity("temperature", EW_KIND_TEMPERATURE, c->temperature_k, 0),
                   ew_say_quantity("low", EW_KIND_TEMPERATURE, AIR_LOW_K, 0),
                   ew_say_quantity("high", EW_KIND_TEMPERATURE, AIR_HIGH_K, 0)));
}

static ew_message *two_humidities(double one_pa, double other_pa) {
  return ew_message(&ew_doubt_humidity_two,
                    ew_say_quantity("one", EW_KIND_PRESSURE_ABSOLUTE, one_pa, 1),
                    ew_say_quantity("other", EW_KIND_PRESSURE_ABSOLUTE, other_pa, 1));
}

/* Vapour pressures by humidity and by dew point or wet bulb, of channels and of what was typed; NaN where not given. */
static void vapours(const struct ew_plausible *p, double *by_humidity, double *by_other) {
  const struct ew_conditions *c = &p->curve->conditions;
  double humidity = ew_plausible_median(p, EW_CHANNEL_HUMIDITY);
  double dew = ew_plausible_median(p, EW_CHANNEL_DEW_POINT);
  double wet = ew_plausible_median(p, EW_CHANNEL_WET_BULB);
  if (isnan(wet) && p->setup)
    wet = p->setup->wet_bulb_k;
  if (isnan(humidity) && p->setup)
    humidity = p->setup->humidity;
  if (isnan(dew) && p->setup)
    dew = p->setup->dew_point_k;
  *by_humidity = ew_vapour_from_relative_humidity_pa(humidity, c->temperature_k);
  *by_other = !isnan(dew) ? ew_vapour_from_dew_point_pa(dew)
                          : ew_vapour_from_wet_bulb_pa(c->pressure_pa, c->temperature_k, wet);
}

static void doubt_humidity(const struct ew_plausible *p, GPtrArray *doubts) {
  const struct ew_conditions *c = &p->curve->conditions;
  double most = ew_saturation_pressure_pa(c->temperature_k), by_humidity, by_other;
  vapours(p, &by_humidity, &by_other);
  double highest = isnan(by_other) ? c->vapour_pa : fmax(by_other, c->vapour_pa);
  if (highest > 1.1 * most) /* fog, and a thermometer a degree and a half off */
    add(doubts, of_humidity(p),
        ew_message(&ew_doubt_vapour_high,
                   ew_say_quantity("vapour", EW_KIND_PRESSURE_ABSOLUTE, highest, 1),
                   ew_say_quantity("most", EW_KIND_PRESSURE_ABSOLUTE, most, 1),
                   ew_say_quantity("temperature", EW_KIND_TEMPERATURE, c->temperature_k, 0)));
  else if (c->vapour_pa < LEAST_HUMIDITY * most)
    add(doubts, of_humidity(p),
        ew_message(&ew_doubt_humidity_low, ew_say_share("humidity", c->vapour_pa / most, 2)));
  else if (fabs(by_humidity - by_other) > 0.2 * most)
    add(doubts, of_humidity(p), two_humidities(by_humidity, by_other));
}

void ew_doubt_air(const struct ew_plausible *p, GPtrArray *doubts) {
  if (!p->curve)
    return;
  guint before = doubts->len;
  if (!isnan(p->curve->conditions.pressure_pa)) {
    doubt_height(p, doubts);
    doubt_jump(p, doubts);
    doubt_moves(p, doubts);
    doubt_manifold(p, doubts);
  }
  doubt_temperature(p, doubts);
  doubt_humidity(p, doubts);
  double factor = p->curve->factor.factor;
  if (doubts->len == before && (factor < 0.85 || factor > 1.75))
    add(doubts, of_pressure(p), ew_message(&ew_doubt_factor, ew_say_figure("factor", factor, 4)));
}
