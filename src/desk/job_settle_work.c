/* Orders and what has come of them, hours, reminders and the end of a job: what each must say beside the records before it. */
#include "base/error.h"
#include "book/keep.h"
#include "desk/job_parts.h"
#include "job/decimal.h"
#include <math.h>
#include <string.h>

#define DAY_MOST_S (24 * 3600.0)
#define DAY_LONG_S (14 * 3600.0) /* asked about; common practice, no source */

static gboolean is_from(const struct ew_job_line *l, const char *supplier) {
  return g_ascii_strcasecmp(l->supplier ? l->supplier : "", supplier ? supplier : "") == 0;
}

/* Lines of one supplier go from `left` into `lines`. */
static void take_supplier(GArray *left, const char *supplier, GArray *lines) {
  for (guint i = 0; i < left->len;) {
    struct ew_job_line *l = &g_array_index(left, struct ew_job_line, i), copy;
    if (!is_from(l, supplier)) {
      i++;
      continue;
    }
    ew_job_line_copy(l, &copy);
    g_array_append_val(lines, copy);
    g_array_remove_index(left, i);
  }
}

static struct ew_job_order *order_beside(const struct ew_job_deed *d,
                                         const struct ew_job_order *first, const char *supplier) {
  struct ew_job_order *o = g_new0(struct ew_job_order, 1);
  ew_fields_copy(ew_job_fields(EW_JOB_ORDER), first, o);
  memcpy(o->mark.day, d->mark->day, sizeof o->mark.day);
  g_free(o->supplier);
  o->supplier = g_strdup(supplier);
  o->order = first->order + 1 + (int)d->more->len;
  o->mark.lines = ew_job_lines_new();
  g_ptr_array_add(d->more, o);
  return o;
}

/* A supplier that no part of the job comes from was probably not meant. */
static gboolean has_supplier(const struct ew_job_deed *d, const char *supplier, GError **error) {
  g_autoptr(GArray) wanted = ew_job_wanted(d->job);
  for (guint i = 0; i < wanted->len; i++)
    if (is_from(&g_array_index(wanted, struct ew_job_line, i), supplier))
      return TRUE;
  return ew_refuse(error, "%s: no part of this job comes from '%.60s'", d->ask->where, supplier);
}

gboolean ew_job_settle_order(struct ew_job_deed *d, GError **error) {
  struct ew_job_order *o = (struct ew_job_order *)(void *)d->mark;
  const struct ew_job_standing s = ew_job_standing_of(d->job);
  if (!s.quote)
    return ew_refuse(error, "%s: this job has no quote yet: 'job quote'", d->ask->where);
  if (!s.agreed && !d->ask->sure)
    return ew_ask(error,
                  "%s: quote %d is not agreed yet; what is ordered now is ordered at the "
                  "shop's own risk",
                  d->ask->where, s.quote->quote);
  if (o->due && strcmp(o->due, d->mark->day) < 0)
    return ew_refuse(error, "%s: due '%s' is before the day of the order, %s", d->ask->where,
                     o->due, d->mark->day);
  if (o->supplier && !has_supplier(d, o->supplier, error))
    return FALSE;
  g_autoptr(GArray) left = ew_job_to_order(d->job);
  gboolean all = !o->supplier;
  if (all && left->len)
    o->supplier = g_strdup(g_array_index(left, struct ew_job_line, 0).supplier);
  d->mark->lines = ew_job_lines_new();
  if (left->len)
    take_supplier(left, o->supplier, d->mark->lines);
  d->same = d->mark->lines->len == 0; /* nothing is left to order */
  if (d->same || !ew_job_next_number(d, &o->order, error))
    return d->same;
  while (all && left->len) {
    g_autofree char *supplier = g_strdup(g_array_index(left, struct ew_job_line, 0).supplier);
    take_supplier(left, supplier, order_beside(d, o, supplier)->mark.lines);
  }
  return TRUE;
}

/* The first order of that part from which something is still out, else the last of it; by code or by the supplier's number. */
static const struct ew_job_ordered *ordered_meant(const GArray *rows, const struct ew_job_came *c) {
  const struct ew_job_ordered *found = NULL;
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_job_ordered *row = &g_array_index(rows, struct ew_job_ordered, i);
    gboolean is = g_ascii_strcasecmp(row->line->code, c->code) == 0 ||
                  (row->line->supplier_number &&
                   g_ascii_strcasecmp(row->line->supplier_number, c->code) == 0);
    if (!is || (c->order && row->order->order != c->order))
      continue;
    if (!found || found->came >= found->line->quantity)
      found = row;
  }
  return found;
}

