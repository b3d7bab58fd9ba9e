/* The paper of a job: the quote with its changes for the customer to sign, and the order list for suppliers, which has neither
 * prices nor the customer. Draws what it is handed. */
#pragma once
#include "job/sums.h"
#include "sheet/flow.h"

enum ew_job_sheet_kind { EW_JOB_SHEET_QUOTE, EW_JOB_SHEET_ORDERS };

struct ew_job_paper {
  struct ew_flow_head head;
  enum ew_unit_system units;
  const struct ew_job *job;
  const struct ew_job_quote
      *quote; /* of the quote: the one to print, with changes where it is the agreed one */
  const char *today;
};
gboolean ew_job_sheet_draw(enum ew_job_sheet_kind kind, const struct ew_job_paper *paper,
                           const char *path, enum ew_format format, enum ew_paper size,
                           GError **error);
