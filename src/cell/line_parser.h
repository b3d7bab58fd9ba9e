/* Text lines from a logger, as they arrive in pieces: a header line with names and units, perhaps a
 * row of units, then rows.
 *
 * Delimiter: tab, ';', ',' or blanks, whichever the header uses. Units stand in [] or () behind the
 * names, or in a row of their own. With ';' or tab a decimal comma is understood. A line that starts
 * with '#' is an answer or a remark. A line over 64 kB, with another number of cells than the
 * header, or with no figure, is counted as garbage and told once a second. A header in the middle of
 * the stream is told: the same again as a restart of the sender, another one as new channels. The
 * buffer never grows beyond one line, whatever arrives. */
#pragma once
#include "cell/source.h"

#define EW_LINE_MOST         65536
#define EW_LINE_CHANNELS_MAX 4096

struct ew_line_parser; /* opaque */
typedef struct ew_line_parser ew_line_parser;

struct ew_line_counts {
  guint64 rows, garbage, repeated, remarks, unreadable;
};

struct ew_line_parser *ew_line_parser_new(void);
void ew_line_parser_free(struct ew_line_parser *parser);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_line_parser, ew_line_parser_free)
/* Whether any cell of this line is a number: a row, and no header. */
gboolean ew_line_has_figures(const char *line, gsize size);
void ew_line_parser_feed(struct ew_line_parser *parser, const char *bytes, gsize size,
                         double arrival_s, const struct ew_source_sink *sink);
/* The connection broke: the unfinished line is forgotten. With `end` a last line without a line end
 * counts. */
void ew_line_parser_break(struct ew_line_parser *parser, gboolean end, double arrival_s,
                          const struct ew_source_sink *sink);
