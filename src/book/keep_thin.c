/* Idle samples of an ended recording become runs at the rule's rate, in one transaction: after a cut it is whole or thinned.
 *
 * What stays as it was measured, block by block: the first and the last (so no number of a block is ever given again); what a pull was
 * cut out of; what lies near a pull, a trip, a mark, a note or a photo, by the recording's own clock or, of another recording of
 * the session, by when it was stored; what has no time, or lies where the source's clock went back. A run that would not give back
 * half of its bytes is left. Each block is held against its digest before it goes: damage is not smoothed over.
 *
 * What the recording did to the engine is worked out before, and kept with the thinning (ledger.c), so the ledger never changes by it.
 *
 * O(blocks of the recording) to choose, O(bytes) of what goes. */
#include "base/error.h"
#include "base/language.h"
#include "base/number.h"
#include "book/keep.h"
#include "book/ledger.h"
#include "book/origin.h"
#include "book/ship.h"
#include "book/sql.h"
#include "book/thin.h"
#include "book/write.h"
#include <math.h>
#include <string.h>

#define DB       ew_book_port(book)
#define RUN_ROWS 4096 /* at most: what is read at once stays small */
#define WORTH    2    /* a run has to give back the half */

static const struct {
  const char *key, *says;
} states[] = {
#define X(name, key, says) {key, says},
    EW_THIN_STATES(X)
#undef X
};

const char *ew_thin_state_key(enum ew_thin_state state) {
  return states[state].key;
}
const char *ew_thin_state_says(enum ew_thin_state state) {
  return ew_tr(states[state].says);
}

struct span {
  double from, to;
};
struct run {
  gint64 first, last;
};
struct thinning {
  struct ew_book *book;
  gint64 id;
  const struct ew_thin_rule *rule;
  double now_s;
  gboolean look; /* writes nothing */
  struct ew_thin_done *done;
  /* of the recording */
  char *head, *began_at, *ended_at;
  gsize columns;
  /* what stays */
  GArray *own, *clock; /* struct span, sorted: by its own time, and in Unix seconds */
  GArray *cuts;        /* struct run: first block and rows from its beginning on */
  GArray *runs;        /* struct run: what may go */
  gint64 thinning_id;  /* 0: nothing was written yet */
};

static void thinning_clear(struct thinning *t) {
  g_free(t->head);
  g_free(t->began_at);
  g_free(t->ended_at);
  g_clear_pointer(&t->own, g_array_unref);
  g_clear_pointer(&t->clock, g_array_unref);
  g_clear_pointer(&t->cuts, g_array_unref);
  g_clear_pointer(&t->runs, g_array_unref);
}

/* ---- may it be thinned? ---- */

static gboolean read_facts(struct thinning *t, GError **error) {
  struct ew_book *book = t->book;
  GError *problem = NULL;
  struct ew_source_channels channels = {0};
  struct ew_port_rows *s =
      ew_sql_query(DB, &problem,
                   "SELECT r.sha256, s.began_at, s.ended_at FROM stream s JOIN "
                   "recording r ON r.id = s.recording_id WHERE r.id = ?",
                   "i", t->id);
  if (ew_sql_next(s, &problem)) {
    t->head = ew_sql_text(s, 0);
    t->began_at = ew_sql_text(s, 1);
    t->ended_at = ew_sql_text(s, 2);
  }
  ew_sql_done(s);
  if (!ew_sql_tell(problem, error))
    return FALSE;
  if (!t->head)
    return ew_refuse(error, "there is no live recording %" G_GINT64_FORMAT " in this book", t->id);
  if (!ew_stream_channels(book, t->id, &channels, error))
    return FALSE;
  t->columns = channels.count + 1;
  ew_source_channels_clear(&channels);
  return ew_sql_number(DB, &t->done->rows, error,
                       "SELECT CAST(coalesce(sum(1.0 * rows), 0) AS INTEGER) FROM stream_block "
                       "WHERE recording_id = ?",
                       "i", t->id);
}

