#include "cell/line_parser.h"
#include "base/number.h"
#include "base/units.h"
#include "pull/channel.h"
#include <math.h>
#include <string.h>

#define PATIENCE 20 /* rows of figures before a stream without a header is taken without one */

struct ew_line_parser {
  char line[EW_LINE_MOST];
  gsize size;
  gboolean skipping; /* inside a line that is too long */
  char delimiter;
  struct ew_source_channels channels; /* without the time column */
  gint time_column;                   /* -1: none */
  struct ew_unit time_unit;
  guint columns;
  double *values, *last;
  double last_time_s, told_s, back_s, repeat_s; /* told_s and on: when it was last told */
  guint64 untold, unreported;                   /* unreported: repeated rows */
  guint headless;
  gboolean fresh, has_units; /* no row since the header */
  gboolean announced;
  GArray *cells; /* guint pairs */
  struct ew_line_counts counts;
};

struct ew_line_parser *ew_line_parser_new(void) {
  struct ew_line_parser *p = g_new0(struct ew_line_parser, 1);
  p->cells = g_array_new(FALSE, FALSE, sizeof(guint));
  p->time_column = -1;
  p->last_time_s = NAN;
  p->told_s = p->back_s = p->repeat_s = -INFINITY;
  return p;
}

static void forget_channels(struct ew_line_parser *p) {
  for (guint i = 0; i < p->channels.count; i++) {
    g_free(p->channels.names[i]);
    g_free(p->channels.units[i]);
  }
  g_clear_pointer(&p->channels.names, g_free);
  g_clear_pointer(&p->channels.units, g_free);
  g_clear_pointer(&p->values, g_free);
  g_clear_pointer(&p->last, g_free);
  p->channels.count = p->columns = 0;
  p->time_column = -1;
}

void ew_line_parser_free(struct ew_line_parser *p) {
  if (!p)
    return;
  forget_channels(p);
  g_array_unref(p->cells);
  g_free(p);
}

/* NaN for an empty cell and for one that is no number; `readable` tells them apart. */
static double figure(const char *text, gsize size, gboolean comma, gboolean *readable) {
  double value = NAN;
  while (size && (*text == ' ' || *text == '\t'))
    text++, size--;
  while (size && (text[size - 1] == ' ' || text[size - 1] == '\t'))
    size--;
  *readable = size == 0 || ew_number_read(text, size, '.', &value) ||
              (comma && ew_number_read(text, size, ',', &value));
  return *readable && size ? value : (double)NAN;
}

static void tell(struct ew_line_parser *p, const struct ew_source_sink *sink,
                 enum ew_source_event event, const char *text) {
  (void)p;
  if (sink->event)
    sink->event(sink->user, event, text);
}

static void garbage(struct ew_line_parser *p, const char *why, gsize size, double arrival_s,
                    const struct ew_source_sink *sink) {
  p->counts.garbage++;
  p->untold++;
  if (arrival_s < p->told_s + 1)
    return;
  g_autofree char *start = g_utf8_make_valid(p->line, (gssize)MIN(size, 40));
  g_autofree char *text =
      g_strdup_printf("%s (%" G_GUINT64_FORMAT " since last told): '%s'", why, p->untold, start);
  tell(p, sink, EW_SOURCE_GARBAGE, text);
  p->told_s = arrival_s;
  p->untold = 0;
}

static char pick_delimiter(const char *line, gsize size) {
  guint tabs = 0, semicolons = 0, commas = 0;
  for (gsize i = 0; i < size; i++) {
    tabs += line[i] == '\t';
    semicolons += line[i] == ';';
    commas += line[i] == ',';
  }
  return tabs ? '\t' : semicolons ? ';' : commas ? ',' : ' ';
}

static guint split(const char *line, gsize size, char delimiter, GArray *cells) {
  g_array_set_size(cells, 0);
  gsize begin = 0;
  for (gsize i = 0; i <= size; i++) {
    gboolean cut = i == size || line[i] == delimiter;
    if (!cut)
      continue;
    guint pair[2] = {(guint)begin, (guint)i};
    if (delimiter != ' ' || i > begin) /* runs of blanks are one */
      g_array_append_vals(cells, pair, 2);
    begin = i + 1;
  }
  return cells->len / 2;
}

