/* Steps: 1. each column is recognised (series_claim.c); 2. columns that claim one
 * channel are settled; 3. time is found and made to rise; 4. values become inside units; 5. lambda
 * comes from an air-fuel ratio when the fuel is known; 6. implausible readings are noted; 7. unusable input is
 * refused. Step 3 is series_time.c. */
#include "base/error.h"
#include "base/language.h"
#include "base/number.h"
#include "base/statistics.h"
#include "gas/fuel.h"
#include "pull/series_parts.h"
#include <math.h>
#include <string.h>

#define RATE_APART 0.05 /* of what a profile says; a logger that is set to another rate */

EW_MESSAGE(both_torque, "pull.both-torque", EW_NOTE,
           "'{one}' and '{other}' both give torque: '{used}' is used");
EW_MESSAGE(other_column, "pull.other-column", EW_NOTE,
           "'{column}' is used for this channel instead");
EW_MESSAGE_MANY(infinite, "pull.infinite", EW_CAUTION,
                "'{column}': {values} infinite value, taken as missing",
                "'{column}': {values} infinite values, taken as missing");
EW_MESSAGE(unit_assumed, "pull.unit-assumed", EW_NOTE,
           "{reason}; no unit is given: taken as {unit}");
EW_MESSAGE(fraction_assumed, "pull.fraction-assumed", EW_NOTE,
           "{reason}; no unit is given: taken as a fraction of 1");
EW_MESSAGE(implausible, "pull.implausible", EW_CAUTION,
           "'{column}' reads {middle} in the middle, which {channel} cannot be: name its unit in a "
           "channel map");
EW_MESSAGE(ratio_without_fuel, "pull.ratio-without-fuel", EW_CAUTION,
           "'{column}' is an air-fuel ratio and no fuel is named: lambda is not known");
EW_MESSAGE(divided, "pull.lambda-from-ratio", EW_NOTE, "{reason}; divided by the fuel's {ratio}");
EW_MESSAGE(multiplied, "pull.multiplied", EW_NOTE, "{reason}; its figures are times {factor}");
EW_MESSAGE(vacuum, "pull.vacuum", EW_NOTE, "{reason}; a vacuum: taken below the air");
EW_MESSAGE(rate_not_so, "pull.rate-not-so", EW_CAUTION,
           "the recorder's profile says {said} rows a second, the file's own time {read}: the file "
           "counts");
EW_MESSAGE(
    sea_level, "pull.sea-level-pressure", EW_CAUTION,
    "the file has a pressure reduced to sea level: it is not the station pressure and is not "
    "used");

struct ew_series_channel *ew_series_find(const struct ew_series *series, enum ew_channel channel,
                                         int index) {
  for (guint i = 0; i < series->channels_count; i++) {
    struct ew_series_channel *one = &series->channels[i];
    if (one->channel == channel && one->values && (index == 0 || one->index == index))
      return one;
  }
  return NULL;
}

const char *ew_series_lag_from(const struct ew_series_channel *channel) {
  return channel->lag_stated ? EW_TEXT("channel map") : EW_TEXT("not stated");
}

const double *ew_series_values(const struct ew_series *series, enum ew_channel channel) {
  const struct ew_series_channel *found = ew_series_find(series, channel, 0);
  return found ? found->values : NULL;
}

void ew_series_free(struct ew_series *series) {
  if (!series)
    return;
  for (guint i = 0; i < series->channels_count; i++) {
    struct ew_series_channel *one = &series->channels[i];
    g_free(one->name);
    g_free(one->unit);
    ew_message_free(one->why);
    g_free(one->values);
    g_free(one->flags);
  }
  g_free(series->channels);
  g_free(series->time_s);
  g_free(series->name);
  g_ptr_array_unref(series->notes);
  g_free(series);
}

void ew_series_explain(struct ew_series_channel *one, ew_message *why) {
  ew_message_free(one->why);
  one->why = why;
}

void ew_series_forget(struct ew_series_channel *one, ew_message *why) {
  one->channel = EW_CHANNELS_COUNT;
  ew_series_explain(one, why);
}

