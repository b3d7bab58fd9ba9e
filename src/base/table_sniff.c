/* How a table is understood from its first lines:
 *   1. each delimiter (and decimal mark) that could be is tried on all lines;
 *   2. a line looks like data when a tenth of its cells or more are figures;
 *   3. the longest run of lines that look like data with one number of cells is the table: the
 *      delimiter whose run is longest, and most purely figures, wins;
 *   4. above it stand, perhaps, a row of units and a header; all before is preamble (table_heads.c);
 *   5. the decimal mark and the marks between thousands are settled (table_marks.c);
 *   6. what most cells of a column hold is its content. */
#include "base/error.h"
#include "base/language.h"
#include "base/node.h"
#include "base/table_parts.h"
#include <string.h>

EW_MESSAGE(month_first, "base.table-month-first", EW_NOTE,
           "dates are read month first: one has a day above 12 in second place");
EW_MESSAGE_MANY(
    figures_above, "base.table-figures-above", EW_NOTE,
    "{count} line of figures above the table was left out: the table begins in line {line}",
    "{count} lines of figures above the table were left out: the table begins in line "
    "{line}");

#define MOST_COLUMNS 20000

static void column_free(struct ew_column *column) {
  g_free(column->name);
  g_free(column->unit);
  g_free(column);
}

void ew_table_layout_free(struct ew_table_layout *layout) {
  if (!layout)
    return;
  g_ptr_array_unref(layout->columns);
  g_ptr_array_unref(layout->preamble);
  g_ptr_array_unref(layout->notes);
  g_free(layout);
}

struct ew_table_layout *ew_table_layout_empty(gsize columns) {
  struct ew_table_layout *layout = g_new0(struct ew_table_layout, 1);
  layout->encoding = "UTF-8";
  layout->columns = g_ptr_array_new_with_free_func((GDestroyNotify)column_free);
  layout->preamble = g_ptr_array_new_with_free_func(g_free);
  layout->notes = ew_messages_new();
  for (gsize i = 0; i < columns; i++)
    g_ptr_array_add(layout->columns, g_new0(struct ew_column, 1));
  return layout;
}

static void add_cell(GArray *offsets, gsize begin, gsize end) {
  guint pair[2] = {(guint)begin, (guint)end};
  g_array_append_vals(offsets, pair, 2);
}

static guint split_blanks(const char *line, gsize size, GArray *offsets) {
  gsize at = 0;
  while (at < size) {
    while (at < size && (line[at] == ' ' || line[at] == '\t'))
      at++;
    gsize begin = at;
    if (at < size && line[at] == '"') {
      for (at++; at < size && line[at] != '"';)
        at++;
      at = MIN(at + 1, size);
    } else
      while (at < size && line[at] != ' ' && line[at] != '\t')
        at++;
    if (at > begin)
      add_cell(offsets, begin, at);
  }
  return offsets->len / 2;
}

guint ew_table_split(const char *line, gsize size, char delimiter, GArray *offsets) {
  g_array_set_size(offsets, 0);
  if (delimiter == ' ')
    return split_blanks(line, size, offsets);
  if (delimiter == 0) {
    add_cell(offsets, 0, size);
    return 1;
  }
  gsize begin = 0;
  gboolean quoted = FALSE;
  for (gsize i = 0; i < size; i++) {
    if (line[i] == '"')
      quoted = !quoted;
    else if (line[i] == delimiter && !quoted) {
      add_cell(offsets, begin, i);
      begin = i + 1;
    }
  }
  add_cell(offsets, begin, size);
  return offsets->len / 2;
}

/* The share of figures among the cells that are not empty; 0 when the line is not data. */
static double data_share(const struct ew_line *line, const struct ew_trial *trial, GArray *offsets,
                         guint *cells) {
  *cells = ew_table_split(line->text, line->size, trial->delimiter, offsets);
  guint figures = 0, words = 0;
  for (guint i = 0; i < *cells && i < 400; i++) {
    gsize size;
    const char *cell = ew_cell_of(line->text, offsets, i, &size);
    struct ew_cell_style style = {.decimal = trial->decimal};
    double value;
    enum ew_cell_kind kind = ew_cell_read(cell, size, style, &value);
    if (kind == EW_CELL_TEXT) { /* 7/23/2010 is a date the other way round */
      style.month_first = TRUE;
      kind = ew_cell_read(cell, size, style, &value);
    }
    words += kind == EW_CELL_TEXT;
    figures += kind != EW_CELL_TEXT && kind != EW_CELL_EMPTY;
  }
  return figures == 0 ? 0 : (double)figures / (figures + words);
}

