/* Is every byte what it was, and does every curve follow from them still? The store's own check, digests of
 * recordings, blocks and attachments, and each curve computed again (O(rows of the book), minutes for a large one;
 * it can be stopped). Renewing computes curves of an earlier program again, all of them or none. */
#include "book/verify.h"
#include "base/words.h"
#include "base/error.h"
#include "book/curve_blob.h"
#include "book/ledger.h"
#include "book/cut.h"
#include "book/origin.h"
#include "book/recompute.h"
#include "book/sql.h"
#include "book/store.h"
#include "book/thinned.h"
#include "book/write.h"
#include <math.h>
#include <string.h>

static void complain(struct ew_verification *v, const char *format, ...) G_GNUC_PRINTF(2, 3);
static void complain(struct ew_verification *v, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  g_ptr_array_add(v->problems, ew_words_v(format, arguments));
  va_end(arguments);
  v->whole = FALSE;
}

void ew_verification_clear(struct ew_verification *v) {
  g_ptr_array_unref(v->problems);
  g_array_unref(v->rows);
}

static void take_unnamed(const char *table, gint64 id, gpointer user) {
  complain(user, "row %" G_GINT64_FORMAT " of %s does not say what it is called and who wrote it",
           id, table);
}

static void take_fault(const char *what, gpointer user) {
  complain(user, "%s", what);
}

static gboolean check_file(struct ew_book *book, struct ew_verification *v, GError **error) {
  struct ew_port *port = ew_book_port(book);
  return port->class->check(port, take_fault, v, error);
}

/* The digest of the bytes in a column, against the one beside them. */
static gboolean has_digest(struct ew_port_rows *s, int bytes_column, int digest_column) {
  gsize size;
  const void *bytes = ew_sql_bytes(s, bytes_column, &size);
  g_autofree char *digest = g_compute_checksum_for_data(G_CHECKSUM_SHA256, bytes, size);
  return strcmp(digest, ew_sql_peek(s, digest_column)) == 0;
}

/* What a live recording says of itself, against the bytes that it began with. Its columns; 0: they can't be told. */
static gsize check_head(struct ew_book *book, struct ew_verification *v, gint64 id) {
  g_autoptr(GError) problem = NULL;
  struct ew_port_rows *s =
      ew_sql_query(ew_book_port(book), &problem,
                   "SELECT s.began_at, s.source, s.channels, r.bytes, r.channels FROM "
                   "stream s JOIN recording r ON r.id = s.recording_id WHERE r.id = ?",
                   "i", id);
  gsize columns = 0;
  if (ew_sql_next(s, &problem)) {
    g_autofree char *head = ew_stream_head(ew_sql_peek(s, 0), ew_sql_peek(s, 1), ew_sql_peek(s, 2));
    gsize size;
    const void *bytes = ew_sql_bytes(s, 3, &size);
    g_auto(GStrv) headings = ew_stream_headings(book, id, NULL);
    columns = headings ? g_strv_length(headings) : 0;
    if (size != strlen(head) || memcmp(head, bytes, size) != 0)
      complain(v,
               "recording %" G_GINT64_FORMAT
               ": its source, channels or beginning are not those it was begun with",
               id);
    if (!columns || ew_sql_int(s, 4) != (gint64)columns - 1)
      complain(v, "recording %" G_GINT64_FORMAT ": its channels do not fit its rows", id);
  }
  ew_sql_done(s);
  if (problem)
    complain(v, "recording %" G_GINT64_FORMAT ": %s", id, problem->message);
  return columns;
}

/* A run against its digest, and against itself. */
static void check_run(struct ew_verification *v, const char *head, gsize columns,
                      const struct ew_thinned_row *row, const void *bytes) {
  g_autofree char *digest = ew_thinned_digest(head, row, bytes);
  if (strcmp(digest, row->sha256) != 0)
    complain(v, "recording %" G_GINT64_FORMAT ": a thinned run does not have its digest",
             row->recording_id);
  if (columns && !ew_thinned_is_sound(row, bytes, columns))
    complain(v,
             "recording %" G_GINT64_FORMAT
             ": a thinned run does not hold the rows that it says, or means that are not between "
             "least and greatest",
             row->recording_id);
}

