/* 3. Time of a recording: found among the columns, in seconds from the first row, always rising. */
#include "base/statistics.h"
#include "pull/series_parts.h"
#include <math.h>
#include <string.h>

EW_MESSAGE(does_not_rise, "pull.time-does-not-rise", EW_NOTE,
           "named like time, but it does not rise");
EW_MESSAGE(milliseconds, "pull.milliseconds-assumed", EW_NOTE,
           "time in '{column}' has no unit and steps of {step}: taken as milliseconds");
EW_MESSAGE_MANY(
    coarse_clock, "pull.coarse-clock", EW_NOTE,
    "the clock is coarse: {rows} row has the time of the row before, and is spread evenly",
    "the clock is coarse: {rows} rows have the time of the row before, and are spread "
    "evenly");
EW_MESSAGE_MANY(sorted, "pull.rows-sorted", EW_NOTE, "{rows} row was out of order: sorted by time",
                "{rows} rows were out of order: sorted by time");
EW_MESSAGE_MANY(no_time, "pull.rows-without-time", EW_NOTE, "{rows} row without a time was skipped",
                "{rows} rows without a time were skipped");
EW_MESSAGE_MANY(repeated, "pull.rows-repeated", EW_NOTE,
                "{rows} row with a repeated time was skipped",
                "{rows} rows with a repeated time were skipped");
EW_MESSAGE_MANY(clock_jumps, "pull.clock-jumps", EW_NOTE,
                "the clock jumps {times} time by more than five steps",
                "the clock jumps {times} times by more than five steps");

EW_MESSAGE(date_and_clock, "pull.date-and-clock", EW_NOTE, "a date; the clock is '{column}'");
EW_MESSAGE(date_alone, "pull.date-alone", EW_NOTE, "one date in every row: not a time");

/* Days without a clock: each known value is a midnight. *one: they are all the same one. */
static gboolean is_date_alone(const struct ew_column *column, const double *values, gsize rows,
                              gboolean *one) {
  double first = NAN;
  *one = TRUE;
  for (gsize i = 0; column->content == EW_CELL_DATE && i < rows; i++) {
    if (isnan(values[i]))
      continue;
    if (fmod(values[i], 86400) != 0)
      return FALSE;
    first = isnan(first) ? values[i] : first;
    *one &= values[i] == first;
  }
  return !isnan(first);
}

/* Days since the first one go into the clock, so that within a day its figures stay to the bit. */
static void add_days(double *clock, const double *date, gsize rows) {
  double first = NAN;
  for (gsize i = 0; i < rows; i++) {
    first = isnan(first) ? date[i] : first;
    if (!isnan(date[i]))
      clock[i] += date[i] - first;
  }
}

void ew_series_join_dates(struct ew_series *series, const struct ew_table *table) {
  for (guint c = 0; c < series->channels_count; c++) {
    struct ew_series_channel *date = &series->channels[c], *clock = NULL;
    guint at = 0;
    gboolean one;
    if (date->channel != EW_CHANNEL_TIME || !table->columns[c] ||
        !is_date_alone(table->layout->columns->pdata[c], table->columns[c], table->rows, &one))
      continue;
    for (guint k = 0; k < series->channels_count && !clock; k++) {
      const struct ew_column *other = table->layout->columns->pdata[k];
      if (series->channels[k].channel == EW_CHANNEL_TIME && other->content == EW_CELL_CLOCK) {
        clock = &series->channels[k];
        at = k;
      }
    }
    if (clock)
      add_days(table->columns[at], table->columns[c], table->rows);
    if (clock || one)
      ew_series_forget(date, clock ? ew_message(&date_and_clock, ew_say_text("column", clock->name))
                                   : ew_message_plain(&date_alone));
  }
}

/* A column that is called "T" may be a temperature: time rises. */
static gboolean mostly_rises(const double *values, gsize rows) {
  gsize rises = 0, steps = 0;
  for (gsize i = 1; i < rows; i++)
    if (!isnan(values[i]) && !isnan(values[i - 1])) {
      steps++;
      rises += values[i] >= values[i - 1];
    }
  return rises * 10 >= steps * 9;
}

