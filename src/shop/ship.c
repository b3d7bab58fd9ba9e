/* One round of the shipper; see the head of ship.h. */
#include "shop/ship.h"
#include "base/error.h"
#include "book/store.h"

#define ROWS                                                                                       \
  50 /* measured: fewer, larger transactions gain nothing more (docs/benchmarks-shop.md) */
#define BYTES ((gsize)4 << 20)
#define FORKS 3 /* in one round; more is a fault */

struct round {
  struct ew_book *book;
  struct ew_shop_store *store;
  const char *writer; /* of the batch under way */
  gint64 first; /* that the outbox still holds; what came before it was acknowledged long ago */
  gint64 next;  /* number of the change that comes next */
  struct ew_ship_news *news;
};

/* Is the change that number `seq` names the same in both? What has left the outbox was, when the shop acknowledged it. */
static gboolean is_same(struct round *r, const char *writer, gint64 seq, gboolean *same,
                        GError **error) {
  gint64 here, there;
  *same = seq < r->first;
  if (*same)
    return TRUE;
  if (!ew_ship_mark(r->book, seq, &here, error) ||
      !r->store->class->mark(r->store, writer, seq, &there, error))
    return FALSE;
  *same = here == there && here != 0;
  return TRUE;
}

/* The last number from `low` on (which is the same, or none) up to below `high` (which is not) that is the same in both. */
static gboolean find_common(struct round *r, const char *writer, gint64 low, gint64 high,
                            gint64 *common, GError **error) {
  g_assert(low < high);
  while (high - low > 1) {
    gint64 middle = low + (high - low) / 2;
    gboolean same;
    if (!is_same(r, writer, middle, &same, error))
      return FALSE;
    if (same)
      low = middle;
    else
      high = middle;
  }
  *common = low;
  return TRUE;
}

static gboolean has_what_left(const struct round *r, const struct ew_ship_line *line, gint64 there,
                              GError **error) {
  gint64 left = MIN(line->last, r->first - 1);
  return there >= left || left < line->first ||
         ew_refuse(error,
                   "the shop lacks the changes %" G_GINT64_FORMAT " to %" G_GINT64_FORMAT
                   " of this book, which have left its outbox: it was put back from a backup of "
                   "more than %d days ago. Put a newer one back, or send everything again: 'book "
                   "ship --from-start'",
                   MAX(there + 1, line->first), left, EW_SHIP_KEEP_DAYS);
}

/* *from: the last of the line that the shop has; *forked: a new writer was begun, and the lines are others now. */
static gboolean agree(struct round *r, const struct ew_ship_line *line, gint64 *from,
                      gboolean *forked, GError **error) {
  gint64 there, common;
  gboolean same;
  *forked = FALSE;
  *from = line->first - 1;
  if (!r->store->class->reached(r->store, line->writer, &there, error) ||
      !has_what_left(r, line, there, error))
    return FALSE;
  gint64 last = MIN(there, line->last);
  r->news->lacking = MAX(there - line->last, 0); /* of the last line, in the end */
  if (last < line->first)
    return TRUE;
  *from = last;
  if (!is_same(r, line->writer, last, &same, error) || same)
    return same;
  if (!find_common(r, line->writer, line->first - 1, last, &common, error) ||
      !ew_keep_fork(r->book, common, error))
    return FALSE;
  r->news->forks++;
  r->news->fork_after = common;
  return *forked = TRUE;
}

/* What a damaged file lost is neither left out in silence nor looked for without end. */
static gboolean lacks(const struct round *r, gint64 last, GError **error) {
  return ew_refuse(error,
                   "the outbox of this book lacks the changes %" G_GINT64_FORMAT
                   " to %" G_GINT64_FORMAT
                   ": the file was damaged. 'book verify' checks the rest; 'book ship "
                   "--from-start' sends everything again",
                   r->next, last);
}

static gboolean put(const struct ew_letter *letter, gpointer user, GError **error) {
  struct round *r = user;
  g_assert(r->writer); /* within a batch */
  if (letter->seq != r->next)
    return lacks(r, letter->seq - 1, error);
  r->next++;
  r->news->sent++;
  return r->store->class->put(r->store, r->writer, letter, error);
}

/* One transaction. *from rises to what the shop has now, by us or by another who ships the same book. */
static gboolean send_batch(struct round *r, const struct ew_ship_line *line, gint64 *from,
                           GError **error) {
  gint64 there, reached, sent = r->news->sent;
  if (!r->store->class->begin(r->store, line->writer, error) ||
      !r->store->class->reached(r->store, line->writer, &there, error))
    return FALSE;
  if (there > *from) { /* another was faster: is it the same? the round begins again */
    *from = MIN(there, line->last);
    r->store->class->rollback(r->store);
    gboolean same;
    return is_same(r, line->writer, *from, &same, error) &&
           (same || ew_fail(error, "another book sends under this one's name: try again"));
  }
  r->writer = line->writer;
  r->next = *from + 1;
  gboolean good =
      ew_ship_read(r->book, *from, line->last, ROWS, BYTES, put, r, &reached, error) &&
      (reached > *from || lacks(r, line->last, error)) &&
      r->store->class->shipped(r->store, line->writer, reached, &r->news->clock, error) &&
      r->store->class->commit(r->store, error);
  if (good)
    *from = reached;
  else
    r->news->sent = sent;
  return good;
}

