/* Which values of a slow channel are samples and which are repeats of one: regular gaps (the file leaves cells
 * empty) or regular runs of equal values (the logger repeats). Where neither is plain, all rows stay. */
#include "pull/own_rate.h"
#include "base/statistics.h"
#include "pull/series_parts.h"
#include <math.h>

#define HELD_RUNS 8
#define HELD_ROWS 3.0
#define OWN_SHARE 0.7 /* with more of its rows filled a channel has holes, not a rate of its own */
#define OWN_LEAST 4   /* samples that tell a rate */

EW_MESSAGE(slower_channel, "pull.slower-channel", EW_NOTE,
           "'{column}' has {own} samples a second in a file of {rows} rows a second: it is read on "
           "straight lines between its own samples");

/* Rows from each own sample to the next, and their count. */
static gsize steps_of(const double *x, gsize n, double *steps) {
  gsize count = 0, last = n;
  for (gsize i = 0; i < n; i++)
    if (!isnan(x[i])) {
      if (last < n)
        steps[count++] = (double)(i - last);
      last = i;
    }
  return count;
}

/* Lengths of the runs of equal values, without the first and the last, which are cut. */
static gsize runs_of(const double *x, gsize n, double *runs) {
  gsize count = 0;
  for (gsize i = 0; i < n;) {
    gsize j = i + 1;
    while (j < n && x[j] == x[i])
      j++;
    if (i > 0 && j < n && !isnan(x[i]))
      runs[count++] = (double)(j - i);
    i = j;
  }
  return count;
}

static gboolean regular(const double *lengths, gsize count, double middle) {
  gsize near = 0;
  for (gsize i = 0; i < count; i++)
    near += lengths[i] >= 0.5 * middle && lengths[i] <= 1.5 * middle;
  return near * 5 >= count * 4;
}

static void keep_first_of_runs(double *x, gsize n, double longest) {
  for (gsize i = 0; i < n;) {
    gsize j = i + 1;
    while (j < n && x[j] == x[i])
      j++;
    for (gsize k = i + 1; k < j && (double)(j - i) <= longest; k++)
      x[k] = NAN;
    i = j;
  }
}

void ew_find_own_rate(struct ew_series *series, struct ew_series_channel *one) {
  gsize n = series->rows;
  double *x = one->values, rows = 1;
  g_autofree double *lengths = g_new(double, MAX(n, 1));
  one->interval_s = series->interval_s;
  gsize steps = steps_of(x, n, lengths);
  if (steps >= OWN_LEAST && (double)(steps + 1) < OWN_SHARE * (double)n)
    rows = ew_median(lengths, steps, EW_NONE_ABSENT);
  else if (one->channel != EW_CHANNEL_KNOCK) {
    gsize runs = runs_of(x, n, lengths);
    double middle = runs >= HELD_RUNS ? ew_median(lengths, runs, EW_NONE_ABSENT) : 0;
    if (middle >= HELD_ROWS && regular(lengths, runs, middle)) {
      rows = middle;
      keep_first_of_runs(x, n, 2 * middle);
    }
  }
  one->slow = rows >= 2;
  if (!one->slow)
    return;
  g_assert(series->interval_s > 0); /* asked of a series with a time alone */
  one->interval_s = rows * series->interval_s;
  ew_messages_add(series->notes, ew_message(&slower_channel, ew_say_text("column", one->name),
                                            ew_say_figure("own", 1 / one->interval_s, 1),
                                            ew_say_figure("rows", 1 / series->interval_s, 1)));
}