/* Runs that stand for blocks. NULL with *error. */
static GArray *check_runs(struct ew_book *book, struct ew_verification *v, gint64 id, gsize columns,
                          GError **error) {
  GError *problem = NULL;
  GArray *runs = ew_thinned_list(book, id, error);
  if (!runs)
    return NULL;
  struct ew_port_rows *s = ew_sql_query(ew_book_port(book), &problem,
                                        "SELECT t.id, t.bytes, r.sha256, n.life, n.recording_id "
                                        "FROM thinned t JOIN recording r ON r.id = t.recording_id "
                                        "JOIN thinning n ON n.id = t.thinning_id WHERE "
                                        "t.recording_id = ? ORDER BY t.first_block",
                                        "i", id);
  for (guint i = 0; ew_sql_next(s, &problem) && i < runs->len; i++) {
    const struct ew_thinned_row *row = &g_array_index(runs, struct ew_thinned_row, i);
    gsize size;
    const void *bytes = ew_sql_bytes(s, 1, &size);
    if (ew_sql_int(s, 0) == row->id && (gint64)size == row->size)
      check_run(v, ew_sql_peek(s, 2), columns, row, bytes);
    if (!ew_ledger_is_life(ew_sql_peek(s, 3)) || ew_sql_int(s, 4) != id)
      complain(v,
               "recording %" G_GINT64_FORMAT
               ": what it did to the engine, kept when it was thinned, can't be read",
               id);
  }
  ew_sql_done(s);
  v->thinned += runs->len;
  if (ew_sql_tell(problem, error))
    return runs;
  g_array_unref(runs);
  return NULL;
}

/* The run, if one stands where the block of that number would. */
static const struct ew_thinned_row *run_at(const GArray *runs, guint next, gint64 sequence) {
  const struct ew_thinned_row *row =
      next < runs->len ? &g_array_index(runs, struct ew_thinned_row, next) : NULL;
  return row && row->first_block == sequence && row->last_block >= sequence ? row : NULL;
}

/* Rows of a live recording, each block against its digest and its place, and each run in the place of blocks. */
static gint64 check_blocks(struct ew_book *book, struct ew_verification *v, gint64 id,
                           GError **error) {
  gsize columns = check_head(book, v, id);
  gint64 rows = 0, expected = 0;
  guint run = 0;
  g_autoptr(GArray) runs = check_runs(book, v, id, columns, error);
  if (!runs)
    return 0;
  struct ew_port_rows *s =
      ew_sql_query(ew_book_port(book), error,
                   "SELECT sequence, rows, bytes, sha256 FROM stream_block WHERE recording_id = ? "
                   "ORDER BY sequence",
                   "i", id);
  while (ew_sql_next(s, error)) {
    gsize size;
    ew_sql_bytes(s, 2, &size);
    for (const struct ew_thinned_row *at; (at = run_at(runs, run, expected)); run++) {
      rows += at->source_rows;
      expected = at->last_block + 1;
    }
    if (ew_sql_int(s, 0) != expected++)
      complain(v, "recording %" G_GINT64_FORMAT ": a block is missing", id);
    if (!has_digest(s, 2, 3))
      complain(v, "recording %" G_GINT64_FORMAT ": a block does not have its digest", id);
    if (columns && !ew_stream_is_block(ew_sql_int(s, 1), size, columns))
      complain(v, "recording %" G_GINT64_FORMAT ": a block does not hold the rows that it says",
               id);
    else
      rows += ew_sql_int(s, 1);
  }
  ew_sql_done(s);
  if (run < runs->len)
    complain(v, "recording %" G_GINT64_FORMAT ": a thinned run is not where blocks are missing",
             id);
  gint64 ended;
  if (!ew_sql_number(ew_book_port(book), &ended, error,
                     "SELECT rows FROM stream WHERE recording_id = ? AND ended_at IS NOT NULL "
                     "UNION ALL SELECT -1",
                     "i", id))
    return rows;
  if (ended >= 0 && ended != rows)
    complain(v,
             "recording %" G_GINT64_FORMAT " ended with %" G_GINT64_FORMAT
             " rows and has %" G_GINT64_FORMAT,
             id, ended, rows);
  return rows;
}

