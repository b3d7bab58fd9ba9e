/* See the head of postgresql.h. A statement is sent when it is first stepped, since only then it is known what was bound:
 *
 *   prepare: ?, ?3 -> $1, $3; the server says what type it takes each for, and how many columns come
 *   step:    sent with these types, but for bytes, and for numbers where the server knew none; all rows come at once
 *
 * Numbers travel as text, both ways: PostgreSQL writes a double with as many digits as bring the same one back. */
#include "postgresql.h"
#include "postgresql_tables.h"
#include "unit.h"
#include "base/error.h"
#include <libpq-fe.h>
#include <poll.h>
#include <string.h>

enum { BOOL = 16, BYTEA = 17, INT8 = 20, TEXT = 25, UNKNOWN = 705, FLOAT8 = 701 };
#define MOST 48 /* values of a statement */

struct store {
  struct ew_port port;
  PGconn *connection;
  char *schema; /* of its own; NULL: another's */
  gint64 written;
  int (*asked)(void *user);
  void *user;
};
struct rows {
  struct ew_port_rows rows;
  char *sql;
  int columns, count;
  Oid types[MOST];
  char *values[MOST];
  int lengths[MOST], formats[MOST];
  PGresult *result; /* NULL: not sent yet */
  int at;
  GPtrArray *lent; /* of the row at hand */
};

static PGconn *of(struct ew_port *port) {
  return ((struct store *)port)->connection;
}

/* ---- what the server says ---- */

/* SQLSTATE 40: two in one another's way; 55P03: a lock was not to be had. */
static enum ew_port_answer failed(struct ew_port *port, const PGresult *result, GError **error) {
  const char *state = result ? PQresultErrorField(result, PG_DIAG_SQLSTATE) : NULL;
  ew_fail(error, "PostgreSQL: %s",
          result ? PQresultErrorMessage(result) : PQerrorMessage(of(port)));
  gboolean again = state && (strncmp(state, "40", 2) == 0 || strcmp(state, "55P03") == 0);
  return again ? EW_PORT_AGAIN : EW_PORT_FAILED;
}

static gboolean is_good(const PGresult *result) {
  ExecStatusType how = PQresultStatus(result);
  return how == PGRES_COMMAND_OK || how == PGRES_TUPLES_OK;
}

/* Whoever watches is asked a hundred times a second, and can end it. */
static PGresult *wait_for(struct store *s) {
  PGresult *last = NULL, *next;
  while (PQisBusy(s->connection)) {
    struct pollfd file = {PQsocket(s->connection), POLLIN, 0};
    char why[256];
    if (poll(&file, 1, 10) > 0 && !PQconsumeInput(s->connection))
      break;
    if (s->asked && s->asked(s->user)) {
      PGcancel *cancel = PQgetCancel(s->connection);
      PQcancel(cancel, why, sizeof why);
      PQfreeCancel(cancel);
    }
  }
  while ((next = PQgetResult(s->connection))) {
    PQclear(last);
    last = next;
  }
  return last;
}

static enum ew_port_answer say(struct ew_port *port, const char *sql, GError **error) {
  PGresult *result = PQsendQuery(of(port), sql) ? wait_for((struct store *)port) : NULL;
  enum ew_port_answer answer = is_good(result) ? EW_PORT_DONE : failed(port, result, error);
  PQclear(result);
  return answer;
}

/* ---- transactions ---- */

static gboolean store_is_open(struct ew_port *port) {
  PGTransactionStatusType now = PQtransactionStatus(of(port));
  return now == PQTRANS_INTRANS || now == PQTRANS_INERROR;
}
static enum ew_port_answer store_begin(struct ew_port *port, GError **error) {
  return say(port, "BEGIN ISOLATION LEVEL SERIALIZABLE", error);
}
static void store_rollback(struct ew_port *port) {
  if (store_is_open(port))
    say(port, "ROLLBACK", NULL);
}
/* COMMIT of one in which something failed answers ROLLBACK, as if all were well. */
static enum ew_port_answer store_commit(struct ew_port *port, GError **error) {
  if (PQtransactionStatus(of(port)) != PQTRANS_INERROR)
    return say(port, "COMMIT", error);
  ew_fail(error, "PostgreSQL: something in the transaction failed; nothing was stored");
  return EW_PORT_FAILED;
}

