/* See the head of postgresql_tables.h: read from SQLite's catalogue, not from the text of its statements. Indices that are not unique
 * are left out: they change no answer. */
#include "postgresql_tables.h"
#include "unit.h"
#include <string.h>

static const char *type_of(const char *type) {
  return strcmp(type, "INTEGER") == 0 ? "bigint"
         : strcmp(type, "REAL") == 0  ? "double precision"
         : strcmp(type, "BLOB") == 0  ? "bytea"
                                      : "text";
}

static sqlite3_stmt *ask(sqlite3 *db, const char *format, const char *name) {
  sqlite3_stmt *s = NULL;
  g_autofree char *sql = g_strdup_printf(format, name);
  expect(sqlite3_prepare_v2(db, sql, -1, &s, NULL) == SQLITE_OK, sql, "%s", sqlite3_errmsg(db));
  return s;
}
static const char *text_at(sqlite3_stmt *s, int column) {
  return (const char *)sqlite3_column_text(s, column);
}

static void append_columns(GString *sql, GString *keys, sqlite3 *db, const char *table,
                           gboolean *numbered) {
  sqlite3_stmt *s = ask(db,
                        "SELECT name, type, \"notnull\", dflt_value, pk FROM "
                        "pragma_table_info('%s') ORDER BY cid",
                        table);
  *numbered = FALSE;
  for (gboolean more = FALSE; sqlite3_step(s) == SQLITE_ROW; more = TRUE) {
    const char *name = text_at(s, 0), *other = text_at(s, 3);
    g_string_append_printf(sql, "%s\"%s\" %s%s%s%s", more ? ", " : "", name, type_of(text_at(s, 1)),
                           sqlite3_column_int(s, 2) ? " NOT NULL" : "", other ? " DEFAULT " : "",
                           other ? other : "");
    if (sqlite3_column_int(s, 4))
      g_string_append_printf(keys, "%s\"%s\"", keys->len ? ", " : "", name);
    *numbered |= sqlite3_column_int(s, 4) && strcmp(name, "id") == 0;
  }
  sqlite3_finalize(s);
}

static void append_unique(GString *sql, sqlite3 *db, const char *table) {
  sqlite3_stmt *s = ask(db,
                        "SELECT (SELECT group_concat('\"' || i.name || '\"') FROM "
                        "pragma_index_info(l.name) i) FROM pragma_index_list('%s') l WHERE "
                        "l.\"unique\" AND l.origin <> 'pk'",
                        table);
  while (sqlite3_step(s) == SQLITE_ROW)
    g_string_append_printf(sql, ", UNIQUE (%s)", text_at(s, 0));
  sqlite3_finalize(s);
}

void postgresql_table(GString *sql, sqlite3 *db, const char *table) {
  gboolean numbered;
  g_autoptr(GString) keys = g_string_new(NULL);
  g_string_append_printf(sql, "CREATE TABLE \"%s\" (", table);
  append_columns(sql, keys, db, table, &numbered);
  if (keys->len)
    g_string_append_printf(sql, ", PRIMARY KEY (%s)", keys->str);
  append_unique(sql, db, table);
  g_string_append(sql, ");");
  if (numbered)
    g_string_append_printf(sql,
                           "CREATE TRIGGER number BEFORE INSERT ON \"%s\" FOR EACH ROW EXECUTE "
                           "FUNCTION next_id();",
                           table);
}

void postgresql_references(GString *sql, sqlite3 *db, const char *table) {
  sqlite3_stmt *s =
      ask(db, "SELECT \"from\", \"table\", \"to\" FROM pragma_foreign_key_list('%s')", table);
  while (sqlite3_step(s) == SQLITE_ROW)
    g_string_append_printf(sql,
                           "ALTER TABLE \"%s\" ADD FOREIGN KEY (\"%s\") REFERENCES \"%s\" "
                           "(\"%s\");",
                           table, text_at(s, 0), text_at(s, 1), text_at(s, 2));
  sqlite3_finalize(s);
}

GPtrArray *postgresql_tables(sqlite3 *db) {
  GPtrArray *tables = g_ptr_array_new_with_free_func(g_free);
  sqlite3_stmt *s =
      ask(db, "SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY rowid%s", "");
  while (sqlite3_step(s) == SQLITE_ROW)
    g_ptr_array_add(tables, g_strdup(text_at(s, 0)));
  sqlite3_finalize(s);
  return tables;
}

static struct ew_port_value value_at(sqlite3_stmt *s, int column) {
  struct ew_port_value value = {.kind = EW_PORT_NULL,
                                .size = (gsize)sqlite3_column_bytes(s, column)};
  switch (sqlite3_column_type(s, column)) {
  case SQLITE_INTEGER:
    value.kind = EW_PORT_NUMBER;
    value.number = sqlite3_column_int64(s, column);
    break;
  case SQLITE_FLOAT:
    value.kind = EW_PORT_REAL;
    value.real = sqlite3_column_double(s, column);
    break;
  case SQLITE_TEXT:
    value.kind = EW_PORT_TEXT;
    value.bytes = sqlite3_column_text(s, column);
    break;
  case SQLITE_BLOB:
    value.kind = EW_PORT_BYTES;
    value.bytes = sqlite3_column_blob(s, column);
    break;
  default: break;
  }
  return value;
}

static void must(gboolean good, const char *what, GError *error) {
  expect(good, what, "%s", error ? error->message : "");
}

void postgresql_copy(struct ew_port *port, sqlite3 *db, const char *table) {
  sqlite3_stmt *s = ask(db, "SELECT * FROM %s", table);
  int columns = sqlite3_column_count(s);
  GString *sql = g_string_new(NULL);
  g_string_printf(sql, "INSERT INTO \"%s\" VALUES (", table);
  for (int i = 0; i < columns; i++)
    g_string_append(sql, i ? ", ?" : "?");
  g_string_append_c(sql, ')');
  while (sqlite3_step(s) == SQLITE_ROW) {
    g_autoptr(GError) error = NULL;
    struct ew_port_rows *rows = port->class->prepare(port, sql->str, &error);
    must(rows != NULL, sql->str, error);
    for (int i = 0; i < columns; i++) {
      struct ew_port_value value = value_at(s, i);
      port->class->bind(rows, i + 1, &value);
    }
    must(port->class->step(rows, &error) == EW_PORT_DONE, sql->str, error);
    port->class->finish(rows);
  }
  g_string_free(sql, TRUE);
  sqlite3_finalize(s);
}
