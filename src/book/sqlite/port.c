/* The class of book/port.h over SQLite: one connection, which one thread uses at a time.
 *
 * A transaction is BEGIN IMMEDIATE: it holds the one right to write from its first read on, so that nothing it read can
 * have changed at commit. "Run it again" is SQLITE_BUSY: somebody else held that right for WAIT_MS. */
#include "book/sqlite/checkpoint.h"
#include "book/sqlite/sqlite.h"
#include "book/sqlite/statements.h"
#include "base/words.h"
#include "base/language.h"
#include "base/error.h"
#include "book/sql.h"
#include "book/sqlite/outbox.h"
#include "book/sqlite/row.h"
#include <math.h>
#include <string.h>

#define PIECE   ((gsize)1 << 20)
#define WAIT_MS 1000 /* for the right to write; write.c asks several times */
#define READ_MS 5000 /* for a reader, whom only a recovery of the log holds up */

struct sqlite_port {
  struct ew_port port;
  sqlite3 *db;
  struct ew_outbox *outbox;
  gboolean begun, failed; /* a transaction; something in it failed, so that it can't be committed */
  struct ew_statements statements;
  struct ew_checkpoints checkpoints;
};
struct sqlite_rows {
  struct ew_port_rows rows;
  sqlite3_stmt *statement;
  int code; /* of a value that could not be bound or read: the next step fails with it */
};

static sqlite3 *db_of(struct ew_port *port) {
  return ((struct sqlite_port *)port)->db;
}
static sqlite3_stmt *of(struct ew_port_rows *rows) {
  return ((struct sqlite_rows *)rows)->statement;
}

gboolean ew_sqlite_error(sqlite3 *db, GError **error) {
  int code = sqlite3_errcode(db);
  if ((code & 0xff) == SQLITE_CORRUPT || code == SQLITE_NOTADB)
    return ew_sql_damaged(error, "%s", sqlite3_errmsg(db));
  const char *advice = "";
  if (code == SQLITE_FULL)
    advice = EW_TEXT(": the disk is full; nothing was stored");
  else if (code == SQLITE_READONLY)
    advice = EW_TEXT(": the book is read-only: its disk is full, or its file or folder is "
                     "write-protected");
  else if (code == SQLITE_BUSY)
    advice = EW_TEXT(": another program is writing to it; try again");
  else if ((code & 0xff) == SQLITE_IOERR || (code & 0xff) == SQLITE_CANTOPEN)
    advice = EW_TEXT(": the disk gave an error, or is full; nothing was stored");
  return ew_fail(error, "book: %s%s", sqlite3_errmsg(db), *advice ? ew_tr(advice) : "");
}

static void note_failure(struct ew_port *port) {
  ((struct sqlite_port *)port)->failed |= ((struct sqlite_port *)port)->begun;
}

static enum ew_port_answer failed(struct ew_port *port, GError **error) {
  gboolean again = (sqlite3_errcode(db_of(port)) & 0xff) == SQLITE_BUSY;
  ew_sqlite_error(db_of(port), error);
  note_failure(port);
  return again ? EW_PORT_AGAIN : EW_PORT_FAILED;
}

static enum ew_port_answer say(struct ew_port *port, const char *sql, GError **error) {
  return sqlite3_exec(db_of(port), sql, NULL, NULL, NULL) == SQLITE_OK ? EW_PORT_DONE
                                                                       : failed(port, error);
}

/* SQLite itself rolls back when the disk is full, and when memory runs out: each statement that follows would stand
 * alone. */
static gboolean gave_up(struct ew_port *port, GError **error) {
  struct sqlite_port *p = (struct sqlite_port *)port;
  if (!p->begun || !sqlite3_get_autocommit(p->db))
    return FALSE;
  p->failed = TRUE;
  ew_fail(error, "book: the transaction was rolled back: the disk is full, or memory ran out; "
                 "nothing was stored");
  return TRUE;
}

static gboolean port_is_open(struct ew_port *port) {
  return !sqlite3_get_autocommit(db_of(port));
}

static void port_rollback(struct ew_port *port) {
  if (port_is_open(port))
    sqlite3_exec(db_of(port), "ROLLBACK", NULL, NULL, NULL);
  ((struct sqlite_port *)port)->begun = FALSE;
  ew_outbox_forget(((struct sqlite_port *)port)->outbox);
}

