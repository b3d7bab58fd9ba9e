/* How a table is understood from its first lines:
 *   1. each delimiter (and decimal mark) that could be is tried on all lines;
 *   2. a line looks like data when a tenth of its cells or more are figures;
 *   3. the longest run of lines that look like data with one number of cells is the table: the
 *      delimiter whose run is longest, and most purely figures, wins;
 *   4. above it stand, perhaps, a row of units and a header; all before is preamble. */
#include "base/error.h"
#include "base/table.h"
#include "base/units.h"
#include <string.h>

#define MOST_COLUMNS 20000

struct line {
  const char *text;
  gsize size;
};

struct trial {
  char delimiter, decimal;
  guint first, run, cells;
  double score;
};

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

/* The share of figures among the cells that are not empty; 0 when the line is no data. */
static double data_share(const struct line *line, const struct trial *trial, GArray *offsets,
                         guint *cells) {
  *cells = ew_table_split(line->text, line->size, trial->delimiter, offsets);
  guint figures = 0, words = 0;
  for (guint i = 0; i < *cells && i < 400; i++) {
    guint begin = g_array_index(offsets, guint, 2 * i),
          end = g_array_index(offsets, guint, 2 * i + 1);
    double value;
    enum ew_cell_kind kind =
        ew_cell_read(line->text + begin, end - begin, trial->decimal, FALSE, &value);
    if (kind == EW_CELL_TEXT) { /* 7/23/2010 is a date the other way round */
      kind = ew_cell_read(line->text + begin, end - begin, trial->decimal, TRUE, &value);
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

static gboolean stands_above(const GArray *lines, guint first, const struct line *line) {
  for (guint back = 1; back <= 2 && back <= first; back++) {
    const struct line *above = &g_array_index(lines, struct line, first - back);
    if (above->size == line->size && memcmp(above->text, line->text, line->size) == 0)
      return TRUE;
  }
  return FALSE;
}

/* The line above is as wide and all words: a header. */
static gboolean under_header(const GArray *lines, guint first, guint wanted,
                             const struct trial *trial, GArray *offsets) {
  const struct line *above = first ? &g_array_index(lines, struct line, first - 1) : NULL;
  guint cells;
  return above && above->size > 0 && data_share(above, trial, offsets, &cells) == 0 &&
         cells == wanted;
}

/* A note, a ragged row or the same header again interrupt a table for a few lines; another header
 * begins another table. */
static gboolean resumes(const GArray *lines, const struct run *back, guint line_number, guint cells,
                        const struct trial *trial, GArray *offsets) {
  if (back->count == 0 || back->cells != cells || line_number - back->last > 6)
    return FALSE;
  if (back->count < 5 && !under_header(lines, back->first, cells, trial, offsets))
    return FALSE;
  for (guint k = back->last + 1; k < line_number; k++) {
    const struct line *line = &g_array_index(lines, struct line, k);
    if (line->size > 0 &&
        ew_table_split(line->text, line->size, trial->delimiter, offsets) == cells &&
        !stands_above(lines, back->first, line))
      return FALSE;
  }
  return TRUE;
}

static void try_delimiter(const GArray *lines, struct trial *trial, GArray *offsets) {
  struct run now = {0}, back = {0};
  for (guint i = 0; i < lines->len; i++) {
    const struct line *line = &g_array_index(lines, struct line, i);
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
  GArray *lines = g_array_new(FALSE, FALSE, sizeof(struct line));
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
    struct line line = {at, (gsize)(stop - at)};
    g_array_append_val(lines, line);
    at = next;
  }
  return lines;
}

static char *clean_text(const char *text, gsize size, struct ew_table_layout *layout) {
  g_autofree char *raw = g_strndup(text, size);
  char *clean = NULL;
  if (!g_utf8_validate(raw, -1, NULL)) {
    clean = g_convert(raw, -1, "UTF-8", "WINDOWS-1252", NULL, NULL, NULL);
    layout->encoding = "Windows-1252";
  }
  if (!clean)
    clean = g_utf8_make_valid(raw, -1);
  g_strstrip(clean);
  gsize length = strlen(clean);
  if (length >= 2 && clean[0] == '"' && clean[length - 1] == '"') {
    memmove(clean, clean + 1, length - 2);
    clean[length - 2] = 0;
    g_strstrip(clean);
  }
  return clean;
}

/* "Nm_as_published": the first word is a unit that can hardly be anything else; the rest is cut. */
static gboolean telling_unit(char *tail) {
  char *end = strchr(tail, '_');
  struct ew_unit unit;
  if (!end)
    return FALSE;
  *end = 0;
  if (strlen(tail) > 1 && ew_unit_recognise(tail, &unit) &&
      (unit.kind == EW_KIND_TORQUE || unit.kind == EW_KIND_ROTATIONAL_SPEED))
    return TRUE;
  *end = '_';
  return FALSE;
}

/* "Torque [Nm]", "speed (rpm)", "Torque, lb-ft", "torque_Nm": name and unit apart. */
static void split_name_and_unit(struct ew_column *column) {
  char *name = column->name;
  gsize length = strlen(name);
  struct ew_unit unit;
  if (length > 2 && (name[length - 1] == ']' || name[length - 1] == ')')) {
    char *open = strrchr(name, name[length - 1] == ']' ? '[' : '(');
    if (open && open > name) {
      column->unit = g_strndup(open + 1, (gsize)(name + length - 1 - open - 1));
      g_strstrip(column->unit);
      *open = 0;
      g_strchomp(name);
      return;
    }
  }
  char *mark = strrchr(name, ',');
  if (!mark)
    mark = strrchr(name, '/');
  if (mark && mark > name && ew_unit_recognise(mark + 1, &unit)) {
    column->unit = g_strstrip(g_strdup(mark + 1));
    *mark = 0;
    g_strchomp(name);
    return;
  }
  for (char *underscore = name; (underscore = strchr(underscore, '_')); underscore++) {
    g_autofree char *tail = g_strdup(underscore + 1);
    if (strlen(tail) > 1 || strchr("FVsKNW", *tail)) {
      char *per = strstr(tail, "_per_");
      g_autofree char *spelled =
          per ? g_strdup_printf("%.*s/%s", (int)(per - tail), tail, per + 5) : g_strdup(tail);
      if (underscore > name && *spelled &&
          (ew_unit_recognise(spelled, &unit) || telling_unit(spelled))) {
        column->unit = g_steal_pointer(&spelled);
        return; /* the name stays whole: it is how the file's owner knows it */
      }
    }
  }
}

static guint cells_of(const GArray *lines, guint index, char delimiter, GArray *offsets) {
  const struct line *line = &g_array_index(lines, struct line, index);
  const char *text = line->text;
  gsize size = line->size;
  if (size > 0 && *text == '#') { /* a header behind a comment mark */
    guint cells = ew_table_split(text + 1, size - 1, delimiter, offsets);
    for (guint i = 0; i < offsets->len; i++)
      g_array_index(offsets, guint, i)++;
    return cells;
  }
  return ew_table_split(text, size, delimiter, offsets);
}

static gboolean is_units_row(const GArray *lines, guint index, char delimiter, GArray *offsets) {
  const struct line *line = &g_array_index(lines, struct line, index);
  guint cells = cells_of(lines, index, delimiter, offsets), units = 0, words = 0;
  for (guint i = 0; i < cells; i++) {
    guint begin = g_array_index(offsets, guint, 2 * i),
          end = g_array_index(offsets, guint, 2 * i + 1);
    g_autofree char *text = g_strndup(line->text + begin, end - begin);
    g_strstrip(text);
    gsize length = strlen(text);
    if (length > 2 && (*text == '[' || *text == '(')) {
      text[length - 1] = ' ';
      *text = ' ';
      g_strstrip(text);
    }
    struct ew_unit unit;
    if (*text && g_utf8_validate(text, -1, NULL) && strcmp(text, "-") != 0) {
      if (ew_unit_recognise(text, &unit))
        units++;
      else
        words++;
    }
  }
  return units > 0 && units >= words;
}

/* Nothing, or nothing behind a comment mark. */
static gboolean blank(const struct line *line) {
  gsize at = 0;
  while (at < line->size && strchr("# \t", line->text[at]))
    at++;
  return at == line->size;
}

/* The index of the line that can be a header of `cells` cells just above `below`, or -1. */
static int header_above(const GArray *lines, guint below, const struct trial *trial,
                        GArray *offsets) {
  int index = (int)below - 1;
  while (index >= 0 && blank(&g_array_index(lines, struct line, (guint)index)))
    index--;
  if (index < 0)
    return -1;
  guint cells = cells_of(lines, (guint)index, trial->delimiter, offsets);
  guint slack = trial->cells > 4 ? 1 : 0;
  return cells + slack >= trial->cells && cells <= trial->cells + slack ? index : -1;
}

static void name_columns(struct ew_table_layout *layout, const GArray *lines, int header, int units,
                         GArray *offsets) {
  const struct line *line = header >= 0 ? &g_array_index(lines, struct line, (guint)header) : NULL;
  guint named = header >= 0 ? cells_of(lines, (guint)header, layout->delimiter, offsets) : 0;
  for (guint i = 0; i < layout->columns->len; i++) {
    struct ew_column *column = g_ptr_array_index(layout->columns, i);
    if (i < named) {
      guint begin = g_array_index(offsets, guint, 2 * i),
            end = g_array_index(offsets, guint, 2 * i + 1);
      column->name = clean_text(line->text + begin, end - begin, layout);
      if (!*column->name)
        g_clear_pointer(&column->name, g_free);
    }
    if (!column->name)
      column->name = g_strdup_printf("column %u", i + 1);
    else
      split_name_and_unit(column);
  }
  if (units < 0)
    return;
  line = &g_array_index(lines, struct line, (guint)units);
  guint cells = cells_of(lines, (guint)units, layout->delimiter, offsets);
  for (guint i = 0; i < layout->columns->len && i < cells; i++) {
    struct ew_column *column = g_ptr_array_index(layout->columns, i);
    guint begin = g_array_index(offsets, guint, 2 * i),
          end = g_array_index(offsets, guint, 2 * i + 1);
    g_autofree char *text = clean_text(line->text + begin, end - begin, layout);
    gsize length = strlen(text);
    if (length > 2 && (*text == '[' || *text == '(')) {
      text[length - 1] = ' ';
      *text = ' ';
      g_strstrip(text);
    }
    if (*text && strcmp(text, "-") != 0) {
      g_free(column->unit);
      column->unit = g_steal_pointer(&text);
    }
  }
}

static void settle_duplicates(struct ew_table_layout *layout) {
  g_autoptr(GHashTable) seen = g_hash_table_new(g_str_hash, g_str_equal);
  for (guint i = 0; i < layout->columns->len; i++) {
    struct ew_column *column = g_ptr_array_index(layout->columns, i);
    if (g_hash_table_contains(seen, column->name)) {
      char *other = g_strdup_printf("%s (column %u)", column->name, i + 1);
      g_ptr_array_add(layout->notes,
                      g_strdup_printf("the name '%s' stands twice: the second is called '%s'",
                                      column->name, other));
      g_free(column->name);
      column->name = other;
    }
    g_hash_table_add(seen, column->name);
  }
}

/* What most cells of each column hold, from the lines of the run. */
static void settle_content(struct ew_table_layout *layout, const GArray *lines,
                           const struct trial *trial, GArray *offsets) {
  guint columns = layout->columns->len, ambiguous = 0;
  g_autofree guint *counts = g_new0(guint, (gsize)columns * 5);
  for (guint i = trial->first; i < lines->len && i < trial->first + 400; i++) {
    const struct line *line = &g_array_index(lines, struct line, i);
    guint cells = ew_table_split(line->text, line->size, trial->delimiter, offsets);
    for (guint c = 0; c < MIN(cells, columns); c++) {
      guint begin = g_array_index(offsets, guint, 2 * c),
            end = g_array_index(offsets, guint, 2 * c + 1);
      double value;
      enum ew_cell_kind kind =
          ew_cell_read(line->text + begin, end - begin, trial->decimal, FALSE, &value);
      if (kind == EW_CELL_TEXT && ew_cell_read(line->text + begin, end - begin, trial->decimal,
                                               TRUE, &value) == EW_CELL_DATE) {
        layout->month_first = TRUE;
        kind = EW_CELL_DATE;
      }
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
    g_ptr_array_add(layout->notes,
                    g_strdup("dates are read month first: a day above 12 stands second"));
}

static const char *refuse_binary(const char *head, gsize size) {
  static const struct {
    const char *begins, *is;
  } kinds[] = {
      {"PK\003\004",
       "a zip archive or a spreadsheet file: save the sheet as CSV text and give that"},
      {"\x1f\x8b", "compressed (gzip): unpack it first"},
      {"%PDF", "a PDF document: export the data as CSV text"},
      {"\xd0\xcf\x11\xe0", "an old spreadsheet file: save the sheet as CSV text and give that"},
      {"\x89PNG", "a picture"},
      {"\xff\xd8\xff", "a picture"},
      {"SQLite format 3", "a database: if it is a book, name it with --book"},
      {"\x7f"
       "ELF",
       "a program"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(kinds); i++)
    if (size >= strlen(kinds[i].begins) &&
        memcmp(head, kinds[i].begins, strlen(kinds[i].begins)) == 0)
      return kinds[i].is;
  gsize odd = 0, looked = MIN(size, 65536);
  for (gsize i = 0; i < looked; i++)
    odd += ((guchar)head[i] < 32 && !strchr("\t\r\n\f\x1a", head[i])) || head[i] == 0 ||
           head[i] == 127;
  return odd * 50 > looked || (looked > 0 && head[0] == 0) ? "binary data, not lines of text"
                                                           : NULL;
}

static struct trial best_trial(const GArray *lines, GArray *offsets) {
  static const struct trial trials[] = {
      {.delimiter = '\t', .decimal = '.'}, {.delimiter = ';', .decimal = '.'},
      {.delimiter = ',', .decimal = '.'},  {.delimiter = '|', .decimal = '.'},
      {.delimiter = '\t', .decimal = ','}, {.delimiter = ';', .decimal = ','},
      {.delimiter = ' ', .decimal = '.'},  {.delimiter = ' ', .decimal = ','},
      {.delimiter = 0, .decimal = '.'},    {.delimiter = 0, .decimal = ','},
  };
  struct trial best = {0};
  for (gsize i = 0; i < G_N_ELEMENTS(trials); i++) {
    struct trial trial = trials[i];
    try_delimiter(lines, &trial, offsets);
    if (trial.score > best.score * 1.02)
      best = trial;
  }
  if (best.cells == 1)
    best.delimiter = 0;
  return best;
}

static gboolean refuse_layout(const char *name, const struct trial *best, guint lines,
                              GError **error) {
  if (best->cells > MOST_COLUMNS)
    return ew_refuse(error, "%s: %u columns, and at most %d are read", name, best->cells,
                     MOST_COLUMNS);
  if (best->score == 0)
    return ew_refuse(error,
                     "%s: no table found in %u lines: none of them holds figures apart by commas, "
                     "semicolons, tabs or blanks",
                     name, lines);
  return TRUE;
}

struct ew_table_layout *ew_table_sniff(const char *head, gsize size, gboolean whole,
                                       const char *name, GError **error) {
  const char *binary = refuse_binary(head, size);
  if (binary || size == 0) {
    ew_refuse(error, "%s: %s%s", name, binary ? "this is " : "the file is empty",
              binary ? binary : "");
    return NULL;
  }
  g_autoptr(GArray) lines = split_lines(head, size, whole);
  g_autoptr(GArray) offsets = g_array_new(FALSE, FALSE, sizeof(guint));
  struct trial best = best_trial(lines, offsets);
  if (!refuse_layout(name, &best, lines->len, error))
    return NULL;
  struct ew_table_layout *layout = g_new0(struct ew_table_layout, 1);
  layout->encoding = "UTF-8";
  layout->delimiter = best.delimiter;
  layout->decimal = best.decimal;
  layout->data_line = best.first + 1;
  layout->columns = g_ptr_array_new_with_free_func((GDestroyNotify)column_free);
  layout->preamble = g_ptr_array_new_with_free_func(g_free);
  layout->notes = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < best.cells; i++)
    g_ptr_array_add(layout->columns, g_new0(struct ew_column, 1));
  int header = header_above(lines, best.first, &best, offsets), units = -1;
  if (header >= 0 && is_units_row(lines, (guint)header, best.delimiter, offsets)) {
    int above = header_above(lines, (guint)header, &best, offsets);
    if (above >= 0) {
      units = header;
      header = above;
    }
  }
  layout->header_line = (guint)(header + 1);
  layout->units_line = (guint)(units + 1);
  name_columns(layout, lines, header, units, offsets);
  settle_duplicates(layout);
  settle_content(layout, lines, &best, offsets);
  guint before = header >= 0 ? (guint)header : best.first, figures = 0;
  for (guint i = 0; i < before && i < 200; i++) {
    const struct line *line = &g_array_index(lines, struct line, i);
    g_ptr_array_add(layout->preamble, clean_text(line->text, MIN(line->size, 400), layout));
  }
  for (guint i = 0; i < before; i++) {
    guint cells;
    double share = data_share(&g_array_index(lines, struct line, i), &best, offsets, &cells);
    figures += share > 0.6 && cells == best.cells;
  }
  if (figures)
    g_ptr_array_add(layout->notes,
                    g_strdup_printf("%u line%s of figures above the table left out: the table "
                                    "begins in line %u",
                                    figures, figures > 1 ? "s" : "", layout->data_line));
  return layout;
}