/* ---- a statement ---- */

/* Words of SQLite that PostgreSQL has another name for, outside of quoted text. */
static char *translated(const char *sql) {
  static const char *const words[][2] = {{"AS INTEGER)", "AS bigint)"},
                                         {"AS REAL)", "AS double precision)"}};
  GString *to = g_string_new(NULL);
  int last = 0;
  gboolean quoted = FALSE;
  while (*sql) {
    gboolean done = FALSE;
    quoted ^= *sql == '\'';
    if (!quoted && *sql == '?') {
      char *end;
      long number = strtol(sql + 1, &end, 10);
      last = end > sql + 1 ? MAX(last, (int)number) : last + 1;
      g_string_append_printf(to, "$%d", end > sql + 1 ? (int)number : last);
      sql = end;
      continue;
    }
    for (gsize i = 0; !quoted && !done && i < G_N_ELEMENTS(words); i++)
      if (g_str_has_prefix(sql, words[i][0])) {
        g_string_append(to, words[i][1]);
        sql += strlen(words[i][0]);
        done = TRUE;
      }
    if (!done)
      g_string_append_c(to, *sql++);
  }
  return g_string_free(to, FALSE);
}

/* What is there of the statement; NULL with *error. */
static PGresult *described(struct ew_port *port, const char *sql, GError **error) {
  PGresult *result = PQprepare(of(port), "", sql, 0, NULL);
  if (is_good(result)) {
    PQclear(result);
    result = PQdescribePrepared(of(port), "");
  }
  if (is_good(result))
    return result;
  failed(port, result, error);
  PQclear(result);
  return NULL;
}

static struct ew_port_rows *store_prepare(struct ew_port *port, const char *sql, GError **error) {
  g_autofree char *text = translated(sql);
  PGresult *shape = described(port, text, error);
  if (!shape)
    return NULL;
  struct rows *r = g_new0(struct rows, 1);
  r->rows.port = port;
  r->sql = g_steal_pointer(&text);
  r->columns = PQnfields(shape);
  r->count = PQnparams(shape);
  r->at = -1;
  r->lent = g_ptr_array_new_with_free_func(g_free);
  g_assert(r->count <= MOST);
  for (int i = 0; i < r->count; i++)
    r->types[i] = PQparamtype(shape, i);
  PQclear(shape);
  return &r->rows;
}

static void store_bind(struct ew_port_rows *rows, int index, const struct ew_port_value *value) {
  struct rows *r = (struct rows *)rows;
  char buffer[G_ASCII_DTOSTR_BUF_SIZE];
  int i = index - 1;
  g_assert(i >= 0 && i < r->count && !r->result);
  gboolean any = r->types[i] == TEXT || r->types[i] == UNKNOWN || r->types[i] == 0;
  g_clear_pointer(&r->values[i], g_free);
  switch (value->kind) {
  case EW_PORT_NULL: return;
  case EW_PORT_NUMBER:
    r->values[i] = g_strdup_printf("%" G_GINT64_FORMAT, value->number);
    r->types[i] = any ? INT8 : r->types[i];
    return;
  case EW_PORT_REAL:
    r->values[i] = g_strdup(g_ascii_dtostr(buffer, (gint)sizeof buffer, value->real));
    r->types[i] = any ? FLOAT8 : r->types[i];
    return;
  case EW_PORT_TEXT: r->values[i] = g_strndup(value->bytes, value->size); return;
  case EW_PORT_BYTES:
  case EW_PORT_ZEROES:
    r->types[i] = BYTEA;
    r->formats[i] = 1;
    r->lengths[i] = (int)value->size;
    r->values[i] = g_malloc0(value->size + 1);
    if (value->kind == EW_PORT_BYTES && value->size)
      memcpy(r->values[i], value->bytes, value->size);
  }
}

