/* Which mark is the decimal one, and which stands between thousands.
 *
 * One cell alone may not say: "1.234" is one and a bit, or one thousand and more. What a cell does say:
 *   both marks in it, the last one once   the last is the decimal mark, the other stands between thousands
 *   one mark more than once               it stands between thousands
 *   one mark, and not three figures after it, or a nought or more than three figures before it
 *                                         it is the decimal mark
 *   one mark, else                        perhaps: the column and the file decide
 *   no mark                               below 1,000 or not
 * The file's decimal mark is the one that some cells say for sure. In a column whose cells say no more than
 * "perhaps", the other mark then stands between thousands. When no cell of the file says anything for sure, a
 * column in which figures of 100 and more go on without a mark up to 1,000, and with one above, holds thousands;
 * anything else is read as decimals. What was decided without certainty is noted with both readings. */
#include "base/table_parts.h"
#include <string.h>

EW_MESSAGE(
    read_as_thousands, "base.table-read-as-thousands", EW_CAUTION,
    "column '{column}': '{cell}' is read as {figure}, the mark standing between thousands; if "
    "it is a decimal mark, write the file with one kind of decimal mark");
EW_MESSAGE(read_as_decimal, "base.table-read-as-decimal", EW_CAUTION,
           "column '{column}': '{cell}' is read as {figure}; if the mark stands between thousands, "
           "write the file without it");

#define LINES 400 /* that are looked at: enough for a column to show itself */

enum says { SAYS_NOTHING, SAYS_DECIMAL, SAYS_THOUSANDS, SAYS_PERHAPS };

/* What the cells of one column say of each mark: [0] the point, [1] the comma. */
struct column_says {
  guint decimal[2], thousands[2], perhaps[2];
  guint unmarked, small; /* figures without a mark of 100 and more; of them, those below 1,000 */
  char example[24];      /* the first that says "perhaps" */
};

static const char marks[2] = {'.', ','};

static guint count_of(const char *text, gsize size, char mark) {
  guint count = 0;
  for (gsize i = 0; i < size; i++)
    count += text[i] == mark;
  return count;
}

/* Groups of three with `mark` between, one to three figures and no nought first. */
static gboolean is_grouped(const char *text, gsize size, char mark) {
  const char *at = text, *end = text + size, *stop = memchr(at, mark, size);
  if (!stop || stop == at || stop - at > 3 || *at == '0')
    return FALSE;
  while ((at = stop) < end) {
    stop = memchr(at + 1, mark, (gsize)(end - at - 1));
    stop = stop ? stop : end;
    if (stop - at != 4)
      return FALSE;
  }
  return TRUE;
}

/* What a cell with `mark` in it, and the other mark `others` times, says of `mark`. */
static enum says says_of(const char *text, gsize size, char mark, guint others) {
  guint count = count_of(text, size, mark);
  if (!text || count == 0)
    return SAYS_NOTHING;
  const char *last = memrchr(text, mark, size), *first = memchr(text, mark, size);
  if (others) {
    const char *end = memrchr(text, mark == '.' ? ',' : '.', size);
    if (last > end)
      return count == 1 ? SAYS_DECIMAL : SAYS_NOTHING;
    return is_grouped(text, (gsize)(end - text), mark) ? SAYS_THOUSANDS : SAYS_NOTHING;
  }
  if (count > 1)
    return is_grouped(text, size, mark) ? SAYS_THOUSANDS : SAYS_NOTHING;
  return is_grouped(text, size, mark) || first == text ? SAYS_PERHAPS : SAYS_DECIMAL;
}

