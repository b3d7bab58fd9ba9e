/* What the commands of a job share. */
#pragma once
#include "cli/command.h"
#include "desk/job.h"

#define EW_JOB_MARK_OPTIONS                                                                        \
  {"at", EW_TEXT("DATE"), EW_TEXT("when (default: now)"), FALSE},                                  \
      {"who", EW_TEXT("NAME"), EW_TEXT("who (default: the login name)"), FALSE},                   \
      {"note", EW_TEXT("TEXT"), EW_TEXT("remark"), FALSE}, {                                       \
    "book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE                                     \
  }
#define EW_JOB_FIGURE_OPTIONS                                                                      \
  {"power", "Q", EW_TEXT("power"), FALSE}, {"power-speed", "Q", EW_TEXT("its speed"), FALSE},      \
      {"torque", "Q", EW_TEXT("torque"), FALSE}, {                                                 \
    "limit", "Q", EW_TEXT("highest speed"), FALSE                                                  \
  }
#define EW_JOB_SURE_OPTION                                                                         \
  { "sure", NULL, EW_TEXT("it is meant, though it is probably not"), FALSE }

/* A map of the call's options that are fields of that kind. */
struct ew_node *ew_job_call_map(const struct ew_call *call, enum ew_job_kind kind);
/* Keeps one record of the job that the first argument names (a price table: of the shop) and answers with what was
 * understood; `map` and `lines` (may be NULL) are taken. */
gboolean ew_job_call_do(const struct ew_call *call, enum ew_job_kind kind, struct ew_node *map,
                        GArray *lines, GError **error);
/* One line of that code and quantity. NULL with *error. */
GArray *ew_job_call_quantity(const char *code, const char *quantity, GError **error);
/* CODE=QUANTITY arguments from `first` on, or the table that --lines names. NULL with *error. */
GArray *ew_job_call_lines(const struct ew_call *call, guint first, GError **error);