static guint count_figures(const struct ew_line_parser *p, guint *empty) {
  guint figures = 0;
  *empty = 0;
  for (guint i = 0; i + 1 < p->cells->len; i += 2) {
    guint from = g_array_index(p->cells, guint, i), to = g_array_index(p->cells, guint, i + 1);
    gboolean readable;
    double value = figure(p->line + from, to - from, p->delimiter != ',', &readable);
    figures += !isnan(value);
    *empty += readable && isnan(value);
  }
  return figures;
}

gboolean ew_line_has_figures(const char *line, gsize size) {
  char delimiter = pick_delimiter(line, size);
  g_autoptr(GArray) cells = g_array_new(FALSE, FALSE, sizeof(guint));
  split(line, size, delimiter, cells);
  for (guint i = 0; i + 1 < cells->len; i += 2) {
    guint from = g_array_index(cells, guint, i), to = g_array_index(cells, guint, i + 1);
    gboolean readable;
    if (!isnan(figure(line + from, to - from, delimiter != ',', &readable)))
      return TRUE;
  }
  return FALSE;
}

/* "Oil pressure [bar]" into its name and its unit. */
static void cut_unit(const char *text, gsize size, char **name, char **unit) {
  char *as_is = g_utf8_validate(text, (gssize)size, NULL) ? g_strndup(text, size) : NULL;
  if (!as_is) /* older loggers write the degree sign so */
    as_is = g_convert(text, (gssize)size, "UTF-8", "WINDOWS-1252", NULL, NULL, NULL);
  g_autofree char *valid = as_is ? as_is : g_utf8_make_valid(text, (gssize)size);
  g_strstrip(valid);
  gsize length = strlen(valid);
  if (length >= 2 && valid[0] == '"' && valid[length - 1] == '"') {
    memmove(valid, valid + 1, length - 2);
    valid[length -= 2] = 0;
  }
  char close = length ? valid[length - 1] : 0;
  char *open = close == ']' ? strrchr(valid, '[') : close == ')' ? strrchr(valid, '(') : NULL;
  *unit = open ? g_strstrip(g_strndup(open + 1, length - (gsize)(open - valid) - 2)) : g_strdup("");
  *name = open ? g_strchomp(g_strndup(valid, (gsize)(open - valid))) : g_strdup(valid);
}

static gboolean is_time(const char *name, const char *unit, struct ew_unit *as) {
  int strength, index;
  *as = (struct ew_unit){EW_KIND_TIME, 1, 0};
  if (ew_channel_by_name(name, &strength, &index) != EW_CHANNEL_TIME)
    return FALSE;
  return !*unit || ew_unit_parse(name, unit, EW_KIND_TIME, as, NULL);
}

static void announce(struct ew_line_parser *p, const struct ew_source_sink *sink) {
  if (!p->announced && sink->head)
    sink->head(sink->user, &p->channels);
  p->announced = TRUE;
}

static void take_header(struct ew_line_parser *p, gboolean named) {
  guint columns = p->cells->len / 2;
  forget_channels(p);
  p->columns = columns;
  p->channels.names = g_new0(char *, columns);
  p->channels.units = g_new0(char *, columns);
  p->values = g_new0(double, columns);
  p->last = g_new0(double, columns);
  p->has_units = FALSE;
  for (guint i = 0; i < columns; i++) {
    guint from = g_array_index(p->cells, guint, 2 * i),
          to = g_array_index(p->cells, guint, 2 * i + 1);
    char *name = NULL, *unit = NULL;
    if (named)
      cut_unit(p->line + from, to - from, &name, &unit);
    if (!named || !*name) {
      g_free(name);
      name = g_strdup_printf("column %u", i + 1);
      unit = unit ? unit : g_strdup("");
    }
    p->has_units |= *unit != 0;
    if (p->time_column < 0 && is_time(name, unit, &p->time_unit)) {
      p->time_column = (gint)i;
      g_free(name);
      g_free(unit);
      continue;
    }
    p->channels.names[p->channels.count] = name;
    p->channels.units[p->channels.count++] = unit;
  }
  p->fresh = TRUE;
  p->announced = FALSE;
  p->last_time_s = NAN;
}

static gboolean same_header(struct ew_line_parser *p) {
  guint columns = p->cells->len / 2, at = 0;
  if (columns != p->columns)
    return FALSE;
  for (guint i = 0; i < columns; i++) {
    if ((gint)i == p->time_column)
      continue;
    guint from = g_array_index(p->cells, guint, 2 * i),
          to = g_array_index(p->cells, guint, 2 * i + 1);
    g_autofree char *name = NULL, *unit = NULL;
    cut_unit(p->line + from, to - from, &name, &unit);
    if (at >= p->channels.count || (*name && strcmp(name, p->channels.names[at]) != 0) ||
        (*unit && strcmp(unit, p->channels.units[at]) != 0))
      return FALSE;
    at++;
  }
  return TRUE;
}

