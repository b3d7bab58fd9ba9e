/* The customer's job: from the wish to the crate, and after.
 *
 *   wish --> quote 1, 2 ... --> sent --> agreed --> change, change ...        --> shipped
 *                                          |        order --> come            |
 *                                          |        hours                     +--> reminders, what was heard
 *                                          +--> "agreed" of the build record: the one agreement that the report judges
 *
 * A job holds records of the kinds below, each a plain struct with one field table (fields.c); some have lines of parts and
 * labour with prices beside. A record is never changed: the last of its kind counts, and a wrong one is withdrawn with a
 * reason. A quote keeps the prices it was made with. The shop's price tables are records without a job.
 *
 * This does no accounts: a currency and a tax are texts, and nothing is worked out from them. */
#pragma once
#include "base/field.h"
#include "job/line.h"

/* kind, key in book and JSON, struct */
#define EW_JOB_KINDS(X)                                                                            \
  X(PRICES, "prices", struct ew_job_prices)                                                        \
  X(WISH, "wish", struct ew_job_wish)                                                              \
  X(QUOTE, "quote", struct ew_job_quote)                                                           \
  X(SENT, "sent", struct ew_job_sent)                                                              \
  X(AGREED, "agreed", struct ew_job_agreed)                                                        \
  X(CHANGE, "change", struct ew_job_change)                                                        \
  X(ENGINE, "engine", struct ew_job_engine)                                                        \
  X(ORDER, "order", struct ew_job_order)                                                           \
  X(CAME, "come", struct ew_job_came)                                                              \
  X(HOURS, "hours", struct ew_job_hours)                                                           \
  X(REMINDER, "reminder", struct ew_job_reminder)                                                  \
  X(END, "end", struct ew_job_end)

enum ew_job_kind {
#define X(kind, key, type) EW_JOB_##kind,
  EW_JOB_KINDS(X)
#undef X
      EW_JOB_KINDS_COUNT
};

/* First in every record: its number in the book (0: not kept yet), when, who, remark; lines (NULL: it has none). */
struct ew_job_mark {
  gint64 id;
  char *at, *who, *note;
  char day[11];  /* the shop's day of `at`; set by who reads it from the book */
  GArray *lines; /* struct ew_job_line */
};

struct ew_job_prices {
  struct ew_job_mark mark;
  int version; /* from 1 */
  char *currency;
};
struct ew_job_wish {
  struct ew_job_mark mark;
  char *customer, *wish, *use, *fuel, *budget, *by; /* by: a day */
  double power_w, power_speed_rpm, torque_n_m, limit_rpm, idle_rpm;
};
struct ew_job_quote {
  struct ew_job_mark mark;
  int quote, prices; /* its number in the job, from 1; the version of the price table */
  char *currency, *until;
};
struct ew_job_sent {
  struct ew_job_mark mark;
  int quote;
  char *to;
};
struct ew_job_agreed {
  struct ew_job_mark mark;
  int quote;
  char *by; /* who signed */
};
struct ew_job_change {
  struct ew_job_mark mark;
  char *what, *by, *fuel;
  double power_w, power_speed_rpm, torque_n_m, limit_rpm;
};
struct ew_job_engine {
  struct ew_job_mark mark;
  char *engine;
  int engine_id, build_id;
};
struct ew_job_order {
  struct ew_job_mark mark;
  int order; /* its number in the job, from 1 */
  char *supplier, *due;
};
struct ew_job_came {
  struct ew_job_mark mark;
  int order;
  char *code, *batch, *serial, *position;
};
struct ew_job_hours {
  struct ew_job_mark mark;
  char *code, *what;
  double spent_s;
};
struct ew_job_reminder {
  struct ew_job_mark mark;
  char *what, *by;  /* by: a day */
  double running_s; /* due after this much running since the job ended; NaN: by the day alone */
  int state;        /* 0 open, 1 done */
};
enum ew_job_how { EW_JOB_SHIPPED, EW_JOB_CANCELLED };
struct ew_job_end {
  struct ew_job_mark mark;
  int how; /* enum ew_job_how */
};

struct ew_job {
  gint64 id; /* 0: the shop's price tables */
  char *name, *at;
  char day[11];
  GPtrArray *records[EW_JOB_KINDS_COUNT]; /* of pointers to the structs above, oldest first */
};
struct ew_job *ew_job_new(void);
void ew_job_free(struct ew_job *job);
typedef struct ew_job ew_job; /* for g_autoptr only */
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_job, ew_job_free)

const char *ew_job_kind_key(enum ew_job_kind kind);
gboolean ew_job_kind_find(const char *key, enum ew_job_kind *kind);
const struct ew_fields *ew_job_fields(enum ew_job_kind kind);
extern const char *const ew_job_how_names[];

/* A record from its fields, without lines; what can be judged without the job is judged here. NULL with *error. Free with
 * ew_job_record_free. */
void *ew_job_record_read(enum ew_job_kind kind, const struct ew_node *map, const char *where,
                         GError **error);
/* The same of what is kept already. */
void *ew_job_record_parse(enum ew_job_kind kind, const struct ew_node *map, const char *where,
                          GError **error);
/* Of a record with its lines, as it is kept: is all there that this program relies on? What came from a disk may lack it. */
gboolean ew_job_record_check(enum ew_job_kind kind, const void *record, const char *where,
                             GError **error);
char *ew_job_record_yaml(enum ew_job_kind kind, const void *record);
void ew_job_record_json(enum ew_job_kind kind, const void *record, struct ew_json *json);
void ew_job_record_free(enum ew_job_kind kind, void *record);
void ew_job_lines_json(const GArray *lines, struct ew_json *json); /* an open object gets "lines" */

/* The last record of a kind; NULL: there is none. */
const void *ew_job_last(const struct ew_job *job, enum ew_job_kind kind);
#define EW_JOB_EACH(job, KIND, type, variable, index)                                              \
  for (guint index = 0;                                                                            \
       index < (job)->records[EW_JOB_##KIND]->len &&                                               \
       ((variable) = g_ptr_array_index((job)->records[EW_JOB_##KIND], index), TRUE);               \
       index++)
/* "2026-03-14" and a day that the calendar has. */
gboolean ew_job_is_day(const char *text);