/* Lines that look like data with one number of cells. */
struct run {
  guint first, last, count, cells;
  double shares;
};

static gboolean stands_above(const GArray *lines, guint first, const struct ew_line *line) {
  for (guint back = 1; back <= 2 && back <= first; back++) {
    const struct ew_line *above = &g_array_index(lines, struct ew_line, first - back);
    if (above->size == line->size && memcmp(above->text, line->text, line->size) == 0)
      return TRUE;
  }
  return FALSE;
}

/* The line above is as wide and all words: a header. */
static gboolean under_header(const GArray *lines, guint first, guint wanted,
                             const struct ew_trial *trial, GArray *offsets) {
  const struct ew_line *above = first ? &g_array_index(lines, struct ew_line, first - 1) : NULL;
  guint cells;
  return above && above->size > 0 && data_share(above, trial, offsets, &cells) == 0 &&
         cells == wanted;
}

/* A note, a ragged row or the same header again interrupt a table for a few lines; another header
 * begins another table. */
static gboolean resumes(const GArray *lines, const struct run *back, guint line_number, guint cells,
                        const struct ew_trial *trial, GArray *offsets) {
  if (back->count == 0 || back->cells != cells || line_number - back->last > 6)
    return FALSE;
  if (back->count < 5 && !under_header(lines, back->first, cells, trial, offsets))
    return FALSE;
  for (guint k = back->last + 1; k < line_number; k++) {
    const struct ew_line *line = &g_array_index(lines, struct ew_line, k);
    if (line->size > 0 &&
        ew_table_split(line->text, line->size, trial->delimiter, offsets) == cells &&
        !stands_above(lines, back->first, line))
      return FALSE;
  }
  return TRUE;
}

static void try_delimiter(const GArray *lines, struct ew_trial *trial, GArray *offsets) {
  struct run now = {0}, back = {0};
  for (guint i = 0; i < lines->len; i++) {
    const struct ew_line *line = &g_array_index(lines, struct ew_line, i);
    guint cells = 0;
    double share = line->size ? data_share(line, trial, offsets, &cells) : 0;
    /* words apart by blanks are mostly prose */
    gboolean data = share >= (trial->delimiter == ' ' ? 0.34 : 0.1);
    if (line->size == 0)
      continue; /* a blank line inside the table is nothing */
    if (now.count > 0 && (!data || cells != now.cells)) {
      if (now.count > back.count || i - back.last > 6)
        back = now;
      now = (struct run){0};
    }
    if (!data)
      continue;
    if (now.count == 0)
      now = resumes(lines, &back, i, cells, trial, offsets)
                ? back
                : (struct run){.first = i, .cells = cells};
    now.count++;
    now.last = i;
    now.shares += share;
    double purity = now.shares / now.count;
    double trust = trial->delimiter == ' ' ? purity * purity * purity : purity;
    double score = now.count * trust * (cells > 1 ? 1 : 0.3);
    if (score > trial->score)
      trial->score = score, trial->first = now.first, trial->run = now.count, trial->cells = cells;
  }
}

static GArray *split_lines(const char *head, gsize size, gboolean whole) {
  GArray *lines = g_array_new(FALSE, FALSE, sizeof(struct ew_line));
  const char *at = head, *end = head + size;
  while (at < end && lines->len < 3000) {
    const char *stop = memchr(at, '\n', (gsize)(end - at));
    if (!stop && !whole && lines->len > 0)
      break; /* cut by the head's size */
    const char *next = stop ? stop + 1 : end;
    if (!stop)
      stop = end;
    while (stop > at && (stop[-1] == '\r' || stop[-1] == ' '))
      stop--;
    struct ew_line line = {at, (gsize)(stop - at)};
    g_array_append_val(lines, line);
    at = next;
  }
  return lines;
}

