/* The customer's job at the desk: what may be kept of it and when, and what goes with it into the build record.
 *
 * One source of truth: what was agreed in figures is "agreed" of the build record, where the report and the hand-over look;
 * what came with batch and serial is a part of it. Both are written there in the transaction that keeps the job's record,
 * or when the job gets its engine, and withdrawn with it. */
#pragma once
#include "book/job.h"
#include "build/build.h"
#include "desk/loaded.h"
#include "job/sums.h"

struct ew_job_ask {
  const char *job; /* number or name; of a price table NULL */
  enum ew_job_kind kind;
  const struct ew_node *map; /* its fields, as they were typed */
  const char *where;         /* how errors call them */
  const GArray *
      lines; /* prices: the table; quote, change: code and quantity; come: one line, its quantity; else NULL */
  gboolean sure; /* what is probably not meant is meant */
};
struct ew_job_answer {
  struct ew_job *job; /* as it is afterwards */
  GArray *ids; /* gint64, of records that were added; none: the very same was there already */
};
/* One transaction; on refusal nothing is kept. Clear the answer when it was TRUE. */
gboolean ew_job_do(struct ew_book *book, const struct ew_job_ask *ask, struct ew_job_answer *answer,
                   GError **error);
void ew_job_answer_clear(struct ew_job_answer *answer);

/* A new job begins with its wish. Its id; 0 with *error. */
gint64 ew_job_begin(struct ew_book *book, const char *name, const struct ew_node *wish,
                    const char *where, GError **error);
/* A record, and what it wrote into the build record. Refuses one that another stands on: a quote that was agreed. */
gboolean ew_job_take_back(struct ew_book *book, gint64 record_id, const char *why, GError **error);
/* What was heard of the engine afterwards, into "after" of its build record. `map`: fields of EW_BUILD_AFTER. */
gboolean ew_job_heard(struct ew_book *book, const char *job, const struct ew_node *map,
                      const char *where, GError **error);

/* The build of the job's engine, NULL without *error when it has none; to be freed. */
struct ew_build *ew_job_build(struct ew_book *book, const struct ew_job *job, GError **error);
const struct ew_job_prices *ew_job_prices_now(const struct ew_job *shop); /* NULL: no table yet */
/* The shop's day of now. */
gboolean ew_job_today(struct ew_book *book, char day[11], GError **error);

struct ew_job_due {
  gint64 job_id;
  char *job, *what;
  double used_s, life_s; /* of running; NaN life: by the day alone */
  char by[11];           /* "": by running alone */
  gboolean of_build;     /* a part or fluid of the build record; else a reminder of the job */
  gboolean due;
};
/* Of one job or (NULL) of all, what is due first. Reminders of jobs count running that was reported since they ended; parts of the
 * build all of the engine's. O(jobs). The array clears its rows; NULL with *error. */
GArray *ew_job_due_list(struct ew_book *book, const char *job, GError **error);
