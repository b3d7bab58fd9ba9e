/* What a record must say beside the others of its job, from the price table to the engine: which quote, whose price. What was
 * typed twice is not kept twice. Orders, hours and the end: job_settle_work.c. */
#include "base/as_pointer.h"
#include "base/error.h"
#include "base/suggest.h"
#include "book/keep.h"
#include "desk/job_parts.h"
#include "job/decimal.h"
#include <math.h>
#include <string.h>

static char *lines_text(const GArray *lines) {
  return lines && lines->len ? ew_job_lines_write(lines) : NULL;
}

gboolean ew_job_same(enum ew_job_kind kind, const void *a, const void *b, gboolean by_day) {
  const struct ew_job_mark *x = a, *y = b;
  const struct ew_fields *table = ew_job_fields(kind);
  gboolean same = !by_day || strcmp(x->day, y->day) == 0;
  for (gsize i = 0; same && i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    same = strcmp(field->name, "at") == 0 || strcmp(field->name, "who") == 0 ||
           ew_field_same(field, a, b);
  }
  g_autofree char *one = lines_text(x->lines), *other = lines_text(y->lines);
  return same && g_strcmp0(one, other) == 0;
}

/* Is it the last of its kind once more? */
gboolean ew_job_is_last(struct ew_job_deed *d, gboolean by_day) {
  const void *last = ew_job_last(d->job, d->ask->kind);
  d->same = last && ew_job_same(d->ask->kind, last, d->mark, by_day);
  return d->same;
}

static gboolean is_any(struct ew_job_deed *d) {
  const GPtrArray *all = d->job->records[d->ask->kind];
  for (guint i = 0; i < all->len; i++)
    if (ew_job_same(d->ask->kind, all->pdata[i], d->mark, TRUE))
      d->same = TRUE;
  return d->same;
}

gboolean ew_job_next_number(struct ew_job_deed *d, int *number, GError **error) {
  gint64 count;
  if (!ew_job_count(d->book, d->job->id, d->ask->kind, &count, error))
    return FALSE;
  *number = (int)count + 1;
  return TRUE;
}

/* ---- price tables ---- */

/* Lower code -> line, which is the array's. */
static GHashTable *by_code(const GArray *lines) {
  GHashTable *table = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  for (guint i = 0; lines && i < lines->len; i++) {
    struct ew_job_line *l = &g_array_index(lines, struct ew_job_line, i);
    g_hash_table_insert(table, g_ascii_strdown(l->code, -1), l);
  }
  return table;
}

/* A decimal mark that was lost on the way: ten times the price of before, or a tenth. */
static gboolean prices_are_likely(const struct ew_job_deed *d, const GArray *before,
                                  GError **error) {
  g_autoptr(GHashTable) old_lines = by_code(before);
  for (guint i = 0; !d->ask->sure && i < d->mark->lines->len; i++) {
    const struct ew_job_line *l = &g_array_index(d->mark->lines, struct ew_job_line, i);
    g_autofree char *key = g_ascii_strdown(l->code, -1);
    const struct ew_job_line *was = g_hash_table_lookup(old_lines, key);
    if (!was || !was->price || !l->price ||
        (l->price < 10 * was->price && was->price < 10 * l->price))
      continue;
    g_autofree char *old = ew_money_show(was->price), *now = ew_money_show(l->price);
    return ew_ask(error, "%s: %s: its price was %s and would be %s", d->ask->where, l->code, old,
                  now);
  }
  return TRUE;
}

static gboolean settle_prices(struct ew_job_deed *d, GError **error) {
  struct ew_job_prices *p = (struct ew_job_prices *)(void *)d->mark;
  const struct ew_job_prices *last = ew_job_prices_now(d->shop);
  if (!p->currency || !*p->currency)
    return ew_refuse(
        error,
        "%s: 'currency' is missing: give it with the table (on the command line --currency), or "
        "in a column of that name",
        d->ask->where);
  d->mark->lines = g_array_ref(ew_as_pointer(d->ask->lines));
  p->version = last ? last->version : 0;
  if (last && ew_job_is_last(d, FALSE))
    return TRUE;
  return prices_are_likely(d, last ? last->mark.lines : NULL, error) &&
         ew_job_next_number(d, &p->version, error);
}

