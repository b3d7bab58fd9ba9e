/* Reading records over the field tables, and what a record must say by itself. What it must say beside the others is in
 * desk/job_deed.c. */
#include "base/error.h"
#include "job/decimal.h"
#include "job/job.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

struct ew_job *ew_job_new(void) {
  struct ew_job *job = g_new0(struct ew_job, 1);
  for (int k = 0; k < EW_JOB_KINDS_COUNT; k++)
    job->records[k] = g_ptr_array_new();
  return job;
}

void ew_job_free(struct ew_job *job) {
  if (!job)
    return;
  for (int k = 0; k < EW_JOB_KINDS_COUNT; k++) {
    for (guint i = 0; i < job->records[k]->len; i++)
      ew_job_record_free((enum ew_job_kind)k, job->records[k]->pdata[i]);
    g_ptr_array_unref(job->records[k]);
  }
  g_free(job->name);
  g_free(job->at);
  g_free(job);
}

void ew_job_record_free(enum ew_job_kind kind, void *record) {
  if (!record)
    return;
  struct ew_job_mark *mark = record;
  g_clear_pointer(&mark->lines, g_array_unref);
  ew_fields_clear(ew_job_fields(kind), record);
  g_free(record);
}

char *ew_job_record_yaml(enum ew_job_kind kind, const void *record) {
  return ew_fields_write_yaml(ew_job_fields(kind), record);
}

