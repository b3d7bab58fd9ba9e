/* What a job's records add up to: the quote with its changes, what is ordered, come and late, hours against the quote.
 * What is handed out points into the job. Each is O(records x lines). */
#pragma once
#include "job/job.h"

struct ew_job_sum {
  gint64 parts, labour; /* money, in ten thousandths; each line rounded to a cent */
};
struct ew_job_sum ew_job_sum_of(const GArray *lines); /* NULL: nothing */

struct ew_job_standing {
  const struct ew_job_quote *quote;   /* the agreed one, else the newest; NULL: none */
  const struct ew_job_agreed *agreed; /* NULL: not yet */
  const struct ew_job_end *end;       /* NULL: it goes on */
  struct ew_job_sum quoted, changes;
  gint64 total;
};
struct ew_job_standing ew_job_standing_of(const struct ew_job *job);
const struct ew_job_quote *ew_job_quote_of(const struct ew_job *job, int number); /* NULL: none */

/* Lines of the quote and its changes, one a code: struct ew_job_line, what is wanted of it in all. */
GArray *ew_job_wanted(const struct ew_job *job);
/* Parts that are wanted and not ordered: struct ew_job_line with what is left to order. */
GArray *ew_job_to_order(const struct ew_job *job);

struct ew_job_ordered { /* a line of an order */
  const struct ew_job_order *order;
  const struct ew_job_line *line;
  gint64 came;
  char due
      [11]; /* as it was ordered by, else the order's day and the days to deliver; "": not known */
  gboolean late; /* not all has come, and that day is over */
};
GArray *ew_job_ordered_of(const struct ew_job *job, const char *today);

struct ew_job_work { /* labour of one code */
  const char *code, *name;
  gint64 quoted; /* hours, in ten thousandths; 0: not in the quote */
  double spent_s;
};
GArray *ew_job_work_of(const struct ew_job *job);

/* Reminders that are open: the last of each name, unless it is done. Pointers to struct ew_job_reminder. */
GPtrArray *ew_job_reminders(const struct ew_job *job);
