/* What stands above a table: the names of its columns, their units (in the heading or in a row of their own), and the
 * lines before. A heading that says "no unit" gives none; a unit that says how a clock is written is kept as text,
 * and who reads the column's content knows that it needs none. */
#include "base/table_parts.h"
#include "base/units.h"
#include <string.h>

EW_MESSAGE(name_twice, "base.table-name-twice", EW_NOTE,
           "two columns are called '{name}': the second is read as '{other}'");

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

/* Is there no unit in it? Loggers write a dash or a word where a figure has none. */
static gboolean says_no_unit(const char *text) {
  static const char *const words[] = {"",    "-",    "--",       "---",           "–",  "—",
                                      "n/a", "none", "unitless", "dimensionless", "./."};
  for (gsize i = 0; i < G_N_ELEMENTS(words); i++)
    if (g_ascii_strcasecmp(text, words[i]) == 0)
      return TRUE;
  return FALSE;
}

/* "h:m:s", "hh:mm:ss.fff", "dd.mm.yyyy": how a clock or a date is written, in the place of a unit. */
static gboolean says_clock_format(const char *text) {
  guint colons = 0, marks = 0, letters = 0;
  for (const char *c = text; *c; c++) {
    colons += *c == ':';
    marks += strchr("./-", *c) != NULL;
    letters += strchr("hmsfdyaptHMSFDYAPT", *c) != NULL;
    if (!strchr(":./-, _0hmsfdyaptHMSFDYAPT", *c))
      return FALSE;
  }
  return letters > 1 && (colons > 0 || marks > 1);
}

