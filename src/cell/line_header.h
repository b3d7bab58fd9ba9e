/* One line of words from a logger, read as a header: names, units, the column of time, and how much of it
 * is known here, by which a header is told from a greeting. */
#pragma once
#include "base/units.h"
#include "cell/source.h"

struct ew_line_header {
  char delimiter;
  guint columns;                      /* with the time column */
  struct ew_source_channels channels; /* without it */
  gint time_column;                   /* -1: none */
  char *time_name;
  struct ew_unit time_unit;
  gboolean has_units, clean; /* clean: UTF-8 */
  guint known;               /* columns whose name or unit is known here */
  guint fits;                /* rows in turn that fit it, and not the one in force */
};
typedef struct ew_line_header ew_line_header;

/* The delimiter that a line seems to use, and its cells by one: pairs of guint, from and behind. */
char ew_line_delimiter(const char *line, gsize size);
guint ew_line_split(const char *line, gsize size, char delimiter, GArray *cells);
/* NaN for an empty cell and for one that is not a number; `readable` tells them apart. */
double ew_line_figure(const char *text, gsize size, gboolean comma, gboolean *readable);
/* How many cells are numbers; `empty`: how many are blank. */
guint ew_line_figures(const char *line, const GArray *cells, char delimiter, guint *empty);
/* Whether any cell of this line is a number: a row, and no header. */
gboolean ew_line_has_figures(const char *line, gsize size);

/* `named` FALSE: the line is a row of figures, and the columns are numbered. */
struct ew_line_header *ew_line_header_read(const char *line, const GArray *cells, char delimiter,
                                           gboolean named);
void ew_line_header_free(struct ew_line_header *header);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_line_header, ew_line_header_free)
/* The same names again, and units where the line gives any. */
gboolean ew_line_header_same(const struct ew_line_header *header, const char *line,
                             const GArray *cells);
/* More than half of its columns are known here: no greeting reads like that. */
gboolean ew_line_header_strong(const struct ew_line_header *header);
/* Whether this line is the row of units below the header, which it then takes. */
gboolean ew_line_header_units(struct ew_line_header *header, const char *line, const GArray *cells,
                              char delimiter);
