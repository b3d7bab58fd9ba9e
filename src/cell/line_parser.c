/* The state machine drawn in line_parser.h: candidates for a header, the one in force, and whether rows can be read
 * at all. Any bytes are input: nothing that arrives is an error of the program, and what is kept is bounded (one
 * line, four candidates). */
#include "cell/line_parser.h"
#include "base/words.h"
#include "base/units.h"
#include "cell/line_header.h"
#include <math.h>
#include <string.h>

#define PATIENCE     20 /* rows of figures before a stream without a header is taken without one */
#define CANDIDATES   4u /* lines of words that may yet turn out to be the header */
#define WEAK_ROWS    3u /* rows in turn before a line that reads like a greeting replaces a header */
#define CHANGES      3u /* of the header, within ... */
#define CHANGES_S    30.0
#define RESTLESS     50u /* ... and from there on so many rows in turn are asked for */
#define WINDOW_S     1.0
#define WINDOW_LINES 5u
#define BAD_WINDOWS  2u /* in turn, and rows cannot be read */

struct ew_line_parser {
  char line[EW_LINE_MOST];
  gsize size;
  gboolean skipping;             /* inside a line that is too long */
  gboolean of_file;              /* nobody answers there */
  guint64 number;                /* of the line at hand, from 1 on */
  struct ew_line_header *header; /* in force; NULL: none yet */
  GPtrArray *candidates;         /* struct ew_line_header*, the newest last */
  double *values, *last;
  double last_time_s, last_arrival_s;
  double told_s, back_s, repeat_s; /* when it was last told */
  double changes_s[CHANGES];
  guint changes;
  guint64 untold, unreported; /* unreported: repeated rows */
  guint headless, headless_columns;
  gboolean fresh; /* no row since the header, or since the connection broke */
  gboolean announced;
  GArray *cells; /* guint pairs */
  struct ew_line_counts counts;
  /* can rows be read? */
  double window_s;
  guint window_lines, window_rows, bad_windows;
  gboolean unreadable;
};

struct ew_line_parser *ew_line_parser_new(void) {
  struct ew_line_parser *p = g_new0(struct ew_line_parser, 1);
  p->cells = g_array_new(FALSE, FALSE, sizeof(guint));
  p->candidates = g_ptr_array_new_with_free_func((GDestroyNotify)ew_line_header_free);
  p->last_time_s = p->last_arrival_s = NAN;
  p->told_s = p->back_s = p->repeat_s = -INFINITY;
  p->window_s = NAN;
  return p;
}

void ew_line_parser_free(struct ew_line_parser *p) {
  if (!p)
    return;
  ew_line_header_free(p->header);
  g_ptr_array_unref(p->candidates);
  g_array_unref(p->cells);
  g_free(p->values);
  g_free(p->last);
  g_free(p);
}

EW_MESSAGE(garbage_line, "cell.garbage-line", EW_CAUTION,
           "{why} ({count} since the last report): '{line}'");
EW_MESSAGE(numbered, "cell.line-number", EW_NOTE, "line {number}");
EW_MESSAGE(no_row_or_header, "cell.neither-row-nor-header", EW_CAUTION,
           "a line that is neither a row nor a header");
EW_MESSAGE(no_row, "cell.not-a-row", EW_CAUTION, "a line that is not a row");
EW_MESSAGE(words_in_rows, "cell.words-between-rows", EW_CAUTION, "words between rows");
EW_MESSAGE(no_header, "cell.rows-without-header", EW_CAUTION, "rows without a header");
EW_MESSAGE(does_not_fit, "cell.row-does-not-fit", EW_CAUTION, "a row that does not fit the header");
EW_MESSAGE(noise, "cell.noise", EW_CAUTION, "a line of noise");
EW_MESSAGE(too_many_cells, "cell.too-many-columns", EW_CAUTION,
           "a line with more columns than any logger has");
