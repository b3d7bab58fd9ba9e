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
  const char *key; /* of a curve's column; NULL for the first three */
  enum ew_kind kind;
  int decimals;
};
extern const struct ew_report_column ew_report_columns[];
extern const gsize ew_report_columns_count;
/* Does any pull have this column? */
gboolean ew_report_has(const struct ew_report *report, const struct ew_report_column *column);
/* The cell of row `j`, as printed; and how many points of the curve make a row, so that 24 rows do. */
char *ew_report_cell(const struct ew_report *report, const struct ew_report_mean *mean, gsize j,
                     const struct ew_report_column *column);
gsize ew_report_stride(const struct ew_report_mean *mean);
/* What lines, dots and band of the plot are. */
char *ew_report_caption(const struct ew_report *report);