static gboolean send_line(struct round *r, const struct ew_ship_line *line, gboolean *forked,
                          GError **error) {
  gint64 from;
  gboolean good = agree(r, line, &from, forked, error);
  while (good && !*forked && from < line->last)
    good = send_batch(r, line, &from, error);
  r->store->class->rollback(r->store);
  if (good && !*forked)
    r->news->reached = MAX(from, r->news->reached);
  return good;
}

static gboolean name_lines(struct round *r, const GArray *lines, GError **error) {
  g_autofree char *identity = ew_book_identity(r->book, error);
  gboolean good = identity != NULL;
  for (guint i = 0; good && i < lines->len; i++) {
    const struct ew_ship_line *line = &g_array_index(lines, struct ew_ship_line, i);
    const char *parent = i ? g_array_index(lines, struct ew_ship_line, i - 1).writer : NULL;
    good = r->store->class->line(r->store, identity, line->writer, parent, line->first, error);
  }
  return good;
}

static gboolean first_of(struct ew_book *book, gint64 *first, GError **error) {
  struct ew_ship_state state;
  if (!ew_ship_state(book, &state, error))
    return FALSE;
  *first = state.first;
  ew_ship_state_clear(&state);
  return TRUE;
}

static gboolean send_lines(struct round *r, gboolean *forked, GError **error) {
  g_autoptr(GArray) lines = ew_ship_lines(r->book, error);
  *forked = FALSE;
  if (!lines || !first_of(r->book, &r->first, error) || !name_lines(r, lines, error))
    return FALSE;
  if (!lines->len)
    return ew_refuse(error, "this book belongs to no shop: 'book join' makes it one of a shop's");
  gboolean good = TRUE;
  for (guint i = 0; good && !*forked && i < lines->len; i++)
    good = send_line(r, &g_array_index(lines, struct ew_ship_line, i), forked, error);
  return good;
}

gboolean ew_ship_all(struct ew_book *book, struct ew_shop_store *store, struct ew_ship_news *news,
                     GError **error) {
  struct round r = {.book = book, .store = store, .news = news};
  *news = (struct ew_ship_news){0};
  gboolean forked = TRUE, good = store->class->check(store, error) &&
                                 store->class->clock(store, &news->clock, error);
  while (good && forked) {
    good = send_lines(&r, &forked, error);
    if (good && forked && news->forks > FORKS)
      good =
          ew_fail(error, "the shop and this book don't come together: 'book verify' looks into it");
  }
  struct ew_ship_state state;
  if (!good || !ew_ship_state(book, &state, error))
    return FALSE;
  gboolean told = state.shipped == news->reached && news->sent == 0;
  ew_ship_state_clear(&state);
  return told || ew_keep_shipped(book, news->reached, news->clock.ahead_s, error);
}

/* ---- what leaves the outbox ---- */

/* The last of the line that the shop has had for long; `from`: before it, if none. */
static gboolean find_settled(struct ew_shop_store *store, const struct ew_ship_line *line,
                             gint64 from, gint64 *settled, GError **error) {
  gint64 low = from, high = line->last + 1;
  while (high - low > 1) {
    gint64 middle = low + (high - low) / 2;
    gboolean is;
    if (!store->class->settled(store, line->writer, middle, EW_SHIP_KEEP_DAYS, &is, error))
      return FALSE;
    if (is)
      low = middle;
    else
      high = middle;
  }
  g_assert(low >= from && low <= line->last);
  *settled = low;
  return TRUE;
}

gboolean ew_ship_trim(struct ew_book *book, struct ew_shop_store *store, GError **error) {
  g_autoptr(GArray) lines = ew_ship_lines(book, error);
  gint64 first;
  if (!lines || !first_of(book, &first, error))
    return FALSE;
  gint64 upto = first - 1;
  for (guint i = 0; i < lines->len; i++) {
    const struct ew_ship_line *line = &g_array_index(lines, struct ew_ship_line, i);
    if (line->last <= upto)
      continue;
    if (!find_settled(store, line, MAX(upto, line->first - 1), &upto, error))
      return FALSE;
    if (upto < line->last)
      break; /* what comes later is younger still */
  }
  g_assert(upto >= first - 1);
  return upto < first || ew_keep_trimmed(book, upto, error);
}

gboolean ew_ship_trim_daily(struct ew_book *book, struct ew_shop_store *store, gint64 *due_us,
                            GError **error) {
  gint64 now = g_get_monotonic_time();
  if (now < *due_us)
    return TRUE;
  *due_us = now + (gint64)24 * 3600 * G_USEC_PER_SEC;
  return ew_ship_trim(book, store, error);
}