/* The shop has what the outbox named up to the last number that it acknowledged. */
static gboolean is_sent(struct thinning *t, gboolean *sent, GError **error) {
  struct ew_book *book = t->book;
  struct ew_ship_state state;
  gboolean waits = FALSE;
  if (!ew_ship_state(book, &state, error))
    return FALSE;
  gboolean good = g_strcmp0(state.role, "sends") != 0 ||
                  ew_sql_is(DB, &waits, error,
                            "SELECT count(*) FROM outbox o JOIN stream_block b ON b.id = o.number "
                            "WHERE o.seq > ?1 AND o.what = 'stream_block' AND b.recording_id = ?2",
                            "ii", state.shipped, t->id);
  ew_ship_state_clear(&state);
  *sent = !waits;
  return good;
}

/* Two recorders at one book: a transaction as long as this one would hold the other up. */
static gboolean nobody_records(struct thinning *t, GError **error) {
  struct ew_book *book = t->book;
  gint64 id;
  if (t->look)
    return TRUE;
  if (!ew_sql_number(DB, &id, error,
                     "SELECT coalesce(min(recording_id), 0) FROM stream WHERE ended_at IS NULL",
                     ""))
    return FALSE;
  return !id || ew_refuse(error,
                          "live recording %" G_GINT64_FORMAT
                          " is under way, or its recorder died: nothing is thinned meanwhile; the "
                          "next 'cell record' ends one whose recorder died",
                          id);
}

/* *go: as far as its state says; else done->state is why not. */
static gboolean may_go(struct thinning *t, gboolean *go, GError **error) {
  gboolean sent = FALSE;
  double ended_s = t->ended_at ? ew_instant(t->ended_at) : (double)NAN;
  *go = FALSE;
  t->done->state = t->ended_at ? EW_THIN_YOUNG : EW_THIN_UNDER_WAY;
  if (!(t->now_s - ended_s >= t->rule->whole_s))
    return TRUE;
  if (!is_sent(t, &sent, error))
    return FALSE;
  t->done->state = sent ? EW_THIN_NOTHING : EW_THIN_NOT_SENT;
  *go = sent;
  return TRUE;
}

/* ---- what stays ---- */

static void keep_span(GArray *spans, double from, double to, double around) {
  struct span span = {from - around, to + around};
  if (span.from <= span.to)
    g_array_append_val(spans, span);
}

/* By the recording's own clock. Statements of two columns, from and to, and one parameter. */
static const char *const own_spans[] = {
    "SELECT from_s, to_s FROM stream_pull WHERE recording_id = ?1",
    "SELECT from_s, to_s FROM alarm_trip WHERE recording_id = ?1",
    "SELECT x.time_s + least_s, x.time_s + most_s FROM (SELECT trip_id, time_s FROM trip_time "
    "WHERE "
    "recording_id = ?1) x JOIN (SELECT id, CASE WHEN from_s < time_s THEN from_s - time_s ELSE 0 "
    "END AS least_s, CASE WHEN to_s > time_s THEN to_s - time_s ELSE 0 END AS most_s FROM "
    "alarm_trip) t ON t.id = x.trip_id",
    "SELECT time_s, time_s FROM mark WHERE recording_id = ?1",
};
/* By the time of day: what has no time on the recording's own clock. Blocks of a pull stay whole where it was cut, so its times do. */
static const char *const clock_spans[] = {
    "SELECT min(b.stored_at), max(b.stored_at) FROM stream s JOIN stream o ON o.began_at <= "
    "s.ended_at AND (o.ended_at IS NULL OR o.ended_at >= s.began_at) AND o.recording_id <> "
    "s.recording_id JOIN stream_pull c ON c.recording_id = o.recording_id JOIN stream_block b ON "
    "b.recording_id = c.recording_id AND b.last_s >= c.from_s AND b.first_s <= c.to_s WHERE "
    "s.recording_id = ?1 GROUP BY c.cut_id",
    "SELECT m.at, m.at FROM mark m WHERE m.recording_id <> ?1",
    "SELECT a.at, a.at FROM alarm_trip a WHERE NOT EXISTS (SELECT 1 FROM trip_time x WHERE "
    "x.trip_id = a.id AND x.recording_id = ?1)",
    "SELECT n.at, n.at FROM note n WHERE ?1 > 0",
    "SELECT coalesce(taken_at, at), coalesce(taken_at, at) FROM attachment WHERE ?1 > 0",
};

static gint by_from(gconstpointer a, gconstpointer b) {
  double x = ((const struct span *)a)->from, y = ((const struct span *)b)->from;
  return (x > y) - (x < y);
}

