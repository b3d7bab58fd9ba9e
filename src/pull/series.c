/* Steps: 1. each column is recognised by the map, else by heading and unit; 2. columns that claim one
 * channel are settled; 3. time is found and made to rise; 4. values become inside units; 5. lambda
 * comes from an air-fuel ratio when the fuel is known; 6. implausible readings are told; 7. what can serve
 * nothing is refused. Step 3 is series_time.c. */
#include "base/error.h"
#include "base/words.h"
#include "base/number.h"
#include "base/statistics.h"
#include "pull/series_parts.h"
#include <math.h>
#include <string.h>

void ew_series_note(struct ew_series *series, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  g_ptr_array_add(series->notes, ew_words_v(format, arguments));
  va_end(arguments);
}

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
  return channel->lag_stated ? "channel map" : "not stated";
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
    g_free(one->why);
    g_free(one->values);
    g_free(one->flags);
  }
  g_free(series->channels);
  g_free(series->time_s);
  g_free(series->name);
  g_ptr_array_unref(series->notes);
  g_free(series);
}

void ew_series_forget(struct ew_series_channel *one, const char *why) {
  one->channel = EW_CHANNELS_COUNT;
  g_free(one->why);
  one->why = g_strdup(why);
}

/* Times of day and dates are seconds whatever stands in the place of their unit ("h:m:s"). */
static gboolean is_clock(const struct ew_column *column) {
  return column->content == EW_CELL_CLOCK || column->content == EW_CELL_DATE;
}

static gboolean claim_by_map(struct ew_series_channel *one, const struct ew_column *column,
                             const struct ew_channel_map *map, struct ew_claim *claim,
                             GError **error) {
  const struct ew_channel_map_row *row = ew_channel_map_find(map, column->name);
  if (!row)
    return TRUE;
  one->channel = row->channel;
  one->index = row->index;
  one->why = g_strdup("the channel map says so");
  claim->strength = 1000;
  one->lag_stated = !isnan(row->lag_s);
  if (one->lag_stated)
    one->lag_s = row->lag_s;
  const char *unit = row->unit ? row->unit : column->unit;
  if (!unit || is_clock(column))
    return TRUE;
  claim->has_unit = TRUE;
  g_free(one->unit);
  one->unit = g_strdup(unit);
  return ew_unit_parse(column->name, unit, ew_channel_facts[one->channel].kind, &claim->unit,
                       error);
}

/* A column with no telling name may still have a telling unit, or be named by nothing else ("Nm"). */
static enum ew_channel by_unit_alone(const struct ew_column *column) {
  struct ew_unit unit;
  if (!ew_unit_recognise(column->unit ? column->unit : column->name, &unit))
    return EW_CHANNELS_COUNT;
  if (unit.kind == EW_KIND_ROTATIONAL_SPEED)
    return EW_CHANNEL_SPEED;
  if (unit.kind == EW_KIND_TORQUE)
    return EW_CHANNEL_TORQUE;
  return EW_CHANNELS_COUNT;
}

static void claim_by_name(struct ew_series_channel *one, const struct ew_column *column,
                          struct ew_claim *claim) {
  const char *excluded = ew_channel_excluded(column->name);
  if (excluded) {
    one->why = g_strdup(excluded);
    return;
  }
  one->channel = ew_channel_by_name(column->name, &claim->strength, &one->index);
  gboolean named = one->channel < EW_CHANNELS_COUNT;
  if (!named) {
    one->channel = by_unit_alone(column);
    claim->strength = 40;
  }
  if (one->channel == EW_CHANNELS_COUNT) {
    one->why = g_strdup("the heading names nothing that is known here");
    return;
  }
  const struct ew_channel_facts *facts = &ew_channel_facts[one->channel];
  if (one->channel == EW_CHANNEL_LAMBDA && column->unit &&
      g_ascii_strcasecmp(column->unit, "afr") == 0) {
    one->channel = EW_CHANNEL_AIR_FUEL_RATIO;
    facts = &ew_channel_facts[one->channel];
  }
  g_autoptr(GError) problem = NULL;
  const char *unit = column->unit ? column->unit : named ? NULL : column->name;
  if (unit && !is_clock(column)) {
    claim->has_unit = ew_unit_parse(column->name, unit, facts->kind, &claim->unit, &problem);
    if (!claim->has_unit) {
      claim->wrong_unit = TRUE;
      claim->meant = one->channel;
      ew_series_forget(one, problem->message);
      return;
    }
    one->why = g_strdup_printf("%s, and the unit is %s",
                               named ? "the heading says so" : "no heading", unit);
    return;
  }
  one->why = g_strdup("the heading says so");
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
        ew_series_note(series, "'%s' and '%s' both give torque: '%s' is used", a->name, b->name,
                       keeps->name);
      g_autofree char *why = g_strdup_printf("'%s' is taken for this channel instead", keeps->name);
      ew_series_forget(gives, why);
    }
}