static enum ew_port_answer send(struct rows *r, GError **error) {
  struct store *s = (struct store *)r->rows.port;
  gboolean sent = PQsendQueryParams(s->connection, r->sql, r->count, r->types,
                                    (const char *const *)r->values, r->lengths, r->formats, 0) == 1;
  PGresult *result = sent ? wait_for(s) : NULL;
  if (is_good(result)) {
    r->result = result;
    s->written += g_ascii_strtoll(PQcmdTuples(result), NULL, 10);
    return EW_PORT_DONE;
  }
  enum ew_port_answer answer = failed(r->rows.port, result, error);
  PQclear(result);
  return answer;
}

static enum ew_port_answer store_step(struct ew_port_rows *rows, GError **error) {
  struct rows *r = (struct rows *)rows;
  enum ew_port_answer answer = r->result ? EW_PORT_DONE : send(r, error);
  g_ptr_array_set_size(r->lent, 0);
  if (answer != EW_PORT_DONE)
    return answer;
  return ++r->at < PQntuples(r->result) ? EW_PORT_ROW : EW_PORT_DONE;
}

static void store_finish(struct ew_port_rows *rows) {
  struct rows *r = (struct rows *)rows;
  for (int i = 0; i < r->count; i++)
    g_free(r->values[i]);
  PQclear(r->result);
  g_ptr_array_unref(r->lent);
  g_free(r->sql);
  g_free(r);
}

/* ---- the row at hand ---- */

static int store_columns(struct ew_port_rows *rows) {
  return ((struct rows *)rows)->columns;
}
static gboolean store_is_null(struct ew_port_rows *rows, int column) {
  struct rows *r = (struct rows *)rows;
  return PQgetisnull(r->result, r->at, column);
}
static const char *cell(struct ew_port_rows *rows, int column) {
  struct rows *r = (struct rows *)rows;
  const char *text = PQgetvalue(r->result, r->at, column);
  return PQftype(r->result, column) == BOOL ? (*text == 't' ? "1" : "0") : text;
}
static gint64 store_number(struct ew_port_rows *rows, int column) {
  const char *text = cell(rows, column);
  return strpbrk(text, ".eEnN") ? (gint64)g_ascii_strtod(text, NULL)
                                : g_ascii_strtoll(text, NULL, 10);
}
static double store_real(struct ew_port_rows *rows, int column) {
  return g_ascii_strtod(cell(rows, column), NULL);
}
static const char *store_text(struct ew_port_rows *rows, int column) {
  return store_is_null(rows, column) ? NULL : cell(rows, column);
}
static const void *store_bytes(struct ew_port_rows *rows, int column, gsize *size) {
  struct rows *r = (struct rows *)rows;
  const char *text = cell(rows, column);
  if (store_is_null(rows, column) || PQftype(r->result, column) != BYTEA) {
    *size = strlen(text);
    return text;
  }
  unsigned char *read = PQunescapeBytea((const unsigned char *)text, size);
  void *copy = g_memdup2(read, *size + 1);
  PQfreemem(read);
  g_ptr_array_add(r->lent, copy);
  return copy;
}

/* ---- beside statements ---- */

static gboolean store_fill(struct ew_port *port, const char *table, const char *column, gint64 id,
                           const void *data, gsize size, GError **error) {
  g_autofree char *sql =
      g_strdup_printf("UPDATE \"%s\" SET \"%s\" = ?1 WHERE id = ?2 AND octet_length(\"%s\") = ?3",
                      table, column, column);
  struct ew_port_rows *rows = store_prepare(port, sql, error);
  const struct ew_port_value values[] = {{.kind = EW_PORT_BYTES, .bytes = data, .size = size},
                                         {.kind = EW_PORT_NUMBER, .number = id},
                                         {.kind = EW_PORT_NUMBER, .number = (gint64)size}};
  for (int i = 0; rows && i < 3; i++)
    store_bind(rows, i + 1, &values[i]);
  gboolean good = rows && store_step(rows, error) == EW_PORT_DONE;
  if (good && strcmp(PQcmdTuples(((struct rows *)rows)->result), "1") != 0)
    good = ew_fail(error, "PostgreSQL: no such room for the bytes");
  if (rows)
    store_finish(rows);
  return good;
}