/* Sorted, and without overlaps. */
static void settle(GArray *spans) {
  guint kept = 0;
  g_array_sort(spans, by_from);
  struct span *all = (struct span *)(void *)spans->data;
  for (guint i = 0; i < spans->len; i++)
    if (kept && all[i].from <= all[kept - 1].to)
      all[kept - 1].to = fmax(all[kept - 1].to, all[i].to);
    else
      all[kept++] = all[i];
  g_array_set_size(spans, kept);
}

static gboolean touches(const GArray *spans, double from, double to) {
  guint low = 0, high = spans->len;
  while (low < high) { /* the first that ends at or after `from` */
    guint middle = low + (high - low) / 2;
    if (g_array_index(spans, struct span, middle).to < from)
      low = middle + 1;
    else
      high = middle;
  }
  return low < spans->len && g_array_index(spans, struct span, low).from <= to;
}

static gboolean read_spans(struct thinning *t, GError **error) {
  struct ew_book *book = t->book;
  GError *problem = NULL;
  double around = t->rule->around_s;
  t->own = g_array_new(FALSE, FALSE, sizeof(struct span));
  t->clock = g_array_new(FALSE, FALSE, sizeof(struct span));
  for (gsize i = 0; !problem && i < G_N_ELEMENTS(own_spans); i++) {
    struct ew_port_rows *s = ew_sql_query(DB, &problem, own_spans[i], "i", t->id);
    while (ew_sql_next(s, &problem))
      keep_span(t->own, ew_sql_double(s, 0), ew_sql_double(s, 1), around);
    ew_sql_done(s);
  }
  for (gsize i = 0; !problem && i < G_N_ELEMENTS(clock_spans); i++) {
    struct ew_port_rows *s = ew_sql_query(DB, &problem, clock_spans[i], "i", t->id);
    while (ew_sql_next(s, &problem))
      keep_span(t->clock, ew_instant(ew_sql_peek(s, 0)), ew_instant(ew_sql_peek(s, 1)), around);
    ew_sql_done(s);
  }
  settle(t->own);
  settle(t->clock);
  return ew_sql_tell(problem, error);
}

/* Blocks that hold rows of a pull, whatever their times say. */
static gboolean read_cuts(struct thinning *t, GError **error) {
  struct ew_book *book = t->book;
  GError *problem = NULL;
  t->cuts = g_array_new(FALSE, FALSE, sizeof(struct run));
  struct ew_port_rows *s = ew_sql_query(DB, &problem,
                                        "SELECT block, skip + rows FROM stream_pull WHERE "
                                        "recording_id = ? AND block IS NOT NULL ORDER BY block",
                                        "i", t->id);
  while (ew_sql_next(s, &problem)) {
    struct run cut = {ew_sql_int(s, 0), ew_sql_int(s, 1)};
    g_array_append_val(t->cuts, cut);
  }
  ew_sql_done(s);
  return ew_sql_tell(problem, error);
}

/* ---- what may go ---- */

struct walk {
  guint cut;              /* the next that begins */
  gint64 cut_rows;        /* that the pulls under way still have */
  double stored_s;        /* of the block before */
  double began_s;         /* of the run at hand */
  gboolean open;          /* the last run goes on with the next block */
  gint64 last;            /* sequence of the recording's last block */
  double first_s, last_s; /* of the recording */
};

static gboolean is_cut(struct thinning *t, struct walk *w, gint64 sequence, gint64 rows) {
  while (w->cut < t->cuts->len && g_array_index(t->cuts, struct run, w->cut).first <= sequence) {
    w->cut_rows = MAX(w->cut_rows, g_array_index(t->cuts, struct run, w->cut).last);
    w->cut++;
  }
  gboolean within = w->cut_rows > 0;
  w->cut_rows = MAX(w->cut_rows - rows, 0);
  return within;
}