/* A reading without bounds is no reading. Cells that say "inf" are read as missing; one like 1e999 becomes so here. */
static void forget_infinite(struct ew_series *series, struct ew_series_channel *one) {
  gsize count = 0;
  for (gsize i = 0; i < series->rows; i++)
    if (isinf(one->values[i])) {
      one->values[i] = NAN;
      count++;
    }
  if (count)
    ew_series_note(series, "'%s': %zu infinite value%s, taken as missing", one->name, count,
                   count > 1 ? "s" : "");
}

/* The unit of a figure whose file gives none, with the reason. */
static struct ew_unit guess_unit(const struct ew_series_channel *one, const double *values,
                                 gsize rows, double middle, char **taken) {
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
    *taken = g_strdup("a share of 1");
    return unit;
  }
  for (int i = 0; i < 4 && (gsize)facts->kind < G_N_ELEMENTS(tries) && tries[facts->kind][i]; i++) {
    struct ew_unit here;
    if (ew_unit_parse("", tries[facts->kind][i], facts->kind, &here, NULL)) {
      double inside = ew_to_inside(here, middle);
      if (inside >= facts->low && inside <= facts->high) {
        *taken = g_strdup(tries[facts->kind][i]);
        return here;
      }
    }
  }
  *taken = g_strdup(ew_kind_si(facts->kind));
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

static void convert_values(struct ew_series *series, struct ew_series_channel *one,
                           struct ew_claim *claim) {
  if (!claim->has_unit) {
    gsize absent;
    double middle = ew_median(one->values, series->rows, &absent);
    if (absent == series->rows)
      return;
    char *taken = NULL;
    claim->unit = guess_unit(one, one->values, series->rows, middle, &taken);
    if (taken) {
      g_autofree char *why = g_strdup_printf("%s; no unit is given: taken as %s", one->why, taken);
      g_free(one->why);
      one->why = g_steal_pointer(&why);
      one->unit = taken;
    }
  }
  for (gsize i = 0; i < series->rows; i++)
    one->values[i] = ew_to_inside(claim->unit, one->values[i]);
}

static void tell_implausible(struct ew_series *series, const struct ew_series_channel *one) {
  const struct ew_channel_facts *facts = &ew_channel_facts[one->channel];
  double middle = median_of_known(one->values, series->rows);
  if (!isnan(middle) && (middle < facts->low || middle > facts->high)) {
    g_autofree char *shown = ew_quantity_format(facts->kind, EW_UNITS_SI, middle, 2);
    ew_series_note(
        series, "'%s' reads %s in the middle, which %s cannot be: name its unit in a channel map",
        one->name, shown, facts->label);
  }
}