static enum ew_port_answer port_begin(struct ew_port *port, GError **error) {
  sqlite3_busy_timeout(db_of(port), WAIT_MS);
  enum ew_port_answer answer = say(port, "BEGIN IMMEDIATE", error);
  sqlite3_busy_timeout(db_of(port), READ_MS);
  struct sqlite_port *p = (struct sqlite_port *)port;
  p->begun = answer == EW_PORT_DONE;
  p->failed = FALSE;
  if (!p->begun || ew_outbox_begin(p->outbox))
    return answer;
  answer = failed(port, error);
  port_rollback(port);
  return answer;
}

/* An error that nobody looked at was taken for an answer: what was made of it is not kept. */
static enum ew_port_answer port_commit(struct ew_port *port, GError **error) {
  struct sqlite_port *p = (struct sqlite_port *)port;
  if (gave_up(port, error))
    return EW_PORT_FAILED;
  if (p->failed) {
    ew_fail(error, "book: something in the transaction failed; nothing was stored: try again");
    return EW_PORT_FAILED;
  }
  if (!ew_outbox_write(p->outbox))
    return failed(port, error);
  enum ew_port_answer answer = say(port, "COMMIT", error);
  p->begun = p->begun && answer != EW_PORT_DONE;
  return answer;
}

static struct ew_port_rows *port_prepare(struct ew_port *port, const char *sql, GError **error) {
  if (gave_up(port, error))
    return NULL;
  sqlite3_stmt *statement =
      ew_statement_take(&((struct sqlite_port *)port)->statements, db_of(port), sql);
  if (!statement) {
    failed(port, error);
    return NULL;
  }
  struct sqlite_rows *rows = g_new0(struct sqlite_rows, 1);
  rows->rows.port = port;
  rows->statement = statement;
  return &rows->rows;
}

static int bind(sqlite3_stmt *s, int index, const struct ew_port_value *value) {
  switch (value->kind) {
  case EW_PORT_NULL: return sqlite3_bind_null(s, index);
  case EW_PORT_NUMBER: return sqlite3_bind_int64(s, index, value->number);
  case EW_PORT_REAL: return sqlite3_bind_double(s, index, value->real);
  case EW_PORT_TEXT:
    return sqlite3_bind_text64(s, index, value->bytes, value->size, SQLITE_TRANSIENT, SQLITE_UTF8);
  case EW_PORT_BYTES:
    return value->size ? sqlite3_bind_blob64(s, index, value->bytes, value->size, SQLITE_TRANSIENT)
                       : sqlite3_bind_zeroblob(s, index, 0);
  case EW_PORT_ZEROES: return sqlite3_bind_zeroblob64(s, index, value->size);
  }
  return SQLITE_MISUSE;
}

/* A value that could not be bound would be stored as none. */
static void port_bind(struct ew_port_rows *rows, int index, const struct ew_port_value *value) {
  int code = bind(of(rows), index, value);
  if (code != SQLITE_OK)
    ((struct sqlite_rows *)rows)->code = code;
}

/* May this column be NULL? What is computed, or of no table, may. */
static gboolean may_be_null(sqlite3_stmt *s, int column) {
  int not_null = 0, key = 0;
  const char *table = sqlite3_column_table_name(s, column),
             *name = sqlite3_column_origin_name(s, column);
  if (!table || !name ||
      sqlite3_table_column_metadata(sqlite3_db_handle(s), "main", table, name, NULL, NULL,
                                    &not_null, &key, NULL) != SQLITE_OK)
    return TRUE;
  return !not_null && !key;
}

/* A tampered or damaged file can hold NULL where its tables forbid it, and readers rely on that. */
static gboolean check_row(sqlite3_stmt *s, GError **error) {
  for (int i = 0; i < sqlite3_data_count(s); i++)
    if (sqlite3_column_type(s, i) == SQLITE_NULL && !may_be_null(s, i))
      return ew_sql_damaged(error, "%s of a row of %s is missing", sqlite3_column_name(s, i),
                            sqlite3_column_table_name(s, i));
  return TRUE;
}