/* ---- from the wish to the agreement ---- */

static gboolean settle_wish(struct ew_job_deed *d, GError **error) {
  const struct ew_job_agreed *agreed = ew_job_last(d->job, EW_JOB_AGREED);
  if (ew_job_is_last(d, FALSE))
    return TRUE;
  return !agreed || ew_refuse(error,
                              "%s: this was agreed on %s; what is wanted otherwise since is a "
                              "change that is signed: 'job change'",
                              d->ask->where, agreed->mark.day);
}

gboolean ew_job_refuse_code(const GArray *lines, const char *code, const char *where,
                            GError **error) {
  g_autoptr(GPtrArray) codes = g_ptr_array_new();
  for (guint i = 0; lines && i < lines->len; i++)
    g_ptr_array_add(codes, g_array_index(lines, struct ew_job_line, i).code);
  const char *near =
      codes->len ? ew_suggest(code, (const char *const *)codes->pdata, codes->len) : NULL;
  if (near)
    return ew_refuse(error, "%s: there is no '%.60s'; did you mean '%s'?", where, code, near);
  return ew_refuse(error, "%s: there is no '%.60s'; 'price list' shows the codes", where, code);
}

/* One line with its price: as `first` has it, else the price table. */
static gboolean price_line(const struct ew_job_deed *d, const GArray *first,
                           const struct ew_job_line *wanted, GError **error) {
  const struct ew_job_prices *prices = ew_job_prices_now(d->shop);
  const GArray *table = prices ? prices->mark.lines : NULL;
  const struct ew_job_line *from = ew_job_line_of(first, wanted->code);
  struct ew_job_line line;
  if (!from)
    from = ew_job_line_of(table, wanted->code);
  if (!from)
    return ew_job_refuse_code(table, wanted->code, d->ask->where, error);
  ew_job_line_copy(from, &line);
  line.quantity = wanted->quantity;
  g_array_append_val(d->mark->lines, line);
  return TRUE;
}

static gboolean price_lines(struct ew_job_deed *d, const GArray *first, GError **error) {
  gboolean good = TRUE;
  d->mark->lines = ew_job_lines_new();
  for (guint i = 0; good && d->ask->lines && i < d->ask->lines->len; i++)
    good = price_line(d, first, &g_array_index(d->ask->lines, struct ew_job_line, i), error);
  return good;
}

static gboolean all_positive(const struct ew_job_deed *d, GError **error) {
  for (guint i = 0; i < d->mark->lines->len; i++) {
    const struct ew_job_line *l = &g_array_index(d->mark->lines, struct ew_job_line, i);
    if (l->quantity <= 0)
      return ew_refuse(error, "%s: %s: the quantity is not above zero", d->ask->where, l->code);
  }
  return TRUE;
}

static gboolean settle_quote(struct ew_job_deed *d, GError **error) {
  struct ew_job_quote *q = (struct ew_job_quote *)(void *)d->mark;
  const struct ew_job_prices *prices = ew_job_prices_now(d->shop);
  const struct ew_job_agreed *agreed = ew_job_last(d->job, EW_JOB_AGREED);
  const struct ew_job_quote *last = ew_job_last(d->job, EW_JOB_QUOTE);
  if (!prices)
    return ew_refuse(error, "%s: there is no price table yet: 'price load FILE'", d->ask->where);
  if (!d->ask->lines || d->ask->lines->len == 0)
    return ew_refuse(error, "%s: a quote needs lines, such as gasket-set=1 assembly=24",
                     d->ask->where);
  if (!price_lines(d, NULL, error) || !all_positive(d, error))
    return FALSE;
  if (q->until && strcmp(q->until, d->mark->day) < 0)
    return ew_refuse(error, "%s: until '%s' is before the day of the quote, %s", d->ask->where,
                     q->until, d->mark->day);
  g_free(q->currency);
  q->currency = g_strdup(prices->currency);
  q->prices = last ? last->prices : 0;
  q->quote = last ? last->quote : 0;
  if (ew_job_is_last(d, FALSE))
    return TRUE;
  if (agreed)
    return ew_refuse(error,
                     "%s: quote %d was agreed on %s; what is wanted otherwise since is a change "
                     "that is signed: 'job change'",
                     d->ask->where, agreed->quote, agreed->mark.day);
  q->prices = prices->version;
  return ew_job_next_number(d, &q->quote, error);
}