/* 5. lambda from an air-fuel ratio */
static void settle_lambda(struct ew_series *series, double stoichiometric_ratio) {
  struct ew_series_channel *ratio = ew_series_find(series, EW_CHANNEL_AIR_FUEL_RATIO, 0);
  if (!ratio || ew_series_find(series, EW_CHANNEL_LAMBDA, 0))
    return;
  if (isnan(stoichiometric_ratio)) {
    ew_series_note(series,
                   "'%s' is an air-fuel ratio, and no fuel is named: it does not become lambda",
                   ratio->name);
    return;
  }
  for (gsize i = 0; i < series->rows; i++)
    ratio->values[i] /= stoichiometric_ratio;
  ratio->channel = EW_CHANNEL_LAMBDA;
  g_autofree char *why =
      ew_words("%s; divided by %.3f of the fuel", ratio->why, stoichiometric_ratio);
  g_free(ratio->why);
  ratio->why = g_steal_pointer(&why);
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

/* 7. what can serve nothing is refused: one row, speeds below nothing, and a recording of an engine
 * whose time, speed or torque stands there in a unit that it cannot have. */
static gboolean check_usable(const struct ew_series *series, const struct ew_claim *claims,
                             GError **error) {
  static const enum ew_channel musts[] = {EW_CHANNEL_TIME, EW_CHANNEL_SPEED, EW_CHANNEL_TORQUE};
  const struct ew_series_channel *speed = ew_series_find(series, EW_CHANNEL_SPEED, 0);
  gboolean engine = speed || ew_series_find(series, EW_CHANNEL_TORQUE, 0);
  if (series->rows < 2)
    return ew_refuse(error, "%s: %s: there is no recording and no curve in it", series->name,
                     series->rows ? "one row of figures only" : "no row with a time");
  for (gsize k = 0; engine && k < G_N_ELEMENTS(musts); k++)
    for (guint c = 0; c < series->channels_count; c++)
      if (claims[c].wrong_unit && claims[c].meant == musts[k] &&
          !ew_series_find(series, musts[k], 0))
        return ew_refuse(error, "%s, column %s; or name its unit in a channel map (--map)",
                         series->name, series->channels[c].why);
  double middle = speed ? median_of_known(speed->values, series->rows) : 0;
  return !(middle < 0) ||
         ew_refuse(error,
                   "%s, column '%s': %.0f rpm in the middle, and an engine's speed is above 0: "
                   "check its sign",
                   series->name, speed->name, middle);
}

static gboolean ignored(const struct ew_channel_map *map, const char *name) {
  for (guint i = 0; map && i < map->ignore->len; i++)
    if (strcmp(g_ptr_array_index(map->ignore, i), name) == 0)
      return TRUE;
  return FALSE;
}

static gboolean claim_all(struct ew_series *series, struct ew_table *table,
                          const struct ew_channel_map *map, struct ew_claim *claims,
                          GError **error) {
  for (guint c = 0; c < series->channels_count; c++) {
    const struct ew_column *column = g_ptr_array_index(table->layout->columns, c);
    struct ew_series_channel *one = &series->channels[c];
    one->channel = EW_CHANNELS_COUNT;
    one->name = g_strdup(column->name);
    one->unit = g_strdup(column->unit);
    if (!claim_by_map(one, column, map, &claims[c], error))
      return FALSE;
    if (one->channel == EW_CHANNELS_COUNT && ignored(map, column->name))
      one->why = g_strdup("the channel map says to leave it out");
    else if (one->channel == EW_CHANNELS_COUNT)
      claim_by_name(one, column, &claims[c]);
    if (one->channel < EW_CHANNELS_COUNT && column->values == 0)
      ew_series_forget(one, "the column is empty");
    if (column->content == EW_CELL_TEXT && one->channel < EW_CHANNELS_COUNT)
      ew_series_forget(one, "the column holds words");
    if (is_clock(column) && one->channel != EW_CHANNEL_TIME && one->channel < EW_CHANNELS_COUNT)
      ew_series_forget(one, "the column holds times of day or dates");
  }
  return TRUE;
}

struct ew_series *ew_series_from_table(struct ew_table *table, const char *name,
                                       const struct ew_channel_map *map,
                                       double stoichiometric_ratio, GError **error) {
  struct ew_series *series = g_new0(struct ew_series, 1);
  series->name = g_strdup(name);
  series->rows = table->rows;
  series->notes = g_ptr_array_new_with_free_func(g_free);
  series->channels_count = table->layout->columns->len;
  series->channels = g_new0(struct ew_series_channel, series->channels_count);
  g_autofree struct ew_claim *claims = g_new0(struct ew_claim, series->channels_count);
  for (guint i = 0; i < table->layout->notes->len; i++)
    g_ptr_array_add(series->notes,
                    ew_message_text(g_ptr_array_index(table->layout->notes, i), EW_UNITS_SI));
  if (!claim_all(series, table, map, claims, error) || !check_map(series, map, error)) {
    ew_series_free(series);
    return NULL;
  }
  settle_rivals(series, claims);
  for (guint c = 0; c < series->channels_count; c++)
    if (series->channels[c].channel < EW_CHANNELS_COUNT)
      series->channels[c].values = g_steal_pointer(&table->columns[c]);
  for (guint c = 0; c < series->channels_count; c++)
    if (series->channels[c].values)
      forget_infinite(series, &series->channels[c]);
  ew_series_settle_time(series, table->layout, claims);
  for (guint c = 0; c < series->channels_count; c++) {
    struct ew_series_channel *one = &series->channels[c];
    if (one->channel >= EW_CHANNELS_COUNT || one->channel == EW_CHANNEL_TIME)
      continue;
    convert_values(series, one, &claims[c]);
    tell_implausible(series, one);
  }
  settle_lambda(series, stoichiometric_ratio);
  if (ew_series_find(series, EW_CHANNEL_SEA_LEVEL_PRESSURE, 0))
    ew_series_note(
        series, "a pressure reduced to sea level is in the file: it is no station pressure and is "
                "not used");
  if (check_usable(series, claims, error))
    return series;
  ew_series_free(series);
  return NULL;
}