static enum ew_port_answer port_step(struct ew_port_rows *rows, GError **error) {
  struct sqlite_rows *r = (struct sqlite_rows *)rows;
  if (r->code != SQLITE_OK) {
    note_failure(rows->port);
    ew_fail(error, "book: %s", sqlite3_errstr(r->code));
    return EW_PORT_FAILED;
  }
  if (gave_up(rows->port, error))
    return EW_PORT_FAILED;
  int code = sqlite3_step(r->statement);
  if (code == SQLITE_ROW)
    return check_row(r->statement, error) ? EW_PORT_ROW : EW_PORT_FAILED;
  return code == SQLITE_DONE ? EW_PORT_DONE : failed(rows->port, error);
}

static void port_finish(struct ew_port_rows *rows) {
  ew_statement_give(&((struct sqlite_port *)rows->port)->statements, of(rows));
  g_free(rows);
}

static int port_columns(struct ew_port_rows *rows) {
  return sqlite3_column_count(of(rows));
}
static gboolean port_is_null(struct ew_port_rows *rows, int column) {
  return sqlite3_column_type(of(rows), column) == SQLITE_NULL;
}
static gint64 port_number(struct ew_port_rows *rows, int column) {
  return sqlite3_column_int64(of(rows), column);
}
static double port_real(struct ew_port_rows *rows, int column) {
  return sqlite3_column_double(of(rows), column);
}
/* NULL out of memory is not a NULL of the book. */
static const void *remembered(struct ew_port_rows *rows, const void *value) {
  struct sqlite_rows *r = (struct sqlite_rows *)rows;
  if (!value && sqlite3_errcode(db_of(rows->port)) == SQLITE_NOMEM) {
    r->code = SQLITE_NOMEM;
    note_failure(rows->port);
  }
  return value;
}
static const char *port_text(struct ew_port_rows *rows, int column) {
  return remembered(rows, sqlite3_column_text(of(rows), column));
}
static const void *port_bytes(struct ew_port_rows *rows, int column, gsize *size) {
  const void *bytes = remembered(rows, sqlite3_column_blob(of(rows), column));
  *size = (gsize)sqlite3_column_bytes(of(rows), column);
  return bytes;
}

static gboolean port_fill(struct ew_port *port, const char *table, const char *column, gint64 id,
                          const void *data, gsize size, GError **error) {
  sqlite3_blob *blob = NULL;
  int code = sqlite3_blob_open(db_of(port), "main", table, column, id, 1, &blob);
  for (gsize at = 0; code == SQLITE_OK && at < size; at += PIECE)
    code = sqlite3_blob_write(blob, (const char *)data + at, (int)MIN(PIECE, size - at), (int)at);
  gboolean good = code == SQLITE_OK || ew_sqlite_error(db_of(port), error);
  sqlite3_blob_close(blob);
  return good;
}

gint64 ew_sqlite_number(sqlite3 *db, const char *sql) {
  sqlite3_stmt *s = NULL;
  gint64 value = 0;
  if (sqlite3_prepare_v2(db, sql, -1, &s, NULL) == SQLITE_OK && sqlite3_step(s) == SQLITE_ROW)
    value = sqlite3_column_int64(s, 0);
  sqlite3_finalize(s);
  return value;
}

static gboolean port_change(struct ew_port *port, struct ew_port_change *change, GError **error) {
  *change = (struct ew_port_change){.by_this = sqlite3_total_changes64(db_of(port))};
  return ew_sql_number(port, &change->by_others, error, "PRAGMA data_version", "");
}

static gboolean port_durable(struct ew_port *port, gboolean power, GError **error) {
  return say(port,
             power ? "PRAGMA wal_autocheckpoint = 0; PRAGMA synchronous = FULL"
                   : "PRAGMA wal_autocheckpoint = 0; PRAGMA synchronous = NORMAL",
             error) == EW_PORT_DONE;
}

static gboolean port_checkpoint(struct ew_port *port, gboolean all, GError **error) {
  int how = ew_sqlite_checkpoint(db_of(port), &((struct sqlite_port *)port)->checkpoints, all);
  return how == SQLITE_OK || how == SQLITE_BUSY || ew_sqlite_error(db_of(port), error);
}

static gint64 port_size(struct ew_port *port, GError **error) {
  gint64 pages = ew_sqlite_number(db_of(port), "PRAGMA page_count"),
         size = ew_sqlite_number(db_of(port), "PRAGMA page_size");
  if (pages > 0 && size > 0)
    return pages * size;
  ew_sqlite_error(db_of(port), error);
  return -1;
}

