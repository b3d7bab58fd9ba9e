/* Rows to text and back, by the columns that the table itself has: a new column of a later step travels by itself. */
#include "book/sqlite/row.h"
#include "base/error.h"
#include "base/json_writer.h"
#include "book/sqlite/shipped.h"
#include "book/sqlite/sqlite.h"
#include <jansson.h>
#include <math.h>
#include <string.h>

#define COLUMNS_MOST 100 /* as open.c allows */

static const struct ew_shipped *table_of(const struct ew_row_name *name, GError **error) {
  int table = ew_shipped_find(name->what);
  if (table < 0)
    ew_refuse(error, "'%.40s' is not a table whose rows leave a cell", name->what);
  return table < 0 ? NULL : &ew_shipped_tables[table];
}

/* "id = ?1", "key = ?2", "trip_id = ?1 AND CAST(recording_id AS TEXT) = ?2" */
static char *where_of(const struct ew_shipped *table) {
  if (!table->key)
    return g_strdup_printf("%s = ?1", table->number);
  if (!table->number)
    return g_strdup_printf("%s = ?2", table->key);
  return g_strdup_printf("%s = ?1 AND CAST(%s AS TEXT) = ?2", table->number, table->key);
}

static gboolean prepare(sqlite3 *db, const char *sql, const struct ew_row_name *name,
                        sqlite3_stmt **s, GError **error) {
  gboolean good = sqlite3_prepare_v2(db, sql, -1, s, NULL) == SQLITE_OK;
  int count = good ? sqlite3_bind_parameter_count(*s) : 0;
  good = good && (!name->has_number || sqlite3_bind_int64(*s, 1, name->number) == SQLITE_OK) &&
         (!name->key || count < 2 ||
          sqlite3_bind_text(*s, 2, name->key, -1, SQLITE_STATIC) == SQLITE_OK);
  return good || ew_sqlite_error(db, error);
}

/* ---- to text ---- */

static void write_bytes(struct ew_json *json, const char *key, sqlite3_stmt *s, int column,
                        GPtrArray *parts) {
  const void *data = sqlite3_column_blob(s, column);
  GBytes *bytes = g_bytes_new(data, (gsize)sqlite3_column_bytes(s, column));
  g_autofree char *digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);
  g_ptr_array_add(parts, bytes);
  ew_json_open(json, key);
  ew_json_text(json, "sha256", digest);
  ew_json_close(json);
}

static void write_real(struct ew_json *json, const char *key, double value) {
  if (isfinite(value)) {
    ew_json_number(json, key, value);
    return;
  }
  ew_json_open(json, key); /* SQLite has no NaN */
  ew_json_text(json, "real", value > 0 ? "inf" : "-inf");
  ew_json_close(json);
}

static void write_value(struct ew_json *json, const char *key, sqlite3_stmt *s, int column,
                        GPtrArray *parts) {
  switch (sqlite3_column_type(s, column)) {
  case SQLITE_INTEGER: ew_json_integer(json, key, sqlite3_column_int64(s, column)); break;
  case SQLITE_FLOAT: write_real(json, key, sqlite3_column_double(s, column)); break;
  case SQLITE_BLOB: write_bytes(json, key, s, column, parts); break;
  default: /* an int of SQLite's, not an enumeration: its text */
    ew_json_text(json, key, (const char *)sqlite3_column_text(s, column));
  }
}

static gboolean read_row(sqlite3_stmt *s, struct ew_row *row) {
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  ew_json_open(&json, "row");
  for (int i = 0; i < sqlite3_column_count(s); i++)
    write_value(&json, sqlite3_column_name(s, i), s, i, row->parts);
  ew_json_close(&json);
  ew_json_close(&json);
  row->body = g_string_free(json.text, FALSE);
  return TRUE;
}

/* What a table of few rows still has: a deleted row has taken its name with it. */
static gboolean read_left(sqlite3 *db, const struct ew_shipped *table, struct ew_row *row,
                          GError **error) {
  sqlite3_stmt *s = NULL;
  struct ew_json json = {.text = g_string_new(NULL)};
  g_autofree char *sql = g_strdup_printf("SELECT CAST(%s AS TEXT) FROM %s ORDER BY 1",
                                         table->key ? table->key : table->number, table->name);
  int code = sqlite3_prepare_v2(db, sql, -1, &s, NULL);
  ew_json_open(&json, NULL);
  ew_json_open_array(&json, "left");
  while (code == SQLITE_OK && (code = sqlite3_step(s)) == SQLITE_ROW) {
    ew_json_text(&json, NULL, (const char *)sqlite3_column_text(s, 0));
    code = SQLITE_OK;
  }
  ew_json_close_array(&json);
  ew_json_close(&json);
  row->body = g_string_free(json.text, FALSE);
  gboolean good = code == SQLITE_DONE || ew_sqlite_error(db, error);
  sqlite3_finalize(s);
  return good;
}

