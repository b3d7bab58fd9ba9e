/* Collects what a transaction touches, each row once, and writes it into the outbox before COMMIT. All rows of one
 * transaction have one mark, a random number: who ships doesn't cut between them, and two books that went on from one
 * backup are told apart by it. */
#include "book/sqlite/outbox.h"
#include "book/sqlite/shipped.h"

struct touched {
  int table;
  gint64 rowid;
};
struct ew_outbox {
  sqlite3 *db;
  sqlite3_stmt *asks, *writes;
  gboolean ships;
  GArray *rows; /* struct touched, in the order in which they were first touched */
  GHashTable *seen;
};

static guint touched_hash(gconstpointer key) {
  const struct touched *t = key;
  return (guint)t->rowid * 31u + (guint)t->table;
}
static gboolean touched_equal(gconstpointer a, gconstpointer b) {
  const struct touched *x = a, *y = b;
  return x->table == y->table && x->rowid == y->rowid;
}

/* SQLite forbids to use the connection here. */
static void on_change(void *user, int how, const char *database, const char *table,
                      sqlite3_int64 rowid) {
  struct ew_outbox *outbox = user;
  (void)database;
  struct touched row = {outbox->ships ? ew_shipped_find(table) : -1, rowid};
  if (row.table < 0 || (how == SQLITE_DELETE && ew_shipped_tables[row.table].falls) ||
      g_hash_table_contains(outbox->seen, &row))
    return;
  g_hash_table_add(outbox->seen, g_memdup2(&row, sizeof row));
  g_array_append_val(outbox->rows, row);
}

struct ew_outbox *ew_outbox_new(sqlite3 *db) {
  struct ew_outbox *outbox = g_new0(struct ew_outbox, 1);
  *outbox =
      (struct ew_outbox){.db = db,
                         .rows = g_array_new(FALSE, FALSE, sizeof(struct touched)),
                         .seen = g_hash_table_new_full(touched_hash, touched_equal, g_free, NULL)};
  sqlite3_update_hook(db, on_change, outbox);
  return outbox;
}

void ew_outbox_free(struct ew_outbox *outbox) {
  sqlite3_update_hook(outbox->db, NULL, NULL);
  sqlite3_finalize(outbox->asks);
  sqlite3_finalize(outbox->writes);
  g_array_unref(outbox->rows);
  g_hash_table_unref(outbox->seen);
  g_free(outbox);
}

void ew_outbox_forget(struct ew_outbox *outbox) {
  g_array_set_size(outbox->rows, 0);
  g_hash_table_remove_all(outbox->seen);
  outbox->ships = FALSE;
}

static gboolean prepared(struct ew_outbox *outbox, sqlite3_stmt **statement, const char *sql) {
  return *statement || sqlite3_prepare_v3(outbox->db, sql, -1, SQLITE_PREPARE_PERSISTENT, statement,
                                          NULL) == SQLITE_OK;
}

gboolean ew_outbox_begin(struct ew_outbox *outbox) {
  ew_outbox_forget(outbox);
  if (!prepared(outbox, &outbox->asks, "SELECT EXISTS (SELECT 1 FROM shop WHERE role = 'sends')"))
    return FALSE;
  gboolean good = sqlite3_step(outbox->asks) == SQLITE_ROW;
  outbox->ships = good && sqlite3_column_int(outbox->asks, 0);
  return sqlite3_reset(outbox->asks) == SQLITE_OK && good;
}

/* Which row it is, in words that hold wherever the book is copied to: SQLite may give rows other numbers when it copies. */
static gboolean name_row(sqlite3 *db, const struct touched *t, sqlite3_stmt *into) {
  const struct ew_shipped *table = &ew_shipped_tables[t->table];
  if (table->by_rowid)
    return sqlite3_bind_int64(into, 3, t->rowid) == SQLITE_OK;
  g_autofree char *sql = g_strdup_printf("SELECT %s, CAST(%s AS TEXT) FROM %s WHERE rowid = ?",
                                         table->number ? table->number : "NULL",
                                         table->key ? table->key : "NULL", table->name);
  sqlite3_stmt *s = NULL;
  gboolean good = sqlite3_prepare_v2(db, sql, -1, &s, NULL) == SQLITE_OK &&
                  sqlite3_bind_int64(s, 1, t->rowid) == SQLITE_OK;
  int code = good ? sqlite3_step(s) : SQLITE_ERROR;
  if (code == SQLITE_ROW) /* else it is gone, and only which rows are left can be told */
    good = sqlite3_bind_value(into, 3, sqlite3_column_value(s, 0)) == SQLITE_OK &&
           sqlite3_bind_value(into, 4, sqlite3_column_value(s, 1)) == SQLITE_OK;
  sqlite3_finalize(s);
  return good && (code == SQLITE_ROW || code == SQLITE_DONE);
}

static gboolean write_row(struct ew_outbox *outbox, const struct touched *t, gint64 mark) {
  sqlite3_stmt *s = outbox->writes;
  gboolean good =
      sqlite3_clear_bindings(s) == SQLITE_OK && sqlite3_bind_int64(s, 1, mark) == SQLITE_OK &&
      sqlite3_bind_text(s, 2, ew_shipped_tables[t->table].name, -1, SQLITE_STATIC) == SQLITE_OK &&
      name_row(outbox->db, t, s) && sqlite3_step(s) == SQLITE_DONE;
  return sqlite3_reset(s) == SQLITE_OK && good;
}

gboolean ew_outbox_write(struct ew_outbox *outbox) {
  gint64 mark;
  sqlite3_randomness(sizeof mark, &mark);
  gboolean good = !outbox->rows->len ||
                  prepared(outbox, &outbox->writes,
                           "INSERT INTO outbox (mark, what, number, key) VALUES (?, ?, ?, ?)");
  for (guint i = 0; good && i < outbox->rows->len; i++)
    good = write_row(outbox, &g_array_index(outbox->rows, struct touched, i), mark);
  if (good)
    ew_outbox_forget(outbox);
  return good;
}

gboolean ew_outbox_fill(sqlite3 *db) {
  gboolean good = TRUE;
  for (int i = 0; good && i < ew_shipped_count; i++) {
    const struct ew_shipped *table = &ew_shipped_tables[i];
    g_autofree char *sql = g_strdup_printf(
        "INSERT INTO outbox (mark, what, number, key) SELECT random(), '%s', %s, CAST(%s AS TEXT) "
        "FROM %s ORDER BY %s",
        table->name, table->number ? table->number : "NULL", table->key ? table->key : "NULL",
        table->name, table->number ? table->number : table->key);
    good = sqlite3_exec(db, sql, NULL, NULL, NULL) == SQLITE_OK;
  }
  return good;
}