EW_MESSAGE(row_after_noise, "cell.row-after-noise", EW_CAUTION, "a row that begins with noise");
EW_MESSAGE(too_long, "cell.line-too-long", EW_CAUTION, "a line longer than 64 kB");
EW_MESSAGE(unreadable, "cell.rows-unreadable", EW_CAUTION,
           "rows can't be read: only {rows} of the last {lines} lines could be; the current header "
           "has {columns} columns");
EW_MESSAGE(readable_again, "cell.rows-readable", EW_NOTE, "rows can be read again");
EW_MESSAGE(began_again, "cell.header-repeated", EW_CAUTION,
           "the sender started again with the same header");
EW_MESSAGE(other_channels, "cell.channels-changed", EW_CAUTION,
           "the sender's channels have changed");
EW_MESSAGE(time_back, "cell.time-back", EW_CAUTION,
           "the sender's time went back from {from} to {to}");
EW_MESSAGE(repeated, "cell.row-repeated", EW_CAUTION,
           "the sender repeats a row; it counts once ({count} since the last report)");
EW_MESSAGE(reply, "cell.reply", EW_NOTE, "{line}");

static void garbage(struct ew_line_parser *p, const struct ew_message_kind *why, const char *line,
                    gsize size, double arrival_s, const struct ew_source_sink *sink) {
  p->counts.garbage++;
  p->untold++;
  if (arrival_s < p->told_s + 1)
    return;
  g_autofree char *start = g_utf8_make_valid(line, (gssize)MIN(size, 40));
  g_autoptr(ew_message) elsewhere =
      ew_message(&numbered, ew_say_count("number", (gint64)p->number));
  ew_source_tell(sink, EW_SOURCE_GARBAGE,
                 ew_message(&garbage_line, ew_say_word("why", why),
                            ew_say_count("count", (gint64)p->untold),
                            ew_say_text_here("line", start, elsewhere)));
  p->told_s = arrival_s;
  p->untold = 0;
}

/* ---- whether rows can be read ---- */

static void close_window(struct ew_line_parser *p, const struct ew_source_sink *sink) {
  g_assert(p->window_lines >= WINDOW_LINES && p->window_rows <= p->window_lines);
  gboolean bad = 2 * p->window_rows < p->window_lines;
  p->bad_windows = bad ? p->bad_windows + 1 : 0;
  if (!p->unreadable && p->bad_windows >= BAD_WINDOWS) {
    p->unreadable = TRUE;
    ew_source_tell(sink, EW_SOURCE_UNREADABLE,
                   ew_message(&unreadable, ew_say_count("rows", p->window_rows),
                              ew_say_count("lines", p->window_lines),
                              ew_say_count("columns", p->header ? p->header->columns : 0)));
  } else if (p->unreadable && !bad) {
    p->unreadable = FALSE;
    ew_source_tell(sink, EW_SOURCE_READABLE, ew_message_plain(&readable_again));
  }
}

/* Windows of a second, and of five lines at least. */
static void count_line(struct ew_line_parser *p, gboolean row, double arrival_s,
                       const struct ew_source_sink *sink) {
  if (isnan(p->window_s))
    p->window_s = arrival_s;
  p->window_lines++;
  p->window_rows += row;
  if (p->window_lines < WINDOW_LINES || arrival_s - p->window_s < WINDOW_S)
    return;
  close_window(p, sink);
  p->window_s = arrival_s;
  p->window_lines = p->window_rows = 0;
}

/* ---- headers ---- */

static void put_in_force(struct ew_line_parser *p, struct ew_line_header *header) {
  g_assert(header && header != p->header && header->channels.count <= header->columns);
  ew_line_header_free(p->header);
  p->header = header;
  g_free(p->values);
  g_free(p->last);
  p->values = g_new0(double, header->columns + 1);
  p->last = g_new0(double, header->columns + 1);
  p->fresh = TRUE;
  p->announced = FALSE;
  p->last_time_s = NAN;
  g_ptr_array_set_size(p->candidates, 0);
}

