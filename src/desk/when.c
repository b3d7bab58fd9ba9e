/* Steps: 1. the preamble is searched for labels such as "Date", "Start", "Uhrzeit" with a date, a clock or both behind them;
 * 2. else the first row of figures, for a cell with a date and a clock; 3. a date of the preamble and a clock of the first row
 * go together. A date alone is the time stamp's clock when that is of the same day, else noon. */
#include "desk/when.h"
#include "base/error.h"
#include "base/table.h"
#include "base/zone.h"
#include "pull/plausible_kinds.h"
#include <math.h>
#include <string.h>

#define DAY_S      86400.0
#define EARLY_S    315532800.0 /* 1980: a clock that was never set */
#define AHEAD_S    600.0       /* by which two clocks may differ */
#define HEAD_BYTES 65536
#define STEPS_LEAST                                                                                \
  60.0 /* a clock that begins within the first minute counts from the start of the recording */

struct found {
  double date_s, clock_s; /* NaN: not found. The date may have its clock with it */
  gboolean whole, zoned;  /* it has; and an offset, so that it is an instant */
};

static gboolean is_label(const char *text) {
  static const char *const words[] = {"date",  "time",   "start", "begin", "record", "creat",
                                      "datum", "zeit",   "fecha", "hora",  "heure",  "data",
                                      "ora",   "inicio", "debut", "tijd"};
  g_autofree char *lower = g_utf8_strdown(text, -1);
  for (gsize i = 0; i < G_N_ELEMENTS(words); i++)
    if (strstr(lower, words[i]))
      return TRUE;
  return FALSE;
}

/* "...Z", "...+01:00" behind a clock. */
static gboolean has_offset(const char *text) {
  gsize length = strlen(text);
  const char *colon = strchr(text, ':');
  if (!colon || length < 2)
    return FALSE;
  return text[length - 1] == 'Z' || text[length - 1] == 'z' || strpbrk(colon, "+-") != NULL;
}

static enum ew_cell_kind read_cell(const char *text, gboolean month_first, double *value) {
  struct ew_cell_style style = {.decimal = '.', .month_first = month_first};
  enum ew_cell_kind kind = ew_cell_read(text, strlen(text), style, value);
  if (kind ==
      EW_CELL_TEXT) { /* 30/11/2026 where the month was thought to be first, or the reverse */
    style.month_first = !month_first;
    kind = ew_cell_read(text, strlen(text), style, value);
  }
  return kind;
}

static void take(struct found *f, const char *text, gboolean month_first) {
  double value;
  enum ew_cell_kind kind = read_cell(text, month_first, &value);
  if (kind == EW_CELL_DATE && isnan(f->date_s)) {
    f->date_s = value;
    f->whole = strchr(text, ':') != NULL;
    f->zoned = has_offset(text);
  } else if (kind == EW_CELL_CLOCK && isnan(f->clock_s))
    f->clock_s = value;
}

/* "Date,2026-11-30", "# Start: 30.11.2026 16:50:12", "Time;16:50" */
static void look_in_line(struct found *f, const char *line, gboolean month_first) {
  g_auto(GStrv) cells = g_strsplit_set(line, ",;\t|=", -1);
  const char *colon = strchr(line, ':');
  for (int i = 0; cells[i]; i++) {
    g_strdelimit(cells[i], "\"'#", ' ');
    g_strstrip(cells[i]);
  }
  if (!cells[0] || !is_label(cells[0]))
    return;
  for (int i = 1; cells[i]; i++)
    take(f, cells[i], month_first);
  if (!cells[1] && colon) {
    g_autofree char *rest = g_strstrip(g_strdup(colon + 1));
    take(f, rest, month_first);
  }
}

/* The line of that number, from 1; NULL beyond the end. Of UTF-8 and of single bytes. */
static char *line_at(const char *data, gsize size, guint number) {
  const char *at = data, *end = data + size;
  for (guint i = 1; i < number && at; i++) {
    const char *next = memchr(at, '\n', (gsize)(end - at));
    at = next ? next + 1 : NULL;
  }
  if (!at || at >= end || number == 0)
    return NULL;
  const char *stop = memchr(at, '\n', (gsize)(end - at));
  return g_strstrip(g_strndup(at, (gsize)((stop ? stop : end) - at)));
}

/* The first row of figures: its first cell with a date, or with a clock that is of a day and not of the recording. */
static void look_in_row(struct found *f, const struct ew_table_layout *layout, const char *data,
                        gsize size) {
  g_autofree char *line = line_at(data, size, layout->data_line);
  if (!line)
    return;
  g_autoptr(GArray) offsets = g_array_new(FALSE, FALSE, sizeof(guint));
  guint cells = ew_table_split(line, strlen(line), layout->delimiter, offsets);
  for (guint i = 0; i < cells; i++) {
    guint from = g_array_index(offsets, guint, 2 * i),
          to = g_array_index(offsets, guint, 2 * i + 1);
    g_autofree char *cell = g_strndup(line + from, to - from);
    g_strdelimit(cell, "\"", ' ');
    g_strstrip(cell);
    struct found here = {NAN, NAN, FALSE, FALSE};
    take(&here, cell, layout->month_first);
    if (isnan(f->date_s) && !isnan(here.date_s)) {
      double clock = f->clock_s;
      *f = here;
      f->clock_s = clock;
    }
    if (isnan(f->clock_s) && here.clock_s > STEPS_LEAST)
      f->clock_s = here.clock_s;
  }
}

