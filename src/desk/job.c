/* The transaction around a record of a job: read, settled against what is there (job_settle.c), kept, and said in the build
 * record as well (job_mirror.c). */
#include "desk/job.h"
#include "base/as_pointer.h"
#include "base/error.h"
#include "book/keep.h"
#include "desk/job_parts.h"
#include <math.h>
#include <string.h>

gboolean ew_job_today(struct ew_book *book, char day[11], GError **error) {
  g_autofree char *now = ew_time_now();
  return ew_book_day(book, now, day, error);
}

const struct ew_job_prices *ew_job_prices_now(const struct ew_job *shop) {
  return ew_job_last(shop, EW_JOB_PRICES);
}

struct ew_build *ew_job_build(struct ew_book *book, const struct ew_job *job, GError **error) {
  gint64 id = ew_job_build_id(job);
  return id ? ew_build_load(book, id, error) : NULL;
}

void ew_job_answer_clear(struct ew_job_answer *answer) {
  ew_job_free(answer->job);
  g_clear_pointer(&answer->ids, g_array_unref);
  answer->job = NULL;
}

/* Its time and the shop's day of it: now where none is given, a day of the calendar or an instant where one is. */
static gboolean settle_time(struct ew_job_deed *d, GError **error) {
  struct ew_job_mark *mark = d->mark;
  d->dated = mark->at != NULL;
  if (!mark->at)
    mark->at = ew_time_now();
  if (d->dated && !ew_job_is_day(mark->at) && isnan(ew_time_parse(mark->at)))
    return ew_refuse(error, "%s: at '%.40s' is not a day of the calendar; write 2026-03-14",
                     d->ask->where, mark->at);
  if (!mark->who || !*mark->who) {
    g_free(mark->who);
    mark->who = g_strdup(ew_book_who());
  }
  return ew_job_today(d->book, d->today, error) && ew_book_day(d->book, mark->at, mark->day, error);
}

/* Not after today, not before the job, and of a job that has ended not after that. */
static gboolean settle_day(const struct ew_job_deed *d, GError **error) {
  const struct ew_job_end *end = ew_job_last(d->job, EW_JOB_END);
  const char *day = d->mark->day, *where = d->ask->where;
  enum ew_job_kind kind = d->ask->kind;
  gboolean free_of_it = kind == EW_JOB_REMINDER || kind == EW_JOB_END || kind == EW_JOB_PRICES;
  if (strcmp(day, d->today) > 0)
    return ew_refuse(error, "%s: at '%s' is after today, %s", where, day, d->today);
  if (d->job->id && strcmp(day, d->job->day) < 0 && !d->ask->sure)
    return ew_ask(error, "%s: at '%s' is before this job, which began on %s", where, day,
                  d->job->day);
  if (!end || free_of_it || (d->dated && strcmp(day, end->mark.day) <= 0))
    return TRUE;
  if (kind == EW_JOB_HOURS || kind == EW_JOB_CAME)
    return d->ask->sure || ew_ask(error,
                                  "%s: this job ended on %s (record %" G_GINT64_FORMAT
                                  "); give the day with 'at' when it was before that",
                                  where, end->mark.day, end->mark.id);
  return ew_refuse(error,
                   "%s: this job ended on %s (record %" G_GINT64_FORMAT
                   "); begin a new one, give the day with 'at' when it was before that, or "
                   "withdraw that record when the job goes on",
                   where, end->mark.day, end->mark.id);
}

static gboolean keep_one(struct ew_job_deed *d, struct ew_job_mark *mark, GArray *ids,
                         GError **error) {
  enum ew_job_kind kind = d->ask->kind;
  if (!ew_keep_job_record(d->book, d->job->id, kind, mark, error))
    return FALSE;
  g_array_append_val(ids, mark->id);
  return ew_job_mirror_keep(d->book, d->job, ew_job_build_id(d->job), kind, mark, error);
}

/* What was agreed and has come before the job had its engine. */
static gboolean mirror_before(struct ew_job_deed *d, GError **error) {
  static const enum ew_job_kind kinds[] = {EW_JOB_AGREED, EW_JOB_CHANGE, EW_JOB_CAME};
  gint64 build = ((const struct ew_job_engine *)(const void *)d->mark)->build_id;
  for (gsize k = 0; k < G_N_ELEMENTS(kinds); k++)
    for (guint i = 0; i < d->job->records[kinds[k]]->len; i++)
      if (!ew_job_mirror_keep(d->book, d->job, build, kinds[k], d->job->records[kinds[k]]->pdata[i],
                              error))
        return FALSE;
  return TRUE;
}