/* A sender whose header changes all the time does not make a recording of each. */
static guint rows_wanted(const struct ew_line_parser *p, const struct ew_line_header *candidate,
                         double arrival_s) {
  if (!p->header)
    return 1;
  if (p->changes >= CHANGES && arrival_s - p->changes_s[p->changes % CHANGES] < CHANGES_S)
    return RESTLESS;
  return p->fresh || ew_line_header_strong(candidate) ? 1 : WEAK_ROWS;
}

static gboolean still_waits(const struct ew_line_parser *p, const char *line, char delimiter) {
  for (guint i = 0; i < p->candidates->len; i++) {
    const struct ew_line_header *one = g_ptr_array_index(p->candidates, i);
    if (one->delimiter == delimiter && ew_line_header_same(one, line, p->cells))
      return TRUE;
  }
  return FALSE;
}

/* Where there are too many, the one of which least is known goes; of like ones the oldest. */
static void add_candidate(struct ew_line_parser *p, struct ew_line_header *header) {
  g_ptr_array_add(p->candidates, header);
  if (p->candidates->len <= CANDIDATES)
    return;
  guint worst = 0;
  for (guint i = 1; i < p->candidates->len; i++)
    if (((struct ew_line_header *)g_ptr_array_index(p->candidates, i))->known <
        ((struct ew_line_header *)g_ptr_array_index(p->candidates, worst))->known)
      worst = i;
  g_ptr_array_remove_index(p->candidates, worst);
  g_assert(p->candidates->len == CANDIDATES);
}

static gboolean has_control(const char *line, gsize size) {
  for (gsize i = 0; i < size; i++)
    if ((guchar)line[i] < 32 && line[i] != '\t')
      return TRUE;
  return FALSE;
}

/* The sender began again; what was noted of its rows' order is void. */
static void header_again(struct ew_line_parser *p, const struct ew_source_sink *sink) {
  if (!p->fresh)
    ew_source_tell(sink, EW_SOURCE_REPEATED, ew_message_plain(&began_again));
  p->last_time_s = NAN;
  g_ptr_array_set_size(p->candidates, 0);
}

/* A line of words, split by the delimiter that it uses itself: kept until a row fits it. */
static void header_line(struct ew_line_parser *p, const char *line, gsize size, char delimiter,
                        double arrival_s, const struct ew_source_sink *sink) {
  guint columns = p->cells->len / 2;
  if (has_control(line, size)) {
    garbage(p, &no_row_or_header, line, size, arrival_s, sink);
    return;
  }
  if (columns < 2) { /* a preamble before the header, else rubbish */
    if (p->header)
      garbage(p, &no_row, line, size, arrival_s, sink);
    else
      p->counts.remarks++;
    return;
  }
  if (p->header && delimiter == p->header->delimiter &&
      ew_line_header_same(p->header, line, p->cells)) {
    header_again(p, sink);
    return;
  }
  struct ew_line_header *newest =
      p->candidates->len ? g_ptr_array_index(p->candidates, p->candidates->len - 1) : NULL;
  if (still_waits(p, line, delimiter) ||
      (newest && ew_line_header_units(newest, line, p->cells, delimiter)))
    return;
  struct ew_line_header *one = ew_line_header_read(line, p->cells, delimiter, TRUE);
  if (p->header && !p->fresh && !ew_line_header_strong(one))
    garbage(p, &words_in_rows, line, size, arrival_s, sink);
  add_candidate(p, one);
}

/* ---- rows ---- */

/* Reported at most once a second: a clock that jumps back and forth at every row would otherwise flood the log. */
static void row_time(struct ew_line_parser *p, double time_s, double arrival_s,
                     const struct ew_source_sink *sink) {
  if (!isnan(p->last_time_s) && time_s < p->last_time_s && arrival_s >= p->back_s + 1) {
    p->back_s = arrival_s;
    ew_source_tell(sink, EW_SOURCE_TIME_BACK,
                   ew_message(&time_back, ew_say_quantity("from", EW_KIND_TIME, p->last_time_s, 3),
                              ew_say_quantity("to", EW_KIND_TIME, time_s, 3)));
  }
}