static gint64 port_spare(struct ew_port *port, GError **error) {
  gint64 size = ew_sqlite_number(db_of(port), "PRAGMA page_size");
  if (size > 0)
    return ew_sqlite_number(db_of(port), "PRAGMA freelist_count") * size;
  ew_sqlite_error(db_of(port), error);
  return -1;
}

static gboolean port_shrink(struct ew_port *port, GError **error) {
  return ew_sql_run(port, error, "VACUUM", "");
}

static gboolean port_copy(struct ew_port *port, const char *path, GError **error) {
  return ew_sql_run(port, error, "VACUUM INTO ?", "t", path);
}

static gboolean port_check(struct ew_port *port, void (*fault)(const char *what, gpointer user),
                           gpointer user, GError **error) {
  GError *problem = NULL;
  struct ew_port_rows *s = ew_sql_query(port, &problem, "PRAGMA integrity_check(20)", "");
  while (ew_sql_next(s, &problem)) {
    g_autofree char *line = ew_sql_text(s, 0);
    g_autofree char *what = ew_words("the file is damaged: %s", line);
    if (strcmp(line, "ok") != 0)
      fault(what, user);
  }
  ew_sql_done(s);
  s = problem ? NULL : ew_sql_query(port, &problem, "PRAGMA foreign_key_check", "");
  while (ew_sql_next(s, &problem)) {
    g_autofree char *what = ew_words("a row of %s points to nothing", ew_sql_peek(s, 0));
    fault(what, user);
  }
  ew_sql_done(s);
  if (problem)
    g_propagate_error(error, problem);
  return problem == NULL;
}

static void port_watch(struct ew_port *port, int (*asked)(void *user), void *user, int often) {
  sqlite3_progress_handler(db_of(port), asked ? often : 0, asked, user);
}

static void port_close(struct ew_port *port) {
  ew_statements_clear(&((struct sqlite_port *)port)->statements);
  ew_outbox_free(((struct sqlite_port *)port)->outbox);
  sqlite3_close_v2(db_of(port));
  g_free(port);
}

static gboolean port_fill_outbox(struct ew_port *port, GError **error) {
  if (ew_outbox_fill(db_of(port)))
    return TRUE;
  failed(port, error);
  return FALSE;
}

static gboolean port_row_read(struct ew_port *port, const struct ew_row_name *name,
                              struct ew_row *row, GError **error) {
  return ew_sqlite_row_read(db_of(port), name, row, error);
}

static gboolean port_row_put(struct ew_port *port, const struct ew_row_name *name,
                             const struct ew_row *row, GError **error) {
  gboolean good = ew_sqlite_row_put(db_of(port), name, row, error);
  if (!good)
    note_failure(port);
  return good;
}

static const struct ew_port_class class = {
    .name = "sqlite",
    .close = port_close,
    .begin = port_begin,
    .commit = port_commit,
    .rollback = port_rollback,
    .is_open = port_is_open,
    .prepare = port_prepare,
    .bind = port_bind,
    .step = port_step,
    .finish = port_finish,
    .columns = port_columns,
    .is_null = port_is_null,
    .number = port_number,
    .real = port_real,
    .text = port_text,
    .bytes = port_bytes,
    .fill = port_fill,
    .change = port_change,
    .durable = port_durable,
    .checkpoint = port_checkpoint,
    .size = port_size,
    .copy = port_copy,
    .spare = port_spare,
    .shrink = port_shrink,
    .check = port_check,
    .watch = port_watch,
    .fill_outbox = port_fill_outbox,
    .row_read = port_row_read,
    .row_put = port_row_put,
};

sqlite3 *ew_sqlite_handle(struct ew_port *port) {
  g_assert(port->class == &class);
  return db_of(port);
}

struct ew_port *ew_sqlite_over(sqlite3 *db) {
  struct sqlite_port *port = g_new0(struct sqlite_port, 1);
  *port = (struct sqlite_port){.port = {.class = &class},
                               .db = db,
                               .outbox = ew_outbox_new(db),
                               .checkpoints = {.wait_ms = READ_MS}};
  return &port->port;
}