static gboolean one_number(struct ew_port *port, const char *sql, gint64 *number, GError **error) {
  struct ew_port_rows *rows = store_prepare(port, sql, error);
  gboolean good = rows && store_step(rows, error) == EW_PORT_ROW;
  *number = good ? store_number(rows, 0) : 0;
  if (rows)
    store_finish(rows);
  return good;
}

/* The place in the server's log: it moves with any change, also with one of this connection. */
static gboolean store_change(struct ew_port *port, struct ew_port_change *change, GError **error) {
  change->by_this = ((struct store *)port)->written;
  return one_number(port, "SELECT (pg_current_wal_insert_lsn() - '0/0'::pg_lsn)::bigint",
                    &change->by_others, error);
}
static gboolean store_durable(struct ew_port *port, gboolean power, GError **error) {
  return say(port, power ? "SET synchronous_commit = on" : "SET synchronous_commit = off", error) ==
         EW_PORT_DONE;
}
static gboolean store_checkpoint(struct ew_port *port, gboolean all, GError **error) {
  return !all || say(port, "CHECKPOINT", error) == EW_PORT_DONE;
}
static gint64 store_size(struct ew_port *port, GError **error) {
  gint64 size;
  return one_number(port, "SELECT pg_database_size(current_database())", &size, error) ? size : -1;
}

/* Heaps and indices by PostgreSQL's own means (amcheck). */
static gboolean store_check(struct ew_port *port, void (*fault)(const char *what, gpointer user),
                            gpointer user, GError **error) {
  static const char *const asks[] = {
      "SELECT c.relname || ': ' || v.msg FROM pg_class c, LATERAL verify_heapam(c.oid) v WHERE "
      "c.relkind = 'r' AND c.relnamespace = current_schema()::regnamespace",
      "SELECT count(bt_index_check(c.oid, true)::text) FROM pg_class c JOIN pg_am a ON a.oid = "
      "c.relam WHERE a.amname = 'btree' AND c.relkind = 'i' AND c.relnamespace = "
      "current_schema()::regnamespace"};
  struct store *s = (struct store *)port;
  for (gsize i = 0; i < G_N_ELEMENTS(asks); i++) {
    if (s->asked && s->asked(s->user))
      return ew_fail(error, "PostgreSQL: stopped");
    struct ew_port_rows *rows = store_prepare(port, asks[i], error);
    enum ew_port_answer answer = EW_PORT_FAILED;
    while (rows && (answer = store_step(rows, error)) == EW_PORT_ROW)
      if (i == 0)
        fault(store_text(rows, 0), user);
    if (rows)
      store_finish(rows);
    if (answer != EW_PORT_DONE)
      return FALSE;
  }
  return TRUE;
}

static void store_watch(struct ew_port *port, int (*asked)(void *user), void *user, int often) {
  struct store *s = (struct store *)port;
  (void)often;
  s->asked = asked;
  s->user = user;
}

static void store_close(struct ew_port *port) {
  struct store *s = (struct store *)port;
  if (s->schema) {
    g_autofree char *sql = g_strdup_printf("DROP SCHEMA %s CASCADE", s->schema);
    store_rollback(port);
    say(port, sql, NULL);
  }
  PQfinish(s->connection);
  g_free(s->schema);
  g_free(s);
}