/* sequence, rows, first_s, last_s, stored_at */
static void choose_block(struct thinning *t, struct walk *w, struct ew_port_rows *s) {
  gint64 sequence = ew_sql_int(s, 0);
  double first_s = ew_sql_double(s, 2), last_s = ew_sql_double(s, 3),
         stored_s = ew_instant(ew_sql_peek(s, 4));
  gboolean stays = is_cut(t, w, sequence, ew_sql_int(s, 1)) || sequence == 0 ||
                   sequence == w->last || !(first_s <= last_s) || isnan(stored_s) ||
                   touches(t->own, first_s, last_s) ||
                   touches(t->clock, fmin(w->stored_s, stored_s), stored_s);
  w->stored_s = isnan(stored_s) ? w->stored_s : stored_s;
  w->first_s = fmin(w->first_s, first_s);
  w->last_s = fmax(w->last_s, last_s);
  struct run *run = t->runs->len ? &g_array_index(t->runs, struct run, t->runs->len - 1) : NULL;
  gboolean goes_on = run && w->open && run->last == sequence - 1 && first_s >= w->began_s &&
                     last_s - w->began_s < (RUN_ROWS - 1) * t->rule->period_s;
  w->open = !stays;
  if (stays)
    return;
  if (goes_on) {
    run->last = sequence;
    return;
  }
  struct run fresh = {sequence, sequence};
  g_array_append_val(t->runs, fresh);
  w->began_s = first_s;
}

static gboolean choose(struct thinning *t, GError **error) {
  struct ew_book *book = t->book;
  GError *problem = NULL;
  struct walk w = {.stored_s = ew_instant(t->began_at), .first_s = NAN, .last_s = NAN};
  t->runs = g_array_new(FALSE, FALSE, sizeof(struct run));
  if (!ew_sql_number(DB, &w.last, error,
                     "SELECT max(sequence) FROM stream_block WHERE recording_id = ?", "i", t->id))
    return FALSE;
  struct ew_port_rows *s = ew_sql_query(
      DB, &problem,
      "SELECT sequence, rows, coalesce(first_s, last_s), last_s, stored_at FROM stream_block WHERE "
      "recording_id = ? ORDER BY sequence",
      "i", t->id);
  while (ew_sql_next(s, &problem))
    choose_block(t, &w, s);
  ew_sql_done(s);
  /* unless one of them is worth it */
  if (t->runs->len)
    t->done->state = (double)t->done->rows * t->rule->period_s <= w.last_s - w.first_s
                         ? EW_THIN_SLOW
                         : EW_THIN_SMALL;
  return ew_sql_tell(problem, error);
}

/* ---- one run ---- */

struct bin {
  double index, count, time_sum;
};
struct thin_run {
  struct ew_thinned_row row;
  struct bin bin;
  double *sums, *least, *greatest, *counts; /* of the bin at hand, a channel each */
  gsize channels;
  GArray *values; /* double: rows of the run */
  GChecksum *blocks;
};

static void bin_begin(struct thin_run *r, double index) {
  r->bin = (struct bin){.index = index};
  for (gsize c = 0; c < r->channels; c++) {
    r->sums[c] = r->counts[c] = 0;
    r->least[c] = r->greatest[c] = NAN;
  }
}

static void bin_end(struct thin_run *r) {
  if (!(r->bin.count > 0))
    return;
  double head[] = {r->bin.time_sum / r->bin.count, r->bin.count};
  g_array_append_vals(r->values, head, 2);
  for (gsize c = 0; c < r->channels; c++) {
    double mean = r->counts[c] > 0 ? r->sums[c] / r->counts[c] : (double)NAN;
    double three[] = {CLAMP(mean, r->least[c], r->greatest[c]), r->least[c], r->greatest[c]};
    g_array_append_vals(r->values, three, 3);
  }
  r->row.rows++;
}

static void bin_row(struct thin_run *r, double period_s, const double *row) {
  double index = floor((row[0] - r->row.first_s) / period_s);
  if (index != r->bin.index && !isnan(index)) {
    bin_end(r);
    bin_begin(r, index);
  }
  r->bin.count++;
  r->bin.time_sum += isnan(row[0]) ? r->row.first_s + r->bin.index * period_s : row[0];
  for (gsize c = 0; c < r->channels; c++) {
    double value = row[c + 1];
    if (isnan(value))
      continue;
    r->sums[c] += value;
    r->counts[c]++;
    r->least[c] = fmin(r->least[c], value);
    r->greatest[c] = fmax(r->greatest[c], value);
  }
}

static void run_clear(struct thin_run *r) {
  g_free(r->sums);
  g_free(r->least);
  g_free(r->greatest);
  g_free(r->counts);
  g_clear_pointer(&r->values, g_array_unref);
  g_clear_pointer(&r->blocks, g_checksum_free);
  ew_thinned_clear(&r->row);
}

