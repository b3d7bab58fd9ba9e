/* What a report shows of its pulls, computed once for paper and for the page that is sent: their mean over
 * the speeds that all of them have, and the table's columns. */
#pragma once
#include "sheet/report.h"

/* Figures in the report's units; `low` and `high` bound torque by its expanded uncertainty. */
struct ew_report_mean {
  gsize points;
  double *speed, *torque, *power, *low, *high;
};
struct ew_report_mean ew_report_mean_of(const struct ew_report *report);
void ew_report_mean_clear(struct ew_report_mean *mean);

struct ew_report_column {
  const char *head;
  const char *name; /* as it is asked for */
  const char *key;  /* of a curve's column; NULL for the first three */
  enum ew_kind kind;
  int decimals;
  gboolean usual;    /* shown when nobody asks for columns */
  gboolean customer; /* on the customer's page too, then */
  int index;         /* of several, from 1; 0: the first */
};
#define EW_REPORT_ROWS          24 /* of the appendix's table, at most */
#define EW_REPORT_ROWS_CUSTOMER 9
/* The columns of the table for that reader, in order: struct ew_report_column; the caller frees the array. */
GArray *ew_report_columns_for(const struct ew_report *report, enum ew_report_reader reader);
const char *ew_report_column_unit(const struct ew_report_column *column,
                                  enum ew_unit_system units); /* "-" of a pure figure */
/* The cell of row `j`, as printed. */
char *ew_report_cell(const struct ew_report *report, const struct ew_report_mean *mean, gsize j,
                     const struct ew_report_column *column);
/* Which points of the curve make a row (guint), `most` at most: those at round speeds, else evenly. */
GArray *ew_report_rows(const struct ew_report_mean *mean, guint most);
/* What lines, dots and band of the plot are. */
char *ew_report_caption(const struct ew_report *report);