static void take_units(struct ew_line_parser *p) {
  guint at = 0;
  for (guint i = 0; i < p->columns; i++) {
    guint from = g_array_index(p->cells, guint, 2 * i),
          to = g_array_index(p->cells, guint, 2 * i + 1);
    char *unit = g_utf8_make_valid(p->line + from, to - from);
    g_strdelimit(unit, "[]()\"", ' ');
    g_strstrip(unit);
    if ((gint)i == p->time_column) {
      struct ew_unit as;
      if (ew_unit_parse("time", unit, EW_KIND_TIME, &as, NULL))
        p->time_unit = as;
      g_free(unit);
      continue;
    }
    g_free(p->channels.units[at]);
    p->channels.units[at++] = unit;
  }
  p->has_units = TRUE;
}

/* In the middle of a stream a line of words is a new header only when it names what is known here, or
 * units; anything else is rubbish on the line. */
static gboolean plausible(const struct ew_line_parser *p, gsize size) {
  for (gsize i = 0; i < size; i++)
    if ((guchar)p->line[i] < 32 && p->line[i] != '\t')
      return FALSE;
  if (!p->columns || p->fresh)
    return TRUE;
  if (!g_utf8_validate(p->line, (gssize)size, NULL))
    return FALSE;
  for (guint i = 0; i + 1 < p->cells->len; i += 2) {
    guint from = g_array_index(p->cells, guint, i), to = g_array_index(p->cells, guint, i + 1);
    g_autofree char *name = NULL, *unit = NULL;
    struct ew_unit as;
    int strength, index;
    cut_unit(p->line + from, to - from, &name, &unit);
    if (ew_channel_by_name(name, &strength, &index) < EW_CHANNELS_COUNT ||
        (*unit && ew_unit_recognise(unit, &as)))
      return TRUE;
  }
  return FALSE;
}

static void header_line(struct ew_line_parser *p, gsize size, double arrival_s,
                        const struct ew_source_sink *sink) {
  guint columns = p->cells->len / 2;
  if (!plausible(p, size)) {
    garbage(p, "a line that is neither row nor header", size, arrival_s, sink);
    return;
  }
  if (p->columns && p->fresh && !p->has_units && columns == p->columns && !same_header(p)) {
    take_units(p);
    return;
  }
  if (p->columns && same_header(p)) {
    if (!p->fresh)
      tell(p, sink, EW_SOURCE_REPEATED, "the sender began again with the same header");
    p->last_time_s = NAN;
    return;
  }
  if (columns < 2) { /* a preamble before the header, else rubbish */
    if (p->columns)
      garbage(p, "a line that is no row", size, arrival_s, sink);
    else
      p->counts.remarks++;
    return;
  }
  if (p->columns && !p->fresh)
    tell(p, sink, EW_SOURCE_HEADER_CHANGED, "the sender's channels are other ones now");
  take_header(p, TRUE);
}

static void headless_row(struct ew_line_parser *p, gsize size, double arrival_s,
                         const struct ew_source_sink *sink) {
  if (++p->headless < PATIENCE)
    garbage(p, "rows without a header", size, arrival_s, sink);
  else
    take_header(p, FALSE);
}

/* Told at most once a second: a clock that jumps to and fro at every row would else flood the news. */
static void row_time(struct ew_line_parser *p, double *time_s, double arrival_s,
                     const struct ew_source_sink *sink) {
  if (!isnan(p->last_time_s) && *time_s < p->last_time_s && arrival_s >= p->back_s + 1) {
    p->back_s = arrival_s;
    g_autofree char *text =
        g_strdup_printf("the sender's time went back from %.3f to %.3f s", p->last_time_s, *time_s);
    tell(p, sink, EW_SOURCE_TIME_BACK, text);
  }
}