static gboolean came_before(const struct ew_job_deed *d, const struct ew_job_came *c,
                            GError **error) {
  const struct ew_job_came *other;
  EW_JOB_EACH(d->job, CAME, const struct ew_job_came, other, i) {
    if (g_ascii_strcasecmp(other->code, c->code) != 0)
      continue;
    if (c->serial && other->serial && g_ascii_strcasecmp(other->serial, c->serial) == 0)
      return ew_refuse(
          error,
          "%s: %s with the serial number '%.60s' came on %s already (record %" G_GINT64_FORMAT ")",
          d->ask->where, c->code, c->serial, other->mark.day, other->mark.id);
    if (!d->ask->sure && !c->serial && ew_job_same(EW_JOB_CAME, other, c, TRUE))
      return ew_ask(error, "%s: the same was kept on %s already (record %" G_GINT64_FORMAT ")",
                    d->ask->where, other->mark.day, other->mark.id);
  }
  return TRUE;
}

static gboolean amount_is_good(const struct ew_job_deed *d, const struct ew_job_came *c,
                               const struct ew_job_ordered *row, gint64 quantity, GError **error) {
  gint64 out = row->line->quantity - row->came;
  g_autofree char *came = ew_count_show(row->came), *wanted = ew_count_show(row->line->quantity);
  if (quantity <= 0)
    return ew_refuse(error, "%s: %s: the quantity is not above zero", d->ask->where, c->code);
  if (c->serial && quantity != EW_DECIMAL_ONE)
    return ew_refuse(error,
                     "%s: a serial number names one piece; give 'quantity' 1 and each number by "
                     "itself",
                     d->ask->where);
  return quantity <= out || d->ask->sure ||
         ew_ask(error, "%s: %s: %s of %s have come with order %d; this is more than was ordered",
                d->ask->where, c->code, came, wanted, row->order->order);
}

gboolean ew_job_settle_came(struct ew_job_deed *d, GError **error) {
  struct ew_job_came *c = (struct ew_job_came *)(void *)d->mark;
  g_autoptr(GArray) rows = ew_job_ordered_of(d->job, d->today), lines = ew_job_lines_new();
  const struct ew_job_ordered *row = ordered_meant(rows, c);
  struct ew_job_line line;
  if (!row) {
    for (guint i = 0; i < rows->len; i++) {
      ew_job_line_copy(g_array_index(rows, struct ew_job_ordered, i).line, &line);
      g_array_append_val(lines, line);
    }
    return ew_job_refuse_code(lines, c->code, d->ask->where, error);
  }
  if (strcmp(d->mark->day, row->order->mark.day) < 0)
    return ew_refuse(error, "%s: at '%s' is before order %d, which is of %s", d->ask->where,
                     d->mark->day, row->order->order, row->order->mark.day);
  ew_job_line_copy(row->line, &line);
  if (d->ask->lines && d->ask->lines->len)
    line.quantity = g_array_index(d->ask->lines, struct ew_job_line, 0).quantity;
  else
    line.quantity = c->serial ? EW_DECIMAL_ONE : MAX(row->line->quantity - row->came, 0);
  g_free(c->code);
  c->code = g_strdup(row->line->code);
  c->order = row->order->order;
  d->mark->lines = ew_job_lines_new();
  g_array_append_val(d->mark->lines, line);
  if (line.quantity == 0 && !(d->ask->lines && d->ask->lines->len))
    return ew_refuse(error,
                     "%s: all of %s has come with order %d; give 'quantity' when there is more",
                     d->ask->where, c->code, c->order);
  return came_before(d, c, error) && amount_is_good(d, c, row, line.quantity, error);
}

/* ---- hours ---- */

