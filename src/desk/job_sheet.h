/* Gathers the sheets of a job from the book. */
#pragma once
#include "desk/loaded.h"
#include "desk/sheet_head.h"
#include "sheet/job_sheet.h"

struct ew_job_sheet_options {
  struct ew_sheet_options sheet;
  enum ew_job_sheet_kind kind;
  const char *job; /* number or name */
  int quote;       /* which; 0: the agreed one, else the newest */
};
gboolean ew_make_job_sheet(struct ew_desk *desk, const struct ew_job_sheet_options *options,
                           GError **error);