static gboolean damaged(const struct thinning *t, gint64 sequence, GError **error) {
  return ew_refuse(error,
                   "live recording %" G_GINT64_FORMAT ": block %" G_GINT64_FORMAT
                   " is not what was stored: nothing of it is thinned; 'book verify' says what is "
                   "damaged",
                   t->id, sequence);
}

/* sequence, rows, first_s, last_s, stored_at, bytes, sha256 */
static gboolean take_block(const struct thinning *t, struct thin_run *r, struct ew_port_rows *s,
                           GError **error) {
  gsize size;
  const void *bytes = ew_sql_bytes(s, 5, &size);
  gint64 sequence = ew_sql_int(s, 0), rows = ew_sql_int(s, 1);
  g_autofree char *digest = g_compute_checksum_for_data(G_CHECKSUM_SHA256, bytes, size);
  if (!ew_stream_is_block(rows, size, t->columns) || strcmp(digest, ew_sql_peek(s, 6)) != 0)
    return damaged(t, sequence, error);
  if (!r->row.stored_from) {
    r->row.first_block = sequence;
    r->row.first_s = ew_sql_double(s, 2);
    r->row.stored_from = ew_sql_text(s, 4);
    bin_begin(r, 0);
  }
  r->row.last_block = sequence;
  r->row.last_s = ew_sql_double(s, 3);
  g_free(r->row.stored_to);
  r->row.stored_to = ew_sql_text(s, 4);
  r->row.source_rows += rows;
  r->row.source_bytes += (gint64)size;
  g_autofree char *line =
      g_strdup_printf("%" G_GINT64_FORMAT " %" G_GINT64_FORMAT " %s\n", sequence, rows, digest);
  g_checksum_update(r->blocks, (const guchar *)line, (gssize)strlen(line));
  g_autofree guint64 *values = g_memdup2(bytes, size);
  for (gsize i = 0; i < size / sizeof(double); i++)
    values[i] = GUINT64_FROM_LE(values[i]);
  for (gsize i = 0; i < (gsize)rows; i++)
    bin_row(r, t->rule->period_s, (const double *)(void *)values + i * t->columns);
  return TRUE;
}

static gboolean read_run(const struct thinning *t, const struct run *run, struct thin_run *r,
                         GError **error) {
  struct ew_book *book = t->book;
  GError *problem = NULL;
  r->channels = t->columns - 1;
  r->sums = g_new0(double, t->columns);
  r->least = g_new0(double, t->columns);
  r->greatest = g_new0(double, t->columns);
  r->counts = g_new0(double, t->columns);
  r->values = g_array_new(FALSE, FALSE, sizeof(double));
  r->blocks = g_checksum_new(G_CHECKSUM_SHA256);
  struct ew_port_rows *s = ew_sql_query(
      DB, &problem,
      "SELECT sequence, rows, first_s, last_s, stored_at, bytes, sha256 FROM stream_block WHERE "
      "recording_id = ? AND sequence BETWEEN ? AND ? ORDER BY sequence",
      "iii", t->id, run->first, run->last);
  while (ew_sql_next(s, &problem) && take_block(t, r, s, &problem))
    ;
  ew_sql_done(s);
  if (!problem)
    bin_end(r);
  r->row.blocks_sha256 = g_strdup(g_checksum_get_string(r->blocks));
  r->row.size = (gint64)(r->values->len * sizeof(double));
  return ew_sql_tell(problem, error);
}

/* ---- written ---- */

static gboolean begin(struct thinning *t, GError **error) {
  struct ew_book *book = t->book;
  g_autofree char *now = ew_time_now(), *life = NULL;
  struct ew_origin o;
  if (t->thinning_id)
    return TRUE;
  if (!ew_ledger_life(book, t->id, &life, error) || !ew_origin_new(book, now, &o, error))
    return FALSE;
  t->thinning_id = ew_sql_insert(DB, error,
                                 "INSERT INTO thinning (recording_id, at, who, whole_s, period_s, "
                                 "around_s, life, " EW_ORIGIN_COLUMNS
                                 ") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
                                 "ittdddto", t->id, now, ew_book_who(), t->rule->whole_s,
                                 t->rule->period_s, t->rule->around_s, life, &o);
  return t->thinning_id != 0;
}