/* What most cells of each column hold, from the lines of the run. */
static void settle_content(struct ew_table_layout *layout, const GArray *lines,
                           const struct ew_trial *trial, GArray *offsets) {
  guint columns = layout->columns->len, ambiguous = 0;
  g_autofree guint *counts = g_new0(guint, (gsize)columns * 5);
  for (guint i = trial->first; i < lines->len && i < trial->first + 400; i++) {
    const struct ew_line *line = &g_array_index(lines, struct ew_line, i);
    guint cells = ew_table_split(line->text, line->size, trial->delimiter, offsets);
    for (guint c = 0; c < MIN(cells, columns); c++) {
      const struct ew_column *column = g_ptr_array_index(layout->columns, c);
      struct ew_cell_style style = {layout->decimal, column->group, FALSE}, other = style;
      other.month_first = TRUE;
      gsize size;
      const char *cell = ew_cell_of(line->text, offsets, c, &size);
      double value;
      enum ew_cell_kind kind = ew_cell_read(cell, size, style, &value);
      if (kind == EW_CELL_TEXT && ew_cell_read(cell, size, other, &value) == EW_CELL_DATE) {
        layout->month_first = TRUE;
        kind = EW_CELL_DATE;
      }
      g_assert(kind <= EW_CELL_TEXT);
      counts[c * 5 + kind]++;
    }
  }
  for (guint c = 0; c < columns; c++) {
    struct ew_column *column = g_ptr_array_index(layout->columns, c);
    const guint *count = &counts[c * 5];
    column->content = EW_CELL_NUMBER;
    for (int kind = EW_CELL_CLOCK; kind <= EW_CELL_TEXT; kind++)
      if (count[kind] > count[column->content])
        column->content = (enum ew_cell_kind)kind;
    ambiguous += column->content == EW_CELL_DATE;
  }
  if (ambiguous && layout->month_first)
    ew_messages_add(layout->notes, ew_message_plain(&month_first));
}

/* A text with a place for the file's name; NULL: nothing against it. */
static const char *refuse_binary(const char *head, gsize size) {
  static const struct {
    const char *begins, *is;
  } kinds[] = {
      {"PK\003\004",
       EW_TEXT(
           "%s: this is a zip archive or a spreadsheet: save the sheet as CSV text and give that")},
      {"\x1f\x8b", EW_TEXT("%s: this is a gzip archive: unpack it first")},
      {"%PDF", EW_TEXT("%s: this is a PDF document: export the readings as CSV text")},
      {"\xd0\xcf\x11\xe0",
       EW_TEXT("%s: this is an old spreadsheet: save the sheet as CSV text and give that")},
      {"\x89PNG", EW_TEXT("%s: this is a picture, not a table of readings")},
      {"\xff\xd8\xff", EW_TEXT("%s: this is a picture, not a table of readings")},
      {"SQLite format 3", EW_TEXT("%s: this is a database; a book is opened, not added")},
      {"\x7f"
       "ELF",
       EW_TEXT("%s: this is a program, not a table of readings")},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(kinds); i++)
    if (size >= strlen(kinds[i].begins) &&
        memcmp(head, kinds[i].begins, strlen(kinds[i].begins)) == 0)
      return kinds[i].is;
  gsize odd = 0, looked = MIN(size, 65536);
  for (gsize i = 0; i < looked; i++)
    odd += ((guchar)head[i] < 32 && !strchr("\t\r\n\f\x1a", head[i])) || head[i] == 0 ||
           head[i] == 127;
  return odd * 50 > looked || (looked > 0 && head[0] == 0)
             ? EW_TEXT("%s: this is binary data, not lines of text")
             : NULL;
}

/* YAML and JSON are for people and programs; their lines of "key: figure" would pass for a table. */
static const char *refuse_document(const char *head, gsize size) {
  gsize at = 0;
  while (at < size && (g_ascii_isspace(head[at]) || head[at] == '#')) {
    const char *stop = head[at] == '#' ? memchr(head + at, '\n', size - at) : NULL;
    at = head[at] != '#' ? at + 1 : stop ? (gsize)(stop - head) : size;
  }
  const char *stop = memchr(head + at, '\n', size - at);
  g_autofree char *first = g_strndup(head + at, stop ? (gsize)(stop - head) - at : size - at);
  if (!strchr("[{", *first) && !strstr(first, ": ") && !g_str_has_suffix(g_strchomp(first), ":") &&
      !g_str_has_prefix(first, "- ") && !g_str_has_prefix(first, "---"))
    return NULL;
  g_autoptr(ew_node) root = ew_node_parse("", head, size, NULL);
  gboolean map = root && root->kind == EW_NODE_MAP, list = root && root->kind == EW_NODE_LIST;
  for (guint i = 0; list && i < root->children->len; i++)
    list = ((struct ew_node *)g_ptr_array_index(root->children, i))->kind != EW_NODE_SCALAR;
  if (!map && !list)
    return NULL;
  return strchr("[{", *first)
             ? EW_TEXT("%s: this is JSON, not a table of readings: save the readings as CSV text "
                       "and give "
                       "that")
             : EW_TEXT("%s: this is YAML, not a table of readings: engines, cells, methods and "
                       "channel maps have commands and screens of their own");
}