/* Which quote is meant: the newest where none is named. An older one is asked about. NULL with *error. */
static const struct ew_job_quote *quote_meant(const struct ew_job_deed *d, int *number,
                                              GError **error) {
  const struct ew_job_quote *last = ew_job_last(d->job, EW_JOB_QUOTE);
  const struct ew_job_quote *q = *number ? ew_job_quote_of(d->job, *number) : last;
  if (!q && *number)
    ew_refuse(error, "%s: this job has no quote %d", d->ask->where, *number);
  else if (!q)
    ew_refuse(error, "%s: this job has no quote yet: 'job quote'", d->ask->where);
  if (q && q != last && !d->ask->sure) {
    ew_ask(error, "%s: quote %d is not the newest: quote %d of %s came after it", d->ask->where,
           q->quote, last->quote, last->mark.day);
    return NULL;
  }
  if (q && strcmp(d->mark->day, q->mark.day) < 0) {
    ew_refuse(error, "%s: at '%s' is before quote %d, which is of %s", d->ask->where, d->mark->day,
              q->quote, q->mark.day);
    return NULL;
  }
  if (q)
    *number = q->quote;
  return q;
}

static gboolean settle_sent(struct ew_job_deed *d, GError **error) {
  struct ew_job_sent *s = (struct ew_job_sent *)(void *)d->mark;
  if (!quote_meant(d, &s->quote, error))
    return FALSE;
  (void)is_any(d);
  return TRUE;
}

static gboolean settle_agreed(struct ew_job_deed *d, GError **error) {
  struct ew_job_agreed *a = (struct ew_job_agreed *)(void *)d->mark;
  const struct ew_job_agreed *last = ew_job_last(d->job, EW_JOB_AGREED);
  if (last && !a->quote)
    a->quote = last->quote;
  if (last && ew_job_is_last(d, TRUE))
    return TRUE;
  if (last)
    return ew_refuse(error,
                     "%s: quote %d was agreed on %s (record %" G_GINT64_FORMAT
                     "); what is wanted otherwise since is a change that is signed: 'job change'",
                     d->ask->where, last->quote, last->mark.day, last->mark.id);
  const struct ew_job_quote *q = quote_meant(d, &a->quote, error);
  return q && (d->ask->sure || !q->until || strcmp(d->mark->day, q->until) <= 0 ||
               ew_ask(error, "%s: quote %d was good until %s, and was signed on %s", d->ask->where,
                      q->quote, q->until, d->mark->day));
}

/* No more is taken off than there is. */
static gboolean leaves_enough(const struct ew_job_deed *d, GError **error) {
  g_autoptr(GArray) wanted = ew_job_wanted(d->job);
  for (guint i = 0; i < d->mark->lines->len; i++) {
    const struct ew_job_line *l = &g_array_index(d->mark->lines, struct ew_job_line, i);
    const struct ew_job_line *there = ew_job_line_of(wanted, l->code);
    gint64 before = there ? there->quantity : 0;
    g_autofree char *has = ew_count_show(before);
    if (before + l->quantity < 0)
      return ew_refuse(error, "%s: %s: more is taken off than the quote and its changes have, %s",
                       d->ask->where, l->code, has);
  }
  return TRUE;
}

