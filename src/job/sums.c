/* The last agreement names the quote; every change that was signed counts with it. Without an agreement the newest quote
 * is shown, and nobody owes anything. */
#include "job/sums.h"
#include "job/decimal.h"
#include <stdio.h>
#include <string.h>

#define HOUR_UNIT "h"

struct ew_job_sum ew_job_sum_of(const GArray *lines) {
  struct ew_job_sum sum = {0};
  for (guint i = 0; lines && i < lines->len; i++) {
    const struct ew_job_line *l = &g_array_index(lines, struct ew_job_line, i);
    *(l->labour ? &sum.labour : &sum.parts) += ew_job_line_sum(l);
  }
  return sum;
}

const struct ew_job_quote *ew_job_quote_of(const struct ew_job *job, int number) {
  const struct ew_job_quote *q, *found = NULL;
  EW_JOB_EACH(job, QUOTE, const struct ew_job_quote, q, i) {
    if (q->quote == number)
      found = q;
  }
  return found;
}

struct ew_job_standing ew_job_standing_of(const struct ew_job *job) {
  struct ew_job_standing s = {.agreed = ew_job_last(job, EW_JOB_AGREED),
                              .end = ew_job_last(job, EW_JOB_END)};
  s.quote = s.agreed ? ew_job_quote_of(job, s.agreed->quote) : ew_job_last(job, EW_JOB_QUOTE);
  s.quoted = ew_job_sum_of(s.quote ? s.quote->mark.lines : NULL);
  const struct ew_job_change *c;
  EW_JOB_EACH(job, CHANGE, const struct ew_job_change, c, i) {
    const struct ew_job_sum one = ew_job_sum_of(c->mark.lines);
    s.changes.parts += one.parts;
    s.changes.labour += one.labour;
  }
  s.total = s.quoted.parts + s.quoted.labour + s.changes.parts + s.changes.labour;
  return s;
}

static struct ew_job_line *line_in(GArray *lines, const char *code) {
  for (guint i = 0; i < lines->len; i++) {
    struct ew_job_line *l = &g_array_index(lines, struct ew_job_line, i);
    if (g_ascii_strcasecmp(l->code, code) == 0)
      return l;
  }
  return NULL;
}

static void add_lines(GArray *all, const GArray *lines, int sign) {
  for (guint i = 0; lines && i < lines->len; i++) {
    const struct ew_job_line *l = &g_array_index(lines, struct ew_job_line, i);
    struct ew_job_line *there = line_in(all, l->code), copy;
    if (there) {
      there->quantity += sign * l->quantity;
      continue;
    }
    ew_job_line_copy(l, &copy);
    copy.quantity *= sign;
    g_array_append_val(all, copy);
  }
}

GArray *ew_job_wanted(const struct ew_job *job) {
  const struct ew_job_standing s = ew_job_standing_of(job);
  GArray *all = ew_job_lines_new();
  if (s.quote)
    add_lines(all, s.quote->mark.lines, 1);
  const struct ew_job_change *c;
  EW_JOB_EACH(job, CHANGE, const struct ew_job_change, c, i) {
    add_lines(all, c->mark.lines, 1);
  }
  return all;
}

GArray *ew_job_to_order(const struct ew_job *job) {
  GArray *all = ew_job_wanted(job);
  const struct ew_job_order *o;
  EW_JOB_EACH(job, ORDER, const struct ew_job_order, o, i) {
    add_lines(all, o->mark.lines, -1);
  }
  for (guint i = all->len; i-- > 0;) {
    const struct ew_job_line *l = &g_array_index(all, struct ew_job_line, i);
    if (l->labour || l->quantity <= 0)
      g_array_remove_index(all, i);
  }
  return all;
}

static gint64 came_of(const struct ew_job *job, int order, const char *code) {
  gint64 sum = 0;
  const struct ew_job_came *c;
  EW_JOB_EACH(job, CAME, const struct ew_job_came, c, i) {
    const struct ew_job_line *l = c->order == order ? ew_job_line_of(c->mark.lines, code) : NULL;
    sum += l ? l->quantity : 0;
  }
  return sum;
}