static gboolean keep_all(struct ew_job_deed *d, GArray *ids, GError **error) {
  if (d->same)
    return TRUE;
  gboolean good = keep_one(d, d->mark, ids, error);
  for (guint i = 0; good && i < d->more->len; i++)
    good = keep_one(d, d->more->pdata[i], ids, error);
  return good && (d->ask->kind != EW_JOB_ENGINE || mirror_before(d, error));
}

struct doing {
  const struct ew_job_ask *ask;
  struct ew_job_answer *answer;
};

static gboolean run_deed(struct ew_job_deed *d, struct ew_job_answer *answer, GError **error) {
  const struct ew_job_ask *ask = d->ask;
  d->shop = ew_job_load(d->book, 0, error);
  d->job = !d->shop   ? NULL
           : ask->job ? ew_job_get(d->book, ask->job, error)
                      : ew_job_load(d->book, 0, error);
  d->mark = d->job ? ew_job_record_read(ask->kind, ask->map, ask->where, error) : NULL;
  if (!d->mark || !settle_time(d, error) || !settle_day(d, error) || !ew_job_settle(d, error))
    return FALSE;
  answer->ids = g_array_new(FALSE, FALSE, sizeof(gint64));
  answer->job = keep_all(d, answer->ids, error) ? ew_job_load(d->book, d->job->id, error) : NULL;
  return answer->job != NULL;
}

static gboolean body(struct ew_book *book, gpointer user, GError **error) {
  const struct doing *doing = user;
  struct ew_job_deed d = {.book = book, .ask = doing->ask, .more = g_ptr_array_new()};
  gboolean good = run_deed(&d, doing->answer, error);
  for (guint i = 0; i < d.more->len; i++)
    ew_job_record_free(d.ask->kind, d.more->pdata[i]);
  g_ptr_array_unref(d.more);
  ew_job_record_free(d.ask->kind, d.mark);
  ew_job_free(d.job);
  ew_job_free(d.shop);
  return good;
}

gboolean ew_job_do(struct ew_book *book, const struct ew_job_ask *ask, struct ew_job_answer *answer,
                   GError **error) {
  g_assert((ask->job == NULL) == (ask->kind == EW_JOB_PRICES));
  *answer = (struct ew_job_answer){0};
  struct doing doing = {ask, answer};
  gboolean good = ew_book_as_one(book, body, &doing, error);
  if (!good)
    ew_job_answer_clear(answer);
  return good;
}

struct beginning {
  const char *name, *where;
  const struct ew_node *wish;
  gint64 id;
};

static gboolean begin_body(struct ew_book *book, gpointer user, GError **error) {
  struct beginning *b = user;
  struct ew_job_wish *wish = ew_job_record_read(EW_JOB_WISH, b->wish, b->where, error);
  char today[11], day[11];
  gboolean good = wish && ew_job_today(book, today, error);
  if (good && wish->mark.at && !ew_job_is_day(wish->mark.at) && isnan(ew_time_parse(wish->mark.at)))
    good = ew_refuse(error, "%s: at '%.40s' is not a day of the calendar; write 2026-03-14",
                     b->where, wish->mark.at);
  if (good && wish->mark.at)
    good = ew_book_day(book, wish->mark.at, day, error) &&
           (strcmp(day, today) <= 0 ||
            ew_refuse(error, "%s: at '%s' is after today, %s", b->where, day, today));
  if (good)
    b->id = ew_keep_job(book, b->name, wish->mark.at, error);
  good = good && b->id && ew_keep_job_record(book, b->id, EW_JOB_WISH, wish, error);
  ew_job_record_free(EW_JOB_WISH, wish);
  return good;
}

gint64 ew_job_begin(struct ew_book *book, const char *name, const struct ew_node *wish,
                    const char *where, GError **error) {
  struct beginning b = {name, where, wish, 0};
  return ew_book_as_one(book, begin_body, &b, error) ? b.id : 0;
}

/* ---- taken back ---- */

struct withdrawal {
  gint64 id;
  const char *why;
};

static const void *record_of(const struct ew_job *job, enum ew_job_kind kind, gint64 id) {
  const GPtrArray *all = job->records[kind];
  for (guint i = 0; i < all->len; i++)
    if (((const struct ew_job_mark *)all->pdata[i])->id == id)
      return all->pdata[i];
  return NULL;
}

static gboolean stands_on(gint64 id, const struct ew_job_mark *other, const char *what,
                          GError **error) {
  return ew_refuse(error,
                   "record %" G_GINT64_FORMAT ": record %" G_GINT64_FORMAT
                   " (%s) follows from it; withdraw that first",
                   id, other->id, what);
}

