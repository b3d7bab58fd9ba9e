/* A record of the build is made from the job's record alone, the same each time, so that it is found again when it is to be
 * withdrawn. The customer's name does not go there: the build record is shown to others. */
#include "base/error.h"
#include "book/keep.h"
#include "desk/job_parts.h"
#include "job/decimal.h"
#include <math.h>
#include <string.h>

gint64 ew_job_build_id(const struct ew_job *job) {
  const struct ew_job_engine *e = ew_job_last(job, EW_JOB_ENGINE);
  return e ? e->build_id : 0;
}

static char *text_or_null(const char *text) {
  return text && *text ? g_strdup(text) : NULL;
}

static struct ew_build_agreed *agreed_of(const struct ew_job *job,
                                         const struct ew_job_agreed *agreed) {
  const struct ew_job_wish *w = ew_job_last(job, EW_JOB_WISH);
  struct ew_build_agreed *a = g_new0(struct ew_build_agreed, 1);
  ew_fields_defaults(ew_build_fields(EW_BUILD_AGREED, EW_KINDS_COUNT, FALSE), a);
  a->mark.at = g_strdup(agreed->mark.at);
  a->mark.who = text_or_null(agreed->mark.who);
  a->mark.note = g_strdup(job->name);
  a->what = g_strdup(w ? w->wish : job->name);
  if (w) {
    a->fuel = text_or_null(w->fuel);
    a->power_w = w->power_w;
    a->power_speed_rpm = w->power_speed_rpm;
    a->torque_n_m = w->torque_n_m;
    a->limit_rpm = w->limit_rpm;
  }
  return a;
}

static struct ew_build_agreed *changed_of(const struct ew_job *job,
                                          const struct ew_job_change *change) {
  struct ew_build_agreed *a = g_new0(struct ew_build_agreed, 1);
  ew_fields_defaults(ew_build_fields(EW_BUILD_AGREED, EW_KINDS_COUNT, FALSE), a);
  a->order = 1;
  a->mark.at = g_strdup(change->mark.at);
  a->mark.who = text_or_null(change->mark.who);
  a->mark.note = g_strdup(job->name);
  a->what = g_strdup(change->what);
  a->fuel = text_or_null(change->fuel);
  a->power_w = change->power_w;
  a->power_speed_rpm = change->power_speed_rpm;
  a->torque_n_m = change->torque_n_m;
  a->limit_rpm = change->limit_rpm;
  return a;
}

/* "16", "2.5 l": in figures that read the same everywhere. */
static char *amount(const struct ew_job_line *l) {
  char buffer[EW_DECIMAL_SIZE];
  char *text = g_strdup(ew_decimal_write(l->quantity, buffer));
  for (gsize n = strlen(text); n && (text[n - 1] == '0' || text[n - 1] == '.'); n--) {
    gboolean point = text[n - 1] == '.';
    text[n - 1] = 0;
    if (point)
      break;
  }
  char *all = l->unit ? g_strdup_printf("%s %s", text, l->unit) : g_strdup(text);
  g_free(text);
  return all;
}

static struct ew_build_part *part_of(const struct ew_job *job, const struct ew_job_came *came) {
  const struct ew_job_line *l = &g_array_index(came->mark.lines, struct ew_job_line, 0);
  struct ew_build_part *p = g_new0(struct ew_build_part, 1);
  ew_fields_defaults(ew_build_fields(EW_BUILD_PART, EW_KINDS_COUNT, FALSE), p);
  p->mark.at = g_strdup(came->mark.at);
  p->mark.who = text_or_null(came->mark.who);
  p->mark.note = g_strdup(job->name);
  p->part = g_strdup(l->name ? l->name : l->code);
  p->number = g_strdup(l->supplier_number ? l->supplier_number : l->code);
  p->batch = text_or_null(came->batch);
  p->serial = text_or_null(came->serial);
  p->position = text_or_null(came->position);
  p->quantity = amount(l);
  return p;
}

/* NULL: this kind says nothing there. */
static void *mirror(const struct ew_job *job, enum ew_job_kind kind, const void *record,
                    enum ew_build_kind *build_kind) {
  *build_kind = kind == EW_JOB_CAME ? EW_BUILD_PART : EW_BUILD_AGREED;
  switch (kind) {
  case EW_JOB_AGREED: return agreed_of(job, record);
  case EW_JOB_CHANGE: return changed_of(job, record);
  case EW_JOB_CAME: return part_of(job, record);
  case EW_JOB_PRICES:
  case EW_JOB_WISH:
  case EW_JOB_QUOTE:
  case EW_JOB_SENT:
  case EW_JOB_ENGINE:
  case EW_JOB_ORDER:
  case EW_JOB_HOURS:
  case EW_JOB_REMINDER:
  case EW_JOB_END: return NULL;
  case EW_JOB_KINDS_COUNT: break;
  }
  g_assert_not_reached();
}

gboolean ew_job_mirror_keep(struct ew_book *book, const struct ew_job *job, gint64 build_id,
                            enum ew_job_kind kind, const void *record, GError **error) {
  enum ew_build_kind build_kind;
  struct ew_kept_record kept;
  void *there = build_id ? mirror(job, kind, record, &build_kind) : NULL;
  gboolean good = !there || ew_keep_build_record(book, build_id, build_kind, there, &kept, error);
  if (there)
    ew_build_record_free(build_kind, there);
  return good;
}

/* One that somebody withdrew from the build record by hand is gone there already. */
gboolean ew_job_mirror_withdraw(struct ew_book *book, const struct ew_job *job, gint64 build_id,
                                enum ew_job_kind kind, const void *record, const char *why,
                                GError **error) {
  enum ew_build_kind build_kind;
  gint64 id = 0;
  void *there = build_id ? mirror(job, kind, record, &build_kind) : NULL;
  gboolean good = !there || (ew_build_record_id(book, build_id, build_kind, there, &id, error) &&
                             (!id || ew_keep_build_withdrawn(book, id, why, error)));
  if (there)
    ew_build_record_free(build_kind, there);
  return good;
}