void ew_job_lines_json(const GArray *lines, struct ew_json *json) {
  char buffer[EW_DECIMAL_SIZE];
  ew_json_open_array(json, "lines");
  for (guint i = 0; lines && i < lines->len; i++) {
    const struct ew_job_line *l = &g_array_index(lines, struct ew_job_line, i);
    ew_json_open(json, NULL);
    ew_json_text(json, "code", l->code);
    ew_json_text(json, "name", l->name);
    ew_json_text(json, "kind", l->labour ? "labour" : "part");
    ew_json_text(json, "unit", l->unit);
    ew_json_text(json, "price", ew_decimal_write(l->price, buffer));
    ew_json_text(json, "tax", l->tax);
    ew_json_text(json, "supplier", l->supplier);
    ew_json_text(json, "supplier_number", l->supplier_number);
    if (l->days >= 0)
      ew_json_integer(json, "days", l->days);
    ew_json_text(json, "quantity", ew_decimal_write(l->quantity, buffer));
    ew_json_text(json, "sum", ew_decimal_write(ew_job_line_sum(l), buffer));
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

void ew_job_record_json(enum ew_job_kind kind, const void *record, struct ew_json *json) {
  const struct ew_job_mark *mark = record;
  if (mark->id)
    ew_json_integer(json, "id", mark->id);
  ew_fields_write_json(ew_job_fields(kind), record, json);
  if (mark->lines || kind == EW_JOB_CHANGE) /* a change may have none */
    ew_job_lines_json(mark->lines, json);
}

const void *ew_job_last(const struct ew_job *job, enum ew_job_kind kind) {
  const GPtrArray *all = job->records[kind];
  return all->len ? all->pdata[all->len - 1] : NULL;
}

gboolean ew_job_is_day(const char *text) {
  int year, month, day, end = 0;
  return text && strlen(text) == 10 && strspn(text, "0123456789-") == 10 &&
         sscanf(text, "%4d-%2d-%2d%n", &year, &month, &day, &end) == 3 && end == 10 &&
         year >= 1900 && g_date_valid_dmy((GDateDay)day, (GDateMonth)month, (GDateYear)year);
}

static gboolean need(const char *text, const char *field, const char *where, GError **error) {
  return (text && *text && text[strspn(text, " \t")]) ||
         ew_refuse(error, "%s: '%s' is missing", where, field);
}

static gboolean is_day(const char *text, const char *field, const char *where, GError **error) {
  return !text || ew_job_is_day(text) ||
         ew_refuse(error, "%s: %s '%.40s' is not a day of the calendar; write 2026-03-14", where,
                   field, text);
}

static gboolean settle_wish(const struct ew_job_wish *w, const char *where, GError **error) {
  gint64 value = 0;
  enum ew_decimal_fault fault = w->budget ? ew_decimal_read(w->budget, &value) : EW_DECIMAL_FINE;
  if (fault != EW_DECIMAL_FINE)
    return ew_decimal_refuse(fault, where, "budget", w->budget, error);
  if (value < 0)
    return ew_refuse(error, "%s: budget '%.40s' is below zero", where, w->budget);
  if (!isnan(w->power_speed_rpm) && isnan(w->power_w))
    return ew_refuse(error, "%s: 'power_speed' without 'power': give the power at that speed",
                     where);
  if (w->power_speed_rpm > w->limit_rpm || w->idle_rpm >= w->limit_rpm)
    return ew_refuse(error, "%s: 'limit' is below the speed of the power, or the idle speed",
                     where);
  return need(w->customer, "customer", where, error) && need(w->wish, "wish", where, error) &&
         is_day(w->by, "by", where, error);
}

static gboolean settle_change(const struct ew_job_change *c, const char *where, GError **error) {
  if (!isnan(c->power_speed_rpm) && isnan(c->power_w))
    return ew_refuse(error, "%s: 'power_speed' without 'power': give the power at that speed",
                     where);
  return need(c->what, "what", where, error) && need(c->by, "by", where, error);
}

static gboolean settle_reminder(const struct ew_job_reminder *r, const char *where,
                                GError **error) {
  if (isnan(r->running_s) && !r->by && r->state == 0)
    return ew_refuse(error, "%s: give 'running' (\"1 h\"), 'by' (a day) or both", where);
  return need(r->what, "what", where, error) && is_day(r->by, "by", where, error);
}

static gboolean settle(enum ew_job_kind kind, const void *record, const char *where,
                       GError **error) {
  switch (kind) {
  case EW_JOB_WISH: return settle_wish(record, where, error);
  case EW_JOB_QUOTE:
    return is_day(((const struct ew_job_quote *)record)->until, "until", where, error);
  case EW_JOB_AGREED: return need(((const struct ew_job_agreed *)record)->by, "by", where, error);
  case EW_JOB_CHANGE: return settle_change(record, where, error);
  case EW_JOB_ENGINE:
    return need(((const struct ew_job_engine *)record)->engine, "engine", where, error);
  case EW_JOB_ORDER: return is_day(((const struct ew_job_order *)record)->due, "due", where, error);
  case EW_JOB_CAME: return need(((const struct ew_job_came *)record)->code, "code", where, error);
  case EW_JOB_HOURS:
    return need(((const struct ew_job_hours *)record)->code, "code", where, error) &&
           (!isnan(((const struct ew_job_hours *)record)->spent_s) ||
            ew_refuse(error, "%s: 'spent' is missing; write \"3.5 h\"", where));
  case EW_JOB_REMINDER: return settle_reminder(record, where, error);
  case EW_JOB_PRICES:
  case EW_JOB_SENT:
  case EW_JOB_END: return TRUE;
  case EW_JOB_KINDS_COUNT: break;
  }
  g_assert_not_reached();
}

gboolean ew_job_record_check(enum ew_job_kind kind, const void *record, const char *where,
                             GError **error) {
  const struct ew_job_mark *mark = record;
  const char *currency = kind == EW_JOB_PRICES  ? ((const struct ew_job_prices *)record)->currency
                         : kind == EW_JOB_QUOTE ? ((const struct ew_job_quote *)record)->currency
                                                : "";
  gboolean lines =
      kind == EW_JOB_PRICES || kind == EW_JOB_QUOTE || kind == EW_JOB_ORDER || kind == EW_JOB_CAME;
  if (lines && !(mark->lines && mark->lines->len))
    return ew_refuse(error, "%s: 'lines' is missing", where);
  if (!currency)
    return ew_refuse(error, "%s: 'currency' is missing", where);
  return settle(kind, record, where, error);
}

void *ew_job_record_parse(enum ew_job_kind kind, const struct ew_node *map, const char *where,
                          GError **error) {
  if (map->kind != EW_NODE_MAP) {
    ew_refuse(error, "%s, line %u: expected a map of fields", where, map->line);
    return NULL;
  }
  void *record = g_malloc0(ew_job_fields(kind)->size);
  if (ew_fields_read(ew_job_fields(kind), map, where, NULL, record, error))
    return record;
  g_free(record);
  return NULL;
}

void *ew_job_record_read(enum ew_job_kind kind, const struct ew_node *map, const char *where,
                         GError **error) {
  void *record = ew_job_record_parse(kind, map, where, error);
  if (record && !settle(kind, record, where, error)) {
    ew_job_record_free(kind, record);
    return NULL;
  }
  return record;
}