/* The same time and the same values as the row before: no news, however often it comes. */
static gboolean repeats(struct ew_line_parser *p, double time_s, double arrival_s,
                        const struct ew_source_sink *sink) {
  if (p->time_column < 0 || time_s != p->last_time_s ||
      memcmp(p->values, p->last, p->channels.count * sizeof(double)) != 0)
    return FALSE;
  p->counts.repeated++;
  p->unreported++;
  if (arrival_s >= p->repeat_s + 1) {
    g_autofree char *text = g_strdup_printf(
        "the sender repeats a row, which counts once (%" G_GUINT64_FORMAT " since last told)",
        p->unreported);
    tell(p, sink, EW_SOURCE_REPEATED, text);
    p->repeat_s = arrival_s;
    p->unreported = 0;
  }
  return TRUE;
}

static void data_line(struct ew_line_parser *p, double arrival_s,
                      const struct ew_source_sink *sink) {
  double time_s = NAN;
  guint at = 0;
  for (guint i = 0; i < p->columns; i++) {
    guint from = g_array_index(p->cells, guint, 2 * i),
          to = g_array_index(p->cells, guint, 2 * i + 1);
    gboolean readable;
    double value = figure(p->line + from, to - from, p->delimiter != ',', &readable);
    p->counts.unreadable += !readable;
    if ((gint)i == p->time_column)
      time_s = ew_to_inside(p->time_unit, value);
    else
      p->values[at++] = value;
  }
  if (isnan(time_s))
    time_s = arrival_s;
  announce(p, sink);
  row_time(p, &time_s, arrival_s, sink);
  if (repeats(p, time_s, arrival_s, sink))
    return;
  p->fresh = FALSE;
  p->headless = 0;
  p->counts.rows++;
  if (sink->frame)
    sink->frame(sink->user, time_s, arrival_s, p->values);
  p->last_time_s = time_s;
  memcpy(p->last, p->values, p->channels.count * sizeof(double));
}

static void take_line(struct ew_line_parser *p, gsize size, double arrival_s,
                      const struct ew_source_sink *sink) {
  while (size && (p->line[size - 1] == '\r' || p->line[size - 1] == ' '))
    size--;
  if (!size)
    return;
  if (p->line[0] == '#') {
    p->counts.remarks++;
    g_autofree char *text = g_utf8_make_valid(p->line + 1, (gssize)MIN(size - 1, 200));
    tell(p, sink, EW_SOURCE_REPLY, g_strstrip(text));
    return;
  }
  if (memchr(p->line, 0, size)) {
    garbage(p, "a line with NUL bytes", size, arrival_s, sink);
    return;
  }
  char delimiter = p->columns ? p->delimiter : pick_delimiter(p->line, size);
  p->delimiter = delimiter;
  guint cells = split(p->line, size, delimiter, p->cells), empty;
  guint figures = count_figures(p, &empty);
  if (cells > EW_LINE_CHANNELS_MAX)
    garbage(p, "a line with more cells than any logger has", size, arrival_s, sink);
  else if (figures == 0 && empty < cells)
    header_line(p, size, arrival_s, sink);
  else if (!p->columns && figures * 2 < cells)
    header_line(p, size, arrival_s, sink);
  else if (!p->columns && figures + empty < cells)
    p->counts.remarks++; /* words and figures before any header: a preamble */
  else if (!p->columns)
    headless_row(p, size, arrival_s, sink);
  else if (cells != p->columns)
    garbage(p, "a row with another number of cells than the header", size, arrival_s, sink);
  else
    data_line(p, arrival_s, sink);
}

void ew_line_parser_feed(struct ew_line_parser *p, const char *bytes, gsize size, double arrival_s,
                         const struct ew_source_sink *sink) {
  while (size) {
    const char *end = memchr(bytes, '\n', size);
    gsize piece = end ? (gsize)(end - bytes) : size;
    if (p->skipping || p->size + piece > sizeof p->line) {
      if (!p->skipping)
        garbage(p, "a line of over 64 kB", p->size, arrival_s, sink);
      p->skipping = TRUE;
      p->size = 0;
    } else {
      memcpy(p->line + p->size, bytes, piece);
      p->size += piece;
    }
    if (!end)
      return;
    if (!p->skipping)
      take_line(p, p->size, arrival_s, sink);
    p->size = 0;
    p->skipping = FALSE;
    bytes = end + 1;
    size -= piece + 1;
  }
}

void ew_line_parser_break(struct ew_line_parser *p, gboolean end, double arrival_s,
                          const struct ew_source_sink *sink) {
  if (end && p->size && !p->skipping)
    take_line(p, p->size, arrival_s, sink);
  p->size = 0;
  p->skipping = FALSE;
}
