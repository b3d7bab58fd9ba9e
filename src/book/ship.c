/* The outbox as the shipper sees it, and copies of what a shop holds. What fills the outbox is sqlite/outbox.c. */
#include "book/ship.h"
#include "base/error.h"
#include "base/uuid.h"
#include "book/book_inside.h"
#include "book/origin.h"
#include "book/sql.h"
#include "book/write.h"
#include <math.h>
#include <string.h>

#define SENDS "sends"
#define READS "reads"

/* ---- to belong to a shop ---- */

void ew_ship_state_clear(struct ew_ship_state *state) {
  g_clear_pointer(&state->address, g_free);
  g_clear_pointer(&state->role, g_free);
  g_clear_pointer(&state->shipped_at, g_free);
}

gboolean ew_ship_state(struct ew_book *book, struct ew_ship_state *state, GError **error) {
  GError *problem = NULL;
  *state = (struct ew_ship_state){.clock_s = NAN};
  struct ew_port_rows *s = ew_sql_query(
      book->port, &problem,
      "SELECT address, role, shipped_at, shipped, clock_s, (SELECT coalesce(max(seq), 0) FROM "
      "outbox), (SELECT coalesce(min(seq), 0) FROM outbox) FROM shop ORDER BY joined_at LIMIT 1",
      "");
  if (ew_sql_next(s, &problem)) {
    state->address = ew_sql_text(s, 0);
    state->role = ew_sql_text(s, 1);
    state->shipped_at = ew_sql_text(s, 2);
    state->shipped = ew_sql_int(s, 3);
    state->clock_s = ew_sql_double(s, 4);
    state->last = ew_sql_int(s, 5);
    state->first = ew_sql_int(s, 6);
  }
  ew_sql_done(s);
  return ew_sql_tell(problem, error);
}

/* TRUE: it may join; *done: it has. */
static gboolean may_join(struct ew_book *book, const char *address, gboolean *done,
                         GError **error) {
  struct ew_ship_state state;
  *done = FALSE;
  if (!ew_ship_state(book, &state, error))
    return FALSE;
  *done = state.address && strcmp(state.address, address) == 0 && strcmp(state.role, SENDS) == 0;
  gboolean good = !state.address || *done;
  if (!good && strcmp(state.role, READS) == 0)
    ew_refuse(error,
              "this book is a copy that was read from the shop at '%s': what is added to it "
              "would be lost; join the cell's own book",
              state.address);
  else if (!good)
    ew_refuse(error, "this book belongs to the shop at '%s' already: a book belongs to one",
              state.address);
  ew_ship_state_clear(&state);
  return good;
}

static gboolean join_body(struct ew_book *book, gpointer user, GError **error) {
  const char *address = user;
  g_autofree char *now = ew_time_now();
  gboolean done;
  if (!may_join(book, address, &done, error) || done)
    return done;
  return ew_sql_run(book->port, error,
                    "INSERT INTO shop (address, role, joined_at, shipped) VALUES (?, ?, ?, 0)",
                    "ttt", address, SENDS, now) &&
         ew_book_log(book, "joined a shop", address, error) &&
         ew_sql_run(book->port, error, "UPDATE writer SET first_seq = 1 WHERE uid = ?", "t",
                    book->writer) &&
         book->port->class->fill_outbox(book->port, error);
}

gboolean ew_keep_join(struct ew_book *book, const char *address, GError **error) {
  g_autofree char *copy = g_strdup(address);
  return ew_book_write(book, join_body, copy, error);
}

struct shipped {
  gint64 seq;
  double clock_s;
};

static gboolean shipped_body(struct ew_book *book, gpointer user, GError **error) {
  const struct shipped *shipped = user;
  g_autofree char *now = ew_time_now();
  return ew_sql_run(book->port, error,
                    "UPDATE shop SET shipped = ?, shipped_at = ?, clock_s = ? WHERE role = ?",
                    "itdt", shipped->seq, now, shipped->clock_s, SENDS);
}

gboolean ew_keep_shipped(struct ew_book *book, gint64 seq, double clock_s, GError **error) {
  struct shipped shipped = {seq, clock_s};
  return ew_book_write(book, shipped_body, &shipped, error);
}

/* ---- what leaves the outbox ---- */

#define TRIM_ROWS 5000 /* a transaction: some milliseconds, and no recording waits longer */

struct trim {
  gint64 upto;
  gboolean more;
};

static gboolean trim_body(struct ew_book *book, gpointer user, GError **error) {
  struct trim *trim = user;
  gint64 to;
  if (!ew_sql_number(book->port, &to, error,
                     "SELECT coalesce(max(seq), 0) FROM (SELECT seq FROM outbox WHERE seq <= ?1 "
                     "AND seq < (SELECT max(seq) FROM outbox) ORDER BY seq LIMIT ?2) AS q",
                     "ii", trim->upto, (gint64)TRIM_ROWS))
    return FALSE;
  trim->more = to > 0 && to < trim->upto;
  return !to || ew_sql_run(book->port, error, "DELETE FROM outbox WHERE seq <= ?", "i", to);
}