/* Its name that holds everywhere, and a digest of what nothing may change in it. */
static gboolean read_lasting(sqlite3 *db, const struct ew_shipped *table,
                             const struct ew_row_name *name, struct ew_row *row, GError **error) {
  if (!table->uid)
    return TRUE;
  g_autofree char *where = where_of(table);
  g_autofree char *sql = g_strdup_printf("SELECT %s, %s FROM %s WHERE %s", table->uid,
                                         table->lasting, table->name, where);
  sqlite3_stmt *s = NULL;
  gboolean good = prepare(db, sql, name, &s, error);
  if (good && sqlite3_step(s) == SQLITE_ROW && sqlite3_column_type(s, 0) == SQLITE_TEXT) {
    g_autoptr(GPtrArray) parts = g_ptr_array_new_with_free_func((GDestroyNotify)g_bytes_unref);
    struct ew_json json = {.text = g_string_new(NULL)};
    ew_json_open(&json, NULL);
    for (int i = 1; i < sqlite3_column_count(s); i++)
      write_value(&json, sqlite3_column_name(s, i), s, i, parts);
    ew_json_close(&json);
    row->uid = g_strdup((const char *)sqlite3_column_text(s, 0));
    row->lasting = g_compute_checksum_for_string(G_CHECKSUM_SHA256, json.text->str, -1);
    g_string_free(json.text, TRUE);
  }
  sqlite3_finalize(s);
  return good;
}

gboolean ew_sqlite_row_read(sqlite3 *db, const struct ew_row_name *name, struct ew_row *row,
                            GError **error) {
  const struct ew_shipped *table = table_of(name, error);
  *row = (struct ew_row){.parts = g_ptr_array_new_with_free_func((GDestroyNotify)g_bytes_unref)};
  if (!table)
    return FALSE;
  if (!name->has_number && !name->key)
    return read_left(db, table, row, error);
  g_autofree char *where = where_of(table);
  g_autofree char *sql = g_strdup_printf("SELECT * FROM %s WHERE %s", table->name, where);
  sqlite3_stmt *s = NULL;
  int code = prepare(db, sql, name, &s, error) ? sqlite3_step(s) : SQLITE_MISUSE;
  gboolean good = code == SQLITE_ROW      ? read_row(s, row)
                  : code == SQLITE_DONE   ? (row->body = g_strdup("{\"gone\":true}")) != NULL
                  : code == SQLITE_MISUSE ? FALSE
                                          : ew_sqlite_error(db, error);
  sqlite3_finalize(s);
  return good && (code != SQLITE_ROW || read_lasting(db, table, name, row, error));
}

/* ---- and back ---- */

static gboolean foreign(const struct ew_row_name *name, GError **error) {
  return ew_refuse(error,
                   "a row of '%.40s' from the shop can't be taken: it was not written by this "
                   "program, or by a later version of it",
                   name->what);
}

/* The bytes that {"sha256": ...} means. */
static GBytes *part_of(const json_t *value, const struct ew_row *row) {
  const char *wanted = json_string_value(json_object_get(value, "sha256"));
  for (guint i = 0; wanted && row->parts && i < row->parts->len; i++) {
    GBytes *bytes = g_ptr_array_index(row->parts, i);
    g_autofree char *digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);
    if (strcmp(digest, wanted) == 0)
      return bytes;
  }
  return NULL;
}

static gboolean bind_object(sqlite3_stmt *s, int index, const json_t *value,
                            const struct ew_row *row) {
  const char *real = json_string_value(json_object_get(value, "real"));
  if (real)
    return sqlite3_bind_double(s, index, *real == '-' ? (double)-INFINITY : (double)INFINITY) ==
           SQLITE_OK;
  GBytes *bytes = part_of(value, row);
  gsize size = 0;
  const void *data = bytes ? g_bytes_get_data(bytes, &size) : NULL;
  return bytes && sqlite3_bind_blob64(s, index, data ? data : "", size, SQLITE_STATIC) == SQLITE_OK;
}

static gboolean bind_json(sqlite3_stmt *s, int index, const json_t *value,
                          const struct ew_row *row) {
  if (json_is_object(value))
    return bind_object(s, index, value, row);
  if (json_is_string(value))
    return sqlite3_bind_text(s, index, json_string_value(value), -1, SQLITE_STATIC) == SQLITE_OK;
  if (json_is_integer(value))
    return sqlite3_bind_int64(s, index, json_integer_value(value)) == SQLITE_OK;
  if (json_is_real(value))
    return sqlite3_bind_double(s, index, json_real_value(value)) == SQLITE_OK;
  return json_is_null(value) && sqlite3_bind_null(s, index) == SQLITE_OK;
}

