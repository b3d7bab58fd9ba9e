/* What is due after an engine has left: the job's own reminders, by running time that was reported since or by a day, and
 * parts and fluids of its build record by their life (build/due.h). */
#include "book/ledger.h"
#include "build/due.h"
#include "desk/job.h"
#include <math.h>
#include <string.h>

static void row_clear(void *data) {
  struct ew_job_due *row = data;
  g_free(row->job);
  g_free(row->what);
}

/* Running that was reported on or after the day on which the job ended. */
static double since_end_s(const struct ew_job *job, const struct ew_build *build) {
  const struct ew_job_end *end = ew_job_last(job, EW_JOB_END);
  const struct ew_build_after *after;
  double sum_s = 0;
  if (!end || !build)
    return 0;
  EW_BUILD_EACH(build, AFTER, const struct ew_build_after, after, i) {
    if (!after->mark.at || strncmp(after->mark.at, end->mark.day, 10) >= 0)
      sum_s += after->running_s;
  }
  return sum_s;
}

static void add_reminders(GArray *rows, const struct ew_job *job, const struct ew_build *build,
                          const char *today) {
  g_autoptr(GPtrArray) open = ew_job_reminders(job);
  double used_s = since_end_s(job, build);
  for (guint i = 0; i < open->len; i++) {
    const struct ew_job_reminder *r = open->pdata[i];
    struct ew_job_due row = {.job_id = job->id,
                             .job = g_strdup(job->name),
                             .what = g_strdup(r->what),
                             .used_s = used_s,
                             .life_s = r->running_s};
    g_strlcpy(row.by, r->by ? r->by : "", sizeof row.by);
    row.due = used_s >= r->running_s || (r->by && strcmp(r->by, today) <= 0);
    g_array_append_val(rows, row);
  }
}

static gboolean add_parts(GArray *rows, struct ew_book *book, const struct ew_job *job,
                          const struct ew_build *build, GError **error) {
  struct ew_ledger ledger;
  if (!ew_ledger_read(book, build->engine_id, &ledger, error))
    return FALSE;
  g_autoptr(GArray) due =
      ew_build_due_list(build, ledger.running_s, ledger.above_s, EW_LEDGER_SPEEDS);
  for (guint i = 0; i < due->len; i++) {
    const struct ew_build_due *d = &g_array_index(due, struct ew_build_due, i);
    gboolean above = isnan(d->life_s) || d->above_s / d->life_above_s > d->used_s / d->life_s;
    struct ew_job_due row = {.job_id = job->id,
                             .job = g_strdup(job->name),
                             .what = g_strdup(d->part->part),
                             .used_s = above ? d->above_s : d->used_s,
                             .life_s = above ? d->life_above_s : d->life_s,
                             .of_build = TRUE,
                             .due = d->share >= 1};
    g_array_append_val(rows, row);
  }
  return TRUE;
}

static gboolean add_job(GArray *rows, struct ew_book *book, const struct ew_job *job,
                        const char *today, GError **error) {
  GError *problem = NULL;
  const struct ew_job_end *end = ew_job_last(job, EW_JOB_END);
  if (end && end->how == EW_JOB_CANCELLED)
    return TRUE;
  g_autoptr(ew_build) build = ew_job_build(book, job, &problem);
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  add_reminders(rows, job, build, today);
  return !build || add_parts(rows, book, job, build, error);
}

/* What is due before what is not; of either what is nearest. */
static double nearness(const struct ew_job_due *row) {
  return isnan(row->life_s) ? 0 : row->used_s / row->life_s;
}
static gint by_due(gconstpointer a, gconstpointer b) {
  const struct ew_job_due *x = a, *y = b;
  if (x->due != y->due)
    return y->due - x->due;
  return nearness(x) > nearness(y) ? -1 : nearness(x) < nearness(y);
}

GArray *ew_job_due_list(struct ew_book *book, const char *job, GError **error) {
  g_autoptr(GArray) rows = g_array_new(FALSE, TRUE, sizeof(struct ew_job_due));
  char today[11];
  g_array_set_clear_func(rows, row_clear);
  g_autoptr(ew_job) one = job ? ew_job_get(book, job, error) : NULL;
  g_autoptr(GArray) jobs = job ? NULL : ew_job_list(book, error);
  gboolean good = (one || jobs) && ew_job_today(book, today, error);
  if (good && one)
    good = add_job(rows, book, one, today, error);
  for (guint i = 0; good && jobs && i < jobs->len; i++) {
    g_autoptr(ew_job) next = ew_job_load(book, g_array_index(jobs, struct ew_job_row, i).id, error);
    good = next && add_job(rows, book, next, today, error);
  }
  g_array_sort(rows, by_due);
  return good ? g_steal_pointer(&rows) : NULL;
}