gboolean ew_keep_trimmed(struct ew_book *book, gint64 upto, GError **error) {
  struct trim trim = {upto, TRUE};
  while (trim.more)
    if (!ew_book_write(book, trim_body, &trim, error))
      return FALSE;
  return TRUE;
}

static gboolean new_writer(struct ew_book *book, gint64 first, GError **error) {
  char uid[EW_UUID_SIZE];
  g_autofree char *now = ew_time_now();
  ew_uuid7(uid);
  gboolean good =
      ew_sql_run(book->port, error, "UPDATE writer SET first_seq = NULL WHERE first_seq >= ?", "i",
                 first) &&
      ew_sql_run(book->port, error,
                 "INSERT INTO writer (uid, cell, place, at, first_seq) SELECT ?, cell, place, ?, ? "
                 "FROM writer WHERE uid = ?",
                 "ttit", uid, now, first, book->writer);
  g_free(book->writer);
  book->writer = g_strdup(uid);
  return good;
}

static gboolean anew_body(struct ew_book *book, gpointer user, GError **error) {
  struct ew_ship_state state;
  (void)user;
  if (!ew_ship_state(book, &state, error))
    return FALSE;
  gboolean sends =
      g_strcmp0(state.role, SENDS) == 0 ||
      ew_refuse(error, "this book belongs to no shop: 'book join' makes it one of a shop's");
  gint64 last = state.last;
  ew_ship_state_clear(&state);
  return sends &&
         ew_sql_run(book->port, error, "UPDATE writer SET first_seq = NULL WHERE first_seq >= ?",
                    "i", (gint64)0) &&
         new_writer(book, last + 1, error) && ew_book_log(book, "sends all again", "", error) &&
         book->port->class->fill_outbox(book->port, error) &&
         ew_sql_run(book->port, error, "DELETE FROM outbox WHERE seq <= ?", "i", last) &&
         ew_sql_run(book->port, error, "UPDATE shop SET shipped = 0 WHERE role = ?", "t", SENDS);
}

gboolean ew_keep_send_anew(struct ew_book *book, GError **error) {
  return ew_book_write(book, anew_body, NULL, error);
}

/* ---- lines and marks ---- */

static void line_clear(void *data) {
  g_free(((struct ew_ship_line *)data)->writer);
}

GArray *ew_ship_lines(struct ew_book *book, GError **error) {
  GArray *lines = g_array_new(FALSE, FALSE, sizeof(struct ew_ship_line));
  g_array_set_clear_func(lines, line_clear);
  GError *problem = NULL;
  struct ew_port_rows *s = ew_sql_query(
      book->port, &problem,
      "SELECT w.uid, w.first_seq, coalesce((SELECT min(n.first_seq) - 1 FROM writer n WHERE "
      "n.first_seq > w.first_seq), (SELECT coalesce(max(seq), 0) FROM outbox)) FROM writer w WHERE "
      "w.first_seq IS NOT NULL ORDER BY w.first_seq, w.uid",
      "");
  while (ew_sql_next(s, &problem)) {
    struct ew_ship_line line = {ew_sql_text(s, 0), ew_sql_int(s, 1), ew_sql_int(s, 2)};
    g_array_append_val(lines, line);
  }
  ew_sql_done(s);
  if (ew_sql_tell(problem, error))
    return lines;
  g_array_unref(lines);
  return NULL;
}

gboolean ew_ship_mark(struct ew_book *book, gint64 seq, gint64 *mark, GError **error) {
  return ew_sql_number(book->port, mark, error, "SELECT mark FROM outbox WHERE seq = ?", "i", seq);
}

static gboolean fork_body(struct ew_book *book, gpointer user, GError **error) {
  const gint64 *common = user;
  g_autofree char *detail =
      g_strdup_printf("after change %" G_GINT64_FORMAT " of the outbox", *common);
  /* what came after `common` was never this book's there: it is to be acknowledged again */
  return new_writer(book, *common + 1, error) &&
         ew_sql_run(
             book->port, error,
             "UPDATE shop SET shipped = CASE WHEN shipped > ?1 THEN ?1 ELSE shipped END WHERE "
             "role = ?2",
             "it", *common, SENDS) &&
         ew_book_log(book, "a new writer", detail, error);
}

gboolean ew_keep_fork(struct ew_book *book, gint64 common, GError **error) {
  return ew_book_write(book, fork_body, &common, error);
}

/* ---- to be sent ---- */

static gsize size_of(const struct ew_row *row) {
  gsize size = strlen(row->body);
  for (guint i = 0; i < row->parts->len; i++)
    size += g_bytes_get_size(g_ptr_array_index(row->parts, i));
  return size;
}