/* A pull whose rows are in its live recording: they give the file whose digest it has, and nothing else is kept of it. */
static void check_cut(struct ew_book *book, struct ew_verification *v, gint64 id,
                      struct ew_port_rows *s) {
  g_autoptr(GError) problem = NULL;
  g_autoptr(GBytes) line = ew_cut_line();
  g_autoptr(ew_frames) frames = NULL;
  gsize size;
  const void *bytes = ew_sql_bytes(s, 2, &size);
  if (size != g_bytes_get_size(line) || memcmp(bytes, g_bytes_get_data(line, NULL), size) != 0)
    complain(v,
             "recording %" G_GINT64_FORMAT ": its rows are in its live recording, and it has bytes",
             id);
  if (!ew_cut_read(book, id, &frames, &problem) || !frames) {
    complain(v, "recording %" G_GINT64_FORMAT ": %s", id,
             problem ? problem->message : "its rows are not there");
    return;
  }
  g_autofree char *digest = ew_frames_digest(frames, &problem);
  if (!digest)
    complain(v, "recording %" G_GINT64_FORMAT ": %s", id, problem->message);
  else if (strcmp(digest, ew_sql_peek(s, 1)) != 0)
    complain(v,
             "recording %" G_GINT64_FORMAT
             ": the rows in its live recording do not have the digest it was stored with",
             id);
}

static gboolean check_recordings(struct ew_book *book, struct ew_verification *v, GError **error) {
  struct ew_port_rows *s = ew_sql_query(ew_book_port(book), error,
                                        "SELECT id, sha256, bytes, rows, EXISTS (SELECT 1 FROM "
                                        "stream_pull WHERE cut_id = recording.id "
                                        "AND block IS NOT NULL) FROM recording ORDER BY id",
                                        "");
  while (ew_sql_next(s, error)) {
    struct ew_verified_recording row = {ew_sql_int(s, 0), ew_sql_int(s, 3)};
    gboolean live = FALSE;
    if (ew_stream_is(book, row.id, &live, error) && live)
      row.rows = check_blocks(book, v, row.id, error);
    v->recordings++;
    g_array_append_val(v->rows, row);
    if (ew_sql_int(s, 4) && !live)
      check_cut(book, v, row.id, s);
    else if (!has_digest(s, 2, 1))
      complain(v,
               "recording %" G_GINT64_FORMAT
               ": its bytes do not have the digest they were stored with",
               row.id);
  }
  ew_sql_done(s);
  return !error || !*error;
}

static void note_earlier(struct ew_verification *v, gint64 pull_id, GBytes *stored,
                         const struct ew_curve *now) {
  gsize size;
  const void *bytes = g_bytes_get_data(stored, &size);
  struct ew_curve *then = ew_curve_from_bytes(bytes, size);
  v->earlier++;
  if (!then)
    complain(v, "pull %" G_GINT64_FORMAT ": its stored curve cannot be read", pull_id);
  else
    v->earlier_most = fmax(v->earlier_most, fabs(now->band_mean_n_m / then->band_mean_n_m - 1));
  ew_curve_free(then);
}

/* Since an amendment no reading of its recording finds it: it keeps the curve that it had. */
static gboolean is_lost(struct ew_book *book, gint64 pull_id) {
  struct ew_pull_row row;
  gboolean lost = ew_pull_get(book, pull_id, &row, NULL) && row.part < 0;
  ew_pull_row_clear(&row);
  return lost;
}