/* What would hang in the air without it. */
static gboolean may_go(const struct ew_job *job, enum ew_job_kind kind, const void *record,
                       GError **error) {
  const struct ew_job_mark *mark = record;
  const struct ew_job_agreed *agreed = ew_job_last(job, EW_JOB_AGREED);
  const struct ew_job_change *change = ew_job_last(job, EW_JOB_CHANGE);
  const struct ew_job_came *came;
  if (kind == EW_JOB_WISH && job->records[EW_JOB_WISH]->len == 1)
    return ew_refuse(error, "a job has a wish: give the right one with 'job wish'");
  if (kind == EW_JOB_WISH && agreed)
    return stands_on(mark->id, &agreed->mark, "agreed", error);
  if (kind == EW_JOB_QUOTE && agreed &&
      agreed->quote == ((const struct ew_job_quote *)record)->quote)
    return stands_on(mark->id, &agreed->mark, "agreed", error);
  if (kind == EW_JOB_AGREED && change)
    return stands_on(mark->id, &change->mark, "change", error);
  if (kind == EW_JOB_ORDER)
    EW_JOB_EACH(job, CAME, const struct ew_job_came, came, i) {
      if (came->order == ((const struct ew_job_order *)record)->order)
        return stands_on(mark->id, &came->mark, "come", error);
    }
  return TRUE;
}

/* An engine that was the wrong one: what the job wrote into its build record goes with it. */
static gboolean unmirror_all(struct ew_book *book, const struct ew_job *job,
                             const struct ew_job_engine *engine, const char *why, GError **error) {
  static const enum ew_job_kind kinds[] = {EW_JOB_AGREED, EW_JOB_CHANGE, EW_JOB_CAME};
  for (gsize k = 0; k < G_N_ELEMENTS(kinds); k++)
    for (guint i = 0; i < job->records[kinds[k]]->len; i++)
      if (!ew_job_mirror_withdraw(book, job, engine->build_id, kinds[k],
                                  job->records[kinds[k]]->pdata[i], why, error))
        return FALSE;
  return TRUE;
}

static gboolean withdraw_body(struct ew_book *book, gpointer user, GError **error) {
  const struct withdrawal *w = user;
  gint64 job_id;
  enum ew_job_kind kind;
  if (!ew_job_record_find(book, w->id, &job_id, &kind, error))
    return FALSE;
  if (kind == EW_JOB_PRICES)
    return ew_refuse(error, "a price table is not withdrawn: load the right one, which counts from "
                            "then on; a quote keeps the prices it was made with");
  g_autoptr(ew_job) job = ew_job_load(book, job_id, error);
  const void *record = job ? record_of(job, kind, w->id) : NULL;
  if (!record)
    return job && ew_fail(error, "job record %" G_GINT64_FORMAT " was not read", w->id);
  return may_go(job, kind, record, error) &&
         (kind == EW_JOB_ENGINE ? unmirror_all(book, job, record, w->why, error)
                                : ew_job_mirror_withdraw(book, job, ew_job_build_id(job), kind,
                                                         record, w->why, error)) &&
         ew_keep_job_withdrawn(book, w->id, w->why, error);
}

gboolean ew_job_take_back(struct ew_book *book, gint64 record_id, const char *why, GError **error) {
  struct withdrawal w = {record_id, why};
  if (!why || !*why || why[strspn(why, " \t\n")] == 0)
    return ew_refuse(error, "why: say in a few words what is wrong with it");
  return ew_book_as_one(book, withdraw_body, &w, error);
}

/* ---- afterwards ---- */

gboolean ew_job_heard(struct ew_book *book, const char *name, const struct ew_node *map,
                      const char *where, GError **error) {
  g_autoptr(ew_job) job = ew_job_get(book, name, error);
  if (!job)
    return FALSE;
  gint64 build_id = ew_job_build_id(job);
  if (!build_id)
    return ew_refuse(error, "%s: job '%s' has no engine yet: name it with 'job engine'", where,
                     job->name);
  g_autoptr(ew_build) build = ew_build_load(book, build_id, error);
  void *record =
      build ? ew_build_record_read(EW_BUILD_AFTER, map, where, build, NULL, error) : NULL;
  struct ew_kept_record kept;
  gboolean good =
      record && ew_keep_build_record(book, build_id, EW_BUILD_AFTER, record, &kept, error);
  ew_build_record_free(EW_BUILD_AFTER, record);
  return good;
}