/* The outbox's row at hand, and what its row is now. */
static gboolean read_letter(struct ew_book *book, struct ew_port_rows *s, ew_ship_take take,
                            gpointer user, gsize *bytes, GError **error) {
  g_autofree char *what = ew_sql_text(s, 2), *key = ew_sql_text(s, 4);
  gboolean numbered = !s->port->class->is_null(s, 3);
  struct ew_letter letter = {.seq = ew_sql_int(s, 0),
                             .mark = ew_sql_int(s, 1),
                             .name = {what, numbered, numbered ? ew_sql_int(s, 3) : 0, key}};
  gboolean good = book->port->class->row_read(book->port, &letter.name, &letter.row, error);
  if (good) {
    ew_row_digest(&letter.name, letter.row.body, letter.digest);
    *bytes += size_of(&letter.row);
    good = take(&letter, user, error);
  }
  ew_row_clear(&letter.row);
  return good;
}

gboolean ew_ship_read(struct ew_book *book, gint64 after, gint64 last, int rows, gsize bytes,
                      ew_ship_take take, gpointer user, gint64 *reached, GError **error) {
  GError *problem = NULL;
  gint64 mark = 0;
  gsize taken = 0;
  gboolean good = TRUE;
  *reached = after;
  struct ew_port_rows *s = ew_sql_query(book->port, &problem,
                                        "SELECT seq, mark, what, number, key FROM outbox WHERE "
                                        "seq > ? AND seq <= ? ORDER BY seq",
                                        "ii", after, last);
  for (int i = 0; good && ew_sql_next(s, &problem); i++) {
    if ((i >= rows || taken >= bytes) && ew_sql_int(s, 1) != mark)
      break;
    mark = ew_sql_int(s, 1);
    good = read_letter(book, s, take, user, &taken, &problem);
    *reached = good ? ew_sql_int(s, 0) : *reached;
  }
  ew_sql_done(s);
  return ew_sql_tell(problem, error) && good;
}

/* ---- copies of what a shop holds ---- */

static gboolean may_copy(struct ew_book *book, const char *address, GError **error) {
  struct ew_ship_state state;
  gboolean empty = FALSE;
  if (!ew_ship_state(book, &state, error))
    return FALSE;
  gboolean good = state.address
                      ? strcmp(state.role, READS) == 0 && strcmp(state.address, address) == 0
                      : ew_sql_is(book->port, &empty, error,
                                  "SELECT NOT EXISTS (SELECT 1 FROM change_log)", "") &&
                            empty;
  if (!good && (!error || !*error))
    ew_refuse(error,
              "'%s' is a book of its own and no copy of what the shop at '%s' holds: name "
              "another file",
              book->path, address);
  ew_ship_state_clear(&state);
  return good;
}

/* A transaction that no machine writes: without a writer, and without a line in the log. */
static gboolean in_port(struct ew_book *book, ew_copy_body body, gpointer user, GError **error) {
  const struct ew_port_class *class = book->port->class;
  gboolean good = class->begin(book->port, error) == EW_PORT_DONE && body(book, user, error) &&
                  class->commit(book->port, error) == EW_PORT_DONE;
  class->rollback(book->port);
  return good;
}

struct copy {
  const char *address;
  ew_copy_body body;
  gpointer user;
};

static gboolean copy_body(struct ew_book *book, gpointer user, GError **error) {
  const struct copy *copy = user;
  g_autofree char *now = ew_time_now();
  return may_copy(book, copy->address, error) &&
         ew_sql_run(
             book->port, error,
             "INSERT INTO shop (address, role, joined_at, shipped) VALUES (?1, ?2, ?3, 0) ON "
             "CONFLICT(address) DO UPDATE SET shipped_at = excluded.joined_at",
             "ttt", copy->address, READS, now) &&
         copy->body(book, copy->user, error);
}

gboolean ew_keep_copy(struct ew_book *book, const char *address, ew_copy_body body, gpointer user,
                      GError **error) {
  struct copy copy = {address, body, user};
  return in_port(book, copy_body, &copy, error);
}

gboolean ew_copy_put(struct ew_book *book, const struct ew_letter *letter, GError **error) {
  g_autofree char *number =
      letter->name.has_number ? g_strdup_printf("%" G_GINT64_FORMAT, letter->name.number) : NULL;
  return book->port->class->row_put(book->port, &letter->name, &letter->row, error) &&
         ew_sql_run(book->port, error,
                    "INSERT INTO outbox (seq, mark, what, number, key) VALUES (?, ?, ?, CAST(? AS "
                    "INTEGER), ?)",
                    "iittt", letter->seq, letter->mark, letter->name.what, number,
                    letter->name.key);
}

static gboolean adopt_body(struct ew_book *book, gpointer user, GError **error) {
  struct ew_ship_state state;
  (void)user;
  if (!ew_ship_state(book, &state, error))
    return FALSE;
  gboolean good = g_strcmp0(state.role, READS) == 0 ||
                  ew_refuse(error, "'%s' is not a copy of what a shop holds", book->path);
  ew_ship_state_clear(&state);
  return good && ew_sql_run(book->port, error, "UPDATE shop SET role = ?, shipped = ?", "ti", SENDS,
                            (gint64)0);
}

gboolean ew_keep_adopt(struct ew_book *book, GError **error) {
  gboolean good = in_port(book, adopt_body, NULL, error);
  book->reads = book->reads && !good;
  book->read_only = book->read_only && !good;
  return good;
}

gboolean ew_book_is_copy(const struct ew_book *book) {
  return book->reads;
}