/* The same time and the same values as the row before: no news, however often it comes. */
static gboolean repeats(struct ew_line_parser *p, double time_s, double arrival_s,
                        const struct ew_source_sink *sink) {
  if (p->header->time_column < 0 || time_s != p->last_time_s ||
      memcmp(p->values, p->last, p->header->channels.count * sizeof(double)) != 0)
    return FALSE;
  p->counts.repeated++;
  p->unreported++;
  if (arrival_s >= p->repeat_s + 1) {
    ew_source_tell(sink, EW_SOURCE_REPEATED,
                   ew_message(&repeated, ew_say_count("count", (gint64)p->unreported)));
    p->repeat_s = arrival_s;
    p->unreported = 0;
  }
  return TRUE;
}

/* A row without a readable time is as much later than the last as it came later. */
static double time_of(const struct ew_line_parser *p, double given_s, double arrival_s) {
  if (!isnan(given_s))
    return given_s;
  double since_s = p->last_time_s + (arrival_s - p->last_arrival_s);
  return p->header->time_column >= 0 && !isnan(since_s) ? since_s : arrival_s;
}

/* The cells are the header's. */
static void data_line(struct ew_line_parser *p, const char *line, double arrival_s,
                      const struct ew_source_sink *sink) {
  const struct ew_line_header *h = p->header;
  double given_s = NAN;
  guint at = 0;
  g_assert(h && p->cells->len / 2 == h->columns);
  for (guint i = 0; i < h->columns; i++) {
    guint from = g_array_index(p->cells, guint, 2 * i),
          to = g_array_index(p->cells, guint, 2 * i + 1);
    gboolean readable;
    double value = ew_line_figure(line + from, to - from, h->delimiter != ',', &readable);
    p->counts.unreadable += !readable;
    if ((gint)i == h->time_column)
      given_s = ew_to_inside(h->time_unit, value);
    else
      p->values[at++] = value;
  }
  g_assert(at == h->channels.count);
  double time_s = time_of(p, given_s, arrival_s);
  if (!p->announced && sink->head)
    sink->head(sink->user, &h->channels);
  p->announced = TRUE;
  row_time(p, time_s, arrival_s, sink);
  if (repeats(p, time_s, arrival_s, sink))
    return;
  p->fresh = FALSE;
  p->headless = 0;
  p->counts.rows++;
  if (sink->frame)
    sink->frame(sink->user, time_s, arrival_s, p->values);
  p->last_time_s = time_s;
  p->last_arrival_s = arrival_s;
  memcpy(p->last, p->values, h->channels.count * sizeof(double));
}

/* Whether this line is a row below that header; leaves its cells. Of the filled ones half are figures, or
 * the time is one: a logger writes words where a sensor is broken. */
static gboolean fits(struct ew_line_parser *p, const struct ew_line_header *h, const char *line,
                     gsize size) {
  guint empty, cells = ew_line_split(line, size, h->delimiter, p->cells);
  if (cells != h->columns)
    return FALSE;
  guint figures = ew_line_figures(line, p->cells, h->delimiter, &empty);
  if (h != p->header && !ew_line_header_strong(h)) /* "Logger ready" and "Logger 7" */
    return figures == cells - empty;
  if (2 * figures >= cells - empty)
    return TRUE;
  gboolean readable;
  if (h->time_column < 0)
    return FALSE;
  g_assert((guint)h->time_column < h->columns);
  guint from = g_array_index(p->cells, guint, 2 * (guint)h->time_column),
        to = g_array_index(p->cells, guint, 2 * (guint)h->time_column + 1);
  return !isnan(ew_line_figure(line + from, to - from, h->delimiter != ',', &readable));
}