/* The unit that a heading or a row of units writes, without its brackets; NULL when it says that there is none. */
static char *unit_in(const char *text) {
  g_autofree char *unit = g_strstrip(g_strdup(text));
  gsize length = strlen(unit);
  if (length > 1 &&
      ((*unit == '[' && unit[length - 1] == ']') || (*unit == '(' && unit[length - 1] == ')'))) {
    unit[length - 1] = ' ';
    *unit = ' ';
    g_strstrip(unit);
  }
  return says_no_unit(unit) ? NULL : g_steal_pointer(&unit);
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

/* "A/F": a ratio of two things, not a name with its unit. */
static gboolean is_ratio(const char *name) {
  return g_ascii_strcasecmp(name, "a/f") == 0 || g_ascii_strncasecmp(name, "a/f ", 4) == 0;
}

/* "Speed 1/min", "Fuel lb/hr": the last word is a unit with its own stroke, so the stroke does not part name and unit. */
static gboolean split_at_blank(struct ew_column *column, const char *stroke) {
  char *blank = strrchr(column->name, ' ');
  if (!blank || blank > stroke || blank == column->name)
    return FALSE;
  struct ew_unit unit;
  const char *known = g_str_has_prefix(blank + 1, "1/") ? blank + 3 : blank + 1;
  if (!ew_unit_recognise(known, &unit))
    return FALSE;
  column->unit = g_strdup(blank + 1);
  *blank = 0;
  g_strchomp(column->name);
  return TRUE;
}

/* "Torque [Nm]", "speed (rpm)", "Torque, lb-ft", "torque_Nm": name and unit apart. */
static void split_name_and_unit(struct ew_column *column) {
  char *name = column->name;
  gsize length = strlen(name);
  struct ew_unit unit;
  if (length > 2 && (name[length - 1] == ']' || name[length - 1] == ')')) {
    char *open = strrchr(name, name[length - 1] == ']' ? '[' : '(');
    if (open && open > name) {
      g_autofree char *given = g_strndup(open + 1, (gsize)(name + length - 1 - open - 1));
      column->unit = unit_in(given);
      *open = 0;
      g_strchomp(name);
      return;
    }
  }
  char *mark = strrchr(name, ',');
  if (!mark)
    mark = strrchr(name, '/');
  if (mark && *mark == '/' && split_at_blank(column, mark))
    return;
  if (mark && mark > name && !is_ratio(name) && ew_unit_recognise(mark + 1, &unit)) {
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
  g_assert(index < lines->len);
  const struct ew_line *line = &g_array_index(lines, struct ew_line, index);
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

static gboolean is_units_row(const GArray *lines, guint index, char delimiter, GArray *offsets,
                             struct ew_table_layout *layout) {
  g_assert(index < lines->len);
  const struct ew_line *line = &g_array_index(lines, struct ew_line, index);
  guint cells = cells_of(lines, index, delimiter, offsets), units = 0, words = 0;
  for (guint i = 0; i < cells; i++) {
    gsize size;
    const char *cell = ew_cell_of(line->text, offsets, i, &size);
    g_autofree char *text = clean_text(cell, size, layout), *unit = unit_in(text);
    struct ew_unit known;
    if (!unit)
      continue;
    if (says_clock_format(unit) || ew_unit_recognise(unit, &known))
      units++;
    else
      words++;
  }
  return units > 0 && units >= words;
}

/* Nothing, or nothing behind a comment mark. */
static gboolean blank(const struct ew_line *line) {
  gsize at = 0;
  while (at < line->size && strchr("# \t", line->text[at]))
    at++;
  return at == line->size;
}

/* The index of the line that can be a header of `cells` cells just above `below`, or -1. */
static int header_above(const GArray *lines, guint below, const struct ew_trial *trial,
                        GArray *offsets) {
  int index = (int)below - 1;
  while (index >= 0 && blank(&g_array_index(lines, struct ew_line, (guint)index)))
    index--;
  if (index < 0)
    return -1;
  guint cells = cells_of(lines, (guint)index, trial->delimiter, offsets);
  guint slack = trial->cells > 4 ? 1 : 0;
  return cells + slack >= trial->cells && cells <= trial->cells + slack ? index : -1;
}

/* A heading without a word leaves its column a number. */
static void name_column(struct ew_table_layout *layout, guint index, const char *heading,
                        gsize size) {
  struct ew_column *column = g_ptr_array_index(layout->columns, index);
  column->name = clean_text(heading, size, layout);
  if (*column->name) {
    split_name_and_unit(column);
    return;
  }
  g_free(column->name);
  column->name = g_strdup_printf("column %u", index + 1);
}

static void name_columns(struct ew_table_layout *layout, const GArray *lines, int header, int units,
                         GArray *offsets) {
  const struct ew_line *line =
      header >= 0 ? &g_array_index(lines, struct ew_line, (guint)header) : NULL;
  guint named = header >= 0 ? cells_of(lines, (guint)header, layout->delimiter, offsets) : 0;
  for (guint i = 0; i < layout->columns->len; i++) {
    gsize size = 0;
    const char *cell = i < named ? ew_cell_of(line->text, offsets, i, &size) : "";
    name_column(layout, i, cell, size);
  }
  if (units < 0)
    return;
  line = &g_array_index(lines, struct ew_line, (guint)units);
  guint cells = cells_of(lines, (guint)units, layout->delimiter, offsets);
  for (guint i = 0; i < layout->columns->len && i < cells; i++) {
    struct ew_column *column = g_ptr_array_index(layout->columns, i);
    gsize size;
    const char *cell = ew_cell_of(line->text, offsets, i, &size);
    g_autofree char *text = clean_text(cell, size, layout), *unit = unit_in(text);
    if (unit) {
      g_free(column->unit);
      column->unit = g_steal_pointer(&unit);
    }
  }
}

static void settle_duplicates(struct ew_table_layout *layout) {
  g_autoptr(GHashTable) seen = g_hash_table_new(g_str_hash, g_str_equal);
  for (guint i = 0; i < layout->columns->len; i++) {
    struct ew_column *column = g_ptr_array_index(layout->columns, i);
    if (g_hash_table_contains(seen, column->name)) {
      char *other = g_strdup_printf("%s (column %u)", column->name, i + 1);
      ew_messages_add(layout->notes, ew_message(&name_twice, ew_say_text("name", column->name),
                                                ew_say_text("other", other)));
      g_free(column->name);
      column->name = other;
    }
    g_hash_table_add(seen, column->name);
  }
}

struct ew_table_layout *ew_table_layout_new(char *const *headings, gsize count) {
  struct ew_table_layout *layout = ew_table_layout_empty(count);
  layout->delimiter = ',';
  layout->decimal = '.';
  layout->header_line = 1;
  layout->data_line = 2;
  for (guint i = 0; i < count; i++) {
    struct ew_column *column = g_ptr_array_index(layout->columns, i);
    name_column(layout, i, headings[i], strlen(headings[i]));
    column->content = EW_CELL_NUMBER;
  }
  settle_duplicates(layout);
  return layout;
}

guint ew_table_read_heads(struct ew_table_layout *layout, const GArray *lines,
                          const struct ew_trial *trial, GArray *offsets) {
  int header = header_above(lines, trial->first, trial, offsets), units = -1;
  if (header >= 0 && is_units_row(lines, (guint)header, trial->delimiter, offsets, layout)) {
    int above = header_above(lines, (guint)header, trial, offsets);
    if (above >= 0) {
      units = header;
      header = above;
    }
  }
  layout->header_line = (guint)(header + 1);
  layout->units_line = (guint)(units + 1);
  name_columns(layout, lines, header, units, offsets);
  settle_duplicates(layout);
  guint before = header >= 0 ? (guint)header : trial->first;
  for (guint i = 0; i < before && i < 200; i++) {
    const struct ew_line *line = &g_array_index(lines, struct ew_line, i);
    g_ptr_array_add(layout->preamble, clean_text(line->text, MIN(line->size, 400), layout));
  }
  return before;
}