static void check_curve(struct ew_book *book, struct ew_verification *v, gint64 pull_id) {
  g_autoptr(GError) problem = NULL;
  struct ew_curve_row stored;
  if (!ew_curve_get(book, pull_id, &stored, &problem)) {
    complain(v, "%s", problem->message);
    return;
  }
  v->curves++;
  g_autofree char *digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, stored.bytes);
  if (strcmp(digest, stored.digest) != 0)
    complain(v, "pull %" G_GINT64_FORMAT ": its curve does not have the digest it was stored with",
             pull_id);
  struct ew_recomputed again;
  gboolean good = ew_recompute(book, pull_id, &again, &problem);
  if (!good && again.gone && (ew_curve_is_earlier(&stored) || is_lost(book, pull_id))) {
    v->earlier += ew_curve_is_earlier(&stored);
    v->gone++;
  } else if (problem)
    complain(v, "pull %" G_GINT64_FORMAT ": %s", pull_id, problem->message);
  else {
    gboolean same = ew_curve_has_bytes(ew_recomputed_curve(&again), stored.bytes);
    if (!same && ew_curve_is_earlier(&stored))
      note_earlier(v, pull_id, stored.bytes, ew_recomputed_curve(&again));
    else if (!same)
      complain(v, "pull %" G_GINT64_FORMAT ": raw and method no longer give the stored curve",
               pull_id);
    ew_recomputed_clear(&again);
  }
  ew_curve_row_clear(&stored);
}

static gboolean check_attachments(struct ew_book *book, struct ew_verification *v, GError **error) {
  struct ew_port_rows *s = ew_sql_query(ew_book_port(book), error,
                                        "SELECT id, sha256, bytes FROM attachment ORDER BY id", "");
  while (ew_sql_next(s, error)) {
    if (!has_digest(s, 2, 1))
      complain(v, "attachment %" G_GINT64_FORMAT ": its bytes do not have their digest",
               ew_sql_int(s, 0));
  }
  ew_sql_done(s);
  return !error || !*error;
}

/* The store asks now and then while a statement runs: the check of the file is one statement. */
static int on_step(void *user) {
  const struct ew_verify_watch *watch = user;
  return g_atomic_int_get(watch->cancel);
}

static gboolean check_curves(struct ew_book *book, const struct ew_verify_watch *watch,
                             struct ew_verification *v, GError **error) {
  g_autoptr(GArray) pulls = ew_pull_list(book, 0, error);
  gboolean stopped = FALSE;
  for (guint i = 0; pulls && !stopped && i < pulls->len; i++) {
    check_curve(book, v, g_array_index(pulls, struct ew_pull_row, i).id);
    if (watch && watch->progress)
      watch->progress((i + 1.0) / pulls->len, watch->data);
    stopped = watch && g_atomic_int_get(watch->cancel);
  }
  return stopped ? ew_refuse(error, "stopped before the end") : pulls != NULL;
}

gboolean ew_book_verify(struct ew_book *book, const struct ew_verify_watch *watch,
                        struct ew_verification *v, GError **error) {
  *v = (struct ew_verification){
      .whole = TRUE,
      .problems = g_ptr_array_new_with_free_func(g_free),
      .rows = g_array_new(FALSE, FALSE, sizeof(struct ew_verified_recording))};
  struct ew_port *port = ew_book_port(book);
  if (watch)
    port->class->watch(port, on_step, (void *)(gsize)watch, 10000);
  GError *problem = NULL;
  gboolean good = check_file(book, v, &problem) &&
                  ew_origin_check(book, take_unnamed, v, &problem) &&
                  check_recordings(book, v, &problem) && check_attachments(book, v, &problem) &&
                  check_curves(book, watch, v, &problem);
  port->class->watch(port, NULL, NULL, 0);
  if (!problem)
    return good;
  g_propagate_error(error, problem);
  return FALSE;
}