/* The newest candidate that this row fits, where it goes before the header in force; NULL: none. */
static struct ew_line_header *candidate_of(struct ew_line_parser *p, gboolean old_fits,
                                           const char *line, gsize size) {
  struct ew_line_header *found = NULL;
  for (guint i = p->candidates->len; i-- > 0;) {
    struct ew_line_header *one = g_ptr_array_index(p->candidates, i);
    gboolean rather =
        !old_fits || (p->fresh ? one->known >= p->header->known : ew_line_header_strong(one));
    if (!found && rather && fits(p, one, line, size)) {
      found = one;
      one->fits++;
    } else
      one->fits = 0;
  }
  return found;
}

static void change_header(struct ew_line_parser *p, struct ew_line_header *to, double arrival_s,
                          const struct ew_source_sink *sink) {
  if (p->header) {
    p->changes_s[p->changes++ % CHANGES] = arrival_s;
    ew_source_tell(sink, EW_SOURCE_HEADER_CHANGED, ew_message_plain(&other_channels));
  }
  guint at;
  gboolean is_candidate = g_ptr_array_find(p->candidates, to, &at);
  g_assert(is_candidate);
  put_in_force(p, g_ptr_array_steal_index(p->candidates, at));
}

/* Rows without a header, all of one width, are taken in the end, their columns numbered. */
static void headless_row(struct ew_line_parser *p, const char *line, gsize size, double arrival_s,
                         const struct ew_source_sink *sink) {
  char delimiter = ew_line_delimiter(line, size);
  guint columns = ew_line_split(line, size, delimiter, p->cells);
  p->headless = columns == p->headless_columns ? p->headless + 1 : 1;
  p->headless_columns = columns;
  if (p->headless < PATIENCE)
    garbage(p, &no_header, line, size, arrival_s, sink);
  else
    put_in_force(p, ew_line_header_read(line, p->cells, delimiter, FALSE));
}

/* A line with figures. TRUE: it was read as a row. */
static gboolean row_line(struct ew_line_parser *p, const char *line, gsize size, double arrival_s,
                         const struct ew_source_sink *sink) {
  gboolean old_fits = p->header && fits(p, p->header, line, size);
  struct ew_line_header *other = candidate_of(p, old_fits, line, size);
  if (other && other->fits >= rows_wanted(p, other, arrival_s)) {
    change_header(p, other, arrival_s, sink);
    old_fits = TRUE;
    other = NULL;
  }
  if (old_fits && !other) {
    g_ptr_array_set_size(p->candidates, 0); /* the header in force is the right one */
    fits(p, p->header, line, size);         /* its cells */
    data_line(p, line, arrival_s, sink);
    return TRUE;
  }
  guint empty, cells = ew_line_split(line, size, ew_line_delimiter(line, size), p->cells);
  guint figures = ew_line_figures(line, p->cells, ew_line_delimiter(line, size), &empty);
  if (p->header)
    garbage(p, &does_not_fit, line, size, arrival_s, sink);
  else if (figures + empty < cells)
    p->counts.remarks++; /* words and figures before any header: a preamble */
  else
    headless_row(p, line, size, arrival_s, sink);
  return FALSE;
}

/* Noise before the first letter, as a line that is just plugged in gives it: not a part of the name. */
static void strip_noise(const char **line, gsize *size) {
  static const char mark[] = "\xef\xbb\xbf"; /* of UTF-8 */
  while (*size) {
    guchar c = (guchar) * *line;
    gsize step = *size >= 3 && memcmp(*line, mark, 3) == 0                                      ? 3
                 : c < 32 && c != '\t'                                                          ? 1
                 : c >= 0x80 && g_utf8_get_char_validated(*line, (gssize)*size) >= (gunichar)-2 ? 1
                                                                                                : 0;
    if (!step)
      return;
    *line += step;
    *size -= step;
  }
}