/* Two columns of one name: the stronger claim keeps the channel. Cylinders and banks are told apart. */
static void settle_rivals(struct ew_series *series, struct ew_claim *claims) {
  for (guint i = 0; i < series->channels_count; i++)
    for (guint j = i + 1; j < series->channels_count; j++) {
      struct ew_series_channel *a = &series->channels[i], *b = &series->channels[j];
      if (a->channel == EW_CHANNELS_COUNT || a->channel != b->channel || a->index != b->index)
        continue;
      if (a->channel == EW_CHANNEL_EXHAUST_TEMPERATURE) {
        b->index = a->index + 1;
        continue;
      }
      gboolean first =
          claims[i].strength > claims[j].strength ||
          (claims[i].strength == claims[j].strength &&
           claims[i].has_unit + (a->values != NULL) >= claims[j].has_unit + (b->values != NULL));
      struct ew_series_channel *keeps = first ? a : b, *gives = first ? b : a;
      if (a->channel == EW_CHANNEL_TORQUE && a->unit && b->unit)
        ew_messages_add(series->notes, ew_message(&both_torque, ew_say_text("one", a->name),
                                                  ew_say_text("other", b->name),
                                                  ew_say_text("used", keeps->name)));
      ew_series_forget(gives, ew_message(&other_column, ew_say_text("column", keeps->name)));
    }
}

/* A reading without bounds is not a reading. Cells that say "inf" are read as missing; one like 1e999 becomes so here. */
static void forget_infinite(struct ew_series *series, struct ew_series_channel *one) {
  gsize count = 0;
  for (gsize i = 0; i < series->rows; i++)
    if (isinf(one->values[i])) {
      one->values[i] = NAN;
      count++;
    }
  if (count)
    ew_messages_add(series->notes, ew_message(&infinite, ew_say_text("column", one->name),
                                              ew_say_count("values", (gint64)count)));
}

/* The unit of a figure whose file gives none; *taken names it, "1" a fraction (static; NULL: it has no unit). */
static struct ew_unit guess_unit(const struct ew_series_channel *one, const double *values,
                                 gsize rows, double middle, const char **taken) {
  const struct ew_channel_facts *facts = &ew_channel_facts[one->channel];
  static const char *const tries[][4] = {
      [EW_KIND_ROTATIONAL_SPEED] = {"rpm"},
      [EW_KIND_TORQUE] = {"N·m"},
      [EW_KIND_POWER] = {"kW"},
      [EW_KIND_RATIO] = {"%", "1"},
      [EW_KIND_TEMPERATURE] = {"degC", "K"},
      [EW_KIND_PRESSURE_GAUGE] = {"bar", "kPa"},
      [EW_KIND_PRESSURE_ABSOLUTE] = {"hPa", "kPa", "bar", "inHg"},
      [EW_KIND_MASS_FLOW] = {"kg/h"},
      [EW_KIND_ANGLE] = {"deg"},
      [EW_KIND_VOLUME_FLOW] = {"l/min"},
      [EW_KIND_MEAN_EFFECTIVE_PRESSURE] = {"bar"},
      [EW_KIND_SPECIFIC_FUEL] = {"g/kWh"},
      [EW_KIND_TIME] = {"s"},
  };
  struct ew_unit unit = {facts->kind, 1, 0};
  if (strcmp(ew_kind_si(facts->kind), "1") == 0 && facts->kind != EW_KIND_RATIO)
    return unit;
  gsize absent; /* of the known ones */
  if (facts->kind == EW_KIND_RATIO && fabs(ew_quantile(values, rows, 0.99, &absent)) <= 1.2) {
    *taken = "1";
    return unit;
  }
  for (int i = 0; i < 4 && (gsize)facts->kind < G_N_ELEMENTS(tries) && tries[facts->kind][i]; i++) {
    struct ew_unit here;
    if (ew_unit_parse("", tries[facts->kind][i], facts->kind, &here, NULL)) {
      double inside = ew_to_inside(here, middle);
      if (inside >= facts->low && inside <= facts->high) {
        *taken = tries[facts->kind][i];
        return here;
      }
    }
  }
  /* it cannot be any of them: the usual one, so that the question about it names figures that a person knows */
  if ((gsize)facts->kind < G_N_ELEMENTS(tries) && tries[facts->kind][0]) {
    *taken = tries[facts->kind][0];
    ew_unit_parse("", *taken, facts->kind, &unit, NULL);
    return unit;
  }
  *taken = ew_kind_si(facts->kind);
  return unit;
}

/* Absent readings are looked for elsewhere: here the middle of the others counts. */
static double median_of_known(const double *values, gsize rows) {
  gsize absent, count = 0, step = MAX(rows / 5000, 1);
  g_autofree double *some = g_new(double, rows / step + 1);
  for (gsize i = 0; i < rows; i += step)
    some[count++] = values[i];
  double median = ew_median(some, count, &absent);
  return absent == count && step > 1 ? ew_median(values, rows, &absent) : median;
}

/* A vacuum written as a positive figure is so much below the air: a gauge reading of the other sign. */
static void turn_vacuum(const struct ew_series *series, struct ew_series_channel *one) {
  if (ew_channel_facts[one->channel].kind != EW_KIND_PRESSURE_GAUGE ||
      !ew_channel_is_vacuum(one->name) || !(median_of_known(one->values, series->rows) > 0))
    return;
  for (gsize i = 0; i < series->rows; i++)
    one->values[i] = -one->values[i];
  ew_series_explain(one, ew_message(&vacuum, ew_say_message("reason", one->why)));
}

