/* Gathers a test report from the book. */
#pragma once
#include "desk/question.h"
#include "desk/sheet_head.h"
#include "sheet/report.h"

#define EW_REPORT_PHOTO_BYTES ((gsize)12 << 20) /* of all photos in one file to send */

struct ew_report_options {
  struct ew_sheet_options sheet;
  const char *pulls;  /* ids; NULL: the last like pulls that stand */
  const char *engine; /* NULL: that of the pulls, else the one in the cell */
  guint despite;      /* what pulls named may differ in on purpose (judge/comparable.h) */
  enum ew_report_reader reader;
  const char *columns; /* of the table: "lambda,afr"; NULL: the usual ones */
  const char *
      standard; /* another factor for this sheet alone; NULL: as kept. A pull in the book stays as it is */
  const char *photos; /* ids of attached pictures for one of HTML: "3,4"; or NULL */
};
gboolean ew_make_report(struct ew_desk *desk, const struct ew_report_options *options,
                        GError **error);