static gboolean write_run(struct thinning *t, struct thin_run *r, GError **error) {
  struct ew_book *book = t->book;
#if G_BYTE_ORDER == G_BIG_ENDIAN
  for (guint i = 0; i < r->values->len; i++) {
    guint64 *value = &((guint64 *)(void *)r->values->data)[i];
    *value = GUINT64_TO_LE(*value);
  }
#endif
  const void *bytes = r->values->data;
  r->row.sha256 = ew_thinned_digest(t->head, &r->row, bytes);
  return begin(t, error) &&
         ew_sql_run(
             DB, error,
             "INSERT INTO thinned (thinning_id, recording_id, first_block, last_block, "
             "source_rows, source_bytes, first_s, last_s, stored_from, stored_to, rows, "
             "bytes, blocks_sha256, sha256) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
             "iiiiiiddttibtt", t->thinning_id, t->id, r->row.first_block, r->row.last_block,
             r->row.source_rows, r->row.source_bytes, r->row.first_s, r->row.last_s,
             r->row.stored_from, r->row.stored_to, r->row.rows, bytes, (gsize)r->row.size,
             r->row.blocks_sha256, r->row.sha256) &&
         ew_sql_run(DB, error,
                    "DELETE FROM stream_block WHERE recording_id = ? AND sequence BETWEEN ? AND ?",
                    "iii", t->id, r->row.first_block, r->row.last_block);
}

static gboolean thin_run(struct thinning *t, const struct run *run, GError **error) {
  struct thin_run r = {0};
  gboolean good = read_run(t, run, &r, error);
  if (good && r.row.source_bytes / WORTH >= r.row.size) {
    good = t->look || write_run(t, &r, error);
    t->done->state = EW_THIN_THINNED;
    t->done->runs++;
    t->done->source_rows += r.row.source_rows;
    t->done->after += r.row.rows;
    t->done->source_bytes += r.row.source_bytes;
    t->done->bytes += r.row.size;
  }
  run_clear(&r);
  return good;
}

static gboolean log_it(struct thinning *t, GError **error) {
  char rate[EW_NUMBER_SIZE];
  const struct ew_thin_done *d = t->done;
  g_autofree char *detail =
      g_strdup_printf("recording %" G_GINT64_FORMAT ": %" G_GINT64_FORMAT " of %" G_GINT64_FORMAT
                      " rows became %" G_GINT64_FORMAT " in %" G_GINT64_FORMAT
                      " runs, one each %s s: %" G_GINT64_FORMAT " bytes became %" G_GINT64_FORMAT,
                      t->id, d->source_rows, d->rows, d->after, d->runs,
                      ew_number_write(t->rule->period_s, rate), d->source_bytes, d->bytes);
  return !t->thinning_id || ew_book_log(t->book, "idle samples thinned", detail, error);
}

static gboolean thin(struct thinning *t, GError **error) {
  gboolean go = FALSE;
  gboolean good = nobody_records(t, error) && read_facts(t, error) && may_go(t, &go, error);
  if (!good || !go)
    return good;
  good = read_spans(t, error) && read_cuts(t, error) && choose(t, error);
  for (guint i = 0; good && i < t->runs->len; i++)
    good = thin_run(t, &g_array_index(t->runs, struct run, i), error);
  return good && log_it(t, error);
}

struct ask {
  gint64 id;
  const struct ew_thin_rule *rule;
  double now_s;
  gboolean look;
  struct ew_thin_done *done;
};

static gboolean body(struct ew_book *book, gpointer user, GError **error) {
  const struct ask *a = user;
  *a->done = (struct ew_thin_done){.recording_id = a->id};
  struct thinning t = {.book = book,
                       .id = a->id,
                       .rule = a->rule,
                       .now_s = a->now_s,
                       .look = a->look,
                       .done = a->done};
  gboolean good = thin(&t, error);
  thinning_clear(&t);
  return good;
}

gboolean ew_thin_look(struct ew_book *book, gint64 recording_id, const struct ew_thin_rule *rule,
                      double now_s, struct ew_thin_done *done, GError **error) {
  struct ask a = {recording_id, rule, now_s, TRUE, done};
  return ew_thin_rule_check(rule, error) && body(book, &a, error);
}

gboolean ew_keep_thinned(struct ew_book *book, gint64 recording_id, const struct ew_thin_rule *rule,
                         double now_s, struct ew_thin_done *done, GError **error) {
  struct ask a = {recording_id, rule, now_s, FALSE, done};
  return ew_thin_rule_check(rule, error) && ew_book_write(book, body, &a, error);
}
