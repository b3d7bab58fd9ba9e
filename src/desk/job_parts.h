/* What the files of a job's deeds share. */
#pragma once
#include "desk/job.h"

struct ew_job_deed {
  struct ew_book *book;
  const struct ew_job_ask *ask;
  struct ew_job *job;       /* as it was */
  struct ew_job *shop;      /* the price tables */
  struct ew_job_mark *mark; /* the record, read; `day` is set */
  gboolean dated;           /* `at` was given */
  char today[11];
  gboolean same; /* the very same is there: nothing is added */
  GPtrArray
      *more; /* further records of the same kind, to be kept after it (orders to other suppliers) */
};
/* By kind: fills the record from the job, refuses what can't be. */
gboolean ew_job_settle(struct ew_job_deed *deed, GError **error);
gboolean ew_job_settle_order(struct ew_job_deed *deed, GError **error);
gboolean ew_job_settle_came(struct ew_job_deed *deed, GError **error);
gboolean ew_job_settle_hours(struct ew_job_deed *deed, GError **error);
gboolean ew_job_settle_reminder(struct ew_job_deed *deed, GError **error);
gboolean ew_job_settle_end(struct ew_job_deed *deed, GError **error);
/* Is it the last of its kind once more? Then `same` is set. */
gboolean ew_job_is_last(struct ew_job_deed *deed, gboolean by_day);
/* Of a quote, an order, a price table: one more than were ever kept. */
gboolean ew_job_next_number(struct ew_job_deed *deed, int *number, GError **error);
/* There is no such code among these lines; with the nearest. FALSE. */
gboolean ew_job_refuse_code(const GArray *lines, const char *code, const char *where,
                            GError **error);
/* The same fields, lines and (by_day) day, whoever typed it. */
gboolean ew_job_same(enum ew_job_kind kind, const void *a, const void *b, gboolean by_day);

/* What a record says in the build record. */
gboolean ew_job_mirror_keep(struct ew_book *book, const struct ew_job *job, gint64 build_id,
                            enum ew_job_kind kind, const void *record, GError **error);
gboolean ew_job_mirror_withdraw(struct ew_book *book, const struct ew_job *job, gint64 build_id,
                                enum ew_job_kind kind, const void *record, const char *why,
                                GError **error);
gint64 ew_job_build_id(const struct ew_job *job); /* 0: no engine yet */