static gboolean settle_change(struct ew_job_deed *d, GError **error) {
  const struct ew_job_agreed *agreed = ew_job_last(d->job, EW_JOB_AGREED);
  if (!agreed)
    return ew_refuse(error, "%s: nothing is agreed yet that could be changed: make a further quote",
                     d->ask->where);
  if (strcmp(d->mark->day, agreed->mark.day) < 0)
    return ew_refuse(error, "%s: at '%s' is before the agreement of %s", d->ask->where,
                     d->mark->day, agreed->mark.day);
  g_autoptr(GArray) wanted = ew_job_wanted(d->job); /* at the prices that were agreed */
  if (!price_lines(d, wanted, error))
    return FALSE;
  return is_any(d) || leaves_enough(d, error);
}

/* ---- the engine ---- */

static gboolean build_is_free(const struct ew_job_deed *d, gint64 build_id, GError **error) {
  g_autoptr(GArray) rows = ew_job_list(d->book, error);
  for (guint i = 0; rows && i < rows->len; i++) {
    gint64 id = g_array_index(rows, struct ew_job_row, i).id;
    g_autoptr(ew_job) other = id == d->job->id ? NULL : ew_job_load(d->book, id, error);
    if (id != d->job->id && !other)
      return FALSE;
    if (other && ew_job_build_id(other) == build_id && !d->ask->sure)
      return ew_ask(error,
                    "%s: this build is the one of job '%s'; what is agreed in both would be one. "
                    "For another job at the same engine begin another build: 'build start'",
                    d->ask->where, other->name);
  }
  return rows != NULL;
}

static gboolean settle_engine(struct ew_job_deed *d, GError **error) {
  struct ew_job_engine *e = (struct ew_job_engine *)(void *)d->mark;
  const struct ew_job_engine *last = ew_job_last(d->job, EW_JOB_ENGINE);
  struct ew_engine_row row;
  gint64 build_id = 0;
  if (!ew_engine_get(d->book, e->engine, &row, error))
    return FALSE;
  gboolean good = ew_build_current(d->book, row.id, &build_id, error);
  if (good && !build_id)
    good = ew_refuse_with(error, EW_REMEDY_BEGIN_BUILD, "'%s' has no build yet", row.name);
  g_free(e->engine);
  e->engine = g_strdup(row.name);
  e->engine_id = (int)row.id;
  e->build_id = (int)build_id;
  ew_engine_row_clear(&row);
  if (!good || ew_job_is_last(d, FALSE))
    return good;
  if (last)
    return ew_refuse(error,
                     "%s: this job has the engine '%s' (record %" G_GINT64_FORMAT
                     "); if that was wrong withdraw that record first",
                     d->ask->where, last->engine, last->mark.id);
  return build_is_free(d, build_id, error);
}

gboolean ew_job_settle(struct ew_job_deed *d, GError **error) {
  switch (d->ask->kind) {
  case EW_JOB_PRICES: return settle_prices(d, error);
  case EW_JOB_WISH: return settle_wish(d, error);
  case EW_JOB_QUOTE: return settle_quote(d, error);
  case EW_JOB_SENT: return settle_sent(d, error);
  case EW_JOB_AGREED: return settle_agreed(d, error);
  case EW_JOB_CHANGE: return settle_change(d, error);
  case EW_JOB_ENGINE: return settle_engine(d, error);
  case EW_JOB_ORDER: return ew_job_settle_order(d, error);
  case EW_JOB_CAME: return ew_job_settle_came(d, error);
  case EW_JOB_HOURS: return ew_job_settle_hours(d, error);
  case EW_JOB_REMINDER: return ew_job_settle_reminder(d, error);
  case EW_JOB_END: return ew_job_settle_end(d, error);
  case EW_JOB_KINDS_COUNT: break;
  }
  g_assert_not_reached();
}