static double as_instant(const struct ew_when_ask *ask, double naive_s) {
  GTimeZone *zone = ask->clock_zone ? ask->clock_zone : ask->zone;
  double instants[2];
  int count = ew_zone_instants(zone, naive_s, instants);
  /* a time that the clocks left out is an hour's slip of the recorder; of one shown twice the first */
  return count ? instants[0]
               : naive_s - (ew_zone_instants(zone, naive_s - DAY_S, instants)
                                ? naive_s - DAY_S - instants[0]
                                : 0);
}

static double settled(const struct ew_when_ask *ask, const struct found *f, gboolean *has_clock) {
  *has_clock = f->whole || !isnan(f->clock_s);
  if (isnan(f->date_s))
    return NAN;
  if (f->zoned)
    return f->date_s;
  if (f->whole)
    return as_instant(ask, f->date_s);
  if (!isnan(f->clock_s))
    return as_instant(ask, f->date_s + f->clock_s);
  double from = as_instant(ask, f->date_s);
  return ask->stamp_s >= from && ask->stamp_s < from + DAY_S
             ? ask->stamp_s
             : as_instant(ask, f->date_s + DAY_S / 2);
}

/* The date and clock within a file, from its preamble or its first row; NaN when it has none. *has_clock: not a date
 * alone. *read_s (may be NULL): also what can't be. */
static double in_file_of(const struct ew_when_ask *ask, const void *data, gsize size,
                         const char *name, gboolean *has_clock, double *read_s) {
  *has_clock = FALSE;
  struct ew_table_layout *own = data && !ask->layout ? ew_table_look(data, size, name, NULL) : NULL;
  const struct ew_table_layout *layout = ask->layout ? ask->layout : own;
  if (!data || !layout)
    return NAN;
  struct found f = {NAN, NAN, FALSE, FALSE};
  for (guint i = 0; i < layout->preamble->len; i++)
    look_in_line(&f, layout->preamble->pdata[i], layout->month_first || ask->month_first);
  if (isnan(f.date_s) || !(f.whole || !isnan(f.clock_s)))
    look_in_row(&f, layout, data, MIN(size, HEAD_BYTES));
  ew_table_layout_free(own);
  double unix_s = settled(ask, &f, has_clock);
  if (read_s)
    *read_s = unix_s;
  return unix_s >= EARLY_S && unix_s <= ask->now_s + AHEAD_S ? unix_s : (double)NAN;
}

static char *shown(const struct ew_when_ask *ask, double unix_s) {
  g_autofree char *instant = ew_instant_write(unix_s);
  return ew_zone_show(ask->zone, instant);
}

static ew_message *other_day(const struct ew_when_ask *ask, double said_s, double file_s) {
  g_autofree char *said = shown(ask, said_s), *file = shown(ask, file_s);
  return ew_message_about(
      ew_message(&ew_doubt_time, ew_say_text("said", said), ew_say_text("file", file)), "time");
}

static gboolean take_typed(const struct ew_when_ask *ask, double in_file, struct ew_when *when,
                           GError **error) {
  if (!ew_zone_read(ask->zone, "at", ask->typed, &when->unix_s, error))
    return FALSE;
  if (when->unix_s > ask->now_s + AHEAD_S)
    return ew_refuse(error, "at: '%.60s' is still to come: check the day", ask->typed);
  if (fabs(when->unix_s - in_file) > DAY_S)
    when->doubt = other_day(ask, when->unix_s, in_file);
  return TRUE;
}

gboolean ew_when_of(const struct ew_when_ask *ask, const void *data, gsize size, const char *name,
                    struct ew_when *when, GError **error) {
  *when = (struct ew_when){ask->now_s, EW_FROM_CLOCK, NAN, NULL};
  gboolean has_clock = FALSE;
  double read_s = NAN;
  double in_file = ask->live ? (double)NAN : in_file_of(ask, data, size, name, &has_clock, &read_s);
  if (ask->typed) {
    when->from = EW_FROM_TYPED;
    return take_typed(ask, in_file, when, error);
  }
  gboolean stamped = !ask->live && ask->stamp_s >= EARLY_S && ask->stamp_s <= ask->now_s;
  double latest = stamped ? ask->stamp_s : ask->now_s;
  if (has_clock && read_s > latest + AHEAD_S)
    when->ahead_s = read_s - latest;
  if (!isnan(in_file)) {
    when->unix_s = in_file;
    when->from = EW_FROM_FILE;
  } else if (stamped) {
    when->unix_s = ask->stamp_s;
    when->from = EW_FROM_STAMP;
  }
  return TRUE;
}