static void hear_cell(struct column_says *column, const char *text, gsize size) {
  while (size > 0 && strchr(" \t\r\"+-", *text))
    text++, size--;
  while (size > 0 && strchr(" \t\r\"", text[size - 1]))
    size--;
  if (size == 0 || !g_ascii_isdigit(*text) || size >= sizeof column->example)
    return;
  for (gsize i = 0; i < size; i++)
    if (!g_ascii_isdigit(text[i]) && text[i] != '.' && text[i] != ',')
      return; /* a clock, a date, a word, an exponent */
  const guint counts[2] = {count_of(text, size, '.'), count_of(text, size, ',')};
  if (counts[0] + counts[1] == 0) {
    column->unmarked += size >= 3;
    column->small += size == 3;
    return;
  }
  for (int k = 0; k < 2; k++)
    switch (says_of(text, size, marks[k], counts[!k])) {
    case SAYS_NOTHING: break;
    case SAYS_DECIMAL: column->decimal[k]++; break;
    case SAYS_THOUSANDS: column->thousands[k]++; break;
    case SAYS_PERHAPS:
      if (column->perhaps[0] + column->perhaps[1] == 0) {
        memcpy(column->example, text, size);
        column->example[size] = 0;
      }
      column->perhaps[k]++;
      break;
    }
}

static void hear_all(struct column_says *says, guint columns, const GArray *lines,
                     const struct ew_trial *trial, GArray *offsets) {
  for (guint i = trial->first; i < lines->len && i < trial->first + LINES; i++) {
    const struct ew_line *line = &g_array_index(lines, struct ew_line, i);
    guint cells = ew_table_split(line->text, line->size, trial->delimiter, offsets);
    for (guint c = 0; c < MIN(cells, columns); c++) {
      gsize size;
      const char *cell = ew_cell_of(line->text, offsets, c, &size);
      hear_cell(&says[c], cell, size);
    }
  }
}

/* Figures go on without a mark up to 1,000, and with one above. */
static gboolean shows_thousands(const struct column_says *c, int k) {
  return c->perhaps[k] && c->decimal[k] == 0 && c->small && c->small == c->unmarked;
}

/* The decimal mark of the file: what is said for sure, else what a column shows, else what was tried. */
static int decimal_of(const struct column_says *says, guint columns, int tried, gboolean *sure) {
  guint sure_of[2] = {0, 0};
  int shown = -1;
  for (guint c = 0; c < columns; c++)
    for (int k = 0; k < 2; k++) {
      sure_of[k] += says[c].decimal[k] + says[c].thousands[!k];
      if (shows_thousands(&says[c], k))
        shown = !k;
    }
  *sure = sure_of[0] || sure_of[1] || shown >= 0;
  if (sure_of[0] && sure_of[1])
    return tried; /* a file of both: its columns are read each by itself */
  if (sure_of[0] || sure_of[1])
    return sure_of[1] > 0;
  return shown >= 0 ? shown : tried;
}

static void note_reading(struct ew_table_layout *layout, const struct ew_column *column,
                         const struct column_says *says, gboolean thousands) {
  g_autofree char *digits = g_strdup(says->example);
  char *mark = strpbrk(digits, ".,");
  if (!mark)
    return;
  if (thousands)
    memmove(mark, mark + 1, strlen(mark));
  else
    *mark = '.';
  ew_messages_add(layout->notes,
                  ew_message(thousands ? &read_as_thousands : &read_as_decimal,
                             ew_say_text("column", column->name),
                             ew_say_text("cell", says->example), ew_say_text("figure", digits)));
}

void ew_table_settle_marks(struct ew_table_layout *layout, const GArray *lines,
                           const struct ew_trial *trial, GArray *offsets) {
  guint columns = layout->columns->len;
  g_autofree struct column_says *says = g_new0(struct column_says, columns);
  hear_all(says, columns, lines, trial, offsets);
  gboolean sure;
  int decimal = decimal_of(says, columns, layout->decimal == ',', &sure), other = !decimal;
  layout->decimal = marks[decimal];
  for (guint c = 0; c < columns; c++) {
    struct ew_column *column = g_ptr_array_index(layout->columns, c);
    const struct column_says *here = &says[c];
    if (here->decimal[other] == 0 && (here->thousands[other] || (sure && here->perhaps[other])))
      column->group = marks[other];
    if (here->perhaps[other] && column->group && !here->thousands[other])
      note_reading(layout, column, here, TRUE);
    else if (!sure && here->perhaps[decimal] && decimal == 1)
      note_reading(layout, column, here, FALSE);
  }
}