static struct ew_trial best_trial(const GArray *lines, GArray *offsets) {
  static const struct ew_trial trials[] = {
      {.delimiter = '\t', .decimal = '.'}, {.delimiter = ';', .decimal = '.'},
      {.delimiter = ',', .decimal = '.'},  {.delimiter = '|', .decimal = '.'},
      {.delimiter = '\t', .decimal = ','}, {.delimiter = ';', .decimal = ','},
      {.delimiter = ' ', .decimal = '.'},  {.delimiter = ' ', .decimal = ','},
      {.delimiter = 0, .decimal = '.'},    {.delimiter = 0, .decimal = ','},
      {.delimiter = ',', .decimal = ','}, /* cells in quotes */
  };
  struct ew_trial best = {0};
  for (gsize i = 0; i < G_N_ELEMENTS(trials); i++) {
    struct ew_trial trial = trials[i];
    try_delimiter(lines, &trial, offsets);
    if (trial.score > best.score * 1.02)
      best = trial;
  }
  if (best.cells == 1)
    best.delimiter = 0;
  g_assert(best.first + best.run <= lines->len);
  return best;
}

static gboolean refuse_layout(const char *name, const struct ew_trial *best, guint lines,
                              GError **error) {
  if (best->cells > MOST_COLUMNS)
    return ew_refuse(error, "%s: %u columns; the most that are read is %d", name, best->cells,
                     MOST_COLUMNS);
  if (best->score == 0)
    return ew_refuse(
        error,
        "%s: no table found in %u lines: none has figures separated by commas, semicolons, "
        "tabs or blanks",
        name, lines);
  return TRUE;
}

/* `what` is a text of this file with one place for the name; NULL: nothing is in it. */
static void refuse_content(const char *name, const char *what, GError **error) {
  g_autoptr(GString) text = g_string_new(ew_tr(what ? what : EW_TEXT("%s: the file is empty")));
  g_string_replace(text, "%s", name, 1);
  g_set_error_literal(error, EW_ERROR, EW_ERROR_INPUT, text->str);
}

struct ew_table_layout *ew_table_sniff(const char *head, gsize size, gboolean whole,
                                       const char *name, GError **error) {
  const char *binary = refuse_binary(head, size);
  if (!binary && whole && size > 0)
    binary = refuse_document(head, size);
  if (binary || size == 0) {
    refuse_content(name, binary, error);
    return NULL;
  }
  g_autoptr(GArray) lines = split_lines(head, size, whole);
  g_autoptr(GArray) offsets = g_array_new(FALSE, FALSE, sizeof(guint));
  struct ew_trial best = best_trial(lines, offsets);
  if (!refuse_layout(name, &best, lines->len, error))
    return NULL;
  g_assert(best.cells > 0);
  struct ew_table_layout *layout = ew_table_layout_empty(best.cells);
  layout->delimiter = best.delimiter;
  layout->decimal = best.decimal;
  layout->data_line = best.first + 1;
  guint before = ew_table_read_heads(layout, lines, &best, offsets), figures = 0;
  ew_table_settle_marks(layout, lines, &best, offsets);
  settle_content(layout, lines, &best, offsets);
  for (guint i = 0; i < before; i++) {
    guint cells;
    double share = data_share(&g_array_index(lines, struct ew_line, i), &best, offsets, &cells);
    figures += share > 0.6 && cells == best.cells;
  }
  if (figures)
    ew_messages_add(layout->notes, ew_message(&figures_above, ew_say_count("count", figures),
                                              ew_say_count("line", layout->data_line)));
  return layout;
}
