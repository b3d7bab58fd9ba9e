/* Lines of parts and labour: of the shop's price table, of a quote, of a change, of an order, of what has come.
 *
 * Read from a table with a head, comma, semicolon or tab between the cells, as a spreadsheet saves it, and written as one. The
 * columns are named as below in any order; what is not named so is refused. */
#pragma once
#include <glib.h>

#define EW_JOB_LINES_MOST 20000 /* of one table */

struct ew_job_line {
  char *code, *name, *unit;         /* the shop's own code; NULL unit: a piece */
  char *tax;                        /* as text: nothing is worked out from it; NULL: not stated */
  char *supplier, *supplier_number; /* of parts; NULL: not stated */
  gboolean labour;
  int days;        /* to deliver; -1: not stated */
  gint64 price;    /* of one, in ten thousandths (job/decimal.h) */
  gint64 quantity; /* in ten thousandths; a change may take away */
};

enum ew_job_lines_kind {
  EW_JOB_LINES_PRICES, /* code, name, price; each code once, no quantity */
  EW_JOB_LINES_WANTED, /* code, quantity */
  EW_JOB_LINES_WHOLE   /* as ew_job_lines_write wrote them */
};

/* Of struct ew_job_line, which the array clears. *currency (may be NULL, then such a column is refused): of the
 * column of that name, which says the same in each line; NULL without one. Errors name the line. NULL with *error. O(n). */
GArray *ew_job_lines_read(const char *text, gsize size, const char *where,
                          enum ew_job_lines_kind kind, char **currency, GError **error);
/* All columns, in ours: the same lines have the same text. To be freed. */
char *ew_job_lines_write(const GArray *lines);
/* A price table as people edit it: every text that a spreadsheet would run gets an apostrophe. To be freed. */
char *ew_job_prices_write(const GArray *lines, const char *currency);
GArray *ew_job_lines_new(void);
void ew_job_line_copy(const struct ew_job_line *from, struct ew_job_line *to);
/* By code, without case; NULL: there is none. O(n). */
const struct ew_job_line *ew_job_line_of(const GArray *lines, const char *code);
/* price x quantity, to a cent. */
gint64 ew_job_line_sum(const struct ew_job_line *line);

/* A cell of such a table as it is written: in quotes where it needs them. A text that a spreadsheet would take for a formula
 * gets an apostrophe before it. */
void ew_csv_append(GString *text, const char *cell, gboolean first);
