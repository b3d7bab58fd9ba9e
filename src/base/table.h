/* Any plain text table that a data logger or a spreadsheet writes, read without being told how.
 *
 * A table is lines of cells with one delimiter; around it there may be a preamble, a header, a row
 * of units, side notes and a trailer. The layout reports what was understood and what was
 * not: its columns with names, units and counts, and its notes as messages.
 *
 * One pass, a fixed amount of memory in ew_table_stream whatever the size; numbers have the bits of
 * strtod. Refuses: no table found, binary data, a line over 4 MB, more than 20,000 columns. */
#pragma once
#include "base/message.h"
#include "base/table_cell.h"
#include <gio/gio.h>

struct ew_column {
  char *name;                /* as the header has it; "column 3" when it has none */
  char *unit;                /* as the header or the units row has it; NULL when it has none */
  enum ew_cell_kind content; /* NUMBER, CLOCK, DATE or TEXT */
  char group;                /* '.' or ',' when that mark stands between its thousands, else 0 */
  gsize values, missing, unreadable;
};

struct ew_table_layout {
  const char *encoding; /* "UTF-8", "UTF-16LE", "UTF-16BE", "Windows-1252" */
  char delimiter;       /* ',' ';' '\t' '|' ' ' (runs of blanks) or 0 (one column) */
  char decimal;         /* '.' or ',' */
  gboolean month_first;
  guint header_line, units_line, data_line; /* from 1; 0 when there is none */
  GPtrArray *columns;                       /* struct ew_column* */
  GPtrArray *preamble;                      /* char*, lines before the header */
  GPtrArray *notes;                         /* ew_message*, what a person should know */
};
void ew_table_layout_free(struct ew_table_layout *layout);

/* Takes `rows` rows, row-major, NaN where a cell has no number. Returns FALSE to stop. */
typedef gboolean (*ew_table_sink)(const struct ew_table_layout *layout, const double *values,
                                  gsize rows, gpointer user, GError **error);

/* Read a stream to its end. `name` is used in messages. The layout is complete at the return. */
struct ew_table_layout *ew_table_stream(GInputStream *input, const char *name, ew_table_sink sink,
                                        gpointer user, GError **error);

/* A whole table in memory: column-major, columns[c][row]. Of rows that are at hand elsewhere (table_frames.h) a column is NULL until
 * it is asked for. */
struct ew_table {
  struct ew_table_layout *layout;
  gsize rows;
  double **columns;
  const struct ew_frames
      *frames; /* NULL: it was read from a file, and has all its columns. Not owned */
};
/* The columns that are wanted, one boolean a column. FALSE with *error: its rows could not be read. */
gboolean ew_table_fill(struct ew_table *table, const gboolean *wanted, GError **error);
struct ew_table *ew_table_read_bytes(const void *bytes, gsize size, const char *name,
                                     GError **error);
void ew_table_free(struct ew_table *table);

/* The layout of a file as it lies on disk, from its first 256 kB: the same columns as reading all of it gives,
 * whatever its encoding and line ends. */
struct ew_table_layout *ew_table_look(const void *bytes, gsize size, const char *name,
                                      GError **error);

/* Used by ew_table_stream: understand the table from its first bytes (UTF-8 or single bytes, lines ended by LF). */
struct ew_table_layout *ew_table_sniff(const char *head, gsize size, gboolean whole,
                                       const char *name, GError **error);
/* Split a line into cells (offsets in pairs: begin, end). Returns the number of cells. */
guint ew_table_split(const char *line, gsize size, char delimiter, GArray *offsets);