static const struct ew_port_class class = {
    .name = "postgresql",
    .close = store_close,
    .begin = store_begin,
    .commit = store_commit,
    .rollback = store_rollback,
    .is_open = store_is_open,
    .prepare = store_prepare,
    .bind = store_bind,
    .step = store_step,
    .finish = store_finish,
    .columns = store_columns,
    .is_null = store_is_null,
    .number = store_number,
    .real = store_real,
    .text = store_text,
    .bytes = store_bytes,
    .fill = store_fill,
    .change = store_change,
    .durable = store_durable,
    .checkpoint = store_checkpoint,
    .size = store_size,
    .check = store_check,
    .watch = store_watch,
};

/* ---- opening ---- */

static void must(gboolean good, const char *what, GError *error) {
  expect(good, what, "%s", error ? error->message : "");
}

const char *postgresql_address(void) {
  return g_getenv("EW_POSTGRESQL");
}

static void hear_nothing(void *user, const PGresult *result) {
  (void)user, (void)result;
}

static struct ew_port *open_at(const char *schema) {
  g_autoptr(GError) error = NULL;
  struct store *s = g_new0(struct store, 1);
  *s = (struct store){.port = {.class = &class}, .connection = PQconnectdb(postgresql_address())};
  expect(PQstatus(s->connection) == CONNECTION_OK, "PostgreSQL", "%s",
         PQerrorMessage(s->connection));
  PQsetNoticeReceiver(s->connection, hear_nothing, NULL);
  g_autofree char *path = g_strdup_printf("SET search_path = %s, public", schema);
  must(say(&s->port, path, &error) == EW_PORT_DONE, path, error);
  return &s->port;
}

struct ew_port *postgresql_beside(struct ew_port *port) {
  return open_at(((struct store *)port)->schema);
}

/* As SQLite numbers: one more than the highest, so what was rolled back leaves no gap. */
#define NEXT_ID                                                                                    \
  "CREATE FUNCTION next_id() RETURNS trigger LANGUAGE plpgsql AS $$ DECLARE n bigint; BEGIN "      \
  "IF NEW.id IS NULL THEN EXECUTE format('SELECT coalesce(max(id), 0) + 1 FROM %I', "              \
  "TG_TABLE_NAME) INTO n; NEW.id = n; END IF; RETURN NEW; END $$;"
#define INSTR                                                                                      \
  "CREATE FUNCTION instr(whole text, part text) RETURNS bigint LANGUAGE sql IMMUTABLE AS $$ "      \
  "SELECT strpos(whole, part)::bigint $$;"                                                         \
  "CREATE FUNCTION zeroblob(size bigint) RETURNS bytea LANGUAGE sql IMMUTABLE AS $$ SELECT "       \
  "decode(repeat('00', size::integer), 'hex') $$;"

struct ew_port *postgresql_of(sqlite3 *from) {
  static int count;
  g_autofree char *schema = g_strdup_printf("contract_%d_%d", (int)getpid(), ++count);
  g_autoptr(GError) error = NULL;
  g_autoptr(GPtrArray) tables = postgresql_tables(from);
  GString *sql = g_string_new("CREATE EXTENSION IF NOT EXISTS amcheck SCHEMA public;");
  g_string_append_printf(sql, "CREATE SCHEMA %s;", schema);
  g_string_append(sql, NEXT_ID INSTR);
  for (guint i = 0; i < tables->len; i++)
    postgresql_table(sql, from, tables->pdata[i]);
  struct ew_port *port = open_at(schema);
  must(say(port, sql->str, &error) == EW_PORT_DONE, sql->str, error);
  ((struct store *)port)->schema = g_steal_pointer(&schema);
  for (guint i = 0; i < tables->len; i++)
    postgresql_copy(port, from, tables->pdata[i]);
  g_string_truncate(sql, 0);
  for (guint i = 0; i < tables->len; i++)
    postgresql_references(sql, from, tables->pdata[i]);
  must(say(port, sql->str, &error) == EW_PORT_DONE, sql->str, error);
  g_string_free(sql, TRUE);
  return port;
}