/* The pull takes its place among those that this program finds. Another one of an earlier program that has it makes
 * room, until its own turn or for good; one of this program keeps it, and *free is FALSE. */
static gboolean take_place(struct ew_book *book, const struct ew_recomputed *a, gboolean *free,
                           GError **error) {
  gint64 other;
  if (!ew_sql_number(
          ew_book_port(book), &other, error,
          "SELECT id FROM pull WHERE recording_id = ? AND part = ? AND id <> ? UNION ALL SELECT 0",
          "iii", a->pull.recording_id, (gint64)a->part, a->pull.id))
    return FALSE;
  struct ew_curve_row row = {0};
  *free = !other || (ew_curve_get(book, other, &row, NULL) && ew_curve_is_earlier(&row));
  ew_curve_row_clear(&row);
  return !*free || ((!other || ew_sql_run(ew_book_port(book), error,
                                          "UPDATE pull SET part = -id WHERE id = ?", "i", other)) &&
                    ew_sql_run(ew_book_port(book), error, "UPDATE pull SET part = ? WHERE id = ?",
                               "ii", (gint64)a->part, a->pull.id));
}

static gboolean renew_curve(struct ew_book *book, gint64 pull_id, int *renewed, int *gone,
                            GError **error) {
  struct ew_curve_row row;
  struct ew_recomputed again;
  if (!ew_curve_get(book, pull_id, &row, error))
    return FALSE;
  gboolean good = TRUE;
  if (ew_curve_is_earlier(&row)) {
    g_autoptr(GError) problem = NULL;
    good = ew_recompute(book, pull_id, &again, &problem);
    if (!good && again.gone) {
      ++*gone;
      ew_curve_row_clear(&row);
      return TRUE;
    }
    gboolean free = TRUE;
    if (!good)
      g_propagate_error(error, g_steal_pointer(&problem));
    else if (!take_place(book, &again, &free, error))
      good = FALSE;
    else if (!free)
      ++*gone;
    else {
      g_autofree char *before = g_steal_pointer(&row.digest);
      g_bytes_unref(row.bytes);
      row.bytes = ew_curve_to_bytes(ew_recomputed_curve(&again));
      row.digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, row.bytes);
      g_autofree char *detail =
          g_strdup_printf("pull %" G_GINT64_FORMAT ": %s, before %s", pull_id, row.digest, before);
      good = ew_pull_mean_put(book, pull_id, ew_recomputed_curve(&again)->band_mean_n_m, error) &&
             ew_curve_put(book, pull_id, &row, error) &&
             ew_book_log(book, "curve computed anew", detail, error);
      *renewed += good;
    }
    if (!problem)
      ew_recomputed_clear(&again);
  }
  ew_curve_row_clear(&row);
  return good;
}

struct renewing {
  const struct ew_verify_watch *watch;
  int *renewed, *gone;
};

static gboolean renew_body(struct ew_book *book, gpointer user, GError **error) {
  const struct renewing *r = user;
  const struct ew_verify_watch *watch = r->watch;
  *r->renewed = *r->gone = 0;
  g_autoptr(GArray) pulls = ew_pull_list(book, 0, error);
  gboolean good = pulls && !*error; /* a body always has somewhere to write it */
  struct ew_steps steps = {watch ? watch->progress : NULL, watch ? watch->data : NULL, 0,
                           pulls ? pulls->len : 0};
  for (guint i = 0; good && i < pulls->len; i++) {
    good = renew_curve(book, g_array_index(pulls, struct ew_pull_row, i).id, r->renewed, r->gone,
                       error);
    ew_step(&steps);
    if (good && watch && g_atomic_int_get(watch->cancel))
      good = ew_refuse(error, "stopped before the end: no curve was changed");
  }
  return good;
}

gboolean ew_book_renew(struct ew_book *book, const struct ew_verify_watch *watch, int *renewed,
                       int *gone, GError **error) {
  struct renewing r = {watch, renewed, gone};
  return ew_book_write(book, renew_body, &r, error);
}
