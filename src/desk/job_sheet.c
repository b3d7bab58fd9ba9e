/* The quote speaks the customer's language, the order list the shop's. */
#include "desk/job_sheet.h"
#include "base/error.h"
#include "base/language.h"
#include "base/words.h"
#include "desk/job.h"

static gboolean quote_of(const struct ew_job *job, const struct ew_job_sheet_options *o,
                         const struct ew_job_quote **quote, GError **error) {
  const struct ew_job_standing s = ew_job_standing_of(job);
  *quote = o->quote ? ew_job_quote_of(job, o->quote) : s.quote;
  if (o->kind == EW_JOB_SHEET_ORDERS)
    return job->records[EW_JOB_ORDER]->len ||
           ew_refuse(error, "nothing is ordered for job '%s' yet: 'job order'", job->name);
  return *quote || (o->quote ? ew_refuse(error, "this job has no quote %d", o->quote)
                             : ew_refuse(error, "this job has no quote yet: 'job quote'"));
}

static gboolean draw(struct ew_desk *desk, const struct ew_job *job,
                     const struct ew_job_sheet_options *o, GError **error) {
  const struct ew_job_quote *quote;
  struct ew_sheet_head head;
  char today[11];
  gboolean customer = o->kind == EW_JOB_SHEET_QUOTE;
  if (!quote_of(job, o, &quote, error) || !ew_job_today(desk->book, today, error) ||
      !ew_sheet_head_read(desk->book, &o->sheet,
                          customer ? EW_TEXT("Quote") : EW_TEXT("Order list"), customer, &head,
                          error))
    return FALSE;
  g_autofree char *day = customer ? ew_sheet_day(quote->mark.day) : NULL,
                  *about = customer ? ew_words("%s: quote %d of %s", job->name, quote->quote, day)
                                    : g_strdup(job->name);
  head.flow.about = about;
  const struct ew_job_paper paper = {
      .head = head.flow, .units = head.units, .job = job, .quote = quote, .today = today};
  gboolean good =
      ew_job_sheet_draw(o->kind, &paper, o->sheet.path, o->sheet.format, head.paper, error);
  ew_sheet_head_clear(&head);
  return good;
}

gboolean ew_make_job_sheet(struct ew_desk *desk, const struct ew_job_sheet_options *options,
                           GError **error) {
  g_autoptr(ew_job) job = ew_job_get(desk->book, options->job, error);
  return job && draw(desk, job, options, error);
}
