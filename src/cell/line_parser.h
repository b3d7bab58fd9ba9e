/* Text lines from a logger, as they arrive in pieces: a header line with names and units, perhaps a
 * row of units, then rows.
 *
 * Delimiter: tab, ';', ',' or blanks, whichever a header uses. Units stand in [] or () behind the
 * names, or in a row of their own. With ';' or tab a decimal comma is understood. A line that starts
 * with '#' is an answer or a remark.
 *
 *            words                       a row fits it
 *   NOTHING -------> candidates (4) ------------------------> IN FORCE --+ rows that fit
 *                                                               |  ^      <-+
 *                       words -> candidates beside it <---------+  |
 *                       dropped at the next row that fits the old; a row that fits the new and not the
 *                       old (three in turn when it reads like a greeting) puts it in force
 *
 * Every line of words is judged for itself, its delimiter included: a greeting, a remark or noise does
 * not stand for the header. A header that more than half is known here (names, units) goes before one
 * in force of the same width; any other does not. After a break the header in force counts for rows that
 * fit it until another comes. Three changes in half a minute, and the next is asked for fifty rows in
 * turn: rubbish makes no recordings.
 *
 * A line over 64 kB, one that fits no header, or one with no figure is counted as garbage and told once a
 * second. When fewer than half of the lines of two seconds are rows, it is reported that rows cannot be
 * read, and again when they can. The same time and figures as the row before are no other row. The
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
void ew_line_parser_feed(struct ew_line_parser *parser, const char *bytes, gsize size,
                         double arrival_s, const struct ew_source_sink *sink);
/* What begins with '#' is a remark then, and no reply: it is not told. */
void ew_line_parser_of_file(struct ew_line_parser *parser);
/* A last line without a line end counts. */
void ew_line_parser_end(struct ew_line_parser *parser, double arrival_s,
                        const struct ew_source_sink *sink);
/* The connection broke: the unfinished line is forgotten, and what comes next may be another sender. */
void ew_line_parser_break(struct ew_line_parser *parser);
