/* What the files that understand a table share: table_sniff.c (where it is), table_heads.c (what its columns are
 * called) and table_marks.c (which mark is the decimal one). Not for other rooms. */
#pragma once
#include "base/table.h"

struct ew_line {
  const char *text;
  gsize size;
};

/* One way to read the lines: with this delimiter and decimal mark, the table begins at line `first` (from 0), has
 * `cells` cells, and `run` lines that look like it. */
struct ew_trial {
  char delimiter, decimal;
  guint first, run, cells;
  double score;
};

/* Cell `index` of a line that ew_table_split cut. */
static inline const char *ew_cell_of(const char *line, const GArray *offsets, guint index,
                                     gsize *size) {
  guint begin = g_array_index(offsets, guint, 2 * index),
        end = g_array_index(offsets, guint, 2 * index + 1);
  *size = end - begin;
  return line + begin;
}

/* Header, row of units and preamble above `trial->first`: names and units of layout->columns, and its three line
 * numbers. Returns the index of the first line that is neither preamble nor blank. */
guint ew_table_read_heads(struct ew_table_layout *layout, const GArray *lines,
                          const struct ew_trial *trial, GArray *offsets);

/* Decides layout->decimal and each column's thousands mark from the cells of the first lines, and notes what
 * another reading would have been. */
void ew_table_settle_marks(struct ew_table_layout *layout, const GArray *lines,
                           const struct ew_trial *trial, GArray *offsets);

/* UTF-8, with so many columns that have neither name nor content, and nothing else. */
struct ew_table_layout *ew_table_layout_empty(gsize columns);

/* The layout of a table as ew_frames_text writes it, with these headings and without a row yet. */
struct ew_table_layout *ew_table_layout_new(char *const *headings, gsize count);