static const double *find_time(struct ew_series *series, const struct ew_table_layout *layout,
                               struct ew_claim *claims, guint *which) {
  int best = 0;
  const double *values = NULL;
  for (guint i = 0; i < series->channels_count; i++) {
    const struct ew_column *column = g_ptr_array_index(layout->columns, i);
    struct ew_series_channel *one = &series->channels[i];
    if (one->channel != EW_CHANNEL_TIME || !one->values)
      continue;
    if ((claims[i].strength <= EW_CLAIM_BY_UNIT ||
         (strlen(one->name) == 1 && !claims[i].has_unit)) &&
        !mostly_rises(one->values, series->rows)) {
      ew_series_forget(one, ew_message_plain(&does_not_rise));
      continue;
    }
    int strength = claims[i].strength + (column->content == EW_CELL_DATE ? 200 : 0) +
                   (column->content == EW_CELL_CLOCK ? 100 : 0);
    if (strength > best && column->values > 1) {
      best = strength;
      values = one->values;
      *which = i;
    }
  }
  return values;
}

static double median_step(const double *time, gsize rows) {
  g_autofree double *steps = g_new(double, MAX(rows, 1));
  gsize count = 0, stride = MAX(rows / 20000, 1);
  for (gsize i = 0; i + 1 < rows; i += stride)
    if (!isnan(time[i]) && !isnan(time[i + 1]))
      steps[count++] = time[i + 1] - time[i];
  return ew_median(steps, count, EW_NONE_ABSENT); /* NaN of fewer than two times */
}

/* Scale of a time column that names no unit: steps of 5 or more are milliseconds in a logger's file. */
static double time_scale(struct ew_series *series, const struct ew_column *column,
                         const struct ew_claim *claim) {
  if (column->content != EW_CELL_NUMBER)
    return 1;
  if (claim->has_unit)
    return claim->unit.scale;
  const char *name = column->name;
  gsize length = strlen(name);
  if (length > 2 && g_ascii_strcasecmp(name + length - 2, "ms") == 0)
    return 1e-3;
  double step = median_step(series->time_s, series->rows);
  if (fabs(step) >= 5 && fabs(step) <= 2000) {
    ew_messages_add(series->notes, ew_message(&milliseconds, ew_say_text("column", name),
                                              ew_say_figure("step", step, 0)));
    return 1e-3;
  }
  return 1;
}

static int by_time(const void *a, const void *b, void *data) {
  const double *time = data;
  gsize x = *(const gsize *)a, y = *(const gsize *)b;
  if (time[x] != time[y])
    return time[x] < time[y] ? -1 : 1;
  return x < y ? -1 : 1;
}

static void reorder(struct ew_series *series, const gsize *order, gsize keep) {
  g_assert(keep <= series->rows);
  g_autofree double *spare = g_new(double, keep);
  for (guint c = 0; c <= series->channels_count; c++) {
    double *values = c == series->channels_count ? series->time_s : series->channels[c].values;
    if (!values)
      continue;
    for (gsize i = 0; i < keep; i++)
      spare[i] = values[order[i]];
    memcpy(values, spare, keep * sizeof *values);
  }
  series->rows = keep;
}

/* A coarse clock gives several rows one time: they are spread evenly up to the next. */
static void spread_coarse(struct ew_series *series) {
  double *time = series->time_s;
  gsize rows = series->rows, repeats = 0, groups = 0;
  for (gsize i = 1; i < rows; i++) {
    if (!(time[i] >= time[i - 1]))
      return; /* gaps and rows out of order are settled otherwise */
    repeats += time[i] == time[i - 1];
    groups += time[i] > time[i - 1];
  }
  if (repeats * 2 < rows || groups < 2)
    return;
  double step = 0;
  for (gsize i = 0, end; i < rows; i = end) {
    for (end = i + 1; end < rows && time[end] == time[i];)
      end++;
    if (end < rows)
      step = (time[end] - time[i]) / (double)(end - i);
    double start = time[i];
    for (gsize k = i; k < end; k++)
      time[k] = start + step * (double)(k - i);
  }
  ew_messages_add(series->notes, ew_message(&coarse_clock, ew_say_count("rows", (gint64)repeats)));
}