/* "RPM x1000": unless its figures are whole speeds already. */
static void multiply(const struct ew_series *series, struct ew_series_channel *one, double factor) {
  double most = ew_channel_facts[one->channel].high;
  if (!(factor > 1) || !(median_of_known(one->values, series->rows) * factor <= most))
    return;
  for (gsize i = 0; i < series->rows; i++)
    one->values[i] *= factor;
  ew_series_explain(one, ew_message(&multiplied, ew_say_message("reason", one->why),
                                    ew_say_figure("factor", factor, 0)));
}

static void convert_values(struct ew_series *series, struct ew_series_channel *one,
                           struct ew_claim *claim) {
  for (gsize i = 0; one->scale != 1 && i < series->rows; i++)
    one->values[i] *= one->scale;
  if (!claim->has_unit) {
    gsize absent;
    double middle = ew_median(one->values, series->rows, &absent);
    if (absent == series->rows)
      return;
    const char *taken = NULL;
    claim->unit = guess_unit(one, one->values, series->rows, middle, &taken);
    if (taken) {
      one->unit_assumed = TRUE;
      ew_series_explain(one, strcmp(taken, "1") == 0
                                 ? ew_message(&fraction_assumed, ew_say_message("reason", one->why))
                                 : ew_message(&unit_assumed, ew_say_message("reason", one->why),
                                              ew_say_text("unit", taken)));
      g_free(one->unit);
      one->unit = g_strdup(taken);
    }
  }
  for (gsize i = 0; i < series->rows; i++)
    one->values[i] = ew_to_inside(claim->unit, one->values[i]);
  turn_vacuum(series, one);
  multiply(series, one, claim->factor);
}

static void tell_implausible(struct ew_series *series, const struct ew_series_channel *one) {
  const struct ew_channel_facts *facts = &ew_channel_facts[one->channel];
  double middle = median_of_known(one->values, series->rows);
  if (!isnan(middle) && (middle < facts->low || middle > facts->high))
    ew_messages_add(series->notes,
                    ew_message(&implausible, ew_say_text("column", one->name),
                               ew_say_quantity("middle", facts->kind, middle, 2),
                               ew_say_word("channel", ew_channel_word(one->channel))));
}

/* 5. lambda from an air-fuel ratio */
static void settle_lambda(struct ew_series *series, double stoichiometric_ratio) {
  struct ew_series_channel *ratio = ew_series_find(series, EW_CHANNEL_AIR_FUEL_RATIO, 0);
  if (!ratio || ew_series_find(series, EW_CHANNEL_LAMBDA, 0))
    return;
  if (isnan(stoichiometric_ratio)) {
    ew_messages_add(series->notes,
                    ew_message(&ratio_without_fuel, ew_say_text("column", ratio->name)));
    return;
  }
  for (gsize i = 0; i < series->rows; i++)
    ratio->values[i] /= stoichiometric_ratio;
  ratio->channel = EW_CHANNEL_LAMBDA;
  ew_series_explain(ratio, ew_message(&divided, ew_say_message("reason", ratio->why),
                                      ew_say_figure("ratio", stoichiometric_ratio, 3)));
}

/* For which fuel the gauge is scaled, where a map says so; NaN: it does not. */
static double mapped_ratio(const struct ew_channel_map *map) {
  for (guint i = 0; map && i < map->rows->len; i++) {
    const struct ew_channel_map_row *row = g_ptr_array_index(map->rows, i);
    const struct ew_fuel *fuel = ew_fuel_find(row->fuel);
    if (fuel)
      return fuel->stoichiometric_ratio;
  }
  return NAN;
}

/* Rows without a time have the one that the recorder is known to keep. */
static void settle_rate(struct ew_series *series, const struct ew_channel_map *map) {
  double rate = map ? map->rate_hz : (double)NAN;
  if (isnan(rate))
    return;
  if (series->timed) {
    if (fabs(rate * series->interval_s - 1) > RATE_APART)
      ew_messages_add(series->notes, ew_message(&rate_not_so, ew_say_figure("said", rate, 1),
                                                ew_say_figure("read", 1 / series->interval_s, 1)));
    return;
  }
  series->interval_s = 1 / rate;
  series->timed = series->rows > 1;
  for (gsize i = 0; i < series->rows; i++)
    series->time_s[i] = (double)i / rate;
}