static gboolean judge_line(struct ew_line_parser *p, const char *line, gsize size, double arrival_s,
                           const struct ew_source_sink *sink) {
  const char *whole = line;
  gsize whole_size = size;
  if (!p->header || p->fresh)
    strip_noise(&line, &size);
  if (!size || memchr(line, 0, size)) {
    garbage(p, &noise, whole, whole_size, arrival_s, sink);
    return FALSE;
  }
  if (p->header && line == whole && p->candidates->len == 0 && fits(p, p->header, line, size)) {
    data_line(p, line, arrival_s, sink); /* nearly all of a session: split once */
    return TRUE;
  }
  char delimiter = ew_line_delimiter(line, size);
  guint cells = ew_line_split(line, size, delimiter, p->cells), empty;
  if (cells > EW_LINE_CHANNELS_MAX) {
    garbage(p, &too_many_cells, line, size, arrival_s, sink);
    return FALSE;
  }
  guint figures = ew_line_figures(line, p->cells, delimiter, &empty);
  gboolean words = figures == 0 && empty < cells;
  gboolean row = p->header && fits(p, p->header, line, size);
  ew_line_split(line, size, delimiter, p->cells);
  if (!row && (words || (2 * figures < cells && !p->header))) {
    header_line(p, line, size, delimiter, arrival_s, sink);
    return FALSE;
  }
  if (line != whole) { /* of a row the first figure may have gone with the noise */
    garbage(p, &row_after_noise, whole, whole_size, arrival_s, sink);
    return FALSE;
  }
  return row_line(p, line, size, arrival_s, sink);
}

static void take_line(struct ew_line_parser *p, gsize size, double arrival_s,
                      const struct ew_source_sink *sink) {
  p->number++;
  while (size && (p->line[size - 1] == '\r' || p->line[size - 1] == ' '))
    size--;
  if (!size)
    return;
  if (p->line[0] == '#') {
    p->counts.remarks++;
    if (p->of_file)
      return;
    g_autofree char *valid = g_utf8_make_valid(p->line + 1, (gssize)MIN(size - 1, 200));
    ew_source_tell(sink, EW_SOURCE_REPLY,
                   ew_message(&reply, ew_say_text("line", g_strstrip(valid))));
    return;
  }
  gboolean row = judge_line(p, p->line, size, arrival_s, sink);
  count_line(p, row, arrival_s, sink);
}

void ew_line_parser_feed(struct ew_line_parser *p, const char *bytes, gsize size, double arrival_s,
                         const struct ew_source_sink *sink) {
  while (size) {
    const char *end = memchr(bytes, '\n', size);
    gsize piece = end ? (gsize)(end - bytes) : size;
    if (p->skipping || p->size + piece > sizeof p->line) {
      if (!p->skipping) {
        p->number++;
        garbage(p, &too_long, p->line, p->size, arrival_s, sink);
        count_line(p, FALSE, arrival_s, sink);
      }
      p->skipping = TRUE;
      p->size = 0;
    } else {
      memcpy(p->line + p->size, bytes, piece);
      p->size += piece;
    }
    if (!end)
      return;
    g_assert(p->size <= sizeof p->line && !(p->skipping && p->size));
    if (!p->skipping)
      take_line(p, p->size, arrival_s, sink);
    p->size = 0;
    p->skipping = FALSE;
    bytes = end + 1;
    size -= piece + 1;
  }
}

void ew_line_parser_end(struct ew_line_parser *p, double arrival_s,
                        const struct ew_source_sink *sink) {
  if (p->size && !p->skipping)
    take_line(p, p->size, arrival_s, sink);
  p->size = 0;
  p->skipping = FALSE;
}

void ew_line_parser_of_file(struct ew_line_parser *p) {
  p->of_file = TRUE;
}

void ew_line_parser_break(struct ew_line_parser *p) {
  p->number = 0;
  p->size = 0;
  p->skipping = FALSE;
  p->fresh = TRUE; /* whoever is there now may have other channels */
  p->headless = 0;
  g_ptr_array_set_size(p->candidates, 0);
}