/* Sorts rows by time, drops rows without a time and repeats of a time. */
static void put_in_order(struct ew_series *series) {
  gsize rows = series->rows, keep = 0, backwards = 0, missing = 0, repeats = 0;
  const double *time = series->time_s;
  for (gsize i = 0; i < rows; i++) {
    missing += isnan(time[i]);
    backwards += i > 0 && time[i] < time[i - 1];
  }
  g_autofree gsize *order = g_new(gsize, MAX(rows, 1));
  for (gsize i = 0; i < rows; i++)
    if (!isnan(time[i]))
      order[keep++] = i;
  if (backwards)
    g_qsort_with_data(order, (gint)keep, sizeof *order, by_time, series->time_s);
  gsize unique = 0;
  for (gsize i = 0; i < keep; i++)
    if (unique == 0 || time[order[i]] > time[order[unique - 1]])
      order[unique++] = order[i];
    else
      repeats++;
  if (backwards)
    ew_messages_add(series->notes, ew_message(&sorted, ew_say_count("rows", (gint64)backwards)));
  if (missing)
    ew_messages_add(series->notes, ew_message(&no_time, ew_say_count("rows", (gint64)missing)));
  if (repeats)
    ew_messages_add(series->notes, ew_message(&repeated, ew_say_count("rows", (gint64)repeats)));
  if (backwards || missing || repeats)
    reorder(series, order, unique);
}

/* A row without a time may stand where the day ends: a time is held to the last one that is known. */
static void unwrap_midnight(double *time, gsize rows) {
  double add = 0, last = NAN;
  for (gsize i = 0; i < rows; i++) {
    if (isnan(time[i]))
      continue;
    time[i] += add;
    if (time[i] < last - 43200) {
      add += 86400;
      time[i] += 86400;
    }
    last = time[i];
  }
}

void ew_series_settle_time(struct ew_series *series, const struct ew_table_layout *layout,
                           struct ew_claim *claims) {
  guint which = 0;
  const double *values = find_time(series, layout, claims, &which);
  gsize rows = series->rows;
  series->time_s = g_new(double, MAX(rows, 1));
  series->start_unix_s = series->interval_s = NAN;
  if (values) {
    const struct ew_column *column = g_ptr_array_index(layout->columns, which);
    memcpy(series->time_s, values, rows * sizeof *values);
    double scale = time_scale(series, column, &claims[which]);
    for (gsize i = 0; i < rows; i++)
      series->time_s[i] *= scale;
    if (column->content == EW_CELL_CLOCK)
      unwrap_midnight(series->time_s, rows);
    spread_coarse(series);
    put_in_order(series);
    rows = series->rows;
    if (rows > 1) {
      if (column->content == EW_CELL_DATE)
        series->start_unix_s = series->time_s[0];
      double start = series->time_s[0];
      for (gsize i = 0; i < rows; i++)
        series->time_s[i] -= start;
      series->interval_s = median_step(series->time_s, rows);
      series->timed = series->interval_s > 0;
    }
  }
  if (!series->timed)
    for (gsize i = 0; i < rows; i++)
      series->time_s[i] = (double)i;
  for (gsize i = 1; series->timed && i < rows; i++) {
    g_assert(!(series->time_s[i] < series->time_s[i - 1])); /* sorted above */
    series->clock_jumps += series->time_s[i] - series->time_s[i - 1] > 5 * series->interval_s;
  }
  if (series->clock_jumps)
    ew_messages_add(series->notes,
                    ew_message(&clock_jumps, ew_say_count("times", series->clock_jumps)));
}