/* Of one person on one day, over all jobs. O(jobs). */
static gboolean day_hours(const struct ew_job_deed *d, double *sum_s, GError **error) {
  g_autoptr(GArray) rows = ew_job_list(d->book, error);
  *sum_s = 0;
  for (guint i = 0; rows && i < rows->len; i++) {
    g_autoptr(ew_job) job =
        ew_job_load(d->book, g_array_index(rows, struct ew_job_row, i).id, error);
    if (!job)
      return FALSE;
    const struct ew_job_hours *h;
    EW_JOB_EACH(job, HOURS, const struct ew_job_hours, h, k) {
      if (strcmp(h->mark.day, d->mark->day) == 0 &&
          g_ascii_strcasecmp(h->mark.who, d->mark->who) == 0)
        *sum_s += h->spent_s;
    }
  }
  return rows != NULL;
}

static gboolean is_work(const struct ew_job_deed *d, const char *code, GError **error) {
  g_autoptr(GArray) wanted = ew_job_wanted(d->job);
  const struct ew_job_prices *prices = ew_job_prices_now(d->shop);
  const GArray *table = prices ? prices->mark.lines : NULL;
  const struct ew_job_line *l = ew_job_line_of(wanted, code);
  if (!l)
    l = ew_job_line_of(table, code);
  if (!l)
    return ew_job_refuse_code(table, code, d->ask->where, error);
  return l->labour || ew_refuse(error, "%s: '%s' is a part, and hours are kept for labour",
                                d->ask->where, l->code);
}

gboolean ew_job_settle_hours(struct ew_job_deed *d, GError **error) {
  struct ew_job_hours *h = (struct ew_job_hours *)(void *)d->mark;
  const struct ew_job_hours *other;
  double before_s;
  if (!is_work(d, h->code, error) || !day_hours(d, &before_s, error))
    return FALSE;
  double sum_s = before_s + h->spent_s;
  if (!(sum_s <= DAY_MOST_S))
    return ew_refuse(error, "%s: %s would have worked %.1f h on %s, and a day has 24",
                     d->ask->where, d->mark->who, sum_s / 3600, d->mark->day);
  EW_JOB_EACH(d->job, HOURS, const struct ew_job_hours, other, i) {
    if (!d->ask->sure && g_ascii_strcasecmp(other->mark.who, d->mark->who) == 0 &&
        ew_job_same(EW_JOB_HOURS, other, h, TRUE))
      return ew_ask(error,
                    "%s: the same hours of %s are kept already (record %" G_GINT64_FORMAT ")",
                    d->ask->where, other->mark.day, other->mark.id);
  }
  return sum_s <= DAY_LONG_S || d->ask->sure ||
         ew_ask(error, "%s: %s would have worked %.1f h on %s", d->ask->where, d->mark->who,
                sum_s / 3600, d->mark->day);
}

/* ---- the end, and after ---- */

gboolean ew_job_settle_reminder(struct ew_job_deed *d, GError **error) {
  const struct ew_job_reminder *r = (const struct ew_job_reminder *)(const void *)d->mark;
  g_autoptr(GPtrArray) open = ew_job_reminders(d->job);
  gboolean there = FALSE;
  for (guint i = 0; i < open->len; i++)
    there |=
        g_ascii_strcasecmp(((const struct ew_job_reminder *)open->pdata[i])->what, r->what) == 0;
  if (ew_job_is_last(d, FALSE))
    return TRUE;
  return r->state == 0 || there ||
         ew_refuse(error, "%s: this job has no open reminder '%.60s'", d->ask->where, r->what);
}

gboolean ew_job_settle_end(struct ew_job_deed *d, GError **error) {
  const struct ew_job_end *e = (const struct ew_job_end *)(const void *)d->mark,
                          *last = ew_job_last(d->job, EW_JOB_END);
  const struct ew_job_standing s = ew_job_standing_of(d->job);
  if (last && (ew_job_is_last(d, TRUE) || (!d->dated && ew_job_is_last(d, FALSE))))
    return TRUE;
  if (last)
    return ew_refuse(error,
                     "%s: this job ended on %s (record %" G_GINT64_FORMAT
                     "); if that was wrong withdraw that record first",
                     d->ask->where, last->mark.day, last->mark.id);
  if (e->how != EW_JOB_SHIPPED || d->ask->sure)
    return TRUE;
  if (!s.agreed)
    return ew_ask(error, "%s: no quote was agreed, and it is to be shipped", d->ask->where);
  return ew_job_build_id(d->job) ||
         ew_ask(error, "%s: this job has no engine: 'job engine' names it", d->ask->where);
}