static gboolean check_map(const struct ew_series *series, const struct ew_channel_map *map,
                          GError **error) {
  for (guint i = 0; map && i < map->rows->len; i++) {
    const struct ew_channel_map_row *row = g_ptr_array_index(map->rows, i);
    gboolean found = FALSE;
    for (guint c = 0; c < series->channels_count; c++)
      found |= strcmp(series->channels[c].name, row->column) == 0;
    if (!found)
      return ew_refuse(error, "%s: the channel map names a column '%s' that the file does not have",
                       series->name, row->column);
  }
  return TRUE;
}

/* 7. unusable input is refused: one row, speeds below nothing, and a recording of an engine
 * whose time, speed or torque stands there in a unit that it cannot have. */
static gboolean check_usable(const struct ew_series *series, const struct ew_claim *claims,
                             GError **error) {
  static const enum ew_channel musts[] = {EW_CHANNEL_TIME, EW_CHANNEL_SPEED, EW_CHANNEL_TORQUE};
  const struct ew_series_channel *speed = ew_series_find(series, EW_CHANNEL_SPEED, 0);
  gboolean engine = speed || ew_series_find(series, EW_CHANNEL_TORQUE, 0);
  if (series->rows < 2)
    return series->rows
               ? ew_refuse(error, "%s: only one row of figures: neither a recording nor a curve",
                           series->name)
               : ew_refuse(error, "%s: no row with a time: neither a recording nor a curve",
                           series->name);
  for (gsize k = 0; engine && k < G_N_ELEMENTS(musts); k++)
    for (guint c = 0; c < series->channels_count; c++)
      if (claims[c].wrong_unit && claims[c].meant == musts[k] &&
          !ew_series_find(series, musts[k], 0))
        return ew_refuse_with(error, EW_REMEDY_NAME_UNIT, "%s, column %s", series->name,
                              claims[c].problem->message);
  double middle = speed ? median_of_known(speed->values, series->rows) : 0;
  return !(middle < 0) ||
         ew_refuse(
             error,
             "%s, column '%s': %#.0f rpm in the middle; an engine's speed is above 0: check its "
             "sign",
             series->name, speed->name, middle);
}

static struct ew_series *understand(struct ew_table *table, const char *name,
                                    const struct ew_channel_map *map, double stoichiometric_ratio,
                                    struct ew_claim *claims, GError **error) {
  struct ew_series *series = g_new0(struct ew_series, 1);
  series->name = g_strdup(name);
  series->rows = table->rows;
  series->notes = ew_messages_new();
  series->channels_count = table->layout->columns->len;
  series->channels = g_new0(struct ew_series_channel, series->channels_count);
  ew_messages_copy(table->layout->notes, series->notes);
  if (!ew_series_claim(series, table, map, claims, error) || !check_map(series, map, error)) {
    ew_series_free(series);
    return NULL;
  }
  g_autofree gboolean *wanted = g_new0(gboolean, series->channels_count + 1);
  for (guint c = 0; c < series->channels_count; c++)
    wanted[c] = series->channels[c].channel < EW_CHANNELS_COUNT;
  if (!ew_table_fill(table, wanted, error)) {
    ew_series_free(series);
    return NULL;
  }
  ew_series_join_dates(series, table);
  settle_rivals(series, claims);
  for (guint c = 0; c < series->channels_count; c++)
    if (series->channels[c].channel < EW_CHANNELS_COUNT)
      series->channels[c].values = g_steal_pointer(&table->columns[c]);
  for (guint c = 0; c < series->channels_count; c++)
    if (series->channels[c].values)
      forget_infinite(series, &series->channels[c]);
  ew_series_settle_time(series, table->layout, claims);
  settle_rate(series, map);
  for (guint c = 0; c < series->channels_count; c++) {
    struct ew_series_channel *one = &series->channels[c];
    if (one->channel >= EW_CHANNELS_COUNT || one->channel == EW_CHANNEL_TIME)
      continue;
    convert_values(series, one, &claims[c]);
    tell_implausible(series, one);
  }
  series->ratio_scale = mapped_ratio(map);
  settle_lambda(series, isnan(series->ratio_scale) ? stoichiometric_ratio : series->ratio_scale);
  if (ew_series_find(series, EW_CHANNEL_SEA_LEVEL_PRESSURE, 0))
    ew_messages_add(series->notes, ew_message_plain(&sea_level));
  if (check_usable(series, claims, error))
    return series;
  ew_series_free(series);
  return NULL;
}

struct ew_series *ew_series_from_table(struct ew_table *table, const char *name,
                                       const struct ew_channel_map *map,
                                       double stoichiometric_ratio, GError **error) {
  guint count = table->layout->columns->len;
  g_autofree struct ew_claim *claims = g_new0(struct ew_claim, count);
  struct ew_series *series = understand(table, name, map, stoichiometric_ratio, claims, error);
  for (guint c = 0; c < count; c++)
    g_clear_error(&claims[c].problem);
  return series;
}