static void due_of(const struct ew_job_order *o, const struct ew_job_line *l, char due[11]) {
  int year, month, day;
  due[0] = 0;
  if (o->due) {
    g_strlcpy(due, o->due, 11);
    return;
  }
  if (l->days < 0 || sscanf(o->mark.day, "%d-%d-%d", &year, &month, &day) != 3 ||
      !g_date_valid_dmy((GDateDay)day, (GDateMonth)month, (GDateYear)year))
    return;
  GDate date;
  g_date_clear(&date, 1);
  g_date_set_dmy(&date, (GDateDay)day, (GDateMonth)month, (GDateYear)year);
  g_date_add_days(&date, (guint)l->days);
  g_snprintf(due, 11, "%04u-%02u-%02u", (guint)g_date_get_year(&date) % 10000,
             (guint)g_date_get_month(&date) % 100, (guint)g_date_get_day(&date) % 100);
}

GArray *ew_job_ordered_of(const struct ew_job *job, const char *today) {
  GArray *rows = g_array_new(FALSE, TRUE, sizeof(struct ew_job_ordered));
  const struct ew_job_order *o;
  EW_JOB_EACH(job, ORDER, const struct ew_job_order, o, i) {
    for (guint k = 0; o->mark.lines && k < o->mark.lines->len; k++) {
      const struct ew_job_line *l = &g_array_index(o->mark.lines, struct ew_job_line, k);
      struct ew_job_ordered row = {.order = o, .line = l, .came = came_of(job, o->order, l->code)};
      due_of(o, l, row.due);
      row.late = row.came < l->quantity && row.due[0] && strcmp(row.due, today) < 0;
      g_array_append_val(rows, row);
    }
  }
  return rows;
}

static struct ew_job_work *work_in(GArray *rows, const char *code, const char *name) {
  for (guint i = 0; i < rows->len; i++) {
    struct ew_job_work *w = &g_array_index(rows, struct ew_job_work, i);
    if (g_ascii_strcasecmp(w->code, code) == 0)
      return w;
  }
  const struct ew_job_work row = {.code = code, .name = name};
  g_array_append_val(rows, row);
  return &g_array_index(rows, struct ew_job_work, rows->len - 1);
}

static void add_quoted(GArray *rows, const GArray *lines) {
  for (guint i = 0; lines && i < lines->len; i++) {
    const struct ew_job_line *l = &g_array_index(lines, struct ew_job_line, i);
    if (l->labour && g_strcmp0(l->unit, HOUR_UNIT) == 0)
      work_in(rows, l->code, l->name)->quoted += l->quantity;
  }
}

GArray *ew_job_work_of(const struct ew_job *job) {
  const struct ew_job_standing s = ew_job_standing_of(job);
  GArray *rows = g_array_new(FALSE, TRUE, sizeof(struct ew_job_work));
  if (s.quote)
    add_quoted(rows, s.quote->mark.lines);
  const struct ew_job_change *c;
  EW_JOB_EACH(job, CHANGE, const struct ew_job_change, c, i) {
    add_quoted(rows, c->mark.lines);
  }
  const struct ew_job_hours *h;
  EW_JOB_EACH(job, HOURS, const struct ew_job_hours, h, i) {
    work_in(rows, h->code, NULL)->spent_s += h->spent_s;
  }
  return rows;
}

GPtrArray *ew_job_reminders(const struct ew_job *job) {
  GPtrArray *open = g_ptr_array_new();
  struct ew_job_reminder *r;
  EW_JOB_EACH(job, REMINDER, struct ew_job_reminder, r, i) {
    for (guint k = open->len; k-- > 0;)
      if (g_ascii_strcasecmp(((const struct ew_job_reminder *)open->pdata[k])->what, r->what) == 0)
        g_ptr_array_remove_index(open, k);
    if (r->state == 0)
      g_ptr_array_add(open, r);
  }
  return open;
}
