/* Jobs and their records in the book: a row a record, in the canonical YAML of its field table, its lines of parts and
 * labour beside it. A record is never changed: the last of its kind counts, and a wrong one is withdrawn with a reason. */
#pragma once
#include "book/book.h"
#include "job/job.h"

struct ew_job_row {
  gint64 id;
  char *name, *at, *day;
};
/* All jobs, oldest first; the array clears its rows. NULL with *error. */
GArray *ew_job_list(struct ew_book *book, GError **error);
/* A job with its active records, oldest first; id 0: the shop's newest price table alone. Refuses an id that is not there. NULL with *error.
 * O(records of the job). */
struct ew_job *ew_job_load(struct ew_book *book, gint64 id, GError **error);
/* By its number or its name, without case; refused when there is none, with the nearest name. */
struct ew_job *ew_job_get(struct ew_book *book, const char *name, GError **error);
/* Which job an active record belongs to (0: the shop's), and its kind; refused when there is none. */
gboolean ew_job_record_find(struct ew_book *book, gint64 record_id, gint64 *job_id,
                            enum ew_job_kind *kind, GError **error);
/* How many records of a kind were ever kept for a job, withdrawn ones with them: the next one's number is one more. */
gboolean ew_job_count(struct ew_book *book, gint64 job_id, enum ew_job_kind kind, gint64 *count,
                      GError **error);