/* A column's name goes into a statement: letters, digits and _ only. */
static gboolean is_name(const char *text) {
  return *text && strspn(text, "abcdefghijklmnopqrstuvwxyz0123456789_") == strlen(text);
}

static char *insert_of(const char *table, json_t *values) {
  GString *columns = g_string_new(NULL), *marks = g_string_new(NULL);
  const char *key;
  json_t *value;
  gboolean good = json_object_size(values) > 0 && json_object_size(values) <= COLUMNS_MOST;
  json_object_foreach(values, key, value) {
    good = good && is_name(key);
    g_string_append_printf(columns, "%s%s", columns->len ? ", " : "", key);
    g_string_append(marks, marks->len ? ", ?" : "?");
  }
  char *sql = good ? g_strdup_printf("INSERT OR REPLACE INTO %s (%s) VALUES (%s)", table,
                                     columns->str, marks->str)
                   : NULL;
  g_string_free(columns, TRUE);
  g_string_free(marks, TRUE);
  return sql;
}

static gboolean put_row(sqlite3 *db, const struct ew_row_name *name, json_t *values,
                        const struct ew_row *row, GError **error) {
  g_autofree char *sql = insert_of(name->what, values);
  sqlite3_stmt *s = NULL;
  const char *key;
  json_t *value;
  int index = 0;
  if (!sql || sqlite3_prepare_v2(db, sql, -1, &s, NULL) != SQLITE_OK)
    return foreign(name, error);
  gboolean good = TRUE;
  json_object_foreach(values, key, value) good = good && bind_json(s, ++index, value, row);
  if (!good)
    foreign(name, error);
  else if (sqlite3_step(s) != SQLITE_DONE)
    good = ew_sqlite_error(db, error);
  sqlite3_finalize(s);
  return good;
}

static gboolean remove_row(sqlite3 *db, const struct ew_shipped *table,
                           const struct ew_row_name *name, GError **error) {
  g_autofree char *where = where_of(table);
  g_autofree char *sql = g_strdup_printf("DELETE FROM %s WHERE %s", table->name, where);
  sqlite3_stmt *s = NULL;
  gboolean good = prepare(db, sql, name, &s, error) &&
                  (sqlite3_step(s) == SQLITE_DONE || ew_sqlite_error(db, error));
  sqlite3_finalize(s);
  return good;
}

static gboolean remove_others(sqlite3 *db, const struct ew_shipped *table, json_t *left,
                              GError **error) {
  g_autofree char *list = json_dumps(left, JSON_COMPACT);
  g_autofree char *sql = g_strdup_printf(
      "DELETE FROM %s WHERE CAST(%s AS TEXT) NOT IN (SELECT value FROM json_each(?))", table->name,
      table->key ? table->key : table->number);
  sqlite3_stmt *s = NULL;
  gboolean good = sqlite3_prepare_v2(db, sql, -1, &s, NULL) == SQLITE_OK &&
                  sqlite3_bind_text(s, 1, list, -1, SQLITE_STATIC) == SQLITE_OK &&
                  sqlite3_step(s) == SQLITE_DONE;
  good = good || ew_sqlite_error(db, error);
  sqlite3_finalize(s);
  return good;
}

/* Rows that this one stands for. */
static gboolean take_place(sqlite3 *db, const struct ew_shipped *table,
                           const struct ew_row_name *name, GError **error) {
  sqlite3_stmt *s = NULL;
  if (!table->takes)
    return TRUE;
  gboolean good = prepare(db, table->takes, name, &s, error) &&
                  (sqlite3_step(s) == SQLITE_DONE || ew_sqlite_error(db, error));
  sqlite3_finalize(s);
  return good;
}

gboolean ew_sqlite_row_put(sqlite3 *db, const struct ew_row_name *name, const struct ew_row *row,
                           GError **error) {
  const struct ew_shipped *table = table_of(name, error);
  json_error_t where;
  json_t *body = table ? json_loads(row->body, JSON_REJECT_DUPLICATES, &where) : NULL;
  if (!body)
    return table && foreign(name, error);
  json_t *values = json_object_get(body, "row"), *left = json_object_get(body, "left");
  gboolean named = (!table->number || name->has_number) && (!table->key || name->key);
  gboolean good = json_is_object(values)
                      ? put_row(db, name, values, row, error) && take_place(db, table, name, error)
                  : json_is_array(left) ? remove_others(db, table, left, error)
                  : named && json_is_true(json_object_get(body, "gone"))
                      ? remove_row(db, table, name, error)
                      : foreign(name, error);
  json_decref(body);
  return good;
}
